"""A second language is only a file: whatever a reader sees passes through the catalogue.

Every page is built in a made-up language whose letters are not those of English; a word that is
left in plain letters has passed by the catalogue, or is data.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextvars import ContextVar

import pytest
from fastapi.testclient import TestClient

from app import catalogue
from app.answers.answer import LIBRARIES
from app.answers.planning import DEFAULT_SCENARIOS
from app.pages import guide
from app.sites.demo import demo_data
from sim.inputs.people import ROLES
from sim.units import SYSTEMS, UNITS
from tests import demo_app
from tests.demo_app import begin_nothing
from tests.pages.pages import Page, a_page_of_each_sort, written_texts

PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
MADE_UP = str.maketrans(PLAIN, "ɑƀçđêƒǧħîĵķļɱñôƥɋřšţûṽŵẋýžÅƁÇĐÊƑǦĦÎĴĶĻṀÑÔƤɊŘŠŢÛṼŴẊÝŽ")
SAID = ("alt", "aria-label", "aria-description", "placeholder", "title", "aria-roledescription")
"""Attributes that are read to somebody or shown."""


class MadeUp(Mapping[str, str]):
    """A table of all written texts, said in other letters; gaps and markup stay."""

    def __init__(self) -> None:
        self._known = written_texts()

    def __getitem__(self, text: str) -> str:
        if text not in self._known:
            raise KeyError(text)
        parts = re.split(r"(\{[^{}]*\}|<[^<>]*>|&[a-z]+;)", text)
        return "".join(part if at % 2 else part.translate(MADE_UP) for at, part in enumerate(parts))

    def __iter__(self) -> Iterator[str]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)


BUSY = demo_app.TODAY.replace(day=18)
"""A day of the demo that has every answer."""
GUIDE = "# Ţîţļê\n\nĻêɑđ.\n\n## Ħêɑđ {#head}\n\n*Ñôţê.*\n\nƁôđý.\n"
"""In place of each guide, which is a text of its own: what else stands on its page is a frame."""


class Seen(Page):
    """A page with all that is shown or read to somebody, but for what is data or a notation."""

    SILENT = frozenset({"script", "style", "code", "kbd", "samp", "title"})

    def __init__(self, text: str) -> None:
        self.shown: list[str] = []
        super().__init__(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes what attributes say."""
        super().handle_starttag(tag, attrs)
        self.shown += [value for name, value in attrs if name in SAID and value]

    def handle_data(self, data: str) -> None:
        """Takes text."""
        super().handle_data(data)
        if not (self._open and self._open[-1][0] in self.SILENT):
            self.shown.append(data)


def data_words() -> set[str]:
    """Words that are no texts of the program: what the demo site holds, notations, symbols."""
    data = demo_data()
    site, book = data.site, data.staff
    said = [
        "Clothcast", site.name, BUILT_IN,
        *(item.label for item in site.vehicles), *(item.key for item in site.vehicles),
        *(one.name for one in book.people), *(role for one in book.people for role in one.roles),
        *ROLES, site.second.second_cloth_called, *(note.note for note in data.history.days),
        *(one.name for one in data.cloth.sets), *(scenario.name for scenario in DEFAULT_SCENARIOS),
        *(unit.symbol(system) for unit in UNITS.values() for system in SYSTEMS),
        *LIBRARIES, *NOTATIONS, *(part for one in data.log for part in (one.name, one.text)),
    ]  # fmt: skip
    return {word for text in said for word in re.findall(r"[A-Za-z]{2,}", text)}


BUILT_IN = "site manager"
"""Who stands behind every change, as the database names him."""
NOTATIONS = (
    # the heads of files to be brought in
    "date,hour,cars_arrived", "date,hour,temp_f,humidity_pct,rain_in",
    # when somebody can't work, as people type it
    "mon tue wed thu fri sat sun",
    # a scenario's name that the program proposed when it was stored
    "Advised", "Reduced",
    # gaps of the recorder's address, as people type them
    "date time year month day hour minute",
)  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site with every answer stored, all of it said in the language."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("language")) as opened,
    ):
        begin_nothing(patch)
        patch.setattr(guide, "_text", lambda *_given: GUIDE)
        for store in (demo_app.store_comparison, demo_app.store_maps, demo_app.store_switch,
                      demo_app.store_staff):  # fmt: skip
            store(opened, BUSY)
        demo_app.store_plan(opened, BUSY)
        for whole in (demo_app.store_cloth, demo_app.store_roster, demo_app.store_season):
            whole(opened)
        table: Mapping[str, str] = MadeUp()
        patch.setattr(catalogue, "_table", ContextVar("texts", default=table))
        yield opened


def pages(client: TestClient) -> Iterator[tuple[str, Seen]]:
    """A page of each sort that links lead to, the answered days first."""
    for address, text in a_page_of_each_sort(client, BUSY):
        yield address, Seen(text)


def test_whatever_a_reader_sees_is_in_the_catalogue(client: TestClient) -> None:
    """No page has a word that a table of texts could not say otherwise."""
    data, faults, count = data_words(), dict[str, str](), 0
    for address, page in pages(client):
        count += 1
        for said in page.shown:
            for word in set(re.findall(r"[A-Za-z]{2,}", said)) - data:
                faults.setdefault(word, f"{address}: {' '.join(said.split())[:160]}")
    assert count > 30
    assert not faults


def test_a_text_that_passes_by_the_catalogue_is_found() -> None:
    """A word put beside marked texts, in an attribute or put together, is seen."""
    table = MadeUp()
    marked, made = table["Counts"], table.get(f"Counts of {7} days", f"Counts of {7} days")
    page = Seen(
        f'<p title="Seven">{marked}</p><p>{marked} waiting</p><code>plan</code><p>{made}</p>'
    )
    words = {word for said in page.shown for word in re.findall(r"[A-Za-z]{2,}", said)}
    assert words == {"Seven", "waiting", "Counts", "of", "days"}
