"""Weighings: stored through the gate, in and out of a folder, and what plans make of them."""

from __future__ import annotations

from concurrent.futures import wait
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from app.answers import planning, serial
from app.answers.answer import Desk
from app.answers.beliefs import SEED, belief_in, belief_key, weighed, weighings_of, work_in
from app.answers.planning import PLAN, first_stage
from app.answers.studies.runner import Runner
from app.answers.weighings import effect_of, open_weighings
from app.books import BOOKS, csv_of, weighing_problems
from app.db import store
from app.db.session import Database, Session, open_database
from app.sites.changes import Gate, Stale
from app.sites.folder import look_into, read_folder, write_folder
from sim.decide.compare import LEAST_RUNS, compare
from sim.errors import InputError, InputProblem
from sim.inputs import (
    AFTERNOON,
    CALL_BACK,
    DAMP,
    HOODS,
    LET_PASS,
    MISFIT,
    SOAKED,
    SPIN,
    TOWEL,
    WEIGHED,
    DemandSpread,
    HourCount,
    Scenario,
    Site,
    SiteData,
    Weighing,
)
from sim.learn.answer import Posterior
from sim.learn.expected_day import expected_day
from sim.learn.weighed_day import guessed_cv
from tests.small_wash import CLOSED, PLANNED, TODAY, small_wash
from tests.world import NOW

DAY = TODAY - timedelta(days=5)
SOAK = Weighing(SOAKED, DAY, 0.0, 0.32, 0.1)
LIMIT = Weighing(DAMP, DAY, 9 * 3600.0, 0.1 + 0.1 / 3.0, 0.1)
SEEN = Weighing(DAMP, DAY, 9 * 3600.0, 0.1 + 0.1 / 3.0, 0.1, "full", 20, 3)
NOON = Weighing(AFTERNOON, DAY, 9.5 * 3600.0, 0.19, 0.1, "clock 8:00-8:30,9:00-9:10", 20, 0)
NOTED = replace(NOON, cars_so_far=61, weather="31 °C, 80 %")
SPUN = Weighing(SPIN, DAY, 17 * 3600.0, 0.32, 0.1, after_kg=0.25, spun_s=600.0)
PASSED = Weighing(TOWEL, DAY, 0.0, 0.12, 0.1, verdict=LET_PASS)
CALLED = replace(PASSED, weight_kg=0.15, verdict=CALL_BACK)
TWENTY = Weighing(HOODS, DAY, 9.5 * 3600.0, cars=20, damp_cars=3)
FRESH = replace(NOTED, day=TODAY)
"""A weighing of a day whose counts have not been brought in."""


def read(text: str) -> tuple[tuple[Weighing, ...], tuple[InputProblem, ...]]:
    """The weighings of a file, and what is wrong with it."""
    files = {WEIGHED.file: text.encode()}
    data, problems, _ = BOOKS["weighings"].read(files, SiteData(Site("Wash")))
    return data.weighings, problems


def gate(session: Session) -> Gate:
    """The gate for the built-in person."""
    return Gate(session, store.built_in_person(session), NOW)


def test_weighings_are_stored_and_struck_out_with_their_history(session: Session) -> None:
    """What goes in comes back to the last bit, two equal strips included; the history keeps what
    is struck out: who, when, what."""
    made = gate(session).create_site(small_wash(), "make")
    one = gate(session).set_book(made.site_id, "weighings", (NOON, SOAK, SOAK), made.version, "a")
    assert store.get_site(session, made.site_id).data.weighings == (NOON, SOAK, SOAK)
    again = gate(session).set_book(made.site_id, "weighings", (NOON, SOAK, SOAK), made.version, "a")
    assert again.repeated
    with pytest.raises(Stale):
        gate(session).set_book(made.site_id, "weighings", (), made.version, "b")
    gate(session).set_book(made.site_id, "weighings", (NOON, SOAK), one.version, "c")
    assert store.get_site(session, made.site_id).data.weighings == (NOON, SOAK)
    newest, *older = store.input_history(session, made.site_id)
    assert (newest.what, newest.field, newest.new) == ("weighing", f"soaked {DAY} 0:00", None)
    assert WEIGHED.of_plain(newest.old).weight_kg == 0.32
    assert newest.person == "site manager"
    assert [change.old for change in older if change.what == "weighing"] == [None] * 3


def test_what_was_noted_of_a_day_is_kept(session: Session) -> None:
    """Cars so far and weather as felt, in the site and in its history; taken back, they are told
    as what had been there."""
    made = gate(session).create_site(small_wash(), "make")
    one = gate(session).set_book(made.site_id, "weighings", (NOTED,), made.version, "a")
    assert store.get_site(session, made.site_id).data.weighings == (NOTED,)
    gate(session).set_book(made.site_id, "weighings", (NOON,), one.version, "b")
    history = store.input_history(session, made.site_id)
    changes = [change for change in history if change.what == "weighing"]
    (gone,) = [change for change in changes if change.old]
    come, first = [change for change in changes if change.new]
    assert WEIGHED.of_plain(come.new).cars_so_far == 0
    assert gone.old == first.new
    assert WEIGHED.of_plain(first.new) == NOTED


def test_a_change_elsewhere_leaves_weighings_alone(session: Session) -> None:
    """Inputs and counts are stored without touching them; a whole site replaces them."""
    made = gate(session).create_site(replace(small_wash(), weighings=(SOAK,)), "make")
    after = gate(session).set_inputs(
        made.site_id, {"strip_count": 150}, expected_version=made.version, request_key="a"
    )
    assert store.get_site(session, made.site_id).data.weighings == (SOAK,)
    gate(session).replace_site(made.site_id, small_wash(), after.version, "b")
    assert store.get_site(session, made.site_id).data.weighings == ()


@pytest.mark.parametrize(
    ("item", "field", "said"),
    [
        (replace(SOAK, kind="dripping"), "kind", "“dripping” is no weighing"),
        (replace(SOAK, at_s=90_000.0), "at_s", "is not a minute of the day"),
        (replace(SOAK, at_s=61.0), "at_s", "is not a minute of the day"),
        (replace(SOAK, dry_kg=5.0), "dry_kg", "can't be that of a strip"),
        (replace(SOAK, weight_kg=0.1), "weight_kg", "a wet strip weighs more than 100\u00a0g"),
        (replace(SOAK, weight_kg=310.0), "weight_kg", "Look at the unit"),
        (replace(NOON, rule="class hearse"), "rule", "hearse"),
        (replace(NOON, rule="sometimes"), "rule", "sometimes"),
        (replace(NOON, at_s=3600.0), "at_s", "outside the opening hours"),
        (replace(SEEN, at_s=3600.0), "at_s", "outside the opening hours"),
        (replace(SEEN, cars=-1), "cars", "−1 cars looked at can't be"),
        (replace(SEEN, cars=2_000), "cars", "Enter 1 to 200"),
        (replace(SEEN, damp_cars=21), "damp_cars", "21 damp cars of 20 looked at"),
        (replace(LIMIT, damp_cars=1), "damp_cars", "1 damp cars of 0 looked at"),
        (
            replace(SOAK, cars=20),
            "cars",
            "“damp”, “afternoon”, “hoods”, “towel” alone",
        ),
        (replace(NOON, cars_so_far=-1), "cars_so_far", "Enter 1 to 5,000"),
        (replace(NOON, cars_so_far=5001), "cars_so_far", "5,001 cars washed so far can't be"),
        (replace(SOAK, cars_so_far=9), "cars_so_far", "cars_so_far “9” belongs to"),
        (replace(SOAK, weather="31 °C"), "weather", "weather “31 °C” belongs to"),
        (replace(NOON, weather="warm"), "weather", "“warm” was not understood"),
        (replace(NOON, weather="31 °C, rain"), "weather", "more than can be used"),
        (replace(NOON, weather="+20 %"), "weather", "more than can be used"),
        (replace(NOON, weather="31 °C," + 60 * " "), "weather", "at most 60 characters"),
        (
            replace(SPUN, spun_s=0.0),
            "spun_s",
            "0\u00a0min of idling can't be judged. Enter 1\u00a0min",
        ),
        (replace(SPUN, spun_s=36_000.0), "spun_s", "600\u00a0min of idling can't be judged"),
        (replace(SPUN, after_kg=0.0), "after_kg", "a wet strip weighs more than 100\u00a0g"),
        (replace(SPUN, after_kg=250.0), "after_kg", "Look at the unit"),
        (replace(SPUN, cars=20, damp_cars=0), "cars", "cars “20” belongs to"),
        (replace(SOAK, spun_s=600.0), "spun_s", "belongs to “spin” alone"),
        (replace(PASSED, verdict=""), "verdict", "Use pass or back"),
        (replace(PASSED, verdict="perhaps"), "verdict", "“perhaps” says not what"),
        (replace(PASSED, weight_kg=0.09), "weight_kg", "a towel weighs no less after a hood"),
        (replace(PASSED, dry_kg=9.0), "dry_kg", "can't be that of a strip or towel"),
        (replace(TWENTY, cars=0, damp_cars=0), "cars", "No cars can’t have been looked at"),
        (replace(TWENTY, damp_cars=21), "damp_cars", "21 damp cars of 20 looked at"),
        (replace(TWENTY, dry_kg=0.1), "dry_kg", "belongs to"),
        (replace(TWENTY, at_s=3600.0), "at_s", "outside the opening hours"),
    ],
)
def test_a_weighing_that_cannot_be_is_refused(item: Weighing, field: str, said: str) -> None:
    """With field, value and what would be right."""
    faults = [*WEIGHED.problems_of(item), *weighing_problems(item, small_wash().site)]
    (problem,) = faults
    assert problem.field == field
    assert said in str(problem)


def test_the_gate_refuses_what_cannot_be(session: Session) -> None:
    """And writes nothing."""
    made = gate(session).create_site(small_wash(), "make")
    with pytest.raises(InputError, match="Look at the unit"):
        gate(session).set_book(
            made.site_id, "weighings", (SOAK, replace(SOAK, weight_kg=310.0)), made.version, "a"
        )
    assert store.get_site(session, made.site_id).data.weighings == ()


def test_a_folder_gives_its_weighings_back(tmp_path: Path) -> None:
    """To the last bit; a folder written over another's keeps none of the other's."""
    every = (SOAK, SOAK, LIMIT, SEEN, NOON, NOTED, SPUN, PASSED, CALLED, TWENTY)
    data = replace(small_wash(), weighings=tuple(sorted(every)))
    write_folder(tmp_path, data)
    assert read_folder(tmp_path) == data
    write_folder(tmp_path, small_wash())
    assert read_folder(tmp_path).weighings == ()


def test_bad_lines_of_a_file_are_named() -> None:
    """Each with its line, value and what would be right; the good ones are kept."""
    text = (
        "kind,date,time,weight_kg,dry_kg,rule,cars,damp_cars\n"
        "soaked,2026-07-11,9:00,0.32,0.1,,,\n"
        "drenched,2026-07-11,9:00,0.32,0.1,,,\n"
        "damp,11.7.2026,25:00,heavy,0.1,,,\n"
        "afternoon,2026-07-11,15:20,190 g,100 g,reduced,,\n"
        "soaked,2026-07-11,9:00,320,0.1,,,\n"
        "damp,2026-07-11,9:00,0.19,0.1,,20,some\n"
        "damp,2026-07-11,9:00,0.19,0.1,,20,21\n"
    )
    found, problems = read(text)
    assert [item.kind for item in found] == ["afternoon", "soaked"]
    assert found[0].weight_kg == pytest.approx(0.19)
    assert found[0].rule == "reduced"
    assert found[1].rule == "full"
    assert [(p.where, p.field) for p in problems] == [
        ("weighings.csv, line 3", "kind"),
        ("weighings.csv, line 4", "date"),
        ("weighings.csv, line 4", "time"),
        ("weighings.csv, line 4", "weight_kg"),
        ("weighings.csv, line 6", "weight_kg"),
        ("weighings.csv, line 7", "damp_cars"),
        ("weighings.csv, line 8", "damp_cars"),
    ]


def test_a_file_without_its_columns_is_told() -> None:
    """What is missing is named once; weights, which hoods have none of, by the lines that need
    them."""
    found, (problem,) = read("kind,date\nsoaked,2026-07-11\n")
    assert found == ()
    assert "No column gives time" in str(problem)
    found, (problem,) = read("kind,date,time\nsoaked,2026-07-11,9:00\n")
    assert found == ()
    assert (problem.where, problem.field) == ("weighings.csv, line 2", "dry_kg")


def test_a_file_with_decimal_commas(tmp_path: Path) -> None:
    """Semicolons between cells allow them, as in the other files; problems reach the folder."""
    text = "kind;date;time;weight_kg;dry_kg\nsoaked;2026-07-11;9:00;0,32;0,1\n"
    assert read(text)[0][0].weight_kg == 0.32
    write_folder(tmp_path, small_wash())
    (tmp_path / "weighings.csv").write_text("kind\n")
    assert look_into(tmp_path).problems


def test_text_and_file_are_the_same_both_ways() -> None:
    """Any weights, a rule with commas."""
    items = tuple(sorted((NOON, NOTED, LIMIT, SEEN, SOAK, SPUN, PASSED, CALLED, TWENTY)))
    assert read(csv_of(WEIGHED, items)) == (items, ())


def test_weighings_of_one_day_and_rule_are_judged_together() -> None:
    """Each day has what it was to be expected to bring, and the evening before it."""
    later = replace(NOON, at_s=NOON.at_s + 600.0)
    other = replace(NOON, rule="full")
    found = weighed(replace(small_wash(), weighings=(SOAK, LIMIT, SEEN, NOON, later, other)))
    # a strip whose cars were counted needs its day, one without a count does not
    assert [[w.kind for w in day.weighings] for day in found.days] == [
        [DAMP, AFTERNOON],
        [AFTERNOON, AFTERNOON],
    ]
    assert found.days[0].evening is not None
    assert sum(found.days[0].conditions.arrivals_per_h) == pytest.approx(60)
    assert found.problems == ()


def test_a_measurement_is_judged_by_what_it_needs() -> None:
    """A spin test by the air of its day, strip by strip, cars or none, typical air where none is
    stored; hoods by their whole day with the strips of it; towels by the site alone."""
    longer = replace(SPUN, spun_s=1800.0, after_kg=0.2)
    other = replace(SPUN, weight_kg=0.3, after_kg=0.26)
    shut = replace(SPUN, day=CLOSED)
    items = (SPUN, longer, other, shut, PASSED, CALLED, TWENTY, replace(NOON, rule="full"))
    data = replace(small_wash(), weighings=items)
    found = weighed(data)
    assert [test.weighings for test in found.spins] == [(SPUN, longer), (other,), (shut,)]
    assert max(found.spins[0].conditions.temp_c) == pytest.approx(25.0)
    assert [[w.kind for w in day.weighings] for day in found.days] == [[HOODS, AFTERNOON]]
    assert found.problems == ()
    assert set(found.weighings) == set(items)
    bare = weighed(SiteData(Site("Bare"), weighings=(SPUN, PASSED, TWENTY)))
    # where no weather is stored the month's typical air will do for a strip, but hoods need cars
    assert set(bare.weighings) == {SPUN, PASSED}
    assert [test.weighings for test in bare.spins] == [(SPUN,)]
    assert len(bare.problems) >= 1
    warm = replace(SPUN, weather="31 °C, 80 %")
    key = belief_key(found)
    assert belief_key(weighed(replace(data, weighings=(warm, *items[1:])))) != key


def test_a_weighing_whose_day_is_unknown_is_left_out_and_told() -> None:
    """A closed day, a rule of a class that is gone, and a site without counts; others stay."""
    closed = replace(NOON, day=CLOSED)
    gone = replace(NOON, rule="class hearse")
    found = weighed(replace(small_wash(), weighings=(SOAK, closed, gone)))
    assert found.weighings == (SOAK,)
    assert len(found.problems) == 2
    assert all("is left out" in str(p) for p in found.problems)
    bare = weighed(SiteData(Site("Bare"), weighings=(SOAK, NOON)))
    assert bare.weighings == (SOAK,)
    assert bare.problems


def test_the_key_is_of_everything_that_matters() -> None:
    """Another weight, input or thing known asks anew; a name, a price or a wish does not."""
    data = replace(small_wash(), weighings=(SOAK, NOON))

    def key(one: SiteData) -> str:
        return belief_key(weighed(one))

    same = [
        replace(data, site=data.site.with_values({"price_per_car": 31.0})),
        replace(data, site=replace(data.site, name="Other")),
    ]
    others = [
        replace(data, weighings=(SOAK,)),
        replace(data, weighings=(replace(SOAK, weight_kg=0.33), NOON)),
        replace(data, site=data.site.with_values({"strip_count": 150})),
        replace(data, given=data.given | {"film_cv"}),
    ]
    assert {key(one) for one in same} == {key(data)}
    assert len({key(data), *map(key, others)}) == 1 + len(others)
    assert key(small_wash()) == ""
    assert SEED != planning.SEED


def test_plans_draw_sites_from_what_weighings_leave() -> None:
    """A soaked strip that weighs more than believed moves holding capacity and damp limit of the
    plan's own numbers, is named in its record, and makes another question of it."""
    data = replace(small_wash(), weighings=(replace(SOAK, weight_kg=0.42),))
    told = work_in(weighed(data))
    assert told.fits
    assert serial.read(Posterior, serial.write(told)) == told
    (row,) = [row for row in told.inputs if row.name == "holding_capacity_kg_kg"]
    assert row.after[1] > row.before[1] > 2.0
    database = open_database(None)
    with database.session() as session:
        made = gate(session).create_site(data, "make")
        stored = store.get_site(session, made.site_id)
        before = Desk(session, stored).open(PLAN, PLANNED)
        assert before.asked.held.is_wanting
        gate(session).store_result(before.asked.held.key, made.site_id, DAY, serial.write(told))
        after = Desk(session, stored).open(PLAN, PLANNED)
    assert before.asked.question is not None
    assert after.asked.question is not None
    assert before.asked.question.belief is None
    assert before.key != after.key
    belief = after.asked.question.belief
    assert belief is not None
    assert belief.weighed == (SOAKED,)
    assert after.asked.question.middle.wheel.holding_capacity_kg_kg > 2.3
    for runs in (4, LEAST_RUNS):  # at middle values, and over drawn sites
        full = (Scenario("Always full"),)
        asked = replace(after.asked.question, replications=runs, scenarios=full)
        assert compare(asked).weighed == ("soaked",)
    database.close()


def test_a_weighed_day_has_its_own_counts() -> None:
    """Counts of the day itself, also where they differ from what was expected of it; before they
    are brought in the cars so far, as felt the weather; without either the day is as unsure as a
    plan of it would be, to the page too, and by a guess where too few days were counted. The
    evening before has its own counts too. What is judged has another key each time."""
    base = small_wash()
    found = []
    for items, counts in (
        ((FRESH,), base.history.counts),
        ((FRESH,), (*base.history.counts, HourCount(TODAY, 8, 0, 44), HourCount(TODAY, 9, 0, 50))),
        ((replace(FRESH, cars_so_far=0, weather=""),), base.history.counts),
        ((replace(FRESH, cars_so_far=70),), base.history.counts),
    ):
        data = replace(base, weighings=items, history=replace(base.history, counts=counts))
        judged = weighed(data)
        found.append((judged.days[0], belief_key(judged)))
    (noted, _), (counted, _), (open_, _), _ = found
    assert len({key for _, key in found}) == 4
    assert noted.cars.known == "so far"
    assert noted.cars.washed == ((NOON.at_s, 61),)
    assert noted.conditions.spread.day_cv == 0.0
    assert max(noted.conditions.temp_c[8:10]) == pytest.approx(31.0)
    assert noted.conditions.humidity[noted.conditions.temp_c.index(31.0)] == pytest.approx(0.8)
    assert counted.cars.known == "counts"
    assert counted.conditions.arrivals_per_h[8:10] == (44.0, 50.0)
    assert counted.cars.seen == pytest.approx(44 + 25)
    assert counted.cars.expected == pytest.approx(45)
    assert open_.cars.known == "nothing"
    spread = expected_day(base, TODAY).conditions.spread
    assert spread.days == 21  # whole days within three weeks
    level_cv = (spread.level_cv**2 + 0.2**2) ** 0.5  # wider by the guess for days that were picked
    wider = open_.conditions.spread
    assert wider.level_cv == pytest.approx(level_cv)
    assert replace(wider, level_cv=spread.level_cv) == spread
    assert noted.conditions.spread == DemandSpread(0.0, spread.hour_cv)
    unknown = replace(base, weighings=(replace(FRESH, cars_so_far=0),))
    assert spread.day_cv is not None
    told = weighed(unknown).taken[0].total_cv
    assert told == pytest.approx((spread.day_cv**2 + level_cv**2) ** 0.5)
    few = tuple(row for row in base.history.counts if row.day >= TODAY - timedelta(days=4))
    unknown = replace(unknown, history=replace(base.history, counts=few))
    guess = guessed_cv(base.site.pay.day_factor_cv)
    assert weighed(unknown).days[0].conditions.spread == DemandSpread(guess)
    assert weighed(unknown).taken[0].total_cv == guess
    assert max(open_.conditions.temp_c[8:10]) == pytest.approx(25.0)
    evening = TODAY - timedelta(days=1)
    counts = tuple(
        replace(row, cars=2 * row.cars) if row.day == evening else row
        for row in base.history.counts
    )
    data = replace(base, weighings=(FRESH,), history=replace(base.history, counts=counts))
    before = weighed(data).days[0].evening
    assert before is not None
    assert before.conditions.arrivals_per_h[8:10] == (60.0, 60.0)


def test_weighings_that_do_not_fit_move_plans_all_the_same() -> None:
    """Plans draw their sites from them, and say that they don't fit, so that nothing is firm."""
    data = replace(small_wash(), weighings=(replace(SOAK, weight_kg=0.85),) * 3)
    told = work_in(weighed(data))
    assert not told.fits
    assert told.strange > 0.5
    database = open_database(None)
    with database.session() as session:
        made = gate(session).create_site(data, "make")
        key = belief_key(weighed(data))
        gate(session).store_result(key, made.site_id, DAY, serial.write(told))
        view = weighings_of(Desk(session, store.get_site(session, made.site_id)))
        assert not view.is_wanting
        belief = belief_in(view)
        assert belief is not None
        assert belief.weighed == (SOAKED, MISFIT)
        held = belief.middle(data.site).wheel.holding_capacity_kg_kg
        assert held > data.site.wheel.holding_capacity_kg_kg + 1.0
    database.close()


def test_a_page_begins_what_is_missing_and_finds_it(tmp_path: Path) -> None:
    """The weighings first, then what they change on the busiest day: narrower, and both days are
    the same ones. The share with them is that of the day's plan, to the last digit."""
    database: Database = open_database(tmp_path / "small.sqlite3")
    runner = Runner(database, 1, lambda: NOW)
    with database.session() as session:
        made = gate(session).create_site(replace(small_wash(), weighings=(SOAK,) * 3), "make")
    seen = []
    for _ in range(3):
        with database.session() as session:
            stored = store.get_site(session, made.site_id)
        seen.append(open_weighings(database, stored, TODAY, runner))
        runner_done(runner)
    first, second, third = seen
    assert first.asked.plan.held.is_wanting
    assert not first.key
    assert second.asked.question is not None
    assert second.result is None
    assert third.result is not None
    assert second.asked.plan.question is not None
    assert third.result.scenario == planning.DEFAULT_SCENARIOS[0].name
    assert third.result.before.site_uncertainty != third.result.after.site_uncertainty
    plan = compare(first_stage(second.asked.plan.question)).columns[0]
    assert third.result.after.value == plan.value("left_damp_share")
    told: list[tuple[int, int]] = []
    again = effect_of(second.asked, None, lambda done, total: told.append((done, total)))
    assert again == third.result
    assert told[-1] == (2 * LEAST_RUNS, 2 * LEAST_RUNS)
    runner.close()
    database.close()


def runner_done(runner: Runner) -> None:
    """Waits until nothing is left to do with weighings."""
    there = runner._line._threads
    threads = [there[kind] for kind in ("weighings", "effect") if kind in there]
    wait([thread.submit(lambda: None) for thread in threads])


def test_a_date_is_a_date() -> None:
    """Weighings sort by what they are, then by when."""
    early = replace(SOAK, day=date(2026, 1, 2))
    assert sorted((NOON, SOAK, early)) == [NOON, early, SOAK]
