"""What was planned and what happened, in words: a day, and the days of a month."""

from __future__ import annotations

from collections.abc import Sequence

from app.catalogue import _, _n
from app.words.numbers import (
    NOTHING,
    about,
    minutes,
    percent,
    span,
    whole,
)
from app.words.phrases import Statement, joined
from sim.day.figures import FIGURES, Range
from sim.inputs.logbook import REDUCED
from sim.learn.happened import DayHappened, Held, InRange, Late, Place, Source
from sim.units import show_clock

Rows = tuple[tuple[str, ...], ...]
PLACES: dict[Place, str] = {
    "inside": "as told",
    "above": "more than told",
    "below": "less than told",
    "unknown": NOTHING,
}
STATES = {
    "as planned": "as planned",
    "early": "early",
    "late": "late",
    "not done": "not noted",
    "not planned": "not planned",
}
SOURCES: dict[Source, str] = {
    "stored": "The plan as it stood when the day opened.",
    "afterwards": (
        "No plan was stored before this day opened. What it would have told is worked out now, "
        "from the counts until the evening before, the weather that came, wiping as it was done, "
        "and the site as it is entered today: where its inputs were changed since, the plan of "
        "that morning would have told something else."
    ),
    "expected": (
        "No plan was stored before this day opened. The cars are those that the counts until the "
        "evening before led to expect."
    ),
    "nothing": "Nothing was told of this day: there were no counts to expect anything from.",
}


NOTED_WAIT = "wait_mean_s"
"""The mean of waits that were noted, which no plan has as a figure of the day."""


def label_of(name: str) -> str:
    """What a figure is called."""
    return _("Wait, mean of those noted") if name == NOTED_WAIT else _(FIGURES[name].label)


def _unit(name: str) -> str:
    return "minutes_from_s" if name == NOTED_WAIT else FIGURES[name].unit


def figure_words(name: str, value: float) -> str:
    """A figure of a day: whole cars, minutes, or a share of cars."""
    unit = _unit(name)
    if unit == "share":
        return percent(value)
    if unit == "minutes_from_s":
        return minutes(value)
    return about(value)


def range_words(name: str, ends: Range) -> str:
    """From one end to the other."""
    unit = _unit(name)
    if unit == "share":
        return f"{span(100.0 * ends.low, 100.0 * ends.high, 1.0)} %"
    if unit == "minutes_from_s":
        return f"{span(ends.low / 60.0, ends.high / 60.0, 1.0)} min"
    return f"{about(ends.low)}–{about(ends.high)}"


def told_words(one: Held) -> str:
    """What was planned of a figure, and what nine days in ten would be."""
    if one.expected is None:
        return NOTHING
    value = figure_words(one.figure, one.expected)
    return value if one.days is None else f"{value} ({range_words(one.figure, one.days)})"


def was_words(one: Held) -> str:
    """What happened, with how far it is known where it was looked at in part."""
    if one.was is None:
        return _("nobody noted it")
    value = figure_words(one.figure, one.was)
    return value if one.likely is None else f"{value} ({range_words(one.figure, one.likely)})"


def place_words(place: Place) -> str:
    """Where what happened lies."""
    return _(PLACES[place])


def held_rows(found: DayHappened) -> Rows:
    """A row a figure: told, was, where it lies."""
    return tuple(
        (label_of(one.figure), told_words(one), was_words(one), place_words(one.place))
        for one in found.held
    )


def to_words(to: str) -> str:
    """To which wiping it was switched."""
    return _("to reduced") if to == REDUCED else _("to full")


def switch_rows(found: DayHappened) -> Rows:
    """A row a switch: to what, planned, done, how that stands, and the reason given."""
    return tuple(
        (to_words(one.to), _clock(one.planned_s), _clock(one.done_s), _(STATES[one.state]),
         one.reason or NOTHING)
        for one in found.switches
    )  # fmt: skip


def _clock(at_s: float | None) -> str:
    return NOTHING if at_s is None else show_clock(at_s)


def late_words(one: Late) -> str:
    """Who came late."""
    return _(
        "{name} came at {came}; the shift began at {start}.",
        name=one.name, came=show_clock(one.came_s), start=show_clock(one.start_s),
    )  # fmt: skip


def source_words(found: DayHappened) -> str:
    """Where the plan is from."""
    return _(SOURCES[found.planned.source])


# ---- a day in a sentence -------------------------------------------------------------------------


def answer(found: DayHappened) -> Statement:
    """Whether the plan was right, and whether it was followed."""
    if found.right is None and found.followed is None:
        return Statement(_("Too little was noted to say how the day went."), "")
    wrong, off = _wrong(found), _off(found)
    if found.right is False and found.followed is False:
        lead = _("The plan was wrong, and it was not followed.")
    elif found.right is False:
        lead = _("The plan was wrong for this day.")
    elif found.followed is False:
        lead = _("The plan was not followed.")
    elif found.right is None:
        return Statement(_("The plan was followed."), "")
    else:
        return Statement(_("The day went as it was told."), "")
    return Statement(lead, " ".join((*wrong, *off)))


def _wrong(found: DayHappened) -> list[str]:
    said = []
    for one in found.held:
        if one.place not in ("above", "below") or one.days is None or one.was is None:
            continue
        said.append(
            _("{figure}: {was}, told were {days}.", figure=label_of(one.figure),
              was=figure_words(one.figure, one.was), days=range_words(one.figure, one.days))
        )  # fmt: skip
    return said


def _off(found: DayHappened) -> list[str]:
    off = sum(one.state != "as planned" for one in found.switches)
    said = []
    if off:
        said.append(
            _n("1 switch was not as planned.", "{count} switches were not as planned.", off)
        )
    if found.late:
        said.append(_("Late: {names}.", names=joined([one.name for one in found.late])))
    return said


def noted_words(found: DayHappened) -> tuple[str, ...]:
    """What else the log has of the day: sets, stops, switches without a plan of them."""
    logged = found.logged
    said = [
        _("{name} was put on at {time}.", name=name, time=show_clock(at))
        for at, name in logged.sets
    ]
    if not found.switches:
        said += [_switched(one.at_s, one.to, one.reason) for one in logged.switches]
    return tuple(said)


def _switched(at_s: float, to: str, reason: str) -> str:
    if reason:
        return _(
            "Switched {to} at {time}: “{reason}”.", to=to_words(to), time=show_clock(at_s),
            reason=reason,
        )  # fmt: skip
    return _("Switched {to} at {time}.", to=to_words(to), time=show_clock(at_s))


# ---- a month -------------------------------------------------------------------------------------


WET = {"rain": "rain", "after": "the day after rain"}


def month_answer(found: InRange, wet: int) -> Statement:
    """How often as many cars came as was told; `wet` of the other days had rain, or came after."""
    if not found.days:
        return Statement(_("No day of this month was counted, by counts or log."), "")
    lead = _(
        "On {inside} of {days} days as many cars came as was told.", inside=found.inside,
        days=found.days,
    )  # fmt: skip
    rest = _("About nine days in ten should.")
    if found.is_off:
        rest = _("About nine days in ten should: so few are no chance, what is told is off.")
    if not wet:
        return Statement(lead, rest)
    rain = _n(
        "1 of the others was wet or came after rain: type rain into the plan when it is forecast.",
        "{count} of the others were wet or came after rain: type rain into the plan when it is "
        "forecast.",
        wet,
    )
    return Statement(lead, f"{rest} {rain}")


def month_rows(
    days: Sequence[tuple[DayHappened, str]],
) -> tuple[tuple[str, str, str, str, str], ...]:
    """Of each day, with how wet it was: cars told, cars that came, how that stands, damp hoods,
    switches and people."""
    rows = []
    for one, wet in days:
        cars = one.held[0]
        stands = place_words(cars.place)
        if wet and cars.place in ("above", "below"):
            stands = f"{stands} ({_(WET[wet])})"
        rows.append(
            (
                told_words(cars), NOTHING if cars.was is None else whole(cars.was),
                stands, _damp(one), _done(one),
            )
        )  # fmt: skip
    return tuple(rows)


def _damp(one: DayHappened) -> str:
    if not one.logged.looked_at:
        return NOTHING
    return _("{damp} of {hoods}", damp=one.logged.damp or 0, hoods=one.logged.looked_at)


def _done(one: DayHappened) -> str:
    """When the crew switched, whether that was planned, and who came late."""
    said = [", ".join(show_clock(switch.at_s) for switch in one.logged.switches) or NOTHING]
    if any(switch.state != "as planned" for switch in one.switches):
        said.append(_("not as planned"))
    if one.late:
        said.append(_n("1 came late", "{count} came late", len(one.late)))
    return "; ".join(said)


def in_range_words(found: InRange) -> str:
    """The share of days inside, with its exact limits."""
    share = percent(found.inside / found.days)
    limits = span(100.0 * found.limits.low, 100.0 * found.limits.high, 1.0)
    return _(
        "{share} of days; by so few days the truth may be {limits} %.", share=share, limits=limits
    )
