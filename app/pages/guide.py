"""The guides: Markdown files of `app/guide`, turned into pages; About the model is one of them.

The guide to every input is written from the table of inputs: ``make guide`` makes it anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline
from markdown_it.token import Token
from markupsafe import Markup

from app.catalogue import _
from app.pages.cautions import DEFERENCE, Notice
from app.pages.deps import render
from app.pages.tour import TITLE as TOUR_TITLE
from app.words.terms import OWN, meaning
from sim.day.figures import FIGURES
from sim.inputs import CLASS_INPUTS, GROUP_INPUTS, GROUPS, INPUTS, LONGEST_WORDS, Entry, Value
from sim.units import NBSP

FOLDER = Path(__file__).resolve().parents[1] / "guide"
INPUTS_GUIDE = FOLDER / "inputs.md"
ORDER = (
    "start", "counts", "logbook", "checks", "stops", "happened", "when-to-reduce", "cloth",
    "season", "staff", "roster", "costs", "site", "weighings", "people", "phones", "api",
    "nothing-lost", "operating", "sensitivity", "studies", "site-folder", "inputs",
)  # fmt: skip
TOUR = "tour"
"""The guide that leads through the demo's pages, and has no file."""
ABOUT = "about"
"""The guide that is the page About the model, and in no list of guides."""
TERMS = "terms"
"""The guide to every term, which is written from the catalogue of terms."""
TERMS_TITLE = "What the words mean"
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,60}")
_ANCHOR = re.compile(r"\{#([a-z-]+)\}$")
WIDE_COLUMNS = 4
"""Columns from which on a table does not fit a phone."""
_ROLES = {
    "table_open": "table",
    "thead_open": "rowgroup",
    "tbody_open": "rowgroup",
    "tr_open": "row",
    "th_open": "columnheader",
    "td_open": "cell",
}
_LOWER_OR_HIGHER = re.compile(r"</?su[bp]>")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a guide: what stands from a second head to the next.

    Attributes:
        anchor: of the part's address; the head ends with it (``## A head {#anchor}``), or it
            follows from the head's words.
        head: the words of the head.
        note: what stands beside the head; a first paragraph that is all in emphasis, else nothing.
        body: everything else.
    """

    anchor: str
    head: Markup
    note: Markup
    body: Markup


@dataclass(frozen=True, slots=True)
class Guide:
    """A guide as a page: its title, what stands before the first part, and its parts."""

    name: str
    title: str
    lead: Markup
    parts: tuple[Part, ...]


def guide_address(name: str) -> str:
    """The page of a guide."""
    return "/about" if name == ABOUT else f"/guide/{name}"


def list_guides(folder: Path = FOLDER) -> tuple[tuple[str, str], ...]:
    """Name and title of every guide but `ABOUT`, those of `ORDER` first, the others by name."""
    names = [path.stem for path in folder.glob("*.md") if _NAME.fullmatch(path.stem)]
    names = [name for name in names if name != ABOUT]
    names.sort(key=lambda name: (ORDER.index(name) if name in ORDER else len(ORDER), name))
    return tuple((name, _title(_text(folder, name), name)) for name in names)


def read_guide(name: str, folder: Path = FOLDER) -> Guide:
    """A guide by its name. HTML in it is shown, never obeyed, but for letters lower or higher.

    Raises:
        LookupError: if there is none.
    """
    if not _NAME.fullmatch(name) or not (folder / f"{name}.md").is_file():
        raise LookupError(name)
    text = _text(folder, name)
    tokens = _MARKDOWN.parse(text)
    if tokens and tokens[0].type == "heading_open" and tokens[0].tag == "h1":
        tokens = tokens[3:]
    _point_links(tokens)
    _head_cells(tokens)
    second = ("heading_open", "h2", 0)
    heads = [at for at, it in enumerate(tokens) if (it.type, it.tag, it.level) == second]
    lead, *parts = (tokens[start:end] for start, end in pairwise([0, *heads, len(tokens)]))
    return Guide(name, _title(text, name), _html(lead), tuple(map(_part, parts)))


def _text(folder: Path, name: str) -> str:
    return (folder / f"{name}.md").read_text(encoding="utf-8")


def _title(text: str, name: str) -> str:
    first = text.lstrip().partition("\n")[0]
    return first.removeprefix("# ").strip() if first.startswith("# ") else name


def _html(tokens: Sequence[Token]) -> Markup:
    html: str = _MARKDOWN.renderer.render(tokens, _MARKDOWN.options, {})
    html = html.replace("<table", '<div class="wide" tabindex="0"><table')
    html = html.replace("</table>", "</table></div>")
    return Markup(html)  # noqa: S704 - from our own file, HTML in it escaped


def _part(tokens: Sequence[Token]) -> Part:
    """A part from its tokens, of which the first three are its head."""
    head, at = tokens[1], 3
    words = str(_html([head]))
    named = _ANCHOR.search(words)
    anchor = (
        named.group(1) if named else re.sub(r"[^a-z0-9]+", "-", head.content.lower()).strip("-")
    )
    note = Markup("")
    if tokens[3:] and tokens[3].type == "paragraph_open" and _is_emphasis(tokens[4]):
        inside = tokens[4].children or []
        inside[:] = inside[1:-1]
        note, at = _html([tokens[4]]), 6
    return Part(anchor, Markup(_ANCHOR.sub("", words).rstrip()), note, _html(tokens[at:]))  # noqa: S704 - of `_html`


def _is_emphasis(paragraph: Token) -> bool:
    """Whether a paragraph is one emphasis from end to end."""
    kinds = [child.type for child in paragraph.children or ()]
    ends = kinds[:1] == ["em_open"] and kinds[-1:] == ["em_close"]
    return ends and kinds.count("em_open") == 1


def _point_links(tokens: Sequence[Token]) -> None:
    """A link to another guide's file leads to its page."""
    for token in tokens:
        for child in token.children or ():
            href = child.attrGet("href")
            match = re.fullmatch(r"([a-z0-9-]+)\.md(#.*)?", str(href or ""))
            if child.type == "link_open" and match:
                child.attrSet("href", guide_address(match.group(1)) + (match.group(2) or ""))


def _head_cells(tokens: Sequence[Token]) -> None:
    """Cells of a table that is too wide for a phone carry their head, which then stands over each.

    A table whose rows become blocks keeps its roles only where they are written out.
    """
    table: list[Token] = []
    for token in tokens:
        if token.type == "table_open":
            table = []
        table.append(token)
        if token.type != "table_close":
            continue
        heads = [
            inline.content
            for opened, inline in pairwise(table)
            if opened.type == "th_open" and inline.type == "inline"
        ]
        if len(heads) < WIDE_COLUMNS:
            continue
        at = 0
        for part in table:
            if part.type == "tr_open":
                at = 0
            elif part.type == "td_open":
                part.attrSet("data-head", heads[at])
                at += 1
            if part.type in _ROLES:
                part.attrSet("role", _ROLES[part.type])
        table[0].attrSet("class", "cells")


def _set_lower_or_higher(state: StateInline, silent: bool) -> bool:
    """Reads the tags of letters set lower or higher, which equations need."""
    found = _LOWER_OR_HIGHER.match(state.src, state.pos)
    if found is None:
        return False
    if not silent:
        state.push("html_inline", "", 0).content = found.group()
    state.pos = found.end()
    return True


_MARKDOWN = MarkdownIt("commonmark", {"html": False, "typographer": True}).enable(
    ["table", "smartquotes"]
)
_MARKDOWN.inline.ruler.before("html_inline", "lower_or_higher", _set_lower_or_higher)


# ---- the guide to every input --------------------------------------------------------------------


def input_guide() -> str:
    """The guide as Markdown: a table a group of inputs, a row an input, in the table's order."""
    parts = [
        "# " + _("Every input"),
        _(
            "Each input of the Site page, as `site.toml`, `--set NAME=VALUE` and the form take it. "
            "Values are in SI with US units in brackets. A bare number has the unit that the name "
            "ends with, so `patience_median_s` is in seconds, and a share without one goes from 0 "
            "to 1; on a form, the unit beside the field counts. With its unit it may be typed "
            "anywhere, as in `95 ft/min`, `2 min` or `30 %`. A guess comes with the range that "
            "holds it with 95 % probability before the site has measured anything; plans draw it "
            "from there until the site enters its own."
        ),
        _(
            "A timetable reads `2; 11:00 3; 18:00 2`: from opening 2, from 11:00 3, from 18:00 2. "
            "A list of measured times reads `41 38.5 52`, and so do twelve months, January first."
        ),
    ]
    for group in GROUPS:
        parts += ["## " + _(group.heading), _table(GROUP_INPUTS[group.key].values())]
    parts += [
        "## " + _("Vehicle classes"),
        _("Each class has a row of its own; the shares of all classes sum to 1."),
        _table(CLASS_INPUTS.values()),
    ]
    return "\n\n".join(parts) + "\n"


def _table(entries: Iterable[Entry]) -> str:
    head = [_("Name"), _("What it is"), _("Range"), _("Default"), _("95 % range"), _("Source")]
    lines = [_row(head), _row(["---"] * len(head))]
    lines += [_row(_cells(entry)) for entry in entries]
    return "\n".join(lines)


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _cells(entry: Entry) -> list[str]:
    what = _(entry.label) + (f". {_(entry.help)}" if entry.help else "")
    prior = ""
    if entry.prior is not None:
        prior = _both(entry, entry.prior.low, entry.prior.high)
    return [f"`{entry.name}`", what, _allowed(entry), _default(entry), prior, _(entry.source)]


def _allowed(entry: Entry) -> str:
    if entry.kind == "flag":
        return _("yes or no")
    if entry.kind == "choice":
        return ", ".join(f"`{key}` ({_(words)})" for key, words in entry.choices)
    if entry.kind == "words":
        return _("1 to {most} letters", most=LONGEST_WORDS)
    if entry.kind == "address":
        return _("an address of the web, or none")
    return _both(entry, entry.low, entry.high)


def _default(entry: Entry) -> str:
    if entry.is_open(entry.default):
        return _(entry.follows)
    if entry.default == () or entry.default == "":
        return _("none")
    return _both(entry, entry.default)


def _both(entry: Entry, *values: Value) -> str:
    """A value or a range in SI, and in US units where those read differently."""
    si, us = (_shown(entry, values, system) for system in ("si", "us"))
    return si if si == us else f"{si} ({us})"


def _shown(entry: Entry, values: tuple[Value, ...], system: str) -> str:
    text = _(" to ").join(entry.text(value, system) for value in values)
    symbol = entry.unit.symbol(system) if entry.is_number else ""
    return f"{text}{NBSP}{symbol}" if symbol else text


def terms_guide() -> Guide:
    """Every term but inputs, by its name: what it is, where it comes from, what moves it."""
    known = sorted(map(meaning, (*FIGURES, *OWN)), key=lambda one: one.name)
    told = Markup("<p>{}</p>")
    lead = _(
        "Each in three sentences: what it is, where it comes from and how sure it is, and what "
        "moves it. On a page a word with dots below it opens its own."
    )
    parts = tuple(
        Part(
            one.key,
            Markup("{}").format(one.name),
            Markup(""),
            told.format(f"{one.what} {one.sure} {one.moves}"),
        )
        for one in known
        if one.name != _("What this says")
    )
    return Guide(TERMS, _(TERMS_TITLE), told.format(lead), parts)


# ---- the pages -----------------------------------------------------------------------------------

router = APIRouter()


@dataclass(frozen=True, slots=True)
class GuidePage:
    """One guide, or none, beside name and title of every one."""

    guide: Guide | None
    guides: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AboutPage:
    """About the model: the guide that is its text, and what of it is counted."""

    guide: Guide
    sure: str
    notices: tuple[Notice, ...]


@router.get("/about")
def show_about(request: Request) -> Response:
    """What the model computes, with which equations, and how far it may be believed."""
    sure = _(
        "Of {count} inputs, {guesses} are guesses until a site enters its own. Nothing here "
        "was measured at a car wash.",
        count=len(INPUTS),
        guesses=sum(row.is_guess for row in INPUTS.values()),
    )
    page = AboutPage(read_guide(ABOUT), sure, (DEFERENCE,))
    return render(request, "about/about.html", page, title=page.guide.title, current="guide")


def all_guides() -> tuple[tuple[str, str], ...]:
    """Name and title of every guide in a list, the tour first, the words last."""
    return ((TOUR, _(TOUR_TITLE)), *list_guides(), (TERMS, _(TERMS_TITLE)))


@router.get("/guide")
def show_guides(request: Request) -> Response:
    """The list of guides."""
    return render(request, "guide/guides.html", GuidePage(None, all_guides()), current="guide")


@router.get("/guide/{name}")
def show_guide(request: Request, name: str) -> Response:
    """One guide."""
    if name == ABOUT:
        return RedirectResponse(guide_address(name), 308)
    try:
        guide = terms_guide() if name == TERMS else read_guide(name)
    except LookupError as fault:
        raise HTTPException(404, _("There is no guide at this address.")) from fault
    page = GuidePage(guide, all_guides())
    return render(request, "guide/guide.html", page, title=guide.title, current="guide")


if __name__ == "__main__":
    INPUTS_GUIDE.write_text(input_guide(), encoding="utf-8")
