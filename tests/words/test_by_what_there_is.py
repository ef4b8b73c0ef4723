"""Sentences of cues, settings, sets, people and measurements that stand for what is seldom so."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any, cast

import pytest

from app.answers.beliefs import BeliefView
from app.answers.checks import CheckState, Readiness
from app.answers.down import REPAIR, WayOut
from app.answers.drift import DriftView
from app.answers.short_handed import ANYBODY, LOADER, Missing, ShortHanded
from app.answers.today import TodayFound
from app.answers.weighings import WeighingsEffect
from app.words import belt_stops, staff, weighings
from app.words.checks import ready_words
from app.words.cloth import counted_words, launder_sure, way_rows, worn_words
from app.words.cues import cues_of, expected_damp
from app.words.down import way_words
from app.words.drift import drift_lead
from app.words.maps import answer_words as map_answer
from app.words.rules import act_words
from app.words.season import change_lines
from app.words.short_handed import effect
from app.words.staff_costs import costs_table
from app.words.switching import (
    answer_words,
    foresight_words,
    overruled_words,
    together_answer,
)
from app.words.today import day_lines, decision
from app.words.why import helps_of, settle_words
from sim.day.figures import OF_COST, Figure, Range
from sim.day.rules import FULL, REDUCED
from sim.decide.stops.answer import CauseOfDay, Rate, StopCosts
from sim.decide.switching.advice import ValueOfInformation
from sim.decide.switching.answer import Overruled, WhenToReduce
from sim.inputs import (
    DAMP,
    INPUTS,
    MEASURED,
    SOAKED,
    TOWEL,
    CheckItem,
    LogEntry,
    Scenario,
    Weighing,
)
from sim.inputs.logbook import CHECK, OPEN, OPENING
from sim.learn.answer import CheckedWeighing, MeasurementWorth, Posterior, WorthOfMeasuring
from tests.answers.staff_answers import staff_answer
from tests.pages import fixture_comparison as invented
from tests.pages.further_content import BETTER, NOW, together
from tests.pages.map_content import beside, keeping, maps
from tests.pages.switch_content import clock, means, switch, with_reasons
from tests.pages.test_cloth_page import FOUND, LAUNDERING, OLD
from tests.pages.test_cues_part import changed, measured, with_cues
from tests.plain import plain
from tests.season_found import SEASON

DAY = date(2026, 7, 18)
NOBODY = Figure(None, None)


# ---- when to reduce ------------------------------------------------------------------------------


def cue_says(told: WhenToReduce) -> str:
    """What is said of the cue to use."""
    part = cues_of(told, "si")
    assert part is not None
    return plain(part.says)


def test_a_cue_stands_among_the_others() -> None:
    """One that misses the wish says so; alone it is compared with none; where all keep the wish,
    it is the cheapest of all of them."""
    told = with_cues("cars")
    assert "No cue that is worth its looks meets at most 5 % of cars leaving damp" in cue_says(told)
    told = with_cues()
    assert told.cues is not None
    clock_alone = tuple(one for one in told.cues.found if one.kind == "clock")
    assert "costs least" not in cue_says(changed(told, found=clock_alone))
    all_keep = tuple(replace(one, keeps=True) for one in told.cues.found)
    assert "Of the cues that are worth their looks it costs least." in cue_says(
        changed(told, found=all_keep)
    )


def test_a_limit_on_single_days_is_told_from_the_mean() -> None:
    """How it was found out says that the mean share may lie on the other side."""
    told = with_cues()
    by_days = replace(told, wish=replace(told.wish, kind="days"))
    for one, is_said in ((told, False), (by_days, True)):
        part = cues_of(one, "si")
        assert part is not None
        assert any("told by its single days" in words for words in part.how) is is_said


def test_what_needs_no_cue_has_no_moments() -> None:
    """In the table wiping alike all day has no reading at which to reduce or go back."""
    part = cues_of(changed(with_cues(), constant=measured(REDUCED, 0.03)), "si")
    assert part is not None
    assert "Reduce all day" in {row[0] for row in part.rows if row[1:3] == ("", "")}


def test_damp_cars_that_are_not_known_are_not_told() -> None:
    """Where no car is wiped there is no share, on the sheet as in the answer."""
    day = invented.with_figures(switch().comparison, 2, left_damp_share=NOBODY)
    told = replace(switch(), comparison=day)
    assert expected_damp(told) == ""
    assert "leave damp" not in str(answer_words(told, "si"))
    assert "leave damp" in str(answer_words(switch(), "si"))


def test_what_another_rule_gains_over_the_plan_is_told_by_the_wish() -> None:
    """Money where least cost was wished for and there is some, else cars and wipes."""
    gains = means(-100.0, -40.0, -0.02, -55.0)
    told = replace(switch(), overruled=Overruled(FULL, gains))
    assert plain(overruled_words(told, "si")) == (
        "The plan says “Wipe in full all day”: this is 40 fewer cars leaving damp, 100 fewer full "
        "wipes and $55 cheaper a day."
    )
    by_cost = replace(told, wish=replace(told.wish, kind="cost"))
    assert "this saves about $55 a day." in plain(overruled_words(by_cost, "si"))
    dearer = replace(
        by_cost, overruled=Overruled(FULL, replace(gains, cost=means(0, 0, 0, 5).cost))
    )
    assert "this is 40 fewer cars leaving damp" in plain(overruled_words(dearer, "si"))


def test_foresight_that_would_save_more_than_all_tells_nothing() -> None:
    """A bound above the day's cost is no bound."""
    told = switch()
    assert told.bound is not None
    by_cost = replace(told, wish=replace(told.wish, kind="cost"))
    assert "Perfect foresight" in foresight_words(by_cost)
    above = replace(by_cost, bound=replace(told.bound, share=1.2))
    assert foresight_words(above) == ""
    assert foresight_words(replace(by_cost, bound=None)) == ""


def test_a_setting_that_stays_says_what_no_other_does() -> None:
    """Where the present one misses the wish, none comes nearer."""
    keeps = together_answer(together(), "si").also
    misses = together_answer(together(present=replace(NOW, keeps=False)), "si").also
    assert keeps.startswith("No other setting looked at costs less a day")
    assert misses.startswith("No other setting looked at comes nearer to what you allow")


def test_a_setting_of_the_same_cost_says_nothing_of_money() -> None:
    """It is better by what it keeps; a dearer one says what it costs more."""
    for cost, said in ((3_000.0, ""), (3_040.0, "The day costs $40 more.")):
        plain_words = plain(together_answer(together(replace(BETTER, cost=cost)), "si").also)
        assert (said or "The day costs") in plain_words or not said
        assert ("The day costs" in plain_words) is bool(said)


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("nothing_helps", "Switching alone is not enough: no rule meets what you allow."),
        ("nothing_needed", "Nothing is needed: always full meets what you allow."),
        ("rule_helps", "Switching is enough; these would spare some of it."),
    ],
)
def test_what_else_would_help_begins_with_whether_it_is_needed(state: Any, said: str) -> None:
    """By what always full and the best rule keep; a faster idle speed has its own name."""
    told = with_reasons(switch())
    assert told.remedies is not None
    faster = replace(told.remedies.rows[0], kind="faster_idle", amount=1.5)
    told = replace(told, remedies=replace(told.remedies, state=state, rows=(faster,)))
    table = helps_of(told, "si")
    assert table is not None
    assert table.says.startswith(said)
    assert plain(table.rows[0][0]) == "Wheel idling at 90 rev/min"


def test_windows_that_touch_opening_and_closing() -> None:
    """All day, until closing, and once more until closing."""
    terms = switch().crew_terms
    said = [
        act_words(clock(*windows), terms, "si")
        for windows in (((7.0, 20.0),), ((16.0, 20.0),), ((9.0, 12.0), (16.0, 20.0)))
    ]
    assert said == [
        "Reduce all day.",
        "Reduce at 16:00 until closing.",
        "Reduce at 9:00, go back at 12:00. Reduce again at 16:00 until closing.",
    ]


# ---- cloth ---------------------------------------------------------------------------------------


def test_cloth_is_told_by_what_was_entered_and_noted() -> None:
    """An uptake that somebody entered is not what hoods say; a set off the wheel has no day to
    come; changing every season is one more way where the season tells its cost."""
    assert "With these a worn-out set has lost" in counted_words(FOUND)
    known = replace(FOUND, uptake_loss=replace(FOUND.uptake_loss, is_known=True))
    assert counted_words(known).endswith("The uptake lost is as you entered it.")
    assert worn_words(replace(OLD, to_come=None)) == "–"
    ways = [row[0] for row in way_rows(FOUND)]
    seasonal = replace(FOUND, change=replace(FOUND.change, every_season=0.05))
    assert [row[0] for row in way_rows(seasonal)] == [
        *ways, "Every season (once a year), and when it wears out"
    ]  # fmt: skip
    one = launder_sure(replace(LAUNDERING, low=1, high=1), (), ()).rest
    assert "At 9 of 10 sites like yours the best interval is 1 open day." in one


def test_a_season_without_changes_on_plan_says_to_look() -> None:
    """Where waiting costs least there is no age at which a set is changed."""
    assert change_lines(SEASON).says.startswith("A set is changed on plan at 20,700 full wipes")
    waits = change_lines(replace(SEASON, planned_age=math.inf)).says
    assert waits.startswith("With what is known of your cloth, waiting until a set wears out")


# ---- people --------------------------------------------------------------------------------------


def test_as_many_people_as_planned_are_told_as_planned() -> None:
    """The same hours and wages are told once."""
    half = SimpleNamespace(start_h=9.0, people=3, why="use", planned=3)
    same = staff.answer(staff_answer(half_hours=cast(Any, (half,))))
    assert plain(same.rest) == "That is 16 hours and $320 of wages, as planned."
    more = replace(staff_answer().present, people_hours=18.0, cost=360.0)
    other = staff.answer(staff_answer(half_hours=cast(Any, (half,)), present=more))
    assert plain(other.rest).endswith("planned are 18 hours and $360.")


def test_the_hour_in_which_one_more_pays_most() -> None:
    """Of hours in which it surely pays, the one with most money; none is said to be none."""

    def hour(at: int, mean: float, half: float) -> list[Any]:
        one = SimpleNamespace(hour=at, margin=SimpleNamespace(mean=mean, half=half))
        fewer = SimpleNamespace(hour=at, margin=SimpleNamespace(mean=999.0, half=0.0))
        return [one, fewer]

    hours = (*hour(10, 20.0, 5.0), *hour(13, 60.0, 10.0), *hour(15, 90.0, 95.0))
    said = staff.effect_line(staff_answer(effects=cast(Any, hours)))
    assert plain(said) == "One more pays most at 13:00: $60 in that hour."
    unsure = staff_answer(effects=cast(Any, tuple(hour(15, 90.0, 95.0))))
    assert staff.effect_line(unsure) == "In no hour does one more surely pay."


def test_roles_that_nobody_can_fill_are_named() -> None:
    """None are told as nothing."""
    assert staff.anybody_words(()) == ""
    assert staff.anybody_words(("loader", "lead")).startswith("Nobody here can be loader or lead")


@pytest.mark.parametrize(
    ("job", "stands_in", "said"),
    [
        (LOADER, True, "While one loader is planned, somebody else has to load."),
        (ANYBODY, True, "Where nobody is planned for it, nobody is missing."),
        (ANYBODY, False, ""),
    ],
)
def test_who_stands_in_for_one_fewer(job: str, stands_in: bool, said: str) -> None:
    """Somebody has to load; of other work nobody may be missing. A day that can't be simulated has
    no effect."""
    day = invented.peak_day_over_sites()
    one = ShortHanded(
        Missing(job, 36_000.0, 43_200.0), Scenario("x"), Scenario("y"), stands_in, day
    )
    told = effect(one, "si")
    assert "10:00 to 12:00." in plain(told.lead)
    assert plain(told.rest).endswith(said)
    assert ("nobody is missing" in told.rest) is ("nobody" in said)
    assert effect(replace(one, found=None), "si").rest == ""


# ---- stops and repairs ---------------------------------------------------------------------------


def test_lengths_that_were_not_noted_are_counted() -> None:
    """All, some or none of them noted."""
    some = cast(Any, SimpleNamespace(count=5, without=2, stood_s=90.0))
    assert plain(belt_stops.stood_words(some)).endswith(", 2 not noted")
    none = cast(Any, SimpleNamespace(count=5, without=5, stood_s=0.0))
    assert belt_stops.stood_words(none) == "–"


def test_stops_of_days_without_counts_have_no_rate() -> None:
    """How often the belt stood is known, how often in so many cars is not."""
    said = belt_stops.answer(None, 3)
    assert said.lead == "The belt stood 3 times."
    assert said.rest.startswith("How often that is can’t be said")


def test_costs_of_stops_say_whose_cars_they_are() -> None:
    """Counted or to be expected; one cause by its name, others by their number."""
    one, more = CauseOfDay(("Jam",), 2, 90.0), CauseOfDay(("a", "b"), 3, 60.0)
    found = StopCosts(DAY, "expected", 0, one, (one, more), invented.peak_day())
    assert "those to be expected stand for them" in belt_stops.cost_words(found)
    assert belt_stops.cost_words(replace(found, cars="counts")).startswith(
        "The cars are those that were counted."
    )
    assert [belt_stops.cause_name(each) for each in found.causes] == ["Jam", "2 other causes"]


def test_a_rate_of_nothing_is_zero() -> None:
    """Two digits that count have no logarithm of nothing."""
    assert belt_stops.rate_words(Rate(0.0, 0.0, 1.2)) == "0 (0–1.2)"


def test_a_repair_may_save_money() -> None:
    """A day that earns more by more than the repair costs."""
    day = invented.peak_day_over_sites()
    gains = invented.with_columns(day, (day.columns[0], day.columns[2]))
    one = WayOut(REPAIR, Scenario("x"), gains)
    saves, costs = (plain(way_words(one, "us", repair).rest) for repair in (100.0, 900.0))
    assert "With the repair at $100 it saves $" in saves
    assert "With the repair at $900 it costs $" in costs


# ---- measurements --------------------------------------------------------------------------------


def posterior(**changes: Any) -> Posterior:
    """What weighings leave of 400 sites: as many as 150."""
    belief = SimpleNamespace(size=400, effective=changes.pop("effective", 150.0))
    usual = {"belief": belief, "fits": True, "strange": 0.5, "strange_before": 0.05, "moves": 0.0}
    return cast(Posterior, SimpleNamespace(**{**usual, **changes}))


def test_how_well_measurements_fit() -> None:
    """That old ones count less where a site moves; that few sites are left; that none fit."""
    assert "count" not in weighings.fit_words(posterior()).replace("counted", "")
    moved = plain(weighings.fit_words(posterior(moves=0.2)))
    assert moved.endswith("your site moves by about 20 % a year.")
    few = weighings.fit_words(posterior(effective=20.0))
    assert "That is few" in few
    strange = plain(weighings.fit_words(posterior(fits=False, strange=1.0)))
    assert "By now it is 99 % likely that your site is unlike" in strange


def test_what_a_plan_says_of_weighings() -> None:
    """What went wrong, that they are not in yet, that they don't fit, or nothing."""

    def held(**told: Any) -> BeliefView:
        usual = {"key": "k", "failed": "", "result": None}
        return cast(BeliefView, SimpleNamespace(**{**usual, **told}))

    assert weighings.weighed_words(held(failed="No room left.")) == "No room left."
    assert weighings.weighed_words(held()).startswith("The weighings are being worked in")
    unlike = SimpleNamespace(fits=False)
    assert weighings.weighed_words(held(result=unlike)).startswith("The weighings don’t fit")
    assert weighings.weighed_words(held(result=SimpleNamespace(fits=True))) == ""
    assert weighings.weighed_words(held(key="")) == weighings.weighed_words(None) == ""


@pytest.mark.parametrize(
    ("damp", "said"),
    [
        (0.2, "change the advice."),
        (-1.0, "In the mean 1 car fewer would leave damp."),
        (-7.0, "In the mean 7 cars fewer would leave damp."),
        (1.2, "In the mean 1 car more would leave damp, for less cost."),
        (3.0, "In the mean 3 cars more would leave damp, for less cost."),
    ],
)
def test_what_a_measurement_changes(damp: float, said: str) -> None:
    """Its money, and cars where there are any."""
    told = weighings.worth_words(MeasurementWorth(SOAKED, 40.0, 5.0, damp, 0.3), DAY)
    assert plain(told).endswith(said)
    assert "worth about $40" in plain(told)


def test_a_damp_strip_without_counted_cars_says_what_it_is_taken_for() -> None:
    """Half of them damp; with counted cars, how many."""
    strip = Weighing(DAMP, DAY, 43_200.0, weight_kg=0.9, dry_kg=0.5)
    assert "cars not counted, so taken as half of them damp" in " ".join(
        weighings.strip_words(strip, "si")
    )
    counted = replace(strip, cars=10, damp_cars=4)
    assert "4 of 10 cars damp" in " ".join(weighings.strip_words(counted, "si"))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        (Range(0.1, 0.3), Range(0.1, 0.2), "The range is 50 % narrower."),
        (Range(0.1, 0.2), Range(0.1, 0.3), "The range is 100 % wider:"),
        (Range(0.1, 0.2), Range(0.2, 0.3), "The range is as wide as before."),
        (None, Range(0.1, 0.2), ""),
        (Range(0.1, 0.1), Range(0.1, 0.2), ""),
    ],
)
def test_ranges_before_and_after(before: Range | None, after: Range, said: str) -> None:
    """Narrower, wider, alike; nothing where there was none to compare with."""
    one, two = (Figure(0.15, None, site_uncertainty=ends) for ends in (before, after))
    words, rows = weighings.effect_words(WeighingsEffect(DAY, "Always full", one, two))
    assert plain(words.rest).startswith(said)
    assert bool(words.rest) is bool(said)
    assert len(rows) == 2


def test_of_a_change_that_could_not_be_looked_for_the_reason_is_told() -> None:
    """What went wrong, that it is under way, or nothing."""
    failed = cast(DriftView, SimpleNamespace(result=None, failed="It stopped.", key="k"))
    waits = cast(DriftView, SimpleNamespace(result=None, failed="", key="k"))
    assert drift_lead(failed) == "It stopped."
    assert drift_lead(waits) == "The hoods of the log are being held against what is believed."


# ---- Today ---------------------------------------------------------------------------------------


def today(**changes: Any) -> TodayFound:
    """A day of 240 cars of which nothing was worked out, on which nobody is needed."""
    expected = SimpleNamespace(
        closed=False, expected_cars=240.0,
        conditions=SimpleNamespace(arrivals_per_h=(0.0,) * 11 + (30.0,) + (0.0,) * 12),
    )  # fmt: skip
    usual = {
        "plan": SimpleNamespace(day=DAY, asked=SimpleNamespace(expected=expected)), "rule": None,
        "monday": DAY, "cover": None, "comparison": None, "advised": 0, "column": None,
        "checks": Readiness(DAY, (), ()), "change": None, "cloth": None, "worth": None,
        "weighings": (),
    }  # fmt: skip
    return cast(TodayFound, SimpleNamespace(**{**usual, **changes}))


def lines(**changes: Any) -> dict[str, str]:
    """What each line of Today says."""
    first, later = day_lines(today(**changes), "us")
    return {line.head: plain(line.says) for line in (*first, *later)}


def test_lines_of_today_before_anything_is_worked_out() -> None:
    """Cars as they are expected; the rest is still to come, and nobody is needed."""
    said = lines()
    assert said["Cars"] == "About 240; the busiest hour begins at 11:00."
    assert said["Wait"] == said["Money"] == "Not worked out yet."
    assert "People" not in said
    assert said["Cloth"] == "When to change the set on the wheel, once it is worked out."


def test_the_line_of_waits_says_when_nobody_is_lost() -> None:
    """Lost cars are counted where there are any."""
    day, nobody = invented.peak_day(), invented.figure(0, 0, 0, 0)
    for at in range(3):
        day = invented.with_figures(day, at, cost=invented.figure(4_000, 60, 3_000, 6_000))
    full, calm = day, invented.with_figures(day, 0, cars_lost=nobody)
    assert lines(comparison=calm)["Wait"].endswith("minutes, and no car is lost.")
    assert lines(comparison=full)["Wait"].endswith("minutes; 83 cars are lost.")


def test_the_line_of_measurements_names_the_next_one() -> None:
    """What it is worth where that is told; that it makes plans surer; or that all is in."""
    money = MeasurementWorth(SOAKED, 40.0, 5.0, 0.0, 0.3)
    worth = WorthOfMeasuring(DAY, 64, (money,))
    assert lines(worth=worth)["Measure"].endswith("worth about $40 on Saturday 18 July.")
    unsure = replace(worth, each=(replace(money, money=1.0),))
    assert lines(worth=unsure)["Measure"].endswith("every plan gets surer with it.")
    done = tuple(SimpleNamespace(kind=kind) for kind in MEASURED)
    assert lines(weighings=done)["Measure"] == "Everything is measured; once more makes it surer."


def test_the_line_of_cloth_has_laundry_where_it_is_due() -> None:
    """When to change; laundry with its day; sets that hang."""
    with_laundry, without = lines(cloth=FOUND)["Cloth"], replace(FOUND, laundry_due=None)
    assert "Laundry is due before opening on Friday 17 July." in with_laundry
    assert "Laundry" not in lines(cloth=without)["Cloth"]


def test_what_to_do_where_no_car_is_wiped() -> None:
    """The rule stands without damp cars."""
    day = invented.with_figures(switch().comparison, 2, left_damp_share=NOBODY)
    told = replace(switch(), comparison=day)
    said = decision(today(rule=told, column=day.columns[2]), (), "si")
    assert said is not None
    assert said.lead == "Reduce at 12:00, go back at 16:00."
    assert "damp" not in said.rest


# ---- rare cases of tables ------------------------------------------------------------------------


def test_what_takes_months_to_know_is_named_by_itself() -> None:
    """No measurement tells it, so that none is asked for."""
    told = with_reasons(switch())
    assert told.why is not None
    months = replace(told.why, knowing=(ValueOfInformation("launder_wear", 5.0),))
    said = settle_words(replace(told, why=months))
    assert said.endswith(f"To know “{INPUTS['launder_wear'].label}”.")


def test_many_names_are_counted() -> None:
    """Three checks that are not fine stand in the sentence, more are counted."""
    seen = LogEntry("one", DAY, 0.0, CHECK, word=OPEN, name="x")
    bad = tuple(
        CheckState(CheckItem(name, OPENING), seen, DAY, "open", ())
        for name in ("Belt", "Brush", "Hose", "Mat", "Rail")
    )
    assert ready_words(Readiness(DAY, bad[:3], ())).lead == "Not fine: Belt, Brush and Hose."
    assert ready_words(Readiness(DAY, bad, ())).lead == "Not fine: Belt, Brush, Hose and 2 more."


def test_a_towel_is_told_by_the_water_that_a_hood_may_keep() -> None:
    """Before and after with where it lies; a limit that the site entered itself has no range."""
    towel = Weighing(TOWEL, DAY, 43_200.0, weight_kg=0.12, dry_kg=0.1, cars=10, damp_cars=4)
    told = CheckedWeighing(
        towel, limit_before=(0.002, 0.004, 0.008), limit_after=(0.004, 0.004, 0.004)
    )
    ((_what, found, before, after),) = weighings.judged_rows(told, "si")
    assert (found, plain(before), plain(after)) == ("–", "4 g (2 g–8 g)", "4 g")
    between = replace(told, limit_found=0.005)
    assert plain(weighings.judged_rows(between, "si")[0][1]) == "5 g"


def test_damp_cars_that_stay_as_they_are_need_no_two_numbers() -> None:
    """A setting that changes nothing of damp cars says so; one of which they are unknown is told
    without; the present one that meets all is not said to miss anything."""
    found = maps()
    assert found.best is not None
    damp = found.present.figures["left_damp_share"]
    alike = replace(found.best, figures={**found.best.figures, "left_damp_share": damp})
    said = map_answer(beside(replace(found, best=alike)), "si")[0]
    assert "would leave damp as now" in plain(said.rest)
    none = replace(found.best, figures={**found.best.figures, "left_damp_share": None})
    said = map_answer(beside(replace(found, best=none)), "si")[0]
    assert "leave damp" not in said.rest
    assert said.also.startswith("That is the most a day earns")
    assert "The present one does not" in said.also
    keeps = replace(found, present=keeping(found.present, True))
    assert "The present one" not in map_answer(beside(keeps), "si")[0].also


def test_people_that_the_plan_has_are_told_as_the_plan_has_them() -> None:
    """A column of the plan with just the people needed: its costs are printed, not others."""
    told = staff_answer(
        needed=replace(staff_answer().needed, costs=dict.fromkeys(OF_COST, 10.0)),
        present=replace(staff_answer().present, costs=dict.fromkeys(OF_COST, 12.0)),
    )
    tables = told.timetables
    people = {"people": tables.people, "loaders": tables.loaders, "finishers": tables.finishers}
    day = invented.with_scenario(invented.peak_day(), 1, rule="full", changes=people)
    for at in range(3):
        costs = {name: invented.figure(100.0 * (at + 1), 1, 1, 900) for name in (*OF_COST, "cost")}
        day = invented.with_figures(day, at, **costs)
    rows = {row[0]: row for row in costs_table(told, day).rows}
    assert [plain(cell) for cell in rows["Cost of the day"][1:3]] == ["$200", "$100"]
    other = invented.with_scenario(day, 1, changes={})
    rows = {row[0]: row for row in costs_table(told, other).rows}
    assert plain(rows["Cost of the day"][1]) != "$200"
