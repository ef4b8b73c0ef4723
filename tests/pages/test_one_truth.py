"""One quantity of a day is one number on every page, sheet and file of that day."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from app.answers import switching
from app.answers.answer import Desk
from app.answers.planning import DayAsked
from app.answers.studies.line import StudyQueue
from app.answers.switching import SWITCH
from app.sites.demo import demo_days
from sim.day.figures import FIGURES
from sim.day.rules import parse_rule
from sim.decide.switching.answer import WhenToReduce
from sim.decide.switching.question import SwitchQuestion
from sim.units import UNITS
from tests import demo_app
from tests.pages.figures_shown import Node, Tree, terms_in

SLUG = "/harbor-road"
DAY = demo_days()["humid_peak"]
PLANNED = "clock 10:00-17:00"
PAGES = (
    "today", "plan", f"plan/{DAY}", f"reduce/{DAY}", f"sheet/{DAY}", f"staff/{DAY}",
    f"settings/{DAY}", f"watch/{DAY}", "coming",
)  # fmt: skip
SENTENCES = {
    "today": {
        r"Up to ([\d.]+) minutes for most; ([\d,]+) cars are lost": ("wait_p90_s", "cars_lost"),
        r"Earns about \$([\d,]+) and costs \$([\d,]*\d)": ("margin", "cost"),
    },
    f"sheet/{DAY}": {
        r"Expected[^:]*: ([\d.]+)()\u00a0?\s?% of cars": ("left_damp_share", "nothing")
    },
}
"""Sentences that tell figures of the day as advised, and which."""
Shown = dict[tuple[str, ...], dict[str, str]]
"""What pages show of a quantity: by what it is, by page."""


def planned_rule(one: DayAsked[SwitchQuestion]) -> WhenToReduce:
    """When to reduce as its page would store it, chosen among what the plan has, on other days than
    those of the plan."""
    asked = replace(one.posed, among=(parse_rule(PLANNED),), known=None)
    return switching.answer_switch(asked, one.plan.day, one.origin, depth=demo_app.SMALL)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser on the demo site on its busy day, with that day's answers stored."""
    with (
        pytest.MonkeyPatch.context() as patch,
        demo_app.demo_client(tmp_path_factory.mktemp("truth"), DAY) as opened,
    ):
        patch.setattr(StudyQueue, "begin", lambda *_given: None)
        demo_app.store_comparison(opened, DAY)
        demo_app.store_staff(opened, DAY)
        demo_app.keep(opened, SWITCH, DAY, planned_rule)
        yield opened


def texts(demo: TestClient) -> dict[str, str]:
    """The pages of the day."""
    return {page: demo.get(f"{SLUG}/{page}").text for page in PAGES}


def words_of(node: Node) -> str:
    """The text of an element on one line."""
    return " ".join(node.text().split())


def columns_of(tree: Node) -> Iterator[tuple[str, str, str]]:
    """Every cell of the comparisons of a page: figure, rule of its column, and what it shows."""
    for table in (one for one in tree.all() if "compare" in one.kinds):
        rows = [one for one in table.all() if one.tag == "tr"]
        rules = [rule_of(words_of(head)) for head in rows[0].nodes[1:]]
        for row in rows[1:]:
            figure = [key.removeprefix("t-") for key in terms_in(row.nodes[0])]
            values = [one for one in row.all() if "v" in one.kinds]
            if figure and len(values) == len(rules):
                for rule, value in zip(rules, values, strict=True):
                    yield figure[0], rule, words_of(value)


def rule_of(head: str) -> str:
    """The rule that the head of a column tells of."""
    for said, rule in (
        ("10:00–17:00", PLANNED),
        ("lways reduced", "reduced"),
        ("lways full", "full"),
    ):
        if said in head:
            return rule
    raise AssertionError(f"no rule of the day: {head}")


def shown(pages: dict[str, str]) -> Shown:
    """Each quantity of the day wherever it is shown."""
    found: Shown = defaultdict(dict)
    for page, text in pages.items():
        tree = Tree(text).root
        for figure, rule, value in columns_of(tree):
            found[figure, rule][page] = value
        main = next(words_of(one) for one in tree.all() if one.attrs.get("id") == "main")
        day = main if page not in ("plan", "coming") else ""
        for cars in re.findall(r"[Aa]bout ([\d,]+)(?: cars|; the busiest)", day)[:1]:
            found["expected cars",][page] = cars
    return found


def told_on(demo: TestClient, pages: dict[str, str], found: Shown) -> str:
    """Adds what sentences tell of the day as advised, on Today and on the day sheet; returns the
    rule that is advised."""
    site = demo_app.demo_site(demo)
    with demo_app.app_of(demo).state.web.database.session() as session:
        result = Desk(session, site).open(SWITCH, DAY).result
    assert result is not None
    rule = result.told.text
    for page, sentences in SENTENCES.items():
        text = words_of(Tree(pages[page]).root)
        for sentence, figures in sentences.items():
            numbers = re.findall(sentence, text)
            assert len(numbers) == 1, (page, sentence)
            for figure, number in zip(figures, numbers[0], strict=True):
                found[figure, rule][page] = number
    return rule


def differing(found: Shown) -> list[str]:
    """Quantities that two pages show as two numbers."""
    return [
        f"{' of '.join(what)}: {places}"
        for what, places in found.items()
        if len({value_of(number) for number in places.values()}) > 1
    ]


def bare(printed: str) -> str:
    """A printed number without sign of money and commas."""
    return printed.replace("$", "").replace(",", "").replace("\u2212", "-")


def value_of(number: str) -> float | str:
    """A printed number; 3.0 is 3. Words stand for themselves."""
    try:
        return float(bare(number))
    except ValueError:
        return number


def test_no_figure_differs_between_pages(demo: TestClient) -> None:
    """Plan, When to reduce, Today and the day sheet tell the same number of one way to run the day,
    and the same cars are expected on every page."""
    pages = texts(demo)
    found = shown(pages)
    rule = told_on(demo, pages, found)
    twice = [what for what, places in found.items() if len(places) > 1]
    assert len(twice) > 30
    assert len(found["expected cars",]) >= 4
    assert len(found["margin", rule]) == 3, "plan, When to reduce, Today"
    assert differing(found) == []


def test_a_planted_difference_is_found(demo: TestClient) -> None:
    """A number that one page shows otherwise is named with its pages."""
    pages = texts(demo)
    plan = f"plan/{DAY}"
    values = Counter(value for _figure, _rule, value in columns_of(Tree(pages[plan]).root))
    twice = [what for what, places in shown(pages).items() if len(places) > 1 and plan in places]
    figure, rule, number = next(
        one
        for one in columns_of(Tree(pages[plan]).root)
        if values[one[2]] == 1 and one[:2] in twice
    )
    cell = '<span class="v">{}</span>'
    assert pages[plan].count(cell.format(number)) == 1
    pages[plan] = pages[plan].replace(cell.format(number), cell.format("7777"))
    (told,) = differing(shown(pages))
    assert told.startswith(f"{figure} of {rule}: ")
    assert "'7777'" in told


def test_files_hold_what_pages_show(demo: TestClient) -> None:
    """Each figure of the plan's page is that of its file, rounded as the page prints it."""
    rows = csv.DictReader(io.StringIO(demo.get(f"{SLUG}/plan/{DAY}/figures.csv").text[1:]))
    named = {(one.label, UNITS[one.unit].symbol("us")): name for name, one in FIGURES.items()}
    exact = {
        (named[row["figure"], row["unit"]], rule_of(row["scenario"])): float(row["value"])
        for row in rows
        if row["value"]
    }
    pairs = [
        (exact[figure, rule], value)
        for figure, rule, value in columns_of(Tree(demo.get(f"{SLUG}/plan/{DAY}").text).root)
        if re.search(r"\d", value)
    ]
    assert len(pairs) > 60
    for value, printed in pairs:
        number = bare(printed)
        decimals = len(number.partition(".")[2])
        zeros = len(number) - len(number.rstrip("0")) if not decimals else 0
        step = 10.0 ** (zeros or -decimals)
        assert abs(float(number) - value) <= 0.5 * step + 1e-9, (value, printed)
