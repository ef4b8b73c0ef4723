"""`clothcast staff`: who is needed on a day, in the terminal and as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from rich.console import Console
from rich.table import Table

from app import terminal, working
from app.arguments import changes_of
from app.catalogue import _
from app.services import planning
from app.services.staff import answer_staff
from app.services.switching import switch_question
from app.services.workspace import open_site
from app.serving import Refused
from app.settings import Settings
from app.web.staff_words import answer, effects_table, how_sure, people_table, wiping_words
from app.web.why_words import Lines
from sim.inputs import Scenario

Command = Callable[..., argparse.ArgumentParser]


def add_staff(command: Command, day_of_site: Callable[[argparse.ArgumentParser], None]) -> None:
    """The command, by the maker of commands of `app.cli` and its options of a day."""
    made = command(
        "staff",
        run_staff,
        "Say who is needed on a day, by half-hour and role.",
        "staff demo_site --date 2026-07-18",
        "staff 'Harbor Road' --date 2026-07-18 --rule 'clock 12:00-15:30' --json staff.json",
    )
    day_of_site(made)
    made.add_argument("--rule", default="full", metavar="R", help="wiping rule (default full)")
    made.add_argument("--cloth", default="", metavar="C", help="dry sets put on, as 13:00")
    made.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")


def run_staff(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Print the answer; raises InputError or Refused with the reason where there is none."""
    if parsed.json == "-":
        console = Console(stderr=True, highlight=False)
    now = (Scenario(parsed.rule, parsed.rule, parsed.cloth, changes_of(parsed.set)),)
    with open_site(settings, parsed.site) as opened:
        belief = working.belief_of(console, opened)
        question, expected = planning.make_question(
            opened.data, parsed.date, parsed.expect, now, seed=parsed.seed, belief=belief
        )
        if expected.closed:
            raise Refused(expected.origin)
        asked = replace(switch_question(question), known=None)
        with terminal.progress(console, _("Simulating days"), 1) as told:
            found = answer_staff(asked, parsed.date, expected.origin, None, told)
    text = json.dumps(found, indent=1, ensure_ascii=False) + "\n"
    if parsed.json == "-":
        sys.stdout.write(text)
        return
    for words in (str(answer(found)), how_sure(found), wiping_words(found)):
        console.print(words)
    console.print(_table(people_table(found)))
    console.print(_("One person more or fewer in an hour; differences of the day:"))
    console.print(_table(effects_table(found)))
    if parsed.json:
        Path(parsed.json).write_text(text, encoding="utf-8")


def _table(lines: Lines) -> Table:
    made = Table(*lines.heads)
    for row in lines.rows:
        made.add_row(*row)
    return made
