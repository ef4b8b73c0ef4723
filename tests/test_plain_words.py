"""Words that no manager would say stand in no text: neither on pages, sheets and charts nor in
files that are given out, the terminal and the guides."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
NOBODY_SAYS = re.compile(
    r"in expectation|\bbinds\b|widens the range|\bkeeps? to\b|can[’']t be expected"
    r"|\bstud(?:y|ies)\b",
    re.IGNORECASE,
)
OTHER_WAIT = re.compile(
    r"\b90 (?:cars )?of 100|\b9 of 10 cars|cars? waits? up to|minutes for most|most would wait"
    r"|wait of 9 cars|90 cars in 100|wait of 90",
    re.IGNORECASE,
)
"""What is worded otherwise than “9 cars in 10 wait at most”."""
TO_PROGRAMMERS = ("app/db/",)
"""What says nothing to anybody but whoever reads a fault's trace."""
BODIES = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
_AROUND = re.compile(r"\{#.*?#\}|<[^>]*>", re.DOTALL)
_SAID = re.compile(r"(?P<mark>[\"'])(?P<text>(?:\\.|(?!(?P=mark)).)*)(?P=mark)")
_ATTRIBUTE = re.compile(r"(?:aria-label|title|alt|placeholder|content)=\"([^\"]*)\"")


def texts_of_python(source: str) -> Iterator[str]:
    """The texts of a module that may be read by somebody: those of two words and more, but what
    documents it."""
    tree = ast.parse(source)
    bodies = [node.body for node in ast.walk(tree) if isinstance(node, BODIES)]
    documents = {id(line.value) for body in bodies for line in body if isinstance(line, ast.Expr)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or id(node) in documents:
            continue
        if isinstance(node.value, str) and " " in node.value.strip():
            yield node.value


def texts_of_template(source: str) -> Iterator[str]:
    """The words of a template between its tags, in its expressions and in what is read aloud."""
    yield from _ATTRIBUTE.findall(source)
    bare = _AROUND.sub(" ", source)
    yield re.sub(r"\{\{.*?\}\}|\{%.*?%\}", " ", bare, flags=re.DOTALL)
    for inside in re.findall(r"\{[{%](.*?)[%}]\}", bare, flags=re.DOTALL):
        yield from (said["text"] for said in _SAID.finditer(inside) if " " in said["text"].strip())


def texts_of_guide(source: str) -> Iterator[str]:
    """A guide without addresses and names in code."""
    yield re.sub(r"\]\([^)]*\)|`[^`]*`", " ", source)


def texts() -> Iterator[tuple[str, str]]:
    """Every text there is, after its file."""
    kinds = (
        ("app", "*.py", texts_of_python), ("sim", "*.py", texts_of_python),
        ("templates", "*.html", texts_of_template), ("app/guide", "*.md", texts_of_guide),
    )  # fmt: skip
    for folder, pattern, read in kinds:
        for file in sorted((ROOT / folder).rglob(pattern)):
            name = file.relative_to(ROOT).as_posix()
            if not name.startswith(TO_PROGRAMMERS):
                yield from ((name, text) for text in read(file.read_text(encoding="utf-8")))


def test_no_text_has_a_word_that_nobody_says() -> None:
    """Of all texts of code, templates and guides none has one; it read thousands of them."""
    every = list(texts())
    assert len(every) > 4_000
    seen = {"app/charts/maps.py", "app/answers/staff.py", "app/cli/main.py", "app/guide/about.md",
            "templates/sheet/sheet.html"}  # fmt: skip
    assert seen <= {name for name, _text in every}
    found = [(name, NOBODY_SAYS.findall(text), text[:90]) for name, text in every
             if NOBODY_SAYS.search(text)]  # fmt: skip
    assert found == []


def test_the_wait_is_worded_in_one_way() -> None:
    """What 9 cars in 10 wait at most has no other words, and these stand in labels, Today, maps,
    the season, files and what describes them."""
    every = list(texts())
    assert [(name, text[:90]) for name, text in every if OTHER_WAIT.search(text)] == []
    told = {name for name, text in every if re.search("9 cars in 10 (?:would |may )?wait", text)}
    wanted = (
        "sim/day/figures.py", "sim/inputs/people.py", "app/words/today.py", "app/words/maps.py",
        "app/words/moved.py", "app/words/season.py", "app/answers/staff.py",
        "app/guide/plan-json.md", "templates/staff/staff.html", "templates/stops/day.html",
    )  # fmt: skip
    assert set(wanted) <= told
    for before in ("Wait, 90 cars of 100 wait less", "9 of 10 cars wait up to 3 minutes longer",
                   "Up to 8 minutes for most", "Wait of 9 cars in 10, s"):  # fmt: skip
        assert OTHER_WAIT.search(before)


@pytest.mark.parametrize(
    ("read", "source"),
    [
        (texts_of_python, 'def f():\n    """A study."""\n    return _("Which limit binds first")'),
        (texts_of_template, '<p class="study">{{ _("It keeps to the limit.") }}</p>'),
        (texts_of_template, "<p>What widens the range</p>{# a study #}"),
        (texts_of_template, '<svg aria-label="Damp in expectation"></svg>'),
        (texts_of_guide, "See [work](/guide/studies#a), a study of `keeps to`."),
    ],
)
def test_a_word_that_nobody_says_is_found(
    read: Callable[[str], Iterator[str]], source: str
) -> None:
    """Planted in a sentence of code, a template, what is read aloud of a picture or a guide it is
    found once; in what documents the code, in a class, an address or a name it is let be."""
    assert sum(len(NOBODY_SAYS.findall(text)) for text in read(source)) == 1
