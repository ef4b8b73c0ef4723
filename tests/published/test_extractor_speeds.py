"""g-force at the spin speeds of laundry extractors.

US Department of Energy, test procedure for clothes washers, 10 CFR 430 subpart B appendix J3 as
proposed, Federal Register 86 no. 167 (1 September 2021), p. 49226, table 4.1.
"""

from __future__ import annotations

import pytest

from sim.physics.belt import g_force

BASKET_RADIUS_M = 0.5 * 20 * 0.0254  # basket diameter 20 in


@pytest.mark.parametrize(
    ("rev_per_min", "g"),
    [(594, 100), (840, 200), (1111, 350), (1328, 500), (1514, 650)],  # table 4.1
)
def test_g_at_extractor_speeds(rev_per_min: float, g: float) -> None:
    """Each printed speed gives its printed g-force to 0.35 %: the speeds are rounded."""
    assert g_force(rev_per_min / 60.0, BASKET_RADIUS_M) == pytest.approx(g, rel=0.0035)
