"""Studies that a server left behind: gone on with, or broken off; and a plan refined in place."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from app.answers import kinds, planning, settings_map
from app.answers.answer import Desk
from app.answers.planning import PLAN, PlanView
from app.answers.settings_map import MAPS
from app.answers.studies.book import StudyBook
from app.answers.studies.runner import Runner, ended_words
from app.answers.studies.stages import PARTS
from app.db import store, studies
from app.db.session import Database, open_database
from app.db.studies import LEASE, StoredStudy
from app.sites import reading
from app.sites.changes import Gate
from sim.decide.answer import Comparison
from tests.pages.fixture_comparison import peak_day
from tests.small_wash import PLANNED, small_wash
from tests.world import NOW

LATER = NOW + LEASE + timedelta(seconds=1)


class Place:
    """A database file with the small wash."""

    def __init__(self, path: Path) -> None:
        self.database: Database = open_database(path)
        with self.database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW)
            self.site_id = gate.create_site(small_wash(), "site").site_id

    def plan(self, runner: Runner | None = None) -> PlanView:
        """The plan of the day as its page finds it."""
        with self.database.session() as session:
            return Desk(session, reading.find(session, "small-wash"), runner).open(PLAN, PLANNED)

    def maps_key(self) -> str:
        """The key of the day's maps."""
        with self.database.session() as session:
            return Desk(session, reading.find(session, "small-wash")).open(MAPS, PLANNED).key

    def left(self, kind: str, key: str) -> None:
        """A study that a server has begun which is there no more."""
        book = StudyBook(self.database, "a server that died", lambda: NOW)
        book.ask(key, kind, self.site_id, PLANNED, total=4, at=NOW)
        assert book.claim(key)

    def study(self, key: str) -> StoredStudy:
        """What is written down of a study."""
        with self.database.session() as session:
            return studies.get_study(session, key)

    def change_something(self) -> None:
        """Another input, and so another question."""
        with self.database.session() as session:
            gate = Gate(session, store.built_in_person(session), NOW)
            gate.set_inputs(self.site_id, {"film_cv": 0.3}, expected_version=1, request_key="f")


def of_runs(runs: int) -> Comparison:
    """An invented answer of so many runs."""
    return replace(peak_day(), replications=runs)


def runs_of(view: PlanView) -> int | None:
    """Of how many runs the answer is that a page finds; None where it finds none."""
    return None if view.result is None else view.result.comparison.replications


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    """The wash in a file of its own."""
    made = Place(tmp_path / "data.sqlite3")
    yield made
    made.database.close()


@pytest.fixture
def answered(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Plans and maps are answered at once; what was asked is noted."""
    asked: list[str] = []

    def plan(*_given: object) -> Iterator[Comparison]:
        asked.append("plan")
        yield of_runs(planning.REPLICATIONS)

    def maps(*_given: object) -> dict[str, Any]:
        asked.append("maps")
        return {"maps": True}

    monkeypatch.setattr(planning, "compare_in_stages", plan)
    monkeypatch.setattr(settings_map, "settings_map", maps)
    return asked


def at(place: Place, moment: datetime) -> Runner:
    """A server at a moment."""
    return Runner(place.database, 1, lambda: moment)


def done_by(runner: Runner) -> None:
    """Waits until everything that was begun is done."""
    for thread in list(runner._line._threads.values()):
        thread.shutdown(wait=True)


@pytest.mark.parametrize("kind", ["plan", "maps"])
def test_what_a_dead_server_left_is_computed(place: Place, answered: list[str], kind: str) -> None:
    """Once the lease has run out, a study of the very same question is begun anew and done."""
    key = place.plan().key if kind == "plan" else place.maps_key()
    place.left(kind, key)
    runner = at(place, LATER)
    kinds.take_up(place.database, runner)
    done_by(runner)
    assert (answered, place.study(key).state) == ([kind], "done")
    assert place.study(key).person == "site manager"
    runner.close()


def test_a_study_in_good_hands_is_left_alone(place: Place, answered: list[str]) -> None:
    """While its lease holds, a starting server leaves a study to the one that has it."""
    key = place.plan().key
    place.left("plan", key)
    runner = at(place, NOW + LEASE - timedelta(seconds=1))
    kinds.take_up(place.database, runner)
    done_by(runner)
    assert (answered, place.study(key).holder) == ([], "a server that died")
    runner.close()


def test_another_question_is_broken_off(place: Place, answered: list[str]) -> None:
    """Where an input has changed since, the study is marked so, in plain words, and not run."""
    key = place.plan().key
    place.left("plan", key)
    place.change_something()
    runner = at(place, LATER)
    (line,) = kinds.list_studies(place.database, runner, place.site_id)
    done_by(runner)
    assert (answered, place.study(key).state, line.study.is_open) == ([], "broken off", False)
    assert ended_words(line.study) == (
        "The computation was broken off: what it was asked about has changed since."
    )
    runner.close()


def test_what_is_asked_no_more_is_dropped(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """As soon as a present question is begun, those of an earlier version of the site end, one
    that runs too; a question that still stands goes on."""
    halfway, go_on = threading.Event(), threading.Event()

    def plan(*given: Any) -> Iterator[Comparison]:
        halfway.set()
        assert go_on.wait(60)
        given[-1](1, 4)
        yield of_runs(planning.REPLICATIONS)

    monkeypatch.setattr(planning, "compare_in_stages", plan)
    runner = at(place, NOW)
    runner.on_asked = partial(kinds.drop_stale, place.database, runner)
    old = place.plan(runner)
    running = old.begin(runner)
    assert running is not None
    assert halfway.wait(60)
    place.change_something()
    new = place.plan(runner)
    assert new.key != old.key
    waiting = new.begin(runner)
    assert waiting is not None
    runner.aside(lambda: None).result(60)  # what was to be looked over has been
    assert (place.study(old.key).state, place.study(new.key).state) == ("broken off", "waiting")
    go_on.set()
    for future in (running, waiting):
        future.result(60)
    assert (place.study(old.key).state, place.study(new.key).state) == ("broken off", "done")
    runner.close()


def test_a_kind_of_another_version_is_broken_off(place: Place) -> None:
    """A study of a kind that this program lacks is told of and does not keep it from starting."""
    place.left("riddle", "k")
    runner = at(place, LATER)
    (line,) = kinds.list_studies(place.database, runner, place.site_id)
    assert (line.study.state, line.label) == ("broken off", "A computation of another version")
    runner.close()


def test_opening_the_page_takes_its_study_up(place: Place, answered: list[str]) -> None:
    """To the page a study whose lease has run out is one that nobody computes: it begins it."""
    key = place.plan().key
    place.left("plan", key)
    held = at(place, NOW)
    assert place.plan(held).running is not None
    runner = at(place, LATER)
    view = place.plan(runner)
    assert (view.key, view.running, view.failed) == (key, None, "")
    future = view.begin(runner)
    assert future is not None
    future.result(60)
    assert (answered, place.plan(runner).is_final) == (["plan"], True)
    for each in (held, runner):
        each.close()


# ---- a plan refined in place ---------------------------------------------------------------------


def test_a_first_answer_stands_while_it_is_refined(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page finds the first answer with the progress of the next, then the last under the
    same key; a plan that was refined wants nothing more."""
    early, go_on = threading.Event(), threading.Event()

    def staged(
        question: object, first: Executor | None, later: Executor | None,
        progress: Callable[[int, int], None],
    ) -> Iterator[Comparison]:  # fmt: skip
        yield of_runs(256)
        progress(300, 1_024)
        early.set()
        assert go_on.wait(60)
        yield of_runs(1_024)

    monkeypatch.setattr(planning, "compare_in_stages", staged)
    runner = at(place, NOW)
    blank = place.plan(runner)
    assert blank.is_wanting
    future = blank.begin(runner)
    assert future is not None
    assert early.wait(60)
    view = place.plan(runner)
    assert (runs_of(view), view.is_final, view.is_wanting) == (256, False, True)
    assert view.running is not None
    assert (view.running.done, view.running.total) == (567, PARTS)
    assert view.begin(runner) is None
    go_on.set()
    future.result(60)
    view = place.plan(runner)
    assert (view.key, runs_of(view), view.is_final) == (blank.key, 1_024, True)
    assert not view.is_wanting
    runner.close()


def test_stopped_while_refined_the_first_answer_stays(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cancelling takes the finer answer away, not the one that is there."""
    early, go_on = threading.Event(), threading.Event()

    def staged(*given: Any) -> Iterator[Comparison]:
        yield of_runs(256)
        early.set()
        assert go_on.wait(60)
        given[-1](300, 1_024)
        yield of_runs(1_024)

    monkeypatch.setattr(planning, "compare_in_stages", staged)
    runner = at(place, NOW)
    future = place.plan(runner).begin(runner)
    assert future is not None
    assert early.wait(60)
    runner.cancel(place.plan().key)
    go_on.set()
    future.result(60)
    view = place.plan(runner)
    assert (runs_of(view), view.is_final) == (256, False)
    assert view.failed == "The computation was stopped before it was done."
    runner.close()


def test_a_plan_really_is_refined(place: Place) -> None:
    """From question to stored answer nothing replaced: 1,024 days over drawn sites in the end."""
    runner = at(place, NOW)
    future = place.plan(runner).begin(runner)
    assert future is not None
    future.result(300)
    view = place.plan(runner)
    assert view.result is not None
    found = view.result.comparison
    assert (found.replications, found.sites, view.is_final) == (1_024, 128, True)
    runner.close()
