"""Named starting points can be used as they are, and say where they are from."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.checks import check_site
from sim.inputs import INPUTS, Site
from sim.profiles import STARTS, Profile
from tests.queue_sites import ONE_CAR, PLAIN_LINE


@pytest.mark.parametrize("profile", STARTS.values(), ids=lambda p: p.key)
def test_a_site_can_start_from_it(profile: Profile) -> None:
    """Every starting point makes a site without a problem, from inputs of the table alone."""
    assert set(profile.values) <= set(INPUTS)
    assert check_site(Site(profile.label).with_values(profile.values)) == []
    assert "guess" in profile.source


def test_the_plain_line_is_a_site_too() -> None:
    """With a short car the textbook queue passes every check."""
    site = Site("Queue").with_values(PLAIN_LINE)
    assert check_site(replace(site, vehicles=(ONE_CAR,), reference_class="car")) == []
