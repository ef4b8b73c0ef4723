"""The guides: Markdown files of `app/guide`, turned into pages."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token

FOLDER = Path(__file__).resolve().parents[1] / "guide"
ORDER = (
    "start", "counts", "when-to-reduce", "cloth", "season", "staff", "roster", "costs", "site",
    "weighings", "studies", "site-folder", "inputs",
)  # fmt: skip
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,60}")


@dataclass(frozen=True, slots=True)
class GuideLine:
    """A guide in the list of guides."""

    name: str
    title: str


@dataclass(frozen=True, slots=True)
class Guide:
    """A guide as a page: its title and HTML below the title; `parts` are its second heads."""

    name: str
    title: str
    html: str
    parts: tuple[tuple[str, str], ...]


def list_guides(folder: Path = FOLDER) -> tuple[GuideLine, ...]:
    """Every guide, those of `ORDER` first, the others by name."""
    names = [path.stem for path in folder.glob("*.md") if _NAME.fullmatch(path.stem)]
    names.sort(key=lambda name: (ORDER.index(name) if name in ORDER else len(ORDER), name))
    return tuple(GuideLine(name, _title(_text(folder, name), name)) for name in names)


def read_guide(name: str, folder: Path = FOLDER) -> Guide | None:
    """A guide by its name; None if there is none. HTML inside a guide is shown, never obeyed."""
    if not _NAME.fullmatch(name) or not (folder / f"{name}.md").is_file():
        return None
    text = _text(folder, name)
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse(text)
    if tokens and tokens[0].type == "heading_open" and tokens[0].tag == "h1":
        tokens = tokens[3:]
    parts = _mark_parts(tokens)
    _point_links(tokens)
    html: str = markdown.renderer.render(tokens, markdown.options, {})
    html = html.replace("<table>", '<div class="wide" tabindex="0"><table>')
    html = html.replace("</table>", "</table></div>")
    return Guide(name, _title(text, name), html, parts)


def _text(folder: Path, name: str) -> str:
    return (folder / f"{name}.md").read_text(encoding="utf-8")


def _title(text: str, name: str) -> str:
    first = text.lstrip().partition("\n")[0]
    return first.removeprefix("# ").strip() if first.startswith("# ") else name


def _mark_parts(tokens: list[Token]) -> tuple[tuple[str, str], ...]:
    """Gives each second head an anchor."""
    parts = []
    for token, inline in pairwise(tokens):
        if token.type == "heading_open" and token.tag == "h2":
            anchor = re.sub(r"[^a-z0-9]+", "-", inline.content.lower()).strip("-")
            token.attrSet("id", anchor)
            parts.append((anchor, inline.content))
    return tuple(parts)


def _point_links(tokens: list[Token]) -> None:
    """A link to another guide's file leads to its page."""
    for token in tokens:
        for child in token.children or ():
            href = child.attrGet("href")
            match = re.fullmatch(r"([a-z0-9-]+)\.md(#.*)?", str(href or ""))
            if child.type == "link_open" and match:
                child.attrSet("href", f"/guide/{match.group(1)}{match.group(2) or ''}")
