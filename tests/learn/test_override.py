"""The typed line that overrides a day."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.learn.expected_day import Override, parse_override


@pytest.mark.parametrize(
    ("text", "system", "expected"),
    [
        ("", "us", Override()),
        ("  ,  ", "si", Override()),
        ("91 °F", "si", Override(highest_temp_c=(91 - 32) / 1.8)),
        ("91", "us", Override(highest_temp_c=(91 - 32) / 1.8)),
        ("33 C", "us", Override(highest_temp_c=33.0)),
        ("33.5°c", "us", Override(highest_temp_c=33.5)),
        ("-4", "si", Override(highest_temp_c=-4.0)),
        ("70 %", "us", Override(humidity=0.7)),
        ("rain", "us", Override(rain_mm=5.0)),
        ("Rain 8 mm", "us", Override(rain_mm=8.0)),
        ("rain 0.5", "us", Override(rain_mm=12.7)),
        ("dry", "us", Override(rain_mm=0.0)),
        ("no rain", "us", Override(rain_mm=0.0)),
        ("+10 %", "us", Override(event=0.1)),
        ("\u221225 %", "us", Override(event=-0.25)),
        ("event +20 %", "us", Override(event=0.2)),
        ("cars 20%", "us", Override(event=0.2)),
        ("+10 %; 70 %, rain; 33 °C", "us", Override(33.0, 0.7, 5.0, 0.1)),
        ("91\u00a0°F, 70\u00a0%", "us", Override((91 - 32) / 1.8, 0.7)),
    ],
)
def test_each_part_of_the_line_is_read(text: str, system: str, expected: Override) -> None:
    """Every documented part is read, in any order, in the reader's units or in those typed."""
    read = parse_override(text, system)
    for name in ("highest_temp_c", "humidity", "rain_mm", "event"):
        value, wanted = getattr(read, name), getattr(expected, name)
        assert value == (wanted if wanted is None else pytest.approx(wanted, abs=1e-9)), name


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("warm", "“warm” was not understood: “warm” is not a number"),
        ("91 K", "“91 K” was not understood: “K” is not a unit of this field; use °C or °F"),
        ("33,5 °C", "“33,5 °C” has a comma inside a number. Write decimals with a point"),
        ("30, 31", "“31” gives the highest temperature a second time. Give it once."),
        ("60 %, 70 %", "“70 %” gives the humidity a second time. Give it once."),
        ("rain, dry", "“dry” gives the rain a second time. Give it once."),
        ("+5 %, +6 %", "“+6 %” gives the change of cars a second time. Give it once."),
        ("104 %", "The humidity 104 % is outside what can be used. Enter 1 % to 100 %."),
        ("0 %", "The humidity 0 % is outside what can be used."),
        ("70 °C", "The highest temperature 70 °C is outside what can be used."),
        ("+400 %", "The change of cars 400 % is outside what can be used."),
        ("-101 %", "The change of cars −101 % is outside what can be used. Enter −100 % to 300 %."),
        ("rain 900 mm", "The rain 900 mm is outside what can be used. Enter 0 mm to 500 mm."),
        ("rain heavy", "“rain heavy” was not understood: “heavy” is not a number"),
        ("+10", "“+10” is no change of cars. Write it as +10 % or -25 %."),
        ("event big", "“event big” is no change of cars. Write it as +10 % or -25 %."),
        ("event big %", "“event big %” was not understood"),
    ],
)
def test_what_is_not_understood_is_named(text: str, said: str) -> None:
    """A part that can't be used is repeated, with what would be right."""
    with pytest.raises(InputError) as caught:
        parse_override(text, "si")
    assert said in caught.value.problems[0].say("si").replace("\u00a0", " ")


def test_every_problem_is_told_at_once() -> None:
    """Three bad parts give three problems."""
    with pytest.raises(InputError) as caught:
        parse_override("104 %, warm, +400 %", "si")
    assert len(caught.value.problems) == 3


@given(st.text(max_size=40))
def test_no_text_breaks_the_line(text: str) -> None:
    """Whatever is typed is either read or refused with problems that can be said."""
    try:
        told = [repr(parse_override(text, "us"))]
    except InputError as refused:
        told = [problem.say("us") for problem in refused.problems]
    assert all(told)
