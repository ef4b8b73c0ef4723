"""Figures of a real server that is busy: pages while it works ahead, and ten people at once."""

from __future__ import annotations

import http.client
import json
import tempfile
import threading
import time
from datetime import date, timedelta
from http.cookies import SimpleCookie
from pathlib import Path

from app.sites.demo import demo_days
from tests.bench.figures import Figure, percentile
from tests.bench.starting import served
from tests.demo_app import TODAY, demo_client, store_comparison

REQUESTS = 200
MOVES = 60
PEOPLE = 10
AHEAD_S = 3_600.0
PATIENCE_S = 600.0
GAP_S = 0.5
"""Between two looks of somebody who waits [s]; the page asks every two seconds."""
OPENED = {"Sec-Fetch-Site": "none"}
"""What a browser says of a page whose address somebody typed."""
FROM_A_PAGE = {"Sec-Fetch-Site": "same-origin"}
"""What it says of what a page of ours asks for."""
UNDER_WAY = "Stop computing"
SHOWN = '<table class="compare'


class Person:
    """Somebody with a browser of their own, who keeps cookies."""

    def __init__(self, port: int) -> None:
        self._port, self._cookies = port, SimpleCookie()

    def opens(self, path: str) -> tuple[str, float]:
        """A page and how long it took [s].

        Raises:
            RuntimeError: if there is none.
        """
        return self._asks("GET", path, OPENED, None)

    def sends(self, path: str, body: object, token: str) -> tuple[str, float]:
        """What is answered to something that the script of a page sends, and how long it took [s].

        Raises:
            RuntimeError: if it is refused as a whole.
        """
        headers = {"Content-Type": "application/json", "X-Form-Token": token}
        return self._asks("POST", path, FROM_A_PAGE | headers, json.dumps(body))

    def _asks(
        self, method: str, path: str, headers: dict[str, str], body: str | None
    ) -> tuple[str, float]:
        kept = "; ".join(f"{one.key}={one.value}" for one in self._cookies.values())
        line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=PATIENCE_S)
        start = time.perf_counter()
        try:
            line.request(method, path, body, headers | {"Cookie": kept})
            answer = line.getresponse()
            text = answer.read().decode()
        finally:
            line.close()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            self._cookies.load(cookie)
        if answer.status != 200:
            raise RuntimeError(f"{path} answers {answer.status}")
        return text, time.perf_counter() - start

    def waits_for(self, path: str, sign: str) -> float:
        """Time until a page that is looked at again and again has a sign [s]."""
        start = time.perf_counter()
        while sign not in self.opens(path)[0]:
            if time.perf_counter() - start > PATIENCE_S:
                raise RuntimeError(f"{path} never showed {sign}")
            time.sleep(GAP_S)  # as a browser does
        return time.perf_counter() - start


def crowd_figures() -> list[Figure]:
    """Pages of the demo on a real server, two processes of which compute."""
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            stored = store_comparison(client, demo_days()["humid_peak"])
        slug = stored.split("/")[1]
        with served(Path(folder)) as port:
            quiet = [Person(port).opens(stored)[1] for _ in range(REQUESTS)]
        with served(Path(folder), AHEAD_S) as port:
            Person(port).waits_for(f"/{slug}/studies", UNDER_WAY)
            pages = [Person(port).opens(stored)[1] for _ in range(REQUESTS)]
            changes = change_seconds(port, stored)
            if UNDER_WAY not in Person(port).opens(f"/{slug}/studies")[0]:
                raise RuntimeError("the work ahead ended before the pages were timed")
        with served(Path(folder)) as port:
            # what the first of all plans waits for, weighings worked in, is no part of a crowd
            Person(port).waits_for(f"/{slug}/plan/{TODAY.isoformat()}", SHOWN)
            firsts = first_form_seconds(port, slug)
    return [
        Figure("a real server’s stored page, p95", percentile(quiet, 95) * 1e3, "ms", 100.0),
        Figure("… while it works ahead, p95", percentile(pages, 95) * 1e3, "ms", 100.0),
        Figure("one input changed while it works ahead, p95", percentile(changes, 95) * 1e3, "ms",
               300.0),
        Figure("ten people ask for a day each at once: last first form", max(firsts), "s", 15.0),
    ]  # fmt: skip


def change_seconds(port: int, address: str) -> list[float]:
    """Times from a moved speed to new figures [s], after the first that make the part ready."""
    person = Person(port)
    person.opens(f"{address}/change/figures")
    spent = []
    for number in range(MOVES):
        moved = f"scenario-tried.conveyor_speed_m_s={46 + 0.1 * number:.1f}"
        spent.append(person.opens(f"{address}/change/figures?{moved}")[1])
    return spent


def first_form_seconds(port: int, slug: str) -> list[float]:
    """Times until each of ten people, asking at once for a day each, sees its first form [s]."""
    days = [TODAY + timedelta(days=ahead) for ahead in range(1, PEOPLE + 1)]
    found: dict[date, float] = {}
    faults: list[BaseException] = []

    def asks(day: date) -> None:
        try:
            found[day] = Person(port).waits_for(f"/{slug}/plan/{day.isoformat()}", SHOWN)
        except BaseException as fault:
            faults.append(fault)

    people = [threading.Thread(target=asks, args=(day,)) for day in days]
    for one in people:
        one.start()
    for one in people:
        one.join()
    if faults:
        raise faults[0]
    return [found[day] for day in days]
