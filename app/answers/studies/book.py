"""Who computes which study: leases in the database, and whether their holder is gone."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path

from app.db import store, writes
from app.db.session import Database, Session, begin_write

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


MOST_OPEN = 12
"""Studies that may wait or run for one person: a week of staff, and a page of each kind."""


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
    ) -> bool:
        """Write a study down as waiting, for the built-in person, unless it is open already; False
        if it is answered, or if the person has too many open ones. With a reason nobody asked."""
        with self._writing() as session:
            if store.is_final(session, key):
                writes.end_open_study(session, key, "done", self._clock())
                return False
            study, person = store.find_study(session, key), store.built_in_person(session)
            is_open = study is not None and study.is_open
            if not is_open and not reason and store.count_open(session, person.id) >= MOST_OPEN:
                return False
            writes.ask_study(
                session, key, kind=kind, site_id=site_id, day=day, person_id=person.id, at=at,
                total=total, reason=reason,
            )  # fmt: skip
        return True

    def claim(self, key: str) -> bool:
        """Take a study that nobody is at work on; False if it can't be had."""
        with self._writing() as session:
            study = store.find_study(session, key)
            if study is not None and is_gone(study.holder):
                writes.release_studies(session, study.holder)
            return writes.claim_study(session, key, self.holder, self._clock())

    def is_held(self, study: store.StoredStudy) -> bool:
        """Whether a process is at work on a study, as far as is known."""
        return study.is_held(self._clock()) and not is_gone(study.holder)

    def beat(self, key: str, done: int) -> bool:
        """Tell how far a study is and keep it; False if it is this process's no more."""
        with self._writing() as session:
            return writes.beat_study(session, key, self.holder, done=done, now=self._clock())

    def fail(self, key: str, sentence: str) -> None:
        """End a study of this process with what went wrong."""
        with self._writing() as session:
            writes.end_held_study(session, key, self.holder, "failed", sentence)

    def break_off(self, key: str, is_held_too: bool = False) -> None:
        """End a study, because its question is asked no more; unless told, only one that nobody
        is at work on."""
        with self._writing() as session:
            study = store.find_study(session, key)
            is_held_too = is_held_too or (study is not None and is_gone(study.holder))
            lapsed_at = None if is_held_too else self._clock()
            writes.end_open_study(session, key, "broken off", lapsed_at)

    def forget_ahead(self, key: str, holder: str = "") -> None:
        """Forget a study that was begun ahead, by this process unless told, and has not ended."""
        with self._writing() as session:
            writes.forget_ahead(session, key, holder or self.holder)

    def count_before(self, study: store.StoredStudy) -> int:
        """How many of its kind that somebody asked for come before one that waits."""
        with self._database.session() as session:
            return sum(
                one.kind == study.kind
                and not one.reason
                and (self.is_held(one) or one.asked_at < study.asked_at)
                for one in store.open_studies(session)
                if one.key != study.key
            )

    def spend(self, seconds: float) -> None:
        """Count processor time that work ahead took today [s]."""
        with self._writing() as session:
            writes.spend_ahead(session, self._clock().date(), seconds)

    def spent(self) -> float:
        """Processor time that work ahead has taken today [s]."""
        with self._database.session() as session:
            return store.spent_ahead(session, self._clock().date())

    def release(self) -> None:
        """Let go of every study of this process; the next process takes them up at once."""
        with self._writing() as session:
            writes.release_studies(session, self.holder)

    def left_behind(self) -> tuple[store.StoredStudy, ...]:
        """Studies that have not come to an end and that nobody is at work on."""
        with self._database.session() as session:
            return tuple(one for one in store.open_studies(session) if not self.is_held(one))

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        """One transaction, committed unless something is raised."""
        with self._database.session() as session:
            begin_write(session)
            yield session
            session.commit()
