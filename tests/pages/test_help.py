"""Help where it is needed: a tap on a term says what it means, and no figure is without one."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from app.pages.deps import TEMPLATES
from app.words.glossary import MOVES, TERMS
from app.words.terms import EVERY, OWN, labels, meaning
from sim.day.figures import FIGURES
from tests import demo_app
from tests.demo_app import begin_nothing
from tests.pages.figures_shown import (
    Node,
    Tree,
    figures,
    is_explained,
    terms_in,
    texts_of,
    unexplained,
)
from tests.pages.pages import a_page_of_each_sort, written_texts

BUSY = demo_app.TODAY.replace(day=18)
MOST_WORDS = 25
"""Of a sentence that somebody reads standing."""


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Node]:
    """A page of each sort of the demo site with its answers stored, by address."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("help")) as client,
    ):
        begin_nothing(patch)
        return {address: Tree(text).root for address, text in _pages(client)}


def _pages(client: TestClient) -> Iterator[tuple[str, str]]:
    for store in (demo_app.store_comparison, demo_app.store_maps, demo_app.store_switch,
                  demo_app.store_staff, demo_app.store_worth):  # fmt: skip
        store(client, BUSY)
    for whole in (demo_app.store_cloth, demo_app.store_roster, demo_app.store_season,
                  demo_app.store_coming):  # fmt: skip
        whole(client)
    yield from a_page_of_each_sort(client, BUSY)


def fixed_texts() -> list[str]:
    """Sentences with a number that stand in the program as they are: six words or more, without a
    gap, and not one of those that count one of something."""
    whole = re.compile(r"[A-Z][^{]*\d[^{]*\.")
    return [one for one in written_texts() if whole.fullmatch(one) and len(one.split()) >= 6]


def test_every_figure_is_explained(walked: dict[str, Node]) -> None:
    """On no page is there a number whose row head, column head, label, sentence or part is not a
    term that opens what it means."""
    said = fixed_texts()
    shown = [(page, *one) for page, tree in walked.items() for one in figures(tree, said)]
    assert len(walked) > 30
    assert len(shown) > 1_000
    assert [(page, text) for page, block, text in shown if not is_explained(block)] == []


def test_every_term_opens_a_text_once(walked: dict[str, Node]) -> None:
    """Each term of a page has its text there, each text is some term's, and no id stands twice."""
    for page, tree in walked.items():
        assert faults_of_terms(tree) == [], page


def faults_of_terms(tree: Node) -> list[str]:
    """Terms without a text, texts without a term, and texts that are there twice."""
    texts = texts_of(tree)
    used = set(terms_in(tree))
    ids = [one.attrs["id"] for one in tree.all() if "popover" in one.attrs]
    return [
        *(f"{one} opens nothing" for one in sorted(used - set(texts))),
        *(f"{one} is opened by nothing" for one in sorted(set(texts) - used)),
        *(f"{one} stands twice" for one in sorted(set(ids)) if ids.count(one) > 1),
    ]


def test_every_term_of_the_catalogue_is_used(walked: dict[str, Node]) -> None:
    """No term is explained that no page uses, and no figure of a day lacks its term. Parts that
    small answers lack name theirs in a template."""
    used = {one.removeprefix("t-") for tree in walked.values() for one in terms_in(tree)}
    written = "".join(one.read_text(encoding="utf-8") for one in TEMPLATES.rglob("*.html"))
    heads = {key: (key, OWN[key].name, *OWN[key].labels) for key in OWN}
    named = {key for key, said in heads.items() if any(f'"{one}"' in written for one in said)}
    assert {*OWN, *FIGURES} - used - named == set()
    assert set(MOVES) == set(FIGURES)


def test_the_guide_has_every_term(walked: dict[str, Node]) -> None:
    """Whoever has no popovers reads every term on a page of the guide."""
    there = {one.attrs.get("id") for one in walked["/guide/terms"].all()}
    named = {one.key for one in TERMS if one.name != "What this says"}
    assert named | set(FIGURES) <= there


@pytest.mark.parametrize("key", sorted({*OWN, *FIGURES}))
def test_term_is_said_in_three_short_sentences(key: str) -> None:
    """What it is, where it comes from, what moves it: each is there, and no sentence is long."""
    one = meaning(key)
    for said in (one.what, one.sure, one.moves):
        assert said.endswith(".")
        for sentence in re.split(r"(?<=[.;:]) ", said):
            assert len(sentence.split()) <= MOST_WORDS, sentence


def test_a_guess_is_called_one() -> None:
    """What is told of an input names where its default comes from, guesses too."""
    assert "guess" in meaning("patience_median_s").sure
    assert "guess" in meaning("says-site").sure


def test_no_label_stands_for_two_terms() -> None:
    """Of the catalogue's own terms no two stand under one head."""
    heads = [
        head for one in TERMS if one.name != "What this says" for head in (one.name, *one.labels)
    ]
    assert len(heads) == len(set(heads))
    assert set(labels().values()) <= set(EVERY)


PAGE = """<section class="part"><header><h2>{head}</h2></header><div>
<p>About 1 car in 70 leaves damp on 18 July 2026 at 13:00.</p>
<table><thead><tr><th>From</th><th>{column}</th></tr></thead>
<tbody><tr><th>7:00</th><td>33</td></tr></tbody></table></div></section>{text}"""
TERM = '<button class="term" popovertarget="t-cars">Cars</button>'
TEXT = '<aside><div id="t-cars" popover>What it is.</div></aside>'


def test_a_figure_without_help_is_found() -> None:
    """A planted number is named where nothing explains it, and only there."""
    bare = Tree(PAGE.format(head="Cars", column="Cars", text=TEXT)).root
    assert unexplained(bare) == ["About 1 car in 70 leaves damp on 18 July 2026 at 13:00.", "33"]
    by_column = Tree(PAGE.format(head="Cars", column=TERM, text=TEXT)).root
    assert unexplained(by_column) == ["About 1 car in 70 leaves damp on 18 July 2026 at 13:00."]
    assert unexplained(Tree(PAGE.format(head=TERM, column="Cars", text=TEXT)).root) == []
    assert unexplained(Tree("<p>On 18 July 2026 at 13:00, as “plan 7” says.</p>").root) == []
    assert unexplained(Tree("<p>Shares sum to 100 %.</p>").root, ["Shares sum to 100 %."]) == []


def test_a_term_without_a_text_is_found() -> None:
    """A planted term that opens nothing is named, and so is a text that nothing opens."""
    bare = Tree(PAGE.format(head=TERM, column="Cars", text="")).root
    assert faults_of_terms(bare) == ["t-cars opens nothing"]
    spare = Tree(PAGE.format(head="Cars", column="Cars", text=TEXT)).root
    assert faults_of_terms(spare) == ["t-cars is opened by nothing"]
    twice = Tree(PAGE.format(head=TERM, column="Cars", text=TEXT * 2)).root
    assert faults_of_terms(twice) == ["t-cars stands twice"]
