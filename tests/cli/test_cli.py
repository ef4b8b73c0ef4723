"""The command line: what each command prints and writes, and clear words for what is wrong."""

from __future__ import annotations

import contextlib
import csv
import dataclasses
import errno
import json
import os
import shlex
import shutil
import socket
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from app.answers.serial import read
from app.answers.trace import COLUMNS
from app.cli import commands as cli_commands
from app.cli import main as cli
from app.cli.serving import Refused
from app.settings import CHECKOUT, read_settings
from app.sites.demo import DEMO_FOLDER
from app.sites.folder import read_folder, write_folder
from sim.decide.answer import SCHEMA, Plan
from sim.inputs import Value
from tests.cli.shell import DAY, ONE, Shell, listing
from tests.intervals import value_of
from tests.small_wash import CLOSED, FAIR, small_wash

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


# ---- import, export, check -----------------------------------------------------------------------


def test_import_stores_and_a_name_finds_it(shell: Shell) -> None:
    """An imported site is planned by its name; imported again it is replaced, not doubled."""
    code, out, _err = shell.run("import", shell.wash)
    assert code == 0
    assert out == "Small Wash is stored: 56 hourly counts, 672 hours of weather."
    assert shell.stored() == small_wash()
    assert shell.run("import", shell.wash)[0] == 0
    assert shell.run("plan", "small wash", *DAY, *ONE)[0] == 0
    assert shell.run("check", "Small Wash")[1] == "Small Wash: no problem found."


def test_the_demo_goes_in_and_out_and_in_again(shell: Shell) -> None:
    """Exported, the demo's three files are those it came from, byte for byte, and read the same."""
    assert shell.run("import", DEMO_FOLDER)[0] == 0
    out = shell.wash.parent / "out"
    code, said, _err = shell.run("export", "Harbor Road", out)
    assert code == 0
    assert said.startswith("Harbor Road is written to")
    for name in ("site.toml", "counts.csv", "weather.csv"):
        assert (out / name).read_bytes() == (DEMO_FOLDER / name).read_bytes()
    assert read_folder(out) == shell.stored("Harbor Road")


def test_a_name_that_is_nearly_right_is_answered(shell: Shell) -> None:
    """Every command that takes a site names the nearest one."""
    shell.run("import", shell.wash)
    target = str(shell.wash.parent / "x")
    commands: list[list[str]] = [
        ["plan", "Smal Wush", *DAY], ["trace", "Smal Wush", *DAY, "--csv", target],
        ["check", "Smal Wush"], ["export", "Smal Wush", target], ["serve", "Smal Wush"],
    ]  # fmt: skip
    for command in commands:
        code, _out, err = shell.run(*command)
        assert code == 1, command
        assert "There is no site “Smal Wush”" in err
        assert "Did you mean “Small Wash”?" in err


def test_without_a_database_a_name_makes_none(shell: Shell) -> None:
    """Asking for a site that nobody stored says so and leaves no data folder behind."""
    code, _out, err = shell.run("plan", "Harbor Road", *DAY)
    assert code == 1
    assert "the database holds none yet" in err
    assert not shell.data.exists()


@pytest.mark.parametrize("command", ["check", "import", "plan"])
def test_every_problem_of_a_folder_at_once(shell: Shell, command: str) -> None:
    """Problems of all three files, each with file and line, and nothing stored."""
    with (shell.wash / "site.toml").open("a", encoding="utf-8") as file:
        file.write("\n[wheel]\nstrip_cuont = 150\nstrip_length_m = -1\n")
    counts = (shell.wash / "counts.csv").read_text(encoding="utf-8")
    bad = "2026-07-16,8,-3\n2026-07-16,9,about 40\n2026-07-15,9,4\n"
    (shell.wash / "counts.csv").write_text(counts + bad, encoding="utf-8")
    with (shell.wash / "weather.csv").open("a", encoding="utf-8") as file:
        file.write("2026-07-16,7,25,104,0\n")
    day = DAY if command == "plan" else []
    code, out, err = shell.raw(command, shell.wash, *day)
    lines = err.replace("\u00a0", " ").splitlines()
    assert (code, out) == (1, "")
    assert len(lines) == 6
    for start, said in (
        ("site.toml, line ", "Did you mean strip_count?"),
        ("site.toml, line ", "Strip length −1 m is outside what can be used. Enter 0.1 m to 2 m."),
        ("counts.csv, line 58: ", "-3"),
        ("counts.csv, line 59: ", "about 40"),
        ("counts.csv, line 60: ", "2026-07-15"),
        ("weather.csv, line 674: ", "104"),
    ):
        assert any(line.startswith(start) and said in line for line in lines), said
    assert not shell.data.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["import", "nowhere"], "There is no folder nowhere. A site is a folder with a site.toml."),
        (["import", "."], "The folder . has no site.toml."),
        (["check", "./nowhere"], "There is no site “./nowhere”"),
    ],
)
def test_what_is_no_folder_of_a_site_is_said(
    shell: Shell, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    """A folder that is not there, or holds no site, is named."""
    monkeypatch.chdir(shell.wash.parent)
    code, out, err = shell.run(*arguments)
    assert (code, out) == (1, "")
    assert said in err


def test_a_file_is_no_folder_to_export_to(shell: Shell) -> None:
    """An export over a file is refused with its name."""
    shell.run("import", shell.wash)
    code, _out, err = shell.run("export", "Small Wash", shell.wash / "site.toml")
    assert code == 1
    assert "can't be written" in err


# ---- data folder and settings --------------------------------------------------------------------


def test_a_data_folder_that_cannot_be_made_is_said(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a read-only disk the data folder, the reason and the way round stand in one sentence."""
    plain = Path.mkdir

    def deny(self: Path, *given: Any, **named: Any) -> None:
        if self == shell.data:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(self))
        plain(self, *given, **named)

    monkeypatch.setattr(Path, "mkdir", deny)
    for command in (["import", shell.wash], ["demo", "--plan-only"]):
        code, out, err = shell.run(*command)
        assert (code, out) == (1, "")
        assert err == (
            f"The data folder {shell.data} cannot be made (read-only file system); "
            "choose another one with CLOTHCAST_DATA_DIR."
        )


def test_a_database_that_cannot_be_written_is_said(shell: Shell) -> None:
    """Something in the database's place that can't be opened is named with the way round."""
    (shell.data / "clothcast.sqlite3").mkdir(parents=True)
    code, _out, err = shell.run("import", shell.wash)
    assert code == 1
    assert err.startswith(f"The database {shell.data / 'clothcast.sqlite3'} cannot be written")


def test_bad_settings_are_said(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """A setting of the environment that can't be used ends in a sentence."""
    monkeypatch.setenv("CLOTHCAST_PORT", "many")
    code, _out, err = shell.run("check", shell.wash)
    assert code == 1
    assert "CLOTHCAST_PORT cannot be “many”" in err


# ---- demo and serve ------------------------------------------------------------------------------


@dataclass
class Served:
    """What would have been served, and how often a comparison was computed."""

    ports: list[int]
    computed: int = 0


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Served:
    """Nothing is really served, and every comparison has a single simulated day."""
    found = Served([])
    monkeypatch.setattr(uvicorn, "run", lambda app, **given: found.ports.append(given["port"]))
    inner = cli_commands.planned

    def quick(settings: Any, console: Any, question: Any, expected: Any) -> Plan:
        found.computed += 1
        short = dataclasses.replace(question, replications=1)
        return inner(settings, console, short, expected)

    monkeypatch.setattr(cli_commands, "planned", quick)
    return found


def free_port() -> int:
    """A port that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_demo_prints_its_peak_day_then_serves(shell: Shell, served: Served) -> None:
    """The first start computes and stores; the second, which only plans, prints the
    same without computing."""
    port = free_port()
    code, first, err = shell.raw("demo", "--today", "2026-07-15", "--port", str(port))
    assert (code, err) == (0, "")
    assert first.startswith("Harbor Road, 2026-07-18")
    assert f"http://127.0.0.1:{port}/harbor-road/plan/2026-07-18" in "".join(first.split("\n"))
    again = shell.raw("demo", "--today", "2026-07-15", "--plan-only")[1]
    assert again == first.partition("Clothcast is open at")[0]
    assert (served.computed, served.ports) == (1, [port])


def test_a_busy_port_is_said_before_anything_is_done(shell: Shell, served: Served) -> None:
    """Port, address, reason and the way round stand in one sentence; nothing is made before."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        for command in ("demo", "serve"):
            code, out, err = shell.run(command, "--port", port)
            assert (code, out) == (1, "")
            assert err == (
                f"Port {port} at 127.0.0.1 can't be used (address already in use): end what uses "
                "it, or choose another with --port (make demo PORT=8001)."
            )
    assert not shell.data.exists()
    assert served.ports == []


def test_serve_opens_a_site(shell: Shell, served: Served) -> None:
    """With a name its first page is told; a folder has to be stored first."""
    shell.run("import", shell.wash)
    port = str(free_port())
    code, out, _err = shell.run("serve", "small wash", "--port", port)
    assert code == 0
    assert f"http://127.0.0.1:{port}/small-wash/today" in out
    assert served.ports == [int(port)]
    code, _out, err = shell.run("serve", shell.wash, "--port", port)
    assert code == 1
    assert "is a folder: store it with clothcast import first" in err


def test_an_interrupt_is_a_quiet_end(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl+C ends a command without a traceback."""

    def interrupt(*given: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli_commands, "bring_demo", interrupt)
    assert shell.run("demo", "--plan-only") == (0, "", "")


# ---- usage ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "the following arguments are required: COMMAND"),
        (["wash"], "invalid choice: 'wash'"),
        (["plan", "x"], "the following arguments are required: --date"),
        (["plan", "x", "--date", "18.7.2026"], "“18.7.2026” is not a date; write it as 2026-07-18"),
        (["plan", "x", "--date", "2026-02-30"], "“2026-02-30” is not a date"),
        (["plan", "x", *DAY, "--replications", "0"], "“0” can't be used; give 1 to 100,000"),
        (["plan", "x", *DAY, "--replications", "3.7"], "“3.7” can't be used"),
        (["plan", "x", *DAY, "--seed", "-1"], "“-1” can't be used; give 0 to"),
        (["plan", "x", *DAY, "--today", "now"], "“now” is not a date"),
        (["switch", "x", *DAY, "--wish", "luck"], "invalid choice: 'luck'"),
        (["coming", "x", "--date", "soon"], "“soon” is not a date; write it as 2026-07-18"),
        (["trace", "x", *DAY], "the following arguments are required: --csv"),
        (["serve", "--port", "70000"], "“70000” can't be used; give 0 to 65,535"),
    ],
)
def test_wrong_usage_ends_with_code_2(shell: Shell, arguments: list[str], said: str) -> None:
    """Wrong usage names the argument and what would be right."""
    assert said in shell.usage(*arguments)


@pytest.mark.parametrize(
    "command",
    [
        "",
        "demo",
        "plan",
        "switch",
        "coming",
        "cloth",
        "trace",
        "import",
        "export",
        "check",
        "serve",
    ],
)
def test_help_has_examples_to_copy(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The help of each command, and of the whole, ends with examples as they are typed."""
    with pytest.raises(SystemExit) as caught:
        cli.main([*command.split(), "--help"])
    assert caught.value.code == 0
    out = capsys.readouterr().out
    examples = out.partition("xamples:\n")[2].strip().splitlines()
    assert examples
    assert all(line.strip().startswith(f"clothcast {command}") for line in examples)
    assert "%%" not in out


def test_examples_of_plan_can_be_typed(
    shell: Shell, served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each example of `clothcast plan --help` runs as it stands, on a small site of that name."""
    with pytest.raises(SystemExit):
        cli.main(["plan", "--help"])
    examples = shell.capsys.readouterr().out.partition("xamples:\n")[2].strip().splitlines()
    monkeypatch.chdir(shell.wash.parent)
    write_folder(Path("demo_site"), small_wash(name="Harbor Road"))
    shell.run("import", "demo_site")
    for example in examples:
        code, out, err = shell.run(*shlex.split(example)[1:])
        assert (code, err) == (0, ""), example
        assert "Harbor Road, 2026-07-18" in out
    assert served.computed == len(examples) == 3


def test_a_checkout_that_cannot_be_written_and_no_home(tmp_path: Path) -> None:
    """Commands run where nothing compiled can be kept, and what must be written is a sentence.

    A file stands where the folder of compiled code would be made, and /dev/null for home and data
    folder, so that not even root can write there.
    """
    checkout = tmp_path / "checkout"
    for name in ("app", "sim", "demo_site"):
        without = shutil.ignore_patterns("__pycache__")
        shutil.copytree(CHECKOUT / name, checkout / name, ignore=without)
    (checkout / "sim" / "day" / "kernel" / "__pycache__").touch()
    environment = {
        "PATH": os.environ["PATH"], "PYTHONPATH": str(checkout), "HOME": "/dev/null",
        "XDG_CACHE_HOME": "/dev/null/cache", "CLOTHCAST_DATA_DIR": "/dev/null/data",
    }  # fmt: skip

    def run(*arguments: str) -> tuple[int, str, str]:
        command = [sys.executable, "-B", "-m", "app.cli.main", *arguments]
        done = subprocess.run(
            command, cwd=checkout, env=environment, capture_output=True, text=True, check=False
        )
        return done.returncode, done.stdout.strip(), done.stderr.strip()

    assert run("check", "demo_site") == (0, "Harbor Road: no problem found.", "")
    code, out, err = run("import", "demo_site")
    assert (code, out, err.count("\n")) == (1, "", 0)
    assert err.startswith("The data folder /dev/null/data cannot be made (not a directory);")


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1899-12-31", "2101-01-01"])
@pytest.mark.parametrize(
    "command",
    [("plan", "--date"), ("trace", "--date"), ("switch", "--date"), ("staff", "--date"),
     ("staff", "--week"), ("coming", "--date"), ("plan", "--today")],
)  # fmt: skip
def test_days_of_no_year_of_ours_are_wrong_usage(
    shell: Shell, command: tuple[str, str], day: str
) -> None:
    """The ends of the calendar, from which no day can be counted on or back, are refused."""
    name, option = command
    more = ["--csv", "x"] if name == "trace" else []
    more += DAY if option == "--today" else []
    assert f"“{day}” is not in the years 1900 to 2100" in shell.usage(
        name, str(shell.wash), option, day, *more
    )


def test_numbers_of_thousands_of_digits_are_wrong_usage(shell: Shell) -> None:
    """Whatever number an option takes, one that Python can't turn into a number is told."""
    long = "7" * 5_000
    for option in ("--replications", "--seed"):
        said = shell.usage("plan", str(shell.wash), *DAY, option, long)
        assert "can't be used; give" in said
        assert len(said) < 3_000
    code, _out, err = shell.run("plan", shell.wash, *DAY, *ONE, "--set", f"car_spacing_m={long}")
    assert code == 1
    assert "has 5,000 characters; at most 200 can be read" in err
