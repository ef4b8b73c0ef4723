"""Cloth that fills up against a certified nonlinear regression.

National Institute of Standards and Technology, Statistical Reference Datasets, nonlinear
regression, Misra1a (volume adsorbed against pressure; Misra 1978): y = b₁·(1 − exp(−b₂·x)), data
and certified values as they stand in the data set's file. Dry cloth that wipes zone after zone
takes water by the same law, with b₁ its holding capacity and b₂·x the dose.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from sim.physics.water_film import wipe_zone

X = (
    77.6,
    114.9,
    141.1,
    190.8,
    239.9,
    289.0,
    332.8,
    378.4,
    434.8,
    477.3,
    536.8,
    593.1,
    689.1,
    760.0,
)
Y = (
    10.07,
    14.73,
    17.94,
    23.93,
    29.61,
    35.18,
    40.02,
    44.82,
    50.76,
    55.05,
    61.01,
    66.40,
    75.47,
    81.78,
)
B1, B2 = 2.3894212918e2, 5.5015643181e-4
SQUARES = 1.2455138894e-1
STARTS = ((500.0, 1e-4), (250.0, 5e-4))
KAPPA, ZONES = 0.8, 7


def filled(b1: float, b2: float) -> NDArray[np.float64]:
    """Moisture of a kilogram of dry cloth after zones whose doses add up to b₂·x."""
    found = []
    for x in X:
        moisture, area = 0.0, b1 * b2 * x / KAPPA / ZONES
        for _ in range(ZONES):
            moisture, *_rest = wipe_zone(moisture, 1.0, area, KAPPA, b1, 1.0)
        found.append(moisture)
    return np.array(found)


def test_cloth_at_the_certified_values_leaves_the_certified_squares() -> None:
    """To the digits of the certificate."""
    assert float(((filled(B1, B2) - Y) ** 2).sum()) == pytest.approx(SQUARES, abs=1e-9)


@pytest.mark.parametrize("start", STARTS)
def test_cloth_fitted_to_the_data_has_the_certified_values(start: tuple[float, float]) -> None:
    """From both of the data set's starting points, to seven digits."""
    found = least_squares(
        lambda b: filled(*b) - Y, start, x_scale=start, method="lm", xtol=1e-14, ftol=1e-14,
        gtol=1e-14, max_nfev=4_000,
    )  # fmt: skip
    assert found.x == pytest.approx([B1, B2], rel=1e-7)
