"""The season: a year of expected days, when sets are changed and ordered, and its tables."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from app.answers.answer import Desk, Kind, answer_key, libraries
from app.answers.beliefs import belief_in, weighings_of
from app.answers.cloth import LAST_MINUTE_S, planned_rules, typical_days
from app.answers.cloth import SEED as CLOTH_SEED
from app.answers.coming_days import Look, evening_before
from app.answers.sizes import SEASON_REPLICATIONS, SEED
from app.answers.studies.runner import Report
from app.answers.studies.stages import Stage
from app.catalogue import _, say
from app.db import store
from app.db.session import Session
from app.db.store import StoredPlan, StoredSite
from app.files.sheets import Cell, Sheet
from app.sites.calendar import ABOUT, calendar_file, entries_of, new_uid, of_calendar
from app.sites.changes import Gate
from sim.checks import check_conditions, check_site
from sim.day.drawn import Belief
from sim.day.figures import FIGURES
from sim.day.rules import Rule
from sim.decide.cloth.advice import acts_of, laundering_of, learn_cloth
from sim.decide.cloth.answer import MOST_DAYS, LeftOut, OptionRow, SeasonAnswer
from sim.decide.cloth.guesses import range_of_ages
from sim.decide.cloth.outlook import Rotation, SeasonAsked, peak_days, season_answer
from sim.decide.cloth.season import (
    OptionsQuestion,
    SeasonDay,
    SeasonQuestion,
    stand_for,
)
from sim.errors import InputError, InputProblem
from sim.inputs import Scenario, Site, SiteData
from sim.learn.cloth_wear import ENDED, NEW, OFF, ON, WearDays
from sim.learn.expected_day import Override, expected_day, parse_override
from sim.units import UNITS, show_clock

SEASON_DAYS = 365
LOOKED_AT = 7
"""Days of which one has to be expected, before a season is begun."""
SCHEMA = "clothcast.season/9"


@dataclass(frozen=True, slots=True)
class SeasonBasis:
    """What a season's question is made from; that takes seconds, so no page waits for it.

    Attributes:
        data: the site with its past.
        plans, rules: stored plans, and wiping rules of planned days, by day.
        look: gives the expected days.
        belief: what weighings leave of the guesses; `belief_key` names it.
        rests_on: names inputs, past and the record of the sets.
    """

    data: SiteData
    first: date
    plans: dict[date, StoredPlan]
    rules: dict[date, Rule]
    look: Look
    belief: Belief | None
    belief_key: str
    replications: int
    rests_on: str

    def problems(self) -> tuple[InputProblem, ...]:
        """Every problem of the site; else why nothing can be expected of any of the first days."""
        found = check_site(self.data.site)
        if found:
            return tuple(found)
        faults: tuple[InputProblem, ...] = ()
        for ahead in range(LOOKED_AT):
            try:
                self.look(self.data, self.first + timedelta(days=ahead), Override())
            except InputError as fault:
                faults = faults or fault.problems
            else:
                return ()
        return faults

    def ask(self) -> SeasonAsked:
        """The question; raises InputError as `season_asked` and `rotation_of` do."""
        rotation = rotation_of(self.data, self.first, self.rules, self.look)
        return season_asked(
            self.data,
            self.first,
            rotation,
            self.plans,
            look=self.look,
            belief=self.belief,
            replications=self.replications,
        )


# ---- the question --------------------------------------------------------------------------------


def counted_on(site: Site, is_peak: bool) -> Scenario:
    """What a day without a plan of its own counts on."""
    wishes = site.wishes
    hours = f"{show_clock(wishes.season_from_h * 3600.0)}-{show_clock(wishes.season_to_h * 3600.0)}"
    rule = {
        "full": "full",
        "reduced": "reduced",
        "clock": f"clock {hours}",
        "peak": f"clock {hours}" if is_peak else "full",
    }[wishes.season_wiping]
    return Scenario("planned", rule)


def season_asked(
    data: SiteData,
    first: date,
    rotation: Rotation,
    plans: dict[date, StoredPlan],
    look: Look = expected_day,
    belief: Belief | None = None,
    replications: int = SEASON_REPLICATIONS,
    seed: int = SEED,
    length: int = SEASON_DAYS,
) -> SeasonAsked:
    """The question of a season; see `SeasonBasis` for what is given.

    Args:
        plans: the first scenario of each is what is planned.

    Raises:
        InputError: with every problem of the site; of its first day where nothing can be expected
            of any; or if no day of the season can be planned.
    """
    problems = check_site(data.site)
    if problems:
        raise InputError(problems)
    middle = data.site if belief is None else belief.middle(data.site)
    days: list[SeasonDay] = []
    left_out: list[LeftOut] = []
    faults: list[InputProblem] = []
    for ahead in range(length):
        day = first + timedelta(days=ahead)
        try:
            one = _day(data, middle, day, plans.get(day), look)
        except InputError as fault:
            faults.append(fault.problems[0])
            left_out.append(LeftOut(day, fault.problems[0].noted()))
            continue
        if one is None:
            left_out.append(LeftOut(day, None))
        else:
            days.append(one)
    if not days:
        sentence = "No day of the season from {first} to {last} expects any car."
        filling = {"first": first, "last": first + timedelta(days=length - 1)}
        raise InputError(faults[:1] or [InputProblem("day", sentence, filling)])
    marks = peak_days(days, middle.wishes.peak_days_share)
    planned = tuple(
        one if one.day in plans else replace(one, planned=counted_on(middle, bool(is_peak)))
        for one, is_peak in zip(days, marks, strict=True)
    )
    peaks = [one for one, is_peak in zip(planned, marks, strict=True) if is_peak]
    question = SeasonQuestion(middle, planned, replications, seed)
    options = OptionsQuestion(data.site, stand_for(peaks), len(peaks), seed, data.given, belief)
    return SeasonAsked(question, options, rotation, tuple(left_out))


def _day(
    data: SiteData, middle: Site, day: date, plan: StoredPlan | None, look: Look
) -> SeasonDay | None:
    """A day of the season; None where it is closed or expects no car.

    Raises:
        InputError: if it can't be planned.
    """
    expected = look(data, day, parse_override(plan.expect if plan else "", data.units))
    if expected.closed or expected.expected_cars <= 0.0:
        return None
    faults = check_conditions(middle, expected.conditions)
    if faults:
        raise InputError(faults)
    scenario = plan.scenarios[0] if plan else Scenario("planned")
    evening = evening_before(data, day, look)
    return SeasonDay(day, expected.conditions, evening, replace(scenario, name="planned"))


def rotation_of(
    data: SiteData, today: date, rules: dict[date, Rule], look: Look = expected_day
) -> Rotation:
    """The sets in use, and when one is changed, as the page of the cloth has it.

    Sets in rotation that have no record count as worn as the one on the wheel: sets that take
    turns wear alike.

    Args:
        rules: wiping rules of planned days.

    Raises:
        InputError: if there are no counts to expect anything from.
    """
    site, days = data.site, WearDays(data, rules)
    typical = typical_days(data, days, today, look)
    found = learn_cloth(data, days, today, LAST_MINUTE_S, typical, CLOTH_SEED)
    ages = [one.age_cars for one in found.states if one.state == ON]
    ages = ages or [site.wear.cloth_wear_cars]
    ages += [one.age_cars for one in found.states if one.state == OFF]
    ages += [ages[0]] * (site.wear.sets_owned - len(ages))
    new = sum(one.state == NEW for one in found.states)
    ended = sum(one.state == ENDED for one in found.states)
    held = range_of_ages(found.posterior, found.prices, found.beliefs, found.change.age)
    laundering = laundering_of(found) if typical else None
    due, laundry = acts_of(found, laundering)
    is_advised = laundering is not None and laundering.days < MOST_DAYS
    return Rotation(
        tuple(ages), found.posterior, found.change.age, new, ended,
        laundering.days if laundering is not None and is_advised else None,
        held.rival, held.standing,
        due if due is not None and due.overdue else None,
        laundry.day if laundry is not None and is_advised else None,
    )  # fmt: skip


# ---- the answer ----------------------------------------------------------------------------------


def answer_season(
    asked: SeasonAsked,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
    early: Callable[[SeasonAnswer], None] | None = None,
    stage: Callable[[str], None] = lambda name: None,
) -> SeasonAnswer:
    """The answer, with the versions of the libraries that it is computed with; see
    `season_answer`."""
    return season_answer(asked, libraries(), executor, progress, early, stage)


def ask_season(desk: Desk, first: date) -> SeasonBasis:
    """What a stored site's season rests on, as it is now."""
    held = weighings_of(desk)
    belief = belief_in(held)
    return basis_of(desk, first, belief, held.key if belief is not None else "")


def basis_of(
    desk: Desk,
    first: date,
    belief: Belief | None,
    belief_key: str = "",
    replications: int = SEASON_REPLICATIONS,
) -> SeasonBasis:
    """The same by a belief that is at hand."""
    last = first + timedelta(days=SEASON_DAYS)
    plans = {day: plan for day, plan in desk.plans.items() if first <= day < last}
    return SeasonBasis(
        desk.data, first, plans, planned_rules(desk), desk.look, belief, belief_key,
        replications, desk.rests_on("history", "weighings", "cloth"),
    )  # fmt: skip


def season_key(basis: SeasonBasis) -> str:
    """A hash of everything that a season depends on, the model's version included.

    Inputs, past and sets stand for the days that follow from them; a year of days need not be gone
    through to find an answer that is stored.
    """
    versions = [(day.isoformat(), plan.version) for day, plan in sorted(basis.plans.items())]
    asked = [basis.rests_on, basis.first.isoformat(), versions, basis.belief_key]
    return answer_key(SCHEMA, SEASON_REPLICATIONS, SEED, asked)


def _work(basis: SeasonBasis, executor: Executor | None, report: Report) -> SeasonAnswer:
    report.stage("first")
    return answer_season(basis.ask(), executor, report, report.early, report.stage)


SEASON: Kind[SeasonBasis, SeasonAnswer] = Kind(
    name="season",
    label="The season",
    stages=(
        Stage("first", "a first form on a few days of each month", 0.1),
        Stage("days", "living through the year", 0.5),
        Stage("options", "trying what else helps on peak days", 0.4),
    ),
    page="cloth/season",
    found=SeasonAnswer,
    ask=ask_season,
    key=season_key,
    days=lambda basis: 2 * SEASON_DAYS * basis.replications,
    work=_work,
    failed="The season could not be worked out: {fault}",
    schema=SCHEMA,
    refuse=SeasonBasis.problems,
)


def export_calendar(
    session: Session, now: datetime, stored: StoredSite, found: SeasonAnswer, today: date
) -> bytes:
    """A season's calendar file; what it holds is kept for the next one to follow."""
    site = stored.data.site
    entries = entries_of(found, site, today)
    gate = Gate(session, store.built_in_person(session), now)
    gate.keep_calendar(stored.id, entries, today, new_uid, ABOUT)
    rows = of_calendar(store.load_calendar(session, stored.id), ABOUT)
    return calendar_file(rows, f"{site.name}: cloth", site.timezone, today)


# ---- tables for CSV and spreadsheet: every figure unrounded --------------------------------------


def season_sheets(found: SeasonAnswer, system: str) -> tuple[Sheet, ...]:
    """Every table of a season, in the reader's units."""
    return (
        days_sheet(found, system),
        _months(found),
        _changes(found),
        _orders(found),
        _laundry(found),
        _owned(found),
        _options(found, system),
        _left_out(found, system),
        _made_of(found),
    )


def days_sheet(found: SeasonAnswer, system: str) -> Sheet:
    """A row an open day: what is expected, and each figure by both rules."""
    names = tuple(found.days[0].figures)
    temp = UNITS["temperature"]
    heads = (
        _("Day"), _("Cars expected"), _("Highest temperature, {unit}", unit=temp.symbol(system)),
        _("Planned rule"), _("Dry sets planned"), _("Peak day"), _("Laundry that morning"),
        *(
            words
            for figure in (_head(name, system) for name in names)
            for words in (
                _("{figure}, always full", figure=figure),
                _("{figure}, planned rule", figure=figure),
            )
        ),
    )  # fmt: skip
    rows = tuple(
        (
            one.day,
            one.cars,
            temp.to_edge(one.highest_temp_c, system),
            one.rule,
            one.cloth,
            _yes(one.is_peak),
            _yes(one.is_laundry),
            *(
                _edge(by_rule[0], name, system)
                for name in names
                for by_rule in (one.figures[name].full, one.figures[name].planned)
            ),
        )
        for one in found.days
    )
    return Sheet(_("Days"), heads, rows)


def _head(name: str, system: str) -> str:
    info = FIGURES[name]
    symbol = UNITS[info.unit].symbol(system)
    return f"{_(info.label)} ({symbol})" if symbol else _(info.label)


def _edge(value: float, name: str, system: str) -> float | None:
    """A figure in the reader's unit; an empty cell where there is none."""
    return None if math.isnan(value) else UNITS[FIGURES[name].unit].to_edge(value, system)


def _yes(is_so: bool) -> str:
    return _("yes") if is_so else _("no")


MONTH_FIGURES = ("cars_washed", "cars_lost", "left_damp", "wear_cars")


def _months(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Month from"), _("Open days"),
        *(_(FIGURES[name].label) for name in MONTH_FIGURES),
        _("Launderings"), _("Sets that come off for good, expected"),
        _("Of these worn out before their planned age"),
        _("Cost of the days ($)"), _("Laundry ($)"), _("New sets ($)"), _("Together ($)"),
    )  # fmt: skip
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            row.first, row.days, *(row.figures[name] for name in MONTH_FIGURES), row.launderings,
            row.sets, row.worn, row.running_cost, row.laundry_cost, row.set_cost, row.total,
        )
        for row in found.months
    )  # fmt: skip
    return Sheet(_("Months"), heads, rows)


def _changes(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Change"), _("Best on"), _("Earliest (1 in 10 before)"), _("Middle"),
        _("Latest (1 in 10 after)"), _("Chance within the season"),
        _("Share that wears out before its planned age"),
    )  # fmt: skip
    rows = tuple(
        (
            row.number, row.day, row.low, row.middle, row.high, row.chance, row.worn_share,
        )
        for row in found.changes
    )  # fmt: skip
    return Sheet(_("Changes of sets"), heads, rows)


def _orders(found: SeasonAnswer) -> Sheet:
    heads = (_("Order by"), _("Sets"), _("For change"))
    rows = tuple((row.by, row.quantity, row.for_change) for row in found.orders)
    return Sheet(_("Orders"), heads, rows)


def _laundry(found: SeasonAnswer) -> Sheet:
    rows = tuple((day,) for day in found.laundry_days)
    return Sheet(_("Laundry days"), (_("Morning of"),), rows)


def _owned(found: SeasonAnswer) -> Sheet:
    heads = (
        _("Sets owned"), _("Changes that find none dry, by formula"),
        _("Changes that find none dry, times as they stand"),
        _("Morning changes of the season that find one dry"),
        _("Dry sets at noon of peak days that find one dry"),
    )  # fmt: skip
    rows = tuple(
        (
            row.sets, row.formula.none_ready, row.fixed.none_ready, row.morning_ready,
            row.peak_ready,
        )
        for row in found.owned
    )  # fmt: skip
    return Sheet(_("Sets in rotation"), heads, rows)


def _options(found: SeasonAnswer, system: str) -> Sheet:
    figures = tuple(found.options[0].figures)
    heads = (
        _("Option"), _("Amount"), _("Dry sets"), _("Rule"), _("Once ($)"), _("A year ($)"),
        *(_head(name, system) for name in figures),
        _("Cost a year, difference ($)"), _("Difference, 5 % of sites ($)"),
        _("Difference, 95 % of sites ($)"), _("Meets what you allow"), _("Years to pay back"),
    )  # fmt: skip
    return Sheet(_("Options"), heads, tuple(_option(row, system) for row in found.options))


def _option(row: OptionRow, system: str) -> tuple[Cell, ...]:
    option, yearly = row.option, row.yearly
    sites = yearly.site_uncertainty if yearly else None
    ends = (sites.low, sites.high) if sites else (None, None)
    return (
        option.key, option.amount, option.scenario.cloth, option.scenario.rule, option.once,
        option.each_year,
        *(_edge(value, name, system) for name, value in row.figures.items()),
        yearly.value if yearly else None, *ends,
        _yes(row.keeps), None if math.isinf(row.payback_years) else row.payback_years,
    )  # fmt: skip


def _left_out(found: SeasonAnswer, system: str) -> Sheet:
    rows = tuple(
        (one.day, say(one.why, system) if one.why else _("closed")) for one in found.left_out
    )
    return Sheet(_("Days left out"), (_("Day"), _("Why")), rows)


def _made_of(found: SeasonAnswer) -> Sheet:
    versions = ", ".join(f"{name} {number}" for name, number in found.libraries.items())
    rows: tuple[tuple[Cell, ...], ...] = (
        (_("Site"), found.site),
        (_("First day"), found.first),
        (_("Last day"), found.last),
        (_("Simulated days of each day and rule"), found.replications),
        (_("Seed"), found.seed),
        (_("Computed with"), versions),
    )
    return Sheet(_("What it rests on"), (_("What"), _("Which")), rows)
