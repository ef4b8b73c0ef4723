"""Every main page says one thing at a time: little is read before something is unfolded."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page

from app.pages.menu import OF_A_SITE
from tests.browser.reading import Said, grade_of, numbers_of, said_on, syllables, words_of
from tests.browser.served import DEMO, PEAK, REDUCE

MAIN = {
    "today": f"{DEMO}/today?at=12:30",
    "logbook": f"{DEMO}/logbook",
    "days to plan": f"{DEMO}/plan",
    "plan": PEAK,
    "when to reduce": REDUCE,
    "speed and spacing": f"{DEMO}/settings/2026-07-18",
    "watch the day": f"{DEMO}/watch/2026-07-18",
    "the coming days": f"{DEMO}/coming",
    "cloth": f"{DEMO}/cloth",
    "season": f"{DEMO}/cloth/season",
    "staff": f"{DEMO}/staff/2026-07-18",
    "roster": f"{DEMO}/roster/2026-07-13",
    "measurements": f"{DEMO}/weighings",
    "counts": f"{DEMO}/counts",
    "site": f"{DEMO}/site",
    "sites": "/sites",
    "studies": f"{DEMO}/studies",
}
NOBODY_SAYS = re.compile(
    r"in expectation|\bbinds\b|widens the range|\bkeeps? to\b|can’t be expected|\bstudy\b", re.I
)
MOST = {"words": 120, "figures": 7, "grade": 8, "screens": 4, "pictures": 2}


def over(said: Said) -> set[str]:
    """The measures of which a page has more than it may."""
    return {name for name, most in MOST.items() if getattr(said, name) > most}


@pytest.mark.parametrize("name", MAIN)
def test_page_says_one_thing_at_a_time(tab: Page, name: str) -> None:
    """Up to its first fold a main page has at most 120 words at a reading grade of at most 8, and
    at most seven figures; unopened it is at most four screens of a phone long, with at most two
    pictures. Nowhere on it, folded or not, is a word that no manager would say."""
    tab.goto(MAIN[name])
    said = said_on(tab)
    assert over(said) == set(), said
    everything = tab.locator("main").text_content() or ""
    assert NOBODY_SAYS.findall(everything) == []


def test_every_page_of_a_site_is_measured() -> None:
    """No page of the pages line is left out."""
    measured = {
        address.removeprefix(DEMO).partition("?")[0].split("/")[1] for address in MAIN.values()
    }
    assert set(OF_A_SITE) - measured == set()


def test_a_page_that_says_too_much_is_found(tab: Page) -> None:
    """Words, long sentences, figures and pictures that are put before the first fold count; what is
    folded, and what only a screen reader says, does not."""
    tab.goto(MAIN["sites"])
    before = said_on(tab)
    folded = tab.evaluate(
        """() => {
          const add = html => document.querySelector('main').insertAdjacentHTML('beforeend', html);
          add('<details><summary>More</summary><p>Ten more words and 7 numbers stand here.</p>'
            + '<figure></figure></details><p class="unseen">Nobody sees this.</p>');
        }"""
    )
    assert folded is None
    assert said_on(tab).words == before.words
    tab.evaluate(
        """() => document.querySelector('main').insertAdjacentHTML('afterbegin',
          '<p>Considerable meteorological uncertainties notwithstanding, 12 automobiles of 30–40 '
          + 'necessitate exceptionally conscientious remanufacturing, preferably immediately.</p>'
          + '<table><tr><th>One row</th><td>3</td><td>4</td></tr></table>'
          + '<figure><svg width="9" height="4000"></svg></figure>')"""
    )
    after = said_on(tab)
    assert after.words == before.words + 18
    assert after.figures == before.figures + 3  # 12, 30–40 and the row
    assert after.pictures == before.pictures + 1
    assert {"grade", "screens"} <= over(after)


def test_syllables_and_grade() -> None:
    """Syllables of common words as a dictionary divides them, and the grade of a sentence by the
    formula, worked out by hand."""
    divided = {"the": 1, "cars": 1, "wiping": 2, "humidity": 4, "reduced": 2, "table": 2, "more": 1}
    assert {word: syllables(word) for word in divided} == divided
    # 10 words in 2 sentences, 11 syllables.
    assert grade_of(["The cars are wet. The cloth is dry by then, table."]) == pytest.approx(
        0.39 * 5.5 + 11.8 * 12 / 11 - 15.59
    )
    assert grade_of(["A head without a sentence"]) == 0.0


def test_what_counts_as_a_number() -> None:
    """A range, a sum of money and a clock time are one number each, a date is none."""
    text = "On Saturday 18 July 2026, 10:00–17:00, $11,400 at 9 of 10 sites, 1 car in 50, or 1.5 %."
    assert numbers_of(text) == ["10:00–17:00,", "11,400", "9", "1,", "1.5"]
    assert len(words_of("Don’t reduce 10:00–17:00, as-is.")) == 4
