"""Reads a page for its figures, and for the terms by which a reader is told what they mean.

A figure is a number outside forms that is neither a date, a time of day, the number of a step, nor
within quotation marks, where names and what somebody typed stand. It is explained where its row
head, column head, label, own sentence or part holds a term: a button that opens what it means.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = frozenset(
    {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track"}
)
UNREAD = frozenset(
    {
        "head", "form", "nav", "footer", "script", "style", "svg", "button", "label", "summary",
        "select", "textarea", "template", "progress", "pre", "code", "th", "dt",
    }
)  # fmt: skip
"""What is no place for a figure: forms, ways to elsewhere, pictures, and the heads themselves."""
GUIDE = "guide"
"""Class of reading matter, which explains itself."""
_MONTHS = (
    "(?:January|February|March|April|May|June|July|August|September|October|November|December)"
)
NO_FIGURE = re.compile(
    rf"“[^”]*”|\d{{4}}-\d{{2}}-\d{{2}}|\b\d{{1,2}}\s{_MONTHS}(?:\s\d{{4}})?|{_MONTHS}\s\d{{4}}"
    r"|\b\d{1,2}:\d{2}\b|^\d+\.\s"
)
"""Names and what somebody typed, dates, times of day, the number of a step."""


@dataclass(eq=False)
class Node:
    """An element of a page: its name, attributes, parent, and what is in it in order."""

    tag: str
    attrs: dict[str, str]
    parent: Node | None = None
    inside: list[Node | str] = field(default_factory=list)

    @property
    def kinds(self) -> frozenset[str]:
        """Its classes."""
        return frozenset(self.attrs.get("class", "").split())

    @property
    def nodes(self) -> list[Node]:
        """The elements directly in it."""
        return [one for one in self.inside if isinstance(one, Node)]

    def text(self) -> str:
        """All text in it."""
        return "".join(one if isinstance(one, str) else one.text() for one in self.inside)

    def all(self) -> Iterator[Node]:
        """It and every element in it."""
        yield self
        for one in self.nodes:
            yield from one.all()

    def above(self) -> Iterator[Node]:
        """It and every element that holds it, the innermost first."""
        at: Node | None = self
        while at is not None:
            yield at
            at = at.parent


class Tree(HTMLParser):
    """A page as a tree."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.root = self._at = Node("", {})
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Opens an element."""
        made = Node(tag, {name: value or "" for name, value in attrs}, self._at)
        self._at.inside.append(made)
        if tag not in VOID:
            self._at = made

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that holds nothing."""
        self._at.inside.append(Node(tag, {name: value or "" for name, value in attrs}, self._at))

    def handle_endtag(self, tag: str) -> None:
        """Closes the innermost element of that name."""
        for one in self._at.above():
            if one.tag == tag and one.parent is not None:
                self._at = one.parent
                return

    def handle_data(self, data: str) -> None:
        """Takes text."""
        self._at.inside.append(data)


def terms_in(node: Node) -> list[str]:
    """What the terms in an element open, by the ids of their texts."""
    return [
        one.attrs["popovertarget"]
        for one in node.all()
        if one.tag == "button" and "term" in one.kinds
    ]


def texts_of(tree: Node) -> dict[str, str]:
    """The texts that terms open, by id."""
    return {one.attrs["id"]: one.text() for one in tree.all() if "popover" in one.attrs}


def unexplained(tree: Node, said: Iterable[str] = ()) -> list[str]:
    """Every text with a figure that no term explains.

    Args:
        said: sentences that stand in the program as they are; their numbers are no site's figures.
    """
    return [text for block, text in figures(tree, said) if not is_explained(block)]


def figures(tree: Node, said: Iterable[str] = ()) -> Iterator[tuple[Node, str]]:
    """Every block of a page with a figure in its own text, and that text."""
    fixed = sorted(said, key=len, reverse=True)
    for block in _blocks(tree):
        text = " ".join(_own_text(block).split())
        left = NO_FIGURE.sub("", text)
        if not re.search(r"\d", left):
            continue
        for one in fixed:
            if len(one) <= len(left):
                left = left.replace(one, "")
        if re.search(r"\d", left):
            yield block, text


_BLOCKS = frozenset(
    {"p", "li", "td", "dd", "figcaption", "caption", "h1", "h2", "h3", "div", "section", "header"}
)


def _blocks(node: Node) -> Iterator[Node]:
    """Elements whose own text is read as one: paragraphs, cells, facts, headings."""
    if node.tag in UNREAD or "popover" in node.attrs or GUIDE in node.kinds:
        return
    if node.tag in _BLOCKS:
        yield node
    for one in node.nodes:
        yield from _blocks(one)


def _own_text(block: Node) -> str:
    """The text of a block without that of blocks in it."""
    said = []
    for one in block.inside:
        if isinstance(one, str):
            said.append(one)
        elif one.tag not in UNREAD and one.tag not in _BLOCKS and "popover" not in one.attrs:
            said.append(_own_text(one))
    return "".join(said)


def is_explained(block: Node) -> bool:
    """Whether a term stands at the head, label, sentence or part of a block with a figure."""
    for one in block.above():
        if one is block or one.tag in ("p", "li", "td", "dd", "figcaption", "figure"):
            heads = [one, *_heads(one)]
        elif one.tag in ("section", "details"):
            heads = [part for part in one.nodes if part.tag in ("header", "h2", "summary")]
            heads += [part for part in one.all() if part.kinds & {"says-what", "how"}]
        elif one.tag == "table":
            heads = [part for part in one.nodes if part.tag == "caption"]
        else:
            continue
        if any(terms_in(head) for head in heads):
            return True
    return False


def _heads(node: Node) -> list[Node]:
    """Row head and column head of a cell, or the label of a fact."""
    row = node.parent
    if row is None:
        return []
    if node.tag == "dd":
        return [one for one in row.nodes if one.tag == "dt"]
    if node.tag != "td":
        return []
    table = next((one for one in node.above() if one.tag == "table"), None)
    found = [one for one in row.nodes if one.tag == "th"]
    if table is not None:
        at = row.nodes.index(node)
        found += [
            one.nodes[at]
            for one in table.all()
            if one.tag == "tr" and _is_head(one) and at < len(one.nodes)
        ]
    return found


def _is_head(row: Node) -> bool:
    return row.parent is not None and row.parent.tag == "thead"
