"""How many cars leave damp while the cloth holds so much water, without simulating a car."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from sim.day.kernel import Tables
from sim.inputs import Site
from sim.physics.water_film import film_sigma, uptake_now

Floats = NDArray[np.float64]


def damp_share(site: Site, tables: Tables, moistures_kg_kg: Floats, times_s: Floats) -> Floats:
    """Expected share of cars that leave with a damp hood or windshield.

    A zone with film f is left with f·(1 − s·κ·(1 − S)), S saturation and s the share of it that
    is wiped, and is damp above the allowed film. The film of a car is lognormal, so the share of
    a class is a normal probability of the lowest film that leaves a zone damp. Against the day
    itself this leaves out that the cloth gets wetter within one car, and wear within the day.

    Args:
        tables: of the day.
        moistures_kg_kg: moisture of the cloth, any shape.
        times_s: when, which tells the belt's speed [s after midnight]; of the same shape.

    Returns:
        Of the same shape.
    """
    cloth = tables.cloth
    row = np.maximum(np.searchsorted(cloth.speed_from, times_s, side="right") - 1, 0)
    uptake = uptake_now(
        cloth.uptake_max, cloth.uptake_loss, cloth.set_wear_cars, cloth.life_scale_cars
    )
    kappa = uptake * cloth.share[row]
    room = 1.0 - np.minimum(moistures_kg_kg / cloth.holding, 1.0)
    film = cloth.film_kg_m2[row] * (1.0 - cloth.wiped_share * kappa * room)
    highest = np.nan_to_num(cloth.factor[:, :2]).max(axis=1)  # of hood and windshield, by class
    shares = np.array([item.numbers.share for item in site.vehicles])
    with np.errstate(divide="ignore"):  # no film leaves nothing damp: the logarithm is −∞
        over = np.log(film[..., None] * highest / cloth.allowed_film)
    sigma = max(film_sigma(site.water.film_cv), 1e-9)  # cars that are all alike: a step
    return np.asarray(ndtr(over / sigma) @ (shares / shares.sum()))
