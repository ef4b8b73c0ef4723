"""What weighings leave of a site's guesses: what was found out, as it is stored and told."""

from __future__ import annotations

from dataclasses import dataclass, field

from sim.day.drawn import Belief
from sim.inputs import MISFIT, Weighing

SCHEMA = "clothcast.weighings/4"
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
