"""Today in a few sentences: what to do, a line for each page behind it, and the next days."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from app.answers.planning import ExpectedDay
from app.answers.today import Cover, StripDay, TodayFound
from app.catalogue import _, _n, long_date
from app.words import cloth as cloth_words
from app.words.answer import answer_sentences
from app.words.checks import ready_words
from app.words.drift import change_lead
from app.words.figures import cells_of
from app.words.numbers import about, about_dollars, clock, degrees, one_in
from app.words.phrases import Statement, joined
from app.words.rules import act_words, windows_of
from app.words.staff import in_spells, who_comes
from app.words.switching import spells_words, switch_sure
from app.words.weighings import NAMES
from sim.day.figures import FIGURES
from sim.decide.answer import Column
from sim.decide.cloth.answer import ClothAnswer
from sim.decide.switching.answer import Rule
from sim.inputs import MEASURED
from sim.units import show_clock


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the day.

    Attributes:
        head, term: its label, and what explains it.
        says: in a sentence; place: the page behind it, within the site.
        more: what is said when it is unfolded; empty for nothing.
    """

    head: str
    term: str
    says: str
    place: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StripLine:
    """A day of the strip: its date and name, how it is wiped, cars, air, and what is due."""

    day: date
    name: str
    wiping: str
    cars: str
    air: str
    due: str


# ---- what to do ----------------------------------------------------------------------------------


def decision(found: TodayFound, given: Collection[str], system: str) -> Statement | None:
    """What to do, in bold, how many cars then leave damp, and how sure that is; None without an
    answer. The rule is that of the day sheet."""
    if found.rule is not None:
        sure = switch_sure(found.rule, given, system).lead
        return Statement(
            act_words(found.rule.told, found.rule.crew_terms, system),
            " ".join(filter(None, (spells_words(found.rule), _leaves_damp(found.column)))),
            _("{sure} When to reduce says why.", sure=sure) if sure else "",
        )
    if found.comparison is None:
        return None
    said, firm = answer_sentences(found.comparison, given)
    also = _("{lead} The plan says why.", lead=firm.lead) if firm.lead else ""
    return Statement(said.lead, _leaves_damp(found.column) or said.rest, also)


def _leaves_damp(column: Column | None) -> str:
    share = None if column is None else column.value("left_damp_share")
    if share is None:
        return ""
    cars = one_in(share)
    return _("{cars} will leave damp.", cars=cars[:1].upper() + cars[1:])


# ---- a line for each page ------------------------------------------------------------------------


def day_lines(found: TodayFound, system: str) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
    """Cars, wait and people; then money, checks, cloth and what to measure. A closed day has only
    the last three; what has changed, while plans don't know of it, has a line of its own."""
    day, monday = found.plan.day, found.monday
    expected = found.plan.asked.expected
    lines, later = list[Line](), list[Line]()
    if expected is not None and not expected.closed:
        plan = f"plan/{day}"
        lines.append(Line(_("Cars"), "expected", _cars(expected), plan))
        lines.append(Line(_("Wait"), "wait_p90_s", _wait(found, system), plan))
        if found.cover is not None:
            said, comes = _people(found.cover), who_comes(found.cover.shifts)
            place = f"roster/{monday}" if found.cover.shifts else f"staff/{day}"
            lines.append(Line(_("People"), "needed", said, place, comes))
        later.append(Line(_("Money"), "margin", _money(found, system), plan))
    later.append(Line(_("Checks"), "check", str(ready_words(found.checks)), "checks"))
    if found.change is not None:
        later.append(Line(_("Changed"), "drift", change_lead(found.change), "weighings#changed"))
    later.append(Line(_("Cloth"), "says-cloth", _cloth(found.cloth), "cloth"))
    later.append(Line(_("Measure"), "measurement", _measure(found), "weighings"))
    return tuple(lines), tuple(later)


def _cars(expected: ExpectedDay) -> str:
    cars = expected.conditions.arrivals_per_h
    return _(
        "About {cars}; the busiest hour begins at {start}.",
        cars=about(expected.expected_cars),
        start=clock(cars.index(max(cars))),
    )


def _figure(found: TodayFound, name: str, system: str) -> str:
    """A figure of the advised column as its table prints it."""
    if found.comparison is None:
        return ""
    return cells_of(FIGURES[name], found.comparison, system)[found.advised].value


def _wait(found: TodayFound, system: str) -> str:
    wait, lost = _figure(found, "wait_p90_s", system), _figure(found, "cars_lost", system)
    if not wait:
        return _("Not worked out yet.")
    if lost == "0":
        return _("9 cars in 10 wait at most {wait} minutes, and no car is lost.", wait=wait)
    sentence = "9 cars in 10 wait at most {wait} minutes; {lost} cars are lost."
    return _(sentence, wait=wait, lost=lost)


def _money(found: TodayFound, system: str) -> str:
    earns, costs = (_figure(found, name, system) for name in ("margin", "cost"))
    if not earns:
        return _("Not worked out yet.")
    sentence = "Earns about {earns} and costs {costs}, lost cars included."
    return _(sentence, earns=earns, costs=costs)


def _people(cover: Cover) -> str:
    if not cover.shifts:
        sentence = "Nobody is on the roster; {least} to {most} people are needed."
        if cover.least == cover.most:
            sentence = "Nobody is on the roster; {most} people are needed."
        return _(sentence, least=cover.least, most=cover.most)
    if not cover.short:
        return _("Enough come all day.")
    return _n(
        "1 too few {when}.",
        "Up to {count} too few {when}.",
        cover.missing,
        when=in_spells(cover.short),
    )


def _cloth(found: ClothAnswer | None) -> str:
    if found is None:
        return _("When to change the set on the wheel, once it is worked out.")
    told, laundry = cloth_words.answer(found).lead, found.laundry_due
    due = ""
    if laundry is not None and laundry.day is not None:
        due = _("Laundry is due before opening on {day}.", day=long_date(laundry.day))
    return " ".join(filter(None, (told, due, _hanging(found))))


def _hanging(found: ClothAnswer) -> str:
    """Sets that hang off the wheel."""
    off = [one.name for one in found.sets if one.state == "off"]
    return _("Off the wheel: {names}.", names=joined(off)) if off else ""


def _measure(found: TodayFound) -> str:
    done = {item.kind for item in found.weighings}
    worth = found.worth
    order = MEASURED if worth is None else worth.order or MEASURED
    kind = next((one for one in order if one not in done), "")
    if not kind:
        return _("Everything is measured; once more makes it surer.")
    told = {} if worth is None else {one.kind: one for one in worth.each}
    name = _(NAMES[kind])
    if worth is not None and kind in told and told[kind].is_told:
        return _(
            "{name}: worth about {money} on {day}.",
            name=name,
            money=about_dollars(told[kind].money),
            day=long_date(worth.day),
        )
    return _("{name}: every plan gets surer with it.", name=name)


# ---- the next days -------------------------------------------------------------------------------


def strip(found: TodayFound, system: str) -> tuple[StripLine, ...]:
    """The next days, a line each."""
    return tuple(_strip_line(one, system) for one in found.strip)


def _strip_line(one: StripDay, system: str) -> StripLine:
    ahead, due = one.ahead, []
    if one.changes:
        due.append(_("change of set"))
    if one.launders:
        due.append(_("laundry"))
    if ahead.note:
        due.append(ahead.note)
    cars, air = "", ""
    if ahead.expected is not None and ahead.state == "open":
        cars, air = about(ahead.cars), degrees(ahead.expected.highest_temp_c, system)
    return StripLine(ahead.day, long_date(ahead.day), _wiping(one), cars, air, ", ".join(due))


def _wiping(one: StripDay) -> str:
    why = {
        "closed": _("closed"),
        "no cars": _("no car expected"),
        "unknown": _("not known yet"),
        "open": "",
    }[one.ahead.state]
    if why or one.rule is None:
        return why or _("not worked out yet")
    said = short_rule(one.rule)
    return said if one.is_own else _("about: {said}", said=said)


def short_rule(rule: Rule) -> str:
    """A rule in three words."""
    if rule.everyone:
        return _("reduced all day")
    if not rule.either:
        return _("full all day")
    windows = windows_of(rule)
    if not windows:
        return _("reduced for a time")
    spans = [f"{show_clock(start)}–{show_clock(end)}" for start, end in windows]
    return _("reduced {spans}", spans=joined(spans))
