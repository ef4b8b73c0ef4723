"""Planning a day: every state that its page can be in, and answers computed once and stored."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from app.answers import planning
from app.answers.answer import Desk
from app.answers.planning import PLAN, PlanView, question_key
from app.answers.studies.runner import Progress, Runner
from app.answers.studies.stages import PARTS, starts_of
from app.db import store
from app.db.session import Database, open_database
from app.db.store import StoredSite
from app.sites import reading
from app.sites.changes import Gate
from sim.decide.answer import Comparison
from sim.decide.compare import Question, compare
from sim.inputs import Scenario, Site, SiteData
from tests.intervals import value_of
from tests.pages.fixture_comparison import peak_day
from tests.small_wash import CLOSED, FAIR, PLANNED, small_wash
from tests.world import NOW


class Wash:
    """A database file with one site, and what a page would do with it."""

    def __init__(self, path: Path, data: SiteData) -> None:
        self.database: Database = open_database(path)
        with self.database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW)
            self.site_id = gate.create_site(data, "site").site_id

    def plan(
        self, expect: str = "", scenarios: tuple[Scenario, ...] = (), day: date = PLANNED
    ) -> None:
        """Stores a plan of a day in place of the one before."""
        with self.database.session() as session:
            held = store.find_plan(session, self.site_id, day)
            version = held.version if held else 0
            gate = Gate(session, store.built_in_person(session), NOW)
            asked = scenarios or planning.DEFAULT_SCENARIOS
            gate.store_plan(self.site_id, day, expect, asked, version, f"plan {expect} {version}")

    def view(self, day: date = PLANNED, runner: Runner | None = None) -> PlanView:
        """The day as its page finds it."""
        with self.database.session() as session:
            return Desk(session, self.stored(), runner).open(PLAN, day)

    def stored(self) -> StoredSite:
        """The site without its past."""
        with self.database.session() as session:
            return reading.find(session, "small-wash")


@pytest.fixture
def wash(tmp_path: Path) -> Iterator[Wash]:
    """The wash with its counts."""
    made = Wash(tmp_path / "data.sqlite3", small_wash())
    yield made
    made.database.close()


@pytest.fixture
def runner(wash: Wash) -> Iterator[Runner]:
    """A runner without worker processes."""
    made = Runner(wash.database, 1, lambda: NOW)
    yield made
    made.close()


def few_days(view: PlanView) -> PlanView:
    """The view with two simulated days, so that it is answered in a moment; the key is kept."""
    assert view.asked.question is not None
    return replace(
        view, asked=replace(view.asked, question=replace(view.asked.question, replications=2))
    )


# ---- states --------------------------------------------------------------------------------------


def test_a_day_without_a_plan_shows_the_usual_scenarios(wash: Wash) -> None:
    """Nothing stored: the default scenarios, an expected day, a question, and no answer yet."""
    view = wash.view()
    assert (view.asked.version, view.asked.expect, view.asked.scenarios) == (
        0,
        "",
        planning.DEFAULT_SCENARIOS,
    )
    assert view.asked.expected is not None
    assert view.asked.expected.expected_cars == pytest.approx(60)
    assert view.asked.question is not None
    assert view.asked.question.replications == planning.REPLICATIONS
    assert view.key == question_key(view.asked.question)
    assert (view.asked.problems, view.result, view.running, view.failed) == ((), None, None, "")


def test_a_stored_plan_is_asked(wash: Wash) -> None:
    """What was typed over the day and its scenarios are part of the question, and of its key."""
    plain = wash.view()
    mine = (Scenario("Mine", "clock 8:00-9:00"),)
    wash.plan("90 °F, +50 %", mine)
    view = wash.view()
    assert (view.asked.version, view.asked.expect, view.asked.scenarios) == (
        1,
        "90 °F, +50 %",
        mine,
    )
    assert view.asked.expected is not None
    assert view.asked.expected.expected_cars == pytest.approx(90)
    assert view.asked.expected.highest_temp_c == pytest.approx((90 - 32) / 1.8)
    assert view.key != plain.key


def test_a_closed_day_has_no_question(wash: Wash) -> None:
    """A day marked as closed says so, and nothing can be computed for it."""
    view = wash.view(CLOSED)
    assert view.asked.expected is not None
    assert view.asked.expected.closed
    assert "(“stocktaking”)" in view.asked.expected.origin
    assert (view.asked.question, view.key, view.asked.problems) == (None, "", ())


def test_a_site_without_counts_has_a_problem(tmp_path: Path) -> None:
    """With nothing counted there is no expected day; counts are asked for."""
    bare = Wash(tmp_path / "bare.sqlite3", SiteData(Site("Small Wash")))
    nothing = bare.view()
    bare.plan("90 °F, 60 %")
    typed = bare.view()
    bare.database.close()
    for view in nothing, typed:
        assert (view.asked.expected, view.asked.question) == (None, None)
        (problem,) = view.asked.problems
        assert "no counts of open hours" in str(problem)


def test_an_override_that_no_longer_reads_is_a_problem(
    wash: Wash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stored line that can't be read any more is told with what was typed; the plan stays."""
    wash.plan("+50 %")
    held = store.load_plans

    def spoiled(*asked: Any) -> dict[date, store.StoredPlan]:
        return {day: replace(plan, expect="hot, 104 %") for day, plan in held(*asked).items()}

    monkeypatch.setattr(store, "load_plans", spoiled)
    view = wash.view()
    assert (view.asked.expect, view.asked.expected, view.asked.question) == (
        "hot, 104 %",
        None,
        None,
    )
    assert [p.field for p in view.asked.problems] == ["expect", "expect"]
    assert "“hot” was not understood" in str(view.asked.problems[0])


def test_scenarios_that_no_longer_fit_the_site_are_told(wash: Wash) -> None:
    """A site changed after the plan was stored: the scenario's problem is named, no question."""
    wash.plan(scenarios=(Scenario("Close", "full", "9:00"),))
    with wash.database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        gate.set_inputs(wash.site_id, {"sets_owned": 1}, expected_version=1, request_key="sets")
    view = wash.view()
    assert [p.field for p in view.asked.problems] == ["scenario-1.cloth"]
    assert view.asked.expected is not None
    assert view.asked.question is None


def test_frost_is_told_before_anything_is_computed(wash: Wash) -> None:
    """A day typed as freezing has a problem for its hours and no question."""
    wash.plan("-5 °C")
    view = wash.view()
    assert {p.field for p in view.asked.problems} == {"temp_c"}
    assert "ice is not in the model" in str(view.asked.problems[0])
    assert view.asked.question is None


def test_the_evening_before_is_looked_for(wash: Wash) -> None:
    """The cloth's moisture comes from the last open day before, over closed days if need be."""
    saturday = wash.view(PLANNED).asked.question
    tuesday = wash.view(CLOSED + timedelta(days=1)).asked.question
    assert saturday is not None
    assert saturday.evening is not None
    assert (saturday.evening.days_apart, saturday.evening.day) == (1, date(2026, 7, 17))
    assert tuesday is not None
    assert tuesday.evening is not None
    assert (tuesday.evening.days_apart, tuesday.evening.day) == (2, date(2026, 7, 19))


def test_an_event_is_noted(wash: Wash) -> None:
    """A marked event changes no number by itself, and the page is told to ask for one."""
    view = wash.view(FAIR)
    assert view.asked.expected is not None
    assert [p.field for p in view.asked.expected.notes] == ["expect"]
    assert view.asked.question is not None


# ---- the runner ----------------------------------------------------------------------------------


def test_an_answer_is_computed_once_and_stored(wash: Wash, runner: Runner) -> None:
    """Started, it is under way; done, it is stored under its key and nothing is left to start."""
    view = few_days(wash.view(runner=runner))
    future = view.begin(runner)
    assert future is not None
    future.result(60)
    done = wash.view(runner=runner)
    assert done.result is not None
    assert (done.result.date, done.result.comparison.replications) == (PLANNED, 2)
    assert (done.running, done.failed) == (None, "")
    assert done.begin(runner) is None


def test_a_question_under_way_is_not_begun_again(
    wash: Wash, runner: Runner, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While it is computed the page sees how far it is, and asking again begins nothing."""
    halfway, go_on = threading.Event(), threading.Event()
    asked: list[Question] = []

    def slow(
        question: Question,
        first: Executor | None,
        later: Executor | None,
        progress: Callable[[int, int], None],
    ) -> Iterator[Comparison]:
        asked.append(question)
        progress(1, 2)
        halfway.set()
        assert go_on.wait(60)
        yield replace(peak_day(), replications=2)

    monkeypatch.setattr(planning, "compare_in_stages", slow)
    view = few_days(wash.view(runner=runner))
    first = view.begin(runner)
    assert first is not None
    assert halfway.wait(60)
    half_of_first = int(starts_of(PLAN.stages)[1] / 2.0 * PARTS)
    assert wash.view(runner=runner).running == Progress(half_of_first, PARTS)
    assert view.begin(runner) is None
    go_on.set()
    first.result(60)
    # The page that was drawn before the answer came asks once more; nothing is computed for it.
    assert view.begin(runner) is None
    assert len(asked) == 1
    found = wash.view(runner=runner).result
    assert found is not None
    assert (found.date, found.comparison) == (PLANNED, replace(peak_day(), replications=2))


def test_a_failure_ends_in_a_sentence(
    wash: Wash, runner: Runner, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever breaks while computing is told on the page, and can be tried again."""

    def broken(*asked: object) -> Comparison:
        raise MemoryError("no room left")

    with monkeypatch.context() as patch:
        patch.setattr(planning, "compare_in_stages", broken)
        failed = few_days(wash.view(runner=runner)).begin(runner)
        assert failed is not None
        failed.result(60)
    view = wash.view(runner=runner)
    assert view.failed == "The plan could not be worked out: no room left"
    assert (view.running, view.result) == (None, None)
    again = few_days(view).begin(runner)
    assert again is not None
    again.result(60)
    view = wash.view(runner=runner)
    assert (view.failed, view.result is None) == ("", False)


def test_nothing_is_begun_without_a_question(wash: Wash, runner: Runner) -> None:
    """A closed day has nothing to compute."""
    assert wash.view(CLOSED).begin(runner) is None


def test_a_changed_site_is_another_question(wash: Wash, runner: Runner) -> None:
    """An answer belongs to the inputs that it was computed with."""
    future = few_days(wash.view(runner=runner)).begin(runner)
    assert future is not None
    future.result(60)
    with wash.database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        gate.set_inputs(wash.site_id, {"film_cv": 0.3}, expected_version=1, request_key="film")
    changed = wash.view(runner=runner)
    assert changed.result is None
    assert changed.asked.question is not None
    assert changed.asked.question.site.water.film_cv == 0.3


# ---- how many cars -------------------------------------------------------------------------------


def test_a_plan_of_no_car_at_all() -> None:
    """Exactly zero cars: a whole comparison with nothing washed, lost, damp or taken."""
    question, expected = planning.make_question(
        small_wash(0), PLANNED, "", planning.DEFAULT_SCENARIOS, 2
    )
    assert expected.expected_cars == 0
    assert any("No cars are expected on 2026-07-18" in str(note) for note in expected.notes)
    for column in compare(question).columns:
        for name in ("cars_arrived", "cars_washed", "cars_lost", "left_damp", "water_taken_kg"):
            assert column.value(name) == 0
        assert column.value("left_damp_share") is None


def test_a_plan_of_twenty_thousand_cars() -> None:
    """20,000 cars a day: most are lost, the belt runs at its capacity, every car is accounted."""
    data = small_wash(2_500)
    data = replace(data, site=data.site.with_values({"open_h": 8.0, "close_h": 16.0}))
    counts = tuple(
        replace(row, hour=hour) for row in data.history.counts[::2] for hour in range(8, 16)
    )
    data = replace(data, history=replace(data.history, counts=counts))
    question, expected = planning.make_question(data, PLANNED, "", (Scenario("Full"),), 1)
    assert expected.expected_cars == pytest.approx(20_000)
    found = compare(replace(question, evening=None))
    values = {name: value_of(figure) for name, figure in found.columns[0].figures.items()}
    assert 15_000 < values["cars_arrived"] < 30_000
    assert values["cars_arrived"] == values["cars_washed"] + values["cars_lost"]
    assert values["cars_lost"] > 0.9 * values["cars_arrived"]
    assert values["cars_per_hour"] == pytest.approx(found.limits.belt_capacity_per_h, rel=0.1)
