"""How numbers are worded: digits, signs, units, shares in words."""

from __future__ import annotations

import pytest

from app.pages.deps import make_templates
from app.words.numbers import (
    about,
    about_dollars,
    cents,
    clock,
    degrees,
    dollars,
    hour_range,
    hours,
    on_area,
    one_beside,
    one_in,
    percent,
    plain_number,
    range_step,
    share_words,
    signed,
    span,
    step_of,
    stepped,
)
from sim.units import MINUS, NBSP


@pytest.mark.parametrize(
    ("film_g_m2", "area_m2", "said"),
    [
        (19.9, 1.5, "30 g of water, about 2 tablespoons"),
        (15.0, 1.5, "23 g of water, about 1½ tablespoons"),
        (10.0, 1.5, "15 g of water, about a tablespoon"),
        (5.0, 1.5, "8 g of water, about half a tablespoon"),
        (2.0, 1.5, "3 g of water, less than half a tablespoon"),
        (25.0, 1.5, "38 g of water, about 2½ tablespoons"),
        (12.5, 1.5, "19 g of water, about 1½ tablespoons"),
    ],
)
def test_a_film_is_told_as_water_on_a_hood(film_g_m2: float, area_m2: float, said: str) -> None:
    """Grams and half spoonfuls of 15 ml, halves upwards, worked out by hand.

    A tablespoon of 15 ml: US food labels, 21 CFR 101.9(b)(5)(viii), from memory; a millilitre of
    water is a gram to 0.3 %.
    """
    assert on_area(film_g_m2 / 1000.0, area_m2).replace(NBSP, " ") == said


@pytest.mark.parametrize(
    ("half_width", "kind", "value", "step"),
    [
        (28.0, "cars", 1827.0, 10.0),
        (9.0, "cars", 80.0, 1.0),
        (0.2, "cars", 3.0, 1.0),
        (180.0, "money", 9340.0, 100.0),
        (0.4, "share", 2.4, 0.1),
        (0.4, "share", 24.0, 1.0),
        (0.003, "share", 2.4, 0.1),
        (None, "cars", 5.0, 1.0),
    ],
)
def test_no_figure_is_printed_finer_than_its_error(
    half_width: float | None, kind: str, value: float, step: float
) -> None:
    """The first digit of the run error is the last one printed, within what a reader can use."""
    assert step_of(half_width, kind, value) == pytest.approx(step)


def test_numbers_are_written_as_the_house_writes_them() -> None:
    """Commas apart thousands, minus is U+2212, zero has no sign, a gain has a plus."""
    assert plain_number(-1234.4, 0) == f"{MINUS}1,234"
    assert plain_number(-0.01, 1) == "0.0"
    assert stepped(1827.0, 10.0) == "1,830"
    assert signed(13.2, 1.0) == "+13"
    assert signed(-13.2, 1.0) == f"{MINUS}13"
    assert signed(0.2, 1.0) == "0"
    assert range_step(1600.0, 1960.0, "cars") == 10.0


def test_shares_in_words() -> None:
    """Shares of cars read as one in so many, in percent where that is plainer."""
    assert one_in(0.046) == f"about 1{NBSP}car{NBSP}in{NBSP}22"
    assert one_in(0.0) == "no car"
    assert one_in(0.001) == "fewer than 1 car in 500"
    assert one_in(0.62) == f"62{NBSP}% of cars"
    assert share_words(0.53) == "just over half"
    assert share_words(1.0) == "all"
    assert share_words(0.41) == f"41{NBSP}%"


def test_the_second_of_two_shares_does_not_name_the_car_again() -> None:
    """“1 car in 22 instead of 1 in 6”: what was named once is not named again."""
    assert one_in(0.167, bare=True) == f"1{NBSP}in{NBSP}6"
    assert one_in(0.62, bare=True) == f"62{NBSP}% of cars"


def test_two_shares_are_said_in_one_way() -> None:
    """Never one as a count and the other in percent."""
    assert one_beside(0.02, 0.167) == (f"about 1{NBSP}car{NBSP}in{NBSP}50", f"1{NBSP}in{NBSP}6")
    assert one_beside(0.167, 0.41) == (f"17{NBSP}% of cars", f"41{NBSP}%")
    assert one_beside(0.005, 0.62, bare=False) == (f"0.5{NBSP}% of cars", f"62{NBSP}%")


def test_percentages_have_a_tenth_where_it_counts() -> None:
    """Whole percent, or a tenth below ten percent; what is not nothing is not called so."""
    assert percent(0.0437) == f"4{NBSP}%"
    assert percent(0.0437, fine=True) == f"4.4{NBSP}%"
    assert percent(0.05, fine=True) == f"5{NBSP}%"
    assert percent(0.437, fine=True) == f"44{NBSP}%"
    assert percent(0.0, fine=True) == f"0{NBSP}%"
    assert percent(0.0002, fine=True) == f"under 0.1{NBSP}%"
    assert percent(None) == "–"


def test_money_has_its_sign_before_the_dollar() -> None:
    """Dollars, cents and round sums are written alike, no zero with a sign."""
    assert dollars(-1234.4) == f"{MINUS}$1,234"
    assert dollars(-0.3) == "$0"
    assert dollars(1287.0, 100.0) == "$1,300"
    assert cents(0.854) == "$0.85"
    assert about_dollars(3912.0) == "$3,900"
    assert about_dollars(39123.0) == "$39,100"
    assert about_dollars(-3912.0, 3) == f"{MINUS}$3,910"


def test_times_counts_and_temperatures() -> None:
    """Times by the clock, hours to a tenth, expected cars to what can be expected."""
    assert clock(13.5) == "13:30"
    assert hour_range(12, 16) == "12:00–16:00"
    assert (hours(12.04), hours(12.5), hours(120.5)) == ("12", "12.5", "120")
    assert (about(199.4), about(1529.0), about(12_345.0)) == ("199", "1,530", "12,300")
    assert degrees(31.0, "us") == f"88{NBSP}°F"
    assert span(-2.0, 3.0, 1.0) == f"{MINUS}2{NBSP}to{NBSP}3"
    assert span(2.0, 3.0, 1.0) == "2–3"


def test_templates_word_numbers_by_the_same_functions() -> None:
    """A filter has its function's name; plural forms come from the catalogue."""
    env = make_templates().env
    said = env.from_string("{{ 0.12 | percent }}, {{ 5 | dollars }}, {{ 31 | degrees('si') }}")
    assert said.render() == f"12{NBSP}%, $5, 31{NBSP}°C"
    said = env.from_string("{{ _n('1 day', '{count} days', days) }}")
    assert (said.render(days=1), said.render(days=1200)) == ("1 day", "1,200 days")
