"""The logbook: what a crew sees and does on a day, an entry each; and the checks it has to do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sim.inputs.rows import (
    NOT_A_MINUTE,
    Amount,
    ClockCell,
    Day,
    Name,
    Rows,
    Whole,
    Word,
    cell,
)

# ---- kinds of entry ------------------------------------------------------------------------------

CARS, HOUR, TURNED_AWAY = "cars", "hour", "turned"
DAMP_HOODS, STRIP, WIPING, SET_CHANGED = "damp", "strip", "wiping", "set"
WAIT = "wait"
STOP, ALARM, DEVICE = "stop", "alarm", "device"
CLAIM, FELT, TIMED, SOMEBODY, CHECK, NOTE, ADVICE = (
    "claim", "weather", "timed", "somebody", "check", "note", "advice",
)  # fmt: skip
LOGGED = (
    CARS, DAMP_HOODS, WIPING, STOP, TURNED_AWAY,
    HOUR, WAIT, STRIP, SET_CHANGED, ALARM, DEVICE, CLAIM, FELT, TIMED, SOMEBODY, CHECK, NOTE,
    ADVICE,
)  # fmt: skip
"""Kinds of entry, the five commonest first; the last is what Clothcast itself advised, as given."""
COMMON = LOGGED[:5]
COUNTED_IN = (CARS, HOUR, TURNED_AWAY)
"""Kinds whose count is of cars: washed so far that day, in the hour before, driven away since the
entry before of the kind."""
FULL, REDUCED = "full", "reduced"
CAME, LEFT = "came", "left"
FINE, OPEN = "fine", "open"
DOWN, REPAIRED = "down", "repaired"
STAY, REDUCE_NOW, REDUCE_LATER, GO_BACK = "stay", "reduce", "later", "back"
DAMAGE, COMPLAINT = "damage", "complaint"
STATES: dict[str, tuple[str, ...]] = {
    WIPING: (FULL, REDUCED),
    SOMEBODY: (CAME, LEFT),
    CHECK: (FINE, OPEN),
    DEVICE: (DOWN, REPAIRED),
    CLAIM: (DAMAGE, COMPLAINT),
    ADVICE: (STAY, REDUCE_NOW, REDUCE_LATER, GO_BACK),
}
"""What an entry of a kind says in a word; other kinds say none."""
NAMED = (SET_CHANGED, STOP, ALARM, DEVICE, TIMED, SOMEBODY, CHECK)
"""Kinds with a name: of the set, the cause, the alarm, the device, what was timed, the person, the
check."""
LASTED = (STOP, ALARM, DEVICE, WAIT)
"""Kinds that last: the belt stood, an alarm was on, a device was down, the last car waited."""
LONGEST_KEY = 64
LONGEST_TEXT = 400
DAY_S = 86_400.0
HOODS_MOST = 200

# ---- devices -------------------------------------------------------------------------------------

SAFETY_DEVICES = ("emergency_stop", "pull_cord", "guard_switch", "exit_sensor")
"""Devices that protect people or cars from each other and from the belt; nothing is ever planned
on running without one. Which ones a line has says its own manual; common practice, no source."""
DEVICES = (
    *SAFETY_DEVICES, "entry_sensor", "height_sensor", "roller_sensor", "wheel_drive", "blower",
    "other_device",
)  # fmt: skip
"""Devices that can be down. One that is not named here counts as a safety device until its manual
says otherwise."""


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry.

    Attributes:
        key: its identity, made where it was typed, so that what is sent twice is stored once.
        day: date in the site's time zone.
        at_s: time on the site's clock, a full minute [s after midnight].
        kind: one of `LOGGED`.
        count: cars, see `COUNTED_IN`; of hoods looked at, the damp ones. None for other kinds.
        of: hoods looked at, the last ones. None for other kinds.
        weight_kg: of a strip from the wheel [kg]. None for other kinds.
        lasted_s: how long it lasted [s]; None while that is not known. Of a wait, from joining the
            line until caught by the belt, paying apart, as the plan has it.
        word: one of `STATES` of its kind; empty for kinds without.
        name: see `NAMED`; empty for other kinds. A device is one of `DEVICES`,
            what was timed one of `sim.inputs.timed.TIMED_THINGS`.
        vehicle: key of the class of the car that it is about; empty where that is not known.
        reading: of a check, in the unit that the check has; None without one.
        text: in the crew's own words; of the weather as it is felt, as
            `sim.learn.expected_day.parse_override` reads it; of times, as
            `sim.inputs.timed.timed_cars` does; of an advice, its sentence; of a
            switch that was not planned, the reason.
        by: who noted it; empty if nobody said.
        struck: ``yes`` if it was taken back: it stays, and counts for nothing.
    """

    key: str = cell(Word(longest=LONGEST_KEY, column="entry"))
    day: date = cell(Day(
        column="date", label="Day", hint="Year-month-day.",
        to_come="{value} is still to come. Enter the day on which it happened.",
    ))
    at_s: float = cell(ClockCell(column="time", label="Time", hint="As 15:20.", fault=NOT_A_MINUTE))
    kind: str = cell(Word(
        longest=10, choices=LOGGED, fault="“{value}” is no kind of entry. Use {known}.",
    ))
    count: int | None = cell(Whole(
        label="How many", low=0, high=5000, only=(*COUNTED_IN, DAMP_HOODS),
        unreadable="is not a number of cars. Enter a whole number, as in 212.",
        fault="{value} cars can’t be. Enter {low} to {high}.",
    ), None)
    of: int | None = cell(Whole(
        label="Hoods looked at", low=1, high=HOODS_MOST, only=(DAMP_HOODS,),
        unreadable="is not a number of hoods. Enter how many were looked at, as in 20.",
        fault="{value} hoods can’t have been looked at. Enter {low} to {high}.",
    ), None)
    weight_kg: float | None = cell(Amount(
        label="Weight, wet", unit="small_mass", low=0.0, high=30.0, above=True, only=(STRIP,),
        unreadable="is not a weight. Enter a number, with kg, g, oz or lb if in another unit.",
        fault="A strip of {value} can’t be. Enter {low} to {high}.",
    ), None)
    lasted_s: float | None = cell(Amount(
        label="How long", unit="minutes_from_s", low=0.0, high=DAY_S, only=LASTED,
        unreadable="is not a number of minutes. Enter how long it lasted, as in 4.",
        fault="{value} can’t be. Enter {low} to {high}, or nothing while it lasts.",
    ), None)
    word: str = cell(Word(longest=10), "")
    name: str = cell(Name(label="Name", longest=60, only=NAMED), "")
    vehicle: str = cell(Word(label="Kind of car", longest=60, only=(STOP, ALARM, CLAIM)), "")
    reading: float | None = cell(Amount(
        label="Reading", low=-1e6, high=1e6, only=(CHECK,),
        unreadable="is not a number. Enter what the device shows, or nothing.",
        fault="A reading of {value} can’t be. Enter what the device shows, or nothing.",
    ), None)
    text: str = cell(Word(label="In your words", longest=LONGEST_TEXT), "")
    by: str = cell(Name(label="Who", longest=40), "")
    struck: str = cell(Word(
        longest=3, choices=("", "yes"),
        fault="“{value}” can’t be. Leave it empty, or write yes if it was taken back.",
    ), "")

    @property
    def counts(self) -> bool:
        """Whether it has not been taken back."""
        return not self.struck

    @property
    def place(self) -> tuple[date, float, str]:
        """Where it stands in the log."""
        return self.day, self.at_s, self.key


# ---- checks --------------------------------------------------------------------------------------

OPENING, WEEKLY, MONTHLY = "opening", "weekly", "monthly"
TIMES_OF_CHECKS = (OPENING, WEEKLY, MONTHLY)
CHECK_DAYS = {OPENING: 1, WEEKLY: 7, MONTHLY: 30}
"""How many days after it was done a check of a list is due again."""
GUARD, LADDER, LOCK_OUT, ELECTRIC = "guard", "ladder", "lock_out", "electric"
CHECK_CAUTIONS = (GUARD, LADDER, LOCK_OUT, ELECTRIC)


@dataclass(frozen=True, slots=True)
class CheckItem:
    """A check of a list that a site keeps.

    Attributes:
        name: as the list has it, unique at the site.
        when: one of `TIMES_OF_CHECKS`.
        how: what is looked at, in a sentence or two; the maker's list comes first.
        caution: one of `CHECK_CAUTIONS`; empty for the usual one.
        unit: of its reading, in the site's own words; empty for a check without one.
        low, high: range of the reading by the maker's manual; None where the site has not entered
            it.
    """

    name: str = cell(Name(label="Check", longest=60))
    when: str = cell(Word(
        label="List", longest=10, choices=TIMES_OF_CHECKS,
        fault="“{value}” is no list of checks. Use {known}.",
    ))
    how: str = cell(Word(label="What is looked at", longest=LONGEST_TEXT), "")
    caution: str = cell(Word(
        label="Caution", longest=10, choices=("", *CHECK_CAUTIONS),
        fault="“{value}” is no caution. Use guard, ladder, lock_out, electric, or nothing.",
    ), "")
    unit: str = cell(Word(label="Unit of its reading", longest=20), "")
    low: float | None = cell(
        Amount(label="Least by its manual", unreadable="is not a number. Enter one, or nothing."),
        None,
    )
    high: float | None = cell(
        Amount(label="Most by its manual", unreadable="is not a number. Enter one, or nothing."),
        None,
    )


DEFAULT_CHECKS = (
    CheckItem(
        "Lenses of the sensors", OPENING,
        "Clean and dry, and nothing hangs in front of them.",
    ),
    CheckItem("Fault lights", OPENING, "None is on at the control cabinet."),
    CheckItem("Self-test", OPENING, "As the control’s manual describes it, before the first car."),
    CheckItem(
        "Wheel runs free", OPENING,
        "Nothing is wound around it, no strip hangs by a thread; turned only as its manual says.",
        LOCK_OUT,
    ),
    CheckItem("Guards", OPENING, "All in place and closed, none held open.", GUARD),
    CheckItem("Emergency stops and pull cord", OPENING,
              "Within reach and free; tried as the manual says.", GUARD),
    CheckItem("Dry towels", OPENING, "Enough for the day at the exit."),
    CheckItem("Scale", OPENING, "Shows zero when empty."),
    CheckItem(
        "Height reading", WEEKLY,
        "Steady while nobody is on the belt and the belt stands.", "", "as shown",
    ),
    CheckItem("Open alarms", WEEKLY, "Each is closed, or somebody has it in hand."),
    CheckItem(
        "Fastenings of the cloth", MONTHLY,
        "Tight, none missing. A second person holds the ladder.", LADDER,
    ),
    CheckItem(
        "Length of the cloth", MONTHLY,
        "Of three strips, from the fastening to the end. A second person holds the ladder.",
        LADDER, "as measured",
    ),
)  # fmt: skip
"""What a site begins with that keeps no lists of its own; worded from general practice, no source:
the maker's list comes first."""


LOG: Rows[LogEntry] = Rows(
    LogEntry, "log", "log", key=("key",), file="logbook.csv", first=("day", "at_s", "kind"),
    what="log", named=("key",), called="entries",
    twice="Entry {key} stands there {times} times. Give each entry once.",
    order=lambda entry: entry.place, kind="kind",
)
CHECKS: Rows[CheckItem] = Rows(
    CheckItem, "checks", "checks", file="checks.csv", what="checks", named=("name",),
    called="checks", most=100, twice="There are {times} checks “{name}”. Give each a name of its own.",
)
