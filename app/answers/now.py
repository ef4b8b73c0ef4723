"""Now: what to do with the rest of today, from the morning's plan and what was noted since.

The followed sites of a day stay in memory, so that an entry costs its own days alone; see
`sim.decide.now`. Nothing of it is stored but the advice as it was given, as an entry of the log.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from app.answers.checks import Readiness
from app.answers.planning import PlanView
from app.answers.switching import SwitchView
from sim.day.rules import FULL, Rule, parse_rule
from sim.decide.now.advice import Ahead, act_by_plan, look_ahead, tell
from sim.decide.now.answer import STALE_S, Act, NowAnswer
from sim.decide.now.follow import Followed
from sim.decide.now.so_far import HOUR_S, TELLING, SoFar, so_far, windows_of
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import LogEntry
from sim.inputs.logbook import ADVICE

STEP_S = 900.0
"""Without an entry the answer is of the quarter of an hour that has begun [s]."""


SAME_S = 60.0
"""Who asks within so much of another one asks the same [s]: clocks of the log tell minutes."""


@dataclass(frozen=True, slots=True)
class PlannedAct:
    """What the morning's plan says of now; by_clock: whether the clock alone decides there."""

    act: Act
    by_clock: bool


@dataclass(frozen=True, slots=True)
class NowFound:
    """What is known of the rest of a day.

    Attributes:
        stops: the checks, where something has failed without which nothing is run on; then there
            is no answer. None otherwise.
        answer: what to do; None where something has failed, where nothing was noted yet, or while
            nothing asks for it to be worked out.
        planned: what the plan says, where nothing was noted yet.
        is_guess: whether nobody has noted anything for long.
        advised: the last advice that was noted today; None without one.
    """

    stops: Readiness | None
    answer: NowAnswer | None = None
    planned: PlannedAct | None = None
    is_guess: bool = False
    advised: LogEntry | None = None


def rule_of_the_day(view: SwitchView, plan: PlanView) -> Rule:
    """What the crew does by the morning's answer: that of when to reduce, else what does best in
    the day's plan, else what leads it. It is what Today says in bold.

    Args:
        plan: with the answer of before where there is none of now.
    """
    question, told = view.asked.question, view.result
    if told is not None and not told.coarse:
        return told.told
    if plan.result is not None:
        comparison = plan.result.comparison
        text = comparison.columns[comparison.best].scenario.rule
    else:
        text = FULL.text if question is None else question.present
    keys = [] if question is None else [item.key for item in question.site.vehicles]
    return parse_rule(text, keys)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question of a day that has begun.

    Attributes:
        day: key of the morning's question, and the rule that it is held against.
        news: hashes of the entries that can change anything, of 64 bits each: what was answered is
            kept for a while, and a long log of each answer would be too.
        entries: of the log; none once it is answered.
    """

    day: tuple[str, str]
    news: frozenset[int]
    now_s: float
    entries: tuple[LogEntry, ...] = field(compare=False)

    def knows_all_of(self, other: _Asked) -> bool:
        """Whether whoever asks this about now knows all that another one knew."""
        is_now = 0.0 <= self.now_s - other.now_s <= SAME_S
        return self.day == other.day and is_now and other.news <= self.news


class NowCache:
    """Followed sites of few days, and what they made of the entries, kept in memory.

    One answer is worked out at a time. Many people note things at once: whoever waited is content
    with an answer that knew all that they know, and the one that is worked out next is of the
    newest entries that anybody who waits has seen. So nobody waits for more than two.
    """

    DAYS = 2
    ANSWERS = 8

    def __init__(self) -> None:
        self._followed: OrderedDict[tuple[str, str], Followed] = OrderedDict()
        self._ahead: OrderedDict[_Asked, Ahead] = OrderedDict()
        self._waiting: list[_Asked] = []
        self._lock = threading.Lock()

    def is_ready(self, key: str, plan: Rule) -> bool:
        """Whether the sites of a day are at hand."""
        return (key, plan.text) in self._followed

    def make_ready(self, key: str, question: SwitchQuestion, plan: Rule) -> None:
        """Have the sites of a day at hand, and all that an answer takes, so that its first entry
        takes no longer than the others."""
        with self._lock:
            if not self.is_ready(key, plan):
                look_ahead(
                    self._sites(key, question, plan), SoFar(HOUR_S * question.site.line.open_h)
                )

    def _sites(self, key: str, question: SwitchQuestion, plan: Rule) -> Followed:
        day = key, plan.text
        followed = self._followed.get(day)
        if followed is None:
            followed = self._followed[day] = Followed(question, plan)
            while len(self._followed) > self.DAYS:
                self._followed.popitem(last=False)
        self._followed.move_to_end(day)
        return followed

    def answer(
        self,
        key: str,
        question: SwitchQuestion,
        plan: Rule,
        entries: Sequence[LogEntry],
        now_s: float,
        *,
        may_compute: bool = True,
    ) -> NowAnswer | None:
        """What to do; None where it is not kept and may not be worked out.

        Args:
            key: names the question.
        """
        news = frozenset(hash(one) for one in entries if one.kind in TELLING)
        mine = _Asked((key, plan.text), news, now_s, tuple(entries))
        self._waiting.append(mine)
        try:
            with self._lock:
                asked = self._kept(mine)
                if asked is None:
                    if not may_compute:
                        return None
                    others = [one for one in tuple(self._waiting) if one.knows_all_of(mine)]
                    asked = max(others, key=lambda one: len(one.news))
                    followed = self._sites(key, question, plan)
                    site = question.site
                    far = so_far(asked.entries, asked.now_s, site, followed.expected_per_h)
                    asked = replace(asked, entries=())
                    self._ahead[asked] = look_ahead(followed, far)
                    while len(self._ahead) > self.ANSWERS:
                        self._ahead.popitem(last=False)
                self._ahead.move_to_end(asked)
                ahead = self._ahead[asked]
        finally:
            self._waiting.remove(mine)
        said = so_far(entries, now_s, question.site, question.conditions.arrivals_per_h).said
        return tell(ahead, said)

    def _kept(self, mine: _Asked) -> _Asked | None:
        """The question of an answer that is there, and knew at least as much; None for none."""
        if mine in self._ahead:
            return mine
        return next((one for one in reversed(self._ahead) if one.knows_all_of(mine)), None)


def made_ready(
    nows: NowCache, view: SwitchView, day_plan: PlanView, now_s: float
) -> Callable[[], None] | None:
    """What has the sites of a day at hand before its first entry; None where they are, after
    closing, and while the day's answer may still change.

    Args:
        view, day_plan: as for `find_now`.
    """
    question = view.asked.question
    if question is None or not view.is_final or now_s >= HOUR_S * question.site.line.close_h:
        return None
    plan = rule_of_the_day(view, day_plan)
    if nows.is_ready(view.key, plan):
        return None
    return partial(nows.make_ready, view.key, question, plan)


def find_now(
    nows: NowCache,
    view: SwitchView,
    day_plan: PlanView,
    checks: Readiness,
    log: Sequence[LogEntry],
    now_s: float,
    *,
    may_compute: bool = True,
) -> NowFound | None:
    """What is known of the rest of a day; None on a day that is not planned, before opening and
    after closing, unless something has failed.

    Args:
        view, day_plan: when to reduce that day, and its plan, see `rule_of_the_day`.
        checks: of the site; with something failed there is nothing to do but to stop.
        log: of the day.
    """
    if checks.must_stop:
        return NowFound(checks)
    question = view.asked.question
    if question is None:
        return None
    line = question.site.line
    opens_s, closes_s = 3600.0 * line.open_h, 3600.0 * line.close_h
    if not opens_s <= now_s < closes_s:
        return None
    today = [one for one in log if one.counts and one.at_s <= now_s]
    advised = next((one for one in reversed(today) if one.kind == ADVICE), None)
    plan = rule_of_the_day(view, day_plan)
    known = so_far(today, now_s, question.site, question.conditions.arrivals_per_h)
    if known.last_s is None:
        # nothing is known that the plan did not know
        planned = PlannedAct(act_by_plan(plan, known), windows_of(plan) is not None)
        return NowFound(None, None, planned, now_s - opens_s >= STALE_S, advised)
    as_of = max(STEP_S * (now_s // STEP_S), known.last_s)
    answer = nows.answer(view.key, question, plan, today, as_of, may_compute=may_compute)
    return NowFound(None, answer, None, now_s - known.last_s >= STALE_S, advised)
