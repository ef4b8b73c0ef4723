"""Guides as pages: wide tables carry their heads, and quotation marks are those of print."""

from __future__ import annotations

import re

import pytest

from app.pages.guide import WIDE_COLUMNS, list_guides, read_guide

NAMES = [name for name, _title in list_guides()]


def _tables(name: str) -> list[str]:
    guide = read_guide(name)
    html = "".join([str(guide.lead), *(str(part.body) for part in guide.parts)])
    return re.findall(r"<table.*?</table>", html, re.DOTALL)


def test_each_cell_of_a_wide_table_says_its_head() -> None:
    """Every cell of the tables of inputs names the column that it stands in, in their order, and
    the roles of a table, its rows and cells are written out."""
    tables = _tables("inputs")
    assert tables
    for table in tables:
        heads = re.findall(r"<th [^>]*>(.*?)</th>", table)
        assert len(heads) >= WIDE_COLUMNS
        rows = re.findall(r'<tr role="row">(.*?)</tr>', table, re.DOTALL)[1:]
        assert rows
        for row in rows:
            named = re.findall(r'<td [^>]*data-head="([^"]*)"[^>]*role="cell"', row)
            assert [head.replace("&amp;", "&") for head in named] == heads
        assert table.startswith('<table role="table" class="cells">')


def test_narrow_table_stays_a_table() -> None:
    """A table of three columns fits a phone and is left as it is."""
    tables = _tables("cloth")
    assert tables
    assert all("data-head" not in table and "cells" not in table for table in tables)


@pytest.mark.parametrize("name", [*NAMES, "about"])
def test_quotation_marks_are_those_of_print(name: str) -> None:
    """No text of a guide has a typewriter's apostrophe or quotation mark but in what is typed."""
    guide = read_guide(name)
    html = "".join(
        [str(guide.lead), *(f"{part.head}{part.note}{part.body}" for part in guide.parts)]
    )
    told = re.sub(r"<(code|pre).*?</\1>", "", html, flags=re.DOTALL)
    text = re.sub(r"<[^>]*>", "", told)
    assert not re.findall(r".{0,20}(?:['\"]|&quot;).{0,20}", text)
