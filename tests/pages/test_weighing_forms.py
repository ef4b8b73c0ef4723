"""What a form of a measurement reads, and how it names what can't be."""

from __future__ import annotations

from datetime import date

import pytest
from starlette.datastructures import FormData

from app.catalogue import say
from app.pages.weighing_forms import read_weighing
from sim.inputs import Site, SiteData

TODAY = date(2026, 7, 15)
WASH = SiteData(Site("Mill Lane"), "si")
STRIP = {"kind": "soaked", "weight_kg": "310", "dry_kg": "180", "day": "2026-07-14"}
AFTERNOON = {
    **STRIP, "kind": "afternoon", "at_s": "15:20", "cars": "20", "damp_cars": "3", "wiped": "full",
}  # fmt: skip
TOWEL = {"kind": "towel", "dry_kg": "80", "passed": "90 91", "called": "99", "day": "2026-07-14"}
SPUN = {
    **STRIP, "kind": "spin", "at_s": "20:30", "spun_s": "10 30", "after_kg": "290 260",
    "weather": "",
}  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "weights_g"),
    [
        (STRIP | {"weight_kg": "310 295; 0.322 kg"}, [310, 295, 322]),
        (TOWEL, [90, 91, 99]),
        (TOWEL | {"dry_kg": "80 81 82"}, [90, 91, 99]),
        (SPUN, [310, 310]),
        (AFTERNOON | {"wiped": "clock", "from": "12:00", "to": "15:00"}, [310]),
    ],
)
def test_each_strip_towel_and_time_is_a_row(typed: dict[str, str], weights_g: list[float]) -> None:
    """Bare weights are grams; a towel's and a wheel's rows have each their own second number."""
    read = read_weighing(FormData(list(typed.items())), WASH, TODAY)
    assert read.problems == ()
    assert [round(1000.0 * one.weight_kg, 6) for one in read.weighings] == weights_g
    if typed["kind"] == "spin":
        assert [one.spun_s for one in read.weighings] == [600.0, 1800.0]
    if typed["dry_kg"] == "80 81 82":
        assert [round(1000.0 * one.dry_kg) for one in read.weighings] == [80, 81, 82]


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        (STRIP | {"kind": "guess"}, "kind", "“guess” is no weighing. Use soaked, damp"),
        (STRIP | {"weight_kg": "heavy"}, "weight_kg", "Enter the weight of a strip, or of up to"),
        (STRIP | {"weight_kg": "g 310"}, "weight_kg", "Weight “g 310” can’t be read"),
        (TOWEL | {"passed": "a bit"}, "passed", "Enter what the towel weighed, up to"),
        (TOWEL | {"dry_kg": "80 81"}, "dry_kg", "2 dry weights don’t go with 3 hoods"),
        (SPUN | {"spun_s": "long"}, "spun_s", "Time “long” can’t be read. Enter the minutes"),
        (SPUN | {"spun_s": "10"}, "after_kg", "1 weights before, 1 times and 2 weights after"),
        (SPUN | {"weight_kg": "310 320"}, "weight_kg", "Enter one strip, and a weight for each"),
        (AFTERNOON | {"wiped": "twice"}, "wiped", "“twice” is no way of wiping. Choose one"),
        (AFTERNOON | {"wiped": "clock", "from": "noon", "to": "15:00"}, "from", "noon"),
        (AFTERNOON | {"cars": "0"}, "cars", "0"),
    ],
)
def test_what_can_not_be_measured_is_named(typed: dict[str, str], field: str, says: str) -> None:
    """By the field, with what was typed and what would be right; nothing is kept, and all that was
    typed comes back."""
    read = read_weighing(FormData(list(typed.items())), WASH, TODAY)
    assert read.weighings == ()
    found = [(one.field, say(one, "si")) for one in read.problems]
    assert any(at == field and says in sentence for at, sentence in found), found
    assert all(read.typed.get(name, text) == text for name, text in typed.items())
