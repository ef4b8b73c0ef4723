"""Reads the project's modules and says where they break the rules of the house.

Pure functions from source text to sentences, so that the rules themselves can be tried on
planted faults.
"""

from __future__ import annotations

import ast
import re
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = ("sim", "app", "demo_site")
LONGEST_MODULE_LINES = 600
LONGEST_TEST_LINES = 700
"""A file of tests may be longer: it is a list, read one claim at a time."""
GATE = "app.sites.changes"
WRITERS = (
    GATE,
    # The gate's part for people.
    "app.sites.people",
    # The same for programs: their tokens, what they were answered, what they spend.
    "app.sites.programs",
    # Leases and heartbeats, by which server processes share studies: no act of a person.
    "app.answers.studies.book",
    # Copies of whole files, made and put in place: no row of anybody's is changed.
    "app.sites.keeping",
)
SETTINGS = "app.settings"
THREADS = "app"
"""Where the environment is told how many threads linear algebra may have."""


@dataclass(frozen=True)
class Module:
    """One file: dotted name, such as ``sim.day.draw``, and text."""

    name: str
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        """The parsed text."""
        return ast.parse(self.text)


def modules(root: Path = ROOT, tops: tuple[str, ...] = OURS) -> list[Module]:
    """Every Python file of the product; migrations count as part of `app.db`."""
    found = []
    for top in tops:
        for path in sorted((root / top).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found.append(Module(name, path.read_text(encoding="utf-8")))
    return found


def is_in(name: str, room: str) -> bool:
    """Whether a module is that room or lies in it."""
    return name == room or name.startswith(room + ".")


def imported(module: Module, known: frozenset[str]) -> set[str]:
    """Dotted names that a module imports; `from a import b` is a.b where a.b is a module."""
    found: set[str] = set()
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                found.add("." * node.level + base)
                continue
            full = {f"{base}.{alias.name}" for alias in node.names}
            found |= full & known
            if full - known:
                found.add(base)
    return found


# ---- who may import whom ------------------------------------------------------------------------

ANSWERS = (
    "sim.decide.answer", "sim.decide.maps.answer", "sim.decide.switching.answer",
    "sim.decide.cloth.answer", "sim.decide.staff.answer", "sim.decide.stops.answer",
    "sim.decide.now.answer", "sim.learn.answer", "sim.learn.happened", "sim.learn.drift",
    "sim.learn.scored", "sim.decide.next_measurement",
    "sim.day.watched",
    "sim.learn.forecast.answer",
)  # fmt: skip
"""Types of answers: what `sim` found out is the very thing that is stored, worded and shown."""

ROOMS: dict[str, tuple[str, ...]] = {
    "sim": (),
    "sim.units": (),
    "sim.errors": (),
    "sim.inputs": ("sim.units", "sim.errors"),
    # Problems carry quantities, which are shown in the reader's units; what is derived from a site,
    # such as its allowed film, is judged by the same equations as the day uses.
    "sim.checks": ("sim.inputs", "sim.errors", "sim.units", "sim.physics"),
    "sim.profiles": ("sim.inputs",),
    "sim.physics": ("sim.units", "sim.errors", "numpy", "psychrolib"),
    # Its functions are loaded when the first is called.
    "sim.special": ("scipy",),
    # SciPy: quantile functions that map standard variates to times, and Student's t for intervals.
    # Checks: it is the one home of numbers derived from a site, such as its median film.
    "sim.day": (
        "sim.physics", "sim.inputs", "sim.units", "sim.errors", "sim.checks", "sim.special",
        "numpy", "scipy",
    ),
    "sim.day.tunnel": ("sim.day", "sim.physics", "sim.inputs", "sim.units", "sim.errors", "simpy"),
    "sim.day.apron": ("sim.day", "sim.inputs", "simpy"),
    "sim.day.kernel": ("sim.day", "sim.physics", "sim.inputs", "numpy", "numba"),
    # Checks: a question with a problem is refused before anything is computed.
    "sim.decide": (
        "sim.day", "sim.physics", "sim.inputs", "sim.units", "sim.errors", "sim.checks",
        "sim.special", "numpy", "scipy",
    ),
    # Learn: what a measurement is worth follows from what it would tell.
    "sim.decide.worth": (
        "sim.decide", "sim.learn", "sim.day", "sim.physics", "sim.inputs", "sim.checks", "numpy",
    ),
    "sim.decide.next_measurement": (
        "sim.decide", "sim.learn", "sim.day", "sim.inputs", "numpy",
    ),
    # Learn: which sites are still likely follows from what was counted and seen today.
    "sim.decide.now": (
        "sim.decide", "sim.learn", "sim.day", "sim.inputs", "sim.special", "numpy",
    ),
    # Learn: what is decided of cloth rests on the lives of a site's own sets, and on its days;
    # physics: on what soil takes from laundering to laundering.
    "sim.decide.cloth": (
        "sim.decide", "sim.learn", "sim.day", "sim.physics", "sim.inputs", "sim.units",
        "sim.errors", "sim.checks", "sim.special", "numpy", "scipy",
    ),
    "sim.learn": (
        "sim.day", "sim.physics", "sim.inputs", "sim.units", "sim.errors", "sim.special",
        "numpy", "scipy",
    ),
    # Public holidays come from a library's tables.
    "sim.learn.forecast.calendar": ("holidays",),
    "app": (),
    "app.loading": (),
    "app.memory": (),
    "app.settings": ("pydantic", "pydantic_core", "pydantic_settings"),
    # Says a problem in the reader's units and language.
    "app.catalogue": ("sim.errors", "sim.units"),
    # Numbers and log of a server, which know nothing of what it serves.
    "app.running": ("starlette",),
    # Phones trust a site by certificates, which are made here.
    "app.certificates": ("app.settings", "cryptography"),
    # Who may do what, and the ways in: worked out without web, disk or clock.
    "app.access": ("argon2", "pyotp", "webauthn"),
    "app.db": ("sim.inputs", "sim.errors", "sqlalchemy", "alembic"),
    "app.files": ("app.catalogue", "sim"),
    "app.files.sheets": ("app.files", "openpyxl"),
    "app.books": ("app.files", "app.catalogue", "sim"),
    # Running: the log tells of each daily copy.
    "app.sites": (
        "app.books", "app.files", "app.db", "app.catalogue", "app.settings", "app.running", "sim",
    ),
    "app.sites.calendar": ("app.db", "app.catalogue", "sim", "icalendar"),
    "app.answers": ("app.sites", "app.files", "app.db", "app.catalogue", "app.settings", "sim"),
    # Begins a process before the program has loaded.
    "app.answers.early": ("app.answers", "app.loading"),
    # A process of its own with threads, as a server is.
    "app.answers.apart": (
        "app.answers", "app.db", "app.settings", "app.memory", "sim.day.kernel",
    ),
    # The one place where answers are written and read as JSON.
    "app.answers.serial": ("pydantic", "pydantic_core"),
    # Of `sim`, words and pages may know the vocabulary: inputs, starting points, units, problems,
    # the types of answers, and the table of figures and costs, which is data that they are
    # made from. Whoever reads what was typed refuses a safety device by `sim.checks`.
    "app.words": (
        "app.answers", "app.sites", "app.catalogue", *ANSWERS,
        "sim.inputs", "sim.units", "sim.errors", "sim.day.figures",
        "markupsafe",
    ),
    "app.charts": (
        "app.words", "app.catalogue", *ANSWERS,
        "sim.inputs", "sim.units", "sim.day.figures", "markupsafe",
    ),
    # Draws the code by which a phone opens a printed sheet.
    "app.charts.code": ("segno", "markupsafe"),
    "app.pages": (
        "app.access", "app.charts", "app.words", "app.answers", "app.sites", "app.books",
        "app.files", "app.catalogue", "app.settings", "app.running", *ANSWERS,
        "sim.inputs", "sim.units", "sim.errors", "sim.day.figures",
        "sim.profiles", "sim.checks",
        "fastapi", "starlette", "jinja2", "markupsafe", "itsdangerous", "pydantic",
    ),
    # Beside the pages, for programs: the same answers and gate, and of the pages what every request
    # shares, the way to the gate that notes what is advised, and who is on this machine.
    "app.api": (
        "app.access", "app.answers", "app.sites", "app.books", "app.catalogue", "app.settings",
        "app.pages.advice", "app.pages.deps", "app.pages.links", "app.pages.errors", *ANSWERS,
        "sim.inputs", "sim.units", "sim.errors", "fastapi", "starlette", "pydantic",
    ),
    # Turns the guides, written in Markdown, into pages.
    "app.pages.guide": (
        "app.pages", "app.words", "app.catalogue", "sim.inputs", "sim.day.figures", "sim.units",
        "fastapi", "markdown_it", "markupsafe",
    ),
    "app.main": ("app", "sim", "fastapi", "starlette", "jinja2"),
    # Of `sim`, the command line may know the same vocabulary as the pages; its answers are rounded
    # and worded as theirs.
    "app.cli": (
        "app.access", "app.answers", "app.sites", "app.books", "app.files", "app.words",
        "app.settings", "app.catalogue", "app.loading", "app.certificates", *ANSWERS,
        # A plan as a page in a file is what its page offers.
        "app.pages.plan.file",
        "sim.inputs", "sim.units", "sim.errors", "sim.checks", "sim.day.figures", "sim.day.drawn",
        "sim.decide.compare", "sim.decide.switching.question", "sim.learn.expected_day", "rich",
    ),
    # Opens a folder's site in a database of its own.
    "app.cli.workspace": (
        "app.answers", "app.sites", "app.db", "app.settings", "app.catalogue", "sim",
    ),
    "app.cli.serving": (
        "app.main", "app.answers.apart", "app.access", "app.sites", "app.settings",
        "app.catalogue", "app.loading", "app.memory", "app.certificates", "app.running", "rich",
        "uvicorn",
    ),
    # The generator of the invented site, which nothing imports.
    "demo_site": (
        "demo_site", "sim.inputs", "sim.units", "sim.physics", "sim.day", "sim.learn", "app.sites",
        "app.books", "app.files", "app.answers", "numpy", "scipy",
    ),
}  # fmt: skip

ONE_HOME: dict[str, str | tuple[str, ...]] = {
    "simpy": ("sim.day.tunnel", "sim.day.apron"),
    "numba": "sim.day.kernel",
    "sqlalchemy": "app.db",
    "alembic": "app.db",
    "sqlite3": "app.db",
    "markdown_it": "app.pages.guide",
    "openpyxl": "app.files.sheets",
    "icalendar": "app.sites.calendar",
    "cryptography": "app.certificates",
    "segno": "app.charts.code",
    "argon2": "app.access.passwords",
    "pyotp": "app.access.one_time",
    "webauthn": "app.access.passkeys",
    "holidays": "sim.learn.forecast.calendar",
    "pydantic_settings": SETTINGS,
}
"""Libraries that one room alone, or the rooms named, may import."""


def room_of(name: str) -> str | None:
    """The innermost room of a module."""
    return max((room for room in ROOMS if is_in(name, room)), key=len, default=None)


def import_faults(module: Module, known: frozenset[str]) -> list[str]:
    """Imports that the tables above do not allow, a sentence each."""
    room = room_of(module.name)
    if room is None:
        return [f"{module.name} lies in no room that the house knows"]
    faults = []
    for name in sorted(imported(module, known)):
        if name.startswith("."):
            faults.append(f"{module.name} imports {name}: relative imports hide the arrow")
            continue
        homes = ONE_HOME.get(name.partition(".")[0], ())
        homes = (homes,) if isinstance(homes, str) else homes
        if homes and not any(is_in(module.name, home) for home in homes):
            alone = " and ".join(homes)
            faults.append(f"{module.name} imports {name}, which {alone} alone may")
            continue
        is_standard = name.partition(".")[0] in sys.stdlib_module_names
        own = room.count(".") > 0 and is_in(name, room)
        if not (is_standard or own or any(is_in(name, allowed) for allowed in ROOMS[room])):
            faults.append(f"{module.name} imports {name}; {room} may import {ROOMS[room]}")
    return faults


# ---- what `sim` must not touch, and who reads clock and environment -----------------------------

OUTSIDE_WORLD = frozenset(
    {
        "asyncio", "ctypes", "ftplib", "getpass", "glob", "http", "importlib", "io", "locale",
        "logging", "mmap", "os", "pathlib", "pickle", "platform", "random", "secrets", "select",
        "shelve", "shutil", "signal", "smtplib", "socket", "sqlite3", "ssl", "subprocess",
        "sys", "tempfile", "threading", "time", "urllib", "uuid",
    }
)  # fmt: skip
"""Modules of the standard library that reach files, network, clock, environment or chance."""

OUTSIDE_CALL = re.compile(
    r"^(open|print|input|exec|eval|breakpoint)$"
    r"|^(np|numpy)\.(load|save|savez|savez_compressed|loadtxt|savetxt|genfromtxt|fromfile|memmap)$"
    r"|\.(rvs|tofile)$"
)
SEEDED = frozenset(
    {"Generator", "PCG64", "PCG64DXSM", "Philox", "SFC64", "SeedSequence", "BitGenerator"}
)
"""What of `numpy.random` holds its own state; everything else draws from a hidden one."""

CLOCK = re.compile(
    r"(^|\.)(datetime|date)\.(now|utcnow|today)$"
    r"|^time\.(time|time_ns|localtime|gmtime|strftime|ctime)$"
)
ENVIRONMENT = re.compile(r"^os\.(environ|environb|getenv|getenvb|putenv|unsetenv)$")


def dotted(node: ast.AST) -> str:
    """A name such as ``np.random.default_rng``; empty for anything that is not plainly one."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        base = dotted(node.value)
        return f"{base}.{node.attr}" if base else f".{node.attr}"
    return ""


def reaching_out(module: Module) -> list[str]:
    """Where a module of `sim` touches files, clock, environment or hidden randomness."""
    faults = []
    for name in sorted(imported(module, frozenset())):
        if name.partition(".")[0] in OUTSIDE_WORLD or is_in(name, "scipy.io"):
            faults.append(f"{module.name} imports {name}")
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Call) and OUTSIDE_CALL.search(dotted(node.func)):
            faults.append(f"{module.name}:{node.lineno} calls {dotted(node.func)}")
        if isinstance(node, ast.Attribute):
            name = dotted(node)
            chance = re.match(r"^(?:np|numpy)\.random\.(\w+)$", name)
            if chance and chance.group(1) not in SEEDED:
                faults.append(f"{module.name}:{node.lineno} uses {name}: pass a Generator in")
            if CLOCK.search(name):
                faults.append(f"{module.name}:{node.lineno} reads the clock by {name}")
        if isinstance(node, ast.ImportFrom) and node.module == "numpy.random":
            hidden = sorted({alias.name for alias in node.names} - SEEDED)
            faults += [
                f"{module.name}:{node.lineno} takes {name} of numpy.random" for name in hidden
            ]
    return faults


def clock_and_environment(module: Module) -> list[str]:
    """Where a module of the app reads clock or environment, which the settings alone may."""
    if module.name in (SETTINGS, THREADS):
        return []
    faults = []
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Attribute):
            name = dotted(node)
            if CLOCK.search(name) or ENVIRONMENT.search(name):
                faults.append(f"{module.name}:{node.lineno} reads {name}; ask {SETTINGS}")
        if isinstance(node, ast.ImportFrom) and node.module in ("os", "time"):
            taken = {f"{node.module}.{alias.name}" for alias in node.names}
            hits = sorted(n for n in taken if CLOCK.search(n) or ENVIRONMENT.search(n))
            faults += [f"{module.name}:{node.lineno} takes {name}; ask {SETTINGS}" for name in hits]
    return faults


# ---- one gate for writes ------------------------------------------------------------------------

SESSION_WRITE = re.compile(
    r"(?i)(session|connection|database|\bdb)\w*\."
    r"(add|add_all|delete|merge|execute|executemany|flush|commit|bulk_\w+)$"
)
STATEMENT = frozenset({"insert", "update", "delete", "insert_or_replace"})
SQL_WRITE = re.compile(r"^\s*(insert|update|delete|replace|drop|alter|create)\b", re.IGNORECASE)


def writers(module: Module) -> set[str]:
    """Functions of a module of `app.db` that write, directly or through one another."""
    functions = {
        node.name: node
        for node in ast.walk(module.tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    found = {name for name, node in functions.items() if _writes(node)}
    while True:
        more = {
            name
            for name, node in functions.items()
            if name not in found
            and any(isinstance(n, ast.Call) and dotted(n.func) in found for n in ast.walk(node))
        }
        if not more:
            return found
        found |= more


def _writes(function: ast.AST) -> bool:
    for node in ast.walk(function):
        if not isinstance(node, ast.Call):
            continue
        called = dotted(node.func)
        if called.rpartition(".")[2] in STATEMENT | {"add_all", "merge"}:
            return True
        if re.search(r"(?i)session\.add$", called):
            return True
        texts = [arg.value for arg in node.args if isinstance(arg, ast.Constant)]
        if any(isinstance(text, str) and SQL_WRITE.match(text) for text in texts):
            return True
    return False


def past_the_gate(module: Module, writing: dict[str, set[str]]) -> list[str]:
    """Where a module outside `app.db` and the gate could write to the database.

    Args:
        module: the module looked at.
        writing: for each module of `app.db`, its functions that write.
    """
    if any(is_in(module.name, room) for room in ("app.db", *WRITERS)):
        return []
    faults = []
    with_writers = {name for name, functions in writing.items() if functions}
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name in with_writers:
                    faults.append(f"{module.name}:{node.lineno} imports {alias.name}, which writes")
        elif isinstance(node, ast.ImportFrom) and not node.level:
            base = node.module or ""
            for alias in node.names:
                if alias.name in writing.get(base, ()) or f"{base}.{alias.name}" in with_writers:
                    said = f"imports {base}.{alias.name}, which writes; go through {GATE}"
                    faults.append(f"{module.name}:{node.lineno} {said}")
        elif isinstance(node, ast.Call) and SESSION_WRITE.search(dotted(node.func)):
            faults.append(f"{module.name}:{node.lineno} calls {dotted(node.func)}; use {GATE}")
    return faults
