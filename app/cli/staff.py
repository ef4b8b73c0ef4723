"""`clothcast staff`: who is needed on a day and a week's roster, in the terminal and as JSON."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rich.console import Console
from rich.table import Table

from app.answers import planning
from app.answers.staff import answer_apart, answer_staff, days_of, monday_of, week_of, without_skill
from app.answers.switching import switch_question
from app.catalogue import _
from app.cli import terminal, working
from app.cli.arguments import beside_json, changes_of, say_changes, write_json
from app.cli.serving import Refused
from app.cli.workspace import OpenSite, open_site
from app.settings import Settings
from app.words.staff import (
    LAW,
    NOT_FOUND,
    answer,
    anybody_words,
    cost_words,
    effects_table,
    grid,
    how_sure,
    kept_words,
    people_table,
    ways_out,
    why_none,
    wiping_words,
)
from sim.day.drawn import Belief
from sim.decide.staff.answer import RosterAnswer, StaffAnswer
from sim.decide.switching.question import SwitchQuestion
from sim.inputs import Scenario, SiteData
from sim.learn.expected_day import ExpectedDay


@dataclass(frozen=True, slots=True)
class WithNeeds(RosterAnswer):
    """A week's roster with the answer of each day that it rests on."""

    needs: dict[date, StaffAnswer]


def print_roster(
    console: Console, data: SiteData, found: RosterAnswer, unheld: Sequence[str]
) -> None:
    """The grid with its cost, or why there is none; `unheld` roles are nobody's skill."""
    made, conflict = found.roster, found.conflict
    if made is not None:
        shown = grid(data, found.monday, made)
        console.print(
            _table((_("Who"), *shown.heads), [(name, *cells) for name, cells, _h in shown.rows])
        )
        console.print(cost_words(made), kept_words(made))
    elif conflict is not None:
        console.print(why_none(conflict))
        for way in ways_out(conflict):
            console.print(_("A way out: {way}", way=way))
    else:
        console.print(_(NOT_FOUND))
    if unheld:
        console.print(anybody_words(unheld))
    console.print(_(LAW), style="dim")


Command = Callable[..., argparse.ArgumentParser]


def add_staff(command: Command, day_of_site: Callable[..., None]) -> None:
    """The command, by the maker of commands of `app.cli.main` and its options of a day."""
    made = command(
        "staff",
        run_staff,
        "Say who is needed on a day, by half-hour and role; or make a week's roster.",
        "staff demo_site --date 2026-07-18",
        "staff 'Harbor Road' --date 2026-07-18 --rule 'clock 12:00-15:30' --json staff.json",
        "staff demo_site --week 2026-07-20 --json roster.json",
    )
    day_of_site(made, or_week=True)
    made.add_argument("--rule", default="full", metavar="R", help="wiping rule (default full)")
    made.add_argument("--cloth", default="", metavar="C", help="dry sets put on, as 13:00")
    made.add_argument(
        "--as-planned", action="store_true",
        help="with --week: ask for the people planned, without working out who is needed",
    )  # fmt: skip
    made.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")


def run_staff(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Print the answer; raises InputError or Refused with the reason where there is none."""
    if parsed.week is not None:
        _run_week(parsed, settings, console)
        return
    console = beside_json(parsed, console)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes_of(parsed.set), opened.data.units)
        belief = working.belief_of(console, opened)
        asked, expected = _question(parsed, opened, parsed.date, belief)
        if expected.closed:
            raise Refused(expected.origin)
        with terminal.progress(console, _("Simulating days"), 1) as told:
            found = answer_staff(asked, parsed.date, expected.origin, None, told)
    write_json(parsed, found)
    if parsed.json == "-":
        return
    for words in (str(answer(found)), how_sure(found), wiping_words(found)):
        console.print(words)
    people, effects = people_table(found), effects_table(found)
    console.print(_table(people.heads, people.rows))
    console.print(_("One person more or fewer in an hour; differences of the day:"))
    console.print(_table(effects.heads, effects.rows))


def _question(
    parsed: argparse.Namespace, opened: OpenSite, day: date, belief: Belief | None
) -> tuple[SwitchQuestion, ExpectedDay]:
    """What is asked of a day; raises InputError where it can't be planned."""
    now = (Scenario(parsed.rule, parsed.rule, parsed.cloth, changes_of(parsed.set)),)
    question, expected = planning.make_question(
        opened.data, day, parsed.expect, now, seed=parsed.seed, belief=belief
    )
    return replace(switch_question(question), known=None), expected


def _run_week(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Print the roster; nothing is stored. Raises InputError if the site has no people."""
    console = beside_json(parsed, console)
    monday = monday_of(parsed.week)
    needs: dict[date, StaffAnswer] = {}
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes_of(parsed.set), opened.data.units)
        week_of(opened.data, monday)  # a site without people is told before it is simulated
        belief = None if parsed.as_planned else working.belief_of(console, opened)
        for day in () if parsed.as_planned else days_of(monday):
            asked, expected = _question(parsed, opened, day, belief)
            if expected.closed:
                continue
            words = _("{day}: simulating days", day=day)
            with terminal.progress(console, words, 1) as told:
                needs[day] = answer_staff(asked, day, expected.origin, None, told)
        data, week = opened.data, week_of(opened.data, monday, needs)
    with terminal.progress(console, _("Making the roster"), 1) as told:
        found = answer_apart(week, told)
    write_json(parsed, WithNeeds(found.monday, found.roster, found.conflict, needs))
    if parsed.json != "-":
        print_roster(console, data, found, without_skill(data.staff.people, needs))


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    made = Table(*heads)
    for row in rows:
        made.add_row(*row)
    return made
