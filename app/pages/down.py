"""A device is down: which, and what may be done about it. For a safety device one thing only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, QueryParams

from app.answers.answer import Desk
from app.answers.checks import Readiness, is_safety, readiness
from app.answers.down import (
    BLOWER,
    LONGEST_REPAIR_S,
    REPAIR,
    RUN_ON,
    WAYS,
    Allowed,
    Way,
    WayOut,
    can_run_on,
    not_wider,
    repaired,
    run_on,
    way_out,
)
from app.answers.switching import with_one_more
from app.answers.today import TodayFound, find_today
from app.catalogue import _, long_date
from app.pages.advice import opened_gate
from app.pages.cautions import (
    BELT,
    BLOWERS,
    DEFERENCE,
    LOCK_OUT,
    SAFETY_DEVICE,
    SHAPING_SENSOR,
    WHEEL,
    Notice,
)
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import FieldView, Summary, Typed, input_field, summary, text_of
from app.pages.logbook.entries import new_entry_key
from app.pages.writing import carry_out, new_request_key, request_key_of, store_scenarios
from app.sites.reading import StoredSite
from app.words.down import cheaper_words, cost_of, scenario_name, way_words
from app.words.logbook import device_name
from app.words.phrases import Statement
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, LogEntry, Scenario
from sim.inputs.logbook import DEVICE, DEVICES, DOWN, REPAIRED
from sim.units import UNITS, parse_quantity, show_clock

router = APIRouter()
MANUAL = ("car_spacing_m", "conveyor_speed_m_s", "failed_wiped_share")
"""Inputs that the manual tells while a device is down; the last one not of blowers."""
MINUTES = "minutes"
COSTS: dict[Way, str] = {REPAIR: "repair_now", RUN_ON: "repair_tonight"}
"""Fields of what the repair costs in each way."""
MOST_COST = 1_000_000.0


@dataclass(frozen=True, slots=True)
class WayLine:
    """A way: what it does to the day, and the button that puts it into the plan.

    Attributes:
        key: of the way; can_store: whether the plan can take it.
    """

    key: str
    says: Statement
    can_store: bool


@dataclass(frozen=True, slots=True)
class DownLine:
    """A device that is down: its name, since when, and the keys of the entry that ends it."""

    device: str
    name: str
    since: str
    key: str
    request_key: str


@dataclass(frozen=True, slots=True)
class DownPage:
    """The page.

    Attributes:
        devices: key and name of each that may be chosen; device: the one chosen, empty for none.
        must_stop: whether there is one thing to do only.
        is_noted: whether it stands in the logbook that the device is down.
        fields: what is asked for, of_repair: of the repair itself; ways: what comes of it. typed:
            that, to be sent along.
        cheaper: which way costs less, in a sentence; empty while that is not known.
        has_costs: whether what the repair costs was given for each way.
        full: why the plan takes no way, in a sentence.
    """

    slug: str
    answer: Statement
    devices: tuple[tuple[str, str], ...]
    device: str
    name: str
    must_stop: bool
    is_noted: bool
    down: tuple[DownLine, ...]
    fields: tuple[FieldView, ...]
    of_repair: tuple[FieldView, ...]
    ways: tuple[WayLine, ...]
    cheaper: str
    has_costs: bool
    typed: tuple[tuple[str, str], ...]
    summary: Summary | None
    full: str
    version: int
    key: str
    request_key: str
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class Typing:
    """What was typed of a repair and of the manual, and what is wrong with it.

    Attributes:
        texts: by the name of the field.
        allowed, takes_s: None until all of it can be used.
        costs: of the repair in each way [money]; none of one that nobody gave.
    """

    texts: dict[str, str]
    allowed: Allowed | None
    takes_s: float | None
    problems: tuple[InputProblem, ...]
    costs: dict[Way, float] = field(default_factory=dict)


# ---- routes --------------------------------------------------------------------------------------


@router.get("/{slug}/down")
def show_down(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The page; the address says which device, and what the manual allows."""
    return _page(request, web, site, request.query_params)


@router.post("/{slug}/down")
def note_down(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Notes in the logbook that a device is down, or that it works again."""
    device, word = text_of(form, "device"), text_of(form, "word")
    if device not in DEVICES or word not in (DOWN, REPAIRED):
        return RedirectResponse(f"/{site.slug}/down", 303)
    entry = _entry(web, site, form, device, word)
    place = f"/{site.slug}/down?device={device}" if word == DOWN else f"/{site.slug}/down"
    return carry_out(
        web, site,
        lambda writes: writes.enter(site.id, [entry], request_key_of(form), entry.day),
        partial(_page, request, web, typed=QueryParams(device=device)), place,
    )  # fmt: skip


@router.post("/{slug}/down/plan")
def plan_way(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Puts a way into the plan, as what leads it, and notes that the device is down."""
    device, way = text_of(form, "device"), text_of(form, "way")
    again = partial(_page, request, web, typed=form)
    found, made = _found(web, site), None
    if device in DEVICES and found.plan.asked.to_compare is not None:
        typing = _read(form, site, found.base, device)
        made = _scenario(web, site, found.base, device, way, typing)
    if made is None:
        return again(site, status=422)
    plan = found.plan.asked
    scenarios = with_one_more(plan.scenarios, made, first=True)
    if scenarios is not None:
        entry = _entry(web, site, form, device, DOWN)
        with opened_gate(web, site) as writes:
            writes.enter(site.id, [entry], f"{request_key_of(form)} down", entry.day)
    return store_scenarios(web, site, plan, scenarios, form, again)


def _entry(web: Web, site: StoredSite, form: FormData, device: str, word: str) -> LogEntry:
    day, now_s = web.clock_at(site)
    return LogEntry(text_of(form, "key"), day, now_s, DEVICE, word=word, name=device)


# ---- what was typed ------------------------------------------------------------------------------


def _asked(device: str) -> tuple[str, ...]:
    """Inputs that are asked for of a device."""
    if not can_run_on(device):
        return ()
    return MANUAL[:2] if device == BLOWER else MANUAL


def _read(typed: FormData | QueryParams, site: StoredSite, base: Scenario, device: str) -> Typing:
    """What an address or a form says, every problem at once; nothing where nothing was typed."""
    asked: tuple[Way, ...] = WAYS if can_run_on(device) else (REPAIR,)
    names = (*_asked(device), MINUTES, *(COSTS[way] for way in asked))
    texts = {name: str(typed.get(name, "")).strip() for name in names}
    if not any(texts.values()):
        return Typing(texts, None, None, ())
    problems: list[InputProblem] = []
    values: dict[str, float] = {}
    for name in _asked(device):
        try:
            value = INPUTS[name].parse(texts[name], site.data.units)
        except InputError as fault:
            problems += fault.problems
        else:
            values[name] = float(str(value))
    takes_s = _minutes(texts[MINUTES], site.data.units, problems)
    costs = _costs({way: texts[COSTS[way]] for way in asked}, site.data.units, problems)
    problems += not_wider(site.data.site.with_values(base.changes), values)
    if problems:
        return Typing(texts, None, None, tuple(problems))
    allowed = None
    if values:
        wiped = values.get("failed_wiped_share", 1.0)
        allowed = Allowed(values["car_spacing_m"], values["conveyor_speed_m_s"], wiped)
    return Typing(texts, allowed, takes_s, (), costs)


def _minutes(text: str, system: str, problems: list[InputProblem]) -> float | None:
    unit = UNITS["minutes_from_s"]
    most = LONGEST_REPAIR_S / 60.0
    sentence = "The repair takes “{typed}”: that is no time. Enter minutes, 1 to {most}."
    fault = InputProblem(MINUTES, sentence, {"typed": text, "most": f"{most:.0f}"})
    try:
        takes_s = parse_quantity(text, unit, system)
    except ValueError:
        problems.append(fault)
        return None
    if not 60.0 <= takes_s <= LONGEST_REPAIR_S:
        problems.append(fault)
        return None
    return takes_s


def _costs(texts: dict[Way, str], system: str, problems: list[InputProblem]) -> dict[Way, float]:
    """What the repair costs in each way; none of one left empty."""
    found: dict[Way, float] = {}
    for way, text in texts.items():
        if not text:
            continue
        try:
            cost = parse_quantity(text, UNITS["money"], system)
        except ValueError:
            cost = -1.0
        if 0.0 <= cost <= MOST_COST:
            found[way] = cost
            continue
        sentence = (
            "The repair costs “{typed}”: that is no amount. Enter one, 0 to {most}, or nothing."
        )
        filling = {"typed": text, "most": f"{MOST_COST:,.0f}"}
        problems.append(InputProblem(COSTS[way], sentence, filling))
    return found


def _scenario(
    web: Web, site: StoredSite, base: Scenario, device: str, way: str, typing: Typing
) -> Scenario | None:
    """The day as a way makes it; None where nothing says how, or nothing may be planned."""
    if is_safety(device):
        return None
    if way == REPAIR and typing.takes_s is not None:
        from_s = _from_s(web, site)
        name = scenario_name(way, device, from_s, typing.takes_s)
        return repaired(base, from_s, typing.takes_s, name)
    if way == RUN_ON and typing.allowed is not None and can_run_on(device):
        return run_on(base, device, typing.allowed, scenario_name(way, device))
    return None


def _from_s(web: Web, site: StoredSite) -> float:
    """When a repair begins: now, within the hours open [s after midnight]."""
    line = site.data.site.line
    _day, now_s = web.clock_at(site)
    return min(max(now_s, 3600.0 * line.open_h), 3600.0 * line.close_h - 60.0)


# ---- the page ------------------------------------------------------------------------------------


def _found(web: Web, site: StoredSite) -> TodayFound:
    with web.database.session() as session:
        return find_today(Desk(session, site, web.runner), web.today(site))


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    typed: FormData | QueryParams,
    *,
    problems: Sequence[InputProblem] = (),
    no_room: str = "",
    stale: str = "",
    status: int = 200,
) -> Response:
    chosen = str(typed.get("device", ""))
    device = chosen if chosen in DEVICES else ""
    must_stop = bool(device) and is_safety(device)
    typing, version = Typing({}, None, None, ()), 0
    ways: tuple[WayOut, ...] = ()
    if must_stop or not device:
        with web.database.session() as session:
            stands = readiness(Desk(session, site, web.runner), web.today(site))
    else:
        found = _found(web, site)
        stands = found.checks
        typing = _read(typed, site, found.base, device)
        ways = _ways(web, site, found, device, typing)
        version = found.plan.asked.version
    told = (*problems, *typing.problems, *(p for one in ways for p in one.problems))
    page = DownPage(
        slug=site.slug,
        answer=_answer(stands, device, must_stop),
        devices=tuple((key, device_name(key)) for key in DEVICES),
        device=device,
        name=device_name(device) if device else "",
        must_stop=must_stop,
        is_noted=any(entry.name == device for entry in stands.down),
        down=tuple(_down_line(entry, new_entry_key(web.settings.clock())) for entry in stands.down),
        fields=() if must_stop else _fields(site, device, typing),
        of_repair=() if must_stop or not device else _repair_fields(device, typing),
        ways=tuple(
            WayLine(one.way, _way_words(one, site, typing), one.found is not None)
            for one in ways
            if one.found is not None
        ),
        cheaper=_cheaper(ways, site, typing),
        has_costs=len(typing.costs) == len(ways),
        typed=tuple(typing.texts.items()),
        summary=summary(told, site.data.units),
        full=no_room or stale,
        version=version,
        key=new_entry_key(web.settings.clock()),
        request_key=new_request_key(),
        notices=_notices(device),
    )
    return render(
        request, "down/down.html", page, title=_("A device is down"), current="logbook",
        site=site, kind="hand", status=status,
    )  # fmt: skip


def _answer(stands: Readiness, device: str, must_stop: bool) -> Statement:
    if must_stop:
        return Statement(
            _("Stop the line."),
            _("Lock it out. Call licensed service. Nothing is planned on running without it."),
        )
    if device:
        return Statement(
            _("The {device} is down.", device=device_name(device)),
            _("Whether the line may run on is for its manual to say."),
        )
    if stands.down:
        names = ", ".join(device_name(entry.name) for entry in stands.down)
        return Statement(_("Down: {names}.", names=names), "")
    return Statement(_("Which device is down?"), _("None stands in the logbook as down."))


def _ways(
    web: Web, site: StoredSite, found: TodayFound, device: str, typing: Typing
) -> tuple[WayOut, ...]:
    """What each way does to the day, as far as it was told."""
    plan, ways = found.plan.asked, list[WayOut]()
    if not web.runner.may_begin:
        return ()
    for way in WAYS:
        scenario = _scenario(web, site, found.base, device, way, typing)
        if scenario is None:
            continue
        one = way_out(plan, found.base, way, scenario, web.tries)
        if one is not None:
            ways.append(one)
    return tuple(ways)


def _fields(site: StoredSite, device: str, typing: Typing) -> tuple[FieldView, ...]:
    faults: dict[str, tuple[str, ...]] = {}
    for problem in typing.problems:
        faults[problem.field] = (*faults.get(problem.field, ()), str(problem))
    drawn = (
        input_field(
            INPUTS[name], INPUTS[name].default, site.data.units,
            typed=Typed(typing.texts, {name: "\0"}), messages=faults.get(name, ()),
        )
        for name in _asked(device)
    )  # fmt: skip
    return tuple(replace(one, was="") for one in drawn)


def _repair_fields(device: str, typing: Typing) -> tuple[FieldView, ...]:
    """How long a repair takes, and what it costs in each way that there is."""

    def drawn(name: str, label: str, hint: str, unit: str) -> FieldView:
        messages = tuple(str(p) for p in typing.problems if p.field == name)
        text = typing.texts.get(name, "")
        return FieldView(f"in-{name}", name, label, text, hint=hint, unit=unit, messages=messages)

    known = _("Work and parts, as quoted. Empty if not known.")
    fields = [
        drawn(MINUTES, _("How long a repair takes"), _("While the belt stands."), _("min")),
        drawn(COSTS[REPAIR], _("What the repair costs now"), known, "$"),
    ]
    if can_run_on(device):
        fields.append(drawn(COSTS[RUN_ON], _("What the repair costs tonight"), known, "$"))
    return tuple(fields)


def _way_words(one: WayOut, site: StoredSite, typing: Typing) -> Statement:
    return way_words(one, site.data.units, typing.costs.get(one.way))


def _cheaper(ways: Sequence[WayOut], site: StoredSite, typing: Typing) -> str:
    """Which way costs less, in a sentence; empty where that is not known of both."""
    units = site.data.units
    costs = {one.way: cost_of(one, units, typing.costs.get(one.way)) for one in ways}
    now, on = costs.get(REPAIR), costs.get(RUN_ON)
    return "" if now is None or on is None else cheaper_words(now, on)


def _down_line(entry: LogEntry, key: str) -> DownLine:
    since = _("since {day}, {time}", day=long_date(entry.day), time=show_clock(entry.at_s))
    return DownLine(entry.name, device_name(entry.name), since, key, new_request_key())


def _notices(device: str) -> tuple[Notice, ...]:
    """The page's cautions; those of a device that is planned around stand first."""
    if not device or is_safety(device):
        return (SAFETY_DEVICE, LOCK_OUT, DEFERENCE)
    of_device = BLOWERS if device == BLOWER else SHAPING_SENSOR if can_run_on(device) else WHEEL
    return (of_device, BELT, LOCK_OUT, DEFERENCE)
