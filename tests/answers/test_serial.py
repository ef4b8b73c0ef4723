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
from app.catalogue import say
from sim.errors import InputProblem, Note, Sentence
from sim.units import quantity


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


def test_a_note_says_what_its_problem_said_after_it_was_stored() -> None:
    """Texts, numbers, amounts in either system, days and sentences within the sentence."""
    within = Sentence("from {day} on", {"day": date(2026, 7, 18)})
    problem = InputProblem(
        "field", "{name}, {count} times, {long}, {within}.",
        {"name": "a strip", "count": 3, "long": quantity(2.0, "length"), "within": within},
    )  # fmt: skip
    note = read(Note, write(problem.noted()))
    for system in ("si", "us"):
        assert say(note, system) == say(problem, system)
    assert say(note, "us") == "a strip, 3 times, 6.56\u00a0ft, from 18 July 2026 on."
