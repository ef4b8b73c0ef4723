"""Studies: long computations that run by themselves, each question once, its answer stored.

What a study is stands in the database: who asked, how far it is, which server process has it and
until when. A process that dies leaves a lease that runs out; then another one begins the study
anew, and because a question and its seed decide everything, comes to the same answer.
"""

from __future__ import annotations

import copy
import math
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import CancelledError, Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import partial
from time import thread_time
from typing import Protocol

from app.answers.serial import write
from app.answers.studies.book import StudyBook, new_holder
from app.answers.studies.line import AHEAD, ASIDE, GLANCE_S, PRESENT, StudyQueue
from app.answers.studies.stages import FIRST, PARTS, Course, Stage, starts_of
from app.answers.studies.workers import Begun, Hands, Rank, Workers
from app.catalogue import _
from app.db import store, studies
from app.db.session import Database, Session
from app.db.studies import StoredStudy
from app.files.uploads import FilePreviews
from app.sites.changes import Gate, LostStudy
from app.sites.reading import Past

LEAST_FOR_WORKERS = 2_000
"""From so many simulated days, counted over scenarios, starting worker processes is worth it."""
BEAT = timedelta(seconds=1)
"""How often a study that runs writes down how far it is."""
READABLE = 1_000_000
"""So far behind comes what was begun ahead and can be read: more than a day's work is begun of."""
NOT_YET = "This has not been worked out yet."
TELLING_S = 2.0
"""Before so many seconds nothing is said of the time left: it would be a guess."""


def is_long(days: int) -> bool:
    """Whether so many simulated days are worth the seconds that worker processes take to start."""
    return days >= LEAST_FOR_WORKERS


def time_left_s(
    done: int, total: int, passed_s: float, spent_s: float = 0.0, usual_s: float | None = None
) -> float | None:
    """Seconds that the rest takes; None while that can't be told.

    What its kind usually takes counts for what is left to do, its own processor time for what is
    done; the pace is how much of that time went by a second. Without the former its own pace alone
    tells.

    Args:
        passed_s: since it began; spent_s: processor time of it so far.
        usual_s: processor time that its kind takes.
    """
    if not (passed_s >= TELLING_S and done < total):  # also where `passed_s` is NaN
        return None
    if usual_s is None or spent_s <= 0.0:
        return passed_s * (total - done) / done if done else None
    left = (total - done) / total
    return (left * usual_s + spent_s) * left * passed_s / spent_s


def ended_words(study: StoredStudy) -> str:
    """Why a study has ended without its answer, in a sentence; empty where it has not."""
    if study.state == "failed":
        return study.sentence
    if study.state == "cancelled":
        return _("The computation was stopped before it was done.")
    if study.state == "broken off":
        return _("The computation was broken off: what it was asked about has changed since.")
    return ""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a computation is: parts done, of all, which never grow; seconds left, None while that
    isn't known; how many studies come ahead of it, 0 for one that runs."""

    done: int
    total: int
    left_s: float | None = field(default=None, compare=False)
    ahead: int = 0


class Stopped(Exception):
    """A computation was given up: somebody cancelled it, another has it, or the program ends."""


class Report(Protocol):
    """Whom a job tells of its work."""

    def __call__(self, done: int, total: int) -> None:
        """So many steps are done of so many; raises `Stopped` where the job is to end."""

    def stage(self, name: str) -> None:
        """A stage of the job begins, see `Stage`; raises as the call does."""

    def early(self, answer: object) -> None:
        """A first answer, to be shown until a finer one takes its place."""


class Elsewhere(Protocol):
    """The process that computes for this one, see `app.answers.apart`."""

    def asked(self, key: str) -> Future[None]:
        """A study was written down; done when it has ended there."""

    def seen(self, keys: Sequence[str]) -> None:
        """Somebody looks at pages that wait for these."""

    def stop(self, key: str) -> None:
        """A study was ended; whoever computes it is to let go."""

    def look(self) -> None:
        """Take up what was left behind."""


@dataclass(frozen=True, slots=True)
class Job:
    """A computation whose answer is stored under a key of everything it depends on.

    Attributes:
        kind: jobs of one kind are computed one after another; see `app.answers.kinds`.
        total: parts in which is told how far it is; however many steps its work tells of, it is
            these that count.
        days: simulated days that it takes, which says whether worker processes are worth it.
        work: given an executor (or None) and whom to tell of steps, returns the last answer.
        failed: the sentence for whatever goes wrong, with the gap ``{fault}``.
        is_apart: whether another process can compute it, which has the database alone.
        stages: what it does one after another; empty where it is one thing.
    """

    kind: str
    key: str
    site_id: int
    day: date
    total: int
    days: int
    work: Callable[[Executor | None, Report], object]
    failed: str
    is_apart: bool = True
    stages: tuple[Stage, ...] = ()


class Runner:
    """Computes studies in the background, each question once, and stores the answers.

    One thread a kind of job waits for the days that worker processes simulate.

    Args:
        now: the moment that dates what is stored; it may be fixed.
        clock: the moment by which time passes, for leases and the time left; `now` unless given.
        begun: processes of its own that have begun already.

    Attributes:
        may_begin: whether whoever uses it may begin anything.
        on_asked: called beside the pages with the site of each new study, see `kinds.drop_stale`.
        elsewhere: the process that computes in place of this one; None where this one does.
        is_apart: whether this one computes for another.
        on_shown: called where something can be read of what nobody asked for.
        asker: for whom it begins what it is told to; see `asked_by`.
    """

    def __init__(
        self,
        database: Database,
        workers: int,
        now: Callable[[], datetime],
        clock: Callable[[], datetime] | None = None,
        begun: Sequence[Begun] = (),
    ) -> None:
        self.past = Past()
        self.previews = FilePreviews()
        self.database = database
        self._now = now
        self._clock = clock or now
        self._workers, self._count = Workers(workers, begun), max(1, workers)
        self.book = StudyBook(database, new_holder(), self._clock)
        self._line: StudyQueue[Run] = StudyQueue(self._clock, is_single=workers < 2)
        self._lock = threading.Lock()
        self._to_look_over: set[int] = set()
        self._is_closing = threading.Event()
        self.may_begin, self._sees_others = True, True
        self.on_asked: Callable[[int], None] | None = None
        self.elsewhere: Elsewhere | None = None
        self.is_apart = False
        self.on_shown: Callable[[], None] | None = None
        self.asker = ""

    # What follows only looks at the same studies: all that changes is shared with the copy.

    def onlooker(self) -> Runner:
        """The same studies for whoever may begin none; what nobody asked for is said to be so."""
        other = copy.copy(self)
        other.may_begin = False
        return other

    def asked_by(self, asker: str) -> Runner:
        """The same for one of those for whom the built-in person stands: whose turn it is goes by
        that, and how much may be under way."""
        other = copy.copy(self)
        other.asker = asker
        return other

    def blind(self) -> Runner:
        """For making a question anew as though nobody computed it; begins nothing."""
        other = self.onlooker()
        other._sees_others = False
        return other

    def begin(self, job: Job, reason: str = "", *, is_written: bool = False) -> Future[None] | None:
        """Begin a job, asked by the built-in person.

        Nothing if it is under way here or stored, or the person has too much under way (`standing`
        says so); where another process is at work on it, that one's progress is shown. What was
        begun ahead is the person's from now on.

        Args:
            reason: why it is begun before anybody asks; it then stands back behind everything
                that somebody asked for.
            is_written: whether it is written down already; what was stopped since stays so.
        """
        if not self.may_begin or self._is_closing.is_set():
            return None
        if self.elsewhere is not None and job.is_apart:
            return self.elsewhere.asked(job.key) if self._write_down(job, reason) else None
        run = Run(self, job, reason)
        if not self._line.add(run):
            self._take_over(job, reason)
            return None
        try:
            is_asked = is_written or self._write_down(job, reason)
            if is_asked:
                self._line.begin(run, self._work)
            else:
                self._line.leave(run)
        except BaseException:
            self._line.leave(run)
            raise
        self._look_aside(job.site_id)
        return run.future if is_asked else None

    def standing(
        self, session: Session, finals: Mapping[str, bool]
    ) -> dict[str, tuple[Progress | None, str]]:
        """How far questions are, and why they have no (final) answer and are not computed.

        Whoever asks waits for them: they come before what nobody waits for.

        Args:
            finals: by key whether a final answer is stored.

        Returns:
            By key how far it is, here or in another process, None when nobody computes it; and
            what is in the way, in a sentence, empty if nothing is.
        """
        if not self._sees_others:
            return dict.fromkeys(finals, (None, ""))
        found: dict[str, tuple[Progress | None, str]] = dict.fromkeys(finals, (None, ""))
        wanting = [key for key, is_final in finals.items() if not is_final]
        rows = studies.find_studies(session, wanting)
        too_many = ""
        is_new = any(key not in rows or rows[key].state == "done" for key in wanting)
        if is_new and (count := self.book.too_many(session, self.asker)):
            too_many = _(
                "{count} things are being worked out for you already. Wait for one of them, or "
                "stop some on the page Work in hand.",
                count=count,
            )
        self.seen(wanting)
        for key in wanting:
            study = rows.get(key)
            found[key] = self._measure(session, key, study), self._failure(key, study, too_many)
        if self.elsewhere is not None:
            self.elsewhere.seen([key for key in wanting if key in rows and rows[key].is_open])
        return found

    def glance(self, study: StoredStudy) -> Progress | None:
        """How far a study is, for somebody who does not wait for it."""
        if not self._sees_others:
            return None
        with self.database.session() as session:
            return self._measure(session, study.key, study)

    def cancel(self, key: str) -> None:
        """Stop a study here or in another process: it ends at its next step.

        Raises:
            LookupError: if there is no such study.
        """
        with self.database.session() as session:
            Gate(session, store.built_in_person(session), self._now()).cancel_study(key)
        self.let_go(key)

    def break_off(self, key: str) -> None:
        """End a study, whoever has it, because its question is asked no more."""
        self.book.break_off(key, is_held_too=True)
        self.let_go(key)

    def _take_over(self, job: Job, reason: str) -> None:
        """What was begun ahead is somebody's from now on, unless nobody asks this time either."""
        if not reason and self.adopt(job.key, self.asker):
            self._write_down(job, reason)

    def adopt(self, key: str, asker: str = "") -> bool:
        """What was begun ahead under a key is an asker's; False if nothing was."""
        run = self._line.find(key)
        if run is None or not run.reason:
            return False
        run.reason, run.asker = "", asker
        self._line.look_again()
        return True

    def _write_down(self, job: Job, reason: str) -> bool:
        return self.book.ask(
            job.key,
            job.kind,
            job.site_id,
            job.day,
            total=job.total,
            at=self._now(),
            reason=reason,
            asker="" if reason else self.asker,
        )

    def seen(self, keys: Iterable[str]) -> None:
        """Somebody looks at pages that wait for these."""
        for key in keys:
            run = self._line.find(key)
            if run is not None:
                run.looked_at = self._clock()
        self._line.look_again()

    def ended(self, key: str) -> Future[None] | None:
        """Done when what stands here under a key has ended; None where nothing does."""
        run = self._line.find(key)
        return None if run is None else run.future

    def let_go(self, key: str) -> None:
        """End what stands here under a key; it was written down already that it has ended."""
        self._line.stop(key)
        if self.elsewhere is not None:
            self.elsewhere.stop(key)

    def is_unseen(self, key: str) -> bool:
        """Whether a question is under way or waits here and nothing can be read of it yet."""
        run = self._line.find(key)
        return run is not None and not run.is_shown

    def has(self, key: str) -> bool:
        """Whether a question is under way or waits in this very process."""
        return self._line.find(key) is not None

    @property
    def is_closing(self) -> bool:
        """Whether nothing is begun any more."""
        return self._is_closing.is_set()

    def aside(self, work: Callable[[], None]) -> Future[None]:
        """Do something short beside the pages, in a thread of its own that closing waits for;
        raises RuntimeError once it is closed."""
        return self._line.thread(ASIDE).submit(work)

    def close(self) -> None:
        """Stop everything; what is not finished is given up at its next step, for the next
        process to take up."""
        self._is_closing.set()
        self._line.close(wait_for=ASIDE)
        self._workers.close()
        self.book.release()

    # ---- parts -----------------------------------------------------------------------------------

    def _look_aside(self, site_id: int) -> None:
        """Have a site's studies looked over, once for all that were asked meanwhile."""
        with self._lock:
            if self.on_asked is None or site_id in self._to_look_over:
                return
            self._to_look_over.add(site_id)
        self.aside(partial(self._look_over, site_id, self.on_asked))

    def _look_over(self, site_id: int, on_asked: Callable[[int], None]) -> None:
        with self._lock:
            self._to_look_over.discard(site_id)
        on_asked(site_id)

    def _work(self, run: Run) -> None:
        job = run.job
        try:
            if not self.book.claim(job.key):
                return  # another process has it, it was cancelled, or it is answered by now
            run.began = run.beat_at = self._clock()
            found = self._compute(run)
            run.tell()
            run.store(found, is_final=True)
        except (Stopped, LostStudy):
            return
        except Exception as fault:
            if self._is_closing.is_set():
                return  # its pieces were taken back; another process takes the study up
            # Whatever happens in a worker must reach the page as a sentence, not die in a thread.
            self.book.fail(job.key, _(job.failed, fault=fault))
        finally:
            if run.reason and not self._is_closing.is_set():
                run.count()
                self.book.forget_ahead(job.key)
            self._line.leave(run)

    def _compute(self, run: Run) -> object:
        hands = self._workers.hands(bool(run.reason) or is_long(run.job.days), run.rank)
        run.take_up(hands)
        try:
            found = run.job.work(hands, run)
        except CancelledError:
            raise Stopped from None  # what it waited for was taken away
        except BrokenProcessPool:
            raise RuntimeError(_("the processes that compute it were ended from outside")) from None
        if hands is not None:
            hands.pool.is_warm = True
        return found

    def _measure(self, session: Session, key: str, study: StoredStudy | None) -> Progress | None:
        run = self._line.find(key)
        if run is not None and run.began is not None:
            done, spent_s = run.course.done, run.spent_s()
            return self._measured(session, run.kind, done, run.job.total, run.began, spent_s)
        if study is not None and self.book.is_held(study):
            kind, done, total = study.kind, study.done, study.total
            return self._measured(session, kind, done, total, study.began_at, study.spent_s)
        if run is None and (self.elsewhere is None or study is None or not study.is_open):
            return None
        total = study.total if run is None and study is not None else PARTS
        before = () if study is None else self.book.before(session, study)
        ahead = len(before) if run is None else self._line.ahead(run)
        left_s = None if study is None else self._wait_s(session, study.kind, before)
        return Progress(0, total if run is None else run.job.total, left_s, ahead)

    def _wait_s(self, session: Session, kind: str, before: Sequence[StoredStudy]) -> float | None:
        """Seconds until a study is done that waits behind others of its kind, by what that usually
        takes; None where that isn't known."""
        usual_s = studies.usual_spent(session, kind)
        if usual_s is None:
            return None
        parts = 1.0 + sum((one.total - one.done) / one.total for one in before if one.total)
        return usual_s * parts / self._count

    def _failure(self, key: str, study: StoredStudy | None, too_many: str) -> str:
        if self._line.find(key) is not None:
            return ""
        if study is not None and (self.book.is_held(study) or ended_words(study)):
            return ended_words(study)
        if not self.may_begin:
            return _(NOT_YET)
        return "" if study is not None and study.is_open else too_many

    def _measured(
        self, session: Session, kind: str, done: int, total: int, began: datetime | None,
        spent_s: float,
    ) -> Progress:  # fmt: skip
        passed_s = math.nan if began is None else (self._clock() - began).total_seconds()
        usual_s = studies.usual_spent(session, kind)
        return Progress(done, total, time_left_s(done, total, passed_s, spent_s, usual_s))


class Run:
    """A job on its way: it waits for its turn; what it tells is kept, written down now and then,
    and may end it.

    Attributes:
        looked_at: when somebody who waits for it looked last; None for never.
        reason: why it was begun before anybody asked; empty for what somebody asked for.
        lane: whose thread does it: one for each kind, and one for all that nobody asked for.
        asker: who asked; turn: its place among those of all askers.
        is_taken: whether its turn has come; is_shown: whether a first answer can be read;
            is_stopped: whether it is to end.
        future: done when it has ended, or was stopped before its turn came.
    """

    def __init__(self, runner: Runner, job: Job, reason: str = "") -> None:
        self.job, self.key, self.kind = job, job.key, job.kind
        self.reason, self.lane = reason, AHEAD if reason else job.kind
        self.asker, self.turn, self.is_shown = "" if reason else runner.asker, 0, False
        self.looked_at: datetime | None = None
        self.is_taken = False
        self.is_stopped = threading.Event()
        self.future: Future[None] = Future()
        self.course = Course(job.stages, job.total)
        self.began: datetime | None = None
        self.beat_at: datetime | None = None
        self._runner = runner
        self._hands: Hands | None = None
        self._counted_s = 0.0
        self._thread_s: float | None = None

    @property
    def is_ahead(self) -> bool:
        """Whether nobody asked for it, and nobody looks at a page that waits for it."""
        looked = self.looked_at
        is_seen = looked is not None and looked >= self._runner._clock() - PRESENT
        return bool(self.reason) and not is_seen

    def rank(self) -> Rank:
        """Of its pieces among those of all studies. What nobody waits for comes in the order in
        which it was begun, which is that of its worth, but what can be read behind what can't. What
        has a first answer to come counts as no longer than that until it is there."""
        if self.is_ahead:
            return True, self.turn + (READABLE if self.is_shown else 0)
        days, stages = self.job.days, self.job.stages
        if not self.is_shown and stages and stages[0].name == FIRST:
            days = round(starts_of(stages)[1] * days)
        return False, days

    def take_up(self, hands: Hands | None) -> None:
        """Begin, with the processes that it may use; raises `Stopped` where it must not."""
        self._hands = hands
        self._thread_s = thread_time()
        self._stand_back()

    def stop(self) -> None:
        """End at the next step, or at once where it waits for processes."""
        self.is_stopped.set()
        if self._hands is not None:
            self._hands.stop()

    def __call__(self, done: int, total: int) -> None:
        self.course.step(done, total)
        self._stand_back()
        self._beat()

    def stage(self, name: str) -> None:
        self.course.enter(name)
        self._stand_back()
        self._beat()

    def _stand_back(self) -> None:
        """Wait while anybody waits for something else, unless somebody waits for this."""
        self._go_on()
        line = self._runner._line
        while line.wait_behind(self, GLANCE_S):
            self._go_on()
            self._beat()
        self._go_on()

    def _beat(self) -> None:
        now = self._runner._clock()
        if self.beat_at is None or abs(now - self.beat_at) >= BEAT:  # or the clock was set back
            self.tell()

    def tell(self) -> None:
        """Write down how far it is and what it took; raises `Stopped` if another has it."""
        self.beat_at = self._runner._clock()
        self.count()
        if not self._runner.book.beat(self.job.key, self.course.done, self._counted_s):
            raise Stopped

    def spent_s(self) -> float:
        """Processor time that it took, as it was counted last [s]."""
        return self._counted_s

    def count(self) -> None:
        """Count what it took since the last time, of the day's budget if nobody asked for it."""
        if self._thread_s is None:
            return
        here_s = thread_time() - self._thread_s
        spent_s = here_s + (self._hands.spent_s if self._hands else 0.0)
        more_s, self._counted_s = spent_s - self._counted_s, spent_s
        if more_s > 0.0:
            self._runner.book.spend(more_s, None if self.reason else self.asker)

    def early(self, answer: object) -> None:
        self._go_on()
        self.store(answer, is_final=False)
        self._runner._line.show(self)
        if self.reason and self._runner.on_shown is not None:
            self._runner.on_shown()
        self._stand_back()

    def store(self, answer: object, is_final: bool) -> None:
        """Store an answer; with the last one the study is done, in the same transaction."""
        runner, job = self._runner, self.job
        with runner.database.session() as session:
            gate = Gate(session, store.built_in_person(session), runner._now())
            gate.store_result(
                job.key, job.site_id, job.day, write(answer),
                is_final=is_final, holder=runner.book.holder,
            )  # fmt: skip

    def _go_on(self) -> None:
        if self.is_stopped.is_set() or self._runner._is_closing.is_set():
            raise Stopped
