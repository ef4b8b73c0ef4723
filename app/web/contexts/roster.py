"""The page Roster: a week's grid, what is wrong with it, what it costs, and its forms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from app.catalogue import _, say, short_date
from app.services.reading import StoredSite
from app.services.roster import (
    PER_H,
    WEEK,
    Answer,
    Duty,
    Week,
    breach_record,
    cost_by_day,
    cost_in_all,
    duties_of,
    faults_in,
    roster_record,
)
from app.services.staff_files import away_text
from app.web.fields import FieldView, Summary, summary
from app.web.roster_form import PERSON_FIELDS, SHIFT_FIELDS, dates_of
from app.web.roster_words import LAW, breach, short_span, ways_out, weekday, why_none
from sim.errors import InputProblem
from sim.inputs import Person
from sim.units import format_number

Messages = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class GridRow:
    """Somebody's week: a cell a day, and their hours."""

    name: str
    cells: tuple[str, ...]
    hours: str


@dataclass(frozen=True, slots=True)
class RosterPage:
    """Everything the page shows.

    Attributes:
        lead, rest: the answer; `law` what to check.
        problems: rules broken; `ways` out where there is no roster.
        undo: version of the site whose shifts can be put back; empty for none.
    """

    slug: str
    monday: str
    before: str
    after: str
    version: int
    request_key: str
    lead: str
    rest: str
    law: str
    problems: tuple[str, ...]
    ways: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[GridRow, ...]
    costs: tuple[str, ...]
    total: str
    has_people: bool
    shift_fields: tuple[FieldView, ...]
    people: tuple[tuple[str, ...], ...]
    person_fields: tuple[FieldView, ...]
    undo: str
    summary: Summary | None
    stale: str
    done: str


def roster_page(
    site: StoredSite,
    monday: date,
    week: Week | None,
    request_key: str,
    *,
    answer: Answer | None = None,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[InputProblem] = (),
    undo: str = "",
    stale: str = "",
    done: str = "",
) -> RosterPage:
    """The page of a week; `week` is None for a site without people."""
    duties = duties_of(site.data.staff, monday)
    wrong: dict[str, list[str]] = {}
    for problem in problems:
        wrong.setdefault(problem.field, []).append(say(problem, site.data.units))
    lead, rest, ways = _answer(week, duties, answer, monday)
    faults = () if week is None or not duties else faults_in(week, duties)
    costs = ("",) * 7 if week is None else tuple(map(_money, cost_by_day(week, duties)))
    fields = [*SHIFT_FIELDS, *PERSON_FIELDS]
    return RosterPage(
        slug=site.slug,
        monday=monday.isoformat(),
        before=(monday - WEEK).isoformat(),
        after=(monday + WEEK).isoformat(),
        version=site.version,
        request_key=request_key,
        lead=lead,
        rest=rest,
        law=_(LAW),
        problems=tuple(breach(breach_record(one)) for one in faults),
        ways=ways,
        heads=tuple(f"{weekday(d)[:3]} {day.day}" for d, day in enumerate(dates_of(monday))),
        rows=_rows(week, duties),
        costs=costs,
        total="" if week is None else _money(cost_in_all(week, duties)),
        has_people=week is not None,
        shift_fields=_shift_fields(week, typed or {}, wrong),
        people=tuple(_person_cells(person) for person in site.data.staff.people),
        person_fields=_person_fields(typed or {}, wrong),
        undo=undo,
        summary=summary(problems, site.data.units, {name: f"#in-{name}" for name in fields}),
        stale=stale,
        done=done,
    )


def _money(amount: float) -> str:
    return format_number(round(amount)) if amount else "0"


def _answer(
    week: Week | None, duties: Sequence[Duty], answer: Answer | None, monday: date
) -> tuple[str, str, tuple[str, ...]]:
    if week is None:
        return (
            _("No roster can be made yet."),
            _("The site has no people. Enter them below, or bring them in with a folder."),
            (),
        )
    content: dict[str, Any] = {} if answer is None else roster_record(week, answer)
    if "conflict" in content:
        said = why_none(content["conflict"])
        return _("There is no roster for this week."), said, tuple(ways_out(content["conflict"]))
    if answer is not None and answer.unknown:
        return _("No roster was found in the time allowed."), _("None was ruled out either."), ()
    if not duties:
        sentence = _("The week from {day} has no roster yet.", day=short_date(monday))
        return sentence, _("Make one below: at least cost, then as little changed as can be."), ()
    names = {duty.name for duty in duties}
    lead = _("{people} people work {shifts} shifts.", people=len(names), shifts=len(duties))
    cost = _money(cost_in_all(week, duties))
    return lead, _("They cost {cost}, overtime included.", cost=cost), ()


def _rows(week: Week | None, duties: Sequence[Duty]) -> tuple[GridRow, ...]:
    if week is None:
        return ()
    listed = [person.name for person in week.people]
    gone = sorted({duty.name for duty in duties} - set(listed))
    rows = []
    for name in (*listed, *gone):
        cells = [""] * 7
        hours = 0.0
        for duty in duties:
            if duty.name == name:
                said = short_span(duty.shift.start / PER_H, duty.shift.end / PER_H)
                cells[duty.day] = f"{said} {duty.role}".strip()
                hours += duty.shift.paid_h(week.limits)
        rows.append(GridRow(name, tuple(cells), format_number(hours) if hours else "0"))
    return tuple(rows)


def _person_cells(person: Person) -> tuple[str, ...]:
    """Name, roles, wage, hours a week, when they can't work."""
    least, most = format_number(person.least_h), format_number(person.most_h)
    return (
        person.name,
        "; ".join(person.roles),
        format_number(person.wage_per_h),
        f"{least}–{most}",
        "; ".join(away_text(away) for away in person.away),
    )


def _shift_fields(
    week: Week | None, typed: Mapping[str, str], wrong: Messages
) -> tuple[FieldView, ...]:
    if week is None:
        return ()
    names = tuple((person.name, person.name) for person in week.people)
    days = tuple(
        (str(day), f"{weekday(day)} {(week.monday + timedelta(days=day)).day}") for day in range(7)
    )
    return (
        _field("who", _("Who"), typed, wrong, choices=names),
        _field("weekday", _("Day"), typed, wrong, choices=days),
        _field("start", _("Start"), typed, wrong, _("As 8:00; empty for a day off.")),
        _field("end", _("End"), typed, wrong, _("As 15:30; empty for a day off.")),
    )


def _person_fields(typed: Mapping[str, str], wrong: Messages) -> tuple[FieldView, ...]:
    return (
        _field("name", _("Name"), typed, wrong, _("As you write it. A name there is, is changed.")),
        _field("roles", _("Can do"), typed, wrong, _("Several parted by semicolons.")),
        _field("wage", _("Wage an hour, with on-costs"), typed, wrong, _("20 if left empty.")),
        _field("least", _("Hours a week, least"), typed, wrong, _("0 if left empty.")),
        _field("most", _("Hours a week, most"), typed, wrong, _("40 if left empty.")),
        _field("away", _("Can’t work"), typed, wrong, _("As sat; tue 0:00-12:00; 2026-07-18.")),
    )


def _field(
    name: str,
    label: str,
    typed: Mapping[str, str],
    wrong: Messages,
    hint: str = "",
    choices: tuple[tuple[str, str], ...] = (),
) -> FieldView:
    messages = tuple(wrong.get(name, ()))
    value = typed.get(name, "")
    return FieldView(
        f"in-{name}", name, label, value, hint=hint, messages=messages, choices=choices,
        numeric=False, wide=True,
    )  # fmt: skip
