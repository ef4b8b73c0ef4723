"""Reading the form of a weighing: several strips at once, in the units of a kitchen scale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from app.books.weighing_checks import weather_line, weighing_problems
from app.pages.forms import PostedForm, text_of
from app.pages.writing import read_clock, read_day
from sim.errors import InputProblem, quoted
from sim.inputs import AFTERNOON, CARS_LOOKED_AT, DAMP, SOAKED, WEIGHINGS, Site, Weighing
from sim.units import UNITS, parse_quantity, whole_number

FIELDS = (
    "weight", "dry", "day", "at", "cars", "damp", "so-far", "weather", "wiped", "from", "to",
)  # fmt: skip
WIPED = ("full", "reduced", "clock")
"""How cars had been wiped until then: in full, reduced, or reduced between two times."""
MOST_STRIPS = 12
LONGEST_WEIGHTS = 400
"""Characters of the weights of strips."""
MASS_UNITS = ("kg", "g", "oz", "lb")


@dataclass(frozen=True, slots=True)
class WeighingRead:
    """A form of a weighing.

    Attributes:
        kind: which weighing it is; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        weighings: one a strip; empty with problems.
        problems: of the fields of `FIELDS`.
    """

    kind: str
    typed: Mapping[str, str]
    weighings: tuple[Weighing, ...]
    problems: tuple[InputProblem, ...]


def read_weighing(form: PostedForm, site: Site, system: str, today: date) -> WeighingRead:
    """Reads a form; a bare weight is in the small unit of `system`, grams or ounces."""
    kind = text_of(form, "kind")
    typed = {name: text_of(form, name).strip() for name in FIELDS}
    if kind not in WEIGHINGS:
        sentence = "“{kind}” is no weighing. Use soaked, damp or afternoon."
        return WeighingRead("", typed, (), (InputProblem("kind", sentence, {"kind": kind}),))
    problems: list[InputProblem] = []
    weights = _weights(typed["weight"], system, problems)
    dry = _mass("dry", typed["dry"], system, problems)
    day = _day(typed["day"], today, problems)
    at_s = 0.0 if kind == SOAKED else read_clock("at", typed["at"], problems)
    rule = "full" if kind != AFTERNOON else _rule(typed, problems)
    cars, damp = (0, 0) if kind == SOAKED else _counts(kind, typed, problems)
    so_far, weather = (0, "") if kind == SOAKED else _day_had(typed, system, problems)
    if problems:
        return WeighingRead(kind, typed, (), tuple(problems))
    found = tuple(
        Weighing(kind, day, at_s, weight, dry, rule, cars, damp, so_far, weather)
        for weight in weights
    )
    wrong = {str(p): p for item in found for p in weighing_problems(item, site)}
    fields = {"rule": "wiped", "damp_cars": "damp", "cars_so_far": "so-far"}
    told = [replace(p, field=fields.get(p.field, p.field)) for p in wrong.values()]
    return WeighingRead(kind, typed, () if told else found, tuple(told))


def _weights(text: str, system: str, problems: list[InputProblem]) -> list[float]:
    strips = _strips(text) if len(text) <= LONGEST_WEIGHTS else []
    if not 1 <= len(strips) <= MOST_STRIPS:
        sentence = (
            "Weight “{typed}” can’t be read. Enter the weight of a strip, or of up to {most} "
            "strips with a space between, as in {example}."
        )
        example = "310 295 322" if system == "si" else "10.9 10.4 11.4"
        filling = {"typed": quoted(text), "most": MOST_STRIPS, "example": example}
        problems.append(InputProblem("weight", sentence, filling))
        return []
    return [_mass("weight", strip, system, problems) for strip in strips]


def _strips(text: str) -> list[str]:
    """The text of each strip, a number and what follows it; none if there is anything else."""
    strips: list[str] = []
    for word in text.replace(";", " ").split():
        if any(letter.isdecimal() for letter in word):
            strips.append(word)
        elif strips and word.lower() in MASS_UNITS:
            strips[-1] += f" {word}"
        else:
            return []
    return strips


def _mass(name: str, text: str, system: str, problems: list[InputProblem]) -> float:
    """A mass [kg]; a unit of either system may be typed with it."""
    for unit in ("small_mass", "mass"):
        try:
            return parse_quantity(text, UNITS[unit], system)
        except ValueError:
            continue
    label = {"weight": "Weight", "dry": "Dry weight"}[name]
    sentence = "{label} “{typed}” is not a weight. Enter {unit}, or a number with kg, g, oz or lb."
    unit = "grams" if system == "si" else "ounces"
    problems.append(
        InputProblem(name, sentence, {"label": label, "typed": quoted(text), "unit": unit})
    )
    return 1.0


def _day(text: str, today: date, problems: list[InputProblem]) -> date:
    day = read_day("day", text, problems)
    if day is not None and day > today:
        sentence = "{day} is still to come. Enter the day on which the strip was weighed."
        problems.append(InputProblem("day", sentence, {"day": text}))
    return day or today


def _counts(kind: str, typed: Mapping[str, str], problems: list[InputProblem]) -> tuple[int, int]:
    """Cars looked at, and damp ones among them; none where nobody looked."""
    if not typed["damp"] and kind != DAMP:
        return 0, 0
    found = []
    for name, label in (("cars", "Cars looked at"), ("damp", "Damp cars")):
        text = typed[name]
        number = whole_number(text)
        if number is None or (name == "cars" and not number):
            sentence = (
                "{label} “{typed}” is not a number of cars. Look at the next {cars} cars, and "
                "enter how many came out with a damp hood or windshield; 0 for none."
            )
            filling = {"label": label, "typed": quoted(text), "cars": CARS_LOOKED_AT}
            problems.append(InputProblem(name, sentence, filling))
            return 0, 0
        found.append(number)
    return found[0], found[1]


def _day_had(
    typed: Mapping[str, str], system: str, problems: list[InputProblem]
) -> tuple[int, str]:
    """Cars washed so far, and the weather as felt with its units; none where nothing was noted."""
    text = typed["so-far"]
    so_far = whole_number(text or "0")
    if so_far is None:
        sentence = (
            "Cars washed so far “{typed}” is not a number of cars. Enter what the counter shows "
            "for today, or nothing."
        )
        problems.append(InputProblem("so-far", sentence, {"typed": quoted(text)}))
    weather, wrong = weather_line(typed["weather"], system)
    problems += wrong
    return so_far or 0, weather


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


__all__ = ["AFTERNOON", "DAMP", "SOAKED", "WeighingRead", "read_weighing"]
