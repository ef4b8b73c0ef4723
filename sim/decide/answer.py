"""What a comparison of scenarios found: the very thing that is stored, worded and given out.

Everything is in SI units, whatever the site reads; shares and saturations are 0 to 1; a list by
hour has 24 items, the first for 0:00 to 1:00; None stands where there is nothing to tell. As JSON
it is described in the guide.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field
from typing import Literal

from sim.day.figures import FIGURES, Figure, PairedDifference, Range, Word
from sim.day.rules import parse_rule
from sim.decide.firm import (
    LEAST_SITES,
    MOST_BETTERED,
    MOST_LOSING,
    Standing,
    Widener,
    strongest,
)
from sim.inputs import Conditions, Scenario

__all__ = [
    "LEAST_SITES", "MOST_BETTERED", "MOST_LOSING", "Column", "Comparison", "Figure", "Limits",
    "Opening", "PairedDifference", "Plan", "Range", "Standing", "Widener", "Word",
]  # fmt: skip

Hours = tuple[float | None, ...]
Source = Literal["weighing", "hung_dry", "put_on_dry", "evening", "followed"]


@dataclass(frozen=True, slots=True)
class Opening:
    """How wet the cloth is when the gate opens, under the first scenario.

    Attributes:
        saturation: of its holding capacity.
        source: a weighing; a dry set hung in the morning; a set put on dry, as there is no day
            before; or the evening before, simulated as it was expected or, ``followed``, as its log
            has it, and the night after it.
        evening: the last open day before, where that is the source.
    """

    saturation: float
    source: Source
    evening: datetime.date | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """What bounds a day.

    Attributes:
        damp_limit_saturation: saturation at which the reference car begins to leave damp.
        allowed_damp_share: share of cars leaving damp that the manager allows.
        stack_limit_cars: cars that can wait before the pay lanes.
        belt_capacity_per_h: cars that belt and loading take under the first scenario [1/h].
        open_h, close_h: opening, and last car accepted [h of the clock].
    """

    damp_limit_saturation: float
    allowed_damp_share: float
    stack_limit_cars: int
    belt_capacity_per_h: float
    open_h: float
    close_h: float

    @property
    def no_wiping_needed(self) -> bool:
        """Whether even unwiped cars would not count as damp."""
        return self.damp_limit_saturation >= 1.0


@dataclass(frozen=True, slots=True)
class Column:
    """A scenario's answer.

    Attributes:
        label: rule and dry sets in words.
        figures: by name, see `sim.day.figures.FIGURES`.
        hours: means by hour, by the names of `sim.day.figures.HOURLY`.
        differences: to the first scenario; None for the first itself.
        widest: for some figures the inputs that widen them most; empty if too few were drawn.
        against: how it stands against each column, itself too; empty where no site was drawn.
    """

    scenario: Scenario
    label: str
    figures: dict[str, Figure]
    hours: dict[str, Hours]
    differences: dict[str, PairedDifference] | None
    widest: dict[str, tuple[Widener, ...]]
    against: tuple[Standing, ...] = ()

    @property
    def name(self) -> str:
        """What the column is called."""
        return self.scenario.name

    def value(self, figure: str) -> float | None:
        """A figure's value; None where the day has none, or it was not asked for."""
        return self.figures[figure].value if figure in self.figures else None

    def hour(self, figure: str) -> Hours:
        """A figure by hour; 24 times None where it was not asked for."""
        return self.hours.get(figure, (None,) * 24)

    def apart(self, figure: str) -> PairedDifference:
        """A figure's difference to the first scenario, without a value where there is none."""
        return (self.differences or {}).get(figure, NONE_APART)


NONE_APART = PairedDifference(None, None, None, "")


SCHEMA = "clothcast.plan/4"


@dataclass(frozen=True, slots=True)
class Comparison:
    """The answer to a `sim.decide.compare.Question`.

    Attributes:
        seed: root seed of every random number.
        replications: runs, the same ones for all scenarios.
        days: different days among them.
        sites: how many sites were drawn, the days spread over them; 0 where guesses stayed as
            they are.
        weighed: kinds of weighing that the sites were drawn by.
        draw_hash: fingerprint of the first day's random numbers.
        conditions: what the day brings.
        opening: of the first scenario; None where the day was not opened.
        unshown: further columns of the plan that these were taken from. What every column has in
            common goes by them too, such as to which digit a figure is printed.
    """

    seed: int
    replications: int
    days: int
    sites: int
    weighed: tuple[str, ...]
    draw_hash: str
    conditions: Conditions
    opening: Opening | None
    limits: Limits
    columns: tuple[Column, ...]
    unshown: tuple[Column, ...] = ()

    @property
    def best(self) -> int:
        """The column to advise: the best margin of those that keep to what may leave damp.

        Where none does, the one with the fewest cars leaving damp. Of those that the simulated days
        do not tell from it, the first is taken. The first column, which is the present setting,
        keeps its place when the choice is better neither in margin nor in cars leaving damp by
        enough to matter.
        """
        damp = [column.value("left_damp_share") for column in self.columns]
        margins = [column.value("margin") for column in self.columns]
        allowed = self.limits.allowed_damp_share
        kept = [i for i, share in enumerate(damp) if share is None or share <= allowed]
        if kept:
            best = max(kept, key=lambda i: -math.inf if margins[i] is None else margins[i] or 0.0)
        else:
            best = min(range(len(self.columns)), key=lambda i: damp[i] or 0.0)
        against = enumerate(self.columns[best].against)
        among = kept or range(len(self.columns))
        best = min([best, *(i for i, one in against if i in among and not one.told)])
        reasons = ("margin", "left_damp_share") if kept else ("left_damp_share",)
        is_better = any(self.columns[best].apart(name).matters for name in reasons)
        return best if is_better or (kept and 0 not in kept) else 0

    def with_rule(self, text: str) -> Column | None:
        """The column that runs the day by a rule, all else as in the first, shown or not; None for
        none."""
        rule, first = parse_rule(text), self.columns[0].scenario
        for column in (*self.columns, *self.unshown):
            one = column.scenario
            is_like = one.cloth == first.cloth and dict(one.changes) == dict(first.changes)
            if is_like and parse_rule(one.rule) == rule:
                return column
        return None

    def level(self, text: str, name: str, value: float, own: float) -> float:
        """What a figure is where something is tried against a way to run the day that stands here.

        Args:
            text: the rule of that way, all else as in the first column.
            value, own: the figure with what is tried and without, both of simulated days of their
                own; without a column of that rule the value stands as it is.

        Returns:
            what can be: a margin may be a loss, nothing else is below zero, no share above one.
        """
        column = self.with_rule(text)
        base = None if column is None else column.value(name)
        if base is None:
            return value
        told, kind = base + (value - own), FIGURES[name].unit
        if name == "margin":
            return told
        return min(1.0, max(0.0, told)) if kind == "share" else max(0.0, told)

    def rival(self, advised: int) -> tuple[int, Standing] | None:
        """The column that leaves an advised one least firm, and how that stands against it; None
        where there is no other column, or no site was drawn."""
        against = enumerate(self.columns[advised].against)
        return strongest((at, one) for at, one in against if at != advised)


@dataclass(frozen=True, slots=True)
class Plan:
    """A day's plan: its scenarios compared.

    Attributes:
        site: name of the site; date: the planned day.
        origin: what its expected cars and weather were made of, in words.
        libraries: versions of what computed it, by name.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    site: str
    date: datetime.date
    origin: str
    libraries: dict[str, str]
    comparison: Comparison
