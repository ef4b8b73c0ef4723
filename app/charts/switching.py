"""The two charts of When to reduce: strips hanging from a rail, wet from below; the trade-off."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from app.catalogue import _
from app.charts import marks
from app.charts.marks import Box, Chart, Key, Place, Scale
from app.words.beside import told_as
from app.words.numbers import percent, whole
from app.words.rules import windows_of
from sim.decide.switching.answer import TradeOffPoint, WhenToReduce
from sim.units import NBSP, show_clock

BAR, RAIL, FOOT = 26.0, 46.0, 226.0
"""Where the bar of the wiping lies, and where strips hang and end [px]."""
HALF_STRIP_S = 600.0
"""Half the width of a strip."""
TOP, FLOOR, LEFT, RIGHT = 14.0, 268.0, 9.0, 94.0
"""Frame of the trade-off: down [px], across [%]."""
CHARACTER = 2.2
"""Width of a character where the chart is narrowest [%]."""
RULES = {"chosen": 2, "full": 0, "reduced": 1, "present": 3}
"""Shape of each named rule on the trade-off."""
RING = Markup('<circle class="ring" r="10"/>')
OTHER = Markup('<circle class="other" r="2.6"/>')


# ---- strips --------------------------------------------------------------------------------------


def strip_chart(answer: WhenToReduce) -> Chart:
    """The expected saturation by half hour, with the wiping above it."""
    day, limit = answer.half_hours, answer.comparison.limits.damp_limit_saturation
    starts, wet, full = day.start_s, day.told.saturation, day.full.saturation
    first, last = starts[0], starts[-1] + 1800.0
    highest = max([limit if limit < 1.0 else 0.0, *(v for v in (*wet, *full) if v is not None)])
    reach = min(1.0, 1.12 * highest) or 1.0
    x, y = Scale(first, last), Scale(0.0, reach, FOOT, RAIL)
    every = 1 if len(starts) <= 30 else 2
    clock = [h for h in range(math.ceil(first / 3600), int(last // 3600) + 1) if h % every == 0]
    svg = marks.picture(
        _(
            "Half-hour strips from {first} to {last} with expected saturation",
            first=show_clock(first),
            last=show_clock(last),
        ),
        FOOT + marks.FOOT_PX,
        *_wiping(_spans(answer, first, last), x),
        marks.across("rail", RAIL),
        *(_strip(*of, x, y) for of in zip(starts, wet, full, strict=True)),
        *([] if limit >= 1.0 or limit > reach else [_limit(y(limit), limit)]),
        marks.ticks(FOOT, ((x(3600.0 * hour), str(hour)) for hour in clock)),
    )
    key = (
        Key(marks.swatch(marks.stroke("whole")), _("full wipe")),
        Key(marks.swatch(marks.stroke("less")), _("reduced: hood and windshield")),
        Key(marks.BAR, _("water in the cloth")),
        Key(marks.DASH, _("with always full")),
    )
    heads = (
        _("From"),
        _("Cars"),
        _("Saturation"),
        _("Always full"),
        _("Reduced"),
        _("Damp at the wheel"),
        _("Leave damp"),
    )
    rows = tuple(
        (
            show_clock(start),
            whole(day.told.cars[at]),
            *(
                percent(values[at], fine=True)
                for values in (wet, full, day.told.reduced, day.told.damp, day.told.left_damp)
            ),
        )
        for at, start in enumerate(starts)
    )
    says = _("Even with the advised rule the cloth is expected to pass the damp limit.")
    if max((value for value in wet if value is not None), default=0.0) < limit:
        says = _("With the advised rule the cloth is expected to stay below the damp limit.")
    title = _("Expected saturation that cars meet, % of what the cloth can hold")
    return Chart("strips", title, says, svg, heads, rows, key)


def _strip(start: float, wet: float | None, full: float | None, x: Scale, y: Scale) -> Markup:
    """A half hour: the cloth, its water, and a line where always full would have it."""
    left, right = (x(start + 900.0 + side) for side in (-HALF_STRIP_S, HALF_STRIP_S))
    drawn = [
        marks.bar("cloth", (left, right, RAIL + 1.0, FOOT)),
        marks.bar("wet", (left, right, y(wet or 0.0), FOOT)),
    ]
    if wet is not None and full is not None and full > wet:
        drawn.append(marks.across("would", y(full), left, right))
    said = percent(wet, fine=True)
    says = _("{time}: {share} of what the cloth can hold", time=show_clock(start), share=said)
    return marks.told(says, *drawn)


def _limit(down: float, limit: float) -> Markup:
    named = _("damp limit {share}", share=percent(limit, fine=True))
    return marks.limit(down, named, is_left=True)


def _spans(answer: WhenToReduce, first: float, last: float) -> list[tuple[float, float, bool]]:
    """Stretches of the day with one way of wiping: begin, end, and whether it is reduced."""
    rule, spells = answer.told, answer.half_hours.reduced
    if rule.everyone:
        spells = ((first, last),)
    elif windows := windows_of(rule):
        spells = tuple((max(first, a), min(last, b)) for a, b in windows)
    spans = []
    at = first
    for start, end in spells:
        if start > at:
            spans.append((at, start, False))
        spans.append((start, end, True))
        at = end
    if at < last:
        spans.append((at, last, False))
    return spans


def _wiping(spans: Sequence[tuple[float, float, bool]], x: Scale) -> list[Markup]:
    """The wiping as a thick or thin bar, named where there is room, with a line at each turn."""
    drawn = []
    for start, end, is_reduced in spans:
        left, right = x(start), x(end)
        gaps = (0.25 if left > 0.0 else 0.0, 0.25 if right < 100.0 else 0.0)
        kind = "less" if is_reduced else "whole"
        drawn.append(marks.across(kind, BAR, left + gaps[0], right - gaps[1]))
        if left > 0.0:
            drawn.append(marks.upright("turn", left, BAR - 8.0, FOOT))
        if right - left < 9.0:
            continue
        if right - left < 18.0:
            said = _("Less") if is_reduced else _("Full")
        else:
            said = _("Reduced") if is_reduced else _("Full wipe")
        drawn.append(marks.words(said, ((left + right) / 2.0, BAR - 12.0), "strong", "middle"))
    return drawn


# ---- trade-off -----------------------------------------------------------------------------------


def trade_chart(answer: WhenToReduce) -> Chart:
    """A point a rule; the line joins those that no other beats in both."""
    points, allowed = answer.trade_off, answer.wish.allowed_damp_share
    top = 1.08 * max(0.02, *(point.left_damp_share for point in points))
    x, y = Scale(0.0, 1.0, LEFT, RIGHT), Scale(0.0, 100.0 * top, FLOOR, TOP)

    def place(point: TradeOffPoint) -> Place:
        return x(point.full_share), y(100.0 * point.left_damp_share)

    front = sorted((one for one in points if one.undominated), key=lambda one: one.full_share)
    with_limit = answer.wish.kind != "cost" and allowed < top
    limit_y = y(100.0 * allowed)
    grid = [
        v for v in marks.grid_values(100.0 * top) if not with_limit or abs(y(v) - limit_y) > 16.0
    ]
    named = _named(answer)
    allowed_words = _("you allow {share}", share=percent(allowed, fine=True))
    taken = [_box(allowed_words, (100.0, limit_y - marks.ABOVE), "end")] if with_limit else []
    drawn = [_mark(kind, place(point), said, taken) for kind, (point, said) in named.items()]
    shares = (0, 25, 50, 75, 100)
    svg = marks.picture(
        _("Cars leaving damp against cars fully wiped, a point a rule"),
        FLOOR + marks.FOOT_PX + 8.0,
        marks.grid(y, grid, f"{NBSP}% {_('leave damp')}"),
        marks.floor(FLOOR, [(x(v / 100.0), f"{v}{NBSP}%" if v == 100 else str(v)) for v in shares]),
        *(marks.point(place(one), OTHER) for one in points if not one.undominated),
        *([marks.limit(limit_y, allowed_words)] if with_limit else []),
        marks.stretched(FLOOR, ("line best", marks.line_of(map(place, front)))),
        *reversed(drawn),
    )
    key = (
        *(
            Key(marks.swatch(marks.SHAPES[RULES[kind]]), said)
            for kind, (_point, said) in reversed(named.items())
        ),
        Key(marks.swatch(marks.stroke("line best")), _("no other rule is better in both")),
        Key(marks.swatch(OTHER), _("other rules, some of them")),
    )
    heads = (_("Rule"), _("Fully wiped"), _("Leave damp"), _("Cost of the day"))
    rows = tuple(
        (
            _(one.rule.words()),
            *(
                told_as(answer.comparison, one.rule.text, name, value)
                for name, value in (
                    ("full_share", one.full_share),
                    ("left_damp_share", one.left_damp_share),
                    ("cost", one.cost),
                )
            ),
        )
        for one in front
    )
    says = _("Across: cars fully wiped, %")
    return Chart("trade", _("Cars leaving damp, % of cars washed"), says, svg, heads, rows, key)


def _named(answer: WhenToReduce) -> dict[str, tuple[TradeOffPoint, str]]:
    """The advised rule, always full, always reduced and the rule now by kind; one that is several
    of them stands once, with all its names."""
    wanted = (
        (
            "chosen",
            answer.chosen.text,
            _("advised") if answer.told == answer.chosen else _("advised, done to the letter"),
        ),
        ("full", "full", _("always full")),
        ("reduced", "reduced", _("always reduced")),
        ("present", answer.present.text, _("now")),
    )
    points = {point.rule.text: point for point in reversed(answer.trade_off)}
    found: dict[str, tuple[TradeOffPoint, str]] = {}
    for kind, rule, _words in wanted:
        names = [words for _kind, other, words in wanted if other == rule]
        if rule in points and points[rule] not in [point for point, _said in found.values()]:
            found[kind] = points[rule], ", ".join(names)
    return found


def _mark(kind: str, place: Place, said: str, taken: list[Box]) -> Markup:
    """A named rule; its words stand clear of those that are there already, to which they come."""
    x, y = place
    anchor = "start" if x < 30.0 else "end" if x > 70.0 else "middle"
    boxes = [_box(said, (x, foot), anchor) for foot in (y - 14.0, y + 24.0, y - 30.0, y + 40.0)]
    free = (
        box
        for box in boxes
        if TOP - 4.0 <= box[3] <= FLOOR - 4.0 and not any(_meet(box, other) for other in taken)
    )
    box = next(free, boxes[0])
    taken.append(box)
    is_chosen = kind == "chosen"
    shape = (RING if is_chosen else "") + marks.SHAPES[RULES[kind]]
    named = marks.words(said, (x, box[3]), "strong halo" if is_chosen else "say halo", anchor)
    return marks.point(place, shape) + named


def _box(said: str, place: Place, anchor: str) -> Box:
    """About the room that words take where the chart is narrowest."""
    wide, (x, foot) = CHARACTER * len(said), place
    left = x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    return left, left + wide, foot - 15.0, foot


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]
