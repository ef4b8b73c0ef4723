"""What is said of the limit between dry and damp: whose value it is, and whether it is a guess."""

from __future__ import annotations

from datetime import date

from app.words.dry import TELLING, damp_guessed, damp_means, damp_words
from sim.inputs import INPUTS, SOAKED, TOWEL, Site, Weighing
from sim.units import NBSP

SITE = Site("Small Wash")
DAY = date(2026, 6, 20)
STRIP = Weighing(SOAKED, DAY, 0.0, 0.9, 0.3)
TOWELS = (Weighing(TOWEL, DAY, 0.0, 0.12, 0.1), Weighing(TOWEL, DAY, 0.0, 0.16, 0.1))


def test_without_a_towel_it_is_a_guess_with_its_range() -> None:
    """Strips alone change nothing; the range is the prior's, a film times the hood of the
    reference car, in grams."""
    site = SITE
    prior = INPUTS["allowed_film_kg_m2"].prior
    assert prior is not None
    area = site.reference.numbers.hood_area_m2
    for measured in ((), (STRIP,)):
        said = damp_guessed(site, (), measured).replace(NBSP, " ")
        assert said.startswith("That is a guess: until towels are weighed")
        assert f"{1000 * prior.low * area:.0f} g" in said
        assert f"{1000 * prior.high * area:.0f} g" in said


def test_after_a_towel_test_it_is_no_longer_called_a_guess() -> None:
    """With a towel among the measurements the sentence says whose value stands there and where the
    range after it is found, and asks for no towels again."""
    said = damp_guessed(SITE, (), (STRIP, *TOWELS))
    assert "guess" not in said
    assert "Your towel test tells more of it" in said
    assert "page Measurements" in said
    assert "weigh the towel" not in said


def test_what_the_site_entered_is_called_nothing() -> None:
    """Once the site has entered film or limit, only what it means is said, towels or none."""
    site = SITE
    for name in TELLING:
        for measured in ((), TOWELS):
            assert damp_words(site, {name}, measured, "us") == damp_means(site, "us")
