"""The two charts of When to reduce: strips hanging from a rail, wet from below; the trade-off.

Positions are percentages across and pixels down, so that text keeps its size on every screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.charts.marks import grid_values
from app.words.figures import plain_number
from app.words.rules import windows_of
from sim.decide.switching.answer import WhenToReduce
from sim.units import NBSP, show_clock

RAIL, FOOT = 46.0, 226.0
"""Where the strips hang and end [px]."""
TOP, FLOOR = 14.0, 268.0
LEFT, RIGHT = 9.0, 95.0
"""Frame of the trade-off: down [px], across [%]."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A half hour: place and width [%], where the water begins [px], and always full [px]."""

    x: str
    width: str
    wet_y: str
    wet_height: str
    full_y: str
    says: str


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the day with one way of wiping, from x to x2 [%]."""

    x: str
    x2: str
    middle: str
    reduced: bool
    words: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis with its words."""

    at: str
    words: str
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class StripChart:
    """The day on the wheel."""

    label: str
    says: str
    strips: tuple[Strip, ...]
    spans: tuple[Span, ...]
    turns: tuple[str, ...]
    hours: tuple[Tick, ...]
    limit_y: str
    limit_words: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A named rule on the trade-off; `kind` is "full", "reduced", "chosen" or "present"."""

    kind: str
    x: str
    y: str
    text_y: str
    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class TradeChart:
    """Damp cars against cars fully wiped; line in a frame of 1000 by 200."""

    label: str
    points: tuple[tuple[str, str], ...]
    line: str
    marks: tuple[Mark, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    limit_y: str
    limit_words: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


# ---- strips --------------------------------------------------------------------------------------


def strip_chart(answer: WhenToReduce) -> StripChart:
    """The expected saturation by half hour, with the wiping above it."""
    hours, limits = answer.half_hours, answer.comparison["limits"]
    starts = hours.start_s
    first, last = starts[0], starts[-1] + 1800.0
    limit = float(limits["damp_limit_saturation"])
    wet, full = hours.chosen.saturation, hours.full.saturation
    highest = max([limit if limit < 1.0 else 0.0, *(v for v in (*wet, *full) if v is not None)])
    reach = min(1.0, 1.12 * highest) or 1.0

    def down(saturation: float) -> float:
        return FOOT - (FOOT - RAIL) * min(1.0, saturation / reach)

    def across(seconds: float) -> float:
        return 100.0 * (seconds - first) / (last - first)

    pitch = 100.0 / len(starts)
    strips = []
    for at, start in enumerate(starts):
        value, other = wet[at], full[at]
        strips.append(
            Strip(
                _pc(across(start) + 0.17 * pitch),
                _pc(0.66 * pitch),
                _px(down(value or 0.0)),
                _px(FOOT - down(value or 0.0)),
                "" if other is None or value is None or other <= value else _px(down(other)),
                _(
                    "{time}: {share} of what the cloth can hold",
                    time=show_clock(start),
                    share=_percent(value),
                ),
            )
        )
    spans = _spans(answer, first, last, across)
    every = 1 if len(starts) <= 30 else 2
    clock = [h for h in range(math.ceil(first / 3600), int(last // 3600) + 1) if h % every == 0]
    ticks = tuple(
        Tick(
            _pc(across(3600.0 * h)),
            str(h),
            "start" if across(3600.0 * h) < 1 else "end" if across(3600.0 * h) > 99 else "middle",
        )
        for h in clock
    )
    return StripChart(
        label=_(
            "Half-hour strips from {first} to {last} with expected saturation",
            first=show_clock(first),
            last=show_clock(last),
        ),
        says=_strips_say(wet, limit),
        strips=tuple(strips),
        spans=spans,
        turns=tuple(span.x for span in spans[1:]),
        hours=ticks,
        limit_y="" if limit >= 1.0 or limit > reach else _px(down(limit)),
        limit_words=_("damp limit {share}", share=_percent(limit)),
        heads=(
            _("From"), _("Cars"), _("Saturation"), _("Always full"), _("Reduced"), _("Damp"),
        ),
        rows=tuple(
            (
                show_clock(start),
                plain_number(hours.chosen.cars[at], 0),
                _percent(wet[at]),
                _percent(full[at]),
                _percent(hours.chosen.reduced[at]),
                _percent(hours.chosen.damp[at]),
            )
            for at, start in enumerate(starts)
        ),
    )  # fmt: skip


def _strips_say(wet: Sequence[float | None], limit: float) -> str:
    highest = max((value for value in wet if value is not None), default=0.0)
    if highest < limit:
        return _("With the advised rule the cloth is expected to stay below the damp limit.")
    return _("Even with the advised rule the cloth is expected to pass the damp limit.")


def _spans(
    answer: WhenToReduce, first: float, last: float, across: Callable[[float], float]
) -> tuple[Span, ...]:
    rule, spells = answer.chosen, answer.half_hours.reduced
    if rule.everyone:
        spells = ((first, last),)
    elif [term.kind for row in rule.either for term in row] == ["clock"]:
        spells = tuple((max(first, a), min(last, b)) for a, b in windows_of(rule))
    edges: list[tuple[float, float, bool]] = []
    at = first
    for start, end in spells:
        if start > at:
            edges.append((at, start, False))
        edges.append((start, end, True))
        at = end
    if at < last:
        edges.append((at, last, False))
    return tuple(
        Span(
            _pc(across(a) + (0.25 if a > first else 0.0)),
            _pc(across(b) - (0.25 if b < last else 0.0)),
            _pc((across(a) + across(b)) / 2.0),
            less,
            _words_for(less, across(b) - across(a)),
        )
        for a, b, less in edges
    )


def _words_for(less: bool, width: float) -> str:
    """The wiping over a stretch, left out where there is no room for it."""
    if width < 9.0:
        return ""
    if width < 18.0:
        return _("Less") if less else _("Full")
    return _("Reduced") if less else _("Full wipe")


# ---- trade-off -----------------------------------------------------------------------------------


def trade_chart(answer: WhenToReduce) -> TradeChart:
    """A point a rule; the line joins those that no other beats in both."""
    points, allowed = answer.trade_off, answer.wish.allowed_damp_share
    top = 1.08 * max(0.02, *(p.damp_share for p in points))

    def across(share: float) -> float:
        return LEFT + (RIGHT - LEFT) * share

    def down(share: float) -> float:
        return FLOOR - (FLOOR - TOP) * share / top

    front = sorted((p for p in points if p.undominated), key=lambda p: p.full_share)
    path = " ".join(
        f"{1000 * p.full_share:.1f} {200 * (1 - p.damp_share / top):.1f}" for p in front
    )
    grid = grid_values(100.0 * top)
    with_limit = answer.wish.kind != "cost" and allowed < top
    up = tuple(
        Tick(
            _px(down(value / 100.0)),
            plain_number(value, 0 if value == int(value) else 1)
            + (f"{NBSP}% {_('damp')}" if value == grid[-1] else ""),
        )
        for value in grid
        if not with_limit or abs(down(value / 100.0) - down(allowed)) > 16.0
    )
    plain = [p for p in points if not p.undominated]
    return TradeChart(
        label=_("Damp cars against cars fully wiped, a point a rule"),
        points=tuple((_pc(across(p.full_share)), _px(down(p.damp_share))) for p in plain),
        line=f"M{path}" if len(front) > 1 else "",
        marks=_marks(answer, across, down),
        across=tuple(
            Tick(_pc(across(v / 100.0)), f"{v}" + (f"{NBSP}%" if v == 100 else ""))
            for v in (0, 25, 50, 75, 100)
        ),
        up=up,
        limit_y=_px(down(allowed)) if with_limit else "",
        limit_words=_("you allow {share}", share=_percent(allowed)),
        heads=(_("Rule"), _("Fully wiped"), _("Damp"), _("Cost of the day")),
        rows=tuple(
            (
                _(p.rule.words()),
                _percent(p.full_share),
                _percent(p.damp_share),
                f"${plain_number(p.cost, 0)}",
            )
            for p in front
        ),
    )


def _marks(
    answer: WhenToReduce, across: Callable[[float], float], down: Callable[[float], float]
) -> tuple[Mark, ...]:
    """Always full, always reduced, the rule now and the advised one, each place named once."""
    wanted = (
        ("chosen", answer.chosen.text, _("advised")),
        ("full", "full", _("always full")),
        ("reduced", "reduced", _("always reduced")),
        ("present", answer.present.text, _("now")),
    )
    named: dict[str, tuple[str, list[str]]] = {}
    for kind, rule, words in wanted:
        named.setdefault(rule, (kind, []))[1].append(words)
    marks: list[Mark] = []
    taken: list[tuple[float, float]] = []
    for rule, (kind, called) in named.items():
        at = next((p for p in answer.trade_off if p.rule.text == rule), None)
        if at is None:
            continue
        x, y = across(at.full_share), down(at.damp_share)
        places = (y - 14.0, y + 24.0, y - 30.0, y + 40.0)
        text_y = next(
            (
                place
                for place in places
                if TOP - 4 <= place <= FLOOR - 4
                and all(abs(place - b) > 15.0 or abs(x - a) > 24.0 for a, b in taken)
            ),
            places[0],
        )
        taken.append((x, text_y))
        anchor = "start" if x < 30.0 else "end" if x > 70.0 else "middle"
        said = ", ".join(called)
        marks.append(Mark(kind, _pc(x), _px(y), _px(text_y), said, anchor))
    return tuple(reversed(marks))


def _pc(value: float) -> str:
    return f"{value:.2f}%"


def _px(value: float) -> str:
    return f"{value:.1f}"


def _percent(share: float | None) -> str:
    if share is None:
        return "–"
    said = plain_number(100 * share, 1 if 0 < share < 0.1 else 0)
    return f"{said.removesuffix('.0')}{NBSP}%"
