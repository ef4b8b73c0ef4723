"""What is shown as a difference is the difference of what is shown, on any comparison."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from hypothesis import example, given
from hypothesis import strategies as st

from app.words.figures import FigureCell, cells_of, printed_step, row_step
from app.words.maps import answer_words, figure_words
from app.words.numbers import apart_as_shown, shown, stepped
from app.words.switching import overruled_words
from sim.day.figures import FIGURES, Figure, FigureInfo, PairedDifference, Range, Word
from sim.day.rules import FULL
from sim.decide.answer import Comparison
from sim.decide.switching.answer import Gain, Gains, Overruled
from sim.inputs import Scenario
from sim.units import MINUS
from tests.pages import fixture_comparison as invented
from tests.pages.map_content import maps
from tests.pages.switch_content import clock, switch

WORDS: tuple[Word, ...] = ("clearly better", "a little worse", "hardly differs", "can’t tell")
NUMBERS = re.compile(rf"[+{MINUS}]?\$?[\d,]+(?:\.\d+)?")

values = st.floats(-1e6, 1e6, allow_nan=False)
errors = st.one_of(st.none(), st.just(0.0), st.floats(1e-6, 1e5))
columns = st.lists(
    st.tuples(values, errors, errors, errors, errors, st.sampled_from(WORDS)),
    min_size=1,
    max_size=6,
)


def number(printed: str) -> float:
    """A printed number; fails on what is none."""
    assert NUMBERS.fullmatch(printed), printed
    return float(re.sub(r"[+$,]", "", printed).replace(MINUS, "-"))


def around(value: float, half: float | None) -> Range | None:
    """A range of so much either way; None without."""
    return None if half is None else Range(value - half, value + half)


def comparison(
    info: FigureInfo, told: list[tuple[float, float | None, float | None, float | None,
                                       float | None, Word]],
) -> Comparison:  # fmt: skip
    """A comparison of one figure whose columns have these values, run errors and site
    uncertainties, of the figure and of its difference, and words."""
    day = invented.six_scenarios()
    first = told[0][0]
    made = []
    for at, (value, error, site, apart_error, apart_site, word) in enumerate(told):
        figure = Figure(
            value, None, run_error=around(value, error), site_uncertainty=around(value, site)
        )
        more = value - first
        apart = PairedDifference(
            more, around(more, apart_error), 0.5, word, around(more, apart_site)
        )
        column = invented.with_column(
            day, 0, scenario=Scenario(f"{at}"), figures={info.name: figure},
            differences={info.name: apart} if at else None,
        ).columns[0]  # fmt: skip
        made.append(column)
    return invented.with_columns(day, tuple(made))


def differences(cells: tuple[FigureCell, ...]) -> list[tuple[str, str, str]]:
    """First value, value and difference of each column but the first."""
    return [(cells[0].value, one.value, one.difference) for one in cells[1:]]


@given(st.sampled_from(list(FIGURES.values())), columns, st.sampled_from(["us", "si"]))
@example(
    FIGURES["margin"],
    [(10_400.0, 200.0, 4500.0, None, None, "clearly better"),
     (10_800.0, 200.0, 4500.0, 20.0, 200.0, "clearly better")],
    "us",
)  # fmt: skip
def test_shown_differences_are_those_of_shown_figures(
    info: FigureInfo,
    told: list[tuple[float, float | None, float | None, float | None, float | None, Word]],
    system: str,
) -> None:
    """Whatever figures, errors, units and words: a shown less the first shown is the difference
    shown, it has the sign of the true one or none, and neither is off by more than its last digit.
    """
    day = comparison(info, told)
    step = row_step(info, day, system)
    for (first, value, apart), (exact, *_rest) in zip(
        differences(cells_of(info, day, system)), told[1:], strict=True
    ):
        assert math.isclose(number(value) - number(first), number(apart), abs_tol=1e-6 * step)
        assert number(apart) * (exact - told[0][0]) >= 0.0
        more = shown(exact - told[0][0], info.unit, system, difference=True)
        assert abs(number(apart) - more) <= step * (1.0 + 1e-6)
        seen = shown(exact, info.unit, system)
        assert abs(number(value) - seen) <= 0.5 * step * (1.0 + 1e-6)


@given(st.sampled_from(list(FIGURES.values())), columns, st.sampled_from(["us", "si"]))
def test_figures_show_a_digit_more_than_they_deserve_at_most(
    info: FigureInfo,
    told: list[tuple[float, float | None, float | None, float | None, float | None, Word]],
    system: str,
) -> None:
    """For the sake of a difference figures are printed a tenth of the finest step that one of them
    deserves, no finer, and only where a difference matters."""
    day = comparison(info, told)
    step = row_step(info, day, system)
    own = [
        printed_step(found, info.unit, system, shown(found.value or 0.0, info.unit, system))
        for found in (one.figures[info.name] for one in day.columns)
    ]
    assert step >= min(own) / 10.0 * (1.0 - 1e-9)
    if not any(one.apart(info.name).matters for one in day.columns):
        assert step >= min(own) * (1.0 - 1e-9)


def test_a_figure_has_the_same_digits_where_some_columns_are_left_out() -> None:
    """A page that shows some columns of a plan prints them as the plan does, though it is another
    column whose difference asks for a digit more."""
    day = invented.peak_day_over_sites()
    for at, word in ((1, "hardly differs"), (2, "clearly better")):
        day = invented.with_apart(day, at, "margin", word=word, site_uncertainty=Range(379, 381))
    some = replace(day, columns=day.columns[:2], unshown=day.columns[2:])
    alone = replace(some, unshown=())
    info = FIGURES["margin"]
    assert cells_of(info, some, "us") == cells_of(info, day, "us")[:2]
    assert cells_of(info, alone, "us")[0].value == "$9,300"
    assert cells_of(info, some, "us")[0].value == "$9,340"


@given(values, values, st.integers(-1, 4))
def test_numbers_printed_to_one_step_subtract(value: float, first: float, power: int) -> None:
    """The difference that belongs between two printed numbers is exactly that of the two."""
    step = 10.0**power
    apart = stepped(apart_as_shown(value, first, step), step)
    both = number(stepped(value, step)) - number(stepped(first, step))
    assert math.isclose(number(apart), both, abs_tol=1e-6 * step)


def test_a_difference_that_does_not_subtract_is_told() -> None:
    """The figures that were printed before are found to be no difference of each other."""
    first, value, apart = map(number, ("$10,000", "$11,000", "+$400"))
    assert not math.isclose(value - first, apart)


def test_maps_print_the_setting_now_and_the_best_so_that_they_subtract() -> None:
    """Lost cars and money of the sentence are the difference of what stands at the maps."""
    found = maps()
    assert found.best is not None
    now, best = found.present.figures, found.best.figures
    said = str(answer_words(found, "us")[0])
    for name, sentence in (
        ("cars_lost", r"lose ([\d,]+) more cars"), ("margin", r"about (\$[\d,]+) less")
    ):  # fmt: skip
        (told,) = re.findall(sentence, said)
        first, value = (
            number(figure_words(found, name, one[name], "us", with_unit=False))
            for one in (now, best)
        )
        assert abs(value - first) == number(told)


def test_what_is_saved_against_the_plan_is_the_difference_of_the_costs_shown() -> None:
    """Where another rule than the plan’s is advised, the sentence and the table have one number;
    without the plan’s rule in the table it is that of the search."""
    told = switch(clock((11.0 + 50.0 / 60.0, 16.0 + 40.0 / 60.0)))
    over = Overruled(FULL, Gains(Gain(0.0), Gain(0.0), Gain(0.0), Gain(-412.0)))
    told = replace(told, wish=replace(told.wish, kind="cost"), overruled=over)
    assert "this saves about $412 a day" in overruled_words(told, "us")
    day = told.comparison
    for at, cost in enumerate((4_127.0, 4_391.0, 3_748.0)):
        day = invented.with_figures(day, at, cost=invented.figure(cost, 60.0, 3_000.0, 6_000.0))
    shown_costs = [one.value for one in cells_of(FIGURES["cost"], day, "us")]
    (saved,) = re.findall(r"saves about (\$[\d,]+) a day", overruled_words(
        replace(told, comparison=day), "us"
    ))  # fmt: skip
    assert number(shown_costs[0]) - number(shown_costs[2]) == number(saved) == 380.0
