"""The guide to every input, written from the table of inputs: `make guide` makes it anew."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from app.catalogue import _
from sim.inputs import CLASS_INPUTS, GROUP_INPUTS, GROUPS, LONGEST_WORDS, Entry, Value
from sim.units import NBSP

GUIDE = Path(__file__).resolve().parents[2] / "guide" / "inputs.md"


def input_guide() -> str:
    """The guide as Markdown: a table a group of inputs, a row an input, in the table's order."""
    parts = [
        "# " + _("Every input"),
        _(
            "Each input of the Site page, as `site.toml`, `--set NAME=VALUE` and the form take it. "
            "Values are in SI with US units in brackets. A bare number has the unit that the name "
            "ends with, so `patience_median_s` is in seconds, and a share without one goes from 0 "
            "to 1; on a form, the unit beside the field counts. With its unit it may be typed "
            "anywhere, as in `95 ft/min`, `2 min` or `30 %`. A guess comes with the range that "
            "holds it with 95 % probability before the site has measured anything; plans draw it "
            "from there until the site enters its own."
        ),
        _(
            "A timetable reads `2; 11:00 3; 18:00 2`: from opening 2, from 11:00 3, from 18:00 2. "
            "A list of measured times reads `41 38.5 52`."
        ),
    ]
    for group in GROUPS:
        parts += ["## " + _(group.heading), _table(GROUP_INPUTS[group.key].values())]
    parts += [
        "## " + _("Vehicle classes"),
        _("Each class has a row of its own; the shares of all classes sum to 1."),
        _table(CLASS_INPUTS.values()),
    ]
    return "\n\n".join(parts) + "\n"


def _table(entries: Iterable[Entry]) -> str:
    head = [_("Name"), _("What it is"), _("Range"), _("Default"), _("95 % range"), _("Source")]
    lines = [_row(head), _row(["---"] * len(head))]
    lines += [_row(_cells(entry)) for entry in entries]
    return "\n".join(lines)


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _cells(entry: Entry) -> list[str]:
    what = _(entry.label) + (f". {_(entry.help)}" if entry.help else "")
    prior = ""
    if entry.prior is not None:
        prior = _span(entry, entry.prior.low, entry.prior.high)
    return [f"`{entry.name}`", what, _allowed(entry), _default(entry), prior, _(entry.source)]


def _allowed(entry: Entry) -> str:
    if entry.kind == "flag":
        return _("yes or no")
    if entry.kind == "choice":
        return ", ".join(f"`{key}` ({_(words)})" for key, words in entry.choices)
    if entry.kind == "words":
        return _("1 to {most} letters", most=LONGEST_WORDS)
    return _span(entry, entry.low, entry.high)


def _default(entry: Entry) -> str:
    if entry.is_open(entry.default):
        return _(entry.follows)
    if entry.default == () or entry.default == "":
        return _("none")
    return _both(entry, (entry.default,))


def _span(entry: Entry, low: float, high: float) -> str:
    return _both(entry, (low, high))


def _both(entry: Entry, values: tuple[Value, ...]) -> str:
    """Values in SI, and in US units where those read differently."""
    si, us = (_shown(entry, values, system) for system in ("si", "us"))
    return si if si == us else f"{si} ({us})"


def _shown(entry: Entry, values: tuple[Value, ...], system: str) -> str:
    text = _(" to ").join(entry.text(value, system) for value in values)
    symbol = entry.unit.symbol(system) if entry.is_number else ""
    return f"{text}{NBSP}{symbol}" if symbol else text


def main() -> None:
    """Writes the guide into `app/guide`."""
    GUIDE.write_text(input_guide(), encoding="utf-8")


if __name__ == "__main__":
    main()
