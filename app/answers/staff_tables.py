"""Who is needed on a day as a table, for CSV and spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from app.catalogue import _
from app.files.sheets import Sheet


def staff_sheets(found: Mapping[str, Any]) -> tuple[Sheet, ...]:
    """Every table of the answer: people by half-hour, and one person more or fewer by hour."""
    return people_sheet(found), _effects(found)


def people_sheet(found: Mapping[str, Any]) -> Sheet:
    """A row a half-hour: people needed, planned, by role, and what came and waited."""
    called: Mapping[str, str] = found["called"]
    heads = (
        _("From"), _("Needed"), _("Planned"), *called.values(), _("Cars that come"),
        _("Late share"), _("Cars lost"), _("Time with a full stack"), _("Use of people"),
    )  # fmt: skip
    rows = tuple(
        (
            timedelta(hours=row["start_h"]),
            row["people"],
            row["planned"],
            *(row["roles"][role] for role in called),
            row["arrived"],
            row["late_share"],
            row["lost"],
            row["full_share"],
            row["use"],
        )
        for row in found["half_hours"]
    )
    return Sheet(_("People by half-hour"), heads, rows)


def _effects(found: Mapping[str, Any]) -> Sheet:
    heads = (
        _("Hour"), _("People"), _("Wait of 9 cars in 10, s"), _("± half its 95 % interval"),
        _("Cars lost"), _("±"), _("Margin"), _("±"),
    )  # fmt: skip
    names = ("wait_p90_s", "cars_lost", "margin")
    rows = tuple(
        (
            timedelta(hours=one["hour"]),
            one["change"],
            *(one[name][part] for name in names for part in ("mean", "half")),
        )
        for one in found["effects"]
    )
    return Sheet(_("One more or fewer"), heads, rows)
