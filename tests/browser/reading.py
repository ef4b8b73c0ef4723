"""How much a page says at once: what is counted in it before anything is unfolded."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields

from playwright.sync_api import Page

PHONE = {"width": 390, "height": 844}
_SEEN = """() => {
  const main = document.querySelector('main');
  const seen = e => e && e.checkVisibility({visibilityProperty: true}) && !e.closest('.unseen');
  const fold = [...main.querySelectorAll('details')].find(d => !d.open && seen(d));
  const within = e => !fold || e.compareDocumentPosition(fold) & Node.DOCUMENT_POSITION_FOLLOWING;
  const own = 'p, li, h1, h2, h3, dt, dd, th, td, caption, figcaption, label, legend, summary, pre';
  const blocks = new Map(), rows = new Set();
  const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode, on = text.parentElement;
    if (!text.data.trim() || on.closest('svg, script, noscript, option') || !seen(on)) continue;
    const block = on.closest(own) || on, at = blocks.get(block) || ['', within(on), false];
    const row = block.closest('tr, dl > div');
    if (row && within(row)) rows.add(row);
    blocks.set(block, [at[0] + ' ' + text.data, at[1], Boolean(row)]);
  }
  const pictures = [...main.querySelectorAll('figure')].filter(seen).length;
  return {blocks: [...blocks.values()], rows: [...rows].map(r => r.innerText), pictures,
          high: document.documentElement.scrollHeight};
}"""
_WORD = re.compile(r"[^\W_]+(?:[’'.,:–-][^\W_]+)*")
_MONTH = (
    r"(?:January|February|March|April|May|June|July|August|September|October|November|December)"
)
_DATE = re.compile(rf"\b\d{{1,2}} {_MONTH}(?: \d{{4}})?\b|\b{_MONTH} \d{{1,2}}\b(?:, \d{{4}})?")
_NAME = re.compile(r"\bSet \d+\b")
_SHARE = re.compile(r"\b(\d+) (?:cars? )?(?:of|in) \d+\b")
_NUMBER = re.compile(r"\d[\d.,:]*(?:(?:\s?[–-]\s?| to )\d[\d.,:]*)?")
_SENTENCE = re.compile(r"(?<=[.?!])[”)]?\s+")
_QUIET_END = re.compile(r"(?:[^laeiouy]es|ed|[^laeiouy]e)$")
_VOWELS = re.compile(r"[aeiouy]+")


def words_of(text: str) -> list[str]:
    """The words of a text; a number is one, and so is a range."""
    return _WORD.findall(text.replace("\xa0", " "))


def numbers_of(text: str) -> list[str]:
    """The numbers of a text: a range is one, "9 of 10" is one, a date is none, nor is the name of a
    set of the demo."""
    plain = _NAME.sub("", _DATE.sub("", text.replace("\xa0", " ")))
    return _NUMBER.findall(_SHARE.sub(r"\1", plain))


def syllables(word: str) -> int:
    """About how many syllables an English word has: its groups of vowels without a quiet end."""
    plain = word.lower()
    if not plain.isalpha():
        return 1
    return max(1, len(_VOWELS.findall(_QUIET_END.sub("", plain))))


def grade_of(blocks: list[str]) -> float:
    """The reading grade of the sentences among some blocks of text; labels are no sentences.

    0.39 words a sentence + 11.8 syllables a word - 15.59: Kincaid, Fishburne, Rogers and Chissom
    1975, Derivation of new readability formulas for Navy enlisted personnel (numbers from memory).
    """
    told = [text.strip() for text in blocks if text.strip()[-1:] in ".?!"]
    sentences = [one for text in told for one in _SENTENCE.split(text) if words_of(one)]
    words = [word for one in sentences for word in words_of(one)]
    if not words:
        return 0.0
    beats = sum(map(syllables, words))
    return 0.39 * len(words) / len(sentences) + 11.8 * beats / len(words) - 15.59


@dataclass(frozen=True, slots=True)
class Said:
    """What a page says before anything is unfolded.

    Attributes:
        words, figures, grade: up to the first fold. A row of a table or of a list of facts is one
            figure.
        screens: of a phone, the page whole. pictures: on all of it. words_in_view: likewise.
    """

    words: int
    figures: int
    grade: float
    screens: float
    pictures: int
    words_in_view: int


def said_on(page: Page) -> Said:
    """Counts what the page that is open says, on a phone."""
    page.set_viewport_size({"width": PHONE["width"], "height": PHONE["height"]})
    page.wait_for_load_state()
    found = page.evaluate(_SEEN)
    blocks = [(text, first, in_row) for text, first, in_row in found["blocks"]]
    above = [text for text, first, _in_row in blocks if first]
    loose = [
        number for text, first, row in blocks if first and not row for number in numbers_of(text)
    ]
    rows = [row for row in found["rows"] if numbers_of(row)]
    return Said(
        words=sum(len(words_of(text)) for text in above),
        figures=len(loose) + len(rows),
        grade=round(grade_of(above), 1),
        screens=round(found["high"] / PHONE["height"], 1),
        pictures=found["pictures"],
        words_in_view=sum(len(words_of(text)) for text, _first, _row in blocks),
    )


def table_of(said: Mapping[str, Said]) -> str:
    """Pages and what they say, a line a page."""
    heads = [one.name for one in fields(Said)]
    lines = [f"{'':28}" + "".join(f"{head:>15}" for head in heads)]
    lines += [
        f"{name:28}" + "".join(f"{getattr(one, head):>15}" for head in heads)
        for name, one in said.items()
    ]
    return "\n".join(lines)
