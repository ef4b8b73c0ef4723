"""The commands plan and trace: what each prints and writes, and clear words for what is wrong."""

from __future__ import annotations

import contextlib
import csv
import html
import json
import os
from pathlib import Path
from typing import Any

import pytest

from app.answers.serial import read
from app.answers.trace import COLUMNS
from app.cli import commands as cli_commands
from app.cli.serving import Refused
from app.settings import read_settings
from sim.decide.answer import SCHEMA, Plan
from sim.inputs import Value
from tests.cli.shell import DAY, ONE, Shell, listing
from tests.intervals import value_of
from tests.small_wash import CLOSED, FAIR

# ---- plan ----------------------------------------------------------------------------------------


def test_plan_prints_the_comparison(shell: Shell) -> None:
    """Site, day, where it comes from, both usual rules, and how many days were simulated."""
    code, out, err = shell.run("plan", shell.wash, *DAY, *ONE)
    assert (code, err) == (0, "")
    assert out.startswith("Small Wash, 2026-07-18 Cars: mean of ")
    for words in ("Always full", "Always reduced", "Cars washed", "Margin of the day", "Friday 17"):
        assert words in out


def test_plan_on_a_folder_writes_nothing(shell: Shell) -> None:
    """Neither the folder nor the data folder is touched, by plan, trace to elsewhere, or check."""
    before = listing(shell.wash)
    assert shell.run("plan", shell.wash, *DAY, *ONE)[0] == 0
    assert shell.run("check", shell.wash)[0] == 0
    assert listing(shell.wash) == before
    assert not shell.data.exists()


def test_plan_writes_its_json(shell: Shell) -> None:
    """`--json FILE` writes the record beside the table, with seed, rules and changes as given."""
    target = shell.wash.parent / "plan.json"
    code, out, _err = shell.run(
        "plan", shell.wash, *DAY, "--rule", "full", "--rule", "clock 8:00-9:00", "--cloth", "9:00",
        "--set", "conveyor_speed_m_s=45 ft/min", "--set", "pay_lanes=2; 9:00 3", "--seed", "7",
        "--replications", "2", "--json", target,
    )  # fmt: skip
    assert code == 0
    assert "clock 8:00-9:00" in out
    found = json.loads(target.read_text(encoding="utf-8"))
    assert found["schema"] == SCHEMA
    comparison = found["comparison"]
    assert (comparison["seed"], comparison["replications"]) == (7, 2)
    first, second = (column["scenario"] for column in comparison["columns"])
    assert (first["name"], second["rule"], second["cloth"]) == ("full", "clock 8:00-9:00", "9:00")
    assert comparison["columns"][1]["label"] == "Reduced 8:00–9:00, dry set at 9:00"
    assert second["changes"]["conveyor_speed_m_s"] == pytest.approx(45 * 0.3048 / 60)
    assert second["changes"]["pay_lanes"] == [[0.0, 2.0], [32_400.0, 3.0]]


def test_plan_writes_its_page(shell: Shell, tmp_path: Path) -> None:
    """With ``--page`` the same comparison is written as a page that needs no server and names the
    scenarios and what was changed."""
    page, json_ = tmp_path / "plan.html", tmp_path / "plan.json"
    more = ["--rule", "full", "--rule", "clock 12:00-15:30", "--set", "load_mean_s=16"]
    code, _out, err = shell.run(
        "plan", shell.wash, *DAY, *ONE, *more, "--page", page, "--json", json_
    )
    assert (code, err) == (0, "")
    text = html.unescape(page.read_text(encoding="utf-8")).replace("\u00a0", " ")
    assert text.startswith("<!doctype html>")
    for said in ("Small Wash", "scenarios that are not stored", "Reduced 12:00–15:30", "<dd>16"):
        assert said in text, said
    found = json.loads(json_.read_text(encoding="utf-8"))["comparison"]
    washed = found["columns"][0]["figures"]["cars_washed"]["value"]
    assert f'<span class="v">{washed:,.0f}</span>' in text
    assert "<script" not in text
    assert "http:" not in text
    assert "https:" not in text


def test_json_to_the_output_stands_alone(shell: Shell) -> None:
    """`--json -` prints nothing but the record; notes on the day go with the complaints."""
    day = ["--date", FAIR.isoformat()]
    code, out, err = shell.raw("plan", shell.wash, *day, *ONE, "--json", "-")
    assert code == 0
    assert json.loads(out)["date"] == "2026-07-25"
    assert "is marked as an event" in " ".join(err.split())


def test_weighings_of_a_folder_are_in_its_plan_and_trace(shell: Shell) -> None:
    """A soaked strip heavier than believed changes the day: the record names the
    weighing, and the traced cars meet another cloth."""
    (shell.wash / "weighings.csv").write_text(
        "kind,date,time,weight_kg,dry_kg\nsoaked,2026-07-14,9:00,0.42,0.1\n"
    )
    code, out, err = shell.raw("plan", shell.wash, *DAY, *ONE, "--json", "-")
    assert (code, err) == (0, "")
    assert json.loads(out)["comparison"]["weighed"] == ["soaked"]
    target = shell.wash.parent / "day.csv"
    assert shell.run("trace", shell.wash, *DAY, "--csv", target)[0] == 0
    (shell.wash / "weighings.csv").unlink()
    other = shell.wash.parent / "without.csv"
    assert shell.run("trace", shell.wash, *DAY, "--csv", other)[0] == 0
    assert target.read_text() != other.read_text()


def test_equal_commands_have_equal_json(shell: Shell) -> None:
    """The same command gives the same record, to the byte."""
    texts = [shell.raw("plan", shell.wash, *DAY, *ONE, "--json", "-")[1] for _ in range(2)]
    assert texts[0] == texts[1]


def test_what_is_expected_can_be_typed(shell: Shell) -> None:
    """`--expect` changes cars and air in the units that the site reads."""
    expect = ["--expect", "91 F, 70 %, +50 %"]
    found = json.loads(shell.raw("plan", shell.wash, *DAY, *ONE, *expect, "--json", "-")[1])
    conditions = found["comparison"]["conditions"]
    assert sum(conditions["arrivals_per_h"]) == pytest.approx(90)
    assert max(conditions["temp_c"]) == pytest.approx((91 - 32) / 1.8)


UNDERSTOOD = [
    ("patience_median_s=120", "Patience, median wait accepted 2 min.", 120.0),
    ("patience_median_s=2min", "Patience, median wait accepted 2 min.", 120.0),
    ("load_mean_s=0.5 min", "Loading time with one loader 30 s.", 30.0),
    ("day_factor_cv=0.3", "30 %.", 0.3),
    ("day_factor_cv=30%", "30 %.", 0.3),
    ("film_after_rinse_kg_m2=0.12", "4.724 mil.", 0.12),
    ("pressure_pa=100000", "29.53 inHg.", 100_000.0),
    ("contact_speed_rev_s=1", "60 rev/min.", 1.0),
    ("conveyor_speed_m_s=0.2", "39.37 ft/min.", 0.2),
    ("speed_timetable=0.2; 9:00 45 ft/min", "39.37 ft/min; 9:00 45 ft/min.",
     [[0.0, 0.2], [32_400.0, pytest.approx(45 * 0.3048 / 60)]]),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "said", "stored"), UNDERSTOOD, ids=lambda case: str(case)[:30])
def test_a_number_is_in_the_unit_that_its_name_ends_with(
    shell: Shell, typed: str, said: str, stored: object
) -> None:
    """`--set` reads a bare number by the name, one with its unit by that, and says what it read."""
    command = ["plan", str(shell.wash), *DAY, *ONE, "--set", typed, "--json", "-"]
    code, out, err = shell.raw(*command)
    assert code == 0
    words = " ".join(err.replace("\u00a0", " ").split())
    name = typed.partition("=")[0]
    assert words.startswith(f"{name}: ")
    assert said in words
    assert json.loads(out)["comparison"]["columns"][0]["scenario"]["changes"][name] == stored


@pytest.mark.parametrize("command", ["plan", "switch", "staff", "trace"])
def test_every_command_reads_set_alike(
    shell: Shell, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever command takes `--set`, what it understood is printed and is what is asked."""
    asked: list[dict[str, Value]] = []

    def stop(*given: Any, **more: Any) -> None:
        asked.append(dict(given[3][0].changes))
        raise Refused("enough")

    monkeypatch.setattr("app.answers.planning.make_question", stop)
    monkeypatch.setattr("app.answers.trace.make_question", stop)
    more = ["--csv", "day.csv"] if command == "trace" else []
    day = [*DAY, "--set", "day_factor_cv=0.3", "--set", "throw_off_time_s=90"]
    code, out, err = shell.run(command, shell.wash, *day, *more)
    assert (code, err) == (1, "enough")
    assert "throw_off_time_s: " in out
    assert "1.5 min." in out.replace("\u00a0", " ")
    assert asked == [{"day_factor_cv": 0.3, "throw_off_time_s": 90.0}]


def test_a_share_above_one_is_not_a_share(shell: Shell) -> None:
    """`day_factor_cv=30` is no 30 %: it is refused with what can be entered."""
    code, _out, err = shell.run("plan", shell.wash, *DAY, *ONE, "--set", "day_factor_cv=30")
    assert code == 1
    assert "3,000 % is outside what can be used. Enter 0 % to" in err.replace("\u00a0", " ")


def test_a_day_without_cars_is_planned_all_the_same(shell: Shell) -> None:
    """Nobody expected: the table stands with dashes for shares, and a note says why."""
    code, out, err = shell.run("plan", shell.wash, *DAY, *ONE, "--expect", "-100 %")
    assert (code, err) == (0, "")
    assert "Note. No cars are expected on 18 July 2026: they were taken away by hand." in out


def test_a_closed_day_is_refused(shell: Shell) -> None:
    """On a closed day there is nothing to plan, and its note says why."""
    code, out, err = shell.run("plan", shell.wash, "--date", CLOSED.isoformat())
    assert (code, out) == (1, "")
    assert "Closed: this is marked as a closed day (“stocktaking”)." in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--rule", "reduce"], "Wiping rule “reduce”: “reduce” is not a rule; write full, reduced"),
        (["--rule", "class tram"], "“tram” is not a vehicle class here; use small, sedan"),
        (["--cloth", "soon"], "Dry set “soon” is neither a time nor a saturation."),
        (["--rule", "full"] * 7, "7 scenarios can't be compared. Give 1 to 6."),
        (["--set", "conveyor_sped_m_s=0.2"], "Did you mean conveyor_speed_m_s?"),
        (["--set", "conveyor_speed_m_s"], "--set conveyor_speed_m_s: write it as NAME=VALUE."),
        (["--set", "conveyor_speed_m_s=-1"], "Conveyor speed −1 m/s is outside what can be used."),
        (["--set", "conveyor_speed_m_s=45 kg"], "“kg” is not a unit of this field; use ft/min or"),
        (["--set", "car_spacing_m=4.2"], "Car spacing 4.2 m is shorter than the reference car"),
        (["--expect", "hot"], "“hot” was not understood"),
        (["--expect", "104 %"], "The humidity 104 % is outside what can be used."),
    ],
)
def test_what_is_wrong_with_a_plan_is_said_once(
    shell: Shell, arguments: list[str], said: str
) -> None:
    """The value and what would be right, once however many scenarios share it; nothing computed."""
    code, out, err = shell.raw("plan", shell.wash, *DAY, *ONE, *arguments)
    assert code == 1
    understood = "car_spacing_m: Car spacing, nose to nose 13.78 ft.\n"
    assert out.replace("\u00a0", " ") == (understood if "car_spacing_m=4.2" in arguments else "")
    words = err.replace("\u00a0", " ")
    assert said in words
    assert len(set(words.splitlines())) == len(words.splitlines())


def test_frost_is_refused(shell: Shell) -> None:
    """Hours below freezing are noted, and the plan refused for them."""
    code, out, err = shell.run("plan", shell.wash, *DAY, *ONE, "--expect", "-10 °C")
    assert code == 1
    assert "Note. Frost at 8:00 to 9:00, down to 14 °F." in out
    assert "Temperature −10 °C at 8:00 is outside what the model knows." in err
    assert "below is frost, and ice is not in the model" in err


def test_problems_of_changes_come_together(shell: Shell) -> None:
    """Three bad --set are three lines."""
    bad = ["--set", "open=7", "--set", "stops_per_h=about 4", "--set", "strip_count"]
    code, _out, err = shell.raw("plan", shell.wash, *DAY, *bad)
    assert code == 1
    assert len(err.splitlines()) == 3


@pytest.mark.parametrize(
    "arguments",
    [
        ["--rule", "failed interlock"],
        ["--rule", "full", "--rule", "guard off"],
        ["--cloth", "emergency stop at 13:00"],
        ["--set", "failed_sensor=emergency_stop"],
        ["--set", "failed_sensor=light curtain"],
        ["--set", "interlock=failed"],
        ["--set", "e-stop"],
    ],
)
@pytest.mark.parametrize("command", ["plan", "trace"])
def test_no_plan_for_a_failed_safety_device(
    shell: Shell, command: str, arguments: list[str]
) -> None:
    """However a failed safety device is typed, the answer is to stop, lock out and call service."""
    if command == "trace":
        if "--cloth" in arguments:
            arguments = ["--rule", arguments[1]]
        arguments = [*arguments, "--csv", str(shell.wash.parent / "day.csv")]
    code, out, err = shell.run(command, shell.wash, *DAY, *arguments)
    assert (code, out) == (1, "")
    assert "stop, lock out, and call licensed service" in err
    assert not (shell.wash.parent / "day.csv").exists()


def test_a_failed_reading_is_planned_with_its_cost(shell: Shell) -> None:
    """A failed height reading can be planned for: the belt takes fewer cars an hour."""
    command = ["plan", str(shell.wash), *DAY, *ONE, "--json", "-"]
    whole = read(Plan, shell.raw(*command)[1]).comparison
    failed = read(Plan, shell.raw(*command, "--set", "failed_sensor=height")[1]).comparison
    assert failed.limits.belt_capacity_per_h < 0.8 * whole.limits.belt_capacity_per_h
    less, more = (value_of(r.columns[0].figures["water_taken_kg"]) for r in (failed, whole))
    assert less < more


def test_an_unwritable_json_file_is_named(shell: Shell) -> None:
    """The file and the reason are said."""
    target = shell.wash.parent / "nowhere" / "plan.json"
    code, _out, err = shell.run("plan", shell.wash, *DAY, *ONE, "--json", target)
    assert (code, err) == (1, f"{target}: No such file or directory")


# ---- trace ---------------------------------------------------------------------------------------


def test_trace_writes_a_day_car_by_car(shell: Shell) -> None:
    """The file has the documented columns and as many rows as are told."""
    target = shell.wash.parent / "day.csv"
    code, out, _err = shell.run(
        "trace", shell.wash, *DAY, "--rule", "reduced", "--seed", "1", "--csv", target
    )
    with target.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert code == 0
    assert tuple(rows[0]) == COLUMNS
    assert out.replace(" ", "") == f"{len(rows)} rows written to {target}.".replace(" ", "")
    assert {row["rule"] for row in rows} == {"reduced"}


def test_a_trace_takes_dry_sets(shell: Shell) -> None:
    """`trace --cloth` is the plan's: sets change in the file, and too many are refused."""
    target = shell.wash.parent / "day.csv"
    command = ["trace", str(shell.wash), *DAY, "--csv", str(target), "--cloth"]
    assert shell.run(*command, "9:00")[0] == 0
    with target.open(encoding="utf-8", newline="") as file:
        assert len({row["cloth_set"] for row in csv.DictReader(file) if row["wheel_s"]}) == 2
    code, _out, err = shell.run(*command, "8:00; 8:10; 8:20; 8:30; 8:40; 8:50; 9:00")
    assert code == 1
    assert "7 dry sets are planned, but with" in err


def test_commands_compute_in_as_many_processes_as_they_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One worker is this process; two or more are as many; untold, a command takes two at least."""
    for name in [name for name in os.environ if name.startswith("CLOTHCAST_")]:
        monkeypatch.delenv(name)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    made: list[int] = []

    def pool(count: int, **_more: Any) -> contextlib.nullcontext[str]:
        made.append(count)
        return contextlib.nullcontext("pool")

    monkeypatch.setattr(cli_commands, "ProcessPoolExecutor", pool)
    for told in (None, "1", "2", "5"):
        if told is not None:
            monkeypatch.setenv("CLOTHCAST_WORKERS", told)
        with cli_commands.workers(read_settings()) as executor:
            assert (executor is None) == (told == "1")
    assert made == [2, 2, 5]
