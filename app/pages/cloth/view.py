"""Cloth: when to change the set on the wheel, every set, how long they last, what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.answers.cloth import ClothView, is_weighed
from app.catalogue import _, say, short_date
from app.charts.cost_curve import CostCurve, cost_curve
from app.pages.cautions import Notice, deference, ladder, lock_out, set_change
from app.pages.cloth.form import ClothForm, ClothRead, cloth_forms, reason_words
from app.pages.fields import Summary, summary
from app.pages.studies.view import Waiting
from app.pages.studies.view import waiting as waiting_of
from app.sites.reading import StoredSite
from app.words.cloth import (
    answer,
    better,
    counted_words,
    full_wipes,
    guess_rows,
    how_sure,
    moving,
    near_day,
    per_thousand,
    rough,
    where,
)
from app.words.figures import money, plain_number
from app.words.phrases import about
from sim.errors import InputProblem
from sim.inputs import HOODS_COUNTED, INSPECTED, LAUNDERED, PUT_ON, ClothEvent
from sim.units import NBSP, quantity, show_clock

Content = Mapping[str, Any]
SHOWN_ENTRIES = 12
"""Newest entries of the record that the page lists first."""

SHORT_NAME = 12

Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the record: its place in it, when, and what."""

    place: int
    when: str
    what: str


@dataclass(frozen=True, slots=True)
class ClothPage:
    """The page.

    Attributes:
        lead, rest, sure, moved: the answer, how sure, and what a quiet morning costs.
        reasons: why nothing can be said.
        waiting: how far it is, while it is worked out; can_retry: whether a button begins that.
        sets: name, where, worn out about, full wipes, laundered; a row each.
        ended: the same of sets that came to their end, without what is to come.
        life: what is told of the life: figure, belief, likelihood alone.
        ways: compared ways of changing: name, cost, a year's, in words.
        parts: changing in parts: name, cost, in words, uptake lost.
        prices: what a change costs, by its parts.
        guesses: what the age rests on: guess, range, best ages at its ends, in words.
        counted: what damp hoods have told; empty where nobody counted.
        damp: share of life, more damp cars.
        entries, older: the record, newest first.
    """

    slug: str
    version: int
    request_key: str
    done: str
    stale: str
    summary: Summary | None
    lead: str
    rest: str
    sure: str
    moved: str
    reasons: tuple[str, ...]
    waiting: Waiting | None
    can_retry: bool
    notes: tuple[str, ...]
    notices: tuple[Notice, ...]
    sets: Rows
    ended: Rows
    life: Rows
    life_note: str
    curve: CostCurve | None
    ways: Rows
    parts: Rows
    prices: Rows
    guesses: Rows
    counted: str
    damp: Rows
    pace: str
    forms: tuple[ClothForm, ...]
    entries: tuple[Entry, ...]
    older: tuple[Entry, ...]


def cloth_page(
    stored: StoredSite,
    view: ClothView,
    request_key: str,
    *,
    read: ClothRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
) -> ClothPage:
    """Fills the page; `read` is a form to be drawn again with what was typed."""
    system, found = stored.data.units, view.content
    act = read.act if read else ""
    hrefs = {p.field: f"#in-{act}-{p.field}" if act else "" for p in problems}
    lead, rest = _("When to change cloth can’t be worked out yet."), ""
    if found is not None:
        lead, rest = answer(found)
    elif view.failed:
        lead, rest = view.failed, _("“Work it out” begins it.")
    waiting = None if view.running is None or view.failed else waiting_of(view.running, view.key)
    is_typed = read is not None or bool(problems) or bool(stale)
    states = {one["name"]: one["state"] for one in found["sets"]} if found else {}
    book = stored.data.cloth
    entries = [_entry(n, event, system) for n, event in enumerate(book.events)][::-1]
    return ClothPage(
        slug=stored.slug,
        version=stored.version,
        request_key=request_key,
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        lead=lead,
        rest=rest,
        sure=how_sure(found, is_weighed(stored)) if found else "",
        moved=moving(found) if found else "",
        reasons=tuple(say(p, system) for p in view.problems),
        waiting=waiting,
        can_retry=bool(view.failed),
        notes=tuple(say(p, system) for p in view.notes),
        notices=(lock_out(), set_change(), ladder(), deference()),
        sets=tuple(_set(one) for one in _living_first(found["sets"]) if one["state"] != "ended")
        if found
        else (),
        ended=tuple(_ended(one) for one in _living_first(found["sets"]) if one["state"] == "ended")
        if found
        else (),
        life=_life(found) if found else (),
        life_note=_life_note(found) if found else "",
        curve=cost_curve(found) if found else None,
        ways=_ways(found) if found else (),
        parts=_parts(found) if found else (),
        prices=_prices(found) if found else (),
        guesses=guess_rows(found) if found else (),
        counted=counted_words(found) if found else "",
        damp=_damp(found) if found else (),
        pace=_pace(found) if found else "",
        # A page that asks again by itself must not take away what is being typed.
        forms=cloth_forms(book, states, view.day, view.now_s, system, read, problems)
        if waiting is None or is_typed
        else (),
        entries=tuple(entries[:SHOWN_ENTRIES]),
        older=tuple(entries[SHOWN_ENTRIES:]),
    )


def _living_first(sets: Sequence[Content]) -> list[Content]:
    """The set on the wheel, those that take turns, new ones, and those that ended, newest first."""
    order = ("on", "off", "new", "ended")
    newest = sorted(sets, key=lambda one: one["since"] or "", reverse=True)
    return sorted(newest, key=lambda one: order.index(one["state"]))


def _set(one: Content) -> tuple[str, ...]:
    worn = ""
    if one["worn_out_days"]:
        first, middle, last = one["worn_out_days"]
        worn = _(
            "{middle} ({first} to {last})",
            first=near_day(first),
            middle=near_day(middle),
            last=near_day(last),
        )
        if last is None and middle is None:
            worn = near_day(None)
    to_come = round(one["launderings_to_come"])
    laundered = str(one["launderings"])
    if to_come:
        laundered = _("{count}, about {more} to come", count=laundered, more=to_come)
    return _name(one), where(one), worn or "–", _age(one), laundered


def _ended(one: Content) -> tuple[str, ...]:
    return _name(one), where(one), _age(one), str(one["launderings"])


def _name(one: Content) -> str:
    """A short name stays on one line."""
    name = str(one["name"])
    return name.replace(" ", NBSP) if len(name) <= SHORT_NAME else name


def _age(one: Content) -> str:
    """Wear, with a word where some days were expected instead of counted."""
    age = about(one["age_cars"])
    return age if one["all_counted"] else _("about {age}", age=age)


def _life(found: Content) -> Rows:
    life = found["life"]
    fit = life["likelihood"]

    def ends(pair: Sequence[float | None], decimals: int | None) -> str:
        low, high = (
            _("no end") if end is None
            else about(end) if decimals is None else plain_number(end, decimals)
            for end in pair
        )  # fmt: skip
        return f"{low}–{high}"

    rows = []
    for name, label, decimals in (
        ("eta", _("Scale of life, full wipes"), None),
        ("beta", _("Shape of life"), 1),
    ):
        belief = life[name]
        middle = belief["median"]
        shown = about(middle) if decimals is None else plain_number(middle, decimals)
        range_ = ends((belief["low"], belief["high"]), decimals)
        alone = "–"
        if fit is not None:
            value = about(fit[name]) if decimals is None else plain_number(fit[name], decimals)
            alone = f"{value} ({ends(fit[f'{name}_range'], decimals)})"
        rows.append((label, f"{shown} ({range_})", alone))
    rows.append((_("Mean life, full wipes"), about(life["mean"]), "–"))
    return tuple(rows)


def _life_note(found: Content) -> str:
    fit = found["life"]["likelihood"]
    if fit is None:
        return _(
            "From the sets alone nothing can be told before two have worn out at different ages."
        )
    if fit["approximate"]:
        return _(
            "The interval from the sets alone is approximate: it rests on {count} worn out, and "
            "would be trusted from 20 on.",
            count=fit["failures"],
        )
    return _("The interval from the sets alone rests on {count} worn out.", count=fit["failures"])


def _ways(found: Content) -> Rows:
    change, wear = found["change"], found["wear_per_year"]
    least = min(
        rate
        for rate in (change["cost_rate"], change["at_failure"], change["every_year"])
        if rate is not None
    )
    rows = []
    if not change["waits"]:
        rows.append((_("On plan, at {age}", age=full_wipes(change["age"])), change["cost_rate"]))
    rows.append((_("When it wears out"), change["at_failure"]))
    if change["every_year"] is not None:
        rows.append((_("Every season (once a year), and when it wears out"), change["every_year"]))
    return tuple(
        (name, per_thousand(rate), money(rate * wear, 2), better(rate, least))
        for name, rate in rows
    )


def _parts(found: Content) -> Rows:
    rows = found["in_parts"]
    least = min(row["cost_rate"] for row in rows)
    words = {1: _("the whole set"), 2: _("one half after the other"), 4: _("quarter by quarter")}
    return tuple(
        (
            words[row["parts"]],
            per_thousand(row["cost_rate"]),
            better(row["cost_rate"], least),
            f"{plain_number(100.0 * row['uptake_loss'], 0)}{NBSP}%",
        )
        for row in rows
    )


def _prices(found: Content) -> Rows:
    prices = found["prices"]
    rows = (
        (_("New set"), prices["cloth"], prices["cloth"]),
        (_("Work"), prices["work"], prices["work"]),
        (_("Cars lost or wiped badly meanwhile"), 0.0, prices["lost"]),
        (_("Extra cost of an unplanned change"), 0.0, prices["extra"]),
        (_("Together"), prices["planned"], prices["unplanned"]),
    )
    return tuple(
        (name, money(planned, 3), money(unplanned, 3)) for name, planned, unplanned in rows
    )


def _damp(found: Content) -> Rows:
    shares = found["damp"]["more_damp_share"]
    steps = len(shares) - 1
    return tuple(
        (f"{round(100 * n / steps)}{NBSP}%", f"{plain_number(100.0 * share, 1)}{NBSP}%")
        for n, share in enumerate(shares)
        if n % 2 == 0
    )


def _pace(found: Content) -> str:
    return _(
        "The wheel wears by about {day} full wipes a day in the coming four weeks, and by about "
        "{year} in a year.",
        day=about(found["wear_per_day"]),
        year=rough(found["wear_per_year"]),
    )


def _entry(place: int, event: ClothEvent, system: str) -> Entry:
    when = f"{short_date(event.day)}, {show_clock(event.at_s)}"
    if event.kind == PUT_ON:
        said = _("{name} put on", name=event.name)
    elif event.kind == LAUNDERED:
        said = _("{name} laundered", name=event.name)
    elif event.kind == HOODS_COUNTED:
        said = _(
            "{damp} of {hoods} hoods damp under {name}",
            damp=event.damp_hoods,
            hoods=event.hoods,
            name=event.name,
        )
    elif event.kind == INSPECTED:
        seen = []
        if event.length_m is not None:
            seen.append(quantity(event.length_m, "short_length", 3).show(system))
        if event.dry_kg is not None:
            weight = quantity(event.dry_kg, "small_mass", 3).show(system)
            seen.append(_("{weight} dry", weight=weight))
        if event.torn is not None:
            seen.append(_("{count} torn", count=event.torn))
        said = _("{name} looked at: {seen}", name=event.name, seen=", ".join(seen))
    else:
        said = _("{name} taken off: {reason}", name=event.name, reason=reason_words()[event.reason])
        if event.cars is not None:
            said += " " + _("({cars})", cars=full_wipes(event.cars))
    return Entry(place, when, said)
