"""Who computes which study: leases in the database, and whether their holder is gone."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from typing import Protocol, TypeVar

from app.db import store, studies, token_writes, writes
from app.db.session import Database, Session, writing

PROC = Path("/proc")
START_FIELD = 22 - 4
"""Place of the start time in ``/proc/PID/stat`` among what follows the state (proc(5))."""


def new_holder() -> str:
    """A random id of this process, of at most 40 characters."""
    place, started = _place(), _started(os.getpid())
    if not (place and started):
        return secrets.token_hex(16)
    return f"{place}.{os.getpid()}.{started}.{secrets.token_hex(4)}"


def is_gone(holder: str) -> bool:
    """Whether the process of an id is known to be no more; False where that can't be told."""
    place, _dot, rest = holder.partition(".")
    pid, _dot, rest = rest.partition(".")
    started = rest.partition(".")[0]
    if not (place and pid.isdecimal() and started) or place != _place():
        return False
    return _started(int(pid)) != started


def _place() -> str:
    """This boot of this machine, and the namespace in which processes are numbered."""
    with suppress(OSError):
        boot = (PROC / "sys/kernel/random/boot_id").read_text("ascii").strip()
        place = f"{boot} {(PROC / 'self/ns/pid').readlink()}"
        return hashlib.sha256(place.encode()).hexdigest()[:8]
    return ""


def _started(pid: int) -> str:
    """When a process started, in ticks since the boot; empty for one that is not there."""
    with suppress(OSError):
        state, *fields = (PROC / str(pid) / "stat").read_text("utf-8").rpartition(")")[2].split()
        return "" if state in "ZX" else fields[START_FIELD]
    return ""


MOST_OPEN, MOST_OF_ALL = 12, 240
"""Studies that may wait or run for one asker, a week of staff and a page of each kind, and for all
askers together."""


PROGRAM = "program "
"""How an asker that is a program is called, before the number of its token."""


def asker_of_token(token_id: int) -> str:
    """As whom a program asks, by the number of its token."""
    return f"{PROGRAM}{token_id}"


class Asked(Protocol):
    """What somebody asked for."""

    @property
    def asker(self) -> str:
        """Who."""


Waits = TypeVar("Waits", bound=Asked)


def in_turns(waiting: Sequence[Waits], begun: Sequence[Asked] = ()) -> list[Waits]:
    """What waits, in the order in which it was asked for, but by turns: nobody's second comes
    before another's first, and what has begun of somebody's counts as his."""
    turns = Counter(one.asker for one in begun)
    order = []
    for at, one in enumerate(waiting):
        order.append((turns[one.asker], at))
        turns[one.asker] += 1
    return [waiting[at] for _turn, at in sorted(order)]


class StudyBook:
    """The book of studies, as one server process reads and writes it.

    Args:
        holder: random id of this process, see `new_holder`.
        clock: the moment, by which leases run out where nothing is known of their holder.
    """

    def __init__(self, database: Database, holder: str, clock: Callable[[], datetime]) -> None:
        self.holder = holder
        self._database = database
        self._clock = clock

    def ask(
        self,
        key: str,
        kind: str,
        site_id: int,
        day: date,
        *,
        total: int,
        at: datetime,
        reason: str = "",
        asker: str = "",
    ) -> bool:
        """Write a study down as waiting, for the built-in person, unless it is open already; False
        if it is answered, or if there are too many open ones. With a reason nobody asked."""
        with self._writing() as session:
            if store.is_final(session, key):
                writes.end_open_study(session, key, "done", self._clock())
                return False
            study, person = studies.find_study(session, key), store.built_in_person(session)
            is_open = study is not None and study.is_open
            if not (is_open or reason or self.too_many(session, asker) == 0):
                return False
            writes.ask_study(
                session, key, kind=kind, site_id=site_id, day=day, person_id=person.id, at=at,
                total=total, reason=reason, asker=asker,
            )  # fmt: skip
        return True

    def too_many(self, session: Session, asker: str) -> int:
        """How many studies are open for an asker, or for all together, where that is too many; else
        0."""
        person = store.built_in_person(session)
        for one, most in ((asker, MOST_OPEN), (None, MOST_OF_ALL)):
            count = studies.count_open(session, person.id, one)
            if count >= most:
                return count
        return 0

    def claim(self, key: str) -> bool:
        """Take a study that nobody is at work on; False if it can't be had."""
        with self._writing() as session:
            study = studies.find_study(session, key)
            if study is not None and is_gone(study.holder):
                writes.release_studies(session, study.holder)
            return writes.claim_study(session, key, self.holder, self._clock())

    def is_held(self, study: studies.StoredStudy) -> bool:
        """Whether a process is at work on a study, as far as is known."""
        return study.is_held(self._clock()) and not is_gone(study.holder)

    def beat(self, key: str, done: int, spent_s: float = 0.0) -> bool:
        """Tell how far a study is and keep it; False if it is this process's no more."""
        with self._writing() as session:
            return writes.beat_study(
                session, key, self.holder, done=done, spent_s=spent_s, now=self._clock()
            )

    def fail(self, key: str, sentence: str) -> None:
        """End a study of this process with what went wrong."""
        with self._writing() as session:
            writes.end_held_study(session, key, self.holder, "failed", sentence)

    def break_off(self, key: str, is_held_too: bool = False) -> None:
        """End a study, because its question is asked no more; unless told, only one that nobody
        is at work on."""
        with self._writing() as session:
            study = studies.find_study(session, key)
            is_held_too = is_held_too or (study is not None and is_gone(study.holder))
            lapsed_at = None if is_held_too else self._clock()
            writes.end_open_study(session, key, "broken off", lapsed_at)

    def forget_ahead(self, key: str, holder: str = "") -> None:
        """Forget a study that was begun ahead, by this process unless told, and has not ended."""
        with self._writing() as session:
            writes.forget_ahead(session, key, holder or self.holder)

    def before(
        self, session: Session, study: studies.StoredStudy
    ) -> tuple[studies.StoredStudy, ...]:
        """What somebody asked for, of its kind, that comes before a study that waits: what is at
        work, and of the others by turns what each asker asked for first."""
        alike = (one for one in studies.open_studies(session) if one.kind == study.kind)
        asked = sorted((one for one in alike if not one.reason), key=lambda one: one.asked_at)
        held = [one for one in asked if self.is_held(one)]
        waiting = in_turns([one for one in asked if one not in held], held)
        place = next((at for at, one in enumerate(waiting) if one.key == study.key), len(waiting))
        return tuple(one for one in (*held, *waiting[:place]) if one.key != study.key)

    def spend(self, seconds: float, asker: str | None = None) -> None:
        """Count processor time [s] that work ahead took today or, with an asker, what he asked for:
        a program's is counted by its token, nobody else's is."""
        kind, _space, number = (asker or "").partition(" ")
        is_program = f"{kind} " == PROGRAM and number.isdecimal()
        if asker is not None and not is_program:
            return
        with self._writing() as session:
            if asker is None:
                writes.spend_ahead(session, self._clock().date(), seconds)
            else:
                token_writes.spend(session, int(number), self._clock().date(), seconds)

    def open_of(self, asker: str) -> int:
        """How many studies wait or run that an asker asked for."""
        with self._database.session() as session:
            return studies.count_open(session, store.built_in_person(session).id, asker)

    def spent(self) -> float:
        """Processor time that work ahead has taken today [s]."""
        with self._database.session() as session:
            return studies.spent_ahead(session, self._clock().date())

    def release(self) -> None:
        """Let go of every study of this process; the next process takes them up at once."""
        with self._writing() as session:
            writes.release_studies(session, self.holder)

    def left_behind(self) -> tuple[studies.StoredStudy, ...]:
        """Studies that have not come to an end and that nobody is at work on."""
        with self._database.session() as session:
            return tuple(one for one in studies.open_studies(session) if not self.is_held(one))

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        """One transaction, committed unless something is raised."""
        with self._database.session() as session, writing(session):
            yield session
