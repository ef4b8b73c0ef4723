"""How sure a plan says it is: ranges over drawn sites, words, what widens and what would narrow."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from rich.console import Console

from app.cli.terminal import print_comparison
from app.pages.plan.table import FigureRow, comparison_csv, comparison_table
from app.sites.measurements import (
    MEASUREMENTS,
    NOT_CHEAP,
    best_measurement,
    in_words,
)
from app.words.answer import (
    TURNS_ON,
    WEIGHED,
    answer_sentences,
    narrow_words,
    sure_words,
    turning_words,
)
from app.words.figures import FigureCell, printed_step
from sim.day.figures import FIGURES, Range
from sim.decide.answer import Comparison, Widener
from sim.inputs import INPUTS, DemandSpread
from sim.units import MINUS, NBSP
from tests.pages import fixture_comparison as invented

OWN = frozenset(names[0] for names in WEIGHED)


def _row(day: Comparison, name: str) -> FigureRow:
    table = comparison_table(day, "us")
    return next(row for group in table.every for row in group.rows if row.info.name == name)


def _cell(day: Comparison, name: str, column: int) -> FigureCell:
    return _row(day, name).cells[column]


# ---- cells ---------------------------------------------------------------------------------------


def test_a_cell_has_site_range_and_day_range() -> None:
    """Beside a figure stands where its expected value may lie, below it what single days do."""
    lost = _cell(invented.peak_day_over_sites(), "cars_lost", 2)
    assert (lost.value, lost.site, lost.days) == ("70", "40–100", "days 0–220")
    assert (lost.difference, lost.word) == (f"{MINUS}13", "a little better")
    damp = _cell(invented.peak_day_over_sites(), "left_damp_share", 0)
    assert (damp.value, damp.site, damp.days) == ("17.9", "9–27", "days 6–31")
    money = _cell(invented.peak_day_over_sites(), "margin", 2)
    assert (money.value, money.site) == ("$9,700", "9,200–10,200")
    assert (money.difference, money.word) == ("+$400", "probably better")


def test_what_no_guess_moves_has_no_site_range() -> None:
    """By rule, or where the range ends print the same, only the days are told."""
    cell = _cell(invented.peak_day_over_sites(), "full_share", 0)
    assert (cell.value, cell.site, cell.days) == ("100", "", "by rule")
    assert _cell(invented.peak_day_over_sites(), "cars_arrived", 0).site == ""


def test_few_days_have_no_site_range() -> None:
    """A record without drawn sites keeps its figures and day ranges, and claims nothing more."""
    table = comparison_table(invented.peak_day(), "us")
    assert table.sites == 0
    assert {cell.site for group in table.every for row in group.rows for cell in row.cells} == {""}


def test_a_seldom_event_has_no_site_range() -> None:
    """What happened on too few days for an interval has none over sites either."""
    day = invented.peak_day_over_sites()
    lost = replace(
        day.columns[0].figures["cars_lost"], value=0.1, event_days=3, fewer_than_one_in_days=132
    )
    day = invented.with_figures(day, 0, cars_lost=lost)
    cell = _cell(day, "cars_lost", 0)
    assert (cell.site, cell.days) == ("", "on fewer than 1 day in 132")


@pytest.mark.parametrize(
    ("value", "run", "site", "step"),
    [
        (1827.0, 2.0, (1770.0, 1870.0), 10.0),
        (1827.0, 200.0, (1770.0, 1870.0), 100.0),
        (83.0, 0.5, (82.0, 84.0), 1.0),
        (9340.0, 10.0, (8600.0, 9980.0), 100.0),
        (9340.0, 10.0, (9340.0, 9340.0), 10.0),
    ],
)
def test_no_figure_is_printed_finer_than_a_tenth_of_its_site_uncertainty(
    value: float, run: float, site: tuple[float, float], step: float
) -> None:
    """The last digit is worth about a tenth of ± the site uncertainty, or the run error."""
    figure = replace(invented.figure(value, run, 0, 0), site_uncertainty=Range(*site))
    assert printed_step(figure, "cars", "us", value) == pytest.approx(step)


def test_a_difference_is_printed_no_finer_than_its_own_uncertainty() -> None:
    """A difference that may be anything at the site asks for no digit of its own; one that is known
    better has the figures beside it printed finer, a digit at most."""
    day = invented.peak_day_over_sites()
    for site, said in (
        (Range(-9000.0, 12_000.0), ("$9,300", "$9,700", "+$400")),
        (Range(-1200.0, 2_000.0), ("$9,300", "$9,700", "+$400")),
        (Range(379.0, 381.0), ("$9,340", "$9,720", "+$380")),
    ):
        changed = invented.with_apart(day, 2, "margin", site_uncertainty=site)
        changed = invented.with_apart(changed, 1, "margin", word="hardly differs")
        first, best = (_cell(changed, "margin", column) for column in (0, 2))
        assert (first.value, best.value, best.difference) == said


def test_run_error_stands_in_the_explanation_with_its_days_and_sites() -> None:
    """The explanation alone tells the run error, over how many days and drawn sites."""
    row = _row(invented.peak_day_over_sites(), "cars_washed")
    assert "over 128 days at 128 drawn sites" in row.error
    assert f"Always full ±{NBSP}28" in row.error
    assert all("±" not in cell.value + cell.site + cell.days for cell in row.cells)


# ---- the sentence --------------------------------------------------------------------------------


def test_the_sentence_counts_sites() -> None:
    """How sure is told in sites of 20, rounded down, with how many were drawn; what nobody has
    weighed is called a guess."""
    _answer, sure = answer_sentences(invented.peak_day_over_sites())
    assert str(sure).startswith(
        "Firm. At 19 of 20 sites like yours nothing it was held against is better by enough to "
        "matter; 128 were drawn. In 19 of 20 sites like yours this beats “Always full” in cars "
        "leaving damp, in 17 of 20 in what the day earns."
    )
    assert "No measurement is in this plan" in sure.rest
    assert "simulated days" not in sure.rest


def test_a_first_column_that_keeps_the_wish_is_beaten_in_money() -> None:
    """Where the present rule meets the wish, only what the day earns is a reason."""
    day = invented.with_limits(invented.peak_day_over_sites(), allowed_damp_share=0.2)
    _answer, sure = answer_sentences(day)
    assert "In 17 of 20 sites like yours this beats “Always full” in what the day earns." in str(
        sure
    )


def test_staying_says_how_often_another_column_earns_more() -> None:
    """When nothing is better by enough, the sentence bounds how often another column is."""
    day = replace(invented.quiet_day(), sites=invented.SITES)
    for at, share in ((1, 0.11), (2, 0.31)):
        day = invented.with_apart(day, at, "margin", sites_better=share)
    _answer, sure = answer_sentences(day)
    assert "No other column earns more in more than 7 of 20 sites like yours." in sure.rest
    for at in (1, 2):
        day = invented.with_apart(day, at, "margin", sites_better=0.0)
    _answer, sure = answer_sentences(day)
    assert "No other column earns more in any of 20 sites like yours." in sure.rest


def test_no_site_better_is_none() -> None:
    """Zero sites of 20 are said as none, and a record without shares is no claim."""
    day = invented.with_apart(invented.peak_day_over_sites(), 2, "margin", sites_better=0.01)
    assert "in none of 20 in what the day earns" in answer_sentences(day)[1].rest


def test_not_firm_says_what_is_open() -> None:
    """The rival that leaves an advice least firm, at how many of 20 sites it is better, rounded
    against the advice; else at how many it loses money, else that luck alone may decide. A plan
    itself then takes the earlier of the two columns."""
    day, firm = invented.peak_day_over_sites(), invented.standing()
    for rivals, said in (
        (
            (invented.standing(0.06), invented.standing(0.26)),
            "Not firm: at 6 of 20 sites like yours (128 were drawn) “Always reduced” is better by "
            "enough to matter.",
        ),
        (
            (invented.standing(0.051), firm),
            "Not firm: at 2 of 20 sites like yours (128 were drawn) “Always full” is better by "
            "enough to matter.",
        ),
        (
            (invented.standing(0.04, 0.21), firm),
            "Not firm: at 5 of 20 sites like yours (128 were drawn) it loses money that matters "
            "against “Always full”.",
        ),
        (
            (firm, invented.standing(0.01, told=False)),
            "Not firm: the simulated days do not tell it from “Always reduced” yet.",
        ),
    ):
        found = invented.with_standing(day, 2, *rivals, firm)
        sure = sure_words(found, 2, OWN)
        assert str(sure).startswith(said)
        is_told = all(rival.told for rival in rivals)
        assert found.best == (2 if is_told else 1)
        assert (answer_sentences(found, OWN)[1] == sure) is is_told


def test_without_drawn_sites_nothing_is_firm() -> None:
    """Guesses at their middle values, fewer than 20 sites, one column alone, or weighings that the
    model does not explain leave nothing firm."""
    day = invented.peak_day_over_sites()
    assert answer_sentences(invented.peak_day(), OWN)[1].lead == "Not firm yet."
    few = replace(invented.standing(), sites=19)
    found = answer_sentences(invented.with_standing(day, 2, few, few, few), OWN)[1]
    assert str(found).startswith("Not firm: too few sites like yours were drawn to tell")
    unlike = replace(day, weighed=("soaked", "damp", "afternoon", "misfit"))
    found = answer_sentences(unlike, OWN)[1]
    assert str(found).startswith("Not firm: what was weighed does not fit the model.")
    alone = replace(day, columns=day.columns[:1])
    assert answer_sentences(alone, OWN)[1].lead == "Not firm yet."


def test_weighings_count_as_much_as_what_was_entered() -> None:
    """A plan that was made with all three kinds of weighing calls none of them a guess, and so does
    one with some weighed and the rest entered; two of three are not enough."""
    day = invented.peak_day_over_sites()
    weighed = replace(day, weighed=("soaked", "damp", "afternoon"))
    assert "guess" not in str(answer_sentences(weighed)[1])
    two = replace(day, weighed=("soaked", "damp"))
    assert "Not all that this rests on was measured yet" in answer_sentences(two)[1].rest
    assert "guess" not in str(answer_sentences(two, {"throw_off_moisture_kg_kg"})[1])
    limit = (OWN - {"allowed_film_kg_m2"}) | {"damp_limit_saturation"}
    assert "guess" not in str(answer_sentences(day, limit)[1])


def test_staying_is_firm_when_no_other_column_is_often_better() -> None:
    """Advice to stay is firm if no other column is better at more than 1 site of 20."""
    day, firm = replace(invented.quiet_day(), sites=invented.SITES), invented.standing()
    stays = invented.with_standing(day, 0, firm, firm, firm)
    assert answer_sentences(stays, OWN)[1].lead == "Firm."
    open_ = invented.with_standing(day, 0, firm, invented.standing(0.2), firm)
    assert answer_sentences(open_, OWN)[1].lead == "Not firm:"


# ---- what widens, what narrows -------------------------------------------------------------------


def test_the_plan_names_what_widens_and_what_would_narrow() -> None:
    """Three inputs by name and share; the measurement with the largest sum, not the first input."""
    narrow = narrow_words(invented.peak_day_over_sites())
    assert narrow is not None
    assert narrow.wide.replace(NBSP, " ") == (
        "The range of cars leaving damp is wide mostly because these are not known: “Allowed "
        "film on hood and windshield” (41 %), “Time constant of throw-off, at idle” (29 %), "
        "“Moisture where throw-off ends, at idle” (14 %)."
    )
    # 0.29 + 0.14 of the busy strip are more than the 0.41 of the damp one; 1 − √0.57 = 25 %
    assert f"would narrow that range most, by up to 25{NBSP}%" in narrow.act
    assert "On a busy afternoon weigh one strip" in narrow.act
    assert "stop the wheel and the belt and lock them out" in narrow.act
    assert narrow.field == "throw_off_time_s"
    assert narrow.label == INPUTS["throw_off_time_s"].label


def test_what_decides_between_advice_and_rival_is_named_where_it_is_not_firm() -> None:
    """The inputs on which it turns which of two is better, and the one measurement that would
    settle most of that."""
    turns = (Widener("throw_off_time_s", 0.5), Widener("damp_limit_saturation", 0.2))
    day, firm = invented.peak_day_over_sites(), invented.standing()
    day = invented.with_standing(day, 2, invented.standing(0.3, turns=turns), firm, firm)
    narrow = narrow_words(day)
    assert narrow is not None
    assert narrow.wide.replace(NBSP, " ") == (
        "Whether “Reduced 11:50–16:40” or “Always full” is better at your site turns most on “Time "
        "constant of throw-off, at idle” (50 %), “Damp limit” (20 %)."
    )
    assert narrow.act.startswith("One measurement would settle most of it. Before a strip")
    assert narrow.field == "throw_off_time_s"


def _widened(day: Comparison, **widest: tuple[str, float]) -> Comparison:
    """A comparison whose advised column is widened by an input each, in some figures."""
    rows = {name: (Widener(*row),) for name, row in widest.items()}
    return invented.with_column(day, 2, widest=rows)


def test_money_is_named_where_damp_cars_are_certain() -> None:
    """Without an input that widens the damp cars, the margin's are named."""
    narrow = narrow_words(_widened(invented.peak_day_over_sites(), margin=("damp_cost", 0.5)))
    assert narrow is not None
    said = "range of the margin is wide mostly because these are not known: “Cost of a damp car”"
    assert said in narrow.wide
    assert "the books" in narrow.act
    assert "lock" not in narrow.act


def test_cars_expected_are_named_as_what_they_are() -> None:
    """Where the mean of like days widens the answer it is named with the days it is of."""
    day = invented.peak_day_over_sites()
    day = replace(day, conditions=replace(day.conditions, spread=DemandSpread(like_days=5)))
    narrow = narrow_words(_widened(day, left_damp_share=("cars_expected", 0.4)))
    assert narrow is not None
    assert "“Cars expected: a mean of 5 like days”" in narrow.wide
    assert (narrow.act, narrow.field) == ("", "")


def test_nothing_is_named_where_nothing_is_known() -> None:
    """Few days, too few sites, or inputs that only months would tell lead to no measurement."""
    assert narrow_words(invented.peak_day()) is None
    day = invented.peak_day_over_sites()
    assert narrow_words(_widened(day)) is None
    narrow = narrow_words(_widened(day, margin=("launder_wear", 0.3)))
    assert narrow is not None
    assert (narrow.act, narrow.field) == ("", "")
    narrow = narrow_words(_widened(day, margin=("damp_cost", 0.02)))
    assert narrow is not None
    assert narrow.act == ""


def test_every_guess_has_its_measurement() -> None:
    """Each input with a prior is told by exactly one measurement, or known to take months; the
    allowed film by two, a towel and a strip."""
    told = [name for one in MEASUREMENTS for name in one.inputs] + list(NOT_CHEAP)
    assert [name for name in set(told) if told.count(name) > 1] == ["allowed_film_kg_m2"]
    assert set(told) == {name for name, row in INPUTS.items() if row.prior is not None}


def test_the_three_weighings_are_three_measurements() -> None:
    """Holding capacity, damp limit and throw-off are told by three different weighings."""
    weighings = [
        one
        for one in MEASUREMENTS
        if any(names[0] in one.inputs for names in WEIGHED) and "towel" not in one.act
    ]
    assert len(weighings) == 3
    for one in weighings:
        assert one.at_wheel
        assert "weigh" in one.act.lower()
        assert in_words(one).startswith("Before a strip is touched, stop the wheel and the belt")


def test_the_best_measurement_has_the_largest_sum() -> None:
    """Shares of inputs that one measurement tells add up; its field is the widest of them."""
    best = best_measurement({"stops_per_h": 0.2, "stop_median_s": 0.25, "patience_median_s": 0.4})
    assert best is not None
    assert best.share == pytest.approx(0.45)
    assert best.field == "stop_median_s"
    assert best.narrower == pytest.approx(1 - 0.55**0.5)
    assert best_measurement({}) is None
    assert best_measurement({"holding_capacity_kg_kg": 0.0}) is None


# ---- elsewhere -----------------------------------------------------------------------------------


def test_csv_has_site_uncertainty_of_figures_and_differences() -> None:
    """The file has the site range of figure and difference and the share of better sites."""
    text = comparison_csv(invented.peak_day_over_sites(), "us")
    rows = list(csv.DictReader(io.StringIO(text)))
    damp = next(
        r for r in rows if r["figure"] == "Leaving damp" and r["scenario"].startswith("Red")
    )
    assert float(damp["site uncertainty low"]) == pytest.approx(2.1)
    assert float(damp["site uncertainty high"]) == pytest.approx(8.3)
    assert float(damp["difference site uncertainty low"]) == pytest.approx(-19)
    assert float(damp["sites better"]) == pytest.approx(0.99)
    few = list(csv.DictReader(io.StringIO(comparison_csv(invented.peak_day(), "us"))))
    assert {(r["site uncertainty low"], r["sites better"]) for r in few} == {("", "")}


def _printed(day: Comparison) -> str:
    """What the terminal shows of a comparison; figures that the fixture lacks are made up."""
    for at, column in enumerate(day.columns):
        missing = set(FIGURES) - set(column.figures)
        more = dict.fromkeys(missing, invented.figure(5, 1, 2, 8))
        day = invented.with_figures(day, at, **more)
    console = Console(width=160, file=io.StringIO(), color_system=None)
    print_comparison(console, invented.plan(day), "us", "What is damp.")
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_the_terminal_shows_the_site_range_beside_the_figure() -> None:
    """With drawn sites a figure has its range in brackets and the foot says what it is."""
    text = _printed(invented.peak_day_over_sites())
    assert "70 (40–100)" in text
    assert "9,700 (9,200–10,200)" in text
    assert "at 128 sites drawn" in " ".join(text.split())
    few = _printed(invented.peak_day())
    assert "(" not in few.split("Figure")[1]
    assert "is not in these ranges" in " ".join(few.split())


@pytest.mark.parametrize("what", TURNS_ON)
def test_what_turns_on_guesses_names_them(what: str) -> None:
    """Each guess is named by its label; one that the site entered is not, and with all of them
    entered nothing is said."""
    sentence, names = TURNS_ON[what]
    assert all(INPUTS[name].is_guess for name in names)
    assert "guesses until you enter yours" in sentence
    for entered in ((), names[:1], names[:-1]):
        said = turning_words(what, entered)
        assert [name for name in names if f"“{INPUTS[name].label}”" in said] == [
            name for name in names if name not in entered
        ]
    assert turning_words(what, names) == ""
    assert turning_words(what, {*names, "load_cv"}, ("load_cv",)) == ""
    assert f"“{INPUTS['load_cv'].label}”" in turning_words(what, names, ("load_cv",))
