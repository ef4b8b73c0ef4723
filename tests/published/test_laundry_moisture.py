"""Remaining moisture of spun laundry against g-force.

Table of remaining moisture content, US Department of Energy, test procedure for clothes washers,
10 CFR 430 subpart B appendix J3 as proposed (Federal Register 86 no. 167, 2021): cold soak, four
minutes of spinning. FROM MEMORY: the table was not found again. The line through it is the source
of the shape X_e ∝ G^(−b); 100 g in a drum is far from a wheel's 4 to 20 g.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.physics.moisture import throw_off_at

MOISTURE_BY_G = {100: 0.528, 200: 0.431, 350: 0.358, 500: 0.300, 650: 0.280}  # from memory


def test_the_power_law_follows_the_table() -> None:
    """Least squares of log X on log G give 2.649·G^−0.3464, and the law meets each row to 3 %."""
    logs_g = np.log(np.array(list(MOISTURE_BY_G), dtype=float))
    logs_x = np.log(np.array(list(MOISTURE_BY_G.values())))
    slope, level = (float(value) for value in np.polyfit(logs_g, logs_x, 1))
    assert slope == pytest.approx(-0.3464, abs=5e-5)
    assert math.exp(level) == pytest.approx(2.649, abs=5e-4)
    at_100_g = 594.0 / 60.0
    limit_100_g = math.exp(level) * 100.0**slope
    for g, moisture in MOISTURE_BY_G.items():
        speed = at_100_g * math.sqrt(g / 100.0)
        assert (2.0 * math.pi * speed) ** 2 * 0.254 / 9.80665 == pytest.approx(g, rel=0.0035)
        limit, _ = throw_off_at(speed, at_100_g, limit_100_g, 60.0, -slope, 1.0, 3.0, 0.0)
        assert limit == pytest.approx(moisture, rel=0.03)
