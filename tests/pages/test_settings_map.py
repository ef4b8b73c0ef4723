"""The page Speed and spacing: its sentences, maps, tables, CSV, waiting, failing, refusing."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.answers import planning
from app.answers.answer import Desk
from app.answers.serial import write
from app.answers.settings_map import MAP_DAYS, MAPS
from app.answers.studies.runner import Job, Progress
from app.charts.maps import (
    FLOOR,
    SHADES,
    Ruler,
    Seen,
    map_picture,
    round_steps,
    settings_charts,
    weather_charts,
)
from app.main import create_app
from app.settings import Settings
from app.sites.reading import gate
from app.words.answer import TURNS_ON, WEIGHED
from app.words.maps import answer_words, bearing_words
from sim.decide.answer import Standing, Widener, Word
from sim.decide.maps.answer import SettingsMap
from sim.inputs import INPUTS, Scenario, Steps
from tests.charts.drawn import Drawn, drawn, faults, number
from tests.demo_app import HERE, OWN_PAGE, app_of
from tests.pages import fixture_comparison as invented
from tests.pages.fixture_comparison import CLOSED, PEAK
from tests.pages.map_content import (
    SPACINGS,
    SPEEDS,
    beside,
    difference,
    keeping,
    kept,
    losing,
    maps,
)  # fmt: skip
from tests.pages.pages import asks_again, page_of
from tests.pages.switch_visitor import standing

OWN = frozenset(names[0] for names in WEIGHED)
"""Inputs that the three weighings would tell."""
SLUG = "invented-lane"
PAGE = f"/{SLUG}/settings/{PEAK.isoformat()}"


@dataclass
class Visitor:
    """A browser without script, and the jobs that pages have begun."""

    client: TestClient
    site_id: int
    begun: list[Job]

    def text(self, path: str = PAGE, status: int = 200) -> str:
        """The text of a page, as it is read."""
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return html.unescape(answer.text)

    def key(self, day: date = PEAK) -> str:
        """The key under which the maps of a day are stored."""
        web = app_of(self.client).state.web
        stored = web.site_at(SLUG)
        assert stored is not None
        with web.database.session() as session:
            return Desk(session, stored, web.runner).open(MAPS, day).key

    def store(self, content: SettingsMap, *, is_final: bool = True) -> None:
        """Stores maps as the answer of the day, or first ones."""
        web = app_of(self.client).state.web
        key = self.key()
        with gate(web.database, web.now()) as writes:
            writes.store_result(key, self.site_id, PEAK, write(content), is_final=is_final)

    def scenarios(self) -> tuple[Scenario, ...]:
        """The plan of the day."""
        web = app_of(self.client).state.web
        stored = web.site_at(SLUG)
        assert stored is not None
        scenarios: tuple[Scenario, ...] = web.open(stored, MAPS, PEAK).asked.plan.scenarios
        return scenarios


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; jobs are noted, not computed."""
    settings = Settings(data_dir=tmp_path, today=date(2026, 7, 16), workers=1)
    app = create_app(settings)
    begun: list[Job] = []
    monkeypatch.setattr(app.state.web.runner, "begin", begun.append)
    with gate(app.state.web.database, settings.now()) as writes:
        site_id = writes.create_site(invented.small_site(), request_key="site").site_id
    with TestClient(app, base_url="http://127.0.0.1", headers=OWN_PAGE, client=HERE) as client:
        yield Visitor(client, site_id, begun)


# ---- sentences -----------------------------------------------------------------------------------


def test_the_first_sentence_says_what_the_best_setting_would_change() -> None:
    """Speed, spacing, lost cars and damp cars in the reader's units, and what is missed now."""
    said, sure = answer_words(beside(maps()), "us")
    assert str(said).replace("\u00a0", " ") == (
        "At 47.2 ft/min and 23 ft you would lose 60 more cars and about 1 car in 16 would leave "
        "damp instead of 1 in 8. That is the most a day earns among settings that meet all you "
        "allow. The present one does not: cars leaving damp. The day earns about $180 less."
    )
    metric = str(answer_words(beside(maps()), "si")[0]).replace("\u00a0", " ")
    assert "At 0.24 m/s and 7 m" in metric
    assert sure.lead == "Not firm:"
    words = sure.rest.replace("\u00a0", " ")
    assert words.startswith(
        "at 6 of 20 sites like yours (128 were drawn) “55.1 ft/min and 26.2 ft”"
    )
    assert "the same 16 simulated days, with your own people and every guess at its middle" in words
    assert "No measurement is in this plan" in words
    assert (
        f"turns on guesses until you enter yours: “{INPUTS['film_after_rinse_kg_m2'].label}”"
        in words
    )


def test_first_maps_say_so_and_are_followed() -> None:
    """How sure begins with *So far*, tells what is tried yet, and names no rival."""
    first = replace(maps(), coarse=True, replications=4, standing=None)
    sure = answer_words(beside(first), "us")[1]
    assert sure.lead == "So far:"
    assert "every other speed, spacing, demand and temperature" in sure.rest
    assert "the same 4 simulated days" in sure.rest.replace("\u00a0", " ")
    assert "sites like yours" not in sure.rest


def test_the_present_setting_may_stay() -> None:
    """Where the best point is the present setting nothing is to be changed."""
    found = maps()
    said, sure = answer_words(beside(replace(found, best=found.present)), "us")
    assert said.lead.replace("\u00a0", " ") == "Stay at 55.1 ft/min and 26.2 ft."
    assert sure.lead == "Not firm:"


def test_a_setting_is_firm_as_any_advice_is() -> None:
    """Held to its rival at drawn sites it is told by the words of a plan: what is open, what it
    turns on most, and which measurement would settle it; without drawn sites it is not firm."""
    found, told = maps(), frozenset({*OWN, *TURNS_ON["setting"][1]})
    firm = replace(found, standing=Standing(128, 0.02, 0.0))
    assert answer_words(beside(firm), "us", told)[1].lead == "Firm."
    assert "guess" not in answer_words(beside(firm), "us", told)[1].rest.partition("Each point")[0]
    turns = (Widener("load_mean_s", 0.6), Widener("life_shape", 0.1))
    open_ = replace(found, standing=Standing(128, 0.3, 0.0, turns=turns))
    rest = answer_words(beside(open_), "us", told)[1].rest.replace("\u00a0", " ")
    assert f"turns most on “{INPUTS['load_mean_s'].label}” (60 %)" in rest
    assert "One measurement would settle most of it. Stand at the loading point" in rest
    assert answer_words(beside(replace(found, standing=None)), "us", told)[1].lead == "Not firm:"


def test_without_a_setting_that_keeps_to_all_the_nearest_is_told() -> None:
    """The page says so, what the nearest setting would change, and what is missed there."""
    found = maps()
    assert found.best is not None
    near = replace(found.best, keeps={**found.best.keeps, "cars_lost": False})
    said, _sure = answer_words(beside(replace(found, best=None, nearest=near)), "si")
    assert said.lead == "No setting meets all you allow."
    assert "which misses by least, you would lose 60 more cars" in said.rest
    assert "Still more than you allow there: lost cars." in said.also
    said, _sure = answer_words(beside(replace(found, best=None, nearest=found.present)), "si")
    assert "The present one" in said.rest
    assert "misses by least: cars leaving damp." in said.rest


def test_what_hardly_differs_is_no_change() -> None:
    """Lost cars that hardly differ are as many as now; fewer are told as fewer."""

    def said_of(more: float, lost: Word, wait: Word) -> str:
        found = maps()
        now = replace(found.present, figures={**found.present.figures, "cars_lost": 100.0})
        best = losing(now, found.best or now, more, -180.0)
        best = replace(best, figures={**best.figures, "wait_p90_s": 300.0})
        waits = replace(found.differences["wait_p90_s"], word=wait)
        apart = {**found.differences, "cars_lost": difference(more, lost), "wait_p90_s": waits}
        changed = replace(found, present=now, best=best, differences=apart)
        return str(answer_words(beside(changed), "us")[0]).replace("\u00a0", " ")

    alike = said_of(60.0, "hardly differs", "hardly differs")
    assert "you would lose about as many cars as now" in alike
    said = said_of(-60.0, "clearly better", "clearly better")
    assert "you would lose 60 fewer cars" in said
    assert "and 9 cars in 10 would wait at most" in said
    # with all three changed, the money stands on its map alone
    assert "The day earns" in alike
    assert "The day earns" not in said


@pytest.mark.parametrize(
    ("now", "best", "words"),
    [
        ((0.5, 1.1), (0.5, 1.3), "Above 110 % of the expected cars, at 86 °F, you need another "
         "setting: 47.2 ft/min and 23 ft meets all you allow up to 130 %."),
        ((0.5, 1.1), (0.5, 1.0), "Above 110 % of the expected cars, at 86 °F, you need more than "
         "another setting to meet all you allow."),
        ((0.5, 0.9), (0.5, 1.2), "At 86 °F and the expected cars already you need another "
         "setting: 47.2 ft/min and 23 ft meets all you allow up to 120 %."),
        ((0.5, 0.9), (0.5, 0.8), "At 86 °F the present setting meets all you allow only up to "
         "90 % of the expected cars."),
        ((2.0, 2.0), (2.0, 2.0), "At 86 °F the present setting meets all you allow at no "
         "demand looked at."),
        ((0.5, 1.5), (0.5, 1.5), "At 86 °F the present setting meets all you allow up to 50 % "
         "more cars than expected, the most looked at."),
    ],
)  # fmt: skip
def test_what_demand_is_borne_follows_from_the_points(
    now: tuple[float, float], best: tuple[float, float], words: str
) -> None:
    """The sentence on demand says what the points say, and no more."""
    found = maps()
    here, there = kept(found.demand_now, *now), kept(found.demand_best, *best)
    said = bearing_words(replace(found, demand_now=here, demand_best=there), "us")[0]
    assert said.replace("\u00a0", " ") == words


@pytest.mark.parametrize(
    ("keeps", "words"),
    [
        (lambda t: t >= 28, "from 82.4 °F up; below that you need another."),
        (lambda t: t <= 28, "up to 82.4 °F; above that you need another."),
        (lambda t: True, "from 68 °F to 104 °F."),
        (lambda t: False, "misses what you allow from 68 °F to 104 °F"),
        (lambda t: 25 <= t <= 30, ""),
    ],
)
def test_what_temperature_does_follows_from_the_points(keeps: Any, words: str) -> None:
    """One turn is told with its temperature; what comes and goes is not told at all."""
    found = maps()
    grid = tuple(keeping(point, keeps(point.y)) for point in found.weather.grid)
    weather = replace(found.weather, grid=grid)
    said = [s.replace("\u00a0", " ") for s in bearing_words(replace(found, weather=weather), "us")]
    assert len(said) == (2 if words else 1)
    assert words in said[-1]


# ---- the page ------------------------------------------------------------------------------------


def test_the_page_shows_maps_tables_and_cautions(visitor: Visitor) -> None:
    """Twelve maps with key and table, the sentence first, limits and cautions beside them."""
    visitor.store(maps())
    text = visitor.text()
    assert text.index("you would lose 60 more cars") < text.index('class="chart"')
    assert text.count('role="img"') == 12
    assert text.count('class="shades"') == 12
    assert text.count('<table class="figures hours">') == 12
    assert "What you allow:" in text
    assert ">12\u00a0min<" in text
    assert "Stay within the belt speeds of the equipment’s own manual" in text
    assert f'href="{PAGE}/map.csv"' in text
    assert not visitor.begun


def test_the_best_setting_goes_into_the_plan(visitor: Visitor) -> None:
    """One press stores it as one more scenario, called by speed and spacing, with the rule of the
    first and without its timetable of speeds; then the button is gone, and the maps stay."""
    web = app_of(visitor.client).state.web
    table: Steps = ((0.0, 0.3), (43_200.0, 0.25))
    first = Scenario("Two speeds", "band 60-50", "", {"speed_timetable": table})
    with gate(web.database, web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", (first,), 0, "one")
    assert visitor.client.post(f"{PAGE}/plan").status_code in (403, 404)
    visitor.store(maps())
    form = page_of(visitor.client.get(PAGE)).form(f"{PAGE}/plan")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, f"/{SLUG}/plan/{PEAK}")
    scenarios = visitor.scenarios()
    assert scenarios[:-1] == (first,)
    assert scenarios[-1].name.replace("\u00a0", " ") == "47.2 ft/min and 23 ft"
    assert scenarios[-1].rule == "band 60-50"
    assert dict(scenarios[-1].changes) == {
        "conveyor_speed_m_s": 0.24, "car_spacing_m": 7.0, "speed_timetable": (),
    }  # fmt: skip
    text = visitor.text()
    assert "you would lose 60 more cars" in text
    assert f'action="{PAGE}/plan"' not in text


def test_a_full_plan_takes_no_setting_more(visitor: Visitor) -> None:
    """With six scenarios nothing is stored, and the page says what to do."""
    web = app_of(visitor.client).state.web
    six = tuple(Scenario(f"S{i}", "full" if i == 0 else f"band {60 + i}-50") for i in range(6))
    with gate(web.database, web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", six, 0, "six")
    visitor.store(maps())
    form = page_of(visitor.client.get(PAGE)).form(f"{PAGE}/plan")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    assert sent.status_code == 409
    assert "The setting was not put into the plan." in sent.text
    assert "six scenarios already" in sent.text
    assert visitor.scenarios() == six


def test_where_the_present_setting_is_best_there_is_none_to_use(visitor: Visitor) -> None:
    """Nothing to press, and nothing is stored for who sends the form all the same."""
    visitor.store(replace(maps(), best=maps().present, rival=None))
    page = visitor.client.get(f"/{SLUG}/plan/{PEAK}")
    token = page_of(page).field("form_token").attrs["value"]
    assert f'action="{PAGE}/plan"' not in visitor.text()
    before = visitor.scenarios()
    sent = visitor.client.post(f"{PAGE}/plan", data={"form_token": token, "version": "0"})
    assert sent.status_code == 404
    assert "No better setting of this day is known." in sent.text
    assert visitor.scenarios() == before


def test_the_page_keeps_to_its_content_policy(visitor: Visitor) -> None:
    """No inline style, paint or script; shades of maps are custom properties of the stylesheet."""
    visitor.store(maps())
    text = visitor.client.get(PAGE).text
    assert " style=" not in text
    assert "<style" not in text
    assert "<script" not in text
    assert " fill=" not in text
    assert {"m1", f"m{SHADES}"} <= set(re.findall(r'<path class="(m\d)"', text))
    sheet = visitor.client.get("/static/charts.css").text
    for i in range(1, SHADES + 1):
        assert sheet.count(f"--m{i}:") == 3, "light, dark and print"
        assert f".m{i} {{ fill: var(--m{i}); }}" in sheet


def test_values_and_marks_stand_on_the_maps(visitor: Visitor) -> None:
    """Present and best are named on every map of settings, and values are printed on it."""
    visitor.store(maps())
    text = visitor.text()
    pictures = re.findall(r"<figure>.*?</figure>", text, re.DOTALL)
    assert len(pictures) == 12
    for picture in pictures[:6]:
        words = re.findall(r"<text[^>]*>([^<]+)</text>", picture)
        assert {"now", "best"} <= set(words)
        assert sum(word not in ("now", "best") for word in words) >= 20
    for picture in pictures[6:]:
        assert ">expected<" in picture


def test_the_table_has_every_grid_value(visitor: Visitor) -> None:
    """A row a spacing, a column a speed, in the reader's units."""
    visitor.store(maps())
    text = visitor.text()
    table = text[text.index('<table class="figures hours">') :]
    table = table[: table.index("</table>")]
    assert table.count('scope="col"') == len(SPEEDS)
    assert table.count('scope="row"') == len(SPACINGS)
    assert ">29.53<" in table


def test_csv_has_every_point(visitor: Visitor) -> None:
    """A row a point of both maps, those between the grid marked, unrounded in the reader's units;
    before it is computed there is no such file."""
    assert visitor.client.get(f"{PAGE}/map.csv").status_code == 404
    content = maps()
    visitor.store(content)
    answer = visitor.client.get(f"{PAGE}/map.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert f'filename="{SLUG}-2026-07-18-map.csv"' in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    count = len(content.settings.points) + len(content.weather.points)
    assert len(rows) == count
    assert [row["on grid"] for row in rows].count("no") == 1
    first = rows[0]
    assert float(first["conveyor speed (ft/min)"]) == pytest.approx(0.15 * 60 / 0.3048, rel=1e-5)
    assert first["highest temperature (°F)"] == ""
    assert rows[-1]["map"] == "demand and temperature"
    assert float(rows[-1]["cars of those expected (%)"]) == pytest.approx(150)
    assert first["leaving damp within what is allowed, guesses at their middle"] in ("yes", "no")


def test_a_map_that_is_not_computed_is_begun_once(visitor: Visitor) -> None:
    """Opening the page begins the maps of the first scenario under their key."""
    visitor.text()
    (job,) = visitor.begun
    assert (job.kind, job.key, job.day) == ("maps", visitor.key(), PEAK)
    assert job.days >= 2 * 400 * MAP_DAYS


def test_while_computing_the_page_asks_again(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under way, the page says how far it is and looks again by itself."""
    runner = app_of(visitor.client).state.web.runner
    monkeypatch.setattr(runner, "standing", standing(Progress(120, 900)))
    answer = visitor.client.get(PAGE)
    assert asks_again(answer).startswith("2; url=/")
    assert "2 of 2: trying speeds and spacings." in answer.text
    assert not visitor.begun


def test_first_maps_are_shown_while_the_whole_is_computed(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside them stands how far the whole is, and the page asks for it; the file waits for it."""
    monkeypatch.setattr(app_of(visitor.client).state.web.runner, "standing",
                        standing(Progress(120, 900)))  # fmt: skip
    visitor.store(replace(maps(), coarse=True, standing=None), is_final=False)
    answer = visitor.client.get(PAGE)
    text = html.unescape(answer.text)
    assert asks_again(answer).startswith("2; url=/")
    assert "So far:" in text
    assert "Stop computing" in text
    assert "Working it out." not in text
    assert "map.csv" not in text
    assert visitor.client.get(f"{PAGE}/map.csv").status_code == 404
    visitor.store(maps())
    whole = visitor.client.get(PAGE)
    assert asks_again(whole) == ""
    assert "So far:" not in whole.text
    assert "map.csv" in whole.text


def test_a_failure_is_told_and_begun_again_by_its_button(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What went wrong stands on the page; only the button begins anew."""
    runner = app_of(visitor.client).state.web.runner
    failed = "The maps could not be worked out: no room"
    monkeypatch.setattr(runner, "standing", standing(failed=failed))
    answer = visitor.client.get(PAGE)
    assert "The maps could not be worked out: no room" in answer.text
    assert not visitor.begun
    data = page_of(answer).form(PAGE).data()
    sent = visitor.client.post(PAGE, data=data, follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, PAGE)
    assert len(visitor.begun) == 1


def test_days_without_maps_say_why(visitor: Visitor) -> None:
    """A closed day has nothing to map; a day that is none is not found; neither begins anything."""
    assert "<b>Closed:</b>" in visitor.text(f"/{SLUG}/settings/{CLOSED.isoformat()}")
    visitor.text(f"/{SLUG}/settings/soon", 404)
    assert not visitor.begun


def test_an_address_without_a_day_leads_to_the_busiest(visitor: Visitor) -> None:
    """Without a day the busiest of the coming ones is shown; a typed one is gone to; what is no
    date is told beside its field."""
    client = visitor.client
    go = client.get(f"/{SLUG}/settings", follow_redirects=False)
    assert (go.status_code, go.headers["location"][:24]) == (303, f"/{SLUG}/settings/2026-07"[:24])
    go = client.get(f"/{SLUG}/settings?day=2026-07-25", follow_redirects=False)
    assert go.headers["location"] == f"/{SLUG}/settings/2026-07-25"
    text = visitor.text(f"/{SLUG}/settings?day=soon", 422)
    assert "“soon” is not a date. Write it as 2026-07-18." in text


def test_the_key_follows_scenario_and_wishes(visitor: Visitor) -> None:
    """Another first scenario or another limit are other maps; a second scenario is none."""
    before = visitor.key()
    web = app_of(visitor.client).state.web
    first = planning.DEFAULT_SCENARIOS[0]
    with gate(web.database, web.now()) as writes:
        two = (first, Scenario("Slow", "full", "", {"conveyor_speed_m_s": 0.2}))
        writes.store_plan(visitor.site_id, PEAK, "", two, 0, "two")
    assert visitor.key() == before
    with gate(web.database, web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", (Scenario("R", "reduced"),), 1, "other")
    reduced = visitor.key()
    assert reduced != before
    with gate(web.database, web.now()) as writes:
        writes.set_inputs(
            visitor.site_id, {"allowed_lost_cars": 5.0}, expected_version=1, request_key="wish"
        )
    assert visitor.key() not in (before, reduced)


# ---- drawing -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high"), [(0.0, 62.0), (3.0, 4.0), (0.0, 0.4), (2074.0, 5384.0), (-300.0, 900.0)]
)
def test_shades_are_few_round_steps(low: float, high: float) -> None:
    """At most six steps cover the figures, and more than half of them are needed."""
    start, step, count = round_steps(low, high)
    assert 2 <= count <= SHADES
    assert start <= low + 1e-9
    assert start + count * step >= high - 1e-9
    assert start + (count - 1) * step < high


def test_one_value_everywhere_is_one_shade() -> None:
    """A figure that never changes has one step that holds it."""
    for value in (0.0, 7.0, 0.3):
        start, step, count = round_steps(value, value)
        assert count == 1
        assert start <= value <= start + step


def test_only_what_may_not_be_used_is_hatched() -> None:
    """A ruler with limits near its grid shows hatched strips, beyond the limits alone; one without
    shows none."""

    def hatched(low: float | None, high: float | None) -> list[float]:
        x = Ruler("x", (1.0, 2.0, 3.0), low, high)
        y = Ruler("y", (1.0, 2.0))
        cells = ((0, 1, 2), (0, 1, 2))
        texts = (("a", "b", "c"),) * 2
        seen = drawn(str(map_picture("map", x, y, Seen(cells, texts, ()), (), ())))
        return [seen.along(place[0]) for line in seen.lines.get("hatch", ()) for place in line]

    assert hatched(None, None) == []
    places = hatched(0.9, 3.2)
    assert len(places) > 80
    assert {0.9 < place < 3.2 for place in places} == {False}
    assert min(places) < 0.8
    assert max(places) > 3.3


@pytest.mark.parametrize("system", ["si", "us"])
def test_maps_are_shapes_and_words_that_do_not_touch(system: str) -> None:
    """No map holds what the content policy refuses, a class without a look, or words on words."""
    charts = (*settings_charts(beside(maps()), system), *weather_charts(beside(maps()), system))
    assert len({chart.name for chart in charts}) == len(charts) == 12
    for chart in charts:
        assert list(faults(str(chart.svg))) == []


def test_a_map_shows_what_its_table_says() -> None:
    """Read off its axes, each printed value is the table's of that place, its shade the key's step
    that holds it, and the marks stand at the setting now and at the best one."""
    for chart in settings_charts(beside(maps()), "si")[1:]:
        seen = drawn(str(chart.svg))
        upright = _upright(seen)
        speeds, spacings = list(map(number, chart.heads[1:])), [number(r[0]) for r in chart.rows]
        printed = [one for one in seen.words if one.kind == "say halo"]
        assert 8 <= len(printed) <= 20
        steps = [row.words.replace("$", "").split(" to ") for row in chart.key]
        for one in printed:
            speed, spacing = seen.along(one.at[0]), upright(one.at[1] - 4.5)
            i = min(range(len(speeds)), key=lambda k: abs(speeds[k] - speed))
            j = min(range(len(spacings)), key=lambda k: abs(spacings[k] - spacing))
            assert speed == pytest.approx(speeds[i], abs=0.001)
            assert spacing == pytest.approx(spacings[j], abs=0.03)
            assert chart.rows[j][1 + i] == one.text
            shade = next(
                kind
                for kind, boxes in seen.lines.items()
                for box in boxes
                if re.fullmatch(r"m\d", kind)
                and min(x for x, _y in box) < one.at[0] < max(x for x, _y in box)
                and min(y for _x, y in box) < one.at[1] - 4.5 < max(y for _x, y in box)
            )
            at = next(k for k, row in enumerate(chart.key) if f'"{shade}"' in row.mark)
            low, high = map(number, steps[at])
            assert low - 0.5 <= number(one.text) <= high + 0.5
        for kind, speed, spacing in (("spot", 0.28, 8.0), ("spot best", 0.24, 7.0)):
            (place,) = seen.points[kind]
            assert seen.along(place[0]) == pytest.approx(speed, abs=0.001)
            assert upright(place[1]) == pytest.approx(spacing, abs=0.03)


def test_a_limit_is_drawn_where_it_begins_to_hold() -> None:
    """The line of a limit stands at the speed of its boundary, over the whole of the grid."""
    chart = next(
        one
        for one in settings_charts(beside(maps()), "si")
        if one.name == "settings-left_damp_share"
    )
    seen = drawn(str(chart.svg))
    upright = _upright(seen)
    (line,) = seen.lines["bound"]
    assert [seen.along(x) for x, _y in line] == pytest.approx([0.25, 0.25], abs=0.001)
    assert [upright(y) for _x, y in line] == pytest.approx([5.0, 10.0], abs=0.03)


def _upright(seen: Drawn) -> Callable[[float], float]:
    """What the axis up makes of a height, by the first and the last number beside it."""
    beside = [
        one for one in seen.words if not one.kind and 8 < one.at[0] < 15 and one.at[1] < FLOOR
    ]
    first, last = (one for one in (beside[0], beside[-1]))

    def value(down: float) -> float:
        share = (down - (first.at[1] - 4.5)) / (last.at[1] - first.at[1])
        return number(first.text) + share * (number(last.text) - number(first.text))

    return value
