"""An empty start: what is worked out ahead is what every page shows, once, over a restart too."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import select

from app.answers import ahead as work_ahead
from app.answers.ahead import Ahead
from app.answers.answer import Kind
from app.answers.beliefs import SEED, Weighed
from app.answers.kinds import KINDS, take_up
from app.answers.staff import days_of
from app.answers.studies.runner import Report
from app.db.tables import ChangeRow, ResultRow
from app.main import create_app
from app.pages.deps import Web
from app.pages.waiting import REFRESH_S
from app.settings import DATABASE_NAME, read_settings
from app.sites.demo import demo_data, standing_day
from sim.decide.answer import Plan
from sim.learn.answer import Posterior
from sim.learn.weigh_in import posterior
from tests.demo_app import (
    ADDRESS,
    HERE,
    OWN_PAGE,
    app_of,
    lay_database,
    main_pages,
    no_roster,
    rough_staff,
    small_coming,
    small_comparison,
    small_drift,
    small_maps,
    small_next,
    small_score,
    small_switch,
    small_worth,
    whole_cloth,
)
from tests.pages.pages import asks_again
from tests.world import NOW

SLUG = "harbor-road"
Small = Callable[[Any], Any]
SITES = 256
"""Drawn sites that are held against what was measured."""
LONG_S = 300.0
"""A study that takes longer is given up; on idle processors none takes three seconds."""


def few_days(asked: Any) -> Plan:
    """The comparison of a day by few simulated days."""
    return small_comparison(asked, 4)


def few_sites(asked: Weighed) -> Posterior:
    """What weighings leave of few drawn sites."""
    return posterior(
        asked.data.site, asked.data.given, asked.weighings, asked.days, SEED,
        first_size=SITES, most_size=SITES, spins=asked.spins,
    )  # fmt: skip


SMALL: dict[str, Small] = {
    "weighings": few_sites,
    "drift": small_drift,
    "next": small_next,
    "scored": small_score,
    "plan": few_days,
    "switch": small_switch,
    "staff": rough_staff,
    "cloth": whole_cloth,
    "coming": small_coming,
    "maps": small_maps,
    "roster": no_roster,
    "worth": small_worth,
}
"""What works a kind out small; any other kind is worked out as it is."""


class Stops:
    """Kinds that are worked out small; the one that is next to stop waits until it may go on.

    Attributes:
        next: the kind that waits; empty for none.
    """

    def __init__(self) -> None:
        self.next = ""
        self.at_work, self.go_on = threading.Event(), threading.Event()

    def kind(self, real: Kind[Any, Any]) -> Kind[Any, Any]:
        """A real kind, worked out small."""
        small = SMALL.get(real.name)

        def of(asked: Any, executor: Executor | None, report: Report) -> Any:
            report(0, 4)
            if self.next == real.name:
                self.at_work.set()
                assert self.go_on.wait(LONG_S)
            report(1, 4)  # where a server that has been closed lets go
            return real.work(asked, executor, report) if small is None else small(asked)

        return replace(real, work=of)


@contextmanager
def served(folder: Path) -> Iterator[tuple[TestClient, Ahead]]:
    """A server with the demo site, and its work ahead, which is driven by the test."""
    day = standing_day(demo_data())
    settings = read_settings(data_dir=folder, today=day, workers=1)
    lay_database(
        folder / DATABASE_NAME, "measured", NOW,
        lambda opened: opened.create_site(demo_data(), "demo"),
    )  # fmt: skip
    app = create_app(settings)
    web: Web = app.state.web
    take_up(web.database, web.runner)
    with TestClient(app, base_url=ADDRESS, headers=OWN_PAGE, client=HERE) as client:
        yield client, Ahead(web.database, web.runner, settings.today_at, 1e6)


def up_to(ahead: Ahead, kind: str) -> int:
    """Works ahead until a kind comes next; returns how many studies that took."""
    count = 0
    while (one := ahead.next()) is not None and one[1].kind != kind:
        future = ahead.go_on()
        assert future is not None
        future.result(LONG_S)
        count += 1
    return count


def stored(client: TestClient) -> Counter[str]:
    """How often the answer under each key was stored."""
    web: Web = app_of(client).state.web
    with web.database.session() as session:
        keys = session.scalars(select(ResultRow.key)).all()
        told = session.scalars(select(ChangeRow.request_key).where(ChangeRow.what == "result"))
        found = Counter(one.removeprefix("result ") for one in told)
    assert found.keys() == set(keys)
    return found


def test_no_page_waits_after_an_empty_start_and_a_restart_repeats_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped amid the coming days, a server leaves all that it had done; the next one begins that
    study anew and no other, each answer is stored once, and then every page that the menu or
    another page leads to has its answer as of today, but the season, which comes last."""
    stops, day = Stops(), standing_day(demo_data())
    kinds = {name: stops.kind(kind) for name, kind in KINDS.items()}
    monkeypatch.setattr(work_ahead, "KINDS", kinds)
    monkeypatch.setattr(work_ahead, "days_of", lambda monday: days_of(monday)[-1:])  # takes long
    with served(tmp_path) as (client, ahead):
        before = up_to(ahead, "coming")
        kept = stored(client)
        assert len(kept) == before >= 4
        stops.next = "coming"
        future = ahead.go_on()
        assert future is not None
        assert stops.at_work.wait(LONG_S)
    stops.next = ""
    stops.go_on.set()
    future.result(LONG_S)

    with served(tmp_path) as (client, ahead):
        assert stored(client) == kept
        first = ahead.next()
        assert first is not None
        assert first[1].kind == "coming"
        after = up_to(ahead, "season")
        whole = stored(client)
        assert len(whole) == before + after
        assert set(whole.values()) == {1}
        pages = main_pages(SLUG, day)
        shown = {page: client.get(page) for page in pages}
        assert {page: one.status_code for page, one in shown.items()} == dict.fromkeys(pages, 200)
        waits = [page for page in pages if asks_again(shown[page]).startswith(f"{REFRESH_S};")]
        assert waits == []
        assert stored(client) == whole
