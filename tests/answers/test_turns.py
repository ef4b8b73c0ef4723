"""Whose turn it is: askers by turns, first answers before whole ones; counted, without a clock."""

from __future__ import annotations

import threading
from concurrent.futures import Executor, Future
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.answers.studies.book import MOST_OF_ALL, MOST_OPEN, in_turns
from app.answers.studies.runner import Job, Report, Runner, time_left_s
from tests.answers.played_servers import Servers, begun, job
from tests.world import failure, progress


@dataclass(frozen=True, slots=True)
class One:
    """Something that somebody asked for."""

    asker: str
    number: int


@given(st.lists(st.sampled_from("abc"), max_size=20), st.lists(st.sampled_from("abc"), max_size=4))
def test_nobody_has_a_second_turn_before_another_has_a_first(
    asked: list[str], at: list[str]
) -> None:
    """Of each asker's things the order stays; the nth of one comes before the next of any other,
    where what has begun of his counts as had."""
    waiting = [One(asker, number) for number, asker in enumerate(asked)]
    begun = [One(asker, -1) for asker in at]
    order = in_turns(waiting, begun)
    assert sorted(order, key=lambda one: one.number) == waiting
    had = dict.fromkeys("abc", 0) | {asker: at.count(asker) for asker in "abc"}
    left = {asker: asked.count(asker) for asker in "abc"}
    for one in order:
        assert had[one.asker] == min(had[asker] for asker in "abc" if left[asker])
        had[one.asker] += 1
        left[one.asker] -= 1
    for asker in "abc":
        numbers = [one.number for one in order if one.asker == asker]
        assert numbers == sorted(numbers)


class Line:
    """A runner that is held up at its first study, while others ask; what is done is noted."""

    def __init__(self, servers: Servers) -> None:
        self.runner: Runner = servers.runner()
        self.order: list[str] = []
        self.futures: list[Future[None]] = []
        self._go_on = threading.Event()
        started = threading.Event()

        def held(_executor: Executor | None, _report: Report) -> dict[str, str]:
            started.set()
            assert self._go_on.wait(60)
            return {}

        self.futures.append(begun(self.runner, job(held, "held")))
        assert started.wait(60)

    def ask(self, asker: str, key: str, *, in_stages: bool = False) -> None:
        """Somebody asks for something, which shows a first answer or not."""

        def work(_executor: Executor | None, report: Report) -> dict[str, str]:
            if in_stages:
                self.order.append(f"first {key}")
                report.early({"answer": "first"})
            self.order.append(key)
            return {"answer": "whole"}

        self.futures.append(begun(self.runner.asked_by(asker), job(work, key)))

    def done(self) -> list[str]:
        """Lets them go on; what was done, in order."""
        self._go_on.set()
        for future in self.futures:
            future.result(60)
        return self.order


def test_a_tenth_question_waits_behind_anothers_first(servers: Servers) -> None:
    """One asks for ten things, then two others for one and two: theirs come between."""
    line = Line(servers)
    for number in range(10):
        line.ask("busy", f"busy {number}")
    line.ask("other", "other 0")
    line.ask("third", "third 0")
    line.ask("third", "third 1")
    ahead = line.runner.glance(servers.study("other 0"))
    assert ahead is not None
    assert ahead.ahead == 2  # what is held up, and the first of the busy one
    assert line.done() == [
        "busy 0", "other 0", "third 0", "busy 1", "third 1", *(f"busy {n}" for n in range(2, 10)),
    ]  # fmt: skip


def test_first_answers_of_all_come_before_the_whole_one_of_any(servers: Servers) -> None:
    """What can be read already stands back until there is something of each; then the first goes
    on to its end before the next."""
    line = Line(servers)
    for key in "abc":
        line.ask(key, key, in_stages=True)
    line.ask("d", "d")
    assert line.done() == ["first a", "first b", "first c", "d", "a", "b", "c"]
    for key in "abcd":
        assert servers.result(key) == ({"answer": "whole"}, True)


def test_one_asker_is_refused_and_another_is_not(servers: Servers) -> None:
    """Who has as much under way as anybody may waits; others have theirs begun, up to what may be
    under way for all together."""
    line = Line(servers)
    for number in range(MOST_OPEN):
        line.ask("busy", f"busy {number}")
    refused: Job = job(lambda _executor, _report: {}, "more")
    assert line.runner.asked_by("busy").begin(refused) is None
    assert "12 things are being worked out" in failure(line.runner.asked_by("busy"), "more")
    assert failure(line.runner.asked_by("other"), "other") == ""
    line.ask("other", "other")
    assert MOST_OF_ALL > 10 * MOST_OPEN
    assert "other" in line.done()


@pytest.mark.parametrize(
    ("usual_s", "left_s"),
    [
        (None, 30.0),  # its own pace: a quarter in ten seconds
        (80.0, 30.0),  # its kind takes as long as it seems to
        (100.0, 35.625),  # three quarters of what its kind takes, a quarter as it went
    ],
)
def test_time_left_goes_by_what_its_kind_takes(usual_s: float | None, left_s: float) -> None:
    """Two seconds of processor time pass in one: what is left is what its kind takes, the more the
    less of it is done; nothing is said in the first two seconds."""
    assert time_left_s(250, 1_000, 10.0, 20.0, usual_s) == pytest.approx(left_s)
    assert time_left_s(250, 1_000, 1.9, 3.8, usual_s) is None


def test_what_its_kind_took_is_kept(servers: Servers) -> None:
    """A study that is done leaves what it took, and the next of its kind that waits says how long
    until it is there; one of a kind that was never done says nothing."""
    runner = servers.runner()

    def busy(_executor: Executor | None, report: Report) -> dict[str, str]:
        total = 0
        while sum(range(1_000)) and total < 2_000:
            total += 1
        report(1, 2)
        return {}

    begun(runner, job(busy, "first")).result(60)
    assert servers.study("first").spent_s > 0.0
    line = Line(servers)
    line.ask("other", "waits")
    told = progress(line.runner, "waits")
    assert told is not None
    assert (told.ahead, told.left_s is not None) == (1, True)
    line.done()
