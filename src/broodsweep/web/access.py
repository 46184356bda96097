"""What routes are given of the gate: who asks, those who are let in, the phone that calls."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from broodsweep.access import Access
from broodsweep.desk.access import Device, SignInError
from broodsweep.web.gate import Caller


def caller_or_nobody(request: Request) -> Caller | None:
    """Return whom the gate let in; None where somebody must sign in first."""
    found: Caller | None = request.state.caller
    return found


def caller_in(request: Request) -> Caller:
    """Return who asks; at the door, which is open to all, nobody in particular."""
    return caller_or_nobody(request) or Caller()


def _door(request: Request) -> Access:
    kept: Access = request.app.state.access
    return kept


def _phone(request: Request) -> Device:
    device = caller_in(request).device
    if device is None:
        raise SignInError("access.phone_unknown")
    return device


AskingOrNobody = Annotated[Caller | None, Depends(caller_or_nobody)]
Asking = Annotated[Caller, Depends(caller_in)]
Door = Annotated[Access, Depends(_door)]
Phone = Annotated[Device, Depends(_phone)]
"""An enrolled phone, also one that was revoked: what it sends is set aside, not refused."""
