"""Staff, as a browser without script meets it: waiting, the answer, its tables, what is refused."""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from fastapi.testclient import TestClient

from app.answers.serial import write
from app.answers.staff import STAFF
from app.answers.studies.runner import Job, Progress
from app.charts.staff import staff_chart
from app.sites.reading import gate
from app.words.answer import TURNS_ON
from app.words.staff import (
    answer,
    beyond,
    differ_words,
    drying_words,
    how_sure,
    in_spells,
    law_words,
    paired,
    people_table,
    spells_of,
    timetable_words,
)
from sim.decide.firm import Standing, Widener
from sim.decide.staff.answer import HalfHour, MeanDifference, StaffAnswer
from sim.decide.switching.at_exit import MoreHands
from sim.inputs import INPUTS
from sim.inputs.people import ROLES
from tests.answers.staff_answers import TARGETS, half_hour, staff_answer
from tests.charts.drawn import drawn, faults
from tests.demo_app import app_of
from tests.pages.pages import Page, page_of, small_client
from tests.small_wash import CLOSED, PLANNED, small_wash

PAGE = f"/small-wash/staff/{PLANNED.isoformat()}"


class Quiet:
    """Somebody to tell of progress who listens to nothing."""

    def __call__(self, done: int, total: int) -> None:
        """A step is done."""

    def stage(self, name: str) -> None:
        """A stage begins."""

    def __init__(self) -> None:
        self.first: list[object] = []

    def early(self, answer: object) -> None:
        """A first answer is there."""
        self.first.append(answer)


@dataclass
class Visitor:
    """A browser, and the jobs that pages have begun."""

    client: TestClient
    begun: list[Job]

    def text(self, path: str = PAGE, status: int = 200) -> str:
        """The text of a page."""
        found = self.client.get(path)
        assert found.status_code == status, found.text
        return html.unescape(found.text).replace("\u00a0", " ")

    def compute(self) -> StaffAnswer:
        """Computes and stores what the page has begun."""
        job = self.begun[-1]
        content = job.work(None, Quiet())
        web = app_of(self.client).state.web
        with gate(web.database, web.now()) as writes:
            writes.store_result(job.key, job.site_id, job.day, write(content))
        assert isinstance(content, StaffAnswer)
        return content


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """At a wash that is open for two hours; jobs are noted, not computed."""
    with small_client(tmp_path, small_wash(70)) as client:
        begun: list[Job] = []
        monkeypatch.setattr(app_of(client).state.web.runner, "begin", begun.append)
        yield Visitor(client, begun)


def test_the_answer_comes_first_and_its_tables_follow(visitor: Visitor) -> None:
    """Begun once, then the sentence, the bars with their table, effects, formula, labour law."""
    visitor.text()
    assert [job.kind for job in visitor.begun] == ["staff"]
    found = visitor.compute()
    text = visitor.text()
    assert len(visitor.begun) == 1
    said = answer(found)
    assert said.lead.startswith("You need ")
    places = [
        text.index(words)
        for words in (said.lead, "Half-hour by half-hour", "One person more or fewer", "labour law")
    ]
    assert places == sorted(places)
    picture = str(staff_chart(found.half_hours).svg)
    assert picture in text
    assert list(faults(picture)) == []
    seen = drawn(picture)
    assert len(seen.boxes["wet"]) == len(found.half_hours)
    for (left, right, top, foot), one in zip(seen.boxes["wet"], found.half_hours, strict=True):
        assert (foot, seen.value(top)) == (seen.floor, pytest.approx(one.people, abs=0.02))
        assert seen.along((left + right) / 2.0) == pytest.approx(one.start_h + 0.25, abs=0.01)
    planned = [one.planned for one in found.half_hours if one.planned]
    assert [seen.value(line[0][1]) for line in seen.lines["would"]] == pytest.approx(
        planned, abs=0.02
    )
    heads = people_table(replace(found, called={**found.called, "floater": "helper"})).heads
    assert heads[3:-1] == ("Greeter", "Loader", "Finisher", "Dryer", "Helper")
    assert f"{found.needed.people_hours:g} hours and ${found.needed.cost:,.0f}" in text
    page = page_of(visitor.client.get(PAGE))
    assert {f"/small-wash/plan/{PLANNED}", "/guide/staff"} <= set(page.links)


def test_a_first_form_is_told_so_far(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    """Within seconds people by half-hour, settled on few days, asking for no fewer than the whole
    answer in all; it says so, gives no file and no effects, and the page asks again."""
    visitor.text()
    job, quiet = visitor.begun[-1], Quiet()
    whole = job.work(None, quiet)
    (first,) = quiet.first
    assert isinstance(first, StaffAnswer)
    assert isinstance(whole, StaffAnswer)
    assert (first.rough, first.effects, first.standing, first.days) == (True, (), None, 16)
    assert not whole.rough
    assert sum(first.people) >= sum(whole.people)
    web = app_of(visitor.client).state.web
    with gate(web.database, web.now()) as writes:
        writes.store_result(job.key, job.site_id, job.day, write(first), is_final=False)
    stands = Progress(250, 1_000), ""
    monkeypatch.setattr(web.runner, "standing", lambda _, finals: dict.fromkeys(finals, stands))
    text = visitor.text()
    assert "So far:" in text
    assert "settled on 16 simulated days, which rather ask for too many people" in text
    assert answer(first).lead in text
    assert "One person more or fewer, an hour a row" not in text
    assert "Stop computing" in text
    assert f'action="{PAGE}/plan"' not in text
    assert visitor.client.get(f"{PAGE}/people.csv").status_code == 404


def test_the_people_needed_go_into_the_plan(visitor: Visitor) -> None:
    """One press stores them as one more scenario by the first one's rule; then the button is gone,
    and the answer, which goes by the first scenario, stays."""
    visitor.text()
    found = visitor.compute()
    form = next(f for f in page_of(visitor.client.get(PAGE)).forms if f.action == f"{PAGE}/plan")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    plan = f"/small-wash/plan/{PLANNED}"
    assert (sent.status_code, sent.headers["location"]) == (303, plan)
    web = app_of(visitor.client).state.web
    site = web.site_at("small-wash")
    assert site is not None
    stored = web.open(site, STAFF, PLANNED).asked.plan.scenarios
    assert stored[-1].name == "People needed"
    assert stored[-1].rule == stored[0].rule
    assert dict(stored[-1].changes)["people"] == found.timetables.people
    assert dict(stored[-1].changes)["loaders"] == found.timetables.loaders
    text = visitor.text()
    assert answer(found).lead in text
    assert f'action="{PAGE}/plan"' not in text
    full = tuple(replace(stored[0], name=f"S{i}", rule=f"band {60 + i}-50") for i in range(6))
    with gate(web.database, web.now()) as writes:
        writes.store_plan(site.id, PLANNED, "", full, 1, "six")
    visitor.text()
    visitor.compute()
    form = next(f for f in page_of(visitor.client.get(PAGE)).forms if f.action == f"{PAGE}/plan")
    sent = visitor.client.post(form.action, data=form.data(), follow_redirects=False)
    assert sent.status_code == 409
    assert "six scenarios already" in sent.text


def test_tables_as_files(visitor: Visitor) -> None:
    """None before the day is worked out; then a row a half-hour with what the page says, the same
    as a spreadsheet with times as times, and one more or fewer beside it."""
    assert visitor.client.get(f"{PAGE}/people.csv").status_code == 404
    visitor.text()
    found = visitor.compute()
    assert {f"{PAGE}/people.csv", f"{PAGE}/people.xlsx"} <= set(
        page_of(visitor.client.get(PAGE)).links
    )
    lines = list(csv.reader(io.StringIO(visitor.client.get(f"{PAGE}/people.csv").text)))
    first = found.half_hours[0]
    clock = f"{int(first.start_h)}:{'30' if first.start_h % 1 else '00'}"
    assert lines[1][:3] == [clock, str(first.people), str(first.planned)]
    assert len(lines) == 1 + len(found.half_hours)
    raw = visitor.client.get(f"{PAGE}/people.xlsx").content
    book = openpyxl.load_workbook(io.BytesIO(raw))
    rows = list(book["People by half-hour"].iter_rows(min_row=2, values_only=True))
    assert [row[0] / timedelta(hours=1) for row in rows] == [
        half.start_h for half in found.half_hours
    ]
    assert [row[1] for row in rows] == [half.people for half in found.half_hours]
    effects = list(book["One more or fewer"].iter_rows(min_row=2, values_only=True))
    assert [row[1] for row in effects] == [one.change for one in found.effects]


def test_it_is_led_to(visitor: Visitor) -> None:
    """From the pages line, from Today, and from its address without a day."""
    links = set(Page(visitor.client.get("/small-wash/today").text).links)
    assert any(link.startswith("/small-wash/staff/2026") for link in links)
    found = visitor.client.get("/small-wash/staff", follow_redirects=False)
    assert found.status_code == 303
    typed = visitor.client.get(f"/small-wash/staff?day={PLANNED}", follow_redirects=False)
    assert typed.headers["location"] == PAGE


def test_what_cannot_be_answered_is_said(visitor: Visitor) -> None:
    """A closed day, a typed day that is none, an address that is no day."""
    assert "losed" in visitor.text(f"/small-wash/staff/{CLOSED.isoformat()}")
    assert "“soon” is not a date" in visitor.text("/small-wash/staff?day=soon", 422)
    visitor.text("/small-wash/staff/soon", 404)


def test_half_hours_become_spells() -> None:
    """Stretches with the same number but opening and closing work, and marked half-hours, as clock
    times; one alone is a person."""
    rows = [half_hour(8.0 + at / 2, count) for at, count in enumerate((2, 2, 3, 2))]
    shut = half_hour(7.5, 4, why="opening")
    said = ["2 people from 8:00 to 9:00", "3 from 9:00 to 9:30", "2 from 9:30 to 10:00"]
    assert spells_of([shut, *rows]) == said
    assert spells_of([half_hour(8.0, 1)]) == ["1 person from 8:00 to 8:30"]
    assert in_spells([16, 17, 20]) == "from 8:00 to 9:00 and from 10:00 to 10:30"


def targets(**changes: Any) -> StaffAnswer:
    """An answer with some of what is told of its targets changed."""
    return staff_answer(replace(TARGETS, **changes))


def test_what_people_cannot_mend_is_said() -> None:
    """Wait and stack by their times, lost cars by the number that they are judged by, the upper
    end, in whole cars that never say less; nothing where all is met."""
    assert beyond(staff_answer()) == []
    said = beyond(targets(unreached=(26, 27), lost_reached=False))
    assert "from 13:00 to 14:00: there the belt or the pay lanes are the limit" in said[0]
    assert said[1] == (
        "At most 61 cars are lost on an average day, as far as 64 days tell, where you allow 60; "
        "with most loaders all day it would still be 61."
    )


def test_how_sure_it_is() -> None:
    """Fresh days agree, or the half-hours in which they could not show it; lost cars by what the
    fresh days tell, where they can be met what is allowed."""

    def sure(told: StaffAnswer) -> str:
        return how_sure(told, ()).rest

    assert "at most 64 cars are lost on an average day; you allow 60." in sure(staff_answer())
    assert "average day" not in sure(targets(lost_reached=False))
    assert "every half-hour met what can be met" in sure(staff_answer())
    assert "from 9:00 to 9:30. There the margin is thin." in sure(targets(fresh_missed=(18,)))


def test_it_is_firm_as_any_advice_is() -> None:
    """Held against the people planned at drawn sites, by the words of a plan; guesses that move it
    are named until the site has entered them."""
    own = TURNS_ON["staff"][1]
    weighed = ("soaked", "damp", "afternoon")
    told = replace(staff_answer(), standing=Standing(128, 0.0, 0.0), weighed=weighed)
    assert how_sure(told, own).lead == "Firm."
    assert "guesses until" not in how_sure(told, own).rest
    assert f"“{INPUTS[own[0]].label}”" in how_sure(told, ()).rest
    turns = (Widener("load_mean_s", 0.7),)
    open_ = how_sure(replace(told, standing=Standing(128, 0.3, 0.0, turns=turns)), own)
    assert open_.lead == "Not firm:"
    words = open_.rest.replace("\u00a0", " ")
    assert words.startswith("at 6 of 20 sites like yours (128 were drawn) “the people planned”")
    assert "One measurement would settle most of it. Stand at the loading point" in words
    assert how_sure(replace(told, standing=None), own).lead == "Not firm:"


def test_limits_on_hours_are_named_while_they_are_guesses() -> None:
    """Law is to be checked whatever was entered; what is still a guess is named."""
    own = TURNS_ON["roster"][1]
    assert law_words(own) == "Check the limits on hours against local labour law."
    assert f"“{INPUTS['rest_h'].label}”" in law_words(())
    assert f"“{INPUTS['rest_h'].label}”" not in law_words({"rest_h"})


def test_what_to_enter_at_the_site() -> None:
    """Timetables as the form reads them."""
    assert "enter “2; 9:30 3” as people" in timetable_words(staff_answer())


def test_who_only_dries_has_a_column_and_a_sentence() -> None:
    """People more who pay by drying are said with their hours and by what they were chosen, and who
    only dries has a column of his own; without any there is neither."""
    roles = {**staff_answer().roles, "dryer": (0,) * 16 + (1,) * 8 + (0,) * 24}
    found = staff_answer(roles=roles, hands=MoreHands(1, 28_800.0, 43_200.0))
    assert "Dryer" in people_table(found).heads
    (said,) = drying_words(found)
    assert said.startswith("One of them only dries damp cars from 8:00 to 12:00 and is not planned")
    assert "Dryer" not in people_table(staff_answer()).heads
    assert drying_words(staff_answer()) == []


@pytest.mark.parametrize(
    ("mean", "half", "said"),
    [
        (0.0, 0.0, "0"), (-20.0, 0.0, "−20"), (20.0, 0.3, "+20"), (-1.56, 0.71, "−2 ± 1"),
        (0.2, 0.1, "0"), (0.2, 3.0, "0 ± 3"),
    ],
)  # fmt: skip
def test_differences_are_no_finer_than_known(mean: float, half: float, said: str) -> None:
    """With half the interval where it shows."""
    found = paired(MeanDifference(mean, half), 1.0, 0)
    assert found.replace("\u00a0", " ") == said


def _row(formula: tuple[int, int], needed: tuple[int, int], load: float) -> HalfHour:
    people, loaders = needed
    roles = {**dict.fromkeys(ROLES, 0), "loader": loaders}
    return half_hour(
        8.0, people, roles=roles, formula_people=formula[0], formula_loaders=formula[1],
        offered_load=load,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (_row((3, 1), (3, 1), 0.5), ""),
        (_row((4, 2), (3, 1), 1.2), "in the simulation cars give up"),
        (_row((4, 2), (3, 1), 0.9), "times vary less"),
        (_row((3, 1), (4, 2), 0.9), "half-hours around it"),
        (_row((2, 1), (3, 1), 0.9), "busy days"),
        (_row((4, 1), (3, 1), 0.9), "lost make no work"),
    ],
)
def test_why_formula_and_simulation_differ(row: HalfHour, words: str) -> None:
    """By what differs: loaders either way, or the others either way."""
    assert words in differ_words(row)
    assert bool(words) == bool(differ_words(row))
