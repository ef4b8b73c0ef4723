"""Answers as JSON text and back: the one place where a typed answer is written and read.

What `sim` finds out is a frozen dataclass of its own. It is stored, sent to commands and given out
as JSON in just that shape: a field is a name, a tuple a list, a date its ISO 8601 form, and a union
is told apart by the fields of its members. A number that is not finite is a string there
(``"NaN"``, ``"Infinity"``), because JSON (RFC 8259) has no word for it.
"""

from __future__ import annotations

from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter
from pydantic_core import to_json

T = TypeVar("T")


_kept = cache(TypeAdapter[Any])


def _adapter(kind: Any) -> TypeAdapter[Any]:
    return _kept(kind)


def write(answer: object, indent: int | None = None) -> str:
    """An answer as JSON text; floats with as many digits as they need, so that `read` is exact.

    Args:
        indent: spaces a level, for people; None for the shortest.

    Raises:
        pydantic_core.PydanticSerializationError: for what is neither plain nor a dataclass.
    """
    return to_json(answer, indent=indent, inf_nan_mode="strings").decode()


def read(kind: type[T], text: str) -> T:
    """The answer of a type that `write` made a text of.

    Raises:
        pydantic.ValidationError: with every place where the text is not of that type.
    """
    found: T = _adapter(kind).validate_json(text)
    return found


def schema(kind: type[Any]) -> dict[str, Any]:
    """What a kind of answer looks like as JSON, as a JSON Schema (draft 2020-12)."""
    return _adapter(kind).json_schema(mode="serialization")
