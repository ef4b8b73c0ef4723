"""What is shown as a difference is the difference of what is shown, on any comparison."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from hypothesis import example, given
from hypothesis import strategies as st

from app.charts.maps import settings_charts, weather_charts
from app.words.figures import FigureCell, cells_of, printed_step, row_step
from app.words.map_levels import MapLevels
from app.words.maps import answer_words
from app.words.numbers import apart_as_shown, shown, stepped
from app.words.switching import overruled_words
from sim.day.figures import FIGURES, Figure, FigureInfo, PairedDifference, Range, Word
from sim.day.rules import FULL
from sim.decide.answer import Comparison
from sim.decide.maps.points import MAPPED
from sim.decide.switching.answer import Gain, Gains, Overruled
from sim.inputs import Scenario
from sim.units import MINUS
from tests.pages import fixture_comparison as invented
from tests.pages.map_content import SPACINGS, SPEEDS, beside, maps
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


def test_maps_tell_of_a_setting_what_the_plan_and_the_difference_make() -> None:
    """The setting now is the plan’s number, though the maps have another; what a map prints at the
    best setting is the difference that the sentence tells, of the two that it names where it
    names them, and the file has the level of the plan."""
    found = maps()
    levels = beside(found)
    best, plan = found.best, levels.plan
    assert best is not None
    assert plan is not None
    said = str(answer_words(levels, "us")[0])
    of_map = {one.name: one for one in settings_charts(levels, "us")}
    for name, sentence in (
        ("cars_lost", r"lose ([\d,]+) more cars"), ("margin", r"about (\$[\d,]+) less")
    ):  # fmt: skip
        (told,) = re.findall(sentence, said)
        assert abs(number(levels.apart_words(best, name))) == number(told)
    for name in MAPPED:
        chart, own = of_map[f"settings-{name}"], cells_of(FIGURES[name], plan, "us")[0].value
        says = chart.says.replace("\u00a0", " ")
        ((now, more),) = re.findall(r"Than now: (.+?)\. At the best setting (.+?)\. The", says)
        assert (now.split()[0], more) == (own, levels.apart_words(best, name))
        i, j = SPEEDS.index(best.x), SPACINGS.index(best.y)
        grid = next(one for one in found.settings.grid if (one.x, one.y) == (best.x, best.y))
        assert chart.rows[j][1 + i] == levels.apart_words(grid, name)
    waits = replace(found.differences["wait_p90_s"], word="clearly worse")
    longer = replace(best, figures={**best.figures, "wait_p90_s": 301.0})
    apart = {**found.differences, "wait_p90_s": waits}
    told_too = replace(found, best=longer, differences=apart)
    waited = r"at most ([\d.]+)\u00a0min instead of ([\d.]+)"
    ((then, now),) = re.findall(waited, str(answer_words(beside(told_too), "us")[0]))
    more = levels.apart_words(longer, "wait_p90_s")
    assert math.isclose(number(then) - number(now), number(more), abs_tol=1e-6)


def test_a_setting_of_the_plan_has_the_plans_numbers_on_the_maps() -> None:
    """Once the best setting is a scenario of the plan, maps tell of it what the plan found."""
    found = maps()
    levels = beside(found)
    best, plan = found.best, levels.plan
    assert best is not None
    assert plan is not None
    at_best = {"conveyor_speed_m_s": best.x, "car_spacing_m": best.y}
    scenario = replace(found.scenario, name="Slower", changes=at_best)
    column = invented.with_scenario(plan, 0, name="Slower", changes=at_best).columns[0]
    column = replace(column, scenario=scenario, differences={
        **(invented.peak_day().columns[1].differences or {}),
        "margin": invented.difference(-411.0, 10.0, 0.1, "clearly worse"),
    })  # fmt: skip
    told = {"margin": invented.figure((plan.columns[0].value("margin") or 0.0) - 411.0, 9, 1, 2)}
    both = invented.with_figures(invented.with_columns(plan, (*plan.columns, column)), 1, **told)
    there = MapLevels.of(found, both)
    assert there.column(best) == both.columns[1]
    printed = cells_of(FIGURES["margin"], both, "us")[1].difference
    assert there.apart_words(best, "margin") == printed != levels.apart_words(best, "margin")


def test_maps_without_their_plan_tell_no_level() -> None:
    """Until the plan is worked out, and beside that of another scenario, differences stand alone:
    what the maps have of it is not what the plan will have."""
    found = maps()
    other = invented.with_scenario(invented.peak_day(), 0, rule="reduced")
    for levels in (MapLevels.of(found, None), MapLevels.of(found, other)):
        assert levels.plan is None
        said = str(answer_words(levels, "us")[0])
        assert "would leave damp" not in said
        assert "60 more cars" in said
        for chart in (*settings_charts(levels, "us")[1:], *weather_charts(levels, "us")[1:]):
            assert chart.says.startswith(("Than now.", "Than expected."))


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
