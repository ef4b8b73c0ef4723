"""A site as a folder, the same both ways: `site.toml`, and files of its past beside it."""

from __future__ import annotations

import dataclasses
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from app.books.books import BOOKS, csv_of
from app.files.csv_table import LIMIT_BYTES, too_large
from app.files.hourly import SiteClock, read_counts, read_weather
from app.sites.checks import check_storable
from app.sites.toml import FILE as SITE_FILE
from app.sites.toml import read_site_text, site_text
from sim.errors import InputError, InputProblem
from sim.inputs import KEPT, HourCount, HourWeather, Site, SiteData

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
        history = dataclasses.replace(history, counted=counts.counted, counts=counts.counts)
    weather_raw = _read(path, WEATHER_FILE, problems)
    if weather_raw is not None:
        weather = read_weather(weather_raw, timezone, site.drying.pressure_pa)
        problems += weather.problems
        notes += weather.notes
        history = dataclasses.replace(history, weather=weather.weather)
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
    history = data.history
    clock = SiteClock(data.site.timezone)
    cars = [str(row.cars) for row in history.counts]
    counts = _csv(f"cars_{history.counted}", history.counts, clock, cars)
    air = [_weather_cells(row) for row in history.weather]
    weather = _csv("temp_c,humidity_pct,rain_mm", history.weather, clock, air)
    texts = {SITE_FILE: site_text(data), COUNTS_FILE: counts, WEATHER_FILE: weather}
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


def _weather_cells(row: HourWeather) -> str:
    # Shifting the decimal point keeps every digit; multiplying by 100 would not.
    percent = format(Decimal(repr(row.humidity)).scaleb(2).normalize(), "f")
    return f"{_short(row.temp_c)},{percent},{_short(row.rain_mm)}"


def _short(value: float) -> str:
    return repr(float(value)).removesuffix(".0")


def _csv(
    columns: str,
    rows: Sequence[HourCount | HourWeather],
    clock: SiteClock,
    cells: Sequence[str],
) -> str:
    """Rows in order of time, each hour by date and hour.

    Only where the second of two equal hours stands without the first is the order of lines not
    enough to tell them apart; then every line has its local time with the UTC offset.
    """
    times = [(row.day, row.hour, row.fold) for row in rows]
    hours = set(times)
    alone = any(fold and (day, hour, 0) not in hours for day, hour, fold in hours)
    lines = [f"start,{columns}" if alone else f"date,hour,{columns}"]
    for row, rest in zip(rows, cells, strict=True):
        time = (
            clock.offset_text((row.day, row.hour, row.fold)) if alone else f"{row.day},{row.hour}"
        )
        lines.append(f"{time},{rest}")
    return "\n".join(lines) + "\n"
