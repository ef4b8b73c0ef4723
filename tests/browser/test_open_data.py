"""Open data go in through the Counts page in a browser and come out as a planned day.

The data are departures and weather of an airport (see `tests.browser.open_data`), not of a car
wash: what is tested is the way of real numbers through the product, not what they mean.
"""

from __future__ import annotations

import csv
import datetime
import io

import pytest
from playwright.sync_api import Page, expect

from app.sites.reading import history_of
from sim.inputs import TYPED, History
from tests.browser.open_data import (
    FIRST,
    FIRST_HOUR,
    LAST,
    LAST_HOUR,
    counts_csv,
    departures,
    weather_csv,
)
from tests.browser.pages import unfold, upload
from tests.browser.served import Served

SLUG = "departures"
PLANNED = datetime.date(2013, 9, 4)
"""The Wednesday after the file ends; it has four Wednesdays within five weeks, not three."""
LIKE = [datetime.date(2013, 7, 31) + datetime.timedelta(weeks=i) for i in range(5)]
HOURS = range(FIRST_HOUR, LAST_HOUR + 1)


@pytest.fixture(scope="module", autouse=True)
def few_days() -> None:
    """None here: what is shown is the whole answer, with the hour in which the last cars leave."""


def _stored(served: Served) -> History:
    web = served.app.state.web
    site = web.site_at(SLUG)
    assert site is not None
    return history_of(web.database, site.id)


def _set_up(page: Page) -> None:
    """Makes the site and enters its opening hours, by the way the Sites page shows."""
    page.goto("/sites")
    page.get_by_role("link", name="Set up my site").click()
    page.get_by_label("Name of the site").fill("Departures")
    page.get_by_label("Time zone").fill("America/New_York")
    page.get_by_label("Units").select_option("us")
    page.get_by_label("Opens").fill(str(FIRST_HOUR))
    page.get_by_label("Last car accepted").fill(str(LAST_HOUR + 1))
    page.get_by_role("button", name="Store, and plan a busy day").click()
    expect(page.get_by_role("link", name="Step 2 of 3")).to_be_visible()
    page.goto(f"/{SLUG}/counts")


def test_open_counts_become_a_planned_day(page: Page, own: Served) -> None:
    """Ten weeks of open counts and weather, seen before they are stored, give the day they should.

    The expected day has the mean of the file's like Wednesdays in every hour and the mean
    temperature of the days around it; its comparison is computed and shown.
    """
    found = departures()
    total, days = sum(found.values()), {day for day, _hour in found}
    assert (min(days), max(days), len(days)) == (FIRST, LAST, 70)
    assert all((day, hour) in found for day in days for hour in HOURS)
    _set_up(page)

    # The counts: looked at, not yet stored, stored.
    expect(page.locator("main")).to_contain_text("No counts are stored yet.")
    upload(page, "departures.csv", counts_csv(found))
    main = page.locator("main")
    expect(main).to_contain_text("Nothing of it is stored yet.")
    expect(main).to_contain_text(f"{len(found):,} hours of cars arrived on 70 days can be stored.")
    stray = sum(1 for _day, hour in found if hour not in HOURS)
    expect(main).to_contain_text(f"Lines with cars outside the opening hours: {stray}.")
    assert _stored(own).counted == TYPED
    page.get_by_role("button", name=f"Store {len(found):,} hours of cars arrived").click()
    expect(main).to_contain_text(f"{total:,} cars arrived on 70 days.")
    assert {(row.day, row.hour): row.cars for row in _stored(own).counts} == found

    # The weather: what the table lacks is named, with its line.
    weather = weather_csv()
    lines = weather.splitlines()
    lacking = next(i for i, line in enumerate(lines, start=1) if ",NA," in line)
    good = len(lines) - 2
    upload(page, "weather.csv", weather, "weather")
    expect(main).to_contain_text(
        f"{good:,} hours of weather on 70 days can be stored; 1 problem is named below."
    )
    row = page.get_by_role("row").filter(has_text=f"weather.csv, line {lacking}")
    expect(row).to_contain_text("temp_f “NA” is not a number.")
    expect(main).to_contain_text("2013-07-02 has no weather at 7:00, 9:00.")
    assert _stored(own).weather == ()
    page.get_by_role("button", name=f"Store {good:,} hours of weather").click()
    expect(main).to_contain_text("Weather of 70 days is stored, from 24 June 2013")
    assert len(_stored(own).weather) == good

    # The day: its cars are the mean of the like days, hour by hour.
    page.goto(f"/{SLUG}/plan")
    page.get_by_label("Any day").fill(PLANNED.isoformat())
    page.get_by_role("button", name="Plan it").click()
    means = {hour: sum(found[day, hour] for day in LIKE) / len(LIKE) for hour in HOURS}
    expected = sum(means.values())
    assert expected == pytest.approx(349.4)
    expect(main).to_contain_text(
        "Cars: mean of 5 Wednesdays within 5 weeks of this time of year, "
        "from 31 July 2013 to 28 August 2013."
    )
    expect(page.locator(".part.open header")).to_contain_text(
        f"About 350 cars, {_highest_mean_f(lines):.0f}\u00a0°F at most"
    )
    table = page.locator("table.compare").first
    expect(table.locator("thead th")).to_have_count(4)
    unfold(page, "Hour by hour")
    page.get_by_text("The same figures as tables").click()
    cars = page.get_by_role("region", name="Figures of the chart: Cars per hour").get_by_role("row")
    heads = cars.first.get_by_role("columnheader").all_inner_texts()
    shown = dict(zip(heads[1:], cars.nth(1).get_by_role("cell").all_inner_texts(), strict=True))
    overtime = {f"{LAST_HOUR + 1}:00": "0"}  # cars in line at closing are washed after it
    assert shown == {f"{hour}:00": f"{mean:.0f}" for hour, mean in means.items()} | overtime

    # The comparison: three scenarios on those cars, none of them lost on so quiet a line.
    unfold(page, "All other figures")
    with page.expect_download() as waiting:
        page.get_by_role("link", name="All figures as CSV").click()
    text = waiting.value.path().read_text(encoding="utf-8-sig")
    figures = {(row["figure"], row["scenario"]): row for row in csv.DictReader(io.StringIO(text))}
    scenarios = {scenario for _figure, scenario in figures}
    assert len(scenarios) == 3
    for scenario in scenarios:
        arrived = float(figures["Cars arrived", scenario]["value"])
        assert arrived == pytest.approx(expected, rel=0.2)
        assert float(figures["Cars washed", scenario]["value"]) == pytest.approx(arrived, rel=0.02)


def _highest_mean_f(lines: list[str]) -> float:
    """Highest hourly mean temperature [°F] of the days of the file within 10 days of the plan's."""
    by_hour: dict[str, list[float]] = {}
    for row in csv.DictReader(lines):
        day = datetime.date.fromisoformat(row["date"])
        if abs((PLANNED - day).days) <= 10 and row["temp_f"] != "NA":
            by_hour.setdefault(row["hour"], []).append(float(row["temp_f"]))
    return max(sum(temps) / len(temps) for temps in by_hour.values())
