"""`clothcast cloth`: when to change cloth, in the terminal and as JSON."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from rich.console import Console
from rich.table import Table

from app.answers.cloth import answer_of_site
from app.catalogue import _
from app.cli.arguments import write_json
from app.cli.workspace import open_site
from app.settings import Settings
from app.words.cloth import answer, better, full_wipes, how_sure, moving, per_thousand, where

Command = Callable[..., argparse.ArgumentParser]


def add_cloth(command: Command) -> None:
    """The command, by the maker of commands of `app.cli.main`."""
    made = command(
        "cloth",
        run_cloth,
        "Say when to change the set on the wheel, and how long sets last.",
        "cloth demo_site",
        "cloth 'Harbor Road' --json cloth.json",
    )
    made.add_argument("site", metavar="SITE")
    made.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")


def run_cloth(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Print the answer; raises InputError with the reasons where there is none."""
    with open_site(settings, parsed.site) as opened:
        units, today = opened.data.units, settings.today_date(opened.data.site.timezone)
        found, weighed = answer_of_site(opened.session, opened.stored, today)
    write_json(parsed, found)
    if parsed.json == "-":
        return
    for words in (answer(found), how_sure(found, weighed), moving(found)):
        if words:
            console.print(str(words))
    for note in found.notes:
        console.print(f"{_('Note.')} {note.say(units)}", style="dim")
    change = found.change
    ways = Table(_("A set is changed"), _("Per 1,000 full wipes"), _("Beside the best"))
    least = min(change.cost_rate, change.at_failure)
    if not change.waits:
        at = _("on plan, at {age}", age=full_wipes(change.age))
        ways.add_row(at, per_thousand(change.cost_rate), better(change.cost_rate, least))
    fails = change.at_failure
    ways.add_row(_("when it wears out"), per_thousand(fails), better(fails, least))
    console.print(ways)
    if found.sets:
        sets = Table(_("Set"), _("Where"), _("Wear"))
        for one in found.sets:
            sets.add_row(one.name, where(one), full_wipes(one.age_cars))
        console.print(sets)
