"""What the Counts page tells of the coming days, and that days follow from it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers.answer import arrivals_key
from app.answers.arrivals import ARRIVALS, learn_arrivals
from app.answers.learnt import arrivals_asked, used
from app.answers.serial import read, write
from app.sites.country import country_of
from app.sites.demo import demo_data
from app.sites.reading import Past
from app.words.expected import expected_words
from sim.inputs import SiteData
from sim.learn.expected_day import expected_day
from sim.learn.forecast.answer import Arrivals
from tests import demo_app
from tests.remembering import kept


@pytest.fixture(scope="module")
def data() -> SiteData:
    """The demo, as a site whose clock runs."""
    return replace(demo_data(), stands_on=None)


@pytest.fixture(scope="module")
def found(data: SiteData) -> Arrivals:
    """What its counts tell."""
    asked = arrivals_asked(Past(), data, demo_app.TODAY)
    return kept("arrivals", lambda: learn_arrivals(asked, None, demo_app.NOT_TOLD))


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo's pages."""
    with demo_app.demo_client(tmp_path) as made:
        yield made


def text_of(page: str) -> str:
    """The words of a page."""
    return " ".join(re.sub(r"<[^>]*>", " ", page).split())


def test_both_are_told_and_which_is_used(found: Arrivals, data: SiteData) -> None:
    """By the demo's counts all counts together are better; the words say by how much both missed,
    when it was decided, and each coming day by both."""
    asked = arrivals_asked(Past(), data, demo_app.TODAY)
    view = ARRIVALS.of(1, demo_app.TODAY, asked)
    told = expected_words(replace(view, result=found), demo_app.TODAY)
    judged = found.judged
    assert judged.is_used
    assert told.finding == "Used: all counts together."
    assert f"missed a day by {judged.together.missed_by:.0f} cars" in told.why
    assert f"like days by {judged.like.missed_by:.0f}." in told.why
    assert "Decided on 15 July 2026" in told.why
    assert len(told.rows) == 14
    assert told.rows[0].day == "Wednesday 15 July"
    assert "Public holidays of US" in " ".join(told.notes)
    pending = expected_words(view, demo_app.TODAY)
    assert (pending.finding, pending.rows) == ("Used: like days.", ())
    failed = expected_words(replace(view, failed="It broke."), demo_app.TODAY)
    assert failed.why == "It broke."


def test_the_invented_site_keeps_to_like_days(found: Arrivals, client: TestClient) -> None:
    """Its page shows both and says so; its days are those of before."""
    key = demo_app.keep(client, ARRIVALS, demo_app.TODAY, lambda _asked: found)
    assert key
    page = text_of(client.get("/harbor-road/counts").text)
    assert "Used: like days." in page
    assert "An invented site stays with like days all the same" in page
    assert "By all counts" in page


def test_a_stored_answer_makes_the_days(found: Arrivals, data: SiteData, tmp_path: Path) -> None:
    """A desk at a site whose counts were found to tell more hands on the days that they tell, and
    no longer once a count is added or its hours have changed."""
    text = write(found)
    assert read(Arrivals, text) == found
    assert used(text) == found.forecast
    worse = replace(found, judged=replace(found.judged, is_used=False))
    assert used(write(worse)) is None
    past = Past()
    day = found.forecast.days[5].day
    key = arrivals_key(arrivals_asked(past, data, day))
    assert key == arrivals_key(arrivals_asked(past, data, day + timedelta(days=1)))
    more = replace(data, history=replace(data.history, counts=data.history.counts[1:]))
    assert arrivals_key(arrivals_asked(past, more, day)) != key
    later = replace(data, site=data.site.with_values({"close_h": 19.0}))
    assert arrivals_key(arrivals_asked(past, later, day)) != key
    with_it = past.with_forecast(data, found.forecast)
    assert past.with_forecast(data, found.forecast) is with_it
    assert past.digest(with_it, ("history",)) != past.digest(data, ("history",))
    assert expected_day(with_it, day).expected_cars == pytest.approx(found.cars[5], rel=1e-9)
    assert expected_day(data, day).expected_cars == pytest.approx(found.like_cars[5], rel=1e-9)


def test_few_counts_are_not_tried(data: SiteData) -> None:
    """With eleven weeks of counts nothing is asked, and the page says from when on."""
    first = data.history.counts[0].day
    few = tuple(row for row in data.history.counts if row.day < first + timedelta(days=77))
    asked = arrivals_asked(Past(), replace(data, history=replace(data.history, counts=few)), first)
    assert arrivals_key(asked) == ""
    told = expected_words(ARRIVALS.of(1, first, asked), first)
    assert "Once twelve weeks of days are counted by the hour" in told.why


@pytest.mark.parametrize(
    ("zone", "country"), [("America/New_York", "US"), ("Pacific/Auckland", "NZ"), ("UTC", "")]
)
def test_a_time_zone_has_a_country(zone: str, country: str) -> None:
    """As `zone.tab` of the IANA time zone database has it."""
    assert country_of(zone) == country
