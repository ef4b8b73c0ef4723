"""What became of a room's faults, as it is printed and as it is kept in the record."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from scipy.stats import binomtest

from tests.seeds import ROOT_SEED

CAUGHT, ENDED, MISSED, UNRUN, OUTSIDE = "caught", "ended", "missed", "not run", "left out"
"""What becomes of a fault: a test fails; a test does not end; all pass; no test runs its line, so
that none can notice it; it can't be put in place."""
HEAD = (
    "| room | faults made | tried | noticed | share, 95 % interval | of them by a test that does "
    "not end | no test runs them | can't be put in place | minutes by the clock | of a processor "
    "| of that its tests without a fault |"
)


@dataclass(frozen=True, slots=True)
class Tried:
    """What became of a fault: one of the words above, and how long that took [s]."""

    text: str
    fate: str
    seconds: float


@dataclass(frozen=True, slots=True)
class RoomTried:
    """A room.

    Attributes:
        made: how many faults the operators make of it; `tried` may be a sample of them.
        seconds, used_s: by the clock and of a processor [s]; clean_s: processor time of its tests
            without a fault while their lines are noted [s].
        failing: tests that fail without any fault; then nothing was tried.
    """

    room: str
    made: int
    seconds: float
    used_s: float
    clean_s: float
    failing: tuple[str, ...]
    tried: tuple[Tried, ...]

    def count(self, *fates: str) -> int:
        """How many faults became one of these."""
        counted = Counter(one.fate for one in self.tried)
        return sum(counted[fate] for fate in fates)

    @property
    def noticed(self) -> int:
        """Faults that a test noticed."""
        return self.count(CAUGHT, ENDED)

    @property
    def placed(self) -> int:
        """Faults that were put in place."""
        return len(self.tried) - self.count(OUTSIDE)

    @property
    def share(self) -> str:
        """Share of the noticed in percent, with Wilson's interval where they are a sample (Wilson
        1927, Journal of the American Statistical Association 22, 209-212)."""
        if not self.placed:
            return "none tried"
        share = 100.0 * self.noticed / self.placed
        if len(self.tried) == self.made:
            return f"{share:.1f} %, all of them"
        found = binomtest(self.noticed, self.placed).proportion_ci(0.95, "wilson")
        return f"{share:.1f} %, {100.0 * found.low:.1f} to {100.0 * found.high:.1f} %"

    @property
    def missed(self) -> list[str]:
        """The faults that nobody noticed, each in a line."""
        return [f"{one.fate}: {one.text}" for one in self.tried if one.fate in (MISSED, UNRUN)]


def together(parts: Sequence[RoomTried]) -> RoomTried:
    """A room whose faults were dealt out one after another to several processes, as one of them
    would have told of it, but sooner."""
    dealt = zip_longest(*(one.tried for one in parts))
    return replace(
        parts[0],
        seconds=max(one.seconds for one in parts),
        used_s=sum(one.used_s for one in parts),
        clean_s=sum(one.clean_s for one in parts),
        failing=tuple(dict.fromkeys(name for one in parts for name in one.failing)),
        tried=tuple(one for turn in dealt for one in turn if one is not None),
    )


def rows_of(rooms: Sequence[RoomTried]) -> list[str]:
    """A line of the table for each room."""
    return [
        f"| {one.room} | {one.made:,} | {len(one.tried):,} | {one.noticed:,} | {one.share} "
        f"| {one.count(ENDED)} | {one.count(UNRUN)} | {one.count(OUTSIDE)} "
        f"| {one.seconds / 60.0:.1f} | {one.used_s / 60.0:.1f} | {one.clean_s / 60.0:.1f} |"
        for one in rooms
    ]


def record_text(
    rooms: Sequence[RoomTried], day: datetime.date, commit_ran: str, before: str = ""
) -> str:
    """The record in Markdown.

    Args:
        before: the record as it stands; its rows of other rooms stay.
    """
    when = f" {day.isoformat()} | {commit_ran} |"
    rows = {_cells(line)[0]: line for line in before.splitlines() if line.startswith("| ")}
    rows.pop(_cells(HEAD)[0], None)
    rows |= {one.room: row + when for one, row in zip(rooms, rows_of(rooms), strict=True)}
    told = [_cells(line) for line in rows.values()]
    noticed = sum(_whole(cells[3]) for cells in told)
    placed = sum(_whole(cells[2]) - _whole(cells[7]) for cells in told)
    minutes = sum(float(cells[9]) for cells in told)
    head = HEAD + " date | commit |"
    lines = [
        "# Record of faults made from the source",
        "",
        "Written by `make mutants`, each room's row as it was tried last, all of its faults or a "
        "sample; `DEVELOPERS.md` says how faults are made and tried.",
        "",
        f"- Root seed: {ROOT_SEED}",
        f"- Noticed: {noticed:,} of {placed:,}, in {minutes:.0f} minutes of a processor",
        "",
        head,
        "|---|" + "---:|" * (head.count("|") - 2),
        *rows.values(),
    ]
    return "\n".join(lines) + "\n"


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip("|").split("|")]


def _whole(cell: str) -> int:
    return int(cell.replace(",", ""))
