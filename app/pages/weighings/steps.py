"""The three weighings as steps: what each tells, what to do, and its form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from app.catalogue import _, say
from app.pages.fields import FieldView
from app.pages.weighings.form import WeighingRead
from app.sites.reading import StoredSite
from sim.errors import InputProblem
from sim.inputs import AFTERNOON, CARS_LOOKED_AT, DAMP, SOAKED
from sim.units import UNITS, format_number


@dataclass(frozen=True, slots=True)
class Step:
    """One of the three weighings.

    Attributes:
        tells: what it tells; steps: what to do, in order.
        done: how many strips of it are stored, in words; empty for none.
        is_open: whether its form is open.
    """

    kind: str
    heading: str
    tells: str
    steps: tuple[str, ...]
    done: str
    fields: tuple[FieldView, ...]
    is_open: bool


def names_of() -> dict[str, str]:
    """What the three are called."""
    return {
        SOAKED: _("A soaked strip"),
        DAMP: _("A strip when cars come out damp"),
        AFTERNOON: _("A strip on a busy afternoon"),
    }


def _steps(kind: str) -> tuple[str, ...]:
    """What to do, in order; common practice, no source."""
    lock = _("Stop the wheel and the belt, lock both out and try the start.")
    several = _("Three strips from three places tell more than one.")
    cars = _(
        "When the line runs again, look at the next {count} cars and count those that come out "
        "with a damp hood or windshield.",
        count=CARS_LOOKED_AT,
    )
    if kind == SOAKED:
        return (
            lock,
            _(
                "Take a strip off, as the equipment’s own manual has it, and hang a spare in its "
                "place before the lock comes off. {several}",
                several=several,
            ),
            _("Soak it in a bucket for ten minutes, and hang it up."),
            _("Wait until no drop has fallen for a minute, then weigh it."),
            _("Dry it and weigh it again."),
        )
    if kind == DAMP:
        return (
            _(
                "Wait, on a day wiped in full, for the moment when cars begin to come out with "
                "damp hoods or windshields. If none has by the busiest hour, weigh then."
            ),
            lock,
            _(
                "Note the time and how many cars were washed so far today, take a strip off and "
                "weigh it within five minutes. {several}",
                several=several,
            ),
            _("Hang it back before the lock comes off."),
            cars,
        )
    return (
        _(
            "Wait for the middle of a busy afternoon, when the wheel has been at work for some "
            "hours and no dry set was put on."
        ),
        lock,
        _(
            "Note the time and how many cars were washed so far today, take a strip off and weigh "
            "it. {several}",
            several=several,
        ),
        _("Hang it back before the lock comes off."),
        cars,
    )


def _tells(kind: str) -> str:
    return {
        SOAKED: _("It tells how much water the cloth can hold."),
        DAMP: _("With the cars after it, it tells how wet the cloth may get."),
        AFTERNOON: _("It tells where the water that comes and the water that leaves balance."),
    }[kind]


def make_step(
    kind: str,
    stored: StoredSite,
    today: date,
    count: int,
    missing: Sequence[str],
    read: WeighingRead | None,
    problems: Sequence[InputProblem],
) -> Step:
    """A weighing with its form; what was typed in it stays, and what is wrong is beside it."""
    is_typed = read is not None and read.kind == kind
    typed = dict(read.typed) if read is not None and is_typed else {}
    system = stored.data.units
    wrong: dict[str, list[str]] = {}
    for problem in problems if is_typed else ():
        wrong.setdefault(problem.field, []).append(say(problem, system))
    done = ""
    if count:
        done = _("In: 1 strip.") if count == 1 else _("In: {count} strips.", count=count)
    return Step(
        kind,
        names_of()[kind],
        _tells(kind),
        _steps(kind),
        done,
        _fields(kind, stored, today, typed, wrong),
        is_typed or (read is None and missing[:1] == [kind]),
    )


def _fields(
    kind: str,
    stored: StoredSite,
    today: date,
    typed: Mapping[str, str],
    wrong: Mapping[str, Sequence[str]],
) -> tuple[FieldView, ...]:
    system = stored.data.units
    unit = UNITS["small_mass"]
    symbol = unit.symbol(system)
    dry = format_number(unit.to_edge(stored.data.site.wheel.strip_dry_mass_kg, system), 4)

    def view(
        name: str,
        label: str,
        value: str,
        hint: str = "",
        unit: str = "",
        choices: tuple[tuple[str, str], ...] = (),
        numeric: bool = False,
    ) -> FieldView:
        return FieldView(
            f"in-{kind}-{name}", name, label, typed.get(name, value), hint=hint, unit=unit,
            messages=tuple(wrong.get(name, ())), choices=choices, numeric=numeric,
            wide=not numeric,
        )  # fmt: skip

    several = _("Several strips with a space between. Write kg or lb after it for those.")
    found = [
        view("weight", _("Weight, wet"), "", several, symbol),
        view(
            "dry", _("Weight of the same strip, dry"), dry,
            _("As the Site page has it, unless you weighed it."), symbol, numeric=True,
        ),
        view("day", _("Day"), today.isoformat(), _("Year-month-day.")),
    ]  # fmt: skip
    if kind != SOAKED:
        unsaid = "" if kind == DAMP else _("Leave it empty if nobody looked.")
        found += [
            view("at", _("Time"), "", _("As 15:20.")),
            view(
                "cars", _("Cars looked at afterwards"), str(CARS_LOOKED_AT),
                _("The next ones, whatever they look like."), numeric=True,
            ),
            view("damp", _("Of those, damp"), "", unsaid, numeric=True),
            view(
                "so-far", _("Cars washed so far that day"), "",
                _(
                    "By the counter, when the strip was weighed. Empty if nobody knows: then "
                    "counts brought in later tell it."
                ), numeric=True,
            ),
            view(
                "weather", _("Weather that day, as felt"), "",
                _(
                    "Highest temperature and humidity, as in {example}. Empty for the weather "
                    "stored.",
                    example="33 °C, 70 %" if system == "si" else "91 °F, 70 %",
                ),
            ),
        ]  # fmt: skip
    if kind == AFTERNOON:
        ways = (
            ("full", _("all in full")),
            ("reduced", _("all reduced")),
            ("clock", _("reduced between two times")),
        )
        found += [
            view("wiped", _("How cars had been wiped that day"), "full", choices=ways),
            view("from", _("Reduced from"), "", _("Only if reduced between two times.")),
            view("to", _("Reduced until"), ""),
        ]
    return tuple(found)
