"""What a change does to a day's figures: the sentence, the table, the charts, what to keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.answers.change import SHOWN
from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.cautions import Notice, belt, safety_device, set_change, shaping_sensor
from app.pages.plan.change_form import ChangeRead
from app.pages.plan.form import TRIED, ScenarioTyped, field_of
from app.pages.plan.table import Head, Row, comparison_table
from app.words.numbers import whole
from app.words.phrases import Spoken
from sim.decide.answer import Comparison
from sim.inputs import MOST_SCENARIOS
from sim.units import NBSP, UNITS

MOST_TOLD = 3
"""Figures that the sentence tells of."""


@dataclass(frozen=True, slots=True)
class ChangeAnswer:
    """The answer to a change.

    Attributes:
        says: the answer in a sentence, and what it is made of.
        rows: a figure each, as it is and as changed; empty while nothing is changed.
        keep: name and value of the hidden fields by which the plan's form takes it over; empty
            where there is nothing to take over, for which `keep_note` has the reason.
    """

    says: Spoken
    heads: tuple[Head, ...] = ()
    rows: tuple[Row, ...] = ()
    charts: tuple[Chart, ...] = ()
    notices: tuple[Notice, ...] = ()
    keep: tuple[tuple[str, str], ...] = ()
    keep_note: str = ""


def nothing_changed() -> ChangeAnswer:
    """The answer while everything stands as in the plan."""
    return ChangeAnswer(Spoken(_("Nothing is changed yet."), ""))


def change_answer(
    comparison: Comparison,
    read: ChangeRead,
    day_line: str,
    scenarios: int,
    system: str,
    with_charts: bool,
) -> ChangeAnswer:
    """What a change does.

    Args:
        comparison: what is there and what is tried, see `app.answers.change.Tries.answer`.
        day_line: what is expected of the changed day, as it could be typed; empty where the day
            stays as it is.
        scenarios: how many the plan has.
    """
    table = comparison_table(comparison, system)
    rows = {row.info.name: row for group in table.every for row in group.rows}
    shown = tuple(rows[name] for name in SHOWN)
    present, changed = (replace(head, chosen=False) for head in table.heads)
    if day_line:
        present = replace(present, label=_with_day(present.label, _("the day as expected")))
        day = _("the day with {day}", day=day_line)
        changed = replace(changed, label=_with_day(changed.label, day))
    keep, note = _keep(read, day_line, scenarios)
    return ChangeAnswer(
        _says(shown, comparison, bool(day_line), system),
        (present, replace(changed, name=_("As changed"))),
        shown,
        _charts(comparison) if with_charts else (),
        _notices(read),
        keep,
        note,
    )


def _with_day(label: str, day: str) -> str:
    return "; ".join(filter(None, [label, day]))


def _charts(comparison: Comparison) -> tuple[Chart, ...]:
    first, changed = comparison.columns
    scenario = replace(changed.scenario, name=_("As changed"))
    named = replace(comparison, columns=(first, replace(changed, scenario=scenario)))
    return hourly_charts(named)


_TOLD = ("damp_share", "margin", "cars_lost", "wait_p90_s", "cars_per_hour")
"""Figures that are told of first, as far as they move by enough to be a reason."""


def _says(rows: Sequence[Row], comparison: Comparison, other_day: bool, system: str) -> Spoken:
    """The figures that move by enough to say so; reasons to act first."""
    apart = comparison.columns[1].apart

    def rank(row: Row) -> tuple[bool, int]:
        name = row.info.name
        return not apart(name).is_strong, _TOLD.index(name) if name in _TOLD else len(SHOWN)

    telling = sorted((row for row in rows if not row.cells[1].plain), key=rank)
    said = [_moves(row, system) for row in telling[:MOST_TOLD]]
    if not said:
        is_unsure = any(apart(row.info.name).word == "can’t tell" for row in rows)
        said = [
            _("What it does can’t be told from so few days.")
            if is_unsure
            else _("Hardly anything changes.")
        ]
    days = whole(comparison.days)
    if comparison.sites:
        made = _(
            "A quick answer from {days} days at {sites} sites like yours; it isn’t stored.",
            days=days,
            sites=comparison.sites,
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


def _moves(row: Row, system: str) -> str:
    present, changed = row.cells
    unit = "" if row.info.unit in ("cars", "people") else _(UNITS[row.info.unit].symbol(system))
    return _(
        "{figure}: {changed} instead of {present}, {word}.",
        figure=_(row.info.label),
        changed=f"{changed.value}{NBSP}{unit}" if unit else changed.value,
        present=present.value,
        word=changed.word,
    )


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
