"""The day sheet: the one page that the crew works from, printed or on a phone; no chart."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from app.answers.switching import SwitchView
from app.catalogue import _, long_date
from app.pages.cautions import (
    Notice,
    deference,
    lock_out,
    safety_device,
    set_change,
    shaping_sensor,
)
from app.pages.studies.view import Waiting
from app.pages.studies.view import waiting as waiting_of
from app.words.cues import SheetCue, earlier_words, expected_damp, sheet_act, sheet_cues
from app.words.numbers import about
from app.words.phrases import Spoken
from app.words.rules import bands_of, turns, weight_words, windows_of
from app.words.switching import spells_words
from sim.decide.switching.answer import WhenToReduce
from sim.inputs import Site, Steps, value_at
from sim.units import NBSP, UNITS, format_number, quantity, show_clock

WRITING_LINES = 3


@dataclass(frozen=True, slots=True)
class Grid:
    """A small table: corner, heads, and rows of a label with its cells."""

    corner: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The page.

    Attributes:
        top: opening hours and cars expected.
        answer: what to do; None while there is nothing to say.
        cues: empty where nothing is to be switched.
        settings: speed and spacing by time; people: by time.
        worse: what to do if it is worse than planned, in order.
        foot: what is expected, how sure, what the sheet was made from.
        lines: empty lines to write on.
    """

    slug: str
    day: str
    date_words: str
    top: str
    answer: Spoken | None
    waiting: Waiting | None
    cues: tuple[SheetCue, ...]
    settings: Grid | None
    people: Grid | None
    worse: tuple[str, ...]
    stops: tuple[Notice, ...]
    foot: str
    lines: int


def sheet_page(
    slug: str,
    site_name: str,
    view: SwitchView,
    spoken: Spoken | None,
    sure: Spoken | None,
    system: str,
) -> SheetPage:
    """Fills the sheet.

    Args:
        spoken: what is said while there is no answer.
        sure: how sure the answer is.
    """
    plan, answer, asked = view.asked.plan, view.result, view.asked.question
    date_words = long_date(plan.day)
    blank = SheetPage(
        slug, plan.day.isoformat(), date_words, site_name, spoken, None, (), None, None, (),
        (lock_out(), deference()), "", WRITING_LINES,
    )  # fmt: skip
    if answer is None or asked is None or plan.expected is None:
        if view.running is None or spoken is not None:
            return blank
        return replace(blank, waiting=waiting_of(view.running, view.key))
    site = asked.site
    opens, closes = (show_clock(3600 * h) for h in (site.line.open_h, site.line.close_h))
    return replace(
        blank,
        top=_(
            "{site} · open {opens} to {closes} · about {cars} cars",
            site=site_name,
            opens=opens,
            closes=closes,
            cars=about(plan.expected.expected_cars),
        ),
        answer=Spoken(sheet_act(answer, system), "" if answer.stay else spells_words(answer)),
        cues=_cues(answer, site, system),
        settings=_settings(site, system),
        people=_people(site),
        worse=_worse(answer, site, system),
        stops=_stops(site, asked.cloth),
        foot=_foot(answer, sure, plan.version),
    )


def _cues(answer: WhenToReduce, site: Site, system: str) -> tuple[SheetCue, ...]:
    """What the crew can see; weights, never percentages."""
    rule, terms = answer.chosen, answer.crew_terms
    if rule.everyone or not rule.either or answer.stay is not None:
        return ()
    least = _(
        "{minutes} minutes at least between two switches.",
        minutes=format_number(site.wishes.least_between_switches_min),
    )
    told = sheet_cues(answer, system, least)
    if told:
        return told
    rows = [SheetCue(_("Clock"), *ends, least) for ends in turns(windows_of(rule), terms)]
    bands = bands_of(rule)
    for start, end in answer.half_hours.reduced if bands else ():
        note = _("As expected; the strip decides.")
        rows.append(SheetCue(_("Clock"), _about(start), _about(end), note))
    for band in bands:
        rows.append(
            SheetCue(
                _("Weight of one strip"),
                _("at {weight}", weight=weight_words(band.upper, terms, system)),
                _("at {weight}", weight=weight_words(band.lower, terms, system)),
                _("Wheel stopped and locked out. {least}", least=least),
            )
        )
    return tuple(rows)


def _about(seconds: float) -> str:
    return _("about {time}", time=show_clock(seconds))


# ---- settings and people by time -----------------------------------------------------------------


def _periods(site: Site, *tables: Steps) -> list[float]:
    """Times within the hours open at which any of the tables changes [s]."""
    opens, closes = 3600.0 * site.line.open_h, 3600.0 * site.line.close_h
    inner = {start for table in tables for start, _amount in table if opens < start < closes}
    return [opens, *sorted(inner)]


def _settings(site: Site, system: str) -> Grid:
    line = site.line
    table = line.speed_timetable or ((0.0, line.conveyor_speed_m_s),)
    speed, length = UNITS["speed"], UNITS["length"]
    return Grid(
        _("From"),
        (
            _("Speed, {unit}", unit=speed.symbol(system)),
            _("Spacing, {unit}", unit=length.symbol(system)),
        ),
        tuple(
            (
                show_clock(start),
                (
                    format_number(speed.to_edge(value_at(table, start), system)),
                    format_number(length.to_edge(line.car_spacing_m, system)),
                ),
            )
            for start in _periods(site, table)
        ),
    )


def _people(site: Site) -> Grid:
    crew, pay = site.crew, site.pay
    rows = (
        (_("Pay lanes open"), pay.pay_lanes),
        (_("Loaders"), pay.loaders),
        (_("People in all"), crew.people),
    )
    starts = _periods(site, *(table for _name, table in rows))
    return Grid(
        _("From"),
        tuple(show_clock(start) for start in starts),
        tuple(
            (name, tuple(format_number(value_at(table, start), 2) for start in starts))
            for name, table in rows
        ),
    )


# ---- if it is worse ------------------------------------------------------------------------------


def _worse(answer: WhenToReduce, site: Site, system: str) -> tuple[str, ...]:
    """What to do in turn; the steps are common practice, the numbers the site's."""
    allowed = answer.wish.allowed_damp_share
    one_in = max(2, math.floor(1.0 / allowed)) if allowed > 0 else 0
    said = [words] if (words := earlier_words(answer, system)) else []
    if not answer.advised.everyone and one_in:
        said.append(
            _(
                "More than 1 car in {count} damp for a quarter of an hour: reduce now, whatever "
                "the clock says.",
                count=one_in,
            ).replace("1 car in ", f"1{NBSP}car in{NBSP}")
        )
    if site.wear.sets_owned > 1:
        said.append(
            _(
                "Still damp after 20 minutes of reduced wiping: ask the manager for a dry set "
                "({minutes} minutes, {people} people).",
                minutes=format_number(site.wear.set_change_min),
                people=site.wear.set_change_people,
            )
        )
    limit = answer.comparison.limits.damp_limit_saturation
    if limit < 1.0:
        said.append(
            _(
                "A strip of {weight} or more is as wet as it may be (a guess until strips are "
                "weighed here).",
                weight=weight_words(limit, answer.crew_terms, system),
            )
        )
    said.append(
        _(
            "{cars} cars in the stack, or a wait above {wait}: tell the manager.",
            cars=site.pay.stack_limit_cars,
            wait=quantity(site.wishes.allowed_wait_p90_s, "minutes_from_s", 2).show(system),
        )
    )
    return tuple(said)


def _stops(site: Site, cloth: str) -> tuple[Notice, ...]:
    told = [lock_out()]
    if site.degraded.failed_sensor != "none":
        told += [shaping_sensor(), safety_device()]
    if cloth.strip():
        told.append(set_change())
    return (*told, deference())


def _foot(answer: WhenToReduce, sure: Spoken | None, version: int) -> str:
    parts = [words] if (words := expected_damp(answer)) else []
    if sure is not None and sure.lead:
        parts.append(sure.lead)
    if version:
        parts.append(_("Plan of the day, version {version}.", version=version))
    return " ".join(parts)
