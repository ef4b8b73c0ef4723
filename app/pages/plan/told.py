"""What is shown of a computed plan: on its page, on those of its versions, in a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _
from app.charts.by_hour import hourly_charts
from app.charts.marks import Chart
from app.pages.history import input_label, input_text
from app.pages.plan.change import ChangePart
from app.pages.plan.table import ComparisonTable, comparison_table
from app.sites.reading import StoredSite
from app.sites.rule_forms import words_of
from app.words.answer import Narrow, narrow_words, opening_words, turning_words
from app.words.dry import damp_words
from sim.decide.answer import Comparison, Opening
from sim.inputs import INPUTS, Scenario


@dataclass(frozen=True, slots=True)
class PlanTold:
    """What is shown of a plan that has been computed.

    Attributes:
        narrow: what widens the answer most and what would narrow it; None where that isn't known.
        origin: where the moisture of the cloth at opening comes from.
        refining: what becomes of the answer shown, while or because it is not the last one.
        dry: which car counts as damp; priced: which guesses its money turns on.
        change: the part “Try a change”.
    """

    table: ComparisonTable
    narrow: Narrow | None
    charts: tuple[Chart, ...]
    origin: str
    opening: Opening | None
    refining: str
    dry: str
    priced: str
    change: ChangePart | None


@dataclass(frozen=True, slots=True)
class ScenarioTold:
    """A scenario in words: its number, which chooses its mark and anchor, and label and value of
    everything that it says."""

    number: int
    name: str
    rows: tuple[tuple[str, str], ...]


def scenarios_told(scenarios: Sequence[Scenario], system: str) -> tuple[ScenarioTold, ...]:
    """The scenarios of a plan in words."""
    return tuple(_scenario(number, one, system) for number, one in enumerate(scenarios, start=1))


def _scenario(number: int, one: Scenario, system: str) -> ScenarioTold:
    rows = [(_("Wiping rule"), _(words_of(one.rule)))]
    if one.cloth:
        rows.append((_("Dry set put on"), one.cloth))
    for name, value in one.changes.items():
        row = INPUTS[name]
        rows.append((input_label(row, system), input_text(row, value, system)))
    return ScenarioTold(number, one.name, tuple(rows))


def told_of(
    site: StoredSite,
    found: Comparison,
    *,
    refining: str = "",
    change: ChangePart | None = None,
) -> PlanTold:
    """What is shown of a comparison at a site."""
    has_cars, data = any(found.conditions.arrivals_per_h), site.data
    return PlanTold(
        table=comparison_table(found, data.units),
        narrow=narrow_words(found) if has_cars else None,
        charts=hourly_charts(found) if has_cars else (),
        origin="" if found.opening is None else opening_words(found.opening),
        opening=found.opening,
        refining=refining,
        dry=damp_words(data.site, data.given, data.weighings, data.units),
        priced=turning_words("money", data.given),
        change=change,
    )
