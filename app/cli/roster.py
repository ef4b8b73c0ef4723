"""A week's roster in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from rich.console import Console
from rich.table import Table

from app.answers.roster import Week
from app.catalogue import _
from app.words.roster import (
    LAW,
    anybody_words,
    cost_words,
    kept_words,
    not_found,
    shift_cells,
    ways_out,
    weekday,
    why_none,
)


def print_roster(
    console: Console, week: Week, content: dict[str, Any], unheld: Sequence[str]
) -> None:
    """The grid with its cost, or why there is none; `unheld` roles are nobody's skill."""
    if "conflict" in content:
        console.print(why_none(content["conflict"]))
        for way in ways_out(content["conflict"]):
            console.print(_("A way out: {way}", way=way))
    elif "shifts" in content:
        dates = [week.monday + timedelta(days=day) for day in range(7)]
        heads = [f"{weekday(day)[:3]} {one.day}" for day, one in enumerate(dates)]
        grid = Table(_("Who"), *heads)
        for person in week.people:
            cells = [shift_cells(content["shifts"], person.name, str(one)) for one in dates]
            grid.add_row(person.name, *cells)
        console.print(grid)
        console.print(cost_words(content), kept_words(content))
    else:
        console.print(not_found())
    if unheld:
        console.print(anybody_words(unheld))
    console.print(_(LAW), style="dim")
