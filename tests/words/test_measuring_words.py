"""What to measure tomorrow, as it is said."""

from __future__ import annotations

from datetime import date

from app.words.measuring import basis_words, hour_words, lead, offered_rows
from sim.decide.next_measurement import NextMeasurement, Option, WhatNext
from sim.inputs import HOODS, SPIN

TOMORROW, BUSY = date(2026, 7, 19), date(2026, 7, 25)
HOUR = 3600.0


def told(*every: NextMeasurement) -> WhatNext:
    """An answer, the measurement of most worth a minute first."""
    return WhatNext(TOMORROW, BUSY, 128, every)


def hoods(hour: float, money: float) -> NextMeasurement:
    """Twenty hoods at an hour, fifteen minutes of work."""
    return NextMeasurement(Option(HOODS, hour * HOUR), money, 6.0, 0.5)


SPUN = NextMeasurement(Option(SPIN), 12.0, 3.0, 0.25)


def test_what_is_measured_first() -> None:
    """The best kind with its hour and the day that it is for; its worth for a minute of work."""
    found = told(hoods(13, 30.0), hoods(15, 29.0), SPUN, hoods(9, 10.0))
    assert lead(found) == (
        "Twenty hoods, about 13:00: expected to help the advice of Saturday 25 July most for its "
        "work."
    )
    first, second = offered_rows(found)
    plain = [cell.replace("\u00a0", " ") for cell in first]
    assert plain == [
        "Twenty hoods", "about 13:00", "15 min", "$30 ± $6", "$2.00", "at 10 of 20 sites",
    ]  # fmt: skip
    assert second[:2] == ("A spin test", "after closing")
    assert hour_words(found) == ("Twenty hoods: about as good at 13:00 and 15:00.",)
    assert "Tried at 128 sites" in basis_words(found)


def test_any_hour_and_nothing_to_measure() -> None:
    """Where all hours are as good that is said; where nothing saves anything, that."""
    found = told(hoods(13, 30.0), hoods(15, 29.0))
    assert hour_words(found) == ("Twenty hoods: any hour is about as good.",)
    nothing = told(hoods(13, 0.2))
    assert "Nothing that could be measured tomorrow" in lead(nothing)
    assert (offered_rows(nothing), hour_words(nothing)) == ((), ())
