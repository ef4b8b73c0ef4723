"""Values to text and back."""

from __future__ import annotations

import json
import math
from dataclasses import asdict

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.dialects import sqlite

from app.db.tables import Plain, encode, shaped, values_of
from sim.inputs import INPUTS, ClassNumbers

FINITE = st.floats(allow_nan=False, allow_infinity=False)


def stored(content: object) -> object:
    """Content as a column gives it back."""
    column, dialect = Plain(), sqlite.dialect()
    return column.process_result_value(column.process_bind_param(content, dialect), dialect)


@given(FINITE)
def test_a_float_comes_back_bit_for_bit(value: float) -> None:
    """Every finite float survives the text, the sign of zero included."""
    back = shaped(INPUTS["load_cv"], stored(value))
    assert isinstance(back, float)
    assert back.hex() == value.hex()


@given(st.lists(st.tuples(FINITE, FINITE), max_size=5))
def test_a_timetable_comes_back_as_tuples(rows: list[tuple[float, float]]) -> None:
    """A timetable comes back equal and in the type that the table of inputs has."""
    assert shaped(INPUTS["people"], stored(rows)) == tuple(rows)


@given(st.lists(FINITE, max_size=8))
def test_measured_times_come_back(times: list[float]) -> None:
    """A list of times comes back as the same tuple."""
    assert shaped(INPUTS["load_measured_s"], stored(times)) == tuple(times)


def test_every_default_comes_back_in_its_type() -> None:
    """Each input's default has the same value and type after the round trip."""
    for name, entry in INPUTS.items():
        back = values_of(json.loads(encode({name: entry.default})))
        assert back == {name: entry.default}
        assert type(back[name]) is type(entry.default)


@given(st.builds(ClassNumbers, share=FINITE, length_m=FINITE, rear_wiped_m=FINITE))
def test_numbers_of_a_class_come_back(numbers: ClassNumbers) -> None:
    """All numbers of a vehicle class survive the text."""
    assert ClassNumbers(**json.loads(encode(asdict(numbers)))) == numbers


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_what_is_not_finite_is_refused(value: float) -> None:
    """No text is written that another program could not read."""
    with pytest.raises(ValueError, match="JSON"):
        encode(value)


def test_content_that_is_no_value_is_refused() -> None:
    """A stored object where a value should be is told with the input's name."""
    with pytest.raises(TypeError, match="load_cv cannot be None"):
        shaped(INPUTS["load_cv"], None)


def test_an_unknown_input_is_refused() -> None:
    """Stored values under a name that is no input do not vanish silently."""
    with pytest.raises(KeyError, match="conveyor_sped"):
        values_of({"conveyor_sped": 1})
