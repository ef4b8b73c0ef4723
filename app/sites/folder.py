"""A site as a folder, the same both ways: `site.toml`, and files of its past beside it."""

from __future__ import annotations

import dataclasses
import stat
from dataclasses import dataclass
from pathlib import Path

from app.books import BOOKS, csv_of
from app.files.csv_table import LIMIT_BYTES, too_large
from app.files.hourly import read_counts, read_weather
from app.sites.checks import check_storable
from app.sites.past import counts_csv, weather_csv
from app.sites.toml import FILE as SITE_FILE
from app.sites.toml import read_site_text, site_text
from sim.errors import InputError, InputProblem
from sim.inputs import KEPT, Site, SiteData

COUNTS_FILE = "counts.csv"
WEATHER_FILE = "weather.csv"


@dataclass(frozen=True, slots=True)
class FolderPreview:
    """What a folder holds: as much of the site as could be read, every problem, and notes."""

    data: SiteData
    problems: tuple[InputProblem, ...]
    notes: tuple[InputProblem, ...]


def read_folder(path: Path) -> SiteData:
    """The site that a folder holds. All but `site.toml` may be missing.

    Raises:
        InputError: with every problem of the files at once, each with file and line.
    """
    preview = look_into(path)
    if preview.problems:
        raise InputError(preview.problems)
    return preview.data


def look_into(path: Path) -> FolderPreview:
    """As `read_folder`, but problems are told instead of raised, and with notes on what is fine."""
    problems: list[InputProblem] = []
    raw = _read(path, SITE_FILE, problems)
    if raw is None:
        if not problems:
            sentence = "The folder {path} has no site.toml. A site is a folder with that file."
            if not path.is_dir():
                sentence = "There is no folder {path}. A site is a folder with a site.toml."
            problems.append(InputProblem("file", sentence, {"path": str(path)}, SITE_FILE))
        return FolderPreview(SiteData(Site(name="?")), tuple(problems), ())
    data, found = read_site_text(raw)
    problems += found
    notes: list[InputProblem] = []
    site = data.site
    # With a time zone that can't be used the hourly files are looked at all the same.
    bad_zone = any(p.field == "timezone" for p in check_storable(site))
    timezone = "UTC" if bad_zone else site.timezone
    history = data.history
    counts_raw = _read(path, COUNTS_FILE, problems)
    if counts_raw is not None:
        counts = read_counts(counts_raw, timezone, site.line.open_h, site.line.close_h)
        problems += counts.problems
        notes += counts.notes
        counted, hours = counts.history.counted, counts.history.counts
        history = dataclasses.replace(history, counted=counted, counts=hours)
    weather_raw = _read(path, WEATHER_FILE, problems)
    if weather_raw is not None:
        weather = read_weather(weather_raw, timezone, site.drying.pressure_pa)
        problems += weather.problems
        notes += weather.notes
        history = dataclasses.replace(history, weather=weather.history.weather)
    data = dataclasses.replace(data, history=history)
    for book in BOOKS.values():
        files = {rows.file: _read(path, rows.file, problems) for rows in book.rows}
        data, bad, told = book.read(files, data)
        problems += bad
        notes += told
    return FolderPreview(data, tuple(problems), tuple(notes))


def write_folder(path: Path, data: SiteData) -> None:
    """Writes a site as a folder, made if it is not there; its files are replaced.

    Raises:
        InputError: if the folder can't be written.
    """
    history, timezone = data.history, data.site.timezone
    texts = {
        SITE_FILE: site_text(data),
        COUNTS_FILE: counts_csv(history, timezone, by_hour=True),
        WEATHER_FILE: weather_csv(history, timezone, by_hour=True),
    }
    for rows in KEPT:
        items = rows.of(data)
        if items or (path / rows.file).exists():
            texts[rows.file] = csv_of(rows, items)
    try:
        path.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (path / name).write_bytes(text.encode("utf-8"))
    except OSError as fault:
        sentence = "The folder {path} can't be written: {fault}. Choose another one."
        filling = {"path": str(path), "fault": fault.strerror or "unknown"}
        raise InputError([InputProblem("file", sentence, filling)]) from fault


def _read(path: Path, name: str, problems: list[InputProblem]) -> bytes | None:
    """A file of the folder; None if it is not there, or with a problem if it can't be read."""
    try:
        # Looked at before it is opened, and never read to an end that may not come: a pipe waits
        # for somebody to write, and a link may lead to a device.
        found = (path / name).stat()
        if not stat.S_ISREG(found.st_mode) and not stat.S_ISDIR(found.st_mode):
            sentence = "This is no file with an end that could be read. Put a plain file there."
            problems.append(InputProblem("file", sentence, {}, name))
            return None
        with (path / name).open("rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
        if len(raw) > LIMIT_BYTES:
            problems.append(too_large(max(found.st_size, len(raw)), name))
            return None
        return raw
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as fault:
        sentence = "The file can't be read: {fault}."
        filling = {"fault": fault.strerror or "unknown"}
        problems.append(InputProblem("file", sentence, filling, name))
        return None
