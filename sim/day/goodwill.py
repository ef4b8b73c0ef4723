"""What no bill shows when cars leave wet or people wait: its cost, and what that is counted from.

A car of a customer without a membership that leaves with a damp hood or windshield costs the site's
`damp_cost`. Roof and rear never make a car damp; where one of them is left with more than the
allowed film it costs that price times how much customers mind it, on every pass that leaves for
good, wiped in full or not and dried by hand or not, for hands at the exit dry hood and windshield
alone. So a reduced wipe costs what it leaves wet beyond what a full wipe would have left, and
`reduced_cost` is only what the site loses by it beside that.

A member pays for the year, so what a member takes amiss costs the chance that the member leaves
times what one earns in a year. That chance rises by `member_leave_per_damp` with each damp car (by
its share with a wet roof or rear) and by `member_leave_per_ten_minutes` with each ten minutes
waited. A member who drives away has lost no ticket, since the dues are paid; it counts as a wait as
long as the member would have had patience for. Chances are small, so they are added up (a
first-order approximation; all of them are guesses).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.inputs.people import Money

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
TEN_MINUTES_S = 600.0
OF_GOODWILL = ("cost_damp", "cost_zones", "cost_members", "cost_reduced")
"""Items of the list of costs that are worked out here."""
GOODWILL_COUNTS = (
    "left_damp", "left_damp_members", "roof_left_wet", "roof_left_wet_members", "rear_left_wet",
    "rear_left_wet_members", "member_waits_s", "reduced",
)  # fmt: skip
"""What they are counted from: cars that leave damp; passes that leave with a wet roof and with a
wet rear; waits of members, with the patience of those who drove away [s]; reduced passes. Of the
first three also those of members alone."""


@dataclass(frozen=True, slots=True)
class Goodwill:
    """A site's prices of goodwill.

    Attributes:
        damp, member_damp: of a damp car, of a customer without and with a membership [money].
        roof, rear: how much a wet roof or rear is minded, as share of a damp car.
        member_wait: of a member's wait [money/s].
        reduced: of a reduced wipe, beside what it leaves wet [money].
    """

    damp: float
    member_damp: float
    roof: float
    rear: float
    member_wait: float
    reduced: float

    def items(self, counts: Mapping[str, Any]) -> dict[str, Any]:
        """The items of a run, or of many as arrays; `counts` by name of `GOODWILL_COUNTS`."""
        members = self.minded(counts, "_members")
        others = self.minded(counts) - members
        damp = counts["left_damp"] - counts["left_damp_members"]
        by_members = counts["left_damp_members"] + members
        return {
            "cost_damp": self.damp * damp,
            "cost_zones": self.damp * others,
            "cost_members": self.member_damp * by_members
            + self.member_wait * counts["member_waits_s"],
            "cost_reduced": self.reduced * counts["reduced"],
        }

    def minded(self, counts: Mapping[str, Any], of: str = "") -> Any:
        """Wet roofs and rears as so many damp cars; `of`: ending of the counts' names."""
        return self.roof * counts[f"roof_left_wet{of}"] + self.rear * counts[f"rear_left_wet{of}"]

    def of(self, counts: Mapping[str, Any]) -> Any:
        """All of it together [money]."""
        return sum(self.items(counts).values())

    def a_damp_car(self, member: Bools) -> Floats:
        """What a damp car costs, by whether it is a member's [money]."""
        return np.where(member, self.member_damp, self.damp)


def goodwill_of(money: Money) -> Goodwill:
    """The prices of goodwill by a site's inputs."""
    return Goodwill(
        money.damp_cost,
        money.member_margin_year * money.member_leave_per_damp,
        money.zone_minded_roof,
        money.zone_minded_rear,
        money.member_margin_year * money.member_leave_per_ten_minutes / TEN_MINUTES_S,
        money.reduced_cost,
    )


def damp_car_price(money: Money) -> float:
    """What a car that leaves damp costs on average over members and others [money]."""
    prices, share = goodwill_of(money), money.member_share
    return (1.0 - share) * prices.damp + share * prices.member_damp
