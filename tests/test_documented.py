"""Nothing that a user meets lacks its documentation: inputs, commands, pages, make targets."""

from __future__ import annotations

import argparse
import datetime
import re
from collections import deque
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urldefrag, urljoin, urlsplit

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from starlette.routing import compile_path

from app.cli import main as cli
from app.pages.guide import INPUTS_GUIDE, input_guide
from sim.inputs import CLASS_INPUTS, INPUTS
from tests.demo_app import (
    ADDRESS,
    TODAY,
    app_of,
    begin_nothing,
    demo_client,
    store_cloth,
    store_comparison,
    store_maps,
    store_plan,
    store_roster,
    store_season,
    store_staff,
    store_switch,
)

ROOT = Path(__file__).resolve().parent.parent
MOST_PAGES = 400
FIRST = 5
"""So many pages of a route are looked at: today and the first of the days after it."""
BUSIEST = TODAY + datetime.timedelta(days=3)
"""The day that the pages line leads to: the coming Saturday."""
ADDRESS_ATTRIBUTES = ("href", "src", "action")


def read(name: str) -> str:
    """A file of the checkout."""
    return (ROOT / name).read_text(encoding="utf-8")


def code_blocks(text: str) -> list[str]:
    """The fenced blocks of a Markdown text."""
    return re.findall(r"^```\w*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)


def make_targets(text: str) -> set[str]:
    """Targets that a text tells its reader to make, in code marks or code blocks."""
    code = "\n".join([*re.findall(r"`([^`\n]+)`", text), *code_blocks(text)])
    return set(re.findall(r"(?m)(?:^|\s)make ([a-z]+)", code))


def phony_targets() -> set[str]:
    """Targets of the Makefile that are commands."""
    line = re.search(r"^\.PHONY:(.*)$", read("Makefile"), flags=re.MULTILINE)
    assert line is not None
    return set(line.group(1).split())


# ---- inputs


def test_guide_of_inputs_is_the_table_of_inputs() -> None:
    """The committed guide is what the table of inputs says today; `make guide` writes it anew."""
    assert INPUTS_GUIDE.read_text(encoding="utf-8") == input_guide(), (
        "run `make guide` and commit it"
    )


@pytest.mark.parametrize("name", [*INPUTS, *CLASS_INPUTS])
def test_input_is_documented(name: str) -> None:
    """The guide has a row for the input."""
    assert f"| `{name}` |" in INPUTS_GUIDE.read_text(encoding="utf-8")


# ---- commands


def subcommands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Commands of the command line by name."""
    return {
        name: command
        for action in parser._actions
        if isinstance(action, argparse._SubParsersAction)
        for name, command in action.choices.items()
    }


def test_every_command_is_in_the_readme() -> None:
    """README shows `clothcast NAME` for every command, and no command that does not exist."""
    shown = set(re.findall(r"clothcast ([a-z]+)\b", "\n".join(code_blocks(read("README.md")))))
    assert shown == set(subcommands(cli._parser()))


def test_every_command_shows_an_example() -> None:
    """The help of every command ends with an example of its use."""
    for name, command in subcommands(cli._parser()).items():
        assert f"clothcast {name}" in (command.epilog or ""), f"clothcast {name} --help"


# ---- make


def test_readme_opens_with_the_two_commands() -> None:
    """The first commands of README are `make demo` and `make test`, and nothing else."""
    first = code_blocks(read("README.md"))[0]
    commands = [line.partition("#")[0].strip() for line in first.splitlines()]
    assert [command for command in commands if command] == ["make demo", "make test"]


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_told_make_targets_exist(name: str) -> None:
    """Whatever a document tells its reader to make can be made."""
    assert make_targets(read(name)) <= phony_targets()


def test_every_make_target_is_told() -> None:
    """DEVELOPERS names every target of the Makefile, and `make help` does too."""
    told = make_targets(read("DEVELOPERS.md"))
    helped = set(re.findall(r'echo "make ([a-z]+)', read("Makefile")))
    assert phony_targets() - told == set()
    assert phony_targets() - helped == {"help"}


def test_pictures_of_the_readme_exist() -> None:
    """Every picture that README shows lies in the checkout."""
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", read("README.md"))
    assert pictures
    assert [name for name in pictures if not (ROOT / name).is_file()] == []


# ---- pages


class Addresses(HTMLParser):
    """Addresses within this site that a page leads to, by links, pictures and forms that read."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Takes the addresses of a tag; forms that write are left alone."""
        given = dict(attrs)
        if tag == "form" and (given.get("method") or "get").lower() != "get":
            return
        self.found += addresses_in(given)


def addresses_in(attrs: dict[str, str | None]) -> list[str]:
    """Values of attributes that hold addresses, data attributes for scripts included."""
    return [
        value
        for name, value in attrs.items()
        if value and (name in ADDRESS_ATTRIBUTES or (name[:5] == "data-" and value[0] == "/"))
    ]


def get_routes(app: FastAPI) -> list[str]:
    """Paths of the routes that answer GET, in the order in which they are tried."""
    return [
        route.path
        for route in iter_route_contexts(app.routes)
        if route.path and "GET" in (getattr(route, "methods", None) or ())
    ]


def crawl(client: TestClient) -> set[str]:
    """Paths of every page that links lead to from the first page, each route's first few only."""
    routes = [(path, compile_path(path)[0]) for path in get_routes(app_of(client))]
    broken: list[str] = []
    waiting, seen, reached = deque(["/"]), {"/"}, dict.fromkeys((path for path, _ in routes), 0)
    while waiting and sum(reached.values()) < MOST_PAGES:
        address = waiting.popleft()
        path = urlsplit(address).path
        route = next((name for name, pattern in routes if pattern.match(path)), None)
        if route is None or reached[route] >= FIRST:
            continue
        answer = client.get(address)
        reached[route] += 1
        if answer.status_code != 200:
            broken.append(f"{address} answers {answer.status_code}")
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        parser = Addresses()
        parser.feed(answer.text)
        for found in parser.found:
            target = urldefrag(urljoin(str(answer.url), found)).url
            inside = target.removeprefix(ADDRESS)
            if target.startswith(ADDRESS) and inside not in seen:
                seen.add(inside)
                waiting.append(inside)
    assert not broken, f"links that lead nowhere: {broken}"
    return {path for path, times in reached.items() if times}


def test_every_page_is_led_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Following links from the first page reaches every page, and none of them is broken. What
    pages that are passed would begin to compute is not computed: nothing waits for it."""
    begin_nothing(monkeypatch)
    with demo_client(tmp_path) as client:
        # Downloads of a day are offered once it has been computed; today's plan is linked to.
        store_comparison(client, TODAY)
        store_plan(client, BUSIEST)
        store_maps(client, BUSIEST)
        store_switch(client, BUSIEST)
        store_season(client)
        store_cloth(client)
        store_roster(client)
        store_staff(client, BUSIEST)
        reached = crawl(client)
        told = read("README.md")
        lost = [
            path for path in get_routes(app_of(client)) if path not in reached and path not in told
        ]
    assert not lost, f"no link leads to {lost}, and README does not name them"
