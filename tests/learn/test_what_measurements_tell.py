"""What measurements leave open of damp cars, and what they save, on simulated sites."""

from __future__ import annotations

from sim.inputs import HOODS, MEASURED, SPIN, TOWEL
from tests.learn.measured_sites import THREE, answered, assert_honest, paired, told_by
from tests.learn.weighed_sites import true_sites, world

WAYS = {
    "nothing": (),
    "three weighings": THREE,
    "and a spin test": (*THREE, SPIN),
    "and towels": (*THREE, TOWEL),
    "and twenty hoods": (*THREE, HOODS),
    "all": MEASURED,
}
"""What is measured, beside nothing and the three weighings alone: these and one kind more."""


COUNT, TRUTHS = 128, 8
"""Sites that judge and sites that are measured; of few that judge, few are left by what tells
much."""


def test_what_is_measured_beside_the_three_weighings_stays_honest() -> None:
    """Over sites drawn from the prior, each measured with errors, the 90 % interval of the share of
    damp cars of a busy day holds the truth as often as it says (99.9 % binomial range), whatever
    was measured. The three weighings cut its width to a half and less, and twenty hoods beside them
    leave it no wider than luck does (95 % interval of the difference on the same sites)."""
    drawn, some = world(COUNT), true_sites(TRUTHS, "model")
    told = [told_by(drawn, truth, place) for place, truth in enumerate(some)]
    found = {name: answered(drawn, some, told, kinds) for name, kinds in WAYS.items()}
    nothing, alone = found["nothing"], found["three weighings"]
    for one in found.values():
        assert_honest(int(one.covered.sum()), TRUTHS)
    assert alone.width.mean() < nothing.width.mean() / 2.0
    assert alone.regret.sum() < nothing.regret.sum()
    apart, half = paired(found["and twenty hoods"].width, alone.width)
    assert apart <= half
