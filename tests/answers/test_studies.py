"""Studies: shared by servers on one database, cancelled, taken up again, never half stored."""

from __future__ import annotations

import subprocess
import sys
import threading
from concurrent.futures import Executor
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.answers.serial import write
from app.answers.studies.book import MOST_OPEN, StudyBook, is_gone, new_holder
from app.answers.studies.line import PRESENT
from app.answers.studies.runner import Job, Progress, Report, time_left_s
from app.db import store, studies
from app.db.studies import LEASE
from app.sites.changes import Gate, LostStudy
from sim.day.engine import PENDING, parallel_map
from tests.answers import study_pieces
from tests.answers.played_servers import DAY, MANY_DAYS, Gated, Servers, begun, job
from tests.world import ROOT, failure, progress

# ---- one question, one computation ---------------------------------------------------------------


def test_two_servers_compute_a_question_once(servers: Servers) -> None:
    """The second server asked the same begins nothing and shows what the first one writes."""
    first, second = servers.runner(), servers.runner()
    work, other = Gated(), Gated(0)
    future = begun(first, job(work))
    assert work.halfway.wait(60)
    begun(second, job(other)).result(60)
    assert other.times == 0
    assert progress(second, "k") == Progress(0, 4)  # nothing was written since it was begun
    assert servers.study().holder == first.book.holder
    work.go_on.set()
    future.result(60)
    assert servers.result() == ({"answer": 42}, True)
    assert second.begin(job(other)) is None
    assert (progress(second, "k"), failure(second, "k"), other.times) == (None, "", 0)
    assert servers.study().state == "done"


def test_progress_is_written_for_others_about_once_a_second(servers: Servers) -> None:
    """Between two beats nothing is written; the next step after a second writes and keeps."""
    first, second = servers.runner(), servers.runner()
    told, go_on = threading.Semaphore(0), threading.Semaphore(0)

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        for step in (1, 2, 3):
            report(step, 4)
            told.release()
            assert go_on.acquire(timeout=60)
        return {}

    future = begun(first, job(work))
    assert told.acquire(timeout=60)
    assert (progress(first, "k"), progress(second, "k")) == (Progress(1, 4), Progress(0, 4))
    servers.clock.on(timedelta(seconds=5))
    go_on.release()
    assert told.acquire(timeout=60)
    assert progress(second, "k") == Progress(2, 4)
    assert servers.study().lease_until == servers.clock() + LEASE
    go_on.release()
    assert told.acquire(timeout=60)
    assert progress(second, "k") == Progress(2, 4)
    left = progress(second, "k")
    assert left is not None
    assert left.left_s == pytest.approx(5.0)  # two steps took five seconds, two are left
    go_on.release()
    future.result(60)


def test_a_lease_that_has_run_out_can_be_had_once(servers: Servers) -> None:
    """A study is its holder's until the lease ends; then one other, and only one, takes it."""
    dead, second, third = (servers.runner().book for _ in range(3))
    assert dead.ask("k", "maps", 1, DAY, total=4, at=servers.clock())
    assert dead.claim("k")
    assert not second.claim("k")
    servers.clock.on(LEASE - timedelta(seconds=1))
    assert not second.claim("k")
    servers.clock.on(timedelta(seconds=1))
    assert [second.claim("k"), third.claim("k")] == [True, False]
    assert not dead.beat("k", 1)
    dead.fail("k", "too late")
    assert (servers.study().state, servers.study().holder) == ("running", second.holder)


def test_a_clock_set_back_freezes_nothing(servers: Servers) -> None:
    """A lease that ends later than one made now is of another time: the study can be had. Whoever
    is at work on it renews its lease at its next step and keeps it."""
    dead, alive, second = (servers.runner() for _ in range(3))
    assert dead.book.ask("k", "maps", 1, DAY, total=4, at=servers.clock())
    assert dead.book.claim("k")
    work = Gated()
    future = begun(alive, job(work, "held"))
    assert work.halfway.wait(60)
    servers.clock.on(-timedelta(hours=6))
    work.go_on.set()
    future.result(60)
    assert (work.steps, servers.result("held")[1]) == ([1, 2, 3, 4], True)
    assert progress(second, "k") is None
    assert [one.key for one in second.book.left_behind()] == ["k"]
    assert second.book.claim("k")


def test_a_clock_set_back_takes_no_study_from_whoever_is_at_work(servers: Servers) -> None:
    """The next step after the clock was set back renews the lease, so that others keep away."""
    own, other = servers.runner(), servers.runner()
    told, go_on = threading.Semaphore(0), threading.Semaphore(0)

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        for step in (1, 2):
            report(step, 4)
            told.release()
            assert go_on.acquire(timeout=60)
        return {}

    future = begun(own, job(work))
    assert told.acquire(timeout=60)
    servers.clock.on(-timedelta(hours=6))
    go_on.release()
    assert told.acquire(timeout=60)
    assert not other.book.claim("k")
    assert progress(other, "k") == Progress(2, 4)
    go_on.release()
    future.result(60)
    assert servers.result()[1]


def test_what_a_dead_process_holds_can_be_had_at_once(servers: Servers) -> None:
    """A process of this machine that is no more holds nothing, whatever the clock says."""
    told = subprocess.run(
        [sys.executable, "-c", "from app.answers.studies.book import *; print(new_holder())"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    dead = StudyBook(servers.database, told.stdout.strip(), servers.clock)
    own = servers.runner()
    assert dead.ask("k", "maps", 1, DAY, total=4, at=servers.clock())
    assert dead.claim("k")
    assert (progress(own, "k"), [one.key for one in own.book.left_behind()]) == (None, ["k"])
    assert own.book.claim("k")
    assert servers.study().holder == own.book.holder


def test_who_is_known_to_be_gone() -> None:
    """A process that is here is not; one whose number another has since is; of one on another
    machine, or by an id of another kind, nothing is known."""
    mine = new_holder()
    place, pid, started, random = mine.split(".")
    assert len(mine) <= 40
    assert mine != new_holder()
    assert not is_gone(mine)
    assert is_gone(f"{place}.{pid}.{int(started) + 1}.{random}")
    assert not is_gone(f"elsewhere.{pid}.{int(started) + 1}.{random}")
    for other in ("", "a server that died", "0123456789abcdef", "...", f"{place}.x.1.a"):
        assert not is_gone(other)


def test_many_claims_at_once_have_one_winner(servers: Servers) -> None:
    """Of many servers that claim a study at the same time exactly one has it."""
    books = [servers.runner().book for _ in range(8)]
    books[0].ask("k", "maps", 1, DAY, total=4, at=servers.clock())
    together = threading.Barrier(len(books))
    won: list[str] = []

    def claim(number: int) -> None:
        together.wait(60)
        if books[number].claim("k"):
            won.append(books[number].holder)

    threads = [threading.Thread(target=claim, args=(n,)) for n in range(len(books))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert won == [servers.study().holder]


def test_a_server_that_lost_its_study_stores_nothing(servers: Servers) -> None:
    """A stalled server whose study another took up ends at its next beat; one answer is kept."""
    stalled, second = servers.runner(), servers.runner()
    slow, quick = Gated(1), Gated(2)
    quick.go_on.set()
    future = begun(stalled, job(slow))
    assert slow.halfway.wait(60)
    servers.clock.on(LEASE)
    begun(second, job(quick)).result(60)
    slow.go_on.set()
    future.result(60)
    assert slow.steps == [1]
    assert servers.result() == ({"answer": 2}, True)
    with servers.database.session() as session:
        gate = Gate(session, store.built_in_person(session), servers.clock())
        with pytest.raises(LostStudy):
            gate.store_result("k", 1, DAY, write({"answer": 1}), holder=stalled.book.holder)


# ---- first answers -------------------------------------------------------------------------------


def test_a_first_answer_is_replaced_by_the_last(servers: Servers) -> None:
    """The first answer can be read while the study goes on; the last one takes its place."""
    runner = servers.runner()
    early, go_on = threading.Event(), threading.Event()

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        report.early({"days": 256})
        early.set()
        assert go_on.wait(60)
        return {"days": 1024}

    future = begun(runner, job(work))
    assert early.wait(60)
    assert (servers.result(), servers.study().state) == (({"days": 256}, False), "running")
    go_on.set()
    future.result(60)
    assert (servers.result(), servers.study().state) == (({"days": 1024}, True), "done")


def test_done_and_its_answer_are_written_together(
    servers: Servers, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the answer can't be written the study is not done either: it fails, and says so."""
    runner = servers.runner()

    def full(*_given: object, **_more: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("app.db.writes.add_result", full)
    begun(runner, job(lambda _executor, _report: {"answer": 1})).result(60)
    assert servers.result() == (None, False)
    assert (servers.study().state, servers.study().sentence) == ("failed", "It broke: disk full")


# ---- stopping ------------------------------------------------------------------------------------


def test_cancelling_ends_a_study_at_its_next_step(servers: Servers) -> None:
    """Cancelled, it computes no further step, stores nothing, says so, and can be begun anew."""
    runner = servers.runner()
    work = Gated()
    future = begun(runner, job(work))
    assert work.halfway.wait(60)
    runner.cancel("k")
    assert progress(runner, "k") is None
    assert failure(runner, "k") == "The computation was stopped before it was done."
    work.go_on.set()
    future.result(60)
    assert (work.steps, servers.result()) == ([1], (None, False))
    begun(runner, job(work)).result(60)
    assert (servers.result(), failure(runner, "k")) == (({"answer": 42}, True), "")


def test_a_study_that_waits_can_be_cancelled(servers: Servers) -> None:
    """Cancelled before its turn has come, it is never begun."""
    runner = servers.runner()
    work, behind = Gated(), Gated()
    begun(runner, job(work))
    waiting = begun(runner, job(behind, "later"))
    assert work.halfway.wait(60)
    assert servers.study("later").state == "waiting"
    runner.cancel("later")
    work.go_on.set()
    waiting.result(60)
    assert (behind.times, servers.study("later").state) == (0, "cancelled")


def test_another_server_can_cancel(servers: Servers) -> None:
    """A study is stopped from any server: its own sees it at its next beat."""
    own, other = servers.runner(), servers.runner()
    work = Gated()
    future = begun(own, job(work))
    assert work.halfway.wait(60)
    other.cancel("k")
    servers.clock.on(timedelta(seconds=2))
    work.go_on.set()
    future.result(60)
    assert (work.steps, servers.study().state, servers.result()[0]) == ([1], "cancelled", None)


def test_cancelling_an_ended_study_changes_nothing(servers: Servers) -> None:
    """Done stays done; a study that was never asked is refused."""
    runner = servers.runner()
    begun(runner, job(lambda _executor, _report: {"answer": 1})).result(60)
    runner.cancel("k")
    assert (servers.study().state, servers.result()) == ("done", ({"answer": 1}, True))
    with pytest.raises(LookupError):
        runner.cancel("other")


def test_cancelling_frees_the_workers(servers: Servers, tmp_path: Path) -> None:
    """Of a thousand pieces no more are computed than were handed out when it was cancelled."""
    runner = servers.runner(workers=2)
    folder = tmp_path / "pieces"
    folder.mkdir()
    pools: list[Any] = []
    cancelled_at: list[int] = []

    def work(executor: Executor | None, report: Report) -> dict[str, Any]:
        pools.append(executor)

        def told(done: int) -> None:
            if done == 20:
                cancelled_at.append(done)
                runner.cancel("k")
            report(done, 1_000)

        pieces = [(str(folder), number) for number in range(1_000)]
        return {"all": list(parallel_map(study_pieces.leave_trace, pieces, executor, told))}

    begun(runner, job(work, days=MANY_DAYS)).result(120)
    pools[0].pool.shutdown(wait=True)
    assert cancelled_at == [20]
    assert 20 <= len(list(folder.iterdir())) <= 20 + PENDING
    assert (servers.study().state, servers.result()[0]) == ("cancelled", None)


def test_what_was_stopped_while_it_waited_can_be_begun_anew(servers: Servers) -> None:
    """Stopped before its turn it is over at once, not when its turn would have come."""
    runner = servers.runner()
    work, behind = Gated(), Gated()
    behind.go_on.set()
    begun(runner, job(work))
    assert work.halfway.wait(60)
    waiting = begun(runner, job(behind, "later"))
    assert progress(runner, "later") == Progress(0, 4, ahead=1)
    runner.cancel("later")
    waiting.result(60)
    again = begun(runner, job(behind, "later"))
    work.go_on.set()
    again.result(60)
    assert (behind.times, servers.result("later")) == (1, ({"answer": 42}, True))


def test_so_much_for_one_person_and_no_more(servers: Servers) -> None:
    """The next study is not written down but refused with a sentence, until one has ended; what
    another person asks is not counted."""
    runner, work = servers.runner(), Gated()
    futures = [begun(runner, job(work, f"k{number}")) for number in range(MOST_OPEN)]
    assert runner.begin(job(work, "more")) is None
    assert (progress(runner, "more"), failure(runner, "more")) == (
        None,
        "12 things are being worked out for you already. Wait for one of them, or stop some on the "
        "page Work in hand.",
    )
    with servers.database.session() as session:
        assert studies.find_study(session, "more") is None
        assert studies.count_open(session, 1) == MOST_OPEN
        assert studies.count_open(session, 2) == 0
    runner.cancel("k5")
    assert failure(runner, "more") == ""
    futures.append(begun(runner, job(work, "more")))
    work.go_on.set()
    for future in futures:
        future.result(60)
    assert servers.result("more")[1]


def test_present_questions_come_first(servers: Servers) -> None:
    """What somebody waits for on a page comes before what was asked earlier and left."""
    runner = servers.runner()
    order: list[str] = []

    def noted(key: str) -> Job:
        def work(executor: Executor | None, report: Report) -> dict[str, Any]:
            order.append(key)
            return {}

        return job(work, key)

    first = Gated()
    futures = [begun(runner, job(first))]
    assert first.halfway.wait(60)
    futures += [begun(runner, noted(key)) for key in ("left", "gone", "present", "last")]
    assert progress(runner, "gone") == Progress(0, 4, ahead=1)
    servers.clock.on(PRESENT + timedelta(seconds=1))
    assert progress(runner, "present") == Progress(0, 4, ahead=1)
    assert [runner.glance(servers.study(key)) for key in ("left", "gone", "last")] == [
        Progress(0, 4, ahead=ahead) for ahead in (2, 3, 4)
    ]
    first.go_on.set()
    for future in futures:
        future.result(60)
    assert order == ["present", "left", "gone", "last"]


# ---- time left -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("done", "total", "spent_s", "left_s"),
    [
        (10, 100, 1.9, None),  # too early to tell
        (0, 100, 30.0, None),
        (10, 100, 2.0, 18.0),
        (100, 100, 30.0, None),
        (50, 100, float("nan"), None),
    ],
)
def test_time_left_is_the_pace_so_far(
    done: int, total: int, spent_s: float, left_s: float | None
) -> None:
    """Nothing is said in the first two seconds or before the first step; then the pace tells."""
    assert time_left_s(done, total, spent_s) == left_s
