"""What a site must be to be stored: the rules of `sim.checks`, and those of its past."""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

from app.books import BOOKS
from sim.checks import check_site, or_refusal, safety_problem
from sim.day.rules import parse_changes, parse_rule
from sim.errors import InputError, InputProblem, nearest
from sim.inputs import (
    COUNTED,
    INPUTS,
    LISTS,
    MOST_SCENARIOS,
    PAST,
    Entry,
    History,
    Scenario,
    Site,
    SiteData,
    Value,
    unknown_input,
)
from sim.learn.expected_day import parse_override
from sim.units import SYSTEMS

LONGEST_SLUG = 60
RESERVED = frozenset({"about", "guide", "sites", "static"})
"""First parts of addresses that are pages of their own."""
LONGEST_NAME = 60


def check_data(data: SiteData) -> list[InputProblem]:
    """Every reason why a site with its past may not be stored."""
    problems = [unknown_input(name) for name in sorted(data.given) if name not in INPUTS]
    if data.units not in SYSTEMS:
        sentence = "Units “{units}” are not known. Use us or si."
        problems.append(InputProblem("units", sentence, {"units": data.units}))
    problems += check_storable(data.site) + check_history(data.history)
    return problems + [p for book in BOOKS.values() for p in book.problems(data)]


def check_storable(site: Site) -> list[InputProblem]:
    """Every reason why a site without its past may not be stored."""
    problems = [*_name_problems(site.name), *_timezone_problems(site.timezone)]
    shapes = [p for name, value in site.values().items() for p in _shape(INPUTS[name], value)]
    # The rules of the computation take the shape of a timetable for granted.
    return problems + (shapes or check_site(site))


def check_history(history: History) -> list[InputProblem]:
    """Every hour and day that cannot be stored, and hours or days that stand there twice."""
    problems: list[InputProblem] = []
    if history.counted not in COUNTED:
        sentence = "“{counted}” is not what can be counted. Use arrived, washed or typed."
        problems.append(InputProblem("counted", sentence, {"counted": history.counted}))
    past = SiteData(Site(""), history=history)
    return problems + [p for rows in PAST for p in rows.problems(rows.of(past))]


def check_storable_scenarios(site: Site, scenarios: Sequence[Scenario]) -> list[InputProblem]:
    """Every reason why scenarios may not be stored, each told with the scenario's name."""
    problems: list[InputProblem] = []
    if not 1 <= len(scenarios) <= MOST_SCENARIOS:
        sentence = "{count} scenarios can't be compared. Keep 1 to {most}."
        filling: dict[str, object] = {"count": len(scenarios), "most": MOST_SCENARIOS}
        problems.append(InputProblem("scenarios", sentence, filling))
    names = Counter(item.name for item in scenarios)
    for name, times in names.items():
        if not 1 <= len(name.strip()) <= LONGEST_NAME:
            sentence = "Scenario name “{name}” can't be used. Enter 1 to {most} characters."
            filling = {"name": name, "most": LONGEST_NAME}
            problems.append(InputProblem("scenario", sentence, filling))
        if times > 1:
            sentence = "Two scenarios are called “{name}”. Give each its own name."
            problems.append(InputProblem("scenario", sentence, {"name": name}))
    for item in scenarios:
        for p in _scenario_problems(site, item):
            values = {**p.values, "scenario": item.name}
            problems.append(InputProblem(p.field, "{scenario}: " + p.sentence, values, p.where))
    return problems


def _scenario_problems(site: Site, item: Scenario) -> list[InputProblem]:
    found = [unknown_input(name) for name in item.changes if name not in INPUTS]
    if not found:
        site = site.with_values(item.changes)
        found = check_storable(site)
    refusal = safety_problem("scenario", item.name)
    if refusal is not None:
        found.append(refusal)
    try:
        parse_rule(item.rule, [known.key for known in site.vehicles])
    except InputError as fault:
        found += or_refusal("rule", item.rule, fault.problems)
    try:
        parse_changes(item.cloth, site.wear.sets_owned)
    except InputError as fault:
        found += or_refusal("cloth", item.cloth, fault.problems)
    return found


def check_expect(expect: str, units: str) -> list[InputProblem]:
    """Every reason why a line typed over the expected day may not be stored."""
    try:
        parse_override(expect, units)
    except InputError as fault:
        return list(fault.problems)
    return []


def slug_for(name: str, taken: Iterable[str]) -> str:
    """A short name for addresses, neither `taken` nor a page's own: a–z, digits, hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].rstrip("-") or "site"
    used = RESERVED | set(taken)
    number = 1
    slug = stem
    while slug in used:
        number += 1
        slug = f"{stem}-{number}"
    return slug


def name_taken(name: str, others: Iterable[str]) -> list[InputProblem]:
    """The refusal of a site's name that another one has, in whatever capitals."""
    for other in others:
        if other.casefold() == name.casefold():
            sentence = "A site called “{name}” is there already. Choose another name."
            return [InputProblem("name", sentence, {"name": other})]
    return []


def _name_problems(name: str) -> Iterable[InputProblem]:
    if name != name.strip() or not name.isprintable():
        sentence = "Name “{name}” can't be used. Write it on one line without spaces at its ends."
        yield InputProblem("name", sentence, {"name": name.strip()})


@cache
def _zones() -> frozenset[str]:
    """Every time zone, looked for in the machine's files once."""
    return frozenset(available_timezones())


def _timezone_problems(timezone: str) -> Iterable[InputProblem]:
    try:
        ZoneInfo(timezone)
    except (ValueError, OSError, LookupError):  # a bad path, a folder, a name nobody knows
        near = nearest(timezone, _zones(), cutoff=0.5)
        filling = {"timezone": timezone, "near": near[0] if near else "America/New_York"}
        sentence = "Time zone “{timezone}” is not known. Enter one such as {near}."
        yield InputProblem("timezone", sentence, filling)


def _shape(entry: Entry, value: Value) -> Iterable[InputProblem]:
    filling: dict[str, object] = {"label": entry.label, "value": value}
    if entry.kind == "steps":
        rows = value if isinstance(value, tuple) else (value,)
        if not all(isinstance(row, tuple) and len(row) == 2 for row in rows):
            sentence = "{label} “{value}” is not a timetable. Write rows of a time and a value."
            yield InputProblem(entry.name, sentence, filling)
            return
        starts = [float(row[0]) for row in rows if isinstance(row, tuple)]
        in_order = all(a < b for a, b in pairwise(starts))
        if starts and (starts[0] != 0 or not in_order or starts[-1] > 86400):
            sentence = "{label}: times must begin at 0:00 and follow one another, up to 24:00."
            yield InputProblem(entry.name, sentence, filling)
    elif entry.kind in LISTS:
        if not isinstance(value, tuple):
            sentence = "{label} “{value}” is not a list of numbers. Write one after another."
            yield InputProblem(entry.name, sentence, filling)
    elif isinstance(value, tuple):
        sentence = "{label} “{value}” is a list. Enter a single value."
        yield InputProblem(entry.name, sentence, filling)
    if not all(math.isfinite(amount) for amount in _amounts(value)):
        sentence = "{label} “{value}” is not finite. Enter {low} to {high}."
        filling |= entry.limits()
        yield InputProblem(entry.name, sentence, filling)


def _amounts(value: object) -> Iterable[float]:
    if isinstance(value, tuple):
        for part in value:
            yield from _amounts(part)
    elif isinstance(value, float):
        yield value
