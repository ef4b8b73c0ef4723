"""What commands read alike: days, counts and changes of inputs; and where their JSON goes."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

from app.answers.serial import write
from app.catalogue import _
from sim.checks import or_refusal
from sim.errors import InputError, InputProblem, quoted
from sim.inputs import INPUTS, Value, unknown_input
from sim.units import BY_NAME, parse_day, whole_number


def day_of(text: str) -> date:
    """A date as 2026-07-18; raises ArgumentTypeError for anything else."""
    try:
        return parse_day(text)
    except ValueError as fault:
        raise argparse.ArgumentTypeError(str(fault)) from None


def count_between(low: int, high: int) -> Callable[[str], int]:
    """A reader of whole numbers from low to high; it raises ArgumentTypeError."""

    def parse(text: str) -> int:
        number = whole_number(text)
        if number is None or not low <= number <= high:
            shown = quoted(text)
            raise argparse.ArgumentTypeError(f"“{shown}” can't be used; give {low} to {high:,}")
        return number

    return parse


def changes_of(pairs: Sequence[str]) -> dict[str, Value]:
    """Inputs by name from texts such as ``car_spacing_m=6`` or ``car_spacing_m=20 ft``.

    A bare number is in the unit that the name ends with.

    Raises:
        InputError: with every problem.
    """
    changes: dict[str, Value] = {}
    problems: list[InputProblem] = []
    for pair in pairs:
        name, equals, text = pair.partition("=")
        if not equals:
            sentence = "--set {pair}: write it as NAME=VALUE."
            problems += or_refusal("set", pair, [InputProblem("set", sentence, {"pair": pair})])
        elif name not in INPUTS:
            problems += or_refusal("set", pair, [unknown_input(name)])
        else:
            try:
                changes[name] = INPUTS[name].parse(text, BY_NAME)
            except InputError as fault:
                problems += or_refusal(name, text, fault.problems)
    if problems:
        raise InputError(problems)
    return changes


def say_changes(console: Console, changes: Mapping[str, Value], units: str) -> None:
    """Prints what was understood of each changed input, with its unit in the units of the site."""
    for name, value in changes.items():
        row = INPUTS[name]
        shown = row.with_unit(value, units) or _("none")
        words = _("{name}: {label} {value}.", name=name, label=_(row.label), value=shown)
        console.print(words, style="dim")


def beside_json(parsed: argparse.Namespace, console: Console) -> Console:
    """Where to print: not on the output if that is for whoever reads the JSON."""
    return Console(stderr=True, highlight=False) if parsed.json == "-" else console


def write_json(parsed: argparse.Namespace, found: object) -> None:
    """Write an answer where `--json` says; nothing without it."""
    text = write(found, indent=1)
    if parsed.json == "-":
        print(text)
    elif parsed.json:
        Path(parsed.json).write_text(text + "\n", encoding="utf-8")
