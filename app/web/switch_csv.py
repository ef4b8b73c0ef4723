"""The trade-off of a day as CSV: a row a rule."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

HEADS = {
    "rule": "rule",
    "label": "in words",
    "damp_share": "damp cars, share of cars washed",
    "full_share": "cars fully wiped, share of cars washed",
    "damp_cars": "damp cars a day",
    "full_cars": "cars fully wiped a day",
    "cost": "cost of the day ($)",
    "draws": "simulated days",
    "keeps": "keeps to the limits of switching",
    "undominated": "no other rule is better in both",
}


def switch_csv(found: Mapping[str, Any]) -> str:
    """Every rule kept of the trade-off, unrounded, and whether it is the advised one."""
    out = io.StringIO()
    write = csv.writer(out).writerow
    columns = found["trade_off"]["columns"]
    write([*(HEADS[name] for name in columns), "advised"])
    for row in found["trade_off"]["points"]:
        write([*map(_plain, row), _plain(row[0] == found["chosen"]["text"])])
    return out.getvalue()


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else "" if value is None else str(value)
