"""The demo and serving from the command line, its help, and wrong usage."""

from __future__ import annotations

import dataclasses
import os
import shlex
import shutil
import socket
import ssl
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from app.cli import commands as cli_commands
from app.cli import main as cli
from app.settings import CHECKOUT
from app.sites.folder import write_folder
from sim.decide.answer import Plan
from tests.cli.shell import DAY, ONE, Shell
from tests.demo_app import belief_once
from tests.small_wash import small_wash

# ---- demo and serve ------------------------------------------------------------------------------


@dataclass
class Served:
    """What would have been served, and how often a comparison was computed."""

    ports: list[int]
    computed: int = 0


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Served:
    """Nothing is really served, every comparison has a single simulated day, and the demo's
    weighings are worked in once a run."""
    found = Served([])
    monkeypatch.setattr(uvicorn, "run", lambda app, **given: found.ports.append(given["port"]))
    inner = cli_commands.planned

    def quick(settings: Any, console: Any, question: Any, expected: Any) -> Plan:
        found.computed += 1
        short = dataclasses.replace(question, replications=1)
        return inner(settings, console, short, expected)

    monkeypatch.setattr(cli_commands, "planned", quick)
    monkeypatch.setattr(cli_commands, "work_in", belief_once)
    return found


def free_port() -> int:
    """A port that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_demo_prints_its_peak_day_then_serves(shell: Shell, served: Served) -> None:
    """The first start computes and stores a plan without what was measured, says so, and leaves
    that to the pages; the second prints the same without computing. One that only plans works the
    measurements in, once."""
    port = free_port()
    code, first, err = shell.raw("demo", "--today", "2026-07-15", "--port", str(port))
    assert (code, err) == (0, "")
    assert first.startswith("Harbor Road, 2026-07-18")
    assert f"http://127.0.0.1:{port}/harbor-road/plan/2026-07-18" in "".join(first.split("\n"))
    table = first.partition("The weighings are being worked in; until that is done this plan is")[0]
    assert table != first
    again = shell.raw("demo", "--today", "2026-07-15", "--port", str(port))[1]
    assert again == first
    assert (served.computed, served.ports) == (1, [port, port])
    planned = [shell.raw("demo", "--today", "2026-07-15", "--plan-only")[1] for _ in range(2)]
    assert planned[0] == planned[1] != table
    assert "being worked in" not in planned[0]
    assert served.computed == 2


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


def test_https_offers_present_ciphers_alone(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the server is really set up: nothing older than TLS 1.2, every suite with a key that is
    thrown away and an authenticated cipher (RFC 9325, section 4.2)."""
    asked: list[dict[str, Any]] = []
    monkeypatch.setattr(uvicorn, "run", lambda app, **given: asked.append({"app": app} | given))
    port = str(free_port())
    shell.run("certificate", "wash.example")
    files = [shell.data / "https" / name for name in ("server.crt", "server.key")]
    told = ["--certificate", str(files[0]), "--key", str(files[1]), "--port", port]
    assert shell.run("serve", *told)[0] == 0
    config = uvicorn.Config(**asked[0])
    config.load()
    assert config.ssl is not None
    assert config.ssl.minimum_version >= ssl.TLSVersion.TLSv1_2
    suites = config.ssl.get_ciphers()
    assert suites
    for suite in suites:
        assert suite["aead"], suite["name"]
        assert suite["protocol"] == "TLSv1.3" or suite["name"].startswith("ECDHE-")
        assert suite["strength_bits"] >= 128


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


def test_help_needs_nothing_of_the_rest() -> None:
    """Help and wrong usage are answered without a library that takes long to load, or the day."""
    code = (
        "import sys\nfrom app.cli import main\n"
        "try:\n    main.main(sys.argv[1:])\nexcept SystemExit:\n    print(*sys.modules)"
    )
    heavy = {"numpy", "scipy", "numba", "sqlalchemy", "pydantic", "fastapi", "rich", "sim.day"}
    for arguments in (["--help"], ["plan", "--help"], ["plan"]):
        command = [sys.executable, "-c", code, *arguments]
        done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=CHECKOUT)
        loaded = set(done.stdout.splitlines()[-1].split())
        assert "sim.inputs" in loaded
        assert loaded & heavy == set()


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
