"""Watch the day in a browser: the script's positions and words, play and pause, less motion."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any, cast

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from app.answers.answer import Desk
from app.answers.planning import planned_day
from app.charts.watch import ROW, STEP
from app.words.watch import moment_words
from sim.day.watched import TENTHS, WatchedScenario
from tests.answers.watched_truth import Played, play
from tests.browser.conftest import context_args
from tests.browser.served import DEMO, Served
from tests.demo_app import TODAY

BUSY = TODAY.replace(day=18)
PLACE = f"{DEMO}/watch/{BUSY}?above=1&below=2"
BEGINS = datetime(2026, 7, 13, 12, tzinfo=UTC)
"""What the clock of a page shows where a test has it in hand."""
AT_NOW = "document.getElementById('watch').dataset.at"
TWO_FRAMES = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
AT = """moments => moments.map(at => {
  const slider = document.getElementById('in-clock');
  slider.value = String(at);
  slider.dispatchEvent(new Event('input', {bubbles: true}));
  return [...document.querySelectorAll('[data-plays]')].map(figure => ({
    cars: [...figure.querySelectorAll('rect[data-nose]:not([hidden])')]
      .map(car => [Number(car.dataset.car), Number(car.dataset.nose)]),
    says: figure.querySelector('[role=status]').textContent,
  }));
})"""


@pytest.fixture(scope="module")
def scenarios(shared: Served) -> tuple[WatchedScenario, ...]:
    """The two scenarios as the server has them."""
    web = shared.app.state.web
    with web.database.session() as session:
        question = planned_day(Desk(session, web.site_at("harbor-road")), BUSY).to_compare
    return cast("tuple[WatchedScenario, ...]", web.watched.days(question, (1, 2)))


@pytest.fixture(scope="module")
def played(shared: Served, scenarios: tuple[WatchedScenario, ...]) -> Played:
    """The first scenario's day as the command ``trace`` writes it."""
    web = shared.app.state.web
    with web.database.session() as session:
        desk = Desk(session, web.site_at("harbor-road"))
        plan = planned_day(desk, BUSY)
        assert plan.question is not None
        belief, data = plan.question.belief, desk.data
    return play(data, BUSY, plan.scenarios[0], scenarios[0].day.seed, belief)


def test_the_script_has_cars_where_the_trace_has_them(
    page: Page, scenarios: tuple[WatchedScenario, ...], played: Played, rng: np.random.Generator
) -> None:
    """At fifty random times the script draws each car of the belt within 0.1 m of where the
    readable model had it, and says of both scenarios just what the server says."""
    page.goto(PLACE)
    expect(page.locator("#watch[data-at]")).to_be_visible()
    day = scenarios[0].day
    steps = rng.integers(0, (day.closes - day.opens) // 100, 50)
    moments = [int(day.opens + 100 * step) for step in steps]
    found: list[list[dict[str, Any]]] = page.evaluate(AT, moments)
    worst, looked = 0.0, 0
    for at, figures in zip(moments, found, strict=True):
        assert [one["says"] for one in figures] == [
            moment_words(one.day.moment(at)) for one in scenarios
        ]
        drawn = dict(figures[0]["cars"])
        riding = {played.result.passes.index(car): car for car in played.riding(at / TENTHS)}
        for number in riding.keys() & drawn.keys():
            truth = played.nose_m(riding[number], at / TENTHS)
            worst, looked = max(worst, abs(drawn[number] / 100.0 - truth)), looked + 1
        # a car that is caught or passes the wheel within a rounded tenth may be there or not
        for number in riding.keys() ^ drawn.keys():
            car = played.result.passes[number]
            edges = (abs(at / TENTHS - edge) for edge in (car.caught_s, car.exit_s))
            assert min(edges) <= 0.5 / TENTHS + 1e-9
    assert looked > 100
    assert worst <= 0.1


def test_the_keyboard_plays_and_steps(page: Page) -> None:
    """The slider steps by the arrow keys; space plays and pauses; an hour is jumped to; played to
    its end, the day stops, and begins anew."""
    page.goto(PLACE)
    part, slider = page.locator("#watch"), page.get_by_label("Time of day")
    expect(part).to_have_attribute("data-at", re.compile(r"\d+"))
    before = int(part.get_attribute("data-at") or "")
    slider.press("ArrowRight")
    assert int(part.get_attribute("data-at") or "") - before in range(1, 101)
    slider.press(" ")
    expect(part.get_by_role("button", name="Pause")).to_be_visible()
    page.wait_for_function(
        "at => Number(document.getElementById('watch').dataset.at) > at", arg=before + 200
    )
    slider.press(" ")
    expect(part.get_by_role("button", name="Play")).to_be_visible()
    page.get_by_label("Jump to").select_option("9:00")
    expect(part).to_have_attribute("data-at", str(9 * 3600 * TENTHS))
    assert slider.get_attribute("aria-valuetext") == "9:00"
    page.get_by_label("Speed").select_option("20 minutes a second")
    slider.press("End")
    end = part.get_attribute("data-at")
    part.get_by_role("button", name="Play").press("Enter")
    page.wait_for_function(f"() => {AT_NOW} !== '{end}'")
    part.get_by_role("button", name="Pause").press("Enter")
    assert int(part.get_attribute("data-at") or "") < int(end or "")


WAITING = """() => [...document.querySelectorAll('[data-plays]')].map(figure => Object.fromEntries(
  [...figure.querySelectorAll('rect[data-where]:not([hidden])')]
    .filter(car => ['1', '2', '3'].includes(car.dataset.where))
    .map(car => [car.dataset.car, [car.dataset.where, parseFloat(car.getAttribute('x')),
                                   parseFloat(car.getAttribute('y'))]])))"""
FRAMES, FRAME_MS = 60, 50
ARRIVES = 11
"""Looks that a car takes to drive up from elsewhere: in five seconds, half a second a look."""


def test_waiting_cars_glide_up_the_line(page: Page) -> None:
    """Played slowly at a busy hour, waiting cars move up bit by bit: from one look to the next no
    car that waits in its line is drawn more than a quarter of a place on, and a car that comes from
    elsewhere crosses at most a tenth of the picture."""
    page.clock.install(time=BEGINS)
    page.goto(PLACE)
    part = page.locator("#watch")
    expect(part).to_have_attribute("data-at", re.compile(r"\d+"))
    page.get_by_label("Jump to").select_option("13:00")
    page.get_by_label("Speed").select_option("10 seconds a second")
    page.clock.pause_at(BEGINS + timedelta(hours=1))  # else time goes on between two looks too
    part.get_by_role("button", name="Play").click()
    looks: list[list[dict[str, tuple[str, float, float]]]] = []
    for _frame in range(FRAMES):
        page.clock.run_for(FRAME_MS)
        looks.append(page.evaluate(WAITING))
    on: list[float] = []
    across: list[float] = []
    # what drove up before the first look is not known of the first ones
    for earlier, before, after in zip(looks, looks[ARRIVES:], looks[ARRIVES + 1 :], strict=False):
        for long_since, had, has in zip(earlier, before, after, strict=True):
            for car in had.keys() & has.keys():
                (was, x, y), (where, z, w) = had[car], has[car]
                step = max(abs(z - x) / STEP, abs(w - y) / ROW)
                waits = where == was == long_since.get(car, ("",))[0]
                (on if waits else across).append(step)
    moved = [step for step in on if step > 0.0]
    assert len(moved) > 10
    assert max(moved) <= 0.25
    assert max(across) > 0.0
    assert max(across) * STEP <= 10.0


def test_nothing_moves_where_motion_is_off(page: Page) -> None:
    """A device that asks for less motion has no button to play and is told so; the space bar moves
    nothing, and the time of day moves by hand."""
    page.emulate_media(reduced_motion="reduce")
    page.goto(PLACE)
    part = page.locator("#watch")
    expect(part).to_have_attribute("data-at", re.compile(r"\d+"))
    expect(part.get_by_text("Your device asks for less motion")).to_be_visible()
    expect(part.locator("[data-play]")).to_be_hidden()
    before = part.get_attribute("data-at")
    page.get_by_label("Time of day").press(" ")
    page.evaluate(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )
    assert part.get_attribute("data-at") == before
    page.get_by_label("Time of day").press("ArrowRight")
    assert part.get_attribute("data-at") != before
    page.emulate_media(reduced_motion="no-preference")
    expect(part.locator("[data-play]")).to_be_visible()


def test_without_script_pictures_and_words_say_it(browser: Browser, shared: Served) -> None:
    """Without script the still pictures stand open, each with its words; nothing that needs a
    script is there."""
    context = browser.new_context(**context_args(shared.url), java_script_enabled=False)
    page = context.new_page()
    page.goto(PLACE)
    expect(page.locator("#watch")).to_be_hidden()
    pictures = page.locator("#stills svg.chart[role=img]")
    assert pictures.count() >= 4
    for at in range(pictures.count()):
        expect(pictures.nth(at)).to_be_visible()
        label = pictures.nth(at).get_attribute("aria-label") or ""
        assert "Before the belt:" in label
    page.locator("summary", has_text="The same in words").click()
    expect(page.get_by_role("table").first).to_be_visible()
    context.close()
