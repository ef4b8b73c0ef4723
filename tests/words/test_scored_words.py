"""How good the advice was, as it is said."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.words.scored import (
    counted_words,
    group_rows,
    in_small_numbers,
    lead,
    parts,
    score_rows,
    window_words,
)
from sim.learn.scored import Events, Scored, Window, score

LAST = date(2026, 7, 17)


def days(told: float, came: int, of: int, count: int) -> list[Events]:
    """Days of which one share was told and came."""
    return [Events(LAST - timedelta(days=at), told, of, came) for at in range(count)]


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "none"), (1.0, "all"), (0.2, "1 in 5"), (0.25, "1 in 4"), (0.3, "3 in 10"),
        (0.667, "2 in 3"), (0.97, "9 in 10"), (0.04, "1 in 25"), (0.0125, "1 in 80"),
        (0.003, "1 in 350"), (0.0004, "fewer than 1 in 500"),
    ],
)  # fmt: skip
def test_shares_as_people_say_them(share: float, said: str) -> None:
    """By numbers up to ten; below one in ten by one in so many."""
    assert in_small_numbers(share).replace("\u00a0", " ") == said


def test_what_is_said_of_forty_days() -> None:
    """On 40 days 1 in 5 was told and 1 in 4 came, with its rows; nothing is said of what nobody
    noted."""
    damp = score(days(0.2, 5, 20, 40))
    found = Scored(LAST, (Window(90, 50, 0, 40, 0, damp, None, None, 0, 0),))
    said = window_words(found.windows[0]).replace("\u00a0", " ")
    assert "On 40 days we said that 1 in 5 of the hoods would be damp; it was 1 in 4." in said
    assert "drove away" not in said
    assert lead(found) == "Over 90 days more hoods were damp than was told."
    assert damp is not None
    rows = [[cell.replace("\u00a0", " ") for cell in row] for row in group_rows(damp)]
    assert rows[0][:4] == ["20 %", "40", "800", "25 %"]
    assert [name for name, _one in parts(found.windows[0])] == ["damp"]
    # (0.25 × 0.8² + 0.75 × 0.2²) = 0.19; of who says the mean 0.25 × 0.75; 0.05² is lost
    assert score_rows(found) == (("Damp hoods, 90 days", "0.190", "0.188", "0.003", "0.000"),)
    said = counted_words(found.windows[0])
    assert "50 of the 90 days have no entry in the log and are not counted." in said


def test_what_is_said_of_nothing() -> None:
    """Without any day the part says so."""
    found = Scored(LAST, (Window(90, 90, 0, 0, 0, None, None, None, 0, 0),))
    assert lead(found) == "Nothing was told yet that a log could be held against."
    assert "nothing to hold a log against" in window_words(found.windows[0])
    assert score_rows(found) == ()
