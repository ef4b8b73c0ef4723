"""The trade-off of a day as CSV: a row a rule."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.files.csv_cells import Written, csv_text

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
    trade_off, chosen = found["trade_off"], found["chosen"]["text"]
    head = [*(HEADS[name] for name in trade_off["columns"]), "advised"]
    return csv_text(
        head, ([*map(_plain, row), _plain(row[0] == chosen)] for row in trade_off["points"])
    )


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return Written(f"{value:.6g}")
    return "" if value is None else str(value)
