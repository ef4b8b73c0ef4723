"""The country of a site, by its time zone: whose public holidays it has."""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def _countries() -> dict[str, str]:
    """Country by name of time zone, as the table `zone.tab` of the IANA time zone database has it:
    a line a zone, its country in two letters of ISO 3166-1 first."""
    table = files("tzdata").joinpath("zoneinfo", "zone.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if line and not line.startswith("#"))
    return {row[2]: row[0] for row in rows}


def country_of(timezone: str) -> str:
    """Two letters of ISO 3166-1; empty for a zone that is no country's, such as UTC."""
    return _countries().get(timezone, "")
