"""Answers worked out before anybody asks: what, in which order, in a budget, and who is first."""

from __future__ import annotations

import os
import threading
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Executor, Future
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from app.answers import ahead as work_ahead
from app.answers.ahead import Ahead, wanted
from app.answers.answer import Desk, Kind
from app.answers.kinds import KINDS, take_up
from app.answers.studies.line import PRESENT
from app.answers.studies.runner import Report, Run, Runner
from app.answers.studies.stages import Stage
from app.answers.studies.workers import Hands, Pool, is_warm
from app.db import studies
from app.db.session import open_database
from app.sites.demo import demo_data
from app.sites.reading import find, gate
from tests.answers import study_pieces
from tests.answers.played_servers import Gated, Servers, begun, job
from tests.world import NOW, progress

TODAY = date(2026, 7, 15)
MILL = "Mill Lane"
WHEN_ASKED = {"together", "file", "stops", "happened", "patience"}
"""Kinds that are worked out only for whoever asks: files, days that are over, more of a day, what
waits tell."""
OF_SITE = {"cloth", "season", "coming"}
"""Kinds whose invented question is the site's version; any other's is its day alone."""


class Played:
    """Kinds of answers that take a moment, in place of the real ones; what was done is noted."""

    def __init__(self) -> None:
        self.done: list[tuple[str, date]] = []
        self.work: dict[tuple[str, date], Any] = {}

    def kind(self, name: str) -> Kind[Any, Any]:
        """A kind that takes the place of the real one."""

        def ask(desk: Desk, day: date) -> tuple[str, date, int]:
            others = 100 * (desk.site.id - 1)  # each further site asks questions of its own
            return name, day, others + (desk.site.version if name in OF_SITE else 0)

        def work(asked: tuple[str, date, int], executor: Executor | None, report: Report) -> Any:
            report(1, 4)
            other = self.work.get(asked[:2])
            found = {"answer": name} if other is None else other(executor, report)
            self.done.append(asked[:2])
            return found

        return Kind(
            name=name, label=name, stages=(), page=name, found=dict[str, Any], ask=ask,
            key=lambda asked: " ".join(map(str, asked)), days=lambda _asked: 1, work=work,
            failed="{fault}",
        )  # fmt: skip


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> Played:
    """Played kinds in place of all real ones."""
    made = Played()
    kinds = {name: made.kind(name) for name in KINDS}
    monkeypatch.setattr(work_ahead, "KINDS", kinds)
    return made


def ahead_of(servers: Servers, runner: Runner, budget_s: float = 1e6) -> Ahead:
    """The work ahead of one server."""
    return Ahead(servers.database, runner, lambda _zone, _stands: TODAY, budget_s)


def to_the_end(ahead: Ahead) -> int:
    """Goes on until nothing is left; returns how many answers that took."""
    count = 0
    while (future := ahead.go_on()) is not None:
        future.result(60)
        count += 1
    return count


def settle(servers: Servers, key: str) -> None:
    """Stores an answer as whole."""
    with gate(servers.database, servers.clock()) as opened:
        opened.store_result(key, 1, TODAY, '{"answer":"there"}')


def up_to_weighings(ahead: Ahead) -> list[tuple[str, str]]:
    """Goes on until measurements come next; returns site and kind of what came before."""
    done = []
    while (found := ahead.next()) is not None and found[1].kind != "weighings":
        future = ahead.go_on()
        assert future is not None
        future.result(60)
        done.append((found[0].name, found[1].kind))
    return done


def mill_wants(servers: Servers) -> list[tuple[str, date]]:
    """What is worth having of the site, in order, each once."""
    with servers.database.session() as session:
        desk = Desk(session, find(session, MILL))
        return list(dict.fromkeys((one.kind, one.day) for one in wanted(desk, TODAY)))


def test_what_is_worth_having_comes_in_the_order_of_who_needs_it(tmp_path: Path) -> None:
    """Today, cloth, the coming days and today's maps, so that each page has something to show;
    measurements, on which all rests, and these pages by them; tomorrow, the busiest day with its
    maps, people and rosters of two weeks, what measurements tell, the season; only kinds that there
    are, with turns that never go back. Each site's plan of today comes before any one's rule."""
    database = open_database(tmp_path / "data.sqlite3")
    with gate(database, NOW) as opened:
        opened.create_site(demo_data(), "demo")
        site = find(opened.session, demo_data().site.name)
        found = list(wanted(Desk(opened.session, site), TODAY))
    database.close()
    turns = [one.turn for one in found]
    assert turns == sorted(turns)
    turn_of = {(one.kind, one.day): one.turn for one in found}
    assert turn_of["plan", TODAY] < turn_of["switch", TODAY]
    assert {one.kind for one in found} == KINDS.keys() - WHEN_ASKED
    tomorrow, peak = TODAY + timedelta(days=1), date(2026, 7, 18)
    pages = [
        ("plan", TODAY), ("switch", TODAY), ("staff", TODAY),
        ("cloth", TODAY), ("coming", tomorrow), ("maps", TODAY),
    ]  # fmt: skip
    assert [(one.kind, one.day) for one in found if one.turn == work_ahead.SOMETHING] == pages
    assert [one.kind for one in found[len(pages) :][:2]] == ["weighings", "arrivals"]
    assert [(one.kind, one.day) for one in found[len(pages) + 2 :][:13]] == [
        *pages,
        ("plan", tomorrow), ("switch", tomorrow), ("staff", tomorrow),
        ("plan", peak), ("switch", peak), ("staff", peak), ("maps", peak),
    ]  # fmt: skip
    assert [one.day for one in found if one.kind == "roster"] == [
        date(2026, 7, 13), date(2026, 7, 20),
    ]  # fmt: skip
    staffed = {one.day for one in found if one.kind == "staff"}
    assert staffed >= {TODAY + timedelta(days=n) for n in range(12)}
    assert found[-1].kind == "season"
    assert all(one.reason for one in found)


def test_everything_is_worked_out_once_also_over_a_restart(
    servers: Servers, played: Played
) -> None:
    """In the order wanted, each answer once, whichever of two servers was at work."""
    first, whole = ahead_of(servers, servers.runner()), mill_wants(servers)
    for _ in range(5):
        begun_one = first.go_on()
        assert begun_one is not None
        begun_one.result(60)
    servers.runners[0].close()
    second = ahead_of(servers, servers.runner())
    assert to_the_end(second) == len(whole) - 5
    assert played.done == whole
    assert second.next() is None
    assert to_the_end(ahead_of(servers, servers.runner())) == 0


def test_two_are_under_way_until_something_can_be_read_of_them(
    servers: Servers, played: Played
) -> None:
    """A second answer is begun beside the first, a third once one of them has shown something."""
    runner = servers.runner()
    ahead, shown, rest = ahead_of(servers, runner), threading.Event(), threading.Event()

    def first_form(_executor: Executor | None, report: Report) -> dict[str, str]:
        assert shown.wait(60)
        report.early({"answer": "first"})
        assert rest.wait(60)
        return {"answer": "whole"}

    slow = played.work["switch", TODAY] = Gated()
    third = played.work["staff", TODAY] = Gated()
    played.work["plan", TODAY] = first_form
    plan, switch = ahead.go_on(), ahead.go_on()
    assert plan is not None
    assert switch is not None
    assert slow.halfway.wait(60)
    assert ahead.go_on() is None
    seen = threading.Event()
    runner.on_shown = seen.set
    shown.set()
    assert seen.wait(60)
    staff = ahead.go_on()
    assert staff is not None
    assert ahead.go_on() is None
    for go_on in (slow.go_on, third.go_on, rest):
        go_on.set()
    for future in (plan, switch, staff):
        future.result(60)
    assert to_the_end(ahead) == len(mill_wants(servers)) - 3
    assert Counter(played.done) == Counter(mill_wants(servers))


def test_measurements_are_worked_in_alone_once_every_page_has_something(
    servers: Servers, played: Played
) -> None:
    """Every site's pages of today come before anybody's measurements, unless an answer of before
    can be read there; beside measurements, on which all rests, nothing is begun."""
    with gate(servers.database, servers.clock()) as opened:
        opened.create_site(demo_data(), "demo")
        measured = find(opened.session, demo_data().site.name)
    ahead = ahead_of(servers, servers.runner())
    last = max(one.day for one in measured.data.weighings)
    measuring = played.work["weighings", last] = Gated()
    kinds = ["plan", "switch", "staff", "cloth", "coming", "maps"]
    names = [measured.data.site.name, MILL]
    assert up_to_weighings(ahead) == [(name, kind) for name in names for kind in kinds]
    future = ahead.go_on()
    assert future is not None
    assert measuring.halfway.wait(60)
    assert ahead.go_on() is None
    measuring.go_on.set()
    future.result(60)
    assert to_the_end(ahead) > 0


def test_what_can_be_read_already_waits_for_measurements(
    servers: Servers, played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where each page has an answer of before, that is enough to read, and what was measured since
    is worked in first."""
    kinds = {name: replace(played.kind(name), schema="played") for name in KINDS}
    monkeypatch.setattr(work_ahead, "KINDS", kinds)
    with gate(servers.database, servers.clock()) as opened:
        opened.create_site(demo_data(), "demo")
        measured = find(opened.session, demo_data().site.name)
        opened.store_result("before", measured.id, TODAY, '{"schema":"played"}')
    ahead = ahead_of(servers, servers.runner())
    first = up_to_weighings(ahead)
    assert {name for name, _kind in first} == {MILL}


def test_a_change_has_only_that_done_anew_whose_question_it_changes(
    servers: Servers, played: Played
) -> None:
    """After an entry, the answers that rest on it are worked out again, and no other."""
    runner = servers.runner()
    ahead = ahead_of(servers, runner)
    to_the_end(ahead)
    before = Counter(played.done)
    with gate(servers.database, servers.clock()) as opened:
        opened.set_inputs(1, {"film_cv": 0.3}, expected_version=1, request_key="f")
    assert to_the_end(ahead) == len(OF_SITE)
    again = Counter(played.done) - before
    assert {kind for kind, _day in again} == OF_SITE


def test_a_write_through_the_gate_has_it_look_again(servers: Servers, played: Played) -> None:
    """Once started, what a change asks for is begun without anybody's page."""
    runner = servers.runner()
    ahead = ahead_of(servers, runner)
    to_the_end(ahead)
    reached = threading.Event()

    def note(_executor: Executor | None, _report: Report) -> dict[str, str]:
        reached.set()
        return {}

    played.work["season", TODAY] = note
    ahead.start()
    with gate(servers.database, servers.clock()) as opened:
        opened.set_inputs(1, {"film_cv": 0.3}, expected_version=1, request_key="f")
    assert reached.wait(60)
    ahead.close()


def test_it_stands_back_while_somebody_waits(servers: Servers, played: Played) -> None:
    """A person's question begun in the middle ends first; the work ahead then goes on where it
    was, has not failed, and was done once."""
    runner, person = servers.runner(), Gated()
    ahead = ahead_of(servers, runner)
    at_work, asked = threading.Event(), threading.Event()
    told: list[str] = []

    def slow(_executor: Executor | None, report: Report) -> dict[str, str]:
        at_work.set()
        assert asked.wait(60)
        report(2, 4)
        told.append("ahead" if person.steps == [1, 2, 3, 4] else "in the way")
        return {}

    played.work["plan", TODAY] = slow
    future = ahead.go_on()
    assert future is not None
    assert at_work.wait(60)
    waits = begun(runner, job(person))
    assert person.halfway.wait(60)
    asked.set()
    assert not future.done()
    person.go_on.set()
    waits.result(60)
    future.result(60)
    assert told == ["ahead"]
    assert servers.study(f"plan {TODAY} 0").state == "done"
    assert played.done == [("plan", TODAY)]


def test_whoever_asks_for_what_is_under_way_has_it(servers: Servers, played: Played) -> None:
    """The same question asked by a person is theirs: it stands back no more and is computed
    once."""
    runner, other = servers.runner(), Gated()
    ahead = ahead_of(servers, runner)
    slow = played.work["plan", TODAY] = Gated()
    future = ahead.go_on()
    assert future is not None
    assert slow.halfway.wait(60)
    key = f"plan {TODAY} 0"
    assert servers.study(key).reason == work_ahead.TODAY
    waits = begun(runner, job(other))
    assert runner.begin(replace(job(other, key), kind="plan")) is None
    assert servers.study(key).reason == ""
    slow.go_on.set()
    future.result(60)  # though the other question still waits
    assert servers.study(key).state == "done"
    other.go_on.set()
    waits.result(60)


def test_a_page_that_waits_has_it_go_on(servers: Servers, played: Played) -> None:
    """While somebody looks at a page that waits for it, it counts as asked for; later no more."""
    runner = servers.runner()
    ahead = ahead_of(servers, runner)
    slow = played.work["plan", TODAY] = Gated()
    future = ahead.go_on()
    assert future is not None
    assert slow.halfway.wait(60)
    run = runner._line.find(f"plan {TODAY} 0")
    assert run is not None
    assert run.rank() == (True, 0)
    assert progress(runner, run.key) is not None
    assert run.rank() == (False, 1)
    servers.clock.on(2 * PRESENT)
    assert run.rank() == (True, 0)
    slow.go_on.set()
    future.result(60)


def test_a_first_answer_comes_before_work_that_is_shorter_as_a_whole(servers: Servers) -> None:
    """Pieces of a study go by what its first answer takes until that is there, then by all of it:
    who opens several pages sees something of each before the whole of any long one."""
    runner = servers.runner()
    ranks = []

    def work(_executor: Executor | None, report: Report) -> dict[str, str]:
        run = runner._line.find("k")
        assert run is not None
        report.stage("first")
        ranks.append(run.rank())
        report.early({"answer": "first"})
        ranks.append(run.rank())
        return {"answer": "whole"}

    stages = Stage("first", "", 1.0), Stage("rest", "", 3.0)
    begun(runner, replace(job(work, days=400), stages=stages)).result(60)
    assert ranks == [(False, 100), (False, 400)]
    assert servers.result() == ({"answer": "whole"}, True)


def test_work_ahead_comes_in_the_order_of_its_worth(servers: Servers) -> None:
    """Of what nobody waits for the pieces of what was begun before come first, however long it is;
    once something can be read of it, what has nothing to show yet overtakes it."""
    runner = servers.runner()
    long, short = (
        Run(runner, job(Gated(), key, days), "The season, which takes longest.")
        for key, days in (("long", 900), ("short", 10))
    )
    assert runner._line.add(long)
    assert runner._line.add(short)
    assert long.rank() < short.rank()
    long.is_shown = True
    assert short.rank() < long.rank()


def test_a_budget_is_kept_over_a_restart_and_begins_anew_each_day(
    servers: Servers, played: Played
) -> None:
    """Seconds spent are counted in the database; used up, nothing is begun until the next day;
    with a budget of none nothing ever is."""
    runner = servers.runner()
    assert ahead_of(servers, runner, budget_s=0.0).go_on() is None
    ahead = ahead_of(servers, runner, budget_s=100.0)
    runner.book.spend(60.0)
    future = ahead.go_on()
    assert future is not None
    future.result(60)
    assert 60.0 < ahead.spent_s() < 100.0
    runner.book.spend(40.0)
    assert ahead.go_on() is None
    later = ahead_of(servers, servers.runner(), budget_s=100.0)
    assert later.spent_s() > 100.0
    assert later.go_on() is None
    servers.clock.on(timedelta(days=1))
    assert later.spent_s() == 0.0
    assert later.go_on() is not None


def test_what_somebody_stopped_is_not_begun_again(servers: Servers, played: Played) -> None:
    """A study ahead that a person stops stays stopped, and the next one is begun."""
    runner = servers.runner()
    ahead = ahead_of(servers, runner)
    slow = played.work["plan", TODAY] = Gated()
    future = ahead.go_on()
    assert future is not None
    assert slow.halfway.wait(60)
    runner.cancel(f"plan {TODAY} 0")
    slow.go_on.set()
    future.result(60)
    following = ahead.next()
    assert following is not None
    assert (following[1].kind, following[1].day) == ("switch", TODAY)
    assert servers.study(f"plan {TODAY} 0").state == "cancelled"


def test_what_a_dead_server_left_ahead_is_begun_anew_behind_people(
    servers: Servers, played: Played
) -> None:
    """Its row is forgotten when the next server starts, so it is nobody's question; then it is
    the first to be worked out again. Until then nothing can be read there, row or no row."""
    dead = servers.runner()
    key = f"plan {TODAY} 0"
    dead.book.ask(
        key, "plan", 1, TODAY, total=4, at=servers.clock(), reason=work_ahead.TODAY
    )  # fmt: skip
    assert dead.book.claim(key)
    servers.clock.on(timedelta(minutes=1))
    runner = servers.runner()
    ahead = ahead_of(servers, runner)
    for kind in ("switch", "staff", "cloth", "maps"):
        settle(servers, f"{kind} {TODAY} {int(kind in OF_SITE)}")
    settle(servers, f"coming {TODAY + timedelta(days=1)} 1")
    assert ahead.readable() == ()
    take_up(servers.database, runner)
    with servers.database.session() as session:
        assert studies.find_study(session, key) is None
        assert studies.count_open(session, 1) == 0
    assert ahead.readable() == ()
    to_the_end(ahead)
    assert played.done[0] == ("plan", TODAY)
    assert ahead.readable() == (1,)


@pytest.fixture
def pool() -> Iterator[Pool]:
    """One process."""
    made = Pool(1)
    yield made
    made.kill()


def test_pieces_that_somebody_waits_for_come_first_and_short_work_before_long(
    pool: Pool, tmp_path: Path
) -> None:
    """While a process is busy, what is handed out waits by rank: for a person before ahead, of few
    simulated days before many; among equals what came first. Its processor time is counted."""
    word = tmp_path / "word"
    os.mkfifo(word)
    ranks = {"ahead": (True, 1), "long": (False, 900), "short": (False, 10)}
    hands = {name: Hands(pool, partial(ranks.__getitem__, name)) for name in ranks}
    first = pool.submit(study_pieces.wait_for_word, (str(word), 0))
    order: list[str] = []
    futures = []

    def note(name: str, done: Future[int]) -> None:
        order.append(f"{name} {done.result()}")

    for number, name in enumerate(["ahead", "long", "short", "long", "short"], 1):
        one = hands[name].submit(study_pieces.leave_trace, (str(tmp_path), number))
        one.add_done_callback(partial(note, name))
        futures.append(one)
    word.write_text("go", encoding="ascii")
    assert first.result(60) == 0
    for one in futures:
        one.result(60)
    assert order == ["short 3", "short 5", "long 2", "long 4", "ahead 1"]
    assert all(one.spent_s > 0.0 for one in hands.values())
    assert is_warm(hands["ahead"])  # nobody waits for its beginning
    assert not is_warm(hands["long"])
