"""Three weighings: steps with what each tells, forms, what is stored, what it changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.answers.beliefs import BeliefView, DayTaken
from app.answers.weighings import WeighingsView
from app.catalogue import _, long_date, say, short_date
from app.pages.cautions import Notice, deference, ladder, lock_out
from app.pages.fields import FieldView, Summary, summary
from app.pages.rows import RowForm
from app.pages.weighings.form import WeighingRead, cells_of
from app.sites.reading import StoredSite
from app.words.phrases import joined, whole
from sim.errors import InputProblem
from sim.inputs import (
    AFTERNOON,
    CARS_LOOKED_AT,
    DAMP,
    INPUTS,
    SOAKED,
    WEIGHED,
    WEIGHINGS,
    Entry,
    Weighing,
)
from sim.inputs.rows import Word
from sim.units import NBSP, UNITS, format_number, quantity, show_clock


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
    form = RowForm(kind, stored.data.units, typed, problems if is_typed else ())
    done = ""
    if count:
        done = _("In: 1 strip.") if count == 1 else _("In: {count} strips.", count=count)
    return Step(
        kind,
        names_of()[kind],
        _tells(kind),
        _steps(kind),
        done,
        _fields(form, stored, today),
        is_typed or (read is None and missing[:1] == [kind]),
    )


def _fields(form: RowForm, stored: StoredSite, today: date) -> tuple[FieldView, ...]:
    kind, system = form.name, stored.data.units
    dry_kg = stored.data.site.wheel.strip_dry_mass_kg
    dry = format_number(UNITS["small_mass"].to_edge(dry_kg, system), 4)
    values = {"dry_kg": dry, "day": today.isoformat(), "cars": str(CARS_LOOKED_AT)}
    hints = {
        "damp_cars": "" if kind == DAMP else _("Leave it empty if nobody looked."),
        "weather": _(
            "Highest temperature and humidity, as in {example}. Empty for the weather stored.",
            example="33 °C, 70 %" if system == "si" else "91 °F, 70 %",
        ),
    }
    found = [
        form.field(
            WEIGHED.cells[name], values.get(name, ""), hint=hints.get(name, ""),
            numeric=False if name == "weight_kg" else None,
        )
        for name in cells_of(kind)
    ]  # fmt: skip
    if kind == AFTERNOON:
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


FEW_FIT = 100
"""With a lower effective number the page says that the weighings are a tight fit."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A stored weighing: its place among all, what it was, and what it says."""

    place: int
    what: str
    when: str
    says: str


@dataclass(frozen=True, slots=True)
class Effect:
    """The damp-car answer of the busiest coming day, without and with the weighings."""

    lead: str
    rows: tuple[tuple[str, str, str], ...]
    narrower: str


@dataclass(frozen=True, slots=True)
class WeighingsPage:
    """The page.

    Attributes:
        lead, rest: how many are in and what that means.
        told: how well drawn sites fit, in a sentence; empty where nothing was worked out.
        days: what each weighed day is taken to have been, a sentence each.
        judged: weighing, found, expected before, believed now; a row each.
        inputs: input, before, after; a row each.
        waiting: what is being worked out, in a sentence; empty for nothing.
        reasons: weighings that could not be used, and what went wrong, a sentence each.
    """

    slug: str
    version: int
    request_key: str
    lead: str
    rest: str
    done: str
    stale: str
    summary: Summary | None
    notices: tuple[Notice, ...]
    steps: tuple[Step, ...]
    strips: tuple[Strip, ...]
    waiting: str
    reasons: tuple[str, ...]
    told: str
    days: tuple[str, ...]
    judged: tuple[tuple[str, str, str, str], ...]
    inputs: tuple[tuple[str, str, str], ...]
    effect: Effect | None
    day: str
    day_words: str


def weighings_page(
    stored: StoredSite,
    view: WeighingsView,
    today: date,
    request_key: str,
    *,
    read: WeighingRead | None = None,
    problems: Sequence[InputProblem] = (),
    done: str = "",
    stale: str = "",
) -> WeighingsPage:
    """Fills the page; `read` is a form to be drawn again with what was typed."""
    data, system = stored.data, stored.data.units
    held = view.held
    kinds = [item.kind for item in data.weighings]
    missing = [kind for kind in WEIGHINGS if kind not in kinds]
    lead, rest = _answer(missing, held)
    kind = read.kind if read else ""
    hrefs = {p.field: f"#in-{kind}-{p.field}" if kind else "" for p in problems}
    reasons = [say(p, system) for p in held.weighed.problems] if held else []
    reasons += [words for words in (held.failed if held else "", view.failed) if words]
    content = held.content if held else None
    return WeighingsPage(
        slug=stored.slug,
        version=stored.version,
        request_key=request_key,
        lead=lead,
        rest=rest,
        done=done,
        stale=stale,
        summary=summary(problems, system, hrefs),
        notices=(lock_out(), ladder(), deference()),
        steps=tuple(
            make_step(kind, stored, today, kinds.count(kind), missing, read, problems)
            for kind in WEIGHINGS
        ),
        strips=tuple(_strip(i, item, system) for i, item in enumerate(data.weighings)),
        waiting=_waiting(view),
        reasons=tuple(dict.fromkeys(reasons)),
        told="" if content is None else fit_words(content),
        days=tuple(day_taken_words(day) for day in held.weighed.taken) if held else (),
        judged=tuple(row for one in content["judged"] for row in judged_rows(one))
        if content
        else (),
        inputs=tuple(_input(row, system) for row in content["inputs"]) if content else (),
        effect=None if view.effect is None else _effect(view.effect),
        day=view.day.isoformat(),
        day_words=long_date(view.day),
    )


def _answer(missing: Sequence[str], held: BeliefView | None) -> tuple[str, str]:
    count = len(WEIGHINGS) - len(missing)
    if held is not None and held.content is not None and not held.content["fits"]:
        return (
            _("The weighings don’t fit the model."),
            _(
                "Plans lean towards what was weighed and counted all the same, with a wider range, "
                "and no advice is firm."
            ),
        )
    if not count:
        return (
            _("Three weighings make plans of this site surer."),
            _("Each takes a scale and ten minutes. Until all three are in, no advice is firm."),
        )
    if missing:
        names = names_of()
        return (
            _("{count} of three weighings are in.", count=count)
            if count > 1
            else _("One of three weighings is in."),
            _("Still to come: {names}.", names=joined([_lower(names[kind]) for kind in missing])),
        )
    return _("All three weighings are in."), _("Every plan of this site uses them.")


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def fit_words(content: Mapping[str, Any]) -> str:
    """How well drawn sites fit what was weighed, and how many that leaves."""
    size, left = whole(content["belief"]["size"]), content["belief"]["effective"]
    words = _(
        "Of {size} sites drawn as yours might be, what was weighed leaves as many as {left} "
        "equally likely ones.",
        size=size,
        left=whole(left),
    )
    if not content["fits"]:
        return _(
            "By now it is {strange} likely that your site is unlike those that were believed in; "
            "before, it was {before}. {words} Look below where found and expected part. Check the "
            "units, the dry weight, day and time, the cars so far, and how cars had been wiped; "
            "strike out a weighing that was wrong, or weigh once more on another day. If all are "
            "right, the model does not hold here.",
            strange=f"{min(99, round(100 * content['strange']))}{NBSP}%",
            before=f"{round(100 * content['strange_before'])}{NBSP}%",
            words=words,
        )
    if left < FEW_FIT:
        words += " " + _(
            "That is few: the weighings lie at the edge of what was believed. Weigh once more "
            "where you are in doubt."
        )
    return words


def weighed_words(held: BeliefView | None) -> str:
    """What a plan says of the site's weighings; empty where there are none."""
    if held is None or not held.key:
        return ""
    if held.failed:
        return held.failed
    if held.content is None:
        return _("The weighings are being worked in; until that is done this plan is without them.")
    if not held.content["fits"]:
        return _(
            "The weighings don’t fit the model: this plan leans towards what was weighed and "
            "counted, with a wider range, and is not firm."
        )
    return ""


def _waiting(view: WeighingsView) -> str:
    held = view.held
    if held is not None and held.is_pending and not held.failed:
        if held.running is None or not held.running.done:
            return _("The weighings are being worked in.")
        return _(
            "The weighings are being worked in: {done} of {total} sites are looked at.",
            done=whole(held.running.done),
            total=whole(held.running.total),
        )
    if view.asked is not None and view.effect is None and not view.failed:
        return _("What they change on {day} is being worked out.", day=long_date(view.day))
    return ""


# ---- what is stored and what it changed ----------------------------------------------------------


def _strip(place: int, item: Weighing, system: str) -> Strip:
    weights = (item.weight_kg, item.dry_kg)
    wet, dry = (quantity(weight, "small_mass", 3).show(system) for weight in weights)
    when = short_date(item.day)
    if item.kind != SOAKED:
        when = _("{day}, {time}", day=when, time=show_clock(item.at_s))
    says = _(
        "{wet} wet, {dry} dry: {water} of its own weight in water",
        wet=wet,
        dry=dry,
        water=f"{round(100 * item.moisture_kg_kg)}{NBSP}%",
    )
    if item.cars:
        of_cars = {"damp": item.damp_cars, "cars": item.cars}
        says = _("{says}; {damp} of {cars} cars damp", says=says, **of_cars)
    elif item.kind == DAMP:
        says = _("{says}; cars not counted, so taken as half of them damp", says=says)
    if item.kind == AFTERNOON and item.rule != "full":
        says = _("{says}; wiped “{rule}”", says=says, rule=item.rule)
    if item.cars_so_far:
        says = _("{says}; {cars} cars washed so far", says=says, cars=whole(item.cars_so_far))
    if item.weather:
        says = _("{says}; weather {weather}", says=says, weather=item.weather)
    return Strip(place, names_of()[item.kind], when, says)


def day_taken_words(day: DayTaken) -> str:
    """What a weighed day is taken to have been, and what would make it surer."""
    when = long_date(day.day)
    if day.known == "nothing":
        return _(
            "Of the cars of {day} nothing is known: it is taken as anything like days were, give "
            "or take {spread}. Bring in its counts, or strike the weighing out and enter it again "
            "with the cars washed so far.",
            day=when,
            spread=f"{round(100 * day.total_cv)}{NBSP}%",
        )
    filling = {"day": when, "cars": whole(day.cars), "time": show_clock(60 * (day.until_s // 60))}
    if day.known == "counts":
        said = _("{day}: {cars} cars counted until {time}", **filling)
    else:
        said = _("{day}: {cars} cars washed until {time}, as noted", **filling)
    if day.expected <= 0.0:
        return _("{said}.", said=said)
    more = round(100 * (day.cars / day.expected - 1))
    if more == 0:
        return _("{said}, as expected.", said=said)
    share = f"{abs(more)}{NBSP}%"
    if more > 0:
        return _("{said}, {share} more than expected.", said=said, share=share)
    return _("{said}, {share} fewer than expected.", said=said, share=share)


def judged_rows(row: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """A weighing beside what was expected of it: its water, and the cars after it."""
    what = names_of()[str(row["kind"])]
    if row["kind"] != SOAKED:
        what = _(
            "{what}, {day}, {time}",
            what=what,
            day=short_date(date.fromisoformat(row["day"])),
            time=show_clock(row["at_s"]),
        )
    rows = [
        (
            _("{what}: water, of its own weight", what=what),
            _percent(row["moisture"]),
            _shares(row["moisture_before"]),
            _shares(row["moisture_after"]),
        )
    ]
    if row["cars"]:
        found = _("{damp} of {cars}", damp=row["damp_cars"], cars=row["cars"])
        share = f"{found}, {_percent(row['damp_cars'] / row['cars'])}"
        before, after = _shares(row["share_before"]), _shares(row["share_after"])
        rows.append((_("{what}: damp cars", what=what), share, before, after))
    return rows


def _shares(values: Sequence[float]) -> str:
    low, middle, high = (round(value, 3) for value in values)  # a car in a thousand is none
    return f"{_percent(middle)} ({_number(low)}–{_percent(high)})"


def _input(row: Mapping[str, Any], system: str) -> tuple[str, str, str]:
    entry = INPUTS[str(row["name"])]
    before, after = (_range(row[part], entry, system) for part in ("before", "after"))
    return _(entry.label), before, after


def _range(values: Sequence[float], entry: Entry, system: str) -> str:
    low, middle, high = (format_number(entry.unit.to_edge(v, system), 2) for v in values)
    symbol = _(entry.unit.symbol(system))
    unit = f"{NBSP}{symbol}" if symbol else ""
    return _("{middle} ({low}–{high}){unit}", middle=middle, low=low, high=high, unit=unit)


def _effect(content: Mapping[str, Any]) -> Effect:
    day = date.fromisoformat(content["day"])
    before, after = content["before"], content["after"]
    rows = tuple(
        (name, _percent(part["value"]), f"{_number(part['low'])}–{_percent(part['high'])}")
        for name, part in ((_("Before"), before), (_("With the weighings"), after))
    )
    widths = [part["high"] - part["low"] for part in (before, after)]
    lead = _("Damp cars on {day}, “{scenario}”.", day=long_date(day), scenario=content["scenario"])
    if widths[0] <= 0:
        return Effect(lead, rows, "")
    less = round(100 * (1 - widths[1] / widths[0]))
    if less > 0:
        narrower = _("The range is {share} narrower.", share=f"{less}{NBSP}%")
    elif less < 0:
        narrower = _(
            "The range is {share} wider: your cloth lies where damp cars depend more on what is "
            "not known.",
            share=f"{-less}{NBSP}%",
        )
    else:
        narrower = _("The range is as wide as before.")
    return Effect(lead, rows, narrower)


def _number(share: float) -> str:
    return format_number(100 * share, 2)


def _percent(share: float) -> str:
    return f"{_number(share)}{NBSP}%"
