"""The guides: Markdown files of `app/guide`, turned into pages."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline
from markdown_it.token import Token
from markupsafe import Markup

FOLDER = Path(__file__).resolve().parents[2] / "guide"
ORDER = (
    "start", "counts", "when-to-reduce", "cloth", "season", "staff", "roster", "costs", "site",
    "weighings", "studies", "site-folder", "inputs",
)  # fmt: skip
ABOUT = "about"
"""The guide that is the page About the model, and in no list of guides."""
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,60}")
_ANCHOR = re.compile(r"\{#([a-z-]+)\}$")
_LOWER_OR_HIGHER = re.compile(r"</?su[bp]>")


@dataclass(frozen=True, slots=True)
class GuideLine:
    """A guide in the list of guides."""

    name: str
    title: str


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


def list_guides(folder: Path = FOLDER) -> tuple[GuideLine, ...]:
    """Every guide but `ABOUT`, those of `ORDER` first, the others by name."""
    names = [path.stem for path in folder.glob("*.md") if _NAME.fullmatch(path.stem)]
    names = [name for name in names if name != ABOUT]
    names.sort(key=lambda name: (ORDER.index(name) if name in ORDER else len(ORDER), name))
    return tuple(GuideLine(name, _title(_text(folder, name), name)) for name in names)


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
    html = html.replace("<table>", '<div class="wide" tabindex="0"><table>')
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


def _set_lower_or_higher(state: StateInline, silent: bool) -> bool:
    """Reads the tags of letters set lower or higher, which equations need."""
    found = _LOWER_OR_HIGHER.match(state.src, state.pos)
    if found is None:
        return False
    if not silent:
        state.push("html_inline", "", 0).content = found.group()
    state.pos = found.end()
    return True


_MARKDOWN = MarkdownIt("commonmark", {"html": False}).enable("table")
_MARKDOWN.inline.ruler.before("html_inline", "lower_or_higher", _set_lower_or_higher)
