"""What every test shares: two sizes, one root seed, soak record, empty database, browser."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

from app.db import store
from app.db.session import Database, Session, open_database
from app.sites.changes import Gate
from sim.inputs import Site, SiteData
from tests import chromium, lines_run, new_databases, remembering, seeds, sizes
from tests.soak_record import COUNT, FIGURE, Recorder
from tests.world import NAME, NOW

NOT_RUN = pytest.StashKey[int]()
LINES = pytest.StashKey[tuple[str, ...]]()
SHARED = pytest.StashKey[TemporaryDirectory[str]]()
"""The folder of what this run has worked out; it is made by the main process."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--soak` for full counts, `--soak-record FILE` to write their record."""
    group = parser.getgroup("clothcast")
    group.addoption("--soak", action="store_true", help="run statistical tests at full counts")
    group.addoption("--soak-record", metavar="FILE", help="write the record of a soak run")


def pytest_configure(config: pytest.Config) -> None:
    """Fixes the size of the run before any test module is read."""
    # Most tests are about what a manager sees: a browser on the machine is one, as in the demo.
    os.environ.setdefault("CLOTHCAST_SIGN_IN", "0")
    gc.set_threshold(20_000, 10, 50)  # looking for garbage more often takes a tenth of the time
    soak = bool(config.getoption("--soak"))
    target = config.getoption("--soak-record")
    if target and not soak:
        raise pytest.UsageError("--soak-record needs --soak: a small run is no soak record")
    if target and not hasattr(config, "workerinput"):
        config.pluginmanager.register(Recorder(Path(target)))
    sizes.set_soak(soak)
    if not hasattr(config, "workerinput"):
        config.stash[SHARED] = TemporaryDirectory(prefix="clothcast-tests-")
        remembering.share(Path(config.stash[SHARED].name))
    else:
        remembering.share(Path(config.workerinput["shared"]))
    if SHARED in config.stash and (lines_run.ASKED in os.environ or lines_run.is_counting()):
        os.environ.setdefault(lines_run.FOLDER, config.stash[SHARED].name)
    # The same examples in every run, no clock, nothing kept between runs.
    settings.register_profile(
        "clothcast",
        derandomize=True,
        deadline=None,
        database=None,
        max_examples=sizes.size_now(small=60, full=2_000),
        suppress_health_check=[HealthCheck.too_slow],
    )
    settings.load_profile("clothcast")
    config.stash[NOT_RUN] = 0


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tells a worker which folder the workers of this run share."""
    node.workerinput["shared"] = node.config.stash[SHARED].name


def pytest_unconfigure(config: pytest.Config) -> None:
    """What was worked out goes with the run."""
    if SHARED in config.stash:
        remembering.share(None)
        config.stash[SHARED].cleanup()


def pytest_collection_finish() -> None:
    """What is loaded by now stays: looking through it again and again for garbage would take a
    seventh of the time of a run."""
    gc.collect()
    lines_run.before_freezing()
    gc.freeze()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Marks tests that use a browser; leaves them out, counted, where NO_BROWSER asks for it."""
    for item in items:
        if {"browser", "page", "context"} & set(getattr(item, "fixturenames", ())):
            item.add_marker("browser")
    if chromium.is_left_out():
        left_out = [item for item in items if item.get_closest_marker("browser")]
        items[:] = [item for item in items if not item.get_closest_marker("browser")]
        config.hook.pytest_deselected(items=left_out)
        config.stash[NOT_RUN] = len(left_out)


@pytest.hookimpl(trylast=True)
def pytest_runtest_logfinish() -> None:
    """What a test ran needs no mark any longer."""
    lines_run.after_test()


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A worker hands its counts over to the main process, which sums the lines that were
    run and lists the others."""
    config = session.config
    handed_over = getattr(config, "workeroutput", None)
    if handed_over is not None:
        handed_over["not_run"] = config.stash[NOT_RUN]
    lines_run.hand_over()
    counted_in = os.environ.get(lines_run.FOLDER)
    if counted_in and SHARED in config.stash and counted_in == config.stash[SHARED].name:
        counted = lines_run.summed(Path(counted_in))
        listed = lines_run.ROOT / lines_run.NOT_RUN
        listed.parent.mkdir(exist_ok=True)
        listed.write_text(lines_run.not_run(counted), encoding="utf-8")
        config.stash[LINES], is_enough = lines_run.told(counted)
        is_whole = lines_run.ASKED in os.environ  # a part of the tests runs a part of the lines
        if is_whole and not is_enough and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any, error: object) -> None:
    """Takes the count from a worker; each worker has collected the whole suite."""
    counted = getattr(node, "workeroutput", {}).get("not_run", 0)
    stash = node.config.stash
    stash[NOT_RUN] = max(stash[NOT_RUN], counted)


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Says how many tests did not run for want of a browser."""
    left_out = config.stash[NOT_RUN]
    if chromium.is_left_out():
        noun = "test" if left_out == 1 else "tests"
        terminalreporter.write_line(f"NO_BROWSER: {left_out} browser {noun} did not run")
    for line in config.stash.get(LINES, ()):
        terminalreporter.write_line(line)


@pytest.fixture
def size(request: pytest.FixtureRequest) -> sizes.Size:
    """`size(small=40, full=2_000)`: the count of this run, noted for the soak record.

    A test that uses it carries `@pytest.mark.soak`.
    """
    if not request.node.get_closest_marker("soak"):
        pytest.fail(f"{request.node.nodeid} grows under --soak, so mark it: @pytest.mark.soak")

    def choose(*, small: int, full: int) -> int:
        count = sizes.size_now(small=small, full=full)
        request.node.user_properties.append((COUNT, count))
        return count

    return choose


@pytest.fixture
def record_figure(request: pytest.FixtureRequest) -> Callable[[str, float, str], None]:
    """`record_figure(name, value, unit)`: a figure that the test measured, for the soak record."""

    def note(name: str, value: float, unit: str = "") -> None:
        request.node.user_properties.append((FIGURE, (name, float(value), unit)))

    return note


@pytest.fixture
def rng(request: pytest.FixtureRequest) -> np.random.Generator:
    """A generator of this test's own, from the suite's root seed and the test's id."""
    return seeds.generator(request.node.nodeid)


@pytest.fixture(scope="session")
def two_processes() -> Iterator[Executor]:
    """Two processes beside this one, begun when first asked for pieces of work."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        yield pool


@pytest.fixture(scope="session", autouse=True)
def _new_databases() -> Iterator[None]:
    """Migrations make one new database a process, of which the others are copies."""
    with pytest.MonkeyPatch.context() as patch:
        new_databases.begin_as_made(patch)
        yield


@pytest.fixture
def database() -> Iterator[Database]:
    """An empty database in memory."""
    opened = open_database(None)
    yield opened
    opened.close()


@pytest.fixture
def session(database: Database) -> Iterator[Session]:
    """A session on it."""
    with database.session() as opened:
        yield opened


@pytest.fixture
def gate(session: Session) -> Gate:
    """The gate for the built-in person."""
    return Gate(session, store.built_in_person(session), NOW)


@pytest.fixture
def site_id(gate: Gate) -> int:
    """A site of defaults at version 1."""
    return gate.create_site(SiteData(Site(NAME)), "create").site_id


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Starts the installed Chromium; Playwright's own browsers are never fetched."""
    path = chromium.find()
    if path is None:
        pytest.fail(chromium.MISSING)
    return {**browser_type_launch_args, "executable_path": path, "args": list(chromium.FLAGS)}
