"""The season against the command line's plans, and what it says when something is missing."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from icalendar import Calendar

from app.answers import season
from app.answers.season import answer_season, rotation_of, season_asked
from app.answers.serial import read, write
from app.catalogue import say
from app.cli import main as cli
from app.db.store import StoredPlan
from app.sites.demo import demo_data
from app.sites.folder import write_folder
from app.sites.reading import Past
from app.words.figures import printed_step
from app.words.numbers import shown, stepped
from sim.day.blocks import Shape
from sim.day.figures import FIGURES, OF_COST
from sim.decide.answer import Plan
from sim.decide.cloth.answer import SeasonAnswer
from sim.decide.cloth.outlook import SeasonAsked
from sim.decide.cloth.season import RULES, STAND_FOR, SUMS, SeasonRun, first_season, run_season
from sim.errors import InputError
from sim.inputs import DayNote, History, HourCount, HourWeather, Scenario, SiteData
from tests.demo_app import TODAY
from tests.intervals import day_range, value_of
from tests.sizes import Size
from tests.small_wash import small_wash

FIRST = date(2026, 7, 16)
DAYS = 10
REPLICATIONS = 6


def year_wash() -> SiteData:
    """The small wash with a year of counts that change from day to day, and its weather."""
    base = small_wash()
    days = [FIRST - timedelta(days=back) for back in range(365, 0, -1)]
    counts = tuple(
        HourCount(day, hour, 0, 40 + 25 * (day.weekday() >= 5) + day.month)
        for day in days
        for hour in (8, 9)
    )
    weather = tuple(
        HourWeather(day, hour, 0, 16.0 + (day.month - 6) + hour / 6, 0.7, 0.0)
        for day in days[::3]
        for hour in range(24)
    )
    history = History("arrived", counts, weather, base.history.days)
    return replace(base, history=history)


def asked_of(
    data: SiteData, plans: dict[date, StoredPlan] | None = None, length: int = 365
) -> SeasonAsked:
    """A season's question with few replications and small options; a year unless told."""
    rotation = rotation_of(data, FIRST, {})
    asked = season_asked(
        data, FIRST, rotation, plans or {}, replications=REPLICATIONS, length=length
    )
    return few_options(asked)


def few_options(asked: SeasonAsked) -> SeasonAsked:
    """The same question with options of one peak day, few draws of each."""
    few = replace(asked.options, peaks=asked.options.peaks[:1], shape=Shape(2, 2, 2))
    return replace(asked, options=few)


@pytest.fixture(scope="module")
def data() -> SiteData:
    """The site."""
    return year_wash()


@pytest.fixture(scope="module")
def found(data: SiteData) -> SeasonAnswer:
    """Its season."""
    return answer_season(asked_of(data))


def test_random_days_are_plans_to_the_printed_digit(
    data: SiteData,
    found: SeasonAnswer,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    rng: np.random.Generator,
) -> None:
    """Ten random days of the season, run through the command line with as many replications, have
    the same figures by both rules, their day ranges too, rounded as both are printed."""
    write_folder(tmp_path / "site", data)
    names = (
        "cars_washed",
        "cars_lost",
        "left_damp_share",
        "full_share",
        "wear_cars",
        "margin",
        "cost",
    )
    rules = set()
    for at in rng.choice(len(found.days), size=DAYS, replace=False):
        one = found.days[at]
        more = ("--date", one.day.isoformat(), "--rule", "full", "--rule", one.rule, "--json", "-")
        count = ("--replications", str(REPLICATIONS))
        assert cli.main(["plan", str(tmp_path / "site"), *more, *count]) == 0
        columns = read(Plan, capsys.readouterr().out).comparison.columns
        rules.add(one.rule)
        for place, rule in enumerate(("full", "planned")):
            for name in names:
                figure = columns[place].figures[name]
                mean, low, high = getattr(one.figures[name], rule)
                unit = FIGURES[name].unit
                step = printed_step(figure, unit, "us", value_of(figure))
                wanted = shown(value_of(figure), unit, "us")
                assert stepped(shown(mean, unit, "us"), step) == stepped(wanted, step), name
                assert mean == pytest.approx(figure.value, rel=1e-9), name
                ends = day_range(figure)
                assert (low, high) == pytest.approx((ends.low, ends.high), rel=1e-9), name


def test_a_first_form_comes_before_the_year_and_that_before_the_options(data: SiteData) -> None:
    """First some days stand for others; then the year as it will be told, without options; what is
    told last has both. Every day is in each of them."""
    early: list[SeasonAnswer] = []
    stages: list[str] = []
    whole = answer_season(asked_of(data, length=30), early=early.append, stage=stages.append)
    first, year = early
    assert stages == ["days", "options"]
    assert (first.coarse, year.coarse, whole.coarse) == (True, False, False)
    assert [one.day for one in first.days] == [one.day for one in whole.days]
    assert (first.options, year.options) == ((), ())
    assert write(replace(year, options=whole.options)) == write(whole)
    assert len(write(first)) < len(write(year))


def test_days_of_a_first_form_are_days_of_the_season(data: SiteData) -> None:
    """The days that it lives through have the figures of the whole, on some of its draws; each of
    the others has those of one of them, what adds up in proportion to its cars."""
    question = asked_of(data, length=40).question
    first, whole = first_season(question), run_season(question)

    def sums(run: SeasonRun, at: int) -> np.ndarray:
        return np.array([run.figures[name][at].ravel() for name in SUMS])

    def is_lived(at: int) -> bool:
        on_draws = [{*map(tuple, sums(run, at).T.tolist())} for run in (first, whole)]
        return on_draws[0] <= on_draws[1]

    cars = [one.cars for one in question.days]
    lived = [at for at in range(len(cars)) if is_lived(at)]
    assert len(cars) / STAND_FOR <= len(lived) == first.lived < len(cars) / 2
    for at, count in enumerate(cars):
        told = sums(first, at) / count
        assert any(np.allclose(told, sums(first, one) / cars[one], rtol=1e-9) for one in lived)
    some = run_season(question, draws=(4, 1))
    for name, values in whole.figures.items():
        assert np.array_equal(some.figures[name], values[..., [4, 1]], equal_nan=True)
    assert some.figures["cost"].shape == (len(cars), len(RULES), 2)


@pytest.mark.soak
def test_a_first_form_lies_near_the_whole(
    size: Size, record_figure: Callable[[str, float, str], None]
) -> None:
    """On the demo: wear of the season, its busiest month and sets that come off lie within a
    twentieth of the whole, the date of the next order within a week."""
    data, look, length = demo_data(), Past().look, size(small=45, full=365)
    rotation = rotation_of(data, TODAY, {}, look)
    asked = few_options(season_asked(data, TODAY, rotation, {}, look, length=length))
    early: list[SeasonAnswer] = []
    answer_season(asked, early=early.append)
    first, whole = early

    def off(name: str, of: Callable[[SeasonAnswer], float]) -> float:
        apart = abs(of(first) / of(whole) - 1.0)
        record_figure(f"{name} off by", 100.0 * apart, "%")
        return apart

    busiest = max(range(len(whole.months)), key=lambda at: whole.months[at].figures["wear_cars"])
    assert off("wear", lambda one: one.totals["wear_cars"].planned[0]) < 0.05
    assert off("busiest month", lambda one: one.months[busiest].figures["wear_cars"]) < 0.05
    assert off("sets", lambda one: one.sets_per_year) < 0.05
    assert first.orders[0].quantity == whole.orders[0].quantity
    assert abs((first.orders[0].by - whole.orders[0].by).days) <= 7


def test_every_open_day_is_there_once(data: SiteData, found: SeasonAnswer) -> None:
    """Days with figures and days left out are the season's days, each once and in order; the
    closed one is left out without a reason to mend."""
    held = [one.day for one in found.days] + [row.day for row in found.left_out]
    assert sorted(held) == [FIRST + timedelta(days=ahead) for ahead in range(365)]
    closed = {note.day for note in data.history.days if note.kind == "closed"}
    assert closed == {row.day for row in found.left_out}
    assert [row.why for row in found.left_out] == [None]


def test_months_add_up_to_the_season(found: SeasonAnswer) -> None:
    """Figures, launderings and money of the months are those of the days together."""
    for name in SUMS:
        total = sum(row.figures[name] for row in found.months)
        assert total == pytest.approx(found.totals[name].planned[0], rel=1e-9), name
    assert sum(row.launderings for row in found.months) == len(found.laundry_days)
    for row in found.months:  # the items but wear, which the sets pay for, and what cloth costs
        items = sum(row.figures[name] for name in OF_COST if name != "cost_wear")
        assert row.running_cost == pytest.approx(items, rel=1e-9)
        assert row.total == pytest.approx(items + row.laundry_cost + row.set_cost)
    assert sum(row.sets for row in found.months) == pytest.approx(found.sets_per_year, rel=1e-9)


def test_peak_days_are_reduced_and_others_are_not(data: SiteData) -> None:
    """Without plans the season counts on what the site says: reduced hours on the busiest tenth of
    open days, and always full on the others."""
    asked = asked_of(data)
    rules = {"full": 0, "clock 10:00-17:00": 0}
    least, most = math.inf, 0.0
    for one in asked.question.days:
        rules[one.planned.rule] += 1
        cars = sum(one.conditions.arrivals_per_h)
        if one.planned.rule == "full":
            most = max(most, cars)
        else:
            least = min(least, cars)
    assert rules == {"full": 328, "clock 10:00-17:00": 36}
    assert least >= most
    assert asked.options.count == 36


def test_a_stored_plan_says_what_its_day_counts_on(data: SiteData) -> None:
    """Of a day with a plan the first scenario counts, its rule, its dry sets, and the day as it
    was typed over."""
    day = FIRST + timedelta(days=9)
    plan = StoredPlan(1, day, 1, "+50 %", (Scenario("so", "reduced", "9:00"), Scenario("b")))
    plain, typed = asked_of(data, length=20), asked_of(data, {day: plan}, length=20)
    before = next(one for one in plain.question.days if one.day == day)
    after = next(one for one in typed.question.days if one.day == day)
    assert (after.planned.rule, after.planned.cloth) == ("reduced", "9:00")
    cars = [sum(one.conditions.arrivals_per_h) for one in (before, after)]
    assert cars[1] == pytest.approx(1.5 * cars[0], rel=1e-12)


def test_no_delivery_time_takes_orders_away_and_nothing_else(data: SiteData) -> None:
    """Without a delivery time there is a sentence in place of orders, and the days stay."""
    site = data.site.with_values({"order_lead_days": 0.0})
    told = answer_season(asked_of(replace(data, site=site), length=20))
    assert told.stock is None
    assert told.orders == ()
    assert [say(note, "si") for note in told.stock_problems] == [
        "Delivery time of a new set 0\u00a0days: without one nothing can be said of when to order. "
        "Enter more than 0 days on the Site page."
    ]
    assert len(told.days) == 19


def test_a_site_without_counts_is_told_what_is_missing(data: SiteData) -> None:
    """A season without any count is refused with what to bring in."""
    bare = replace(data, history=History())
    with pytest.raises(InputError, match="There are no counts of open hours"):
        rotation_of(bare, FIRST, {})


def test_a_season_of_closed_days_is_told_as_such(data: SiteData) -> None:
    """Where every day is closed there is no season, and the sentence names its ends."""
    closed = tuple(DayNote(FIRST + timedelta(days=n), "closed") for n in range(3))
    shut = replace(data, history=replace(data.history, days=closed))
    rotation = rotation_of(data, FIRST, {})
    with pytest.raises(InputError, match="No day of the season from 2026-07-16 to 2026-07-18"):
        season_asked(shut, FIRST, rotation, {}, length=3)


def test_days_with_frost_are_left_out_by_name(data: SiteData) -> None:
    """A day that the model does not know is left out with the reason; the others stay."""
    frost = FIRST + timedelta(days=2)
    cold = tuple(HourWeather(frost, hour, 0, -4.0, 0.7, 0.0) for hour in range(24))
    weather = tuple(sorted((*data.history.weather, *cold)))
    chilly = replace(data, history=replace(data.history, weather=weather))
    asked = season_asked(chilly, FIRST, rotation_of(data, FIRST, {}), {}, length=5)
    why = next(row.why for row in asked.left_out if row.day == frost)
    assert why is not None
    assert "below is frost" in say(why, "si")
    assert "°F" in say(why, "us")
    assert frost not in {one.day for one in asked.question.days}


# ---- the command


@pytest.fixture
def folder(data: SiteData, tmp_path: Path) -> Path:
    """The folder of the site with ten open days ahead, all others closed."""
    shut = tuple(DayNote(FIRST + timedelta(days=n), "closed") for n in range(10, 365))
    held = replace(data, history=replace(data.history, days=shut))
    write_folder(tmp_path / "wash", held)
    return tmp_path / "wash"


def command(folder: Path, *more: str) -> int:
    """`clothcast season` on that day, two simulated days of each."""
    common = ("--today", FIRST.isoformat(), "--replications", "2")
    return cli.main(["season", str(folder), *common, *more])


def test_the_command_writes_what_the_page_offers(
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Tables and answer are printed, every file is written and can be read, and the site's folder
    stays as it was."""
    monkeypatch.setattr(
        season, "answer_season", lambda asked, *more: answer_season(few_options(asked), *more)
    )
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    names = {kind: tmp_path / f"season.{kind}" for kind in ("json", "csv", "xlsx", "ics")}
    more = [part for kind, path in names.items() for part in (f"--{kind}", str(path))]
    assert command(folder, *more) == 0
    printed = capsys.readouterr().out
    assert "What else" not in printed  # heads are the page's own
    assert "Sets owned" in printed
    told = json.loads(names["json"].read_text(encoding="utf-8"))
    assert (told["schema"], len(told["days"])) == ("clothcast.season/9", 10)
    lines = names["csv"].read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 11
    book = openpyxl.load_workbook(names["xlsx"])
    assert book["Days"].max_row == 11
    events = Calendar.from_ical(names["ics"].read_bytes()).walk("VEVENT")
    laundered = (len(told["days"]) - 1) // told["launder_every"]
    assert len(events) >= len(told["laundry_days"]) == laundered
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_the_command_says_what_is_missing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without counts it ends with the sentence that the page has, and an exit code of its own."""
    (folder / "counts.csv").unlink()
    assert command(folder) == 1
    assert "There are no counts of open hours to expect a day from." in capsys.readouterr().err
