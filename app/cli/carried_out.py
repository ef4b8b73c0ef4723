"""A command that was typed, carried out, and its refusals as sentences."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable

from rich.console import Console

from app.cli import commands, keeping
from app.cli.serving import Refused
from app.settings import BadSettings, Settings, read_settings
from app.sites.changes import Stale
from app.sites.reading import CannotOpen
from sim.errors import InputError

Run = Callable[[argparse.Namespace, Settings, Console], None]
"""What carries a command out."""


def carry_out(parsed: argparse.Namespace) -> int:
    """Run the function of `commands` or `keeping` that a command names; returns the exit code."""
    # Where the output is for whoever reads the JSON, people are told beside it.
    is_beside = getattr(parsed, "json", None) == "-"
    console = Console(stderr=is_beside, highlight=False, soft_wrap=False)
    room = commands if hasattr(commands, parsed.run) else keeping
    run: Run = getattr(room, parsed.run)
    try:
        given = {
            name: value
            for name in ("today", "host", "port", "certificate", "key", "links_only", "log_json")
            if (value := getattr(parsed, name, None)) is not None
        }
        run(parsed, read_settings(**given), console)
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
