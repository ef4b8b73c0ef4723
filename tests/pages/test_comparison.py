"""The table of a comparison and the sentences that answer it, on invented comparisons."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from app.pages.plan.table import FigureRow, comparison_csv, comparison_table, hourly_csv
from app.words.answer import answer_sentences
from app.words.figures import FigureCell
from sim.day.figures import FIGURES, Figure, Range
from sim.decide.answer import Comparison
from sim.inputs import Value
from sim.units import MINUS, NBSP
from tests.pages import fixture_comparison as invented


def _row(day: Comparison, name: str, system: str = "us") -> FigureRow:
    table = comparison_table(day, system)
    return next(row for group in table.every for row in group.rows if row.info.name == name)


def _cell(day: Comparison, name: str, column: int, system: str = "us") -> FigureCell:
    return _row(day, name, system).cells[column]


# ---- the table -----------------------------------------------------------------------------------


def test_groups_and_heads_of_the_table() -> None:
    """The figures that decide stand under Line, Cloth and Money; the advised column is marked."""
    table = comparison_table(invented.peak_day(), "us")
    assert [group.title for group in table.groups] == ["Line", "Cloth", "Money"]
    assert [head.chosen for head in table.heads] == [False, False, True]
    assert [head.number for head in table.heads] == [1, 2, 3]
    assert table.heads[2].label == "reduced from 11:50 to 16:40, full before and after"
    assert not table.many
    shown = {row.info.name for group in table.every for row in group.rows}
    assert shown == set(invented.peak_day().columns[0].figures)


def test_a_cell_has_figure_day_range_difference_and_word() -> None:
    """A cell holds figure, day range, paired difference and plain word, each rounded by error."""
    first, _reduced, window = _row(invented.peak_day(), "cars_washed").cells
    assert (first.value, first.days) == ("1,827", "days 1,600–1,960")
    assert (first.difference, first.word) == ("", "")
    assert (window.value, window.difference, window.word) == ("1,840", "+13", "a little better")
    money = _cell(invented.peak_day(), "margin", 1)
    assert (money.difference, money.word, money.plain) == (f"{MINUS}$130", "can’t tell", True)


def test_units_follow_the_reader() -> None:
    """Water is in kg for a reader of SI and in lb for one of US units; minutes are the same."""
    assert _row(invented.peak_day(), "water_taken_kg", "si").beside == "kg"
    assert _row(invented.peak_day(), "water_taken_kg", "us").beside == "lb"
    assert _cell(invented.peak_day(), "water_taken_kg", 0, "si").value == "118"
    assert _cell(invented.peak_day(), "water_taken_kg", 0, "us").value == "261"
    assert _cell(invented.peak_day(), "wait_p90_s", 0).value == "11.2"


def test_what_a_rule_fixes_has_no_day_range() -> None:
    """All cars wiped in full is said to be by rule, without decimals."""
    cell = _cell(invented.peak_day(), "full_share", 0)
    assert (cell.value, cell.days) == ("100", "by rule")


def test_a_figure_without_a_value_is_a_dash() -> None:
    """The damp share of no car is a dash with words, and the page still stands."""
    cell = _cell(invented.no_cars(), "left_damp_share", 0)
    assert (cell.value, cell.days) == ("–", "no car to say it of")


def test_a_seldom_event_is_told_in_days() -> None:
    """A figure of an event seen on few days says how seldom, instead of a range."""
    seldom = Figure(0.4, Range(0.0, 2.0), event_days=3, fewer_than_one_in_days=4)
    day = invented.with_figures(invented.peak_day(), 0, cars_lost=seldom)
    assert _cell(day, "cars_lost", 0).days == "on fewer than 1 day in 4"
    day = invented.with_figures(day, 0, cars_lost=replace(seldom, value=0.0, event_days=0))
    assert _cell(day, "cars_lost", 0).days == "none in 32 days"


def test_four_columns_scroll() -> None:
    """From four scenarios on the table is one that scrolls on a narrow screen."""
    assert comparison_table(invented.six_scenarios(), "us").many


def test_a_head_names_what_a_scenario_changes() -> None:
    """Changed inputs stand under the column's name, in the reader's units."""
    changes: dict[str, Value] = {
        "conveyor_speed_m_s": 0.508,
        "pay_lanes": ((0.0, 2.0), (39_600.0, 3.0)),
        "failed_sensor": "height",
    }
    day = invented.with_scenario(invented.peak_day(), 1, changes=changes)
    label = comparison_table(day, "us").heads[1].label
    assert f"Conveyor speed 100{NBSP}ft/min" in label
    assert f"Pay lanes open 2{NBSP}lanes, 11:00{NBSP}3{NBSP}lanes" in label
    assert "Failed shaping sensor: height reading" in label


def test_run_error_is_told_only_in_the_explanation() -> None:
    """The simulation's own error stands in the explanation of a row, not in its cells."""
    row = _row(invented.peak_day(), "cars_washed")
    assert "32 days" in row.error
    assert f"Always full ±{NBSP}28" in row.error
    assert row.info is FIGURES["cars_washed"]
    assert all("±" not in cell.days + cell.value for cell in row.cells)


# ---- the answer ----------------------------------------------------------------------------------


def test_the_best_margin_among_those_that_keep_the_wish() -> None:
    """The advised column has the best margin of those with few enough damp cars."""
    day = invented.peak_day()
    assert day.best == 2
    assert invented.with_limits(day, allowed_damp_share=0.03).best == 1
    assert invented.with_limits(day, allowed_damp_share=0.001).best == 1


def test_columns_that_luck_alone_tells_apart_keep_their_order() -> None:
    """The best margin is not advised where the simulated days do not tell it from a column before
    it, which is; where they do it is."""
    day = invented.peak_day_over_sites()
    day = invented.with_limits(day, allowed_damp_share=0.1)
    assert day.best == 2
    luck = invented.standing(told=False)
    same = invented.with_standing(day, 2, invented.standing(), luck, invented.standing())
    assert same.best == 1


def test_answer_of_a_peak_day() -> None:
    """On a peak day the answer says when to reduce, what it does, and what is lost."""
    answer, sure = answer_sentences(invented.peak_day())
    assert answer.lead == "Reduce wiping from 11:50 to 16:40."
    assert answer.rest.replace(NBSP, " ") == (
        "About 1 car in 22 leaves damp instead of 1 in 6, and just over half are still wiped in "
        "full."
    )
    assert "The day earns about $380 more." in answer.also
    assert "70 cars are lost: more come than the belt takes" in answer.also
    assert sure.lead == "Not firm yet."
    assert "On 32 of 32 simulated days" in sure.rest
    assert "on 31 it earns more" in sure.rest
    assert "no advice is firm" in sure.rest


def test_answer_when_nothing_matters() -> None:
    """When no column differs by enough to matter, the answer is to stay."""
    answer, sure = answer_sentences(invented.quiet_day())
    assert answer.lead == "Stay on full wiping all day."
    assert "No column differs from another by enough to matter." in answer.rest
    assert "on more than 13 of 32 simulated days" in sure.rest


def test_answer_when_the_first_column_is_best() -> None:
    """When the present rule is best and others are clearly worse, the answer is to stay."""
    day = invented.with_figures(
        invented.peak_day(),
        0,
        left_damp_share=invented.figure(0.03, 0.002, 0.02, 0.04),
        margin=invented.figure(10_500, 170, 9_000, 11_000),
    )
    answer, _sure = answer_sentences(day)
    assert answer.lead == "Stay on full wiping all day."
    assert "No column differs" not in answer.rest


def test_answer_when_no_column_keeps_the_wish() -> None:
    """When every column has too many damp cars, the driest is advised and the answer says so."""
    day = invented.with_limits(invented.peak_day(), allowed_damp_share=0.01)
    answer, _sure = answer_sentences(day)
    assert answer.lead == "Reduce wiping all day."
    assert f"No column here keeps cars leaving damp to the 1{NBSP}% you allow." in answer.also


def test_answer_names_the_column_that_loses_fewer_cars() -> None:
    """When another column loses far fewer cars, it is named as what would help."""
    day = invented.with_scenario(invented.peak_day(), 1, name="Faster belt")
    day = invented.with_figures(day, 1, cars_lost=invented.figure(12, 4, 0, 40))
    answer, _sure = answer_sentences(day)
    assert "70 cars are lost; “Faster belt” would lose 12." in answer.also


def test_answer_blames_pay_lanes_when_the_belt_has_room() -> None:
    """When cars are lost though fewer come than the belt takes, pay and loading are named."""
    day = invented.with_limits(invented.peak_day(), belt_capacity_per_h=400.0)
    answer, _sure = answer_sentences(day)
    assert "pay lanes or loading hold them up" in answer.also


@pytest.mark.parametrize(
    ("rule", "lead"),
    [
        ("band 60-50", f"Reduce wiping from 60{NBSP}% saturation on, and go back at 50{NBSP}%."),
        ("service", "Reduce wiping for all but cars sold the full wipe."),
        ("class van", "Reduce wiping for van."),
        ("clock 11:00-12:30,14:00-16:00",
         "Reduce wiping from 11:00 to 12:30 and from 14:00 to 16:00."),
        ("clock 11:00-12:00 or band 60-50",
         "Reduce wiping 11:00–12:00, or from 60 % saturation down to 50 %."),
    ],
)  # fmt: skip
def test_each_kind_of_rule_has_its_sentence(rule: str, lead: str) -> None:
    """The act is said by what the rule does, a rule of several terms likewise."""
    day = invented.with_scenario(invented.peak_day(), 2, rule=rule, name="Chosen")
    assert answer_sentences(day)[0].lead == lead


def test_a_column_with_other_inputs_is_advised_by_its_name() -> None:
    """When belt or cloth differ from the first column, the whole column is advised."""
    changes = {"conveyor_speed_m_s": 0.5}
    day = invented.with_scenario(invented.peak_day(), 2, name="Slower, reduced", changes=changes)
    assert answer_sentences(day)[0].lead == "Run the day as “Slower, reduced”."


def test_answer_of_a_single_column_asks_for_a_second() -> None:
    """A plan of one scenario says what it does and asks for another."""
    answer, _sure = answer_sentences(invented.one_scenario())
    assert answer.lead == "Always full:"
    assert "Add a second scenario" in answer.rest


def test_answer_of_no_cars_and_of_all_lost() -> None:
    """Without cars there is nothing to decide; where all are lost, the reason is named."""
    assert str(answer_sentences(invented.no_cars())[0]) == (
        "Nothing to decide: no car is expected on this day."
    )
    lost, sure = answer_sentences(invented.all_lost())
    assert lost.lead == "Not one car gets through."
    assert "1,910 leave because the wait is longer than they accept" in lost.rest
    assert "No wiping rule changes this" in sure.rest


# ---- files ---------------------------------------------------------------------------------------


def test_csv_has_every_figure_unrounded() -> None:
    """A row a figure and scenario, values in the reader's units, intervals beside them."""
    rows = list(csv.DictReader(io.StringIO(comparison_csv(invented.peak_day(), "si"))))
    assert len(rows) == 3 * len(invented.peak_day().columns[0].figures)
    of_damp = [r for r in rows if r["figure"] == "Leaving damp"]
    damp = next(r for r in of_damp if r["scenario"].startswith("Red"))
    assert damp["unit"] == "%"
    assert float(damp["value"]) == pytest.approx(4.6)
    assert float(damp["day range high"]) == pytest.approx(10.0)
    assert float(damp["difference to first"]) == pytest.approx(-13.3)
    assert damp["word"] == "clearly better"


def test_csv_by_hour_has_24_rows_a_scenario() -> None:
    """The hourly file has each hour of each scenario, empty where there is nothing to say."""
    rows = list(csv.DictReader(io.StringIO(hourly_csv(invented.peak_day()))))
    assert len(rows) == 3 * 24
    assert rows[0]["washed"] == ""
    assert float(rows[15]["damp_share"]) == pytest.approx(0.39)


def test_csv_cells_are_no_formulas() -> None:
    """A scenario whose name begins like a formula is written as text."""
    day = invented.with_scenario(invented.peak_day(), 0, name="=1+1")
    assert "'=1+1" in comparison_csv(day, "us")
    assert "'=1+1" in hourly_csv(day)
