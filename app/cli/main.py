"""The command line: `clothcast COMMAND`; SITE is a folder or the name of a stored site."""

from __future__ import annotations

import argparse
import sys
import uuid
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import NoReturn

from rich.console import Console

from app.answers import planning, trace
from app.answers.serial import write
from app.catalogue import _, say
from app.cli import cloth as cli_cloth
from app.cli import staff as cli_staff
from app.cli import terminal, working, workspace
from app.cli.arguments import (
    beside_json,
    changes_of,
    count_between,
    day_of,
    say_changes,
    write_json,
)
from app.cli.serving import Refused, check_port, listen
from app.cli.workspace import CannotOpen, OpenSite, gate_for, open_site, open_stored
from app.settings import BadSettings, Settings, read_settings
from app.sites import reading
from app.sites.changes import Stale
from app.sites.folder import read_folder, write_folder
from sim.decide.compare import Question
from sim.errors import InputError
from sim.inputs import Scenario
from sim.inputs.people import WISHES
from sim.learn.expected_day import ExpectedDay

Run = Callable[[argparse.Namespace, Settings, Console], None]
"""What carries a command out."""
RULES = ("full", "reduced")
"""Wiping rules that are compared unless told otherwise."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit code: 0 done, 1 refused with a sentence, 2 wrong usage."""
    parsed = _parser().parse_args(arguments)
    console = Console(highlight=False, soft_wrap=False)
    try:
        given = {
            name: value
            for name in ("today", "host", "port")
            if (value := getattr(parsed, name, None)) is not None
        }
        parsed.run(parsed, read_settings(**given), console)
    except InputError as fault:
        # Scenarios that share a change share its problem; once is enough.
        for said in dict.fromkeys(str(problem) for problem in fault.problems):
            print(said, file=sys.stderr)
        return 1
    except (Refused, BadSettings, CannotOpen, Stale) as fault:
        print(fault, file=sys.stderr)
        return 1
    except OSError as fault:
        where = f"{fault.filename}: " if fault.filename else ""
        print(f"{where}{fault.strerror or fault}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 0
    return 0


def _parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="clothcast",
        description="Plans the wiping stage of a conveyor car wash: how many cars the line takes, "
        "how wet the cloth gets, when to wipe only hood and windshield.",
        epilog="SITE is a folder that holds a site.toml, or the name of a site in the database. "
        "With a folder nothing is written. Examples:\n"
        "  clothcast demo\n"
        "  clothcast plan demo_site --date 2026-07-18 --rule full --rule 'clock 12:00-15:30'\n"
        "  clothcast check my_site",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, run: Run, words: str, *examples: str) -> argparse.ArgumentParser:
        made = commands.add_parser(
            name,
            help=words,
            description=words,
            epilog="Examples:\n" + "\n".join(f"  clothcast {line}" for line in examples),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        made.set_defaults(run=run)
        made.add_argument("--today", type=day_of, metavar="D", help="take this day for today")
        return made

    demo_ = command(
        "demo",
        _demo,
        "Bring in the invented demo site, compare its peak day, serve the pages.",
        "demo",
        "demo --plan-only",
    )
    _serving(demo_)
    demo_.add_argument("--plan-only", action="store_true", help="end after the comparison")

    plan = command(
        "plan",
        _plan,
        "Compare wiping rules on a day.",
        "plan demo_site --date 2026-07-18",
        "plan demo_site --date 2026-07-18 --rule full --rule 'band 45-38' --json plan.json",
        "plan 'Harbor Road' --date 2026-07-18 --expect '91 F, 70 %, +10 %' "
        "--set conveyor_speed_m_s='45 ft/min'",
    )
    _day_of_site(plan)
    plan.add_argument(
        "--rule", action="append", metavar="R", help="a wiping rule; repeat to compare up to six"
    )
    plan.add_argument(
        "--cloth", default="", metavar="C", help="dry sets put on in every scenario, as 13:00"
    )
    plan.add_argument(
        "--replications", type=count_between(1, 100_000), default=planning.FIRST_REPLICATIONS,
        metavar="N",
        help="simulated days, from 256 on each at one of many sites like yours "
        "(default %(default)s)",
    )  # fmt: skip
    plan.add_argument("--json", metavar="FILE", help="also write the comparison; - for the output")

    switch = command(
        "switch",
        _switch,
        "Find when to reduce wiping on a day, and when to go back.",
        "switch demo_site --date 2026-07-18",
        "switch demo_site --date 2026-07-18 --wish cost --exhaustive --json switch.json",
    )
    _day_of_site(switch)
    switch.add_argument(
        "--wish", choices=tuple(WISHES), metavar="W",
        help="mean, days or cost: what a rule is chosen by (default: as the site has it)",
    )  # fmt: skip
    switch.add_argument(
        "--rule", default="full", metavar="R", help="wiping rule in use now (default full)"
    )
    switch.add_argument(
        "--cloth", default="", metavar="C", help="dry sets put on during the day, as 13:00"
    )
    switch.add_argument(
        "--exhaustive", action="store_true", help="drop no rule early; takes ten times as long"
    )
    switch.add_argument(
        "--with-settings", action="store_true",
        help="also choose conveyor speed and car spacing together with the rule",
    )  # fmt: skip
    switch.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")

    coming = command(
        "coming",
        _coming,
        "Plan each of 14 days, and count the days of a year that need switching.",
        "coming demo_site --today 2026-07-15",
        "coming 'Harbor Road' --json coming.json",
    )
    coming.add_argument("site", metavar="SITE")
    coming.add_argument("--date", type=day_of, metavar="D", help="the first day (default tomorrow)")
    coming.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")
    cli_cloth.add_cloth(command)
    cli_staff.add_staff(command, _day_of_site)
    cli_cloth.add_season(command, count_between(2, 1_000))

    trace_ = command(
        "trace",
        _trace,
        "Write one simulated day car by car.",
        "trace demo_site --date 2026-07-18 --rule full --seed 1 --csv day.csv",
    )
    _day_of_site(trace_)
    trace_.add_argument("--rule", default="full", metavar="R", help="wiping rule (default full)")
    trace_.add_argument(
        "--cloth", default="", metavar="C", help="dry sets put on during the day, as 13:00"
    )
    trace_.add_argument("--csv", required=True, metavar="FILE", help="file to write")

    bring = command("import", _import, "Store a site's folder in the database.", "import my_site")
    bring.add_argument("folder", metavar="FOLDER")
    export = command(
        "export",
        _export,
        "Write a site of the database as a folder.",
        "export 'Harbor Road' my_site",
    )
    export.add_argument("site", metavar="NAME")
    export.add_argument("folder", metavar="FOLDER")
    check = command("check", _check, "Name every problem of a site at once.", "check my_site")
    check.add_argument("site", metavar="SITE")
    serve = command("serve", _serve, "Serve the pages.", "serve", "serve 'Harbor Road' --port 8080")
    serve.add_argument("site", metavar="SITE", nargs="?", help="a site to open first")
    _serving(serve)
    return top


def _day_of_site(made: argparse.ArgumentParser, or_week: bool = False) -> None:
    made.add_argument("site", metavar="SITE")
    # a group of one would call the option something else where it is missing
    when = made.add_mutually_exclusive_group(required=True) if or_week else made
    when.add_argument(
        "--date", type=day_of, required=not or_week, metavar="D", help="the day, 2026-07-18"
    )
    if or_week:
        when.add_argument(
            "--week", type=day_of, metavar="D", help="a day of a week: its days, and a roster"
        )
    made.add_argument(
        "--expect",
        default="",
        metavar="E",
        help="override the expected day, as '91 F, 70 %%, +10 %%'",
    )
    made.add_argument(
        "--set", action="append", default=[], metavar="NAME=VALUE",
        help="change an input of the table, in the unit that its name ends with or with its unit "
        "(patience_median_s=120 or =2min, day_factor_cv=0.3 or =30%%); repeat for more",
    )  # fmt: skip
    made.add_argument(
        "--seed", type=count_between(0, 2**63 - 1), default=planning.SEED, metavar="S",
        help="root seed (default %(default)s)",
    )  # fmt: skip


def _serving(made: argparse.ArgumentParser) -> None:
    made.add_argument("--host", help="address to serve at (default 127.0.0.1)")
    made.add_argument(
        "--port", type=count_between(0, 65535), help="port to serve at (default 8000)"
    )


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
        belief=working.belief_of(console, opened),
    )
    if expected.closed:
        raise Refused(expected.origin)
    for note in expected.notes:
        console.print(f"{_('Note.')} {say(note, opened.data.units)}", style="dim")
    return question, expected


def _plan(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    changes = changes_of(parsed.set)
    console = beside_json(parsed, console)
    scenarios = tuple(Scenario(rule, rule, parsed.cloth, changes) for rule in parsed.rule or RULES)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes, opened.data.units)
        question, expected = _asked(parsed, console, opened, scenarios, parsed.replications)
        found = working.planned(settings, console, question, expected)
        if parsed.json != "-":
            terminal.print_comparison(console, found, opened.data.units)
    write_json(parsed, found)


def _switch(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    changes = changes_of(parsed.set)
    if parsed.wish:
        changes["reduce_wish"] = parsed.wish
    console = beside_json(parsed, console)
    now = (Scenario(parsed.rule, parsed.rule, parsed.cloth, changes),)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes, opened.data.units)
        question, expected = _asked(parsed, console, opened, now, planning.REPLICATIONS)
        found = working.decided(
            settings, console, question, parsed.date, expected.origin,
            exhaustive=parsed.exhaustive, with_settings=parsed.with_settings,
        )  # fmt: skip
        if parsed.json != "-":
            terminal.print_switch(console, found, opened.data.units, opened.data.given)
    write_json(parsed, found)


def _coming(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    console = beside_json(parsed, console)
    with open_site(settings, parsed.site) as opened:
        tomorrow = settings.today_date(opened.data.site.timezone) + timedelta(days=1)
        belief = working.belief_of(console, opened)
        found = working.ahead(settings, console, opened, parsed.date or tomorrow, belief)
        if parsed.json != "-":
            terminal.print_coming(console, found, opened.data.units, opened.data.given)
    write_json(parsed, found)


def _trace(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    changes = changes_of(parsed.set)
    with open_site(settings, parsed.site) as opened:
        say_changes(console, changes, opened.data.units)
        rows = trace.trace_rows(
            opened.data,
            parsed.date,
            Scenario(_("trace"), parsed.rule, parsed.cloth, changes),
            parsed.seed,
            parsed.expect,
            working.belief_of(console, opened),
        )
        text = trace.trace_csv(rows)
    Path(parsed.csv).write_text(text, encoding="utf-8", newline="")
    count = text.count("\r\n") - 1
    console.print(_("{count} rows written to {file}.", count=count, file=parsed.csv))


def _import(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
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


def _export(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    with open_site(settings, parsed.site) as opened:
        write_folder(Path(parsed.folder), opened.data)
    console.print(_("{name} is written to {folder}.", name=parsed.site, folder=parsed.folder))


def _check(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    with open_site(settings, parsed.site) as opened:
        name = opened.data.site.name
    console.print(_("{name}: no problem found.", name=name))


def _serve(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    page = ""
    if parsed.site:
        if Path(parsed.site).is_dir():
            raise Refused(
                _("{site} is a folder: store it with clothcast import first.", site=parsed.site)
            )
        with open_site(settings, parsed.site) as opened:
            stored = reading.find(opened.session, parsed.site)
            page = f"{stored.slug}/today"
    listen(settings, console, page)


def _demo(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    if not parsed.plan_only:
        check_port(settings)
    database = open_stored(settings)
    with database.session() as session:
        gate = gate_for(session, settings)
        stored, view = workspace.bring_demo(session, gate, settings.today_date())
        found, question, expected = view.result, view.asked.to_compare, view.asked.expected
        if found is None and question is not None and expected is not None:
            first = planning.first_stage(question)
            found = working.planned(settings, console, first, expected)
            # The page refines it once it is opened.
            is_final = first == question
            gate.store_result(view.key, stored.id, view.day, write(found), is_final=is_final)
        if found is not None:
            terminal.print_comparison(console, found, stored.data.units)
    database.close()
    if not parsed.plan_only:
        listen(settings, console, f"{stored.slug}/plan/{view.day}")


def run() -> NoReturn:
    """Entry of ``python -m app.cli.main``."""
    sys.exit(main())


if __name__ == "__main__":
    run()
