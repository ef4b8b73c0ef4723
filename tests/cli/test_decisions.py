"""The commands that answer a question of the manager: what each prints, writes and refuses."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest

from app.answers import cloth, coming_plans, switching
from app.cli import commands
from app.sites.folder import read_folder, write_folder
from sim.day.rules import Rule, parse_rule
from sim.decide.switching.answer import ComingAnswer, Together, WhenToReduce
from sim.decide.switching.search import SamplingBudget
from sim.inputs import Person, Site, SiteData, StaffBook
from tests.answers.test_cloth import BOOK
from tests.cli.shell import DAY, Shell, listing
from tests.demo_app import SMALL
from tests.remembering import remember
from tests.small_wash import CLOSED, small_wash

# ---- switch --------------------------------------------------------------------------------------


@pytest.fixture
def quick_switch(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Answers among three rules on a few days, without worker processes; notes what was asked."""
    asked: list[Any] = []
    inner = switching.answer_switch

    def quick(
        question: Any, day: Any, origin: str, pool: Any, told: Any, depth: Any
    ) -> WhenToReduce:
        asked.append((question, depth))
        few = dataclasses.replace(question, among=(parse_rule("clock 8:00-9:00"),), known=None)
        return inner(few, day, origin, None, told, SMALL)

    monkeypatch.setattr(switching, "answer_switch", quick)
    return asked


def test_switch_prints_its_answer(shell: Shell, quick_switch: list[Any]) -> None:
    """What to do, how sure, the rule, among how many it was chosen, and a table of figures."""
    before = listing(shell.wash)
    code, out, err = shell.run("switch", shell.wash, *DAY)
    assert (code, err) == (0, "")
    assert out.startswith("Small Wash, 2026-07-18 ")
    for words in ("Not firm:", "Rule: ", "Of 3 rules tried", "Leaving damp", "Always reduced"):
        assert words in out
    assert listing(shell.wash) == before
    ((question, depth),) = quick_switch
    assert (question.present, depth.exhaustive) == ("full", False)


def test_switch_takes_wish_rule_and_changes(shell: Shell, quick_switch: list[Any]) -> None:
    """Wish, rule in use, changes and exhaustive search reach the search; `--json -` stands
    alone."""
    code, out, _err = shell.raw(
        "switch", shell.wash, *DAY, "--wish", "cost", "--rule", "band 50-40", "--exhaustive",
        "--set", "car_spacing_m=8", "--json", "-",
    )  # fmt: skip
    assert code == 0
    found = json.loads(out)
    assert (found["schema"], found["wish"]["kind"]) == ("clothcast.switch/8", "cost")
    assert found["present"]["text"] == "band 50-40"
    ((question, depth),) = quick_switch
    assert question.site.line.car_spacing_m == 8.0
    assert depth.exhaustive


def test_switch_refuses_what_it_cannot_answer(shell: Shell, quick_switch: list[Any]) -> None:
    """A closed day and a rule that is none are told in a sentence, with exit code 1."""
    code, _out, err = shell.run("switch", shell.wash, "--date", CLOSED.isoformat())
    assert code == 1
    assert err
    code, _out, err = shell.run("switch", shell.wash, *DAY, "--rule", "often")
    assert code == 1
    assert "often" in err


def test_switch_chooses_settings_when_asked(
    shell: Shell, quick_switch: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With `--with-settings` speed and spacing follow the rule, in print and in the JSON."""
    inner = switching.answer_together

    def quick(question: Any, rule: Rule, day: Any, pool: Any, told: Any) -> Together:
        few = dataclasses.replace(question, known=None)
        return inner(few, rule, day, None, told, SamplingBudget(2, 4, 4))

    monkeypatch.setattr(switching, "answer_together", quick)
    file = shell.data.parent / "switch.json"
    code, out, _err = shell.run("switch", shell.wash, *DAY, "--with-settings", "--json", file)
    assert code == 0
    assert "Cars washed an hour" in out
    found = json.loads(file.read_text(encoding="utf-8"))
    assert found["together"]["schema"] == "clothcast.settings-and-rule/4"
    assert found["together"]["date"] == found["date"]


def test_coming_plans_the_days(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line a day from tomorrow on, then the year, printed and written; the folder stays as it
    is; a day that starts nothing is refused."""
    inner = coming_plans.answer_coming

    def quick(asked: Any, pool: Any, told: Any) -> ComingAnswer:
        return inner(asked, None, told, count=4, year_days=5)

    monkeypatch.setattr(coming_plans, "answer_coming", quick)
    before = listing(shell.wash)
    file = shell.data.parent / "coming.json"
    code, out, err = shell.run("coming", shell.wash, "--today", "2026-07-16", "--json", file)
    assert (code, err) == (0, "")
    assert out.startswith("Small Wash, from 2026-07-17 ")
    for words in ("Friday 17 July", "Monday 20 July", "Closed.", "From 17 July 2026 to"):
        assert words in out
    found = json.loads(file.read_text(encoding="utf-8"))
    assert [one["date"][-2:] for one in found["days"]] == ["17", "18", "19", "20"]
    code, out, _err = shell.raw("coming", shell.wash, "--date", "2026-07-18", "--json", "-")
    assert json.loads(out)["first"] == "2026-07-18"
    assert listing(shell.wash) == before
    monkeypatch.setattr(coming_plans, "days_ahead", lambda *_given: iter(()))
    code, _out, err = shell.run("coming", shell.wash, "--date", "2026-07-18")
    assert code == 1
    assert "Nothing can be planned of the 14 days from 2026-07-18 on" in err


# ---- cloth ---------------------------------------------------------------------------------------


def test_cloth_prints_its_answer_and_writes_it(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence of the page, the ways beside one another, the sets; the JSON has all of it."""
    remember(monkeypatch, cloth, "work_out", but=("look",))
    write_folder(shell.wash, dataclasses.replace(small_wash(), cloth=BOOK))
    file = tmp_path / "cloth.json"
    code, out, err = shell.run("cloth", shell.wash, "--json", file)
    assert (code, err) == (0, "")
    found = json.loads(file.read_text(encoding="utf-8"))
    assert found["schema"] == "clothcast.cloth/7"
    assert found["due"]["name"] == BOOK.sets[1].name
    assert "Not firm: what nobody has measured here" in out
    assert "when it wears out" in out
    assert "on the wheel since" in out
    code, out, err = shell.run("cloth", shell.wash, "--json", "-")
    assert json.loads(out) == found


def test_cloth_says_what_is_missing(shell: Shell, tmp_path: Path) -> None:
    """A site without counts: the reason, exit code 1."""
    write_folder(tmp_path / "bare", SiteData(Site("Bare")))
    code, out, err = shell.run("cloth", tmp_path / "bare")
    assert (code, out) == (1, "")
    assert "There are no counts of open hours" in err


# ---- staff ---------------------------------------------------------------------------------------


@pytest.fixture
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who is needed on a day is worked out once."""
    remember(monkeypatch, commands, "answer_staff", but=("executor", "progress"))


@pytest.mark.usefixtures("once")
def test_staff_prints_who_is_needed_and_writes_it(shell: Shell, tmp_path: Path) -> None:
    """The sentence of the page, both tables, the JSON; the folder stays as it is."""
    before = listing(shell.wash)
    file = tmp_path / "staff.json"
    code, out, err = shell.run("staff", shell.wash, *DAY, "--json", file)
    assert (code, err) == (0, "")
    found = json.loads(file.read_text(encoding="utf-8"))
    assert found["schema"] == "clothcast.staff/8"
    assert out.startswith("You need 2 people from 8:00 to 10:00.")
    for words in ("Settled on 64 simulated days", "Greeter", "One person more or fewer"):
        assert words in out
    code, out, _err = shell.raw("staff", shell.wash, *DAY, "--json", "-")
    assert json.loads(out) == found
    assert listing(shell.wash) == before


def test_staff_refuses_a_closed_day(shell: Shell) -> None:
    """With its reason, exit code 1."""
    code, out, err = shell.run("staff", shell.wash, "--date", CLOSED.isoformat())
    assert (code, out) == (1, "")
    assert "stocktaking" in err


# ---- roster --------------------------------------------------------------------------------------


def test_roster_prints_its_answer_and_writes_it(shell: Shell, tmp_path: Path) -> None:
    """A grid, the cost, the caution on limits; as JSON all of it; nothing is stored."""
    people = tuple(Person(f"Person {letter}") for letter in "ABCD")
    site = Site("Wash").with_values({"open_h": 8.0, "close_h": 16.0, "people": ((0.0, 1.0),)})
    folder = tmp_path / "wash"
    write_folder(folder, SiteData(site, staff=StaffBook(people)))
    before = listing(folder)
    file = tmp_path / "roster.json"
    planned = ("--week", "2026-07-23", "--as-planned")
    code, out, _ = shell.run("staff", folder, *planned, "--json", file)
    assert code == 0
    assert "Person A" in out
    assert "local labour law" in out
    found = json.loads(file.read_text(encoding="utf-8"))
    assert (found["schema"], found["monday"]) == ("clothcast.roster/5", "2026-07-20")
    assert found["roster"]["cost"] >= found["roster"]["lp_bound"] > 0.0
    assert listing(folder) == before
    write_folder(folder, SiteData(site, staff=StaffBook(people[:1])))
    code, out, _ = shell.run("staff", folder, *planned)
    assert code == 0
    assert "No roster meets all of this at once" in out
    assert "A way out:" in out


@pytest.mark.usefixtures("once")
def test_a_week_is_worked_out_day_by_day(shell: Shell, tmp_path: Path) -> None:
    """Each open day of the week is asked for by its own people, loaders by skill; a closed one
    by nobody, and the roster covers all of it."""
    data = read_folder(shell.wash)
    people = tuple(Person(f"Person {at}", ("loader",) if at % 2 else ()) for at in range(8))
    folder = tmp_path / "wash"
    write_folder(folder, dataclasses.replace(data, staff=StaffBook(people)))
    code, out, err = shell.raw("staff", folder, "--week", CLOSED.isoformat(), "--json", "-")
    assert code == 0, err
    found = json.loads(out)
    days = set(found["needs"])
    assert CLOSED.isoformat() not in days
    assert days
    shifts = found["roster"]["shifts"]
    assert {one["day"] for one in shifts} == days
    assert all(max(day["roles"]["loader"]) >= 1 for day in found["needs"].values())
    loaders = {person.name for person in people if person.roles}
    for day in days:
        assert {one["name"] for one in shifts if one["day"] == day} & loaders


@pytest.mark.usefixtures("once")
def test_a_week_names_roles_that_nobody_can_do(shell: Shell, tmp_path: Path) -> None:
    """With people who can do nothing by name, the terminal says that anybody is asked for."""
    data = read_folder(shell.wash)
    people = tuple(Person(f"Person {at}") for at in range(8))
    folder = tmp_path / "wash"
    write_folder(folder, dataclasses.replace(data, staff=StaffBook(people)))
    code, out, err = shell.run("staff", folder, "--week", CLOSED.isoformat())
    assert code == 0, err
    assert "Nobody here can be" in out
    assert "asks for anybody in that place" in out


def test_roster_of_a_site_without_people(shell: Shell) -> None:
    """It says what is missing."""
    code, _, err = shell.run("staff", shell.wash, "--week", "2026-07-23")
    assert code == 1
    assert "The site has no people yet" in err
