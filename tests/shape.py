"""Keeps what the program answers, and compares two such keepings: for changes of shape alone.

`python -m tests.shape keep FOLDER` writes the JSON of every command on the demo's kinds of day and
on generated sites, the visible text of each page and each file that a page offers; `python -m
tests.shape compare BEFORE AFTER` prints what differs. A redesign that means to change no figure
keeps before its first step and compares after its last.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import deque
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch
from urllib.parse import urldefrag, urljoin, urlsplit

from fastapi.testclient import TestClient

from app.answers.studies.line import StudyQueue
from sim.day.drawn import draw_site, uncertain
from sim.inputs import Site
from tests import demo_app
from tests.pages.pages import Page
from tests.seeds import generator

TODAY = demo_app.TODAY.isoformat()
DAYS = ("2026-07-18", "2026-07-19", "2026-07-20", "2026-07-21", "2026-07-22")
"""Of the demo: the busiest Saturday and the four days after it."""
SITES = 20
MODULE = os.environ.get("SHAPE_COMMANDS", "app.cli.main")
"""Where the command line lies; a checkout of before may have it elsewhere."""


def asked() -> dict[str, list[str]]:
    """Every command by the name of the file that its JSON goes to."""
    demo = ["demo_site", "--today", TODAY]
    found = {f"{what}.json": [what, *demo] for what in ("cloth", "season", "coming")}
    found["season.json"] += ["--replications", "4"]
    for day in DAYS:
        for what in ("plan", "switch", "staff"):
            found[f"{what}-{day}.json"] = [what, *demo, "--date", day]
    found[f"roster-{DAYS[2]}.json"] = ["staff", *demo, "--week", DAYS[2], "--as-planned"]
    return found


def generated(number: int) -> list[str]:
    """Changes of the demo that make a generated site of it: its guesses as they might be."""
    rng, usual = generator(f"shape {number}"), Site("Generated")
    names = uncertain(usual, frozenset())
    site = draw_site(usual, names, rng.uniform(0.02, 0.98, len(names)))
    values = {name: site.value(name) for name in names}
    return [part for name, value in values.items() for part in ("--set", f"{name}={value}")]


def keep_commands(folder: Path) -> None:
    """Writes the JSON of every command."""
    for name, words in asked().items():
        _run([*words, "--json", str(folder / name)])
    for number in range(SITES):
        words = ["plan", "demo_site", "--today", TODAY, "--date", DAYS[number % len(DAYS)]]
        _run([*words, *generated(number), "--json", str(folder / f"site-{number}.json")])


def _run(words: list[str]) -> None:
    print(*words[:6], flush=True)
    subprocess.run([sys.executable, "-m", MODULE, *words], check=True, stdout=subprocess.DEVNULL)


class Visible(Page):
    """A page, and the text that it shows."""

    def __init__(self, text: str) -> None:
        self.shown: list[str] = []
        super().__init__(text)

    def handle_data(self, data: str) -> None:
        """Takes text too; scripts and styles show nothing."""
        super().handle_data(data)
        if data.strip() and not (self._open and self._open[-1][0] in ("script", "style")):
            self.shown.append(re.sub(r"\s+", " ", data.strip()))


def keep_pages(folder: Path) -> None:
    """Writes the visible text of each page that links lead to, and each file offered."""
    with (
        TemporaryDirectory() as data,
        patch.object(StudyQueue, "begin"),  # nothing waits for what pages begin
        demo_app.demo_client(Path(data)) as client,
    ):
        busiest = date.fromisoformat(DAYS[0])
        demo_app.store_comparison(client, demo_app.TODAY)
        for store in (demo_app.store_maps, demo_app.store_switch, demo_app.store_staff):
            store(client, busiest)
        for whole in (demo_app.store_season, demo_app.store_cloth, demo_app.store_roster):
            whole(client)
        for address, content in _walk(client).items():
            name = re.sub(r"[^a-z0-9.]+", "-", address.lower()).strip("-") or "first"
            (folder / f"page-{name}").write_bytes(content)


def _walk(client: TestClient) -> dict[str, bytes]:
    waiting, seen, found = deque(["/"]), {"/"}, dict[str, bytes]()
    while waiting and len(found) < 200:
        address = waiting.popleft()
        answer = client.get(address)
        if not answer.headers["content-type"].startswith("text/html"):
            found[address] = answer.content
            continue
        page = Visible(answer.text)
        found[address] = "\n".join(page.shown).encode()
        for one in filter(None, page.links):
            target = urldefrag(urljoin(str(answer.url), one)).url
            inside = target.removeprefix(demo_app.ADDRESS)
            if target.startswith(demo_app.ADDRESS) and urlsplit(inside).path not in seen:
                seen.add(urlsplit(inside).path)
                waiting.append(inside)
    return found


def compare(before: Path, after: Path) -> int:
    """Prints which files of two keepings differ, and in what first; how many."""
    names = sorted({path.name for folder in (before, after) for path in folder.iterdir()})
    different = 0
    for name in names:
        sides = [folder / name for folder in (before, after)]
        if not all(side.is_file() for side in sides):
            print(f"{name}: {'gone' if sides[0].is_file() else 'new'}")
            different += 1
            continue
        old, new = (side.read_bytes() for side in sides)
        if old != new:
            different += 1
            lines = zip(old.splitlines(), new.splitlines(), strict=False)
            first = next((pair for pair in lines if pair[0] != pair[1]), (b"", b"(longer)"))
            print(f"{name}: {first[0][:100]!r} became {first[1][:100]!r}")
    print(f"{different} of {len(names)} differ")
    return different


def main(words: list[str]) -> int:
    """Keeps or compares, as the command line says."""
    if words[:1] == ["keep"] and len(words) == 2:
        folder = Path(words[1])
        folder.mkdir(parents=True)
        keep_pages(folder)
        keep_commands(folder)
        return 0
    if words[:1] == ["compare"] and len(words) == 3:
        return min(1, compare(Path(words[1]), Path(words[2])))
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
