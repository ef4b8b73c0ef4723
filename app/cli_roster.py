"""`clothcast roster`: a week's roster in the terminal and as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from rich.console import Console
from rich.table import Table

from app.arguments import day_of
from app.catalogue import _
from app.services.roster import answer_apart, monday_of, roster_record, week_of
from app.services.workspace import open_site
from app.settings import Settings
from app.web.roster_words import LAW, cost_words, shift_cells, ways_out, weekday, why_none

Command = Callable[..., argparse.ArgumentParser]


def add_roster(command: Command) -> None:
    """The command, by the maker of commands of `app.cli`."""
    made = command(
        "roster",
        run_roster,
        "Make a week's roster, or say why there is none and the cheapest way out.",
        "roster demo_site --week 2026-07-20",
        "roster 'Harbor Road' --week 2026-07-20 --json roster.json",
    )
    made.add_argument("site", metavar="SITE")
    made.add_argument("--week", type=day_of, required=True, metavar="D", help="a day of the week")
    made.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")


def run_roster(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Print the roster; nothing is stored. Raises InputError if the site has no people."""
    with open_site(settings, parsed.site) as opened:
        week = week_of(opened.data, monday_of(parsed.week))
    content = roster_record(week, answer_apart(week))
    text = json.dumps(content, indent=1, ensure_ascii=False)
    if parsed.json == "-":
        sys.stdout.write(text + "\n")
        return
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
        console.print(cost_words(content))
    else:
        console.print(_("No roster was found in the time allowed, and none was ruled out."))
    console.print(_(LAW), style="dim")
    if parsed.json:
        Path(parsed.json).write_text(text + "\n", encoding="utf-8")
