"""What all answers share: they are made from the desk's values, with their sentences put into words."""

from __future__ import annotations

from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo

from broodsweep.words import Message, render


class Shape(BaseModel):
    """An answer of the API."""

    model_config = ConfigDict(from_attributes=True)


class Asked(BaseModel):
    """Something sent to the API; a field that is not described is refused."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


class Signed(Asked):
    """A change, with who makes it; without a name the one kept in the settings holds."""

    who: str | None = Field(default=None, max_length=200, description="Who makes the change.")


def _in_words(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, Message):
        return render(value, (info.context or {})["locale"])
    return value


Text = Annotated[str, BeforeValidator(_in_words)]
"""A sentence in the user's language."""

Name = Annotated[str, Field(min_length=1, max_length=200)]
"""A key of a row, as the tables write it."""

_Shape = TypeVar("_Shape", bound=Shape)


def shape(kind: type[_Shape], value: Any, locale: str) -> _Shape:
    """Return a value of the desk as an answer, its sentences in that language."""
    return kind.model_validate(value, context={"locale": locale})
