"""What people type into single inputs: what is taken, and what a refusal offers can be entered."""

from __future__ import annotations

import pytest

from sim.errors import InputError
from sim.inputs import CLASS_INPUTS, INPUTS, LONGEST_WORDS, Value
from tests.test_checks import told

NUMBERS = {
    name: row
    for name, row in {**INPUTS, **CLASS_INPUTS}.items()
    if row.kind in ("number", "whole", "steps")
}


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("name", NUMBERS)
def test_what_a_message_offers_can_be_entered(name: str, system: str) -> None:
    """Both limits, typed as the message shows them, are taken; a step beyond them is refused."""
    row = NUMBERS[name]
    for limit in (row.low, row.high):
        # past the number that stands for nothing entered, where an input has one
        beyond = limit + (1 if limit == row.high else -1) * max(2.0, abs(limit))
        value: Value = ((0.0, beyond),) if row.kind == "steps" else beyond
        (problem,) = row.problems(value)
        said = told(problem, system)
        assert said.startswith(f"{row.label} ")
        low, high = said.removesuffix(".").partition(" Enter ")[2].split(" to ")
        for offered in (low, high):
            assert row.problems(row.parse(offered, system)) == []
        assert row.problems(((0.0, limit),) if row.kind == "steps" else limit) == []


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("Lead  hand", "Lead hand"), (" Zoë’s post ", "Zoë’s post"), ("a" * LONGEST_WORDS, None)],
)
def test_words_are_kept_on_one_line(typed: str, kept: str | None) -> None:
    """As typed, with one space where there were more."""
    assert INPUTS["loader_called"].parse(typed) == (kept or typed)


@pytest.mark.parametrize("value", ["", "   ", "a" * (LONGEST_WORDS + 1), "two\x00", "\u202ename"])
def test_words_that_cannot_be_are_refused(value: str) -> None:
    """Nothing, too much, letters that can't be seen; with label, value and what would be right."""
    row = INPUTS["loader_called"]
    with pytest.raises(InputError) as fault:
        row.parse(value)
    (problem,) = fault.value.problems
    assert problem.field == "loader_called"
    assert "1 to 30 letters" in str(problem)
    for other in (7, True, " spaced", "two\nlines"):
        assert row.problems(other), other


@pytest.mark.parametrize("typed", ["41 38.5 52", "41, 38.5, 52", "41; 38.5;52", " 41,\n38.5,\n52,"])
def test_a_list_of_times_is_parted_by_spaces(typed: str) -> None:
    """Spaces, semicolons, and commas followed by a space all part times."""
    assert INPUTS["load_measured_s"].parse(typed) == (41.0, 38.5, 52.0)


@pytest.mark.parametrize("typed", ["3,600", "41 38,5 52", "41,38,52"])
def test_a_comma_inside_a_time_is_not_guessed(typed: str) -> None:
    """It may stand for thousands, for a decimal mark or between two times."""
    with pytest.raises(InputError, match="may be one number or two; put a space between numbers"):
        INPUTS["load_measured_s"].parse(typed)


@pytest.mark.parametrize(
    "typed", ["", "https://recorder.example/play?at={date}T{time}", "http://10.0.0.9:8080/{hour}"]
)
def test_an_address_of_the_web_is_kept(typed: str) -> None:
    """As it was typed, with gaps for a moment in braces; or none."""
    assert INPUTS["recorder_address"].parse(typed) == typed


@pytest.mark.parametrize(
    "typed",
    [
        "javascript:alert(1)", "ftp://recorder.example", "recorder.example/{date}", "https://",
        "https:///play", "https://recorder.example/{camera}", "https://a.example/a b",
        "https://a.example/\"onclick=1", "data://x.example", "https://a.example/" + "a" * 180,
    ],
)  # fmt: skip
def test_no_other_address_is_taken(typed: str) -> None:
    """Whatever would do something else than open a page of the web, or has gaps that nothing
    fills; with label, value and what would be right."""
    with pytest.raises(InputError, match="Begin with http:// or https://") as fault:
        INPUTS["recorder_address"].parse(typed)
    assert [problem.field for problem in fault.value.problems] == ["recorder_address"]
