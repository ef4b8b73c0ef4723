"""What requests and answers look like: made of the rows and answers themselves, so that no field
stands twice.

Answers are the dataclasses that are stored and shown. Requests are strict models made of a row's
cells: what is named there alone may be sent, of the type that stands there.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any, Generic, Literal, TypeVar

from fastapi import Body, Query
from fastapi.responses import Response
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, create_model

from app.answers.serial import write
from app.api.problems import Fault, Refused
from app.books import SHORTEST_KEY, entry_problems, weighing_problems
from app.catalogue import _
from sim.errors import InputProblem, quoted
from sim.inputs import (
    COUNTS,
    COUNTS_OF,
    HOODS,
    INPUTS,
    LOG,
    MEASURED,
    WEIGHED,
    HourCount,
    LogEntry,
    Weighing,
)
from sim.inputs.logbook import ADVICE, LOGGED, STATES
from sim.inputs.rows import NEEDED, Amount, AnyRows, Cell, ClockCell, Whole, Word
from sim.inputs.rows import Day as DayCell
from sim.units import parse_day

T = TypeVar("T")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
LONGEST = 400
"""Characters of a text whose row names no longest."""
MOST_COUNTS = 1_000
"""Hours of counts in one request."""
MOST_WEIGHINGS = 50
ASKED = ("plan", "rule", "staff", "happened")
"""What a program may have worked out."""
JSON = "application/json"


def _day(value: object) -> object:
    """A date of its ISO 8601 form alone."""
    if isinstance(value, date) or value is None:
        return value
    if isinstance(value, str) and _DAY.fullmatch(value):
        return parse_day(value)
    raise ValueError("a date is year-month-day, as in 2026-07-18")


Day = Annotated[date, BeforeValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]
"""A date in the site's time zone."""


class Strict(BaseModel):
    """A body of which every part is named here, and of the very type that stands here."""

    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )


# ---- requests: rows ------------------------------------------------------------------------------


def _type_of(cell: Cell) -> Any:
    """What a cell holds, as a type with its bounds."""
    if isinstance(cell, DayCell):
        return Day
    if isinstance(cell, ClockCell):
        return Annotated[float, Field(ge=0.0, lt=86_400.0, multiple_of=60.0)]
    if isinstance(cell, Amount):
        low = {"gt" if cell.above else "ge": cell.low} if cell.low > -1e300 else {}
        high = {"le": cell.high} if cell.high < 1e300 else {}
        bounds: dict[str, Any] = {**low, **high}
        return Annotated[int if isinstance(cell, Whole) else float, Field(**bounds)]
    if isinstance(cell, Word) and cell.choices:
        return Literal[cell.choices]
    longest = cell.longest if isinstance(cell, Word) else 0
    return Annotated[str, Field(max_length=longest or LONGEST)]


def _fields(
    rows: AnyRows, blank: object, check: Callable[[Any], Iterable[InputProblem]], *but: str
) -> dict[str, Any]:
    """Fields of a model for rows of the kind of a blank one; what that lacks must be sent."""
    kind = getattr(blank, rows.kind) if rows.kind else ""
    lacks = {one.field for one in (*rows.problems_of(blank), *check(blank))}
    found = dict[str, Any]()
    for name, cell in rows.cells.items():
        says = cell.label or cell.column.replace("_", " ")
        if name in but or (cell.only and kind not in cell.only):
            continue
        if name == rows.kind:
            found[name] = (Literal[kind], Field(description=says))
        elif cell.empty is NEEDED or name in lacks:
            found[name] = (_type_of(cell), Field(description=says))
        else:
            of, empty = _type_of(cell), cell.empty
            found[name] = (of | None if empty is None else of, Field(empty, description=says))
    return found


AT = date(2026, 1, 1)
"""A day for rows that are only asked what they lack."""


def _entry(kind: str) -> type[Strict]:
    """An entry of the logbook of a kind; without day or time it is of now."""
    blank = LogEntry("x" * SHORTEST_KEY, AT, 0.0, kind)
    fields = _fields(LOG, blank, entry_problems, "key", "struck", "word")
    for name in ("day", "at_s"):
        of, told = fields[name]
        fields[name] = (of | None, Field(None, description=told.description))
    if kind in STATES:
        fields["word"] = (Literal[STATES[kind]], Field(description="What it says"))
    return create_model(f"Entry_{kind}", __base__=Strict, **fields)


def _weighing(kind: str) -> type[Strict]:
    """A weighing, or a look at hoods, of a kind."""
    dry_kg = 0.0 if kind == HOODS else INPUTS["strip_dry_mass_kg"].low
    blank = Weighing(kind, AT, 0.0, dry_kg=dry_kg)
    fields = _fields(WEIGHED, blank, weighing_problems)
    if kind != HOODS:
        of, told = fields["dry_kg"]
        fields["dry_kg"] = (of, Field(description=told.description))
    return create_model(f"Weighing_{kind}", __base__=Strict, **fields)


def _count() -> type[Strict]:
    """Cars counted in an hour."""
    blank = HourCount(AT, 0, 0, 0)
    return create_model("Count", __base__=Strict, **_fields(COUNTS, blank, lambda _row: ()))


ENTERED = tuple(kind for kind in LOGGED if kind != ADVICE)
"""Kinds of entry that somebody may make."""
if TYPE_CHECKING:
    AnyEntry = Strict
    AnyWeighing = Strict
    Count = Strict
    Counted = str
    WorkKind = str
else:
    AnyEntry = Annotated[reduce(or_, map(_entry, ENTERED)), Body(discriminator="kind")]
    AnyWeighing = Annotated[reduce(or_, map(_weighing, MEASURED)), Field(discriminator="kind")]
    Count = _count()
    Counted = Literal[COUNTS_OF]
    WorkKind = Literal[ASKED]


class Struck(Strict):
    """Whether an entry is taken back: it stays, and counts for nothing."""

    struck: bool


class CountsSent(Strict):
    """Hours of counts, each in place of the same; `version` is that of the site that was read."""

    version: Annotated[int, Field(ge=1)]
    counted: Counted
    counts: Annotated[list[Count], Field(min_length=1, max_length=MOST_COUNTS)]


class WeighingsSent(Strict):
    """Weighings to be added; `version` is that of the site that was read."""

    version: Annotated[int, Field(ge=1)]
    weighings: Annotated[list[AnyWeighing], Field(min_length=1, max_length=MOST_WEIGHINGS)]


class WorkSent(Strict):
    """What is to be worked out, of which day."""

    kind: WorkKind
    day: Day


# ---- answers -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SiteShown:
    """A site: its address, name, units that its people read, and the version to change it by.

    Attributes:
        today: the date there.
        open_h, close_h: opening, and last car accepted [h of the clock].
        counted: what its counts count.
    """

    slug: str
    name: str
    units: str
    version: int
    timezone: str
    today: date
    open_h: float
    close_h: float
    counted: str


class Paged(BaseModel, Generic[T]):
    """Some of many, and what is handed as `after` for those behind; null behind the last."""

    items: tuple[T, ...]
    after: str | None


class Answered(BaseModel, Generic[T]):
    """An answer as far as it is known, all in SI units.

    `state`: done; first, where a finer one may follow; working; asked for by nobody yet; failed; or
    nothing, where the day has nothing to work out. `says`: why there is no answer, in a sentence.
    """

    day: date
    state: Literal["done", "first", "working", "not asked for", "failed", "nothing"]
    says: str
    answer: T | None


class WeighingsShown(Paged[Weighing]):
    """Some weighings of a site, and the version to add to them by."""

    version: int


class Written(BaseModel):
    """What became of a change: the present version, and what was changed."""

    version: int
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WorkShown:
    """A piece of work: what it is, and how far.

    Attributes:
        key: names it. kind: what is worked out; of what programs can't ask for too.
        asked_at: when it was asked for last; null of an answer whose work is let go.
        state: waiting, running, done, cancelled, failed or broken off.
        done, total: parts. left_s: seconds that it still takes; null while that is not known.
        says: what went wrong, in a sentence.
    """

    key: str
    kind: str
    day: date
    asked_at: datetime | None
    state: str
    done: int
    total: int
    left_s: float | None
    says: str


# ---- pages of many -------------------------------------------------------------------------------

Limit = Annotated[int, Query(ge=1, le=500, description="How many at most")]
After = Annotated[
    str | None, Query(max_length=200, description="What the page before said of what follows")
]


def mark_of(*place: object) -> str:
    """What names a place in a list, by what never changes of it."""
    return base64.urlsafe_b64encode(json.dumps(place, default=str).encode()).decode()


def place_of(mark: str | None, length: int) -> list[Any] | None:
    """The place that a mark names; None for the beginning.

    Raises:
        Refused: for what is no mark.
    """
    if mark is None:
        return None
    try:
        place = json.loads(base64.b64decode(mark.encode("ascii"), b"-_", validate=True))
    except (ValueError, RecursionError):
        place = None
    if not isinstance(place, list) or len(place) != length:
        sentence = _("This is no place in a list. Send what the page before had under “after”.")
        raise Refused(422, faults=[Fault("after", sentence, quoted(mark))])
    return place


def paged(items: Sequence[T], limit: int, mark: Callable[[T], Sequence[object]]) -> Paged[T]:
    """The first of some items in order, at least one more of which was looked for."""
    shown = tuple(items[:limit])
    more = len(items) > limit
    return Paged[Any](items=shown, after=mark_of(*mark(shown[-1])) if more else None)


def shown(told: object, status: int = 200, **headers: str) -> Response:
    """An answer as JSON."""
    return Response(write(told), status, headers, JSON)
