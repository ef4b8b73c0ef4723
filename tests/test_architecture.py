"""The house: who may import whom, what `sim` never touches, and the one gate for writes."""

from __future__ import annotations

from pathlib import Path

import jinja2
import pytest

from tests.architecture import (
    LONGEST_MODULE_LINES,
    LONGEST_TEST_LINES,
    ROOT,
    Module,
    clock_and_environment,
    import_faults,
    imported,
    is_in,
    modules,
    past_the_gate,
    reaching_out,
    writers,
)

MODULES = modules()
KNOWN = frozenset(module.name for module in MODULES)
ARITHMETIC = (
    jinja2.nodes.Sub,
    jinja2.nodes.Mul,
    jinja2.nodes.Div,
    jinja2.nodes.FloorDiv,
    jinja2.nodes.Mod,
    jinja2.nodes.Pow,
)
WRITING = {module.name: writers(module) for module in MODULES if is_in(module.name, "app.db")}


def assert_none(faults: list[list[str]]) -> None:
    """Fails with every fault on a line of its own."""
    found = [fault for some in faults for fault in some]
    if found:
        pytest.fail("\n".join(found), pytrace=False)


def test_imports_follow_the_arrows() -> None:
    """Every import is one that the importing room may make."""
    assert_none([import_faults(module, KNOWN) for module in MODULES])


def test_simpy_has_exactly_one_home() -> None:
    """The day in SimPy, its tunnel and its apron, imports SimPy and nothing outside it does."""
    users = [module.name for module in MODULES if "simpy" in imported(module, KNOWN)]
    assert users
    assert set(users) == {"sim.day.tunnel", "sim.day.apron"}


def test_sim_touches_nothing_outside() -> None:
    """No module of `sim` knows files, clock, environment, printing or hidden randomness."""
    assert_none([reaching_out(m) for m in MODULES if is_in(m.name, "sim")])


def test_settings_alone_read_clock_and_environment() -> None:
    """In `app`, the environment and the date come from `app.settings`."""
    assert_none([clock_and_environment(m) for m in MODULES if is_in(m.name, "app")])


def test_every_write_goes_through_the_gate() -> None:
    """Outside `app.db` and `app.sites.changes` nothing can write to the database."""
    assert any(WRITING.values()), "no writing function found in app.db: the check looks past it"
    assert_none([past_the_gate(module, WRITING) for module in MODULES])


def test_no_module_is_too_long() -> None:
    """No Python file is longer than a reader can hold in mind."""
    long = {}
    for top in ("sim", "app", "demo_site", "tests", ".ci"):
        allowed = LONGEST_TEST_LINES if top == "tests" else LONGEST_MODULE_LINES
        for path in sorted((ROOT / top).rglob("*.py")):
            lines = len(path.read_text(encoding="utf-8").splitlines())
            if lines > allowed:
                long[path.relative_to(ROOT).as_posix()] = lines
    assert not long, f"too many lines to hold in mind: {long}"


def is_arithmetic(node: jinja2.nodes.Node) -> bool:
    """Whether a node computes; a plus does where it adds a number, not where it joins lists."""
    if isinstance(node, ARITHMETIC):
        return True
    sides = (node.left, node.right) if isinstance(node, jinja2.nodes.Add) else ()
    return any(
        isinstance(side, jinja2.nodes.Const) and isinstance(side.value, int | float)
        for side in sides
    )


def arithmetic_in(path: Path) -> list[str]:
    """Where a template computes."""
    tree = jinja2.Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
    return [
        f"{path.relative_to(ROOT).as_posix()}:{node.lineno} {type(node).__name__}"
        for node in tree.find_all(jinja2.nodes.BinExpr)
        if is_arithmetic(node)
    ]


def test_templates_do_no_arithmetic() -> None:
    """Templates format; what is computed comes ready from the page's context."""
    paths = sorted((ROOT / "templates").rglob("*.html"))
    assert paths
    assert_none([arithmetic_in(path) for path in paths])


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("sim.physics.belt", "from sim.inputs import Site"),
        ("sim.physics.belt", "import scipy.stats"),
        ("sim.day.draw", "import simpy"),
        ("sim.day.draw", "import numba"),
        ("sim.physics.moisture", "import numba"),
        ("sim.day.kernel.line", "from sim.checks import check_site"),
        ("sim.day.draw", "from app.settings import Settings"),
        ("sim.inputs.site", "import numpy as np"),
        ("app.db.store", "from sim.day import tunnel"),
        ("app.answers.planning", "from app.pages import forms"),
        ("app.answers.planning", "from sqlalchemy import select"),
        ("app.answers.planning", "import fastapi"),
        ("app.pages.plan.route", "from app.db import store"),
        ("app.pages.plan.route", "from sim.day.draw import draw_day"),
        ("app.pages.plan.route", "from . import forms"),
        ("app.pages.plan.route", "import openpyxl"),
        ("sim.report", "import numpy"),
    ],
)
def test_a_wrong_import_is_found(name: str, text: str) -> None:
    """Each planted import against the arrows is refused."""
    assert import_faults(Module(name, text), KNOWN | {"sim.day.tunnel", "app.pages.forms"})


@pytest.mark.parametrize(
    "text",
    [
        "import os",
        "from pathlib import Path",
        "import time",
        "import random",
        "x = open('a')",
        "import numpy as np\nx = np.random.normal()",
        "import numpy as np\nx = np.random.default_rng()",
        "from numpy.random import uniform",
        "from datetime import date\nx = date.today()",
        "import datetime\nx = datetime.datetime.now()",
        "from scipy import stats\nx = stats.norm.rvs()",
    ],
)
def test_reaching_out_of_sim_is_found(text: str) -> None:
    """Each planted reach for files, clock or hidden randomness is refused."""
    assert reaching_out(Module("sim.day.draw", text))


@pytest.mark.parametrize(
    "text",
    [
        "import os\nx = os.environ['A']",
        "from os import environ",
        "from datetime import datetime, UTC\nx = datetime.now(UTC)",
        "import time\nx = time.time()",
    ],
)
def test_a_second_reader_of_clock_or_environment_is_found(text: str) -> None:
    """Each planted read outside the settings is refused, and allowed in them."""
    assert clock_and_environment(Module("app.pages.today", text))
    assert not clock_and_environment(Module("app.settings", text))


@pytest.mark.parametrize(
    "text",
    [
        "from app.db.writes import add_site",
        "from app.db import writes",
        "import app.db.writes",
        "def f(session, row):\n    session.add(row)",
        "def f(self):\n    self.session.execute('delete from site')",
        "def f(database):\n    database.session().commit()\n    db_session.delete(1)",
    ],
)
def test_a_write_past_the_gate_is_found(text: str) -> None:
    """Each planted write outside the gate is refused, and allowed in it."""
    writing = {"app.db.writes": {"add_site"}, "app.db.store": set[str]()}
    assert past_the_gate(Module("app.answers.planning", text), writing)
    assert not past_the_gate(Module("app.sites.changes", text), writing)


def test_writing_functions_are_recognised() -> None:
    """Inserts, updates, deletes, added rows and their callers write; reading does not."""
    text = (
        "def put(session, row):\n    session.add(row)\n"
        "def change(session):\n    session.execute(update(Row).values(a=1))\n"
        "def both(session, row):\n    put(session, row)\n"
        "def raw(c):\n    c.execute('INSERT INTO a VALUES (1)')\n"
        "def read(session):\n    return session.execute(select(Row)).all()\n"
        "def tune(c):\n    c.execute('PRAGMA foreign_keys=ON')\n"
    )
    assert writers(Module("app.db.store", text)) == {"put", "change", "both", "raw"}
