"""What weighings leave of a site's guesses: what was found out, as it is stored and told."""

from __future__ import annotations

from dataclasses import dataclass, field

from sim.day.drawn import Belief
from sim.inputs import MISFIT, Weighing

SCHEMA = "clothcast.weighings/3"
Three = tuple[float, float, float]
"""5th percentile, median and 95th percentile."""


@dataclass(frozen=True, slots=True)
class CheckedWeighing:
    """One weighing beside what drawn sites would have weighed and seen.

    Attributes:
        weighing: as it was entered; strips weighed at one time are a row each.
        moisture_before, moisture_after: of the cloth, over usual sites before, and over the
            ensemble [kg/kg].
        share_before, share_after: the same for the share of damp cars; None where nobody looked.
    """

    weighing: Weighing
    moisture_before: Three
    moisture_after: Three
    share_before: Three | None
    share_after: Three | None


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
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    belief: Belief
    strange: float
    strange_before: float
    judged: tuple[CheckedWeighing, ...]
    inputs: tuple[PosteriorShift, ...]

    @property
    def fits(self) -> bool:
        """Whether the model explains the weighings; where it doesn't, they count all the same."""
        return MISFIT not in self.belief.weighed
