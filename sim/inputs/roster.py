"""People of a site who can be put on a roster, and the site's limits on their hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sim.errors import InputProblem
from sim.inputs.entry import flag, number, whole
from sim.inputs.rows import Amount, Cell, ClockCell, Day, Name, Rows, Several, cell
from sim.units import BY_NAME, parse_clock, parse_day, quantity, show_clock

DAY_S = 86400.0
WEEK = timedelta(days=7)
LOCAL_LAW = "guess; check it against local labour law"
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Away:
    """When somebody can't work: every week on one weekday, or on one date.

    Attributes:
        when: weekday, Monday 0 to Sunday 6, or a date.
        from_s, to_s: times of day between which they can't [s after midnight].
    """

    when: int | date
    from_s: float = 0.0
    to_s: float = DAY_S

    @classmethod
    def read(cls, text: str) -> Away:
        """As people write it: ``sat``, ``tue 0:00-12:00`` or ``2026-07-18``.

        Raises:
            ValueError: for anything else.
        """
        word, _, span = text.strip().partition(" ")
        is_weekday = word.lower()[:3] in WEEKDAYS and word.isalpha()
        when = WEEKDAYS.index(word.lower()[:3]) if is_weekday else parse_day(word)
        if not span.strip():
            return cls(when)
        start, dash, end = span.replace("–", "-").partition("-")
        if not dash:
            raise ValueError(text)
        return cls(when, parse_clock(start.strip()), parse_clock(end.strip()))

    def __str__(self) -> str:
        """The reverse of `read`."""
        when = str(self.when) if isinstance(self.when, date) else WEEKDAYS[self.when]
        if (self.from_s, self.to_s) == (0.0, DAY_S):
            return when
        return f"{when} {show_clock(self.from_s)}-{show_clock(self.to_s)}"


@dataclass(frozen=True, kw_only=True)
class AwayCell(Cell):
    """A time at which somebody can't work."""

    def read(self, text: str, system: str = BY_NAME) -> Away:
        return Away.read(text)

    def show(self, value: Away) -> str:
        return str(value)

    def wrong(self, value: Away, today: date | None) -> str:
        is_day = isinstance(value.when, date) or value.when in range(7)
        whole_minutes = value.from_s % 60.0 == value.to_s % 60.0 == 0.0
        fits = is_day and whole_minutes and 0.0 <= value.from_s < value.to_s <= DAY_S
        return "" if fits else self.fault

    def filling(self, value: Away) -> Mapping[str, object]:
        start, end = show_clock(value.from_s), show_clock(value.to_s)
        return {"when": value.when, "start": start, "end": end}


AWAY = (
    "“{name}” is away on {when} from {start} to {end}. Give a weekday or a date, and whole minutes, "
    "the end later, 24:00 at most."
)


def _amount(label: str, hint: str, default: float, high: float) -> float:
    """A number of a person's row, 0 or more."""
    amount = Amount(
        label=label, hint=hint, low=0, high=high,
        fault="{field} of “{name}” is {value}. Enter {low} to {high}.",
        unreadable="is not a number. Enter one, as in 37.5.",
    )
    made: float = cell(amount, default)
    return made


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who can be put on a roster.

    Attributes:
        name: as the site writes it, unique at the site, 1 to 40 characters.
        roles: what they can do, in the site's own words; empty for somebody who is new.
        wage_per_h: wage with on-costs [money/h].
        least_h, most_h: hours a week they must and may get [h]; the site's own limit holds as well.
    """

    name: str = cell(Name(label="Name", hint="As you write it. A name there is, is changed."))
    roles: tuple[str, ...] = cell(Several(
        part=Name(barred=";"), label="Can do", hint="Several parted by semicolons.",
    ), ())
    wage_per_h: float = _amount("Wage an hour, with on-costs", "20 if left empty.", 20.0, 200)
    least_h: float = _amount("Hours a week, least", "0 if left empty.", 0.0, 80)
    most_h: float = _amount("Hours a week, most", "40 if left empty.", 40.0, 80)
    away: tuple[Away, ...] = cell(Several(
        part=AwayCell(fault=AWAY), label="Can’t work", hint="As sat; tue 0:00-12:00; 2026-07-18.",
        unreadable="can’t be read. Write sat, tue 0:00-12:00 or 2026-07-18, several parted by "
        "semicolons.",
    ), ())


@dataclass(frozen=True, slots=True)
class HoursLimits:
    """The site's limits on shifts and hours. They are no statement of any law."""

    shortest_shift_h: float = number(4, "Shortest shift", "hours", 1, 12, LOCAL_LAW)
    longest_shift_h: float = number(
        8, "Longest shift", "hours", 1, 14, LOCAL_LAW,
        advice="With its break. Nobody has more than one shift a day.",
    )
    shift_step_h: float = number(2, "Step between lengths of shifts", "hours", 0.5, 8, "guess")
    start_every_h: float = number(
        1, "Step between starts of shifts", "hours", 0.5, 4, "guess",
        advice="Counted from the first half-hour in which somebody is needed.",
    )
    break_after_h: float = number(
        5, "Longest work without a break", "hours", 2, 12, LOCAL_LAW,
        advice="A longer shift has one break inside.",
    )
    break_h: float = number(0.5, "Length of a break", "hours", 0.5, 2, LOCAL_LAW)
    break_paid: bool = flag(False, "Breaks are paid", "guess")
    most_h_week: float = number(48, "Most hours a week", "hours", 1, 80, LOCAL_LAW)
    overtime_after_h: float = number(40, "Overtime begins after", "hours", 1, 80, LOCAL_LAW)
    overtime_factor: float = number(1.5, "Wage in overtime, times", "number", 1, 4, LOCAL_LAW)
    rest_h: float = number(11, "Rest between two shifts, least", "hours", 0, 24, LOCAL_LAW)
    most_days_week: int = whole(5, "Days of work a week, most", "number", 1, 7, LOCAL_LAW)
    most_weekend_days: int = whole(
        3, "Weekend days in two weeks, most", "number", 0, 4, "guess",
        advice="Last week’s and this week’s Saturdays and Sundays; keeps weekends fair.",
    )


def _unbroken(shift: PlannedShift) -> bool:
    return shift.break_start_s == shift.break_end_s


@dataclass(frozen=True, slots=True, order=True)
class PlannedShift:
    """One shift of a published roster, by name and day.

    Attributes:
        day: date in the site's time zone.
        name: who works; they may have left the site since.
        role: what they do; empty for whatever there is.
        start_s, end_s: on the site's clock [s after midnight].
        break_start_s, break_end_s: its break; both equal to the end if it has none.
    """

    day: date = cell(Day(column="date"))
    name: str = cell(Name())
    role: str = cell(Name(empty=""))
    start_s: float = cell(ClockCell(column="start"))
    end_s: float = cell(ClockCell(column="end"))
    break_start_s: float = cell(ClockCell(column="break_start", like="end_s", blank=_unbroken))
    break_end_s: float = cell(ClockCell(column="break_end", like="end_s", blank=_unbroken))

    @property
    def has_break(self) -> bool:
        """Whether it has a break."""
        return self.break_end_s > self.break_start_s

    def paid_h(self, limits: HoursLimits) -> float:
        """Hours that are paid and count as worked [h]."""
        unpaid = 0.0 if limits.break_paid else self.break_end_s - self.break_start_s
        return (self.end_s - self.start_s - unpaid) / 3600.0


@dataclass(frozen=True, slots=True)
class StaffBook:
    """People of a site in the order in which they were entered, and the shifts published."""

    people: tuple[Person, ...] = ()
    shifts: tuple[PlannedShift, ...] = ()

    def in_order(self) -> StaffBook:
        """The same with its shifts in order of days and names."""
        return StaffBook(self.people, tuple(sorted(self.shifts)))

    def on_day(self, day: date) -> tuple[PlannedShift, ...]:
        """The shifts of a day, in order of names."""
        return tuple(sorted(one for one in self.shifts if one.day == day))

    def in_week(self, monday: date) -> tuple[PlannedShift, ...]:
        """The shifts of a week, in order of days and names."""
        ends = monday + WEEK
        return tuple(sorted(one for one in self.shifts if monday <= one.day < ends))

    def with_week(self, monday: date, shifts: Iterable[PlannedShift]) -> StaffBook:
        """The same with a week's shifts in place of those it had."""
        held = set(self.in_week(monday))
        others = (one for one in self.shifts if one not in held)
        return StaffBook(self.people, (*others, *shifts)).in_order()


PEOPLE: Rows[Person] = Rows(
    Person, "staff.people", "staff", file="people.csv", what="staff", named=("name",),
    called="people", most=100,
    twice="There are {times} people “{name}”. Give each a name of their own.",
)
SHIFTS: Rows[PlannedShift] = Rows(
    PlannedShift, "staff.shifts", "staff_shifts", key=("day", "name"), file="rosters.csv",
    what="shift", named=("name", "day"), called="shifts", most=20_000,
    twice="“{name}” has {times} shifts on {day}. Leave one.", order=lambda shift: shift,
)


def shift_problems(limits: HoursLimits) -> list[InputProblem]:
    """Why no shift can be as a site's limits have it; each limit by itself is in its range."""
    ends = {
        "least": quantity(limits.shortest_shift_h, "hours"),
        "most": quantity(limits.longest_shift_h, "hours"),
    }
    problems = []
    if limits.shortest_shift_h > limits.longest_shift_h:
        sentence = "Shortest shift {least} is longer than the longest shift {most}. Swap them."
        problems.append(InputProblem("shortest_shift_h", sentence, ends))
    reach = 2.0 * limits.break_after_h + limits.break_h
    if limits.longest_shift_h > reach:
        sentence = (
            "Longest shift {most} needs more than one break. Enter at most {reach}, or let people "
            "work longer without a break."
        )
        filling = {**ends, "reach": quantity(reach, "hours")}
        problems.append(InputProblem("longest_shift_h", sentence, filling))
    return problems
