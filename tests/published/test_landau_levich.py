"""Film left on a plate drawn out of water.

Landau & Levich 1942, Dragging of a liquid by a moving plate, Acta Physicochim. URSS 17:42–54
(citation from memory): δ = 0.944·l_c·Ca^(2/3). The figures for water are computed here by hand.
"""

from __future__ import annotations

import pytest

from sim.inputs import INPUTS
from sim.physics.water_film import withdrawn_film_m

WATER = (1.002e-3, 0.0728, 998.2)  # viscosity [Pa·s], surface tension [N/m], density [kg/m³]


def test_film_of_water() -> None:
    """At 0.1 m/s water (l_c 2.73 mm, Ca 1.376e-3) leaves 31.9 µm, and more at a higher speed."""
    assert withdrawn_film_m(0.1, *WATER) == pytest.approx(31.9e-6, abs=0.05e-6)
    by_hand = 0.944 * 2.727e-3 * 1.3764e-3 ** (2 / 3)
    assert withdrawn_film_m(0.1, *WATER) == pytest.approx(by_hand, rel=1e-3)
    assert withdrawn_film_m(0.8, *WATER) == pytest.approx(4 * 31.9e-6, rel=2e-3)


def test_the_default_film_is_of_that_order() -> None:
    """The default film after rinsing is within a factor of ten of the film of drawn water."""
    default = INPUTS["film_after_rinse_kg_m2"].default
    assert isinstance(default, int | float)
    assert 0.1 < default / (998.2 * withdrawn_film_m(0.1, *WATER)) < 10.0
