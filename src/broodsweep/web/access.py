"""What routes are given of the gate: who asks, those who are let in, the phone that calls."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from broodsweep.access import Access
from broodsweep.desk.access import Device, SignInError
from broodsweep.web.gate import Caller


def caller_in(request: Request) -> Caller:
    """Return who asks; whoever sits at the desk where nothing stands before it."""
    found: Caller | None = getattr(request.state, "caller", None)
    return found or Caller()


def _door(request: Request) -> Access:
    kept: Access = request.app.state.access
    return kept


def _phone(request: Request) -> Device:
    device = caller_in(request).device
    if device is None:
        raise SignInError("access.phone_unknown")
    return device


Asking = Annotated[Caller, Depends(caller_in)]
Door = Annotated[Access, Depends(_door)]
Phone = Annotated[Device, Depends(_phone)]
"""An enrolled phone, also one that was revoked: what it sends is set aside, not refused."""
