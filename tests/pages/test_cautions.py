"""Where hands come near wheel, belt, ladder or a sensor, the page says what must be minded."""

from __future__ import annotations

import re

import pytest

from app.answers.checks import is_safety
from app.pages import cautions
from app.pages.cautions import Notice
from sim.checks import safety_problem
from sim.inputs.logbook import DEVICES
from tests import demo_app
from tests.demo_app import begin_nothing
from tests.pages.figures_shown import Node, Tree
from tests.pages.pages import a_page_of_each_sort, written_texts

BUSY = demo_app.TODAY.replace(day=18)
NEAR = re.compile(r"\b(wheel|belt|strips?|sensors?|blowers?|ladder)\b", re.I)
"""Words of a page by which hands come near something that moves, is high or carries current."""
ELSEWHERE = re.compile(
    r"^(/guide.*|/about.*|/sites.*|/|/harbor-road/(plan|days)"
    r"|/harbor-road/(studies|history|roster|staff|counts).*)$"
)
"""Pages on which nobody does anything to the line: texts that explain it, and books of people."""
ONLY_FIGURES = re.compile(r"^/harbor-road/plan/[0-9-]+(/draft\?.*|/page\.html)?$")
"""A day’s figures, with a caution where a scenario moves something (tried with the plan’s own
tests), and the note on what stands above them."""
AROUND = re.compile(
    r"\b(bypass\w*|bridg(e|ed|ing) (it|the)|jumper\w*|overrid\w* (it|the (guard|stop|switch))"
    r"|tape[ds]? (it|the)|tie[ds]? (it )?(open|back)|disabl\w*|defeat\w*)\b",
    re.I,
)
"""How people speak of getting round a device that protects them."""


def notices() -> dict[str, Notice]:
    """Every caution of the program by its name."""
    return {name: one for name, one in vars(cautions).items() if isinstance(one, Notice)}


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Node]:
    """A page of each sort of the demo site with its answers stored, by address."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("cautions")) as client,
    ):
        begin_nothing(patch)
        for store in (demo_app.store_comparison, demo_app.store_maps, demo_app.store_switch):
            store(client, BUSY)
        demo_app.store_cloth(client)
        pages = dict(a_page_of_each_sort(client, BUSY))
        for device in DEVICES:
            address = f"/harbor-road/down?device={device}"
            pages[address] = client.get(address).text
        return {address: Tree(text).root for address, text in pages.items()}


def said_in(tree: Node) -> str:
    """What stands in the main part of a page, in one line."""
    (main,) = (one for one in tree.all() if one.tag == "main")
    words = (said for one in main.all() for said in one.inside if isinstance(said, str))
    return " ".join(" ".join(words).split())


def test_every_page_near_the_wheel_has_its_caution(walked: dict[str, Node]) -> None:
    """With one of the program's cautions or stops, and what stands above all of it: the equipment's
    own manual and local codes."""
    found = 0
    for address, tree in walked.items():
        text = said_in(tree)
        if ELSEWHERE.match(address) or not NEAR.search(text):
            continue
        found += 1
        assert warnings_in(text) or ONLY_FIGURES.match(address), address
        assert cautions.DEFERENCE.text in text or "equipment’s own manual" in text, address
    assert found >= 20


def warnings_in(text: str) -> list[str]:
    """Names of the cautions and stops that a text has."""
    return [name for name, one in notices().items() if one.weight != "note" and one.text in text]


def test_a_page_without_its_caution_is_found(walked: dict[str, Node]) -> None:
    """Each caution of the pages that hands are led by is missed where it is taken away."""
    for address in ("/harbor-road/today", "/harbor-road/checks", "/harbor-road/down"):
        text = said_in(walked[address])
        bare = text
        for one in notices().values():
            bare = bare.replace(one.text, "")
        assert warnings_in(text)
        assert NEAR.search(bare)
        assert not warnings_in(bare)


@pytest.mark.parametrize("device", [one for one in DEVICES if is_safety(one)])
def test_of_a_failed_safety_device_nothing_but_stop_is_said(
    walked: dict[str, Node], device: str
) -> None:
    """Its page has the stop, the lock-out and whom to call, and no field for a number."""
    tree = walked[f"/harbor-road/down?device={device}"]
    text = said_in(tree)
    assert {"SAFETY_DEVICE", "LOCK_OUT"} <= set(warnings_in(text))
    assert "Call licensed service." in text
    typed = [one for one in tree.all() if one.tag == "input" and one.attrs.get("type") != "hidden"]
    assert typed == []


def test_no_text_tells_how_to_get_round_a_safety_device(walked: dict[str, Node]) -> None:
    """Neither what stands in code and templates, nor the guide, nor a page says so; how it would be
    said is found."""
    texts = [*written_texts(), *(said_in(tree) for tree in walked.values())]
    assert [AROUND.findall(text) for text in texts if AROUND.search(text)] == []
    for said in ("bypass the guard", "tape it down", "bridge it", "disable the stop"):
        assert AROUND.search(said)
    assert safety_problem("scenario", "guard switch down, run on") is not None
