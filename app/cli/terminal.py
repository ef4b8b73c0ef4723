"""Answers as tables in the terminal, and progress while they are worked out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Protocol

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from app.catalogue import _, _n
from app.catalogue import say as words_of
from app.files.hourly import Preview
from app.words import cloth, season, staff
from app.words.answer import opening_words
from app.words.coming import coming_answer, coming_sure, days_of, year_lines, year_rests_on
from app.words.counts import counted_hours
from app.words.cues import cues_of
from app.words.figures import FigureCell, cells_of
from app.words.hands import hands_of
from app.words.phrases import Statement, TextTable
from app.words.switching import (
    answer_words,
    choice_words,
    switch_sure,
    together_answer,
    together_sure,
    together_table,
)
from app.words.why import tipping_of
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison, Plan
from sim.decide.cloth.answer import ClothAnswer, SeasonAnswer
from sim.decide.staff.answer import RosterAnswer, StaffAnswer
from sim.decide.switching.answer import ComingAnswer, Together, WhenToReduce
from sim.inputs import SiteData
from sim.units import UNITS


class ProgressListener(Protocol):
    """Is told how much is done and, where that has changed, of how much."""

    def __call__(self, done: int, total: int | None = None) -> None: ...


SHOWN = (
    "cars_washed",
    "cars_lost",
    "cars_per_hour",
    "wait_p90_s",
    "stack_max",
    "left_damp_share",
    "full_share",
    "saturation_max",
    "water_taken_kg",
    "wear_cars",
    "overtime_minutes",
    "margin",
    "cost",
)
"""Figures of the terminal's table; the JSON file has all of them."""


SWITCH_SHOWN = (
    "left_damp_share",
    "full_share",
    "saturation_max",
    "rear_wet_share",
    "cars_lost",
    "wear_cars",
    "margin",
    "cost",
)
"""Figures of the table of when to reduce."""


@contextmanager
def progress(console: Console, words: str, total: int) -> Iterator[ProgressListener]:
    """A bar on a terminal, nothing when the output goes elsewhere; yields what to tell."""
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task(words, total=total)

        def told(done: int, total: int | None = None) -> None:
            bar.update(task, completed=done, total=total)

        yield told


def print_comparison(console: Console, plan: Plan, system: str, dry: str) -> None:
    """Print a plan as a table; `dry` says which car counts as damp.

    Beside each figure its site uncertainty where guesses were drawn, below it what single days do.
    """
    found = plan.comparison
    heading = _("{site}, {date}", site=plan.site, date=plan.date.isoformat())
    console.print(heading, style="bold")
    console.print(plan.origin)
    if found.opening is not None:
        console.print(
            _(
                "Opening saturation {share} %, from {origin}. Belt capacity {capacity} cars an "
                "hour with its stops.",
                share=round(100 * found.opening.saturation),
                origin=opening_words(found.opening),
                capacity=round(found.limits.belt_capacity_per_h),
            )
        )
    console.print(dry)
    console.print()
    console.print(_table(found, SHOWN, system))
    console.print()
    console.print(_how_sure(found))


def print_switch(
    console: Console, answer: WhenToReduce, system: str, given: Collection[str], dry: str
) -> None:
    """Print when to reduce: what to do, how sure, among how many, and the figures.

    Args:
        given: names of the inputs that the site entered itself.
        dry: which car counts as damp.
    """
    console.print(_("{site}, {date}", site=answer.site, date=answer.date), style="bold")
    said, sure = answer_words(answer, system), switch_sure(answer, given, system)
    say(console, said)
    say(console, sure)
    console.print(dry)
    console.print(_("Rule: {rule}", rule=answer.told.text))
    for words in choice_words(answer):
        console.print(words)
    _print_cues(console, answer, system)
    hands = hands_of(answer, system)
    if hands is not None:
        console.print()
        console.print(hands.says)
        console.print(open_table(hands))
    console.print()
    console.print(_table(answer.comparison, SWITCH_SHOWN, system))
    console.print()
    console.print(_how_sure(answer.comparison))
    if answer.tipping is not None:
        tipping = tipping_of(answer.tipping, system)
        title = _("Highest humidity at which always full is enough, by highest temperature")
        console.print()
        console.print(title, style="bold")
        console.print(tipping.says)
        console.print(open_table(tipping))
    if answer.together is not None:
        print_together(console, answer.together, system, answer.comparison)


def print_together(console: Console, answer: Together, system: str, comparison: Comparison) -> None:
    """Print speed, spacing and rule together, beside the comparison of the day."""
    said = together_answer(answer, system, comparison)
    console.print()
    say(console, said)
    console.print(open_table(together_table(answer, system, comparison)))
    console.print(together_sure(answer))


def print_coming(
    console: Console, found: ComingAnswer, system: str, given: Collection[str]
) -> None:
    """Print the coming days: a line a day, then the days of the year by month.

    Args:
        given: names of the inputs that the site entered itself.
    """
    said, sure = coming_answer(found), coming_sure(found, given)
    console.print(_("{site}, from {date}", site=found.site, date=found.first), style="bold")
    say(console, said)
    say(console, sure)
    console.print()
    heads = (_("Day"), _("Rule"), _("Leave damp"), _("Always full"), _("How sure"))
    rows = tuple(
        (
            f"{one.day}\n[dim]{one.weather}[/dim]",
            f"{one.rule}\n[dim]{one.own}[/dim]".strip(),
            one.damp,
            one.full,
            one.sure,
        )
        for one in days_of(found, system)
    )
    console.print(open_table(TextTable("", heads, rows)))
    console.print()
    if found.year is not None:
        year = year_lines(found.year)
        console.print(f"[bold]{year.says}[/bold]")
        console.print(open_table(year))
        for words in year_rests_on(found.year):
            console.print(words)


def print_cloth(
    console: Console,
    found: ClothAnswer,
    weighed: Collection[str],
    given: Collection[str],
    units: str,
) -> None:
    """Print when to change cloth, what each way costs, and the sets."""
    for words in (cloth.answer(found), cloth.how_sure(found, weighed, given), cloth.moving(found)):
        if words:
            console.print(str(words))
    for note in found.notes:
        console.print(f"{_('Note.')} {words_of(note, units)}", style="dim")
    change = found.change
    ways = [
        (_("on plan, at {age}", age=cloth.age_words(change.age)), change.cost_rate),
        (_("when it wears out"), change.at_failure),
    ][change.waits :]
    heads = (_("A set is changed"), _("Per 1,000 full wipes"), _("Beside the best"))
    rows = [
        (way, cloth.per_thousand(rate), cloth.better(rate, change.cost_rate)) for way, rate in ways
    ]
    console.print(framed(heads, rows))
    if found.laundering is not None:
        told = (
            cloth.launder_answer(found.laundering),
            cloth.launder_sure(found.laundering, weighed, given),
        )
        for words in told:
            console.print(str(words))
    if found.sets:
        sets = [(one.name, cloth.where(one), cloth.full_wipes(one.age_cars)) for one in found.sets]
        console.print(framed((_("Set"), _("Where"), _("Wear")), sets))


def print_counts(console: Console, found: Preview, units: str) -> None:
    """How a file of counts was understood, what it would bring, and what was left out and why."""
    if found.look is not None:
        told = (words_of(one, units) for one in found.look.told)
        for line in (*counted_hours(found.history.counts), *told):
            console.print(line)
    hours = len(found.history.counts)
    console.print(_n("1 hour can be stored.", "{count} hours can be stored.", hours))
    for note in found.notes:
        console.print(f"{_('Note.')} {words_of(note, units)}", style="dim")
    for problem in found.problems:
        console.print(f"{problem.where}: {words_of(problem, units)}")


def print_season(
    console: Console, found: SeasonAnswer, today: date, system: str, given: Collection[str]
) -> None:
    """Print the season: what to do, stock, and its tables."""
    head = _("{site}, {first} to {last}", site=found.site, first=found.first, last=found.last)
    console.print(head, style="bold")
    said, sure = season.season_answer(found, today), season.season_sure(found, given)
    say(console, said)
    say(console, sure)
    for label, words in season.stock_facts(found, today):
        console.print(f"{label}: {words}")
    for note in found.stock_problems:
        console.print(words_of(note, system))
    for lines in (
        season.change_lines(found),
        season.option_lines(found, system),
        season.owned_lines(found),
        season.month_lines(found),
    ):
        console.print()
        console.print(lines.says)
        console.print(open_table(lines, figures=True))


def print_staff(console: Console, found: StaffAnswer, given: Collection[str]) -> None:
    """Print who is needed by half-hour, and what one more or fewer would do."""
    for words in (
        str(staff.answer(found)),
        str(staff.how_sure(found, given)),
        staff.wiping_words(found),
    ):
        console.print(words)
    people, effects = staff.people_table(found), staff.effects_table(found)
    console.print(framed(people.heads, people.rows))
    console.print(_("One person more or fewer in an hour; differences of the day:"))
    console.print(framed(effects.heads, effects.rows))


def print_roster(
    console: Console, data: SiteData, found: RosterAnswer, unheld: Sequence[str]
) -> None:
    """The grid with its cost, or why there is none; `unheld` roles are nobody's skill."""
    made, conflict = found.roster, found.conflict
    if made is not None:
        shown = staff.grid(data, found.monday, made)
        rows = [(name, *cells) for name, cells, _hours in shown.rows]
        console.print(framed((_("Who"), *shown.heads), rows))
        console.print(staff.cost_words(made), staff.kept_words(made))
    elif conflict is not None:
        console.print(staff.why_none(conflict))
        for way in staff.ways_out(conflict):
            console.print(_("A way out: {way}", way=way))
    else:
        console.print(_(staff.NOT_FOUND))
    if unheld:
        console.print(staff.anybody_words(unheld))
    console.print(staff.law_words(data.given), style="dim")


def say(console: Console, said: Statement) -> None:
    """Print a statement, its lead with weight."""
    console.print(f"[bold]{said.lead}[/bold] {said.rest} {said.also}".strip())


def open_table(item: TextTable, figures: bool = False) -> Table:
    """A small table of words or of figures, as the pages have it."""
    table = Table(pad_edge=False, box=None, header_style="bold")
    for at, head in enumerate(item.heads):
        table.add_column(head, overflow="fold", justify="right" if figures and at else "left")
    for row in item.rows:
        table.add_row(*row)
    return table


def framed(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """A table with lines around it."""
    table = Table(*heads)
    for row in rows:
        table.add_row(*row)
    return table


def _print_cues(console: Console, answer: WhenToReduce, system: str) -> None:
    """Print the rule in cues that the crew can see, if any were looked for."""
    part = cues_of(answer, system)
    if part is None:
        return
    console.print()
    console.print(f"[bold]{part.lead}[/bold] {part.says}")
    if part.rows:
        console.print(open_table(TextTable("", part.heads, part.rows)))
    for words in part.how:
        console.print(words)


def _table(found: Comparison, names: Sequence[str], system: str) -> Table:
    """Some figures of a comparison, a column a scenario."""
    table = Table(pad_edge=False, box=None, header_style="bold")
    table.add_column(_("Figure"), overflow="fold")
    for column in found.columns:
        table.add_column(f"{column.name}\n{_(column.label)}", justify="right")
    for name in names:
        info = FIGURES[name]
        cells = [_printed(cell) for cell in cells_of(info, found, system)]
        unit = UNITS[info.unit].symbol(system)
        head = _(info.label) + (f", {unit}" if unit else "")
        table.add_row(f"{head}\n[dim]{_(info.note)}[/dim]" if info.note else head, *cells)
    return table


def _printed(cell: FigureCell) -> str:
    lines = [f"{cell.value} ({cell.site})" if cell.site else cell.value]
    lines += [f"[dim]{cell.days}[/dim]"] if cell.days else []
    lines += [f"{cell.difference} {cell.word}"] if cell.word else []
    return "\n".join(lines)


def _how_sure(found: Comparison) -> str:
    """What the ranges of the table say."""
    if not found.sites:
        return _(
            "Simulated days: {count}, the same for all. “days” is what 9 days of 10 do. What is "
            "not known of the site is not in these ranges, so no advice is firm.",
            count=found.days,
        )
    return _(
        "Simulated days: {count}, at {sites} sites drawn within what is not known of this one, the "
        "same for all. In brackets: where the expected value lies at 9 of 10 such sites. “days” "
        "is what 9 days of 10 do at one of them.",
        count=found.days,
        sites=found.sites,
    )
