"""Figures of a start: help, the first page of a server, and what pages weigh on their way."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi.testclient import TestClient

from app.sites.demo import demo_days
from tests.bench.figures import Figure
from tests.demo_app import TODAY, demo_client, store_comparison
from tests.real_demo import demo

STARTS = 5
WEIGHED = ("plan/{busy}", "plan/{busy}/page.html", "site", "today", "counts", "weighings", "cloth")
GUIDES = ("/guide/inputs", "/about")
PATIENCE_S, LONG_S = 60.0, 600.0
LOOK_S = 0.25
"""Between two looks at a list, which takes the server a hundredth of that."""
GAP_S = 0.005
"""Between two looks whether a server listens by now [s]."""


def starting_figures() -> list[Figure]:
    """Times of five starts each, the first of which is not told: it fills the disk's memory."""
    helps = [help_seconds() for _ in range(STARTS + 1)][1:]
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            heaviest = max(weights(client))
        firsts = [first_page_seconds(Path(folder)) for _ in range(STARTS + 1)][1:]
    with tempfile.TemporaryDirectory() as folder:
        from_nothing = from_nothing_seconds(Path(folder))
    return [
        Figure("clothcast --help, longest of five", max(helps), "s", 0.3),
        Figure("first page after start, longest of five", max(firsts), "s", 1.0),
        Figure("demo from nothing: every page of today has something", from_nothing, "s", 20.0),
        Figure("heaviest page on its way, compressed", heaviest / 1e3, "kB", 100.0),
    ]


def help_seconds() -> float:
    """Time of `clothcast --help` [s]."""
    start = time.perf_counter()
    command = [sys.executable, "-m", "app.cli.main", "--help"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def first_page_seconds(folder: Path) -> float:
    """Time from starting `clothcast serve` to its first page, the database being there [s]."""
    start = time.perf_counter()
    with served(folder):
        return time.perf_counter() - start


def from_nothing_seconds(folder: Path) -> float:
    """Time from beginning the demo on an empty folder until every page of today has something to
    show, by what its list says [s]."""
    start = time.perf_counter()
    with demo(folder) as one:
        while not one.is_readable():
            if time.perf_counter() - start > LONG_S:
                raise RuntimeError("the pages of today have nothing to show")
            time.sleep(LOOK_S)  # the list of work tells nobody when it changes
        return time.perf_counter() - start


def begun(folder: Path, ahead_s: float) -> tuple[subprocess.Popen[bytes], int]:
    """The process of `clothcast serve` on a data folder, which has just begun, and its port."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    told = {"CLOTHCAST_DATA_DIR": str(folder), "CLOTHCAST_AHEAD_S": f"{ahead_s:.0f}"}
    told["CLOTHCAST_SIGN_IN"] = "0"  # the first page, not the way to it
    command = [sys.executable, "-m", "app.cli.main", "serve", "--port", str(port)]
    command += ["--today", TODAY.isoformat()]
    return subprocess.Popen(command, env=os.environ | told, stdout=subprocess.DEVNULL), port


@contextmanager
def served(folder: Path, ahead_s: float = 0.0) -> Iterator[int]:
    """The port of `clothcast serve` on a data folder, once its first page is there.

    Args:
        ahead_s: processor time that it may spend ahead of being asked [s].
    """
    start = time.perf_counter()
    server, port = begun(folder, ahead_s)
    try:
        while not _first_page(port):
            if time.perf_counter() - start > PATIENCE_S or server.poll() is not None:
                raise RuntimeError("no page came from the server")
            time.sleep(GAP_S)  # a server tells nobody when it listens
        yield port
    finally:
        server.terminate()
        server.wait()


def _first_page(port: int) -> bool:
    """Whether the first page came, by the way that its address leads; not where nobody listens."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    path: str | None = "/"
    try:
        while path:
            line.request("GET", path)
            answer = line.getresponse()
            answer.read()
            path = answer.headers["Location"] if answer.status == 303 else None
    except ConnectionRefusedError:
        return False
    finally:
        line.close()
    if answer.status != 200:
        raise RuntimeError(f"the first page answers {answer.status}")
    return True


def weights(client: TestClient) -> list[int]:
    """Bytes of pages of the demo on their way to a browser, its humid peak day computed."""
    busy = demo_days()["humid_peak"]
    site = store_comparison(client, busy).split("/")[1]
    found = []
    for path in (*(f"/{site}/{page.format(busy=busy)}" for page in WEIGHED), *GUIDES):
        answer = client.get(path, headers={"Accept-Encoding": "gzip"})
        if answer.status_code != 200 or answer.headers["content-encoding"] != "gzip":
            raise RuntimeError(f"{path} answers {answer.status_code}: {dict(answer.headers)}")
        found.append(int(answer.headers["content-length"]))
    return found
