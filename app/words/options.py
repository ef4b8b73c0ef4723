"""Options on a season's peak days in words: what each does, what it costs, what is missed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from app.catalogue import _
from app.words.figures import plain_number, span
from app.words.phrases import about, joined
from app.words.why import Lines
from sim.day.figures import FIGURES
from sim.units import NBSP, quantity

Found = Mapping[str, Any]
OPTIONS = {
    "planned": "As planned",
    "dry_sets": "Dry sets that you own, during the day",
    "one_more_set": "One more set",
    "finisher": "One finisher more",
    "slower_belt": "A slower belt",
    "reduced": "Always reduced",
    "faster_idle": "The wheel faster between cars",
}
LONG_YEARS = 20.0
"""A pay-back beyond is not told in years."""


def percent(share: float | None) -> str:
    """A share as ``96 %``, with a digit more below 10 %."""
    if share is None:
        return "–"
    if 0.0 < share < 0.0005:
        return _("under {least}", least=f"0.1{NBSP}%")
    return f"{plain_number(100 * share, 1 if 0.0 < share < 0.1 else 0)}{NBSP}%"


def option_lines(found: Found, system: str) -> Lines:
    """What else could be done on peak days."""
    rows = tuple(_option_row(row, found, system) for row in found["options"])
    heads = (
        _("On peak days"), _("Damp cars"), _("Lost cars"), _("Cost a year more (90 % of sites)"),
        _("Pays back"), _("Keeps to all"),
    )  # fmt: skip
    return Lines(_options_say(found, system), heads, rows)


def _options_say(found: Found, system: str) -> str:
    allowed = allowed_words(found, system)
    if found["cheapest"] is None:
        near = min(found["options"], key=lambda row: (_worst(row, found), row["figures"]["cost"]))
        return _(
            "None of these keeps to everything that you allow on peak days ({allowed}). Nearest, "
            "by the limit that is missed most: {option}.",
            allowed=allowed,
            option=option_words(near, system),
        )
    best = found["options"][found["cheapest"]]
    return _(
        "Cheapest that keeps to what you allow on peak days ({allowed}): {option}.",
        allowed=allowed,
        option=option_words(best, system),
    )


def _missed(row: Mapping[str, Any], found: Found) -> dict[str, float]:
    """By how much each limit is missed, in shares of it."""
    over = {
        name: (row["figures"][name] or 0.0) / limit - 1.0 if limit > 0.0 else math.inf
        for name, limit in found["allowed"].items()
    }
    return {name: share for name, share in over.items() if share > 0.0 and row["figures"][name]}


def _worst(row: Mapping[str, Any], found: Found) -> tuple[float, ...]:
    """What is missed, the worst limit first."""
    return tuple(sorted(_missed(row, found).values(), reverse=True))


LIMITS = {
    "damp_share": "{value} damp",
    "cars_lost": "{value} lost",
    "wait_p90_s": "{value} of waiting for 90 of 100",
}
MISSED = {"damp_share": "damp", "cars_lost": "lost", "wait_p90_s": "wait"}


def allowed_words(found: Found, system: str) -> str:
    """What the manager allows on a day."""
    parts = [
        _(LIMITS[name], value=quantity(value, FIGURES[name].unit, 3).show(system))
        for name, value in found["allowed"].items()
    ]
    return _("at most {parts}", parts=joined(parts))


def option_words(row: Mapping[str, Any], system: str) -> str:
    """An option with its amount."""
    words, key, amount = _(OPTIONS[row["key"]]), row["key"], row["amount"]
    if key in ("dry_sets", "one_more_set"):
        times = joined([part.strip() for part in row["cloth"].split(";")])
        return _("{words}: hung at {times}", words=words, times=times)
    if key == "slower_belt":
        return f"{words}: {quantity(amount, 'speed', 3).show(system)}"
    if key == "faster_idle":
        return f"{words}: {quantity(amount, 'rotation', 3).show(system)}"
    return words


def _option_row(row: Mapping[str, Any], found: Found, system: str) -> tuple[str, ...]:
    figures = row["figures"]
    yearly = row["yearly"]
    cells = [
        option_words(row, system),
        f"{about(figures['damp_cars'])} ({percent(figures['damp_share'])})",
        about(figures["cars_lost"]),
    ]
    if yearly is None:
        cells += ["–", "–"]
    else:
        cells += [_yearly_words(yearly), _back_words(row)]
    missed = [_(MISSED[name]) for name in _missed(row, found)]
    keeps = _("yes") if row["keeps"] else _("no: {missed}", missed=joined(missed))
    return (*cells, keeps)


def _yearly_words(yearly: Mapping[str, Any]) -> str:
    site = next((i for i in yearly["intervals"] if i["kind"] == "site uncertainty"), None)
    value = yearly["value"]
    step = 100.0 if abs(value) < 10_000 else 1000.0
    text = plain_number(round(value / step) * step, 0)
    if site is None:
        return text
    return f"{text} ({span(site['low'], site['high'], step)})"


def _back_words(row: Mapping[str, Any]) -> str:
    """How long until what is spent once has come back, with its range over sites."""
    value, site = row["yearly"]["value"], row["yearly"]["sites_better"] or 0.0
    if row["once"] <= 0.0:
        if value < 0.0:
            return _("at once, at {share} of sites", share=percent(site))
        return _("no; at {share} of sites it would", share=percent(site))
    years = row["payback_years"]
    if years is None or years > LONG_YEARS:
        return _("never; at {share} of sites it would", share=percent(site))
    low, high = row["payback_low"], row["payback_high"]
    ends = sorted(end for end in (low, high) if end is not None)
    longest = plain_number(ends[-1], 1) if len(ends) == 2 else _("never")
    return _(
        "{years} years ({low} to {high})",
        years=plain_number(years, 1),
        low=plain_number(ends[0], 1),
        high=longest,
    )
