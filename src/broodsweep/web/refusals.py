"""Turns every error into one shape of answer, in the user's language, in one place."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.types import Scope

from broodsweep.desk.access import NotYoursError, SignInError, TooManyTriesError
from broodsweep.errors import BroodsweepError, NotFoundError, RefusedError, TroubleError
from broodsweep.web.locale import locale_of
from broodsweep.words import Message, render, say

STATUS: tuple[tuple[type[BroodsweepError], int], ...] = (
    (SignInError, 401),
    (NotYoursError, 403),
    (TooManyTriesError, 429),
    (NotFoundError, 404),
    (RefusedError, 409),
    (TroubleError, 503),
    (BroodsweepError, 400),
)
"""The answer's status for each kind of error; the first that fits holds."""

NOT_FOUND = 404
NOT_ALLOWED = 405
TOO_LARGE = 413


def answer(scope: Scope, status: int, key: str, **params: Any) -> Response:
    """Return an error answer for a sentence of the catalogue."""
    return shaped(scope, status, say(key, **params))


def shaped(scope: Scope, status: int, message: Message, fields: list[str] | None = None) -> Response:
    """Return the one shape of an error: its key, its sentence and the fields that it is about."""
    error: dict[str, Any] = {"key": message.key, "text": render(message, locale_of(Request(scope)))}
    if fields is not None:
        error["fields"] = fields
    return JSONResponse({"error": error}, status_code=status)


def domain_error(request: Request, error: Exception) -> Response:
    """Answer an error that the user can understand and mend."""
    if not isinstance(error, BroodsweepError):
        raise TypeError(f"Expected a BroodsweepError, got {error!r}.")
    status = next(number for kind, number in STATUS if isinstance(error, kind))
    return shaped(request.scope, status, error.message)


def malformed(request: Request, error: Exception) -> Response:
    """Answer a request whose fields do not fit the description."""
    if not isinstance(error, RequestValidationError):
        raise TypeError(f"Expected a RequestValidationError, got {error!r}.")
    fields = sorted({".".join(str(part) for part in item["loc"][1:]) or "body" for item in error.errors()})
    return shaped(request.scope, 422, say("web.malformed", fields=", ".join(fields)), fields)


def no_such_address(request: Request, error: Exception) -> Response:
    """Answer an address or a method that is not there."""
    if not isinstance(error, HTTPException):
        raise TypeError(f"Expected a HTTPException, got {error!r}.")
    keys = {NOT_FOUND: "web.no_such_address", NOT_ALLOWED: "web.not_allowed", TOO_LARGE: "web.too_large"}
    found = shaped(request.scope, error.status_code, say(keys.get(error.status_code, "web.unreadable")))
    found.headers.update(error.headers or {})
    return found


def add_refusals(app: FastAPI) -> None:
    """Make the application answer errors in this shape."""
    app.add_exception_handler(BroodsweepError, domain_error)
    app.add_exception_handler(RequestValidationError, malformed)
    app.add_exception_handler(HTTPException, no_such_address)
