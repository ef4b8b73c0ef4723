"""One quantity of a day is one number on every page, sheet and file of that day, and what is shown
as a difference is the difference of what is shown; on several days of the demo."""

from __future__ import annotations

import io
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import openpyxl

from app.answers import planning
from app.sites.reading import gate
from sim.day.figures import FIGURES
from sim.units import UNITS
from tests import demo_app
from tests.pages.figures_shown import Node
from tests.pages.pages import page_of
from tests.pages.quantities import (
    Shown,
    What,
    compared,
    costs_planned,
    in_table,
    is_rounded,
    not_subtracting,
    numbers_in,
    root,
    rows_of,
    value_of,
    words_of,
)
from tests.pages.told_day import PLANNED, SLUG, Told, told_day

SIX_DIGITS = 5e-6
"""Half the last digit of a number in a file, of the number."""
SAY_CARS = ("today", "reduce/{day}", "sheet/{day}", "settings/{day}", "plan/{day}")
"""Pages that say how many cars are expected that day."""
FEWEST = {"plan/{day}": 60, "reduce/{day}": 30, "plan/{day}/page.html": 60}
"""Differences that the comparisons of a page show at least."""


# ---- what is shown -------------------------------------------------------------------------------


def rule_of(head: str) -> str:
    """The rule that the head of a column tells of."""
    found = rule_in(head)
    assert found is not None, f"no rule of the day: {head}"
    return found


def rule_in(said: str) -> str | None:
    """The rule that a text tells of; None for another."""
    for words, rule in (
        ("10:00–17:00", PLANNED),
        ("Reduce at 10:00, go back at 17:00", PLANNED),
        ("lways reduced", "reduced"),
        ("educe all day", "reduced"),
        ("lways full", "full"),
        ("ipe in full all day", "full"),
    ):
        if words in said:
            return rule
    return None


def shown(told: Told, pages: dict[str, str]) -> Shown:
    """Each quantity of the day wherever it is shown."""
    found: Shown = defaultdict(dict)

    def add(what: What, place: str, number: str) -> None:
        assert found[what].setdefault(place, number) == number, (what, place, number)

    present, advised = told.answer.present.text, told.answer.told.text
    for page, text in pages.items():
        tree = root(text)
        for what, value, _apart in compared(tree, rule_of):
            add(what, page, value)
        for what, value in costs_planned(tree, present):
            add(what, page, value)
        for what, value in other_tables(tree):
            add(what, f"{page}, its own table", value)
        for figures, number in sentences(tree, page):
            add((figures, advised), f"{page}, a sentence", number)
        for figures, number in beside_maps(tree):
            add((figures, present), f"{page}, beside its maps", number)
    return found


def other_tables(tree: Node) -> Iterator[tuple[What, str]]:
    """The trade-off, and people at the exit: rows that stand for the day as it is planned."""
    trade = {
        "Fully wiped": "full_share",
        "Leave damp": "left_damp_share",
        "Cost of the day": "cost",
    }
    yield from in_table(tree, {"Rule": "", **trade}, rule_in, 0)


def beside_maps(tree: Node) -> Iterator[tuple[str, str]]:
    """What maps of speed, spacing, demand and temperature are beside: the setting now."""
    named = {one.label: name for name, one in FIGURES.items()} | {"Cars lost a day": "cars_lost"}
    for caption in (one for one in tree.all() if one.tag == "figcaption"):
        said = words_of(caption).replace("\u00a0", " ")
        title, _than, now = said.replace(" Than expected: ", " Than now: ").partition(" Than now: ")
        label = title.rpartition(", ")[0]
        if label in named and now:
            yield named[label], numbers_in(now)[0]


SENTENCES: dict[str, dict[str, tuple[str, ...]]] = {
    "today": {
        r"9 cars in 10 wait at most ([\d.]+) minutes; ([\d,]+) cars are lost": (
            "wait_p90_s",
            "cars_lost",
        ),
        r"9 cars in 10 wait at most ([\d.]+) minutes, and no car is lost": ("wait_p90_s",),
        r"Earns about (−?\$[\d,]+) and costs (\$[\d,]*\d)": ("margin", "cost"),
    },
    "sheet/{day}": {r"Expected[^:]*: ([\d.]+)()\u00a0?\s?% of cars": ("left_damp_share",)},
}
"""Sentences that tell figures of the day as advised, and which."""


def sentences(tree: Node, page: str) -> Iterator[tuple[str, str]]:
    """What sentences tell of the day as advised."""
    text = words_of(tree)
    for sentence, figures in SENTENCES.get(page, {}).items():
        for groups in re.findall(sentence, text):
            numbers = (groups,) if isinstance(groups, str) else groups
            yield from zip(figures, numbers, strict=False)


def differing(found: Shown) -> list[str]:
    """Quantities that two places show as two numbers."""
    return [
        f"{' of '.join(what)}: {places}"
        for what, places in found.items()
        if len({value_of(number) for number in places.values()}) > 1
    ]


# ---- one number ----------------------------------------------------------------------------------


def test_no_figure_differs_between_pages(told: Told) -> None:
    """Plan, the plan as one file, When to reduce with its tables, Staff, Today and the day sheet
    tell the same number of one way to run the day."""
    found = shown(told, told.pages)
    rule = told.answer.told.text
    assert len([what for what, places in found.items() if len(places) > 1]) > 60
    assert {"plan/{day}", "reduce/{day}", "plan/{day}/page.html", "today, a sentence"} <= set(
        found["margin", rule]
    )
    elsewhere = (
        "plan/{day}", "staff/{day}", "today, a sentence", "reduce/{day}, its own table",
        "settings/{day}, beside its maps",
    )  # fmt: skip
    assert set(elsewhere) <= {place for places in found.values() for place in places}
    assert differing(found) == []


def test_a_planted_difference_is_found(told: Told) -> None:
    """A number that one page shows otherwise is named with its pages."""
    plan = "plan/{day}"
    values = Counter(value for _what, value, _apart in compared(root(told.pages[plan]), rule_of))
    twice = {what for what, places in shown(told, told.pages).items() if len(places) > 1}
    (figure, rule), number, _apart = next(
        one
        for one in compared(root(told.pages[plan]), rule_of)
        if values[one[1]] == 1 and one[0] in twice
    )
    cell = '<span class="v">{}</span>'
    assert told.pages[plan].count(cell.format(number)) == 1
    planted = told.pages[plan].replace(cell.format(number), cell.format("7777"))
    (said,) = differing(shown(told, {**told.pages, plan: planted}))
    assert said.startswith(f"{figure} of {rule}: ")
    assert "'7777'" in said


def test_the_same_cars_are_expected_everywhere(told: Told) -> None:
    """Pages, day sheet and the hours written down on it go by the same expected cars."""
    said = {}
    for page, text in told.pages.items():
        main = next(words_of(one) for one in root(text).all() if one.attrs.get("id") == "main")
        pattern = r"[Aa]bout ([\d,]+)(?: cars|; the busiest)"
        cars = re.findall(pattern, main)
        if cars and page in SAY_CARS:
            said[page] = cars[0]
    assert len(said) >= 4
    assert len(set(said.values())) == 1, said


def test_shown_differences_subtract(told: Told) -> None:
    """On every page each difference is that of the two numbers beside it, and the sentence that
    says what the day earns more has the number of the table."""
    for page, text in told.pages.items():
        count, faults = not_subtracting(root(text), rule_of)
        assert faults == [], page
        assert count >= FEWEST.get(page, 0), page
    plan = root(told.pages["plan/{day}"])
    apart = {what: more for what, _value, more in compared(plan, rule_of)}
    for money, word in re.findall(r"The day earns about (\$[\d,]+) (more|less)\.", words_of(plan)):
        margins = [more for (figure, _rule), more in apart.items() if figure == "margin"]
        assert {"more": "+", "less": "−"}[word] + money in margins


def test_a_planted_difference_that_does_not_subtract_is_found(told: Told) -> None:
    """A difference that is off by a digit is named with the numbers beside it."""
    text = told.pages["plan/{day}"]
    cells = re.findall(r'<span class="d">([^<]*[1-9][^<]*)</span>', text)
    assert cells
    planted = text.replace(f'<span class="d">{cells[0]}</span>', '<span class="d">+7777</span>', 1)
    _count, faults = not_subtracting(root(planted), rule_of)
    assert len(faults) == 1
    assert faults[0].endswith("+7777")


def test_a_tried_change_subtracts(told: Told) -> None:
    """What “Try a change” shows as a difference is that of its two numbers."""
    page = f"{SLUG}/plan/{told.day}"
    form = page_of(told.client.get(page)).form(f"{page}#try")
    changed = {"scenario-tried.conveyor_speed_m_s": "42"}
    text = told.client.get(page, params={**form.data(**changed), "do": "try"}).text
    rows = [
        [words_of(cell) for cell in row.nodes[1:]]
        for table in root(text).all()
        if table.tag == "table" and "moves" in table.kinds
        for row in table.all()
        if row.tag == "tr" and row.nodes and row.nodes[0].attrs.get("role") == "rowheader"
    ]
    checked = 0
    for first, value, apart in rows:
        numbers = [*numbers_in(first)[:1], *numbers_in(value)[:1], *numbers_in(apart)[:1]]
        if len(numbers) == 3 and apart != "–":
            before, after, more = (value_of(one) for one in numbers)
            assert isinstance(before, float)
            assert isinstance(after, float)
            assert isinstance(more, float)
            assert abs(after - before - more) < 1e-6, (first, value, apart)
            checked += 1
    assert checked >= 3


# ---- files ---------------------------------------------------------------------------------------


def test_files_hold_what_pages_show(told: Told) -> None:
    """Each figure of the plan's page is that of its file, rounded as the page prints it, and in the
    file differences subtract too."""
    rows = rows_of(told.text("plan/{day}/figures.csv"))
    named = {(one.label, UNITS[one.unit].symbol("us")): name for name, one in FIGURES.items()}
    exact = {
        (named[row["figure"], row["unit"]], rule_of(row["scenario"])): row
        for row in rows
        if row["value"]
    }
    pairs = [
        (float(exact[what]["value"]), value)
        for what, value, _apart in compared(root(told.pages["plan/{day}"]), rule_of)
        if re.search(r"\d", value)
    ]
    assert len(pairs) > 60
    for value, printed in pairs:
        assert is_rounded(value, printed), (value, printed)
    first = {what[0]: float(row["value"]) for what, row in exact.items() if what[1] == "full"}
    for (figure, _rule), row in exact.items():
        if row["difference to first"]:
            value, apart = float(row["value"]), float(row["difference to first"])
            most = SIX_DIGITS * (abs(value) + abs(first[figure]) + abs(apart))
            assert abs(value - first[figure] - apart) <= most, row


def test_the_rules_as_a_file_hold_what_the_page_shows(told: Told) -> None:
    """A rule of the trade-off that the plan has is there with the plan's figures."""
    rows = {row["rule"]: row for row in rows_of(told.text("reduce/{day}/rules.csv"))}
    heads = {
        "cars leaving damp, share of cars washed": ("left_damp_share", 100.0),
        "cars fully wiped, share of cars washed": ("full_share", 100.0),
        "cost of the day ($)": ("cost", 1.0),
    }
    checked = 0
    for what, value, _apart in compared(root(told.pages["reduce/{day}"]), rule_of):
        for head, (figure, factor) in heads.items():
            if what[0] == figure and what[1] in rows:
                assert is_rounded(factor * float(rows[what[1]][head]), value), (what, value)
                checked += 1
    assert checked >= 6


def test_people_by_half_hour_are_the_same_on_page_and_in_files(told: Told) -> None:
    """Needed and planned people of Staff are those of its file."""
    answer = told.client.get(f"{SLUG}/staff/{told.day}/people.csv")
    assert answer.status_code == 200
    rows = rows_of(answer.text)
    heads = ["From", "Needed", "Planned"]
    on_page = [
        [words_of(cell) for cell in row.nodes[:3]]
        for table in root(told.pages["staff/{day}"]).all()
        if table.tag == "table"
        for row in table.all()
        if row.tag == "tr" and len(row.nodes) > 5
    ]
    assert heads in on_page
    listed = [one for one in on_page if re.fullmatch(r"\d+:\d\d", one[0]) and one[1].isdigit()]
    assert [[row[head] for head in heads] for row in rows] == listed[: len(rows)]


# ---- what the site does --------------------------------------------------------------------------


def test_cloth_is_changed_and_laundered_on_one_day_everywhere(told: Told) -> None:
    """Today, Cloth, the season with its files name the same mornings for the set on the wheel."""
    if not told.is_whole:
        assert "once it is worked out" in words_of(root(told.pages["today"]))
        return
    today, cloth, season = (
        words_of(root(told.pages[page])) for page in ("today", "cloth", "cloth/season")
    )
    said = re.findall(r"Change Set \d+ in the morning of \w+ (\d+ \w+)", cloth)
    assert said
    assert set(re.findall(r"Change Set \d+ in the morning of \w+ (\d+ \w+)", today)) == set(said)
    assert re.findall(r"comes off for good on (\d+ \w+) ", season) == said[:1]
    laundry = re.findall(r"due before opening on \w+ (\d+ \w+)", today)
    assert laundry == re.findall(r"due before opening on \w+ (\d+ \w+)", cloth)[:1]
    assert laundry == re.findall(r"To the laundry next on \w+ (\d+ \w+)", season)
    raw = told.client.get(f"{SLUG}/cloth/season/season.xlsx").content
    book = openpyxl.load_workbook(io.BytesIO(raw))
    (morning,) = next(book["Laundry days"].iter_rows(min_row=2, values_only=True))
    change = next(book["Changes of sets"].iter_rows(min_row=2, values_only=True))[1]
    assert [f"{day.day} {day:%B}" for day in (morning, change)] == [laundry[0], said[0]]


def test_what_a_day_of_its_own_says_stands_among_the_coming_days(told: Told) -> None:
    """The rule of a day on Today is that of When to reduce and of the day sheet."""
    act = next(
        words_of(one)
        for one in root(told.pages["sheet/{day}"]).all()
        if one.tag == "p" and "answer" in one.kinds
    )
    lead = act.split(".")[0]
    for page in ("today", "reduce/{day}"):
        assert lead.rstrip(",") in words_of(root(told.pages[page])), page


def test_a_scenario_more_changes_no_number_until_its_plan_is_there(tmp_path: Path) -> None:
    """With one more scenario in the plan, whose figures are not worked out yet, pages beside it
    have the plan’s level of before, as the plan’s own page does; over an input that makes another
    day of it they have none."""
    with told_day("quiet", tmp_path) as told:
        pages = told.pages
        site, web = demo_app.demo_site(told.client), demo_app.app_of(told.client).state.web
        first = planning.DEFAULT_SCENARIOS[0]
        with gate(web.database, web.now()) as opened:
            slow = replace(first, name="Slow", changes={"conveyor_speed_m_s": 0.2})
            more = (*planning.DEFAULT_SCENARIOS, slow)
            opened.store_plan(site.id, told.day, "", more, 0, "one more")
        for page in ("settings/{day}", "staff/{day}"):
            before, now = (
                numbers_in(words_of(main_of(text))) for text in (pages[page], told.text(page))
            )
            assert len(before) > 20
            assert Counter(now) - Counter(before) == Counter(), page
        with gate(web.database, web.now()) as opened:
            opened.store_plan(site.id, told.day, "91 °F", more, 1, "a hotter day")
        assert "Than now: " not in words_of(root(told.text("settings/{day}")))


def main_of(text: str) -> Node:
    """What a page is about."""
    return next(one for one in root(text).all() if one.attrs.get("id") == "main")
