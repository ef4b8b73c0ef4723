"""No text that somebody can type, send or store takes longer than its length to be read."""

from __future__ import annotations

import ast
import functools
import importlib
import itertools
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from types import FrameType
from typing import Any

import pytest
from starlette.datastructures import FormData

from app.files.csv_table import read_table
from app.pages.cloth import ACTS, fields_of, read_cloth_form
from app.pages.plan.form import changed, posted_plan, read_plan
from app.pages.weighing_forms import read_weighing
from app.pages.writing import read_clock, read_day, version_of
from app.sites.checks import slug_for
from app.sites.folder import read_site_text
from sim.checks import safety_problem
from sim.day.rules import parse_changes, parse_rule
from sim.errors import InputError
from sim.inputs import INPUTS, Site, SiteData
from sim.learn.expected_day import parse_override
from sim.units import UNITS, parse_clock, parse_quantity, whole_number
from tests.ambiguity import MODES, why_not_linear
from tests.architecture import Module, modules

# ---- patterns ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Used:
    """A pattern as a module uses it."""

    where: str
    pattern: str
    flags: int
    method: str


def patterns(module: Module) -> Iterator[Used]:
    """Every use of a regular expression in a module; a pattern made while it runs is an error."""
    for node in ast.walk(module.tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        method, owner = node.func.attr, node.func.value
        where = f"{module.name}, line {node.lineno}"
        if not isinstance(owner, ast.Name) or (
            owner.id == "re" and method in ("compile", "escape")
        ):
            continue
        if owner.id == "re":
            assert isinstance(node.args[0], ast.Constant), f"{where}: not a written pattern"
            yield Used(where, str(node.args[0].value), _flags(node), method)
        elif method in MODES:
            held = getattr(importlib.import_module(module.name), owner.id, None)
            if isinstance(held, re.Pattern):
                yield Used(where, held.pattern, held.flags & ~re.UNICODE, method)


def _flags(node: ast.Call) -> int:
    """Flags of a call; none of ours gives any but to `re.compile`."""
    assert not [k for k in node.keywords if k.arg == "flags"], f"line {node.lineno}: compile it"
    return 0


def test_a_pattern_takes_a_text_apart_in_no_more_ways_than_its_length() -> None:
    """No text makes the matcher go back over it again and again."""
    used = [use for module in modules() if "re." in module.text for use in patterns(module)]
    assert len(used) > 20
    slow = {
        f"{use.where}: {use.pattern}": why
        for use in used
        if (why := why_not_linear(use.pattern, use.flags, use.method))
    }
    assert slow == {}


def test_every_compiled_pattern_is_judged() -> None:
    """What is compiled in a module is used there by name, so that the way it is used is known."""
    for module in modules():
        if "re.compile" not in module.text:
            continue
        held = vars(importlib.import_module(module.name))
        compiled = {name for name, value in held.items() if isinstance(value, re.Pattern)}
        judged = {use.pattern for use in patterns(module)}
        assert {held[name].pattern for name in compiled} <= judged, module.name


SLOW = [
    (r"^\s*([+\-]?\s*(?:\d[\d,]*\.?\d*|\.\d+))\s*(.*?)\s*$", 0, "match"),
    (r"[^\s;]*\d[^\s;]*(?:\s*(?:kg|g|oz|lb)\b)?", re.IGNORECASE, "findall"),
    (r"(\d+(?:\.\d+)?)\s*%?\s*-", 0, "match"),
    (r"°?\s*([CF])$", 0, "sub"),
    (r"\s+or\s+", 0, "split"),
    (r"(a+)+b", 0, "match"),
    (r"(?:a*)*b", 0, "match"),
    (r"(?:a|ab|b)*c", 0, "match"),
]


@pytest.mark.parametrize(("pattern", "flags", "method"), SLOW)
def test_a_slow_pattern_is_found(pattern: str, flags: int, method: str) -> None:
    """What takes the square, the cube or more is named as such."""
    assert why_not_linear(pattern, flags, method)


# ---- reading -------------------------------------------------------------------------------------


def steps_of(work: Callable[[], object]) -> int:
    """How many lines of Python a piece of work runs; bad input is no news here."""
    count = 0

    def note(frame: FrameType, event: str, arg: object) -> Any:
        nonlocal count
        count += 1
        return note

    before = sys.gettrace()
    sys.settrace(note)
    try:
        work()
    except (InputError, ValueError):
        pass
    finally:
        sys.settrace(before)
    return count


def _form(**fields: str) -> FormData:
    return FormData(list(fields.items()))


def _plan(name: str, text: str) -> object:
    form = _form(count="1", units="si", **{f"scenario-1.{name}": text})
    return read_plan(posted_plan(form, "si"), ())


def _weighed(name: str, text: str) -> object:
    good = {
        "kind": "afternoon", "weight_kg": "310", "dry_kg": "180", "day": "2026-07-14",
        "at_s": "15:20", "cars": "20", "damp_cars": "3", "wiped": "clock", "from": "12:00",
        "to": "15:00",
    }  # fmt: skip
    form = _form(**{**good, name: text})
    return read_weighing(form, SiteData(Site("Mill Lane"), "si"), date(2026, 7, 15))


def _cloth(act: str, name: str, text: str) -> object:
    good = {"name": "A", "day": "2026-07-14", "at_s": "15:20", "reason": "planned"}
    form = _form(**{"act": act, **good, name: text})
    return read_cloth_form(form, SiteData(Site("Mill Lane"), "si"), date(2026, 7, 15))


READERS: dict[str, Callable[[str], object]] = {
    **{f"input {name}": row.parse for name, row in INPUTS.items()},
    **{
        f"plan {name}": functools.partial(_plan, name)
        for name in ("name", "kind", "rule", "windows", "cloth", "more", "car_spacing_m")
    },
    "plan more, a name": lambda text: _plan("more", f"{text} = 1"),
    "plan count": lambda text: posted_plan(_form(count=text), "si"),
    "plan button": lambda text: changed(posted_plan(_form(count="1"), "si"), f"copy-{text}"),
    **{
        f"weighing {name}": functools.partial(_weighed, name)
        for name in ("kind", "weight", "dry", "day", "at", "cars", "damp", "wiped", "from", "to")
    },
    **{
        f"cloth {act} {name}": functools.partial(_cloth, act, name)
        for act in ACTS
        for name in fields_of(act)
    },
    "rule": parse_rule,
    "rule of a kind": lambda text: parse_rule(f"clock {text}"),
    "dry sets": lambda text: parse_changes(text, 3),
    "expected day": parse_override,
    "expected rain": lambda text: parse_override(f"rain {text}"),
    "quantity": lambda text: parse_quantity(text, UNITS["length"], "si"),
    "clock": parse_clock,
    "clock of a form": lambda text: read_clock("at", text, []),
    "day of a form": lambda text: read_day("day", text, []),
    "version": lambda text: version_of(_form(version=text)),
    "whole number": whole_number,
    "safety": lambda text: safety_problem("name", text),
    "slug": lambda text: slug_for(text, ()),
    "key of site.toml": lambda text: read_site_text(f"[line]\n{text} = 1\n".encode()),
    "table of site.toml": lambda text: read_site_text(f"[{text}]\n".encode()),
    "value of site.toml": lambda text: read_site_text(f"[line]\nopen_h = {text}\n".encode()),
    "text of site.toml": lambda text: read_site_text(f'[line]\nopen_h = "{text}"\n'.encode()),
    "time zone of site.toml": lambda text: read_site_text(
        f'name = "a"\ntimezone = "{text}"\n'.encode()
    ),
    "column of a file": lambda text: read_table(f"date,{text}\n1,2\n".encode(), "a", ("date",)),
    "cell of a file": lambda text: read_table(f"date\n{text}\n".encode(), "a", ("date",)),
}
BITS = (
    "a", " ", "1", "a.", "1,", "1 ", ".", ";", "-", "12:00-13:00,", " or ", " and ", "[", "{a=",
    "1;", "a\n", " \n", "= ", "C ", "10:00 1;", "'", "٣", "_", "%", "a = 1\n",
)  # fmt: skip
SHORT, LONG = 2_000, 4_000
"""Letters of a text, and twice as many."""
ENDLESS = 60_000
"""More than anything that is typed may have."""
SOME = 3_000
"""Lines of Python that go by whatever the length."""


@pytest.mark.parametrize("name", READERS)
def test_twice_the_text_takes_at_most_twice_the_work(name: str) -> None:
    """Whatever stands in a field, its reader's work grows at most as the text does."""
    read = READERS[name]
    for bit, end in itertools.product(BITS, ("a", "\n!")):
        short, long = (
            steps_of(functools.partial(read, (bit * size)[:size] + end)) for size in (SHORT, LONG)
        )
        assert long <= 2.2 * short + SOME, (name, bit, short, long)


WHOLE_FILES = ("site.toml", "of a file", "safety", "slug")
"""What reads files, which may be long, or only looks for words in a text."""


@pytest.mark.parametrize("name", [n for n in READERS if not any(w in n for w in WHOLE_FILES)])
def test_a_text_without_end_is_refused_before_it_is_read(name: str) -> None:
    """Beyond what anybody types, the work no longer grows with the text at all."""
    for bit in ("1 ", "a\n", "10:00 1;", "1"):
        work = steps_of(functools.partial(READERS[name], (bit * ENDLESS)[:ENDLESS]))
        assert work <= 2 * SOME, (name, bit)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[line]\n" + ".".join("a" * 40) + " = 1\n", "line 2: “a.a.a."),
        ("[" + "a." * 40 + "a]\n", "line 1: “[a.a.a."),
        ("[line]\nopen_h = {" + "a." * 40 + "a = 1}\n", "line 2: “open_h = {a.a."),
        ("# " + "a" * 1_000_000, "The file has 1,000,002 characters; at most 1,000,000"),
        ("".join(f"a{i} = 1\n" for i in range(300)), "There may be more to mend"),
    ],
)
def test_a_site_toml_that_would_take_long_is_refused(text: str, said: str) -> None:
    """Names of many parts, of which a parser's work takes the square, and files without end."""
    _data, problems = read_site_text(text.encode())
    assert 1 <= len(problems) <= 101
    assert said in str(problems[-1])


def test_points_in_texts_and_numbers_are_no_long_name() -> None:
    """What a site.toml may well hold is read as before."""
    times = ", ".join(["41.5"] * 200)
    text = f'name = "A"\n[pay]\nquick_pay_measured_s = [{times}]\n[[day]]\ndate = 2026-07-18\n'
    text += 'kind = "event"\nnote = "One. Two. Three..."\n'
    assert read_site_text(text.encode())[1] == ()
