"""What to do with the rest of today, as a browser without script meets it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient

from app.answers.now import NowFound, PlannedAct, rule_of_the_day
from app.answers.planning import PLAN
from app.answers.switching import SWITCH
from app.books import csv_of
from app.pages.writing import new_request_key
from app.sites.reading import gate, log_of
from app.words.now import now_words
from sim.day.rules import parse_rule
from sim.decide.now.answer import Act
from sim.inputs import LOG, LogEntry
from sim.inputs.logbook import (
    ADVICE,
    CARS,
    CHECK,
    DAMP_HOODS,
    DEVICE,
    DOWN,
    FINE,
    GO_BACK,
    NOTE,
    REDUCE_LATER,
    REDUCE_NOW,
    REDUCED,
    REPAIRED,
    SAFETY_DEVICES,
    STAY,
    WIPING,
)
from tests import demo_app
from tests.demo_app import begin_nothing
from tests.pages.figures_shown import Tree, figures, is_explained
from tests.pages.pages import page_of

HOUR_S = 3_600.0
BUSY = demo_app.TODAY.replace(day=18)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The demo on its humid peak, nothing worked out ahead."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("now"), BUSY) as opened,
    ):
        begin_nothing(patch)
        yield opened


def entry(
    kind: str, at_h: float, count: int | None = None, *, word: str = "", day: date = BUSY
) -> LogEntry:
    """An entry of the day; of hoods it has twenty."""
    of = 20 if kind == DAMP_HOODS else None
    key = f"test-{kind}-{day}-{round(60 * at_h)}"
    return LogEntry(key, day, at_h * HOUR_S, kind, count, of, word=word)


def store(client: TestClient, *entries: LogEntry) -> None:
    """Stores entries as they are."""
    site, web = demo_app.demo_site(client), demo_app.app_of(client).state.web
    with gate(web.database, web.now()) as opened:
        opened.enter(site.id, entries, new_request_key())


def strike(client: TestClient) -> None:
    """Takes back all of the day, whatever a test before entered."""
    site, web = demo_app.demo_site(client), demo_app.app_of(client).state.web
    held = log_of(web.database, site.id, BUSY)
    if held:
        with gate(web.database, web.now()) as opened:
            opened.enter(site.id, [replace(e, struck="yes") for e in held], new_request_key())


def main_of(client: TestClient, place: str, at: str) -> str:
    """What a page says as of a time."""
    text = client.get(f"/{demo_app.demo_site(client).slug}/{place}?at={at}").text
    return " ".join(text[text.index("<main") : text.index("</main>")].split())


@pytest.mark.parametrize("place", ["today", "logbook"])
def test_what_to_do_follows_from_what_was_noted(client: TestClient, place: str) -> None:
    """Many damp hoods reduce, none stays, and so do some, where more would reduce; each says why,
    how sure, and what would change it."""
    strike(client)
    assert 'id="now"' not in main_of(client, place, "8:00")
    store(client, entry(CARS, 13.0, 620), entry(DAMP_HOODS, 13.0, 12))
    wet = main_of(client, place, "13:05")
    assert "<b>Reduce now" in wet
    assert "620 cars by 13:00" in wet
    assert "Beside the plan it saves about $" in wet
    strike(client)
    store(client, entry(CARS, 13.0, 620), replace(entry(DAMP_HOODS, 13.0, 0), key="test-none-damp"))
    dry = main_of(client, place, "13:05")
    assert "<b>Stay on full.</b>" in dry
    assert "No likely count of damp hoods would change it." in dry
    assert "of 10 days that may still come" in dry
    strike(client)
    store(client, entry(CARS, 13.0, 620), replace(entry(DAMP_HOODS, 13.0, 6), key="test-some-damp"))
    between = main_of(client, place, "13:05")
    assert "<b>Stay on full.</b>" in between
    assert "damp hoods or more among the next 20 would make it “Reduce now”" in between


def test_it_says_that_it_guesses_after_two_hours(client: TestClient) -> None:
    """From the last entry on, or from opening where nothing was noted; then by the plan."""
    strike(client)
    assert "A guess" not in main_of(client, "today", "8:59")
    assert "A guess: nobody has noted anything since opening." in main_of(client, "today", "9:00")
    store(client, entry(CARS, 9.5, 150))
    assert "A guess" not in main_of(client, "today", "11:29")
    assert "A guess: nobody has noted anything since 9:30." in main_of(client, "today", "11:30")
    assert 'id="now"' not in main_of(client, "today", "20:00")


@pytest.mark.parametrize("device", [*SAFETY_DEVICES, "other_device"])
def test_with_a_safety_device_down_the_only_word_is_to_stop(
    client: TestClient, device: str
) -> None:
    """Whatever was counted, since whatever day, until it is repaired: no act but stop, lock out
    and licensed service."""
    strike(client)
    failed = replace(entry(DEVICE, 10.0, word=DOWN, day=BUSY - timedelta(days=2)), name=device)
    failed = replace(failed, key=f"{failed.key}-{device}")
    store(client, failed, entry(CARS, 13.0, 620))
    for place in ("today", "logbook"):
        said = main_of(client, place, "13:05")
        part = said[said.index('id="now"') : said.index("</section>", said.index('id="now"'))]
        assert "Stop the line." in part
        assert "licensed service" in part
        assert not [w for w in ("Reduce", "Stay on", "Go back", "<form", "saves") if w in part]
    repaired = replace(failed, key=f"{failed.key}-again", at_s=12 * HOUR_S, word=REPAIRED)
    store(client, repaired)
    assert "Stop the line" not in main_of(client, "today", "13:05")


def test_a_press_says_that_the_crew_has_switched(client: TestClient) -> None:
    """The one press of the part enters a switch and leads back to Today."""
    strike(client)
    store(client, entry(CARS, 7.5, 20))
    slug, web = demo_app.demo_site(client).slug, demo_app.app_of(client).state.web
    said = main_of(client, "today", "8:00")
    assert "We have switched to reduced" in said
    fields = dict(_hidden(said[said.index('id="now"') :]))
    sent = {**fields, "word": REDUCED}
    answer = client.post(f"/{slug}/logbook", data=sent, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/{slug}/today")
    made = [e for e in log_of(web.database, demo_app.demo_site(client).id, BUSY) if e.counts]
    assert [e.word for e in made if e.kind == WIPING] == [REDUCED]


def _hidden(text: str) -> list[tuple[str, str]]:
    form = text[text.index("<form") : text.index("</form>")]
    parts = form.split('<input type="hidden" name="')[1:]
    return [(one[: one.index('"')], one.split('value="')[1].split('"')[0]) for one in parts]


def test_advice_is_kept_as_it_was_given(client: TestClient) -> None:
    """An entry that changes what is advised leaves the advice in the log, once; looking at a page
    leaves nothing."""
    strike(client)
    site = demo_app.demo_site(client)
    main_of(client, "today", "8:00")
    assert advice(client) == []
    for count in ("12", "12"):
        said = main_of(client, "logbook", "8:00")
        form = dict(_hidden(said[said.index('id="kind-damp"') :]))
        answer = client.post(f"/{site.slug}/logbook", data={**form, "count": count, "of": "20"})
        assert answer.status_code == 200
    (given,) = advice(client)
    assert given.startswith("Reduce now")


def advice(client: TestClient) -> list[str]:
    """What was advised today, as it was kept."""
    site, web = demo_app.demo_site(client), demo_app.app_of(client).state.web
    return [e.text for e in log_of(web.database, site.id, BUSY) if e.kind == ADVICE and e.counts]


def by_check(client: TestClient, place: str, token: str) -> None:
    """A check, as its page sends it."""
    sent = {"form_token": token, "kind": CHECK, "name": "Guards", "word": FINE, "back": "checks"}
    client.post(f"{place}/logbook", data=sent)


def by_device(client: TestClient, place: str, token: str) -> None:
    """A device that is down, by its own page."""
    sent = {"form_token": token, "key": "device-of-today", "device": "blower", "word": DOWN}
    client.post(f"{place}/down", data=sent)


def by_file(client: TestClient, place: str, token: str) -> None:
    """An entry that a file brings."""
    text = csv_of(LOG, [replace(entry(NOTE, 7.75), key="note-of-a-file", text="new soap")])
    sent = {"form_token": token, "pasted": text}
    waits = client.post(f"{place}/logbook/preview", data=sent)
    form = page_of(waits).form(f"{place}/logbook/confirm")
    client.post(form.action, data=form.data(store="1"))


@pytest.mark.parametrize("enters", [by_check, by_device, by_file])
def test_an_entry_is_an_entry_however_it_comes(
    client: TestClient, enters: Callable[[TestClient, str, str], None]
) -> None:
    """A check, a device that is down and what a file brings are followed by the advice of then."""
    strike(client)
    key = f"looked-at-{enters.__name__}".replace("_", "-")
    looks = [replace(entry(DAMP_HOODS, at, 12), key=f"{key}-{round(at)}") for at in (6.5, 7.5)]
    store(client, *looks)
    place = f"/{demo_app.demo_site(client).slug}"
    token = page_of(client.get(f"{place}/logbook")).field("form_token").value
    assert advice(client) == []
    enters(client, place, token)
    assert len(advice(client)) == 1


def test_every_number_of_the_part_is_explained(client: TestClient) -> None:
    """Each stands beside a term that opens what it means."""
    strike(client)
    store(client, entry(CARS, 13.0, 620), entry(DAMP_HOODS, 13.0, 12))
    for place in ("today", "logbook"):
        said = client.get(f"/{demo_app.demo_site(client).slug}/{place}?at=13:05").text
        shown = list(figures(Tree(said).root, ()))
        assert len(shown) > 5
        assert [text for block, text in shown if not is_explained(block)] == []


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (Act(STAY, None, False), "Stay on full."),
        (Act(STAY, None, True), "Stay on reduced."),
        (Act(REDUCE_NOW, None, False), "Reduce now."),
        (Act(REDUCE_NOW, None, False, 54_000.0), "Reduce now, until about 15:00."),
        (Act(REDUCE_LATER, 48_000.0, False), "Reduce at about 13:20."),
        (Act(GO_BACK, None, True), "Go back to full now."),
        (Act(GO_BACK, 54_000.0, True), "Go back to full at about 15:00."),
    ],
)
def test_an_act_is_said_in_a_sentence(act: Act, said: str) -> None:
    """Each act has its own sentence."""
    words = now_words(NowFound(None, planned=PlannedAct(act, by_clock=True), is_guess=True))
    assert words is not None
    assert words.act == said


def test_now_goes_by_what_today_says_in_bold(client: TestClient) -> None:
    """Before When to reduce is worked out, that is what does best in the plan, not what leads it;
    without a plan what leads it. The page of today and the logbook say the same."""
    strike(client)
    web, site = demo_app.app_of(client).state.web, demo_app.demo_site(client)
    view = web.open(site, SWITCH, BUSY)
    assert rule_of_the_day(view, web.open(site, PLAN, BUSY)).text == "full"
    demo_app.store_comparison(client, BUSY)
    plan = web.open(site, PLAN, BUSY)
    comparison = plan.result.comparison
    columns = comparison.columns
    for at in range(len(columns)):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(type(comparison), "best", at)
            assert rule_of_the_day(view, plan) == parse_rule(columns[at].scenario.rule)
    today, logbook = (main_of(client, place, "12:30") for place in ("today", "logbook"))
    assert "<b>Stay on full wiping all day.</b>" in today
    for page in (today, logbook):
        assert "<b>Stay on full.</b> By the plan." in page
