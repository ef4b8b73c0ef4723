"""What a change does to a day's figures: the sentence, the table, the charts, what to keep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.answers.change import SHOWN
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import Notice, belt, safety_device, set_change, shaping_sensor
from app.pages.plan.change_form import ChangeRead
from app.pages.plan.form import TRIED, ScenarioTyped, field_of
from app.pages.plan.table import Head, Row, comparison_table
from app.words.columns import Spoken, difference_of, is_strong
from app.words.figures import interval, plain_number, printed_step, shown, signed
from sim.day.figures import FIGURES
from sim.inputs import MOST_SCENARIOS
from sim.units import NBSP, UNITS

MOST_TOLD = 3
"""Figures that the sentence tells of."""


@dataclass(frozen=True, slots=True)
class Move:
    """What a change does to a figure, all as shown text.

    Attributes:
        likely: where the difference may lie at the site; empty where no guess moves it.
        word: plain word on the difference; `plain` says that it is no reason to act, `strong`
            that it is one.
    """

    name: str
    label: str
    beside: str
    unit: str
    present: str
    changed: str
    difference: str
    likely: str
    word: str
    plain: bool
    strong: bool


@dataclass(frozen=True, slots=True)
class ChangeAnswer:
    """The answer to a change.

    Attributes:
        says: the answer in a sentence, and what it is made of.
        moves: a row a figure; empty while nothing is changed.
        keep: name and value of the hidden fields by which the plan's form takes it over; empty
            where there is nothing to take over, for which `keep_note` has the reason.
    """

    says: Spoken
    heads: tuple[Head, ...] = ()
    moves: tuple[Move, ...] = ()
    charts: tuple[Chart, ...] = ()
    notices: tuple[Notice, ...] = ()
    keep: tuple[tuple[str, str], ...] = ()
    keep_note: str = ""


def nothing_changed() -> ChangeAnswer:
    """The answer while everything stands as in the plan."""
    return ChangeAnswer(Spoken(_("Nothing is changed yet."), ""))


def change_answer(
    content: Mapping[str, Any],
    read: ChangeRead,
    day_line: str,
    scenarios: int,
    system: str,
    with_charts: bool,
) -> ChangeAnswer:
    """What a change does.

    Args:
        content: the comparison, see `app.answers.change.Tries.answer`.
        day_line: what is expected of the changed day, as it could be typed; empty where the day
            stays as it is.
        scenarios: how many the plan has.
    """
    table = comparison_table(content, FIGURES, system)
    rows = {row.name: row for group in table.every for row in group.rows}
    column = content["scenarios"][1]
    moves = tuple(_move(rows[name], column, system) for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    other = changed.label
    if day_line:
        present = replace(present, label=_("{label}; the day as expected", label=present.label))
        other = _("{label}; the day with {day}", label=other, day=day_line)
    changed = replace(changed, name=_("As changed"), label=other.removeprefix("; "))
    keep, note = _keep(read, day_line, scenarios)
    return ChangeAnswer(
        _says(moves, content, bool(day_line)),
        (replace(present, label=present.label.removeprefix("; ")), changed),
        moves,
        _charts(content) if with_charts else (),
        _notices(read),
        keep,
        note,
    )


def _charts(content: Mapping[str, Any]) -> tuple[Chart, ...]:
    first, changed = content["scenarios"]
    return hourly_charts(
        content["limits"],
        content["conditions"]["arrivals_per_h"],
        [(first["name"], first["hours"]), (_("As changed"), changed["hours"])],
    )


def _move(row: Row, column: Mapping[str, Any], system: str) -> Move:
    present, changed = row.cells
    info, moved = FIGURES[row.name], difference_of(column, row.name)
    likely = ""
    ends = interval(moved, "site uncertainty")
    if ends is not None and moved.get("value") is not None:
        value = shown(float(moved["value"]), info.unit, system, difference=True)
        step = printed_step(moved, info.unit, system, value)
        low, high = (signed(shown(x, info.unit, system, difference=True), step) for x in ends)
        likely = "" if low == high else _("{low} to {high}", low=low, high=high)
    symbol = "" if info.unit in ("cars", "people") else _(UNITS[info.unit].symbol(system))
    return Move(
        row.name, row.label, row.beside, symbol, present.value, changed.value,
        changed.difference, likely, changed.word, changed.plain, is_strong(column, row.name),
    )  # fmt: skip


_TOLD = ("damp_share", "margin", "cars_lost", "wait_p90_s", "cars_per_hour")
"""Figures that are told of first, as far as they move by enough to be a reason."""


def _says(moves: Sequence[Move], content: Mapping[str, Any], other_day: bool) -> Spoken:
    """The figures that move by enough to say so; reasons to act first."""
    telling = [move for move in moves if not move.plain]
    telling.sort(
        key=lambda move: (not move.strong, _TOLD.index(move.name) if move.name in _TOLD else 9)
    )
    said = [
        _(
            "{figure}: {changed} instead of {present}, {word}.",
            figure=move.label,
            changed=move.changed + (f"{NBSP}{move.unit}" if move.unit else ""),
            present=move.present,
            word=_(move.word),
        )
        for move in telling[:MOST_TOLD]
    ]
    if not said:
        unsure = any("tell" in move.word for move in moves)
        said = [
            _("What it does can’t be told from so few days.")
            if unsure
            else _("Hardly anything changes.")
        ]
    days = plain_number(float(content["days"]), 0)
    if content["sites"]:
        made = _(
            "A quick answer from {days} days at {sites} sites like yours; it isn’t stored.",
            days=days,
            sites=content["sites"],
        )
    else:
        made = _("A quick answer from {days} days; it isn’t stored.", days=days)
    if other_day:
        day = _(
            "The first column has the day as expected, the second the changed day with the same "
            "chances."
        )
        made = f"{made} {day}"
    return Spoken(said[0], " ".join(said[1:]), made)


def _notices(read: ChangeRead) -> tuple[Notice, ...]:
    """The cautions that a change calls for."""
    first, changed = read.first.changes, read.changed.changes
    found: list[Notice] = []
    if any(changed.get(n) != first.get(n) for n in ("conveyor_speed_m_s", "car_spacing_m")):
        found.append(belt())
    if read.changed.cloth:
        found.append(set_change())
    if changed.get("failed_sensor", "none") != "none":
        found += [shaping_sensor(), safety_device()]
    return tuple(found)


def _keep(
    read: ChangeRead, day_line: str, scenarios: int
) -> tuple[tuple[tuple[str, str], ...], str]:
    """Hidden fields for the plan's form, and what has to be said beside or instead of them."""
    note = ""
    if day_line:
        note = _(
            "A scenario can’t hold the day: to plan with it, type “{day}” under “What you expect "
            "instead”.",
            day=day_line,
        )
    if replace(read.changed, name=read.first.name) == read.first:
        return (), note
    if scenarios >= MOST_SCENARIOS:
        full = _("Six scenarios stand side by side already; remove one to add this.")
        return (), f"{full} {note}".strip()
    return _hidden(read.form), note


def _hidden(one: ScenarioTyped) -> tuple[tuple[str, str], ...]:
    rule = one.rule
    texts = {
        "name": one.name, "kind": rule.kind, "windows": rule.windows, "upper": rule.upper,
        "lower": rule.lower, "rule": rule.text, "cloth": one.cloth, "more": one.more, **one.inputs,
    }  # fmt: skip
    found = [(field_of(TRIED, name), text) for name, text in texts.items()]
    return (*found, *((field_of(TRIED, "classes"), key) for key in rule.classes))
