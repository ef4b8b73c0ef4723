"""What commands do: each opens SITE, works something out of it, and gives the answer out."""

from __future__ import annotations

import argparse
import multiprocessing
import shlex
import uuid
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from rich.console import Console

from app.access.codes import digest_of_code, new_code
from app.access.sessions import RECOVERY
from app.access.table import ATTENDANT
from app.answers import coming_plans, planning, season, switching, trace
from app.answers.ahead import TODAY
from app.answers.answer import Desk
from app.answers.apart import Apart
from app.answers.beliefs import belief_now, weighings_of, work_in
from app.answers.cloth import answer_of_site
from app.answers.demo import bring_demo
from app.answers.file_study import read_for_site
from app.answers.season import days_sheet, season_sheets
from app.answers.serial import write
from app.answers.staff import answer_apart, answer_staff, days_of, monday_of, week_of, without_skill
from app.answers.studies.book import StudyBook, new_holder
from app.answers.studies.runner import is_long
from app.catalogue import _, say
from app.cli import terminal
from app.cli.options import OPTIONS
from app.cli.serving import Refused, check_port, listen, say_first_code
from app.cli.workspace import OpenSite, folder_of, gate_for, open_site, open_stored
from app.files.look import Said
from app.files.sheets import sheet_csv, workbook
from app.files.uploads import Pending, WaitingFile
from app.settings import Settings
from app.sites import reading
from app.sites.folder import read_folder, write_folder
from app.sites.people import has_owner, members_of, people_gate
from app.words.dry import damp_words
from app.words.phrases import joined
from app.words.roles import role_words
from app.words.weighings import weighed_words
from sim.checks import or_refusal
from sim.day.drawn import Belief
from sim.decide.answer import Plan
from sim.decide.compare import Question, compare
from sim.decide.staff.answer import RosterAnswer, StaffAnswer
from sim.decide.switching.question import SwitchQuestion
from sim.errors import InputError, InputProblem
from sim.inputs import INPUTS, Scenario, SiteData, Value, unknown_input
from sim.learn.expected_day import ExpectedDay
from sim.units import BY_NAME

RULES = ("full", "reduced")
"""Wiping rules that are compared unless told otherwise."""


# ---- what they share -----------------------------------------------------------------------------


def changes_of(pairs: Sequence[str]) -> dict[str, Value]:
    """Inputs by name from texts such as ``car_spacing_m=6`` or ``car_spacing_m=20 ft``.

    A bare number is in the unit that the name ends with.

    Raises:
        InputError: with every problem.
    """
    changes: dict[str, Value] = {}
    problems: list[InputProblem] = []
    for pair in pairs:
        name, equals, text = pair.partition("=")
        if not equals:
            sentence = "--set {pair}: write it as NAME=VALUE."
            problems += or_refusal("set", pair, [InputProblem("set", sentence, {"pair": pair})])
        elif name not in INPUTS:
            problems += or_refusal("set", pair, [unknown_input(name)])
        else:
            try:
                changes[name] = INPUTS[name].parse(text, BY_NAME)
            except InputError as fault:
                problems += or_refusal(name, text, fault.problems)
    if problems:
        raise InputError(problems)
    return changes


def say_changes(console: Console, changes: Mapping[str, Value], units: str) -> None:
    """Prints what was understood of each changed input, with its unit in the units of the site."""
    for name, value in changes.items():
        row = INPUTS[name]
        shown = row.with_unit(value, units) or _("none")
        words = _("{name}: {label} {value}.", name=name, label=_(row.label), value=shown)
        console.print(words, style="dim")


def workers(
    settings: Settings, simulated: int | None = None
) -> AbstractContextManager[Executor | None]:
    """Worker processes, started afresh; none for one, which is this process.

    Args:
        simulated: days that the work takes, where it may be too short for their start.
    """
    if settings.workers_apart < 2 or (simulated is not None and not is_long(simulated)):
        return nullcontext()
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(settings.workers_apart, mp_context=context)


def belief_of(console: Console, opened: OpenSite) -> Belief | None:
    """What the site's weighings tell, worked out if that has not been done."""
    if not opened.data.weighings:
        return None
    with terminal.progress(console, _("Working the weighings in"), 1) as told:
        return belief_now(opened.session, opened.stored, told)


def planned(
    settings: Settings, console: Console, question: Question, expected: ExpectedDay
) -> Plan:
    """The plan of a question, by worker processes where that is worth their start."""
    with (
        terminal.progress(console, _("Simulating days"), question.replications) as told,
        workers(settings, planning.simulated_days(question)) as pool,
    ):
        return planning.plan_of(question, expected, compare(question, pool, told))


def _asked(
    parsed: argparse.Namespace,
    console: Console,
    opened: OpenSite,
    scenarios: tuple[Scenario, ...],
    replications: int,
) -> tuple[Question, ExpectedDay]:
    """What is asked of an open day, and what is expected of it; its notes are printed."""
    question, expected = planning.make_question(
        opened.data,
        parsed.date,
        parsed.expect,
        scenarios,
        replications,
        parsed.seed,
        belief=belief_of(console, opened),
    )
    if expected.closed:
        raise Refused(expected.origin)
    for note in expected.notes:
        console.print(f"{_('Note.')} {say(note, opened.data.units)}", style="dim")
    return question, expected


def give(parsed: argparse.Namespace, answer: object, show: Callable[[], None]) -> None:
    """Gives an answer out: shown in the terminal and written where `--json` says, or, with
    ``--json -``, as JSON on the output alone."""
    text = write(answer, indent=1)
    if parsed.json == "-":
        print(text)
        return
    show()
    if parsed.json:
        Path(parsed.json).write_text(text + "\n", encoding="utf-8")


# ---- decisions -----------------------------------------------------------------------------------


def _dry(data: SiteData, changes: Mapping[str, Value]) -> str:
    """Which car counts as damp at a site with some inputs changed."""
    site, given = data.site.with_values(changes), {*data.given, *changes}
    return damp_words(site, given, data.weighings, data.units)


def plan(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Compares wiping rules on a day."""
    changes = changes_of(parsed.set)
    scenarios = tuple(Scenario(rule, rule, parsed.cloth, changes) for rule in parsed.rule or RULES)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes, opened.data.units)
        question, expected = _asked(parsed, console, opened, scenarios, parsed.replications)
        found = planned(settings, console, question, expected)
        units, dry = opened.data.units, _dry(opened.data, changes)
        if parsed.page:
            from app.pages.plan.file import plan_file  # only here is the web framework needed

            held = weighings_of(Desk(opened.session, opened.stored))
            asked = planning.DayInputs(
                parsed.date, 0, parsed.expect, scenarios, expected, (), question, held
            )
            page = plan_file(opened.stored, asked, found, settings.now())
            Path(parsed.page).write_text(page, encoding="utf-8")
    give(parsed, found, lambda: terminal.print_comparison(console, found, units, dry))


def switch(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Finds when to reduce on a day, on wish with speed and spacing as well."""
    changes = changes_of(parsed.set)
    if parsed.wish:
        changes["reduce_wish"] = parsed.wish
    now = (Scenario(parsed.rule, parsed.rule, parsed.cloth, changes),)
    depth = switching.EXHAUSTIVE if parsed.exhaustive else switching.WHOLE
    with open_site(settings, parsed.site) as opened, workers(settings) as pool:
        units, given = opened.data.units, opened.data.given
        say_changes(console, changes, units)
        question, expected = _asked(parsed, console, opened, now, planning.REPLICATIONS)
        asked, day = switching.switch_question(question), parsed.date
        with terminal.progress(
            console, _("Simulating days"), switching.runs_of(asked, depth)
        ) as told:
            found = switching.answer_switch(asked, day, expected.origin, pool, told, depth)
        if parsed.with_settings:
            with terminal.progress(console, _("Trying settings"), switching.SETTING_RUNS) as told:
                both = switching.answer_together(asked, found.chosen, day, pool, told)
            found = replace(found, together=both)
        dry = _dry(opened.data, changes)
    give(parsed, found, lambda: terminal.print_switch(console, found, units, given, dry))


def coming(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Plans the days from a day on, by what is stored of them."""
    with open_site(settings, parsed.site) as opened:
        units, given = opened.data.units, opened.data.given
        tomorrow = opened.today(settings) + timedelta(days=1)
        belief, desk = belief_of(console, opened), Desk(opened.session, opened.stored)
        asked = coming_plans.coming_asked(desk, parsed.date or tomorrow, belief)
        with (
            workers(settings) as pool,
            terminal.progress(console, _("Planning days"), coming_plans.STEPS) as told,
        ):
            found = coming_plans.answer_coming(asked, pool, told)
    give(parsed, found, lambda: terminal.print_coming(console, found, units, given))


def cloth(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Says when to change cloth; raises InputError with the reasons where nothing can be said."""
    with open_site(settings, parsed.site) as opened:
        units, today = opened.data.units, opened.today(settings)
        found = answer_of_site(opened.session, opened.stored, today)
        told, given = {item.kind for item in opened.data.weighings}, opened.data.given
    give(parsed, found, lambda: terminal.print_cloth(console, found, told, given, units))


def season_of_site(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Works out the season of a site from today on, and writes its files."""
    with open_site(settings, parsed.site) as opened:
        units, today = opened.data.units, opened.today(settings)
        given = opened.data.given
        belief, desk = belief_of(console, opened), Desk(opened.session, opened.stored)
        asked = season.basis_of(desk, today, belief, replications=parsed.replications).ask()
        with (
            terminal.progress(console, _("Working the season out"), 1) as told,
            workers(settings, asked.simulated) as pool,
        ):
            found = season.answer_season(asked, pool, told)
        calendar = b""
        if parsed.ics:
            now = settings.now()
            calendar = season.export_calendar(opened.session, now, opened.stored, found, today)
    give(parsed, found, lambda: terminal.print_season(console, found, today, units, given))
    if parsed.csv:
        days = "\ufeff" + sheet_csv(days_sheet(found, units))
        Path(parsed.csv).write_text(days, encoding="utf-8", newline="")
    if parsed.xlsx:
        Path(parsed.xlsx).write_bytes(workbook(season_sheets(found, units), settings.now()))
    if parsed.ics:
        Path(parsed.ics).write_bytes(calendar)


def staff(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Says who is needed on a day; raises InputError or Refused where nothing can be said."""
    if parsed.week is not None:
        _run_week(parsed, settings, console)
        return
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes_of(parsed.set), opened.data.units)
        belief = belief_of(console, opened)
        asked, expected = _staff_question(parsed, opened, parsed.date, belief)
        if expected.closed:
            raise Refused(expected.origin)
        with terminal.progress(console, _("Simulating days"), 1) as told:
            found = answer_staff(asked, parsed.date, expected.origin, None, told)
    give(parsed, found, lambda: terminal.print_staff(console, found, opened.data.given))


def _staff_question(
    parsed: argparse.Namespace, opened: OpenSite, day: date, belief: Belief | None
) -> tuple[SwitchQuestion, ExpectedDay]:
    """What is asked of a day; raises InputError where it can't be planned."""
    now = (Scenario(parsed.rule, parsed.rule, parsed.cloth, changes_of(parsed.set)),)
    question, expected = planning.make_question(
        opened.data, day, parsed.expect, now, seed=parsed.seed, belief=belief
    )
    return switching.switch_question(question), expected


@dataclass(frozen=True, slots=True)
class WithNeeds(RosterAnswer):
    """A week's roster with the answer of each day that it rests on."""

    needs: dict[date, StaffAnswer]


def _run_week(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Makes the roster of a week; nothing is stored. InputError if the site has no people."""
    monday = monday_of(parsed.week)
    needs: dict[date, StaffAnswer] = {}
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes_of(parsed.set), opened.data.units)
        week_of(opened.data, monday)  # a site without people is told before it is simulated
        belief = None if parsed.as_planned else belief_of(console, opened)
        for day in () if parsed.as_planned else days_of(monday):
            asked, expected = _staff_question(parsed, opened, day, belief)
            if expected.closed:
                continue
            words = _("{day}: simulating days", day=day)
            with terminal.progress(console, words, 1) as told:
                asked = replace(asked, known=None)
                needs[day] = answer_staff(asked, day, expected.origin, None, told)
        data, week = opened.data, week_of(opened.data, monday, needs)
    with terminal.progress(console, _("Making the roster"), 1) as told:
        found = answer_apart(week, told)
    unheld = without_skill(data.staff.people, needs)
    whole = WithNeeds(found.monday, found.roster, found.conflict, needs)
    give(parsed, whole, lambda: terminal.print_roster(console, data, found, unheld))


# ---- sites and pages -----------------------------------------------------------------------------


def trace_day(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Writes one simulated day car by car."""
    changes = changes_of(parsed.set)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes, opened.data.units)
        rows = trace.trace_rows(
            opened.data,
            parsed.date,
            Scenario(_("trace"), parsed.rule, parsed.cloth, changes),
            parsed.seed,
            parsed.expect,
            belief_of(console, opened),
        )
        text = trace.trace_csv(rows)
    Path(parsed.csv).write_text(text, encoding="utf-8", newline="")
    count = text.count("\r\n") - 1
    console.print(_("{count} rows written to {file}.", count=count, file=parsed.csv))


def bring_in(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Stores a site's folder in the database."""
    data = read_folder(Path(parsed.folder))
    database = open_stored(settings)
    with database.session() as session:
        gate = gate_for(session, settings)
        reading.bring_in(session, gate, data, uuid.uuid4().hex)
    database.close()
    console.print(
        _(
            "{name} is stored: {counts} hourly counts, {weather} hours of weather.",
            name=data.site.name,
            counts=f"{len(data.history.counts):,}",
            weather=f"{len(data.history.weather):,}",
        )
    )


def counts(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Says how a file of counts is understood and what it would bring, or stores it."""
    path = Path(parsed.file)
    given = {key: str(getattr(parsed, f"said_{key}") or "") for key in OPTIONS}
    with open_site(settings, parsed.site) as opened:
        stored, units = opened.stored, opened.data.units
        waiting = Pending("", stored.id, "counts", path.name, settings.now(), Said(**given))
        file = WaitingFile(waiting, path.read_bytes())
        found = read_for_site(opened.session, stored, file)
        seen = found.look
        terminal.print_counts(console, found, units)
        if seen is not None and seen.ask is not None:
            option = OPTIONS[seen.ask.key][0]
            answers = "\n".join(
                f"  {option}={shlex.quote(value)}  {say(words, units)}"
                for value, words in seen.ask.choices
            )
            raise Refused(f"{say(seen.ask.words, units)}\n{answers}")
        if not parsed.store:
            return
        if folder_of(parsed.site) is not None:
            site = _("{site} is a folder: store it with clothcast import first.", site=parsed.site)
            raise Refused(site)
        if not found.history.counts:
            raise Refused(_("Nothing in this file can be used."))
        gate = gate_for(opened.session, settings)
        key, version = uuid.uuid4().hex, stored.version
        gate.store_hours(stored.id, found.history, version, key, parsed.replace_all)
        if seen is not None:
            gate.keep_export(stored.id, seen.shape_key, path.name, asdict(seen.said))
    console.print(_("Stored."))


def export(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Writes a site of the database as a folder."""
    with open_site(settings, parsed.site) as opened:
        write_folder(Path(parsed.folder), opened.data)
    console.print(_("{name} is written to {folder}.", name=parsed.site, folder=parsed.folder))


def check(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Names every problem of a site at once."""
    with open_site(settings, parsed.site) as opened:
        name = opened.data.site.name
    console.print(_("{name}: no problem found.", name=name))


def serve(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Serves the pages, of a site first if one is named."""
    page = ""
    if parsed.site:
        if Path(parsed.site).is_dir():
            raise Refused(
                _("{site} is a folder: store it with clothcast import first.", site=parsed.site)
            )
        with open_site(settings, parsed.site) as opened:
            stored = reading.find(opened.session, parsed.site)
            page = f"{stored.slug}/today"
    listen(settings, console, page, Apart(settings, parsed.early))


def person(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Says who has an account; with a name, prints a code to choose a new password by.

    Whoever can give this command holds the machine, its database and all that is in it.
    """
    database = open_stored(settings)
    try:
        if parsed.name is None:
            for one in members_of(database):
                console.print(_("{name}: {role}.", name=one.name, role=role_words(one.role)))
            if not has_owner(database):
                say_first_code(database, settings, console)
            return
        code, now = new_code(), settings.clock()
        named = {one.name.casefold(): one for one in members_of(database)}
        found = named.get(parsed.name.casefold())
        if found is None:
            known = joined([one.name for one in named.values()]) or _("nobody")
            sentence = "{name} has no account; accounts have: {known}."
            raise Refused(_(sentence, name=parsed.name, known=known))
        if found.role == ATTENDANT:
            sentence = "{name} is an attendant: the manager gives a new code on the page People."
            raise Refused(_(sentence, name=found.name))
        with people_gate(database, now) as gate:
            gate.give_code(found.id, digest_of_code(code), now + RECOVERY)
    finally:
        database.close()
    console.print(_("Code of {name}, for one hour: {code}", name=found.name, code=code))
    console.print(_("Open the page /invited and choose a password with it; every way in of "
                    "before ends then."))  # fmt: skip


def certificate(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Makes a certificate for the names of the server, and says what to do with it."""
    from app.certificates import issue  # loaded only where it is needed

    made = issue(settings, parsed.names, settings.clock(), anew=parsed.anew)
    said = [
        _("This certificate is for {names}.", names=", ".join(made.served.names)),
        _(
            "It ends on {day}: give this command again before then.",
            day=f"{made.served.until:%Y-%m-%d}",
        ),
        _(
            "Serve with: clothcast serve --host 0.0.0.0 --certificate {file} --key {key}",
            file=shlex.quote(str(made.served.certificate)),
            key=shlex.quote(str(made.served.key)),
        ),
        _("Each phone has to trust this authority once: {file}", file=made.authority)
        if made.is_new
        else _("Phones that trust this authority need nothing new: {file}", file=made.authority),
        _("Its fingerprint (SHA-256): {digits}", digits=made.fingerprint),
        _("The guide “Phones” says how a phone is told to trust it."),
    ]
    for line in said:
        console.print(line, soft_wrap=True)


def _held(book: StudyBook, view: planning.PlanView, total: int, at: datetime) -> bool:
    """Whether the comparison that a command is about to make is written down as its own, so that
    no server makes it too."""
    return book.ask(
        view.key, view.kind.name, view.site_id, view.day, total=total, at=at, reason=TODAY
    ) and book.claim(view.key)


def demo(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Brings the demo site in, compares its peak day, serves the pages.

    What was measured there takes longest to work in: who asks for pages has them first, without it,
    and they work it in.
    """
    if not parsed.plan_only:
        check_port(settings)
    database = open_stored(settings)
    with database.session() as session:
        gate = gate_for(session, settings)
        stored, view = bring_demo(gate)
        held = weighings_of(Desk(session, stored))
        if held.is_wanting and parsed.plan_only:
            with (
                terminal.progress(console, _("Working the weighings in"), 1) as told,
                workers(settings) as pool,
            ):
                learnt = work_in(held.asked, pool, told)
            gate.store_result(held.key, stored.id, held.day, write(learnt))
            view = Desk(session, stored).open(planning.PLAN, view.day)
            held = view.asked.held
        found, question, expected = view.result, view.asked.to_compare, view.asked.expected
        apart = None if parsed.plan_only else Apart(settings, parsed.early)
        if found is None and question is not None and expected is not None:
            first = planning.first_stage(question)
            # What computes for the server begins beside this, and leaves this one alone.
            book = StudyBook(database, new_holder(), settings.now)
            is_held = apart is not None and _held(book, view, first.replications, settings.now())
            if apart is not None:
                apart.start()
            found = planned(settings, console, first, expected)
            # The page refines it once it is opened.
            is_final = first == question
            holder = book.holder if is_held else ""
            gate.store_result(
                view.key, stored.id, view.day, write(found), is_final=is_final, holder=holder
            )
            if is_held:
                book.forget_ahead(view.key)
        if found is not None:
            terminal.print_comparison(console, found, stored.data.units, _dry(stored.data, {}))
            if words := weighed_words(held):
                console.print(words)
    is_owned = has_owner(database)
    database.close()
    if apart is not None:
        # Nobody has to sign in on this machine, unless somebody owns what is kept here.
        open_here = settings.model_copy(update={"sign_in": is_owned})
        apart.start()  # there is work for it, while the pages are still loaded
        listen(open_here, console, f"{stored.slug}/plan/{view.day}", apart)
