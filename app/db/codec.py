"""Values of inputs to text and back, bit for bit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date

from sim.inputs import CLASS_INPUTS, INPUTS, ClassNumbers, Entry, Value


def encode(content: object) -> str:
    """Plain content as JSON text; a float is written with as many digits as it needs, a date by
    ISO 8601.

    Raises:
        ValueError: for what JSON has no word for, such as infinity.
    """
    return json.dumps(
        content, ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_iso
    )


def _iso(content: object) -> str:
    if isinstance(content, date):
        return content.isoformat()
    raise TypeError(f"JSON has no word for {content!r}")


def decode_value(entry: Entry, text: str) -> Value:
    """The value of an input from its text."""
    return shaped(entry, json.loads(text))


def shaped(entry: Entry, content: object) -> Value:
    """A value as the table of inputs holds it: lists of JSON become tuples again.

    Raises:
        TypeError: if the content is no value of any input.
    """
    if isinstance(content, list | tuple):
        if entry.kind == "steps":
            return tuple((row[0], row[1]) for row in content)
        return tuple(content)
    if isinstance(content, bool | int | float | str):
        return content
    raise TypeError(f"{entry.name} cannot be {content!r}")


def encode_values(values: Mapping[str, Value]) -> str:
    """Values by the name of their input as one JSON text."""
    return encode(dict(values))


def decode_values(text: str) -> dict[str, Value]:
    """Values by the name of their input; raises KeyError for a name that is no input."""
    return {name: shaped(INPUTS[name], content) for name, content in json.loads(text).items()}


def encode_numbers(numbers: ClassNumbers) -> str:
    """The numbers of a vehicle class as JSON text by name."""
    return encode({name: getattr(numbers, name) for name in CLASS_INPUTS})


def decode_numbers(text: str) -> ClassNumbers:
    """The numbers of a vehicle class; one that is not stored has its default."""
    return ClassNumbers(**json.loads(text))
