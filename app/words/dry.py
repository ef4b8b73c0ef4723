"""What counts as dry, said the way a person sees it: water on a hood, in grams and spoonfuls."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from app.catalogue import _
from app.sites.measurements import allowed_film
from app.words.numbers import amount, grams, on_area
from sim.inputs import INPUTS, TOWEL, Site, Weighing

TELLING = ("allowed_film_kg_m2", "damp_limit_saturation")
"""Inputs either of which a site may enter to say which car is damp."""


def hood_words(site: Site) -> str:
    """The allowed film as the water on the hood of the reference car."""
    return _(
        "On the hood of a {car} that is {water}.",
        car=site.reference.label,
        water=on_area(allowed_film(site), site.reference.numbers.hood_area_m2),
    )


def damp_means(site: Site, system: str) -> str:
    """From where on a car counts as damp, as film and as the water that one sees."""
    film_kg_m2 = allowed_film(site)
    return _(
        "A car counts as damp when hood or windshield is left with more than {film}; on the hood "
        "of a {car} that is {water}.",
        film=amount(film_kg_m2, "film", system),
        car=site.reference.label,
        water=on_area(film_kg_m2, site.reference.numbers.hood_area_m2),
    )


def damp_guessed(site: Site, given: Collection[str], measured: Sequence[Weighing]) -> str:
    """Where that is from: a guess with its range, or a guess of which towels have told more by now;
    nothing where the site has entered it."""
    prior = INPUTS["allowed_film_kg_m2"].prior
    if prior is None or not set(TELLING).isdisjoint(given):
        return ""
    if any(item.kind == TOWEL for item in measured):
        return _(
            "That is the value on the Site page. Your towel test tells more of it: plans draw the "
            "limit from what is still believed after it, and the page Measurements has that range."
        )
    area = site.reference.numbers.hood_area_m2
    return _(
        "That is a guess: until towels are weighed, {low} to {high} on that hood is believed. Dry "
        "the hoods of five cars that your crew would let pass and of five that it would call back; "
        "weigh the towel before and after.",
        low=grams(prior.low * area),
        high=grams(prior.high * area),
    )


def damp_words(
    site: Site, given: Collection[str], measured: Sequence[Weighing], system: str
) -> str:
    """Both in one: which car counts as damp, and whether that is a guess."""
    guessed = damp_guessed(site, given, measured)
    return " ".join(filter(None, (damp_means(site, system), guessed)))
