"""Reading the form of a weighing: several strips at once, in the units of a kitchen scale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from app.books.weighings import weather_line, weighing_problems
from app.pages.forms import PostedForm, text_of
from app.pages.writing import read_clock
from sim.errors import InputProblem, quoted
from sim.inputs import AFTERNOON, DAMP, SOAKED, WEIGHED, WEIGHINGS, SiteData, Weighing

WIPED = ("full", "reduced", "clock")
"""How cars had been wiped until then: in full, reduced, or reduced between two times."""
MOST_STRIPS = 12
LONGEST_WEIGHTS = 400
"""Characters of the weights of strips."""
MASS_UNITS = ("kg", "g", "oz", "lb")


def cells_of(kind: str) -> tuple[str, ...]:
    """Fields of the form of a weighing that are cells of its row, in order."""
    told = (name for name, cell in WEIGHED.cells.items() if kind in cell.only)
    return "weight_kg", "dry_kg", "day", *(() if kind == SOAKED else ("at_s", *told))


@dataclass(frozen=True, slots=True)
class WeighingRead:
    """A form of a weighing.

    Attributes:
        kind: which weighing it is; empty for none that there is.
        typed: the texts as they were typed, by the name of their field.
        weighings: one a strip; empty with problems.
        problems: of the fields of the form.
    """

    kind: str
    typed: Mapping[str, str]
    weighings: tuple[Weighing, ...]
    problems: tuple[InputProblem, ...]


def read_weighing(form: PostedForm, data: SiteData, today: date) -> WeighingRead:
    """Reads a form; a bare weight is in the small unit of the site's people, grams or ounces."""
    kind, system = text_of(form, "kind"), data.units
    names = (*cells_of(kind), "wiped", "from", "to")
    typed = {name: text_of(form, name).strip() for name in names}
    if kind not in WEIGHINGS:
        sentence = "“{kind}” is no weighing. Use soaked, damp or afternoon."
        return WeighingRead("", typed, (), (InputProblem("kind", sentence, {"kind": kind}),))
    problems: list[InputProblem] = []
    strips = _strips(typed["weight_kg"], system, problems)
    texts = {"at_s": "0:00", **typed, "kind": kind}
    if kind == AFTERNOON:
        texts["rule"] = _rule(typed, problems)
    if kind != SOAKED:
        texts |= _looked(kind, typed, problems)
        texts["weather"], wrong = weather_line(typed["weather"], system)
        problems += wrong
    read = (WEIGHED.read({**texts, "weight_kg": one}, problems, system) for one in strips or ["1"])
    found = tuple(item for item in list(read) if item is not None)
    if not problems:
        for item in found:
            problems += WEIGHED.problems_of(item, today)
            problems += weighing_problems(item, data.site)
    told = tuple(
        replace(p, field="wiped") if p.field == "rule" else p
        for p in {str(p): p for p in problems}.values()
    )
    return WeighingRead(kind, typed, () if told else found, told)


def _strips(text: str, system: str, problems: list[InputProblem]) -> list[str]:
    """The text of each strip, a number and what follows it."""
    strips: list[str] = []
    for word in text.replace(";", " ").split() if len(text) <= LONGEST_WEIGHTS else ():
        if any(letter.isdecimal() for letter in word):
            strips.append(word)
        elif strips and word.lower() in MASS_UNITS:
            strips[-1] += f" {word}"
        else:
            strips = []
            break
    if not 1 <= len(strips) <= MOST_STRIPS:
        sentence = (
            "Weight “{typed}” can’t be read. Enter the weight of a strip, or of up to {most} "
            "strips with a space between, as in {example}."
        )
        example = "310 295 322" if system == "si" else "10.9 10.4 11.4"
        filling = {"typed": quoted(text), "most": MOST_STRIPS, "example": example}
        problems.append(InputProblem("weight_kg", sentence, filling))
        return []
    return strips


def _looked(kind: str, typed: Mapping[str, str], problems: list[InputProblem]) -> Mapping[str, str]:
    """Cars looked at, and damp ones among them; none where nobody looked."""
    if not typed["damp_cars"] and kind != DAMP:
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
