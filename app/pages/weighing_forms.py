"""The forms of measurements: their fields, and what was typed in them as rows of the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from starlette.datastructures import FormData

from app.books import weather_line, weighing_problems
from app.catalogue import _
from app.pages.forms import FieldView, RowForm, text_of
from app.pages.writing import read_clock
from sim.errors import InputProblem, quoted
from sim.inputs import (
    AFTERNOON,
    CALL_BACK,
    CARS_LOOKED_AT,
    DAMP,
    HOODS,
    LET_PASS,
    MEASURED,
    SOAKED,
    SPIN,
    TOWEL,
    WEIGHED,
    SiteData,
    Weighing,
)
from sim.inputs.rows import Word
from sim.units import UNITS, format_number

WIPED = ("full", "reduced", "clock")
"""How cars had been wiped until then: in full, reduced, or reduced between two times."""
MOST_STRIPS = 12
"""Weights that one field may hold."""
LONGEST_WEIGHTS = 400
"""Characters of the weights of strips."""
MASS_UNITS = ("kg", "g", "oz", "lb")
TIME_UNITS = ("min", "s", "h")
USUAL_SPIN_MIN = 10
TOWELS = {
    "passed": ("Weights after hoods that would pass", LET_PASS),
    "called": ("Weights after hoods that would be called back", CALL_BACK),
}
"""Fields of the towel test: what each is called, and the verdict on its hoods."""


def cells_of(kind: str) -> tuple[str, ...]:
    """Fields of the form of a measurement that are cells of its row, in order."""
    told = tuple(name for name, cell in WEIGHED.cells.items() if kind in cell.only)
    if kind == SOAKED:
        return "weight_kg", "dry_kg", "day"
    if kind == TOWEL:
        return "dry_kg", "day", "cars", "damp_cars"
    if kind == SPIN:
        return "weight_kg", "dry_kg", "day", "at_s", "spun_s", "after_kg", "weather"
    others = tuple(name for name in told if name not in ("weight_kg", "dry_kg"))
    weights = () if kind == HOODS else ("weight_kg", "dry_kg")
    return (*weights, "day", "at_s", *others)


def is_wiping_asked(kind: str) -> bool:
    """Whether the form asks how cars had been wiped that day."""
    return kind in (AFTERNOON, HOODS)


LABELS = {
    (SPIN, "weight_kg"): "Weight before, wet",
    (SPIN, "at_s"): "When the wheel began to idle",
    (TOWEL, "dry_kg"): "Weight of the towel, dry",
    (TOWEL, "cars"): "Cars that went by until you had them all",
    (TOWEL, "damp_cars"): "Of those, cars to be called back",
    (HOODS, "cars"): "Hoods looked at",
}
"""Labels that are not those of the cell."""
HINTS = {
    (SPIN, "weight_kg"): "One strip, soaked or as it is.",
    (TOWEL, "dry_kg"): (
        "Before each hood. One weight for all, or one for each hood in the order of the two fields "
        "below."
    ),
    (TOWEL, "cars"): "Empty if nobody counted. Counted, the hoods tell much more.",
    (TOWEL, "damp_cars"): "Those with a towel and those without one.",
    (HOODS, "cars"): "The last ones before that time, before anybody dried them.",
}


def fields_of(form: RowForm, data: SiteData, today: date) -> tuple[FieldView, ...]:
    """The fields of the form of a measurement."""
    kind, system = form.name, data.units
    dry_kg = data.site.wheel.strip_dry_mass_kg
    dry = format_number(UNITS["small_mass"].to_edge(dry_kg, system), 4)
    values = {
        "dry_kg": "" if kind == TOWEL else dry,
        "day": today.isoformat(),
        "cars": "" if kind == TOWEL else str(CARS_LOOKED_AT),
        "spun_s": str(USUAL_SPIN_MIN),
    }
    hints = {
        "damp_cars": "" if kind in (DAMP, HOODS) else _("Leave it empty if nobody looked."),
        "weather": _(
            "Highest temperature and humidity, as in {example}. Empty for the weather stored.",
            example="33 °C, 70 %" if system == "si" else "91 °F, 70 %",
        ),
    }
    several = ("weight_kg", "after_kg", "spun_s") + (("dry_kg",) if kind == TOWEL else ())
    found = [
        form.field(
            WEIGHED.cells[name],
            values.get(name, ""),
            label=LABELS.get((kind, name), ""),
            hint=HINTS.get((kind, name), "") or hints.get(name, ""),
            numeric=False if name in several else None,
        )
        for name in cells_of(kind)
    ]
    if kind == TOWEL:
        found += [
            form.field(
                Word(name=name, label=label, hint="Five, with a space between."), numeric=False
            )
            for name, (label, _verdict) in TOWELS.items()
        ]
    if is_wiping_asked(kind):
        ways = (
            ("full", _("all in full")),
            ("reduced", _("all reduced")),
            ("clock", _("reduced between two times")),
        )
        only = _("Only if reduced between two times.")
        found += [
            form.field(
                Word(name="wiped", label="How cars had been wiped that day"), "full", choices=ways
            ),
            form.field(Word(name="from", label="Reduced from", hint=only)),
            form.field(Word(name="to", label="Reduced until")),
        ]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class WeighingRead:
    """A form of a measurement.

    Attributes:
        kind: which one it is; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        weighings: a row a strip, towel or time; empty with problems.
    """

    kind: str
    typed: Mapping[str, str]
    weighings: tuple[Weighing, ...]
    problems: tuple[InputProblem, ...]


def read_weighing(form: FormData, data: SiteData, today: date) -> WeighingRead:
    """Reads a form; a bare weight is in the small unit of the site's people, grams or ounces."""
    kind, system = text_of(form, "kind"), data.units
    names = (*cells_of(kind), "wiped", "from", "to", *TOWELS)
    typed = {name: text_of(form, name).strip() for name in names}
    if kind not in MEASURED:
        sentence = "“{kind}” is no weighing. Use {known}."
        filling = {"kind": quoted(kind), "known": ", ".join(MEASURED)}
        return WeighingRead("", typed, (), (InputProblem("kind", sentence, filling),))
    problems: list[InputProblem] = []
    texts = {"at_s": "0:00", **typed, "kind": kind}
    if is_wiping_asked(kind):
        texts["rule"] = _rule(typed, problems)
    if "damp_cars" in typed:
        texts |= _looked(kind, typed, problems)
    if "weather" in typed:
        texts["weather"], wrong = weather_line(typed["weather"], system)
        problems += wrong
    rows = _rows(kind, typed, system, problems) or [{}]
    read = (WEIGHED.read({**texts, **row}, problems, system) for row in rows)
    found = tuple(item for item in list(read) if item is not None)
    if not problems:
        for item in found:
            problems += WEIGHED.problems_of(item, today)
            problems += weighing_problems(item, data.site)
    told = tuple(
        replace(p, field=_field_of(kind, p)) for p in {str(p): p for p in problems}.values()
    )
    return WeighingRead(kind, typed, () if told else found, told)


def _field_of(kind: str, problem: InputProblem) -> str:
    """The field of a form that a problem of a row belongs to."""
    if kind == TOWEL and problem.field == "weight_kg":
        return "passed"
    return "wiped" if problem.field == "rule" else problem.field


def _rows(
    kind: str, typed: Mapping[str, str], system: str, problems: list[InputProblem]
) -> list[dict[str, str]]:
    """What differs from row to row of a measurement: one a strip, a towel or a time."""

    def weights(name: str) -> list[str]:
        return _several(name, typed[name], system, MASS_UNITS, problems)

    if kind == HOODS:
        return [{}]
    if kind == TOWEL:
        wet = [
            {"weight_kg": one, "verdict": verdict}
            for name, (_label, verdict) in TOWELS.items()
            for one in weights(name)
        ]
        dry = weights("dry_kg")
        if problems:
            return []
        if len(dry) not in (1, len(wet)):
            sentence = (
                "{dry} dry weights don’t go with {wet} hoods. Enter one for all, or one for each."
            )
            problems.append(InputProblem("dry_kg", sentence, {"dry": len(dry), "wet": len(wet)}))
            return []
        dries = dry * len(wet) if len(dry) == 1 else dry
        return [{**row, "dry_kg": one} for row, one in zip(wet, dries, strict=True)]
    strips = weights("weight_kg")
    if kind != SPIN:
        return [{"weight_kg": one} for one in strips]
    after = weights("after_kg")
    times = _several("spun_s", typed["spun_s"], system, TIME_UNITS, problems)
    if problems:
        return []
    if len(strips) != 1 or len(times) != len(after):
        field = "weight_kg" if len(strips) != 1 else "after_kg"
        sentence = (
            "{before} weights before, {times} times and {after} weights after don’t go together. "
            "Enter one strip, and a weight for each time."
        )
        filling = {"before": len(strips), "times": len(times), "after": len(after)}
        problems.append(InputProblem(field, sentence, filling))
        return []
    return [
        {"weight_kg": strips[0], "spun_s": time, "after_kg": one}
        for time, one in zip(times, after, strict=True)
    ]


def _several(
    name: str, text: str, system: str, units: tuple[str, ...], problems: list[InputProblem]
) -> list[str]:
    """The text of each of several amounts, a number and what follows it; none with a problem."""
    found: list[str] = []
    for word in text.replace(";", " ").split() if len(text) <= LONGEST_WEIGHTS else ():
        if any(letter.isdecimal() for letter in word):
            found.append(word)
        elif found and word.lower() in units:
            found[-1] += f" {word}"
        else:
            found = []
            break
    if 1 <= len(found) <= MOST_STRIPS:
        return found
    sentence = (
        "Weight “{typed}” can’t be read. Enter the weight of a strip, or of up to {most} "
        "strips with a space between, as in {example}."
    )
    example = "310 295 322" if system == "si" else "10.9 10.4 11.4"
    if name in (*TOWELS, "dry_kg"):
        sentence = (
            "Weight “{typed}” can’t be read. Enter what the towel weighed, up to {most} weights "
            "with a space between, as in {example}."
        )
    elif name == "spun_s":
        sentence = (
            "Time “{typed}” can’t be read. Enter the minutes that the wheel idled, up to {most} "
            "times with a space between, as in {example}."
        )
        example = "10 30"
    filling = {"typed": quoted(text), "most": MOST_STRIPS, "example": example}
    problems.append(InputProblem(name, sentence, filling))
    return []


def _looked(kind: str, typed: Mapping[str, str], problems: list[InputProblem]) -> Mapping[str, str]:
    """Cars looked at, and damp ones among them; none where nobody looked."""
    if not typed["damp_cars"] and (kind == AFTERNOON or (kind == TOWEL and not typed["cars"])):
        return {"cars": "", "damp_cars": ""}
    for name in ("cars", "damp_cars"):
        if not typed[name] or (name == "cars" and not typed[name].strip("0")):
            problems.append(WEIGHED.cells[name].unread(typed[name]))
            break
    return {}


def _rule(typed: Mapping[str, str], problems: list[InputProblem]) -> str:
    wiped = typed["wiped"] or "full"
    if wiped not in WIPED:
        sentence = "“{typed}” is no way of wiping. Choose one of the list."
        problems.append(InputProblem("wiped", sentence, {"typed": wiped}))
        return "full"
    if wiped != "clock":
        return wiped
    count = len(problems)
    read_clock("from", typed["from"], problems)
    read_clock("to", typed["to"], problems)
    return "full" if len(problems) > count else f"clock {typed['from']}-{typed['to']}"
