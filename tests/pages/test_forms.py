"""Reading forms by the table of inputs, and drawing fields from it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.datastructures import FormData

from app.pages.forms import faults_of, input_field, read_fields, summary
from sim.errors import InputProblem
from sim.inputs import INPUTS, Entry, Value
from sim.units import SYSTEMS


def sent(rows: dict[str, Entry], values: dict[str, Value], system: str, **typed: str) -> FormData:
    """A form as it is drawn for stored values, some fields typed over."""
    items: dict[str, str] = {}
    for name, row in rows.items():
        view = input_field(row, values[name], system, given=False)
        items[name], items["was." + name] = view.value, view.was
    return FormData({**items, **typed})


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_form_sent_as_drawn_changes_nothing(system: str) -> None:
    """Every input's default is drawn and read back without a change or a problem."""
    defaults = {name: row.default for name, row in INPUTS.items()}
    read = read_fields(sent(INPUTS, defaults, system), INPUTS, system)
    assert (read.values, read.problems) == ({}, ())


NUMBERS = [row for row in INPUTS.values() if row.kind == "number"]


@given(st.data(), st.sampled_from(NUMBERS), st.sampled_from(SYSTEMS))
def test_an_untouched_number_is_never_rounded(data: st.DataObject, row: Entry, system: str) -> None:
    """Whatever a number is, drawing it rounded and storing the form leaves it alone."""
    value = data.draw(st.floats(row.low, row.high))
    rows = {row.name: row}
    read = read_fields(sent(rows, {row.name: value}, system), rows, system)
    assert read.values == {}


@given(st.data(), st.sampled_from(NUMBERS), st.sampled_from(SYSTEMS))
def test_what_is_typed_is_what_is_stored(data: st.DataObject, row: Entry, system: str) -> None:
    """A number typed with all its digits comes in as exactly the quantity that was meant."""
    value = data.draw(st.floats(row.low, row.high))
    shown = row.unit.to_edge(value, system)
    rows = {row.name: row}
    form = sent(rows, {row.name: row.default}, system, **{row.name: repr(shown)})
    read = read_fields(form, rows, system)
    if read.problems:  # the edge of the range, a rounding away
        assert value == pytest.approx(row.low) or value == pytest.approx(row.high)
    else:
        stored = read.values.get(row.name, row.default)
        assert stored == pytest.approx(value, rel=1e-12, abs=1e-12)


@given(st.text(max_size=40), st.sampled_from(list(INPUTS.values())), st.sampled_from(SYSTEMS))
def test_any_text_is_read_or_refused(text: str, row: Entry, system: str) -> None:
    """No text whatever breaks the reading of a field; a refusal names the field."""
    rows = {row.name: row}
    form = sent(rows, {row.name: row.default}, system, **{row.name: text})
    read = read_fields(form, rows, system)
    assert read.typed.texts[row.name] == text
    assert all(problem.field == row.name for problem in read.problems)
    messages = faults_of(read.problems, system).get(row.name, ())
    view = input_field(row, row.default, system, typed=read.typed, messages=messages)
    assert bool(view.messages) == bool(read.problems)
    if read.problems:
        assert view.value == text


def test_fields_that_the_form_lacks_are_left_alone() -> None:
    """A form of one group says nothing about the inputs of another."""
    rows = {name: INPUTS[name] for name in ("open_h", "close_h")}
    read = read_fields(FormData({"open_h": "8", "was.open_h": "7"}), rows, "si")
    assert read.values == {"open_h": 8.0}
    assert read.problems == ()


def test_one_sentence_about_several_fields_is_one_line() -> None:
    """The list on top says a sentence once, leads to its first field, and counts lines."""
    shares = [InputProblem(f"vehicle.{key}.share", "They sum to 104 %.") for key in ("a", "b")]
    other = InputProblem("vehicles", "There is none.")
    found = summary([*shares, other], "si", {"vehicles": "#vehicles"})
    assert found is not None
    assert found.heading == "2 entries need a change. Nothing was stored."
    assert [line.href for line in found.lines] == ["#in-vehicle.a.share", "#vehicles"]
    assert summary([], "si") is None
