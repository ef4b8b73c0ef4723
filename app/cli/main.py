"""The command line: `clothcast COMMAND`; SITE is a folder or the name of a stored site.

What may be typed stands here, so that help and wrong usage need nothing else of the program.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from datetime import date
from typing import NoReturn

from app.answers.sizes import FIRST_REPLICATIONS, SEASON_REPLICATIONS, SEED
from app.cli.options import OPTIONS
from app.files.stamps import ORDERS
from app.loading import loading
from sim.errors import quoted
from sim.inputs import COUNTS_OF
from sim.inputs.people import WISHES
from sim.units import parse_day, whole_number


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit code: 0 done, 1 refused with a sentence, 2 wrong usage."""
    parsed = _parser().parse_args(arguments)
    if not getattr(parsed, "serves", False) or getattr(parsed, "plan_only", False):
        return _carry_out(parsed)
    from app.answers.early import Early

    parsed.early = Early()
    try:
        return _carry_out(parsed)
    finally:
        parsed.early.end()


def _carry_out(parsed: argparse.Namespace) -> int:
    with loading():
        from app.cli.carried_out import carry_out  # all the rest of the program
    return carry_out(parsed)


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
    parsers = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, run: str, words: str, *examples: str) -> argparse.ArgumentParser:
        made = parsers.add_parser(
            name,
            help=words,
            description=words,
            epilog="Examples:\n" + "\n".join(f"  clothcast {line}" for line in examples),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        made.set_defaults(run=run)
        made.add_argument("--today", type=_day, metavar="D", help="take this day for today")
        return made

    demo_ = command(
        "demo",
        "demo",
        "Bring in the invented demo site, compare its peak day, serve the pages.",
        "demo",
        "demo --plan-only",
    )
    _serving(demo_)
    demo_.add_argument("--plan-only", action="store_true", help="end after the comparison")

    plan = command(
        "plan",
        "plan",
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
        "--replications", type=_count(1, 100_000), default=FIRST_REPLICATIONS,
        metavar="N",
        help="simulated days, from 256 on each at one of many sites like yours "
        "(default %(default)s)",
    )  # fmt: skip
    plan.add_argument("--json", metavar="FILE", help="also write the comparison; - for the output")
    plan.add_argument("--page", metavar="FILE", help="also write a page that needs no server")

    switch = command(
        "switch",
        "switch",
        "Find when to reduce wiping on a day, and when to go back.",
        "switch demo_site --date 2026-07-18",
        "switch demo_site --date 2026-07-18 --wish cost --exhaustive --json switch.json",
    )
    _day_of_site(switch)
    switch.add_argument(
        "--wish", choices=tuple(WISHES), metavar="W",
        help="mean, days or cost: what a rule is chosen by (default: as the site has it)",
    )  # fmt: skip
    _add_rule(switch, "wiping rule in use now", " during the day")
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
        "coming",
        "Plan each of 14 days, and count the days of a year that need switching.",
        "coming demo_site --today 2026-07-15",
        "coming 'Harbor Road' --json coming.json",
    )
    coming.add_argument("site", metavar="SITE")
    coming.add_argument("--date", type=_day, metavar="D", help="the first day (default tomorrow)")
    coming.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")
    cloth_ = command(
        "cloth",
        "cloth",
        "Say when to change the set on the wheel, and how long sets last.",
        "cloth demo_site",
        "cloth 'Harbor Road' --json cloth.json",
    )
    cloth_.add_argument("site", metavar="SITE")
    cloth_.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")
    staff = command(
        "staff",
        "staff",
        "Say who is needed on a day, by half-hour and role; or make a week's roster.",
        "staff demo_site --date 2026-07-18",
        "staff 'Harbor Road' --date 2026-07-18 --rule 'clock 12:00-15:30' --json staff.json",
        "staff demo_site --week 2026-07-20 --json roster.json",
    )
    _day_of_site(staff, or_week=True)
    _add_rule(staff, "wiping rule", "")
    staff.add_argument(
        "--as-planned", action="store_true",
        help="with --week: ask for the people planned, without working out who is needed",
    )  # fmt: skip
    staff.add_argument("--json", metavar="FILE", help="also write the answer; - for the output")
    year = command(
        "season",
        "season_of_site",
        "Work out a year: when sets are changed and laundered, what to order, what else helps.",
        "season demo_site",
        "season 'Harbor Road' --ics cloth.ics --xlsx season.xlsx --json season.json",
    )
    year.add_argument("site", metavar="SITE")
    year.add_argument(
        "--replications", type=_count(2, 1_000), default=SEASON_REPLICATIONS, metavar="N",
        help="simulated days of each day and rule (default %(default)s)",
    )  # fmt: skip
    year.add_argument("--json", metavar="FILE", help="also write the season; - for the output")
    year.add_argument("--csv", metavar="FILE", help="also write the days")
    year.add_argument("--xlsx", metavar="FILE", help="also write every table as a spreadsheet")
    year.add_argument(
        "--ics",
        metavar="FILE",
        help="also write the calendar; of a stored site what was written is kept, so that the "
        "next file moves entries instead of doubling them",
    )

    trace_ = command(
        "trace",
        "trace_day",
        "Write one simulated day car by car.",
        "trace demo_site --date 2026-07-18 --rule full --seed 1 --csv day.csv",
    )
    _day_of_site(trace_)
    _add_rule(trace_, "wiping rule", " during the day")
    trace_.add_argument("--csv", required=True, metavar="FILE", help="file to write")

    counts = command(
        "counts",
        "counts",
        "Say how a file of counts, as a till or controller writes it, is understood; or store it.",
        "counts demo_site till.csv",
        "counts 'Harbor Road' till.csv --order dmy --counted washed --store",
    )
    counts.add_argument("site", metavar="SITE")
    counts.add_argument("file", metavar="FILE")
    for key, (option, words) in OPTIONS.items():
        choices = {"order": ORDERS, "counted": COUNTS_OF}.get(key)
        counts.add_argument(
            option, dest=f"said_{key}", choices=choices, metavar=key.upper(), help=words
        )
    counts.add_argument("--store", action="store_true", help="store what can be used of it")
    counts.add_argument(
        "--replace-all", action="store_true", help="with --store: in place of all stored counts"
    )
    bring = command(
        "import", "bring_in", "Store a site's folder in the database.", "import my_site"
    )
    bring.add_argument("folder", metavar="FOLDER")
    export = command(
        "export",
        "export",
        "Write a site of the database as a folder.",
        "export 'Harbor Road' my_site",
    )
    export.add_argument("site", metavar="NAME")
    export.add_argument("folder", metavar="FOLDER")
    check = command("check", "check", "Name every problem of a site at once.", "check my_site")
    check.add_argument("site", metavar="SITE")
    serve = command(
        "serve", "serve", "Serve the pages.", "serve", "serve 'Harbor Road' --port 8080",
        "serve --host 0.0.0.0 --certificate server.crt --key server.key",
    )  # fmt: skip
    serve.add_argument("site", metavar="SITE", nargs="?", help="a site to open first")
    _serving(serve)
    people = command(
        "person",
        "person",
        "Say who has an account, or print a code by which somebody chooses a new password.",
        "person",
        "person 'Ann Lee'",
    )
    people.add_argument(
        "name", metavar="NAME", nargs="?",
        help="whose code; while nobody owns this installation, the first start’s without a name",
    )  # fmt: skip
    made = command(
        "certificate",
        "certificate",
        "Make a certificate for serving by HTTPS, signed by an authority that phones can trust.",
        "certificate wash.example 192.168.1.20",
    )
    made.add_argument(
        "names", nargs="+", metavar="NAME", help="host name or address that phones will open"
    )
    made.add_argument(
        "--anew", action="store_true",
        help="make a new authority too, which every phone then has to be told to trust",
    )  # fmt: skip
    copied = command(
        "backup",
        "backup",
        "Copy the database, which may be in use, and look the copy through.",
        "backup", "backup /mnt/stick",
    )  # fmt: skip
    copied.add_argument(
        "folder", metavar="FOLDER", nargs="?", help="where to (default: beside the database)"
    )
    back = command(
        "restore",
        "restore",
        "Put a backup in the place of the database, which is kept under another name.",
        "restore data/backups/clothcast-20260718T031200Z.sqlite3",
    )
    back.add_argument("file", metavar="FILE")
    command(
        "upgrade",
        "upgrade",
        "Bring the database of an older Clothcast to this one’s shape: copied and tried first.",
        "upgrade",
    )
    followed = command(
        "verify",
        "verify",
        "Follow the history of every change and say whether any of it was altered.",
        "verify", "verify --against '1234 5678 9012 3456 7890'",
    )  # fmt: skip
    followed.add_argument("file", metavar="FILE", nargs="?", help="a backup, in place of it")
    followed.add_argument(
        "--against", metavar="VALUE", default="",
        help="a value that a day sheet printed: say whether the history still goes back to it",
    )  # fmt: skip
    return top


def _day_of_site(made: argparse.ArgumentParser, or_week: bool = False) -> None:
    made.add_argument("site", metavar="SITE")
    # a group of one would call the option something else where it is missing
    when = made.add_mutually_exclusive_group(required=True) if or_week else made
    when.add_argument(
        "--date", type=_day, required=not or_week, metavar="D", help="the day, 2026-07-18"
    )
    if or_week:
        when.add_argument(
            "--week", type=_day, metavar="D", help="a day of a week: its days, and a roster"
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
        "--seed", type=_count(0, 2**63 - 1), default=SEED, metavar="S",
        help="root seed (default %(default)s)",
    )  # fmt: skip


def _serving(made: argparse.ArgumentParser) -> None:
    made.set_defaults(serves=True)
    made.add_argument("--host", help="address to serve at (default 127.0.0.1)")
    made.add_argument("--port", type=_count(0, 65535), help="port to serve at (default 8000)")
    made.add_argument("--certificate", metavar="F", help="serve by HTTPS with this certificate")
    made.add_argument("--key", metavar="F", help="and this key of it")
    made.add_argument(
        "--links-only", action="store_true", default=None,
        help="answer other machines only where they come by the link of a phone",
    )  # fmt: skip
    made.add_argument(
        "--log-json", action="store_true", default=None,
        help="write a log to the error output, a JSON object a line, with nothing of anybody",
    )  # fmt: skip


def _add_rule(made: argparse.ArgumentParser, rule: str, cloth: str) -> None:
    """The options of the rule and the dry sets of a day, with their words."""
    made.add_argument("--rule", default="full", metavar="R", help=f"{rule} (default full)")
    made.add_argument("--cloth", default="", metavar="C", help=f"dry sets put on{cloth}, as 13:00")


def _day(text: str) -> date:
    """A date as 2026-07-18; raises ArgumentTypeError for anything else."""
    try:
        return parse_day(text)
    except ValueError as fault:
        raise argparse.ArgumentTypeError(str(fault)) from None


def _count(low: int, high: int) -> Callable[[str], int]:
    """A reader of whole numbers from low to high; it raises ArgumentTypeError."""

    def parse(text: str) -> int:
        number = whole_number(text)
        if number is None or not low <= number <= high:
            shown = quoted(text)
            raise argparse.ArgumentTypeError(f"“{shown}” can't be used; give {low} to {high:,}")
        return number

    return parse


def run() -> NoReturn:
    """Entry of ``python -m app.cli.main``."""
    sys.exit(main())


if __name__ == "__main__":
    run()
