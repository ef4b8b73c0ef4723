"""Answers: what a day asks of a site, worked out once in the background, kept under a key.

A kind of answer says what a day asks, how that is named, how it is worked out and how long it
takes. Everything else (find it, show how far it is, begin it, take it up again after a crash) is
the same for all and stands here. A `Desk` is a site with what its questions are made of, each part
read once: a page that shows a week hashes no question twice.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from functools import cache, cached_property, partial
from importlib.metadata import version
from typing import Generic, TypeVar, cast

from app.answers.coming_days import Look
from app.answers.learnt import SCHEMA as ARRIVALS
from app.answers.learnt import ArrivalsAsked, arrivals_asked, used
from app.answers.serial import read
from app.answers.studies.runner import Job, Progress, Report, Runner
from app.answers.studies.stages import PARTS, Stage
from app.db import store
from app.db.session import Database, Session
from app.db.store import Change, StoredPlan, StoredSite
from app.db.tables import encode
from app.sites.reading import Past
from sim.errors import InputProblem
from sim.inputs import LogEntry, SiteData
from sim.learn.answer import SCHEMA as MEASURED

LIBRARIES = ("simpy", "numpy", "scipy", "psychrolib")
MODEL = "3"
"""Raised whenever the model gives other figures for the same question."""

FORTNIGHT = timedelta(days=14)

Asked = TypeVar("Asked")
Found = TypeVar("Found")
Made = TypeVar("Made")


@cache
def libraries() -> dict[str, str]:
    """Versions of what computes a comparison, which are read from files and kept."""
    return {name: version(name) for name in ("clothcast", *LIBRARIES)}


def answer_key(schema: str, *asked: object) -> str:
    """The key under which an answer lies: a hash of everything that it depends on.

    Args:
        schema: of the answer; asked: what was asked, as content that JSON can hold.
    """
    content = encode([schema, MODEL, libraries(), *asked])
    return hashlib.sha256(content.encode()).hexdigest()[:32]


def arrivals_key(asked: ArrivalsAsked) -> str:
    """Names what a site's counts tell, whenever they are asked; empty where they are too few."""
    return answer_key(ARRIVALS, *asked.content) if asked.content else ""


def nothing_against(_asked: object) -> tuple[InputProblem, ...]:
    """No problem."""
    return ()


@dataclass(frozen=True, slots=True)
class Kind(Generic[Asked, Found]):
    """A kind of answer.

    Attributes:
        name: in the database.
        schema: how the text of each of its answers begins; empty where an answer of before is of no
            use while the new one is worked out.
        label: what people call it; stages: what it does one after another.
        page: shows it, as an address within the site, ``{day}`` where it has one for each day.
        found: the type of what is found, which is what is stored.
        ask: what a day asks, and what is known about asking it.
        key: names question and answer; empty where the day asks for nothing.
        days: simulated days that it takes, about.
        work: works it out, and tells of its steps.
        failed: the sentence for whatever goes wrong, with the gap ``{fault}``.
        refuse: why it can't be worked out, looked for only where it is not stored.
        is_apart: whether a process can work it out that has the database alone.
    """

    name: str
    label: str
    stages: tuple[Stage, ...]
    page: str
    found: type[Found]
    ask: Callable[[Desk, date], Asked]
    key: Callable[[Asked], str]
    days: Callable[[Asked], int]
    work: Callable[[Asked, Executor | None, Report], Found]
    failed: str
    refuse: Callable[[Asked], tuple[InputProblem, ...]] = nothing_against
    is_apart: bool = True
    schema: str = ""

    def page_of(self, day: date) -> str:
        """The page that shows a day's answer."""
        return self.page.format(day=day.isoformat())

    def of(self, site_id: int, day: date, asked: Asked) -> Answer[Asked, Found]:
        """The answer to a question, of which nothing is known yet."""
        return Answer(self, site_id, day, asked, self.key(asked))


@dataclass(frozen=True, slots=True)
class Earlier:
    """How an answer of before stands to the present question.

    Attributes:
        changes: what was changed since it was stored, newest first; empty where that is the program
            or an expectation.
        day: its day, where that is another one.
        is_unmeasured: whether it is from before the site's measurements were worked in.
    """

    changes: tuple[Change, ...]
    day: date | None = None
    is_unmeasured: bool = False


@dataclass(frozen=True, slots=True)
class Answer(Generic[Asked, Found]):
    """An answer as far as it is known.

    Attributes:
        asked: what the day asks.
        key: names question and answer; empty where there is nothing to work out.
        result: the finest stored answer; None if there is none.
        is_final: whether it is not to be refined any further.
        running: how far it is, while it is worked out or refined.
        failed: what went wrong, in a sentence.
        problems: why it can't be worked out; empty where it can or is stored.
        earlier: that the result is one of before, not the present question's; see `with_earlier`.
    """

    kind: Kind[Asked, Found]
    site_id: int
    day: date
    asked: Asked
    key: str = ""
    result: Found | None = None
    is_final: bool = False
    running: Progress | None = None
    failed: str = ""
    problems: tuple[InputProblem, ...] = ()
    earlier: Earlier | None = None

    @property
    def is_wanting(self) -> bool:
        """Whether there is something left to work out."""
        is_whole = self.result is not None and self.is_final
        return bool(self.key) and not is_whole and not self.problems

    @property
    def is_awaited(self) -> bool:
        """Whether an answer, or a finer one, is still to come: it is left to work out, and that has
        not failed."""
        return self.is_wanting and not self.failed

    @property
    def job(self) -> Job | None:
        """What works it out; None if there is nothing left to."""
        if not self.is_wanting:
            return None
        kind = self.kind
        return Job(
            kind.name, self.key, self.site_id, self.day, total=PARTS,
            days=kind.days(self.asked), work=partial(kind.work, self.asked), failed=kind.failed,
            is_apart=kind.is_apart, stages=kind.stages,
        )  # fmt: skip

    def begin(self, runner: Runner) -> Future[None] | None:
        """Begin to work it out or to refine it; nothing if it is done or under way."""
        job = self.job
        return None if job is None else runner.begin(job)

    def now(self, session: Session, runner: Runner) -> Answer[Asked, Found]:
        """The same question as it stands now."""
        return stand(session, runner, [self])[0] if self.key else self


def with_earlier(session: Session, view: Answer[Asked, Found]) -> Answer[Asked, Found]:
    """An answer; while there is none, what was worked out last before its question changed, of
    that day or, where the page is of no day, of the last one. That is never final."""
    kind = view.kind
    if view.result is not None or view.problems or not (view.key and kind.schema):
        return view
    day = view.day if "{day}" in kind.page else None
    found = store.earlier_result(session, view.site_id, day, kind.schema, view.key)
    if found is None:
        return view
    key, its_day, text = found
    changes = store.changes_after_result(session, view.site_id, day, key)
    other = None if its_day == view.day else its_day
    is_unmeasured = other is None and not changes
    if is_unmeasured:
        is_unmeasured = store.has_result_since(session, view.site_id, MEASURED, key)
    earlier = Earlier(changes, other, is_unmeasured)
    return replace(view, result=read(kind.found, text), earlier=earlier)


class Desk:
    """A stored site, and what its questions are made of; each part is read once.

    Args:
        runner: works answers out; without one nothing is under way, and nothing is begun.

    Attributes:
        look: gives expected days.
    """

    def __init__(self, session: Session, site: StoredSite, runner: Runner | None = None) -> None:
        self.session, self.site, self.runner = session, site, runner
        self.past = runner.past if runner else Past()
        self.look: Look = self.past.look
        self._made: dict[Hashable, object] = {}
        self._logs: dict[date, tuple[LogEntry, ...]] = {}

    @cached_property
    def counted(self) -> SiteData:
        """The site with its past, and nothing learnt of that."""
        return self.past.data(self.session, self.site)

    @cached_property
    def data(self) -> SiteData:
        """The site with its past and, where all counts together were found to tell coming days
        better than like days, with what they tell."""
        if self.counted.stands_on is not None:  # its story tells its days
            return self.counted
        key = arrivals_key(arrivals_asked(self.past, self.counted, date.min))
        found = store.find_results(self.session, [key]) if key else {}
        if key not in found:
            return self.counted
        return self.past.with_forecast(self.counted, used(found[key].text))

    def rests_on(self, *parts: str) -> str:
        """Names inputs and some parts of the site, such as ``history``, that an answer rests on:
        an entry in any other part leaves it as it is."""
        return answer_key(self.past.digest(self.data, parts), self._inputs)

    @cached_property
    def _inputs(self) -> str:
        data = self.data
        return encode([self.site.id, data.units, sorted(data.given), asdict(data.site)])

    @cached_property
    def plans(self) -> dict[date, StoredPlan]:
        """The stored plans by day."""
        return store.load_plans(self.session, self.site.id)

    def log(self, day: date) -> tuple[LogEntry, ...]:
        """The logbook of a day; a fortnight of it is read at once."""
        for first, entries in self._logs.items():
            if first <= day < first + FORTNIGHT:
                return tuple(one for one in entries if one.day == day)
        first = day - timedelta(days=1)  # who asks for a day mostly asks for its evening before too
        last = first + FORTNIGHT - timedelta(days=1)
        self._logs[first] = store.load_log(self.session, self.site.id, first, last)
        return self.log(day)

    def once(self, name: Hashable, make: Callable[[], Made]) -> Made:
        """What `make` gives, asked for once."""
        if name not in self._made:
            self._made[name] = make()
        return cast("Made", self._made[name])

    def read_together(
        self, wanted: Sequence[tuple[Kind[object, object], date]], *, waits: bool = True
    ) -> None:
        """Answers of several kinds, read together, so that each is at hand when it is opened.

        Args:
            waits: whether somebody waits for them; else only what is stored is looked for.
        """
        asked = [
            kind.of(self.site.id, day, kind.ask(self, day))
            for kind, day in dict.fromkeys(wanted)
            if (kind.name, day) not in self._made
        ]
        for answer in stand(self.session, self.runner if waits else None, asked):
            self._made[answer.kind.name, answer.day] = answer

    def open(self, kind: Kind[Asked, Found], day: date) -> Answer[Asked, Found]:
        """A day's answer, as far as it is known."""
        return self.open_all(kind, [day])[0]

    def open_all(
        self, kind: Kind[Asked, Found], days: Sequence[date]
    ) -> tuple[Answer[Asked, Found], ...]:
        """The answers of some days, as far as they are known, read together."""
        new = [day for day in days if (kind.name, day) not in self._made]
        asked = [kind.of(self.site.id, day, kind.ask(self, day)) for day in new]
        for answer in stand(self.session, self.runner, asked):
            self._made[kind.name, answer.day] = answer
        return tuple(cast("Answer[Asked, Found]", self._made[kind.name, day]) for day in days)


def stand(
    session: Session, runner: Runner | None, asked: Sequence[Answer[Asked, Found]]
) -> list[Answer[Asked, Found]]:
    """Questions with what is stored of their answers, and how far these are."""
    keys = [one.key for one in asked if one.key]
    stored = store.find_results(session, keys)
    finals = {key: key in stored and stored[key].is_final for key in keys}
    standing = runner.standing(session, finals) if runner else {}
    found = []
    for one in asked:
        held = stored.get(one.key)
        running, failed = standing.get(one.key, (None, ""))
        result = None if held is None else read(one.kind.found, held.text)
        is_open = bool(one.key) and result is None and running is None
        found.append(
            replace(
                one,
                result=result,
                is_final=held is not None and held.is_final,
                running=running,
                failed=failed,
                problems=one.kind.refuse(one.asked) if is_open else (),
            )
        )
    return found


def open_answer(
    database: Database, runner: Runner, site: StoredSite, kind: Kind[Asked, Found], day: date
) -> Answer[Asked, Found]:
    """A day's answer, as far as it is known, in a session of its own."""
    with database.session() as session:
        return Desk(session, site, runner).open(kind, day)


def open_or_begin(
    database: Database, runner: Runner, site: StoredSite, kind: Kind[Asked, Found], day: date
) -> Answer[Asked, Found]:
    """The same; what is missing is begun, unless it failed or is under way."""
    found = open_answer(database, runner, site, kind, day)
    if not found.is_awaited or found.running:
        return found
    found.begin(runner)
    with database.session() as session:
        return found.now(session, runner)
