"""What pages say of studies: how far, how long still, who asked, and what became of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.answers.kinds import StudyLine
from app.answers.studies.runner import Progress
from app.catalogue import _, long_date
from app.words.numbers import whole
from app.words.phrases import moment


@dataclass(frozen=True, slots=True)
class StudyProgress:
    """How far a computation is, on the page that waits for it.

    Attributes:
        done, total: steps.
        key: names the study, for the button that stops it.
        left: how long it still takes, in words; empty while that isn't known.
        turn: how many come before it, in a sentence; empty where it runs.
    """

    done: int
    total: int
    key: str = ""
    left: str = ""
    turn: str = ""


@dataclass(frozen=True, slots=True)
class StudyEntry:
    """A study in the list.

    Attributes:
        label, href: what it is and where its answer is shown.
        state: what has become of it, in words; far: steps done, in words.
        left: how long it still takes; empty where that isn't known or it has ended.
        asked: who asked, and when.
        can_stop: whether it waits or runs.
    """

    key: str
    label: str
    href: str
    state: str
    done: int
    total: int
    far: str
    left: str
    asked: str
    can_stop: bool


@dataclass(frozen=True, slots=True)
class StudiesPage:
    """The list of a site's studies: those that wait or run, and those that have ended."""

    slug: str
    answer: str
    running: tuple[StudyEntry, ...]
    ended: tuple[StudyEntry, ...]


def waiting(progress: Progress, key: str) -> StudyProgress:
    """How far the study of a page is."""
    left, turn = left_words(progress.left_s), turn_words(progress.ahead)
    return StudyProgress(progress.done, progress.total, key, left, turn)


def turn_words(ahead: int) -> str:
    """How many studies come before one that waits; empty for none."""
    if ahead == 0:
        return ""
    if ahead == 1:
        return _("Waits for its turn: one study of its kind comes before it.")
    return _("Waits for its turn: {count} studies of its kind come before it.", count=ahead)


def left_words(left_s: float | None) -> str:
    """Time left without digits that nobody can know: ``about 20 s left``; empty for None."""
    if left_s is None:
        return ""
    if left_s <= 5.0:
        return _("a few seconds left")
    if left_s < 60.0:
        step = 5 if left_s < 30.0 else 10
        return _("about {count} s left", count=step * math.ceil(left_s / step))
    minutes = math.ceil(left_s / 60.0)
    if minutes <= 90:
        return _("about {count} min left", count=minutes if minutes < 20 else 5 * -(-minutes // 5))
    return _("about {count} h left", count=math.ceil(left_s / 3600.0))


def refining_words(progress: Progress | None, failed: str, days: int, most: int) -> str:
    """The quiet line under a first answer, which a finer one will replace."""
    if failed:
        return _(
            "These figures come from {days} simulated days. They were to be refined: {failed} "
            "Compute begins it again.",
            days=whole(days),
            failed=failed,
        )
    if progress is None:
        return ""
    return _(
        "Being refined: these figures come from {days} simulated days, at your next visit from up "
        "to {most}.",
        days=whole(days),
        most=whole(most),
    )


def studies_page(slug: str, timezone: str, lines: Sequence[StudyLine]) -> StudiesPage:
    """The list, asked last first."""
    entries = [_entry(slug, timezone, line) for line in lines]
    running = tuple(entry for entry in entries if entry.can_stop)
    ended = tuple(entry for entry in entries if not entry.can_stop)
    if not running:
        answer = _("Nothing is being computed.")
    elif len(running) == 1:
        answer = _("One study is under way.")
    else:
        answer = _("{count} studies are under way.", count=len(running))
    return StudiesPage(slug, answer, running, ended)


def _entry(slug: str, timezone: str, line: StudyLine) -> StudyEntry:
    study, progress = line.study, line.progress
    done, total = (progress.done, progress.total) if progress else (study.done, study.total)
    steps = _(line.steps)
    far = _("{done} of {total} {steps}", done=whole(done), total=whole(total), steps=steps)
    if study.state == "done":
        far = _("{total} {steps}", total=whole(total), steps=steps)
    return StudyEntry(
        study.key,
        _("{kind}, {day}", kind=_(line.label), day=long_date(study.day, year=True)),
        f"/{slug}/{line.page}",
        _state_words(line),
        done,
        total,
        far if (study.state == "running" and progress) or study.state == "done" else "",
        left_words(progress.left_s) if progress else "",
        _("asked by {person}, {at}", person=study.person, at=moment(study.asked_at, timezone)),
        line.is_open,
    )


def _state_words(line: StudyLine) -> str:
    if line.ended:
        return line.ended
    return {
        "waiting": turn_words(line.progress.ahead if line.progress else 0)
        or _("Waits for its turn."),
        "running": _("Running."),
        "done": _("Done."),
    }[line.study.state]


def as_content(page: StudiesPage) -> dict[str, object]:
    """The list as plain content for JSON."""
    return {
        "schema": "clothcast.studies/1",
        "studies": [
            {
                "key": entry.key, "label": entry.label, "page": entry.href, "state": entry.state,
                "done": entry.done, "total": entry.total, "left": entry.left,
                "asked": entry.asked, "is_open": entry.can_stop,
            }
            for entry in (*page.running, *page.ended)
        ],
    }  # fmt: skip
