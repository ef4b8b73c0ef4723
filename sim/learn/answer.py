"""What weighings leave of a site's guesses: what was found out, as it is stored and told."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from sim.day.drawn import Belief
from sim.inputs import EFFORT, MISFIT, Weighing

WORTH_SCHEMA = "clothcast.worth/1"
SCHEMA = "clothcast.weighings/5"
Three = tuple[float, float, float]
"""5th percentile, median and 95th percentile."""


@dataclass(frozen=True, slots=True)
class CheckedWeighing:
    """One measurement beside what drawn sites would have weighed and seen.

    Attributes:
        weighing: as it was entered; strips weighed at one time are a row each. Of towels the first.
        moisture_before, moisture_after: of the cloth, over usual sites before, and over the
            ensemble [kg/kg]; None where no strip was weighed. Of a spin test that after it, from
            what was weighed before.
        share_before, share_after: the same for the share of damp cars; None where nobody looked.
        limit_before, limit_after: the same for the water that may be left on the reference car's
            hood [kg]; None but of towels. limit_found: halfway between towels of hoods that would
            pass and of hoods that would be called back; None where one kind is missing.
    """

    weighing: Weighing
    moisture_before: Three | None = None
    moisture_after: Three | None = None
    share_before: Three | None = None
    share_after: Three | None = None
    limit_before: Three | None = None
    limit_after: Three | None = None
    limit_found: float | None = None


@dataclass(frozen=True, slots=True)
class PosteriorShift:
    """An input of which weighings told something; before and after in SI."""

    name: str
    before: Three
    after: Three


@dataclass(frozen=True, slots=True)
class Posterior:
    """What came out.

    Attributes:
        belief: the ensemble; its effective number is that before weights were evened out.
        strange, strange_before: probability that the site is a strange one, 0 to 1, with and
            without the weighings.
        judged: each weighing beside what was expected of it.
        inputs: what weighings told something of, those of which they tell most first.
        moves: how far the site moves in a year by what old and new measurements say of each other,
            a standard deviation of a logarithm; 0 where none is old.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    belief: Belief
    strange: float
    strange_before: float
    judged: tuple[CheckedWeighing, ...]
    inputs: tuple[PosteriorShift, ...]
    moves: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether the model explains the weighings; where it doesn't, they count all the same."""
        return MISFIT not in self.belief.weighed


@dataclass(frozen=True, slots=True)
class MeasurementWorth:
    """What a measurement would change in a day's advice, in the mean over drawn sites.

    Attributes:
        kind: see `sim.inputs.MEASURED`.
        money: what the rule chosen after it costs less, a day [$]; run_error: half of its 95 %
            interval.
        left_damp: how many more cars leave damp under that rule, a day; below zero for fewer.
        changes: share of drawn sites at which it would change the rule, 0 to 1.
    """

    kind: str
    money: float
    run_error: float
    left_damp: float
    changes: float

    @property
    def is_told(self) -> bool:
        """Whether it is told from luck that the measurement is worth anything."""
        return self.money > self.run_error


@dataclass(frozen=True, slots=True)
class WorthOfMeasuring:
    """What each kind would be worth on a day, the one worth most first."""

    schema: str = field(default=WORTH_SCHEMA, kw_only=True)
    day: date
    sites: int
    each: tuple[MeasurementWorth, ...]

    @property
    def order(self) -> tuple[str, ...]:
        """Kinds as they are offered: those told from luck by their worth, then the others by how
        little work they are."""
        told = [one.kind for one in self.each if one.is_told]
        others = [one.kind for one in self.each if not one.is_told]
        return (*told, *sorted(others, key=lambda kind: EFFORT[kind]))


NARROW = 0.5
"""A value is offered where the log leaves at most so much of the range of the guess; a guess."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a log tells of an input, in SI.

    Attributes:
        name: of the input; now: the value that plans stand on.
        before, after: of its guess, and of what the log leaves.
        left: how much of the width of the guess the log leaves, on the guess's own scale.
    """

    name: str
    now: float
    before: Three
    after: Three
    left: float


@dataclass(frozen=True, slots=True)
class LogFinding:
    """What entries of one kind tell, by inputs that are taken over together.

    Attributes:
        kind: of the entries. entries: how many told it, of times how many cars.
        days: on which one would have been noted, 0 where that does not matter.
    """

    kind: str
    entries: int
    days: int
    inputs: tuple[Told, ...]

    @property
    def is_near(self) -> bool:
        """Whether what plans stand on lies within what the log leaves."""
        return all(one.after[0] <= one.now <= one.after[2] for one in self.inputs)

    @property
    def is_offered(self) -> bool:
        """Whether it may take the place of what plans stand on, which is not that already: what is
        entered, plans take for known."""
        return not self.is_near and any(one.left <= NARROW for one in self.inputs)
