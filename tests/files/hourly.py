"""Short ways to read an hourly file and to say what it led to, for the tests of such files."""

from __future__ import annotations

from collections.abc import Iterable

from app.files.hourly import Preview, read_counts, read_weather
from sim.errors import InputProblem

NEW_YORK = "America/New_York"


def counts(
    text: str | bytes,
    counted: str | None = None,
    timezone: str = NEW_YORK,
    hours: tuple[float, float] = (7.0, 9.0),
) -> Preview:
    """A file of counts read for a site open from 7 to 9."""
    raw = text.encode() if isinstance(text, str) else text
    return read_counts(raw, timezone, *hours, counted)


def weather(text: str | bytes) -> Preview:
    """A file of weather read for a site in New York."""
    return read_weather(text.encode() if isinstance(text, str) else text, NEW_YORK)


def told(problems: Iterable[InputProblem]) -> list[str]:
    """Problems as a reader sees them."""
    return [str(problem).replace("\u00a0", " ") for problem in problems]


def cars(preview: Preview) -> list[int]:
    """The counts alone."""
    return [row.cars for row in preview.history.counts]
