"""Typed answers come back from their text as they were."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from app.answers.serial import read, schema, write


@dataclass(frozen=True, slots=True)
class Hours:
    """Something from an hour to an hour."""

    from_h: float
    to_h: float


@dataclass(frozen=True, slots=True)
class Edge:
    """Something above a moisture."""

    upper: float


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with everything that answers are made of."""

    day: date
    rule: Hours | Edge
    gains: dict[str, float]
    best: tuple[float, ...]
    note: str | None = None


numbers = st.floats(allow_nan=False)
texts = st.text(st.characters(exclude_categories=["Cs"]))
answers = st.builds(
    Found,
    st.dates(),
    st.builds(Hours, numbers, numbers) | st.builds(Edge, numbers),
    st.dictionaries(texts, numbers),
    st.lists(numbers).map(tuple),
    st.none() | texts,
)


@given(answers)
def test_an_answer_comes_back_bit_for_bit(found: Found) -> None:
    """Reading what was written gives an equal answer, infinities included."""
    assert read(Found, write(found)) == found


def test_not_a_number_comes_back() -> None:
    """NaN is written as a string, so that the text is JSON, and comes back as NaN."""
    text = write(Hours(math.nan, math.inf))
    assert json.loads(text) == {"from_h": "NaN", "to_h": "Infinity"}
    assert math.isnan(read(Hours, text).from_h)


def test_another_shape_is_refused() -> None:
    """A text of another shape is refused with the place where it differs."""
    with pytest.raises(ValidationError, match=r"rule\.Edge\.upper"):
        read(Found, '{"day": "2026-07-18", "rule": {}, "gains": {}, "best": []}')


def test_the_schema_names_every_field() -> None:
    """The schema of an answer names the fields of the dataclass, each required or not."""
    found = schema(Found)
    assert set(found["properties"]) == {"day", "rule", "gains", "best", "note"}
    assert set(found["required"]) == {"day", "rule", "gains", "best"}
