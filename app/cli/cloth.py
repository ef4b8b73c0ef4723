"""`clothcast cloth` and `clothcast season`: when to change cloth, the year, and their files."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path

from rich.console import Console
from rich.table import Table

from app.answers import season
from app.answers.answer import Desk
from app.answers.cloth import answer_of_site
from app.answers.season import days_sheet, season_sheets
from app.answers.studies.runner import is_long
from app.catalogue import _, say
from app.cli import terminal, working
from app.cli.arguments import beside_json, write_json
from app.cli.workspace import OpenSite, open_site
from app.files.sheets import sheet_csv, workbook
from app.settings import Settings
from app.words.cloth import (
    age_words,
    answer,
    better,
    full_wipes,
    how_sure,
    moving,
    per_thousand,
    where,
)
from app.words.phrases import TextTable
from app.words.season import (
    change_lines,
    month_lines,
    option_lines,
    owned_lines,
    season_answer,
    season_sure,
    stock_facts,
)
from sim.decide.cloth.answer import SeasonAnswer

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
        console.print(f"{_('Note.')} {say(note, units)}", style="dim")
    change = found.change
    ways = Table(_("A set is changed"), _("Per 1,000 full wipes"), _("Beside the best"))
    rows = [
        (_("on plan, at {age}", age=age_words(change.age)), change.cost_rate),
        (_("when it wears out"), change.at_failure),
    ][change.waits :]
    for way, rate in rows:
        ways.add_row(way, per_thousand(rate), better(rate, change.cost_rate))
    console.print(ways)
    if found.sets:
        sets = Table(_("Set"), _("Where"), _("Wear"))
        for one in found.sets:
            sets.add_row(one.name, where(one), full_wipes(one.age_cars))
        console.print(sets)


def add_season(command: Command, count: Callable[[str], int]) -> None:
    """The command, by the maker of commands of `app.cli.main`.

    Args:
        count: reads a number of simulated days.
    """
    made = command(
        "season",
        run_season,
        "Work out a year: when sets are changed and laundered, what to order, what else helps.",
        "season demo_site",
        "season 'Harbor Road' --ics cloth.ics --xlsx season.xlsx --json season.json",
    )
    made.add_argument("site", metavar="SITE")
    made.add_argument(
        "--replications", type=count, default=season.REPLICATIONS, metavar="N",
        help="simulated days of each day and rule (default %(default)s)",
    )  # fmt: skip
    made.add_argument("--json", metavar="FILE", help="also write the season; - for the output")
    made.add_argument("--csv", metavar="FILE", help="also write the days")
    made.add_argument("--xlsx", metavar="FILE", help="also write every table as a spreadsheet")
    made.add_argument(
        "--ics",
        metavar="FILE",
        help="also write the calendar; of a stored site what was written is kept, so that the "
        "next file moves entries instead of doubling them",
    )


def run_season(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Compute the season of a site from today on, print it, write its files."""
    console = beside_json(parsed, console)
    with open_site(settings, parsed.site) as opened:
        data, session = opened.data, opened.session
        today = settings.today_date(data.site.timezone)
        found = _found(opened, parsed.replications, today, settings, console)
        calendar = b""
        if parsed.ics:
            stored, now = opened.stored, settings.now()
            calendar = season.export_calendar(session, now, stored, found, today)
    write_json(parsed, found)
    if parsed.json != "-":
        _print(console, found, today, data.units)
    if parsed.csv:
        days = "\ufeff" + sheet_csv(days_sheet(found, data.units))
        Path(parsed.csv).write_text(days, encoding="utf-8", newline="")
    if parsed.xlsx:
        Path(parsed.xlsx).write_bytes(workbook(season_sheets(found, data.units), settings.now()))
    if parsed.ics:
        Path(parsed.ics).write_bytes(calendar)


def _found(
    opened: OpenSite, replications: int, today: date, settings: Settings, console: Console
) -> SeasonAnswer:
    belief = working.belief_of(console, opened)
    desk = Desk(opened.session, opened.stored)
    basis = season.basis_of(desk, today, belief, replications=replications)
    asked = basis.ask()
    words = _("Working the season out")
    with terminal.progress(console, words, asked.steps) as told:
        if not is_long(asked.simulated):
            return season.answer_season(asked, None, told)
        with working.workers(settings) as pool:
            return season.answer_season(asked, pool, told)


def _print(console: Console, found: SeasonAnswer, today: date, system: str) -> None:
    head = _("{site}, {first} to {last}", site=found.site, first=found.first, last=found.last)
    console.print(head, style="bold")
    said, sure = season_answer(found, today), season_sure(found)
    console.print(f"[bold]{said.lead}[/bold] {said.rest}")
    console.print(f"[bold]{sure.lead}[/bold] {sure.rest}".strip())
    for label, words in stock_facts(found, today):
        console.print(f"{label}: {words}")
    for note in found.stock_problems:
        console.print(say(note, system))
    for lines in (
        change_lines(found), option_lines(found, system), owned_lines(found), month_lines(found),
    ):  # fmt: skip
        console.print()
        console.print(lines.says)
        console.print(_table(lines))


def _table(lines: TextTable) -> Table:
    table = Table(pad_edge=False, box=None, header_style="bold")
    for at, head in enumerate(lines.heads):
        table.add_column(head, overflow="fold", justify="left" if at == 0 else "right")
    for row in lines.rows:
        table.add_row(*row)
    return table
