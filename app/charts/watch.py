"""The line from above at a moment of a simulated day: the waiting places, the belt to scale, the
wheel as strips that fill with water, damp cars at the exit.

Cars come from the right, pay, turn round at the left and ride the belt to the right. Where
everything stands is worked out here alone; the page's script draws other moments on the same stage.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from app.catalogue import _
from app.charts import marks
from app.charts.marks import Box, Chart, Key, Place, Scale
from app.words.numbers import whole
from app.words.watch import HERE, STOPPED, STRIPS, moment_words, wet_words
from sim.day.watched import (
    BELT,
    DRIED,
    FULL,
    LANE,
    LINE,
    LOADING,
    REDUCED,
    STACK,
    STANDS,
    Moment,
    Room,
    WatchedCar,
    WatchedDay,
)

CAR, STEP = 2.8, 3.8
"""A waiting car, and from one to the next [% across]."""
HIGH, ROW = 9.0, 13.0
"""The same down [px]."""
MOST_ROWS = 4
LEFT = {LINE: 0.5, LANE: 37.0, STACK: 66.0, BELT: 0.0, STANDS: 82.0}
"""Where each part of the drawing begins."""
COLUMNS = {LINE: 8, LANE: 5, STACK: 9, STANDS: 4}
HEAD = 13.0
"""Foot of the words on top."""
BELT_END = 77.0
BEFORE, BEHIND = 600, 800
"""Of the belt is shown so much before the place where cars are caught and behind the wheel [cm]."""
GLIDE = 650
"""From where a car that is loaded drives up [cm]."""
APART = 40
"""So far behind the car ahead it stays at least [cm]."""
STRIPS_PX, HALF_WHEEL = 40.0, 4.2
"""Strips are so long, and all together so wide to either side [px, %]."""
STRIP_COUNT = 4
BELT_PX = 20.0


@dataclass(frozen=True, slots=True)
class Stage:
    """Where everything is drawn: percent across, pixels down.

    Attributes:
        places: left top corners of waiting cars by where they wait, first that of the car which
            goes on first; a pay lane each.
        belt: what is shown of it; first, last: the ends of that [cm from where cars are caught].
        strips: their boxes, hung from a rail; words: where the words over each place stand.
    """

    places: dict[int, tuple[Place, ...]]
    words: dict[int, Place]
    belt: Box
    first: int
    last: int
    strips: tuple[Box, ...]
    glide: int = GLIDE
    apart: int = APART
    car: Place = (CAR, HIGH)

    @property
    def height(self) -> float:
        """Of the whole drawing [px]."""
        return self.belt[3] + 4.0

    def across(self, cm: float) -> float:
        """Where a place on the belt lies, within what is shown of it."""
        scale = Scale(self.first, self.last, self.belt[0], self.belt[1])
        return scale(min(max(cm, self.first), self.last))


def stage_of(room: Room) -> Stage:
    """The stage of a line."""
    counts = {LINE: room.line, LANE: room.lanes, STACK: room.stack}
    rows = max(_rows(where, count) for where, count in counts.items())
    rail = HEAD + 7.0 + rows * ROW + 16.0
    top = rail + STRIPS_PX + 3.0
    belt = (LEFT[BELT], BELT_END, top, top + BELT_PX)
    counts[STANDS] = COLUMNS[STANDS] * 2
    tops = {LINE: HEAD + 7.0, LANE: HEAD + 7.0, STACK: HEAD + 7.0, STANDS: top}
    words = {where: (LEFT[where], HEAD) for where in (LINE, LANE, STACK)}
    words |= {BELT: (LEFT[BELT], top - 6.0), STANDS: (100.0, top - 6.0)}
    first, last = -BEFORE, room.wheel + BEHIND
    wheel = Scale(first, last, *belt[:2])(room.wheel)
    wide = 2.0 * HALF_WHEEL / STRIP_COUNT
    starts = [wheel - HALF_WHEEL + wide * at for at in range(STRIP_COUNT)]
    return Stage(
        places={
            where: tuple(_places(where, count, tops[where])) for where, count in counts.items()
        },
        words=words,
        belt=belt,
        first=first,
        last=last,
        strips=tuple((at, at + 0.8 * wide, rail + 1.0, rail + STRIPS_PX) for at in starts),
    )


def _rows(where: int, count: int) -> int:
    if where == LANE:
        return min(count, MOST_ROWS)
    return min(MOST_ROWS, math.ceil(count / COLUMNS[where]))


def _places(where: int, count: int, top: float) -> Iterator[Place]:
    """Places row by row there and back, so that who waits moves up to a place beside his own; pay
    lanes column by column; no more than there is room to draw."""
    for at in range(min(count, COLUMNS[where] * MOST_ROWS)):
        row, column = divmod(at, COLUMNS[where])
        if row % 2:
            column = COLUMNS[where] - 1 - column
        if where == LANE:
            column, row = divmod(at, MOST_ROWS)
        yield LEFT[where] + STEP * column, top + ROW * row


# ---- what never moves ----------------------------------------------------------------------------


def _fixed(stage: Stage) -> Markup:
    left, right, top, foot = stage.belt
    wheel = 0.5 * (stage.strips[0][0] + stage.strips[-1][1])
    rail = stage.strips[0][2] - 1.0
    drawn = [
        marks.bar("place", _car_box(stage, place))
        for places in stage.places.values()
        for place in places
    ]
    drawn += [marks.across("axis", level, left, right) for level in (top, foot)]
    drawn += [marks.line("rail", (stage.strips[0][0], stage.strips[-1][1], rail, rail))]
    drawn += [marks.upright("axis", wheel, top, foot)]
    drawn += [marks.bar("cloth", strip) for strip in stage.strips]
    return Markup("<g>{}</g>").format(Markup("").join(drawn))


def _limit(stage: Stage, limit: int) -> list[Markup]:
    if limit >= 1000:
        return []
    down = _wet_top(stage, limit)
    return [marks.across("limit", down, stage.strips[0][0] - 1.0, stage.strips[-1][1] + 1.0)]


def _wet_top(stage: Stage, wet: float) -> float:
    _left, _right, top, foot = stage.strips[0]
    return foot - (foot - top) * min(wet, 1000.0) / 1000.0


# ---- a moment ------------------------------------------------------------------------------------


def _car_box(stage: Stage, place: Place) -> Box:
    return place[0], place[0] + stage.car[0], place[1], place[1] + stage.car[1]


def _kind(car: WatchedCar, at: int) -> str:
    """Looks of a car: whether it is damp behind the wheel, dried by hand, on its second pass."""
    kinds = ["car"]
    if car.is_damp and at >= car.wheel:
        kinds.append("damp")
    if car.where(at) == DRIED:
        kinds.append("tended")
    if car.is_again:
        kinds.append("again")
    return " ".join(kinds)


def _cars(stage: Stage, day: WatchedDay, one: Moment) -> Iterator[Markup]:
    standing = {
        **{where: one.cars[where] for where in (LINE, STACK)},
        STANDS: one.cars[DRIED] + one.cars[STANDS],
    }
    for where, cars in standing.items():
        for car, place in zip(cars, stage.places[where], strict=False):
            yield marks.bar(_kind(car, one.at), _car_box(stage, place))
    for car in one.cars[LANE]:
        if car.lane < len(stage.places[LANE]):
            yield marks.bar(_kind(car, one.at), _car_box(stage, stage.places[LANE][car.lane]))
    top, foot = stage.belt[2] + 4.0, stage.belt[3] - 4.0
    riding = [(car, day.nose(car, one.at)) for car in one.cars[BELT]]
    tail = min((nose - car.length for car, nose in riding), default=stage.last)
    for car in one.cars[LOADING]:
        riding.append((car, min(_driving_up(stage, car, one.at), tail - stage.apart)))
    for car, nose in riding:
        left, right = stage.across(nose - car.length), stage.across(nose)
        if right > left:
            yield marks.bar(_kind(car, one.at), (left, right, top, foot))


def _driving_up(stage: Stage, car: WatchedCar, at: int) -> float:
    """Nose of a car that is being loaded: it drives up evenly to where it is caught [cm]."""
    start, caught = car.times[LOADING - 1], car.times[LOADING]
    return car.pushed - stage.glide * (caught - at) / (caught - start)


def _wheel(stage: Stage, one: Moment) -> Iterator[Markup]:
    for left, right, _top, foot in stage.strips:
        yield marks.bar("wet", (left, right, _wet_top(stage, one.wet), foot))
    kind = {FULL: "whole", REDUCED: "less"}.get(one.wiping)
    if kind:
        level = stage.strips[0][2] - 8.0
        yield marks.across(kind, level, stage.strips[0][0], stage.strips[-1][1])


def _named(stage: Stage, one: Moment) -> Iterator[Markup]:
    for where, text in HERE.items():
        count = one.at_the_exit if where == STANDS else one.count(where)
        anchor = "end" if where == STANDS else "start"
        said = STOPPED if where == BELT and one.is_stopped else text
        yield marks.words(_(said, count=whole(count)), stage.words[where], "", anchor)
    place = stage.strips[0][0] - 1.5, stage.strips[0][2] + 10.0
    yield marks.words(_(STRIPS, wet=wet_words(one)), place, "", "end")


def still(name: str, title: str, day: WatchedDay, at: int) -> Chart:
    """The line at a moment."""
    stage, one = stage_of(day.room), day.moment(at)
    svg = marks.picture(
        moment_words(one),
        stage.height,
        _fixed(stage),
        *_wheel(stage, one),
        *_limit(stage, day.limit),
        *_cars(stage, day, one),
        *_named(stage, one),
    )
    return Chart(name, title, moment_words(one), svg, (), ())


def watch_key(days: Sequence[WatchedDay]) -> tuple[Key, ...]:
    """What each mark means."""
    limit = [
        Key(marks.swatch(marks.stroke("limit")), _("from here on strips leave cars damp"))
        for day in days[:1]
        if day.limit < 1000
    ]
    return (
        Key(_car_mark("car"), _("a car")),
        Key(_car_mark("car damp"), _("damp behind the wheel")),
        Key(_car_mark("car damp tended"), _("dried by a finisher")),
        Key(_car_mark("car again"), _("sent round again")),
        Key(marks.BAR, _("water in the strips, on average")),
        *limit,
        Key(marks.swatch(marks.stroke("whole")), _("wiped in full")),
        Key(marks.swatch(marks.stroke("less")), _("wiped reduced")),
    )


def _car_mark(kind: str) -> Markup:
    return marks.swatch(marks.stroke(kind, "M-12-4.5h24v9h-24z"))
