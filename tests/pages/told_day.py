"""Days of the demo with their answers stored, each with every page of that day and of the site."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from app.answers import switching
from app.answers.answer import Desk
from app.answers.planning import DayAsked
from app.answers.staff import STAFF
from app.answers.switching import SWITCH
from app.sites.demo import demo_days
from sim.day.rules import parse_rule
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.question import SwitchQuestion
from tests import demo_app
from tests.demo_app import begin_nothing

SLUG = "/harbor-road"
DAYS = ("humid_peak", "hot_dry_peak", "quiet", "hands")
"""Days of the demo that ask for different answers; on the first everything of the site is there."""
PLANNED = "clock 10:00-17:00"
OF_A_DAY = (
    "plan/{day}", "reduce/{day}", "sheet/{day}", "staff/{day}", "settings/{day}", "watch/{day}",
    "plan/{day}/page.html",
)  # fmt: skip
OF_THE_SITE = ("today", "plan", "coming", "cloth", "cloth/season", "weighings", "roster")


def planned_rule(one: DayAsked[SwitchQuestion]) -> WhenToReduce:
    """When to reduce as its page would store it, chosen among what the plan has, on other days than
    those of the plan."""
    asked = replace(one.posed, among=(parse_rule(PLANNED),), known=None)
    return switching.answer_switch(asked, one.plan.day, one.origin, depth=demo_app.SMALL)


@dataclass(eq=False)
class Told:
    """A day of the demo with its answers stored.

    Attributes:
        client: a browser at the demo, where it is that day.
        is_whole: whether answers of the site are there too.
    """

    client: TestClient
    day: date
    is_whole: bool

    def text(self, page: str) -> str:
        """A page or file."""
        answer = self.client.get(f"{SLUG}/{page.format(day=self.day)}")
        assert answer.status_code == 200, (page, answer.text)
        return answer.text

    @cached_property
    def pages(self) -> dict[str, str]:
        """Every page of the day and of the site."""
        return {page: self.text(page) for page in (*OF_THE_SITE, *OF_A_DAY)}

    @cached_property
    def answer(self) -> WhenToReduce:
        """When to reduce, as it is stored."""
        site = demo_app.demo_site(self.client)
        with demo_app.app_of(self.client).state.web.database.session() as session:
            result = Desk(session, site).open(SWITCH, self.day).result
        assert result is not None
        return result


@contextmanager
def told_day(name: str, folder: Path) -> Iterator[Told]:
    """A day of the demo by its name, on which it is that day; all of the site's answers are there
    on the first of `DAYS`."""
    day, is_whole = demo_days()[name], name == DAYS[0]
    with pytest.MonkeyPatch.context() as patch, demo_app.demo_client(folder, day) as client:
        begin_nothing(patch)
        demo_app.store_comparison(client, day)
        demo_app.keep(client, STAFF, day, demo_app.rough_staff)
        demo_app.keep(client, SWITCH, day, planned_rule)
        demo_app.store_maps(client, day)
        if is_whole:
            demo_app.store_cloth(client)
            demo_app.store_coming(client)
            demo_app.store_season(client)
        yield Told(client, day, is_whole)
