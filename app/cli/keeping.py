"""Commands for whoever keeps the machine: back up, restore, verify."""

from __future__ import annotations

import argparse
from pathlib import Path

from rich.console import Console

from app.catalogue import _, _n
from app.cli.serving import Refused
from app.settings import Settings
from app.sites import keeping


def backup(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Copies the database, which may be in use, and says what looking through the copy found."""
    path = settings.database_path
    if not path.exists():
        raise Refused(_("There is no database {path} yet.", path=path))
    folder = Path(parsed.folder) if parsed.folder else keeping.backups_of(path)
    made = keeping.back_up(path, folder, settings.clock())
    console.print(_("Backup: {file}", file=made.backup.path), soft_wrap=True)
    _tell(console, made.found)


def restore(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Puts a backup in the place of the database, which is kept under another name."""
    path = settings.database_path
    settings.data_dir.mkdir(parents=True, exist_ok=True)
    found, aside = keeping.restore(Path(parsed.file), path, settings.clock())
    console.print(_("Restored: {file}", file=path), soft_wrap=True)
    if aside is not None:
        console.print(_("What was there before is kept as {file}", file=aside), soft_wrap=True)
    _tell(console, found)


def verify(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Follows the history of the database, or of a backup, from its first row to its last."""
    try:
        against = keeping.typed(parsed.against) if parsed.against else ""
    except ValueError as fault:
        raise Refused(str(fault)) from None
    if parsed.file:
        found = keeping.looked_through(Path(parsed.file), against)
    else:
        found = keeping.verified(settings.database_path, against)
    if not found.is_whole:
        raise Refused("\n".join(_(one.sentence, **one.values) for one in found.breaks))
    _tell(console, found)
    if found.held_at is not None:
        said = _(
            "It ended with {value} at {at} UTC.",
            value=parsed.against,
            at=f"{found.held_at:%F %H:%M}",
        )
        console.print(said, soft_wrap=True)


def upgrade(parsed: argparse.Namespace, settings: Settings, console: Console) -> None:
    """Brings the database to this Clothcast's shape, with a copy first, and says how to go back."""
    path = settings.database_path
    done = keeping.upgrade(path, settings.clock())
    if not keeping.can_keep(settings.data_dir):
        raise Refused(_("The data folder {folder} can’t be written.", folder=settings.data_dir))
    console.print(_("Backup: {file}", file=done.backup.path), soft_wrap=True)
    if done.before == done.now:
        console.print(_("The database has the shape of this Clothcast already."), soft_wrap=True)
    else:
        console.print(
            _("Brought from {before} to {now}.", before=done.before, now=done.now), soft_wrap=True
        )
    _tell(console, done.found)
    console.print(_("It is ready: clothcast serve."), soft_wrap=True)
    back = _(
        "To go back, give this command in the folder of the Clothcast of before: clothcast "
        "restore {file}",
        file=done.backup.path,
    )
    console.print(back, soft_wrap=True)


def _tell(console: Console, found: keeping.Verified) -> None:
    said = _n(
        "The history of one row is whole.", "The history of {count} rows is whole.", found.rows
    )
    console.print(said, soft_wrap=True)
    console.print(_("Its last value: {value}", value=found.end), soft_wrap=True)
