"""Figures of the pages: one from stored results, and the first one after a start."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from fastapi.testclient import TestClient

from app.services.demo import demo_days
from tests.bench.figures import Figure, percentile
from tests.demo_app import TODAY, demo_client, store_comparison

REQUESTS = 200
STARTS = 5


def page_figures() -> list[Figure]:
    """Times of pages on the demo site, whose peak day has been computed and stored before."""
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            spent, computed = stored_page_seconds(client)
        starts = [first_page_seconds(Path(folder)) for _ in range(STARTS)]
    return [
        Figure("page from stored results, processor time", computed * 1e3, "ms"),
        Figure("page from stored results, median", percentile(spent, 50) * 1e3, "ms"),
        Figure("page from stored results, p95", percentile(spent, 95) * 1e3, "ms", 100.0),
        Figure("first page after start, longest of five", max(starts), "s", 3.0),
    ]


def stored_page_seconds(client: TestClient) -> tuple[list[float], float]:
    """Times of the page of the demo's humid peak day, its comparison stored [s].

    Returns:
        Each time from request to page, and the mean processor time of one.
    """
    address = store_comparison(client, demo_days(TODAY)["humid_peak"])
    page = client.get(address)
    if page.status_code != 200:
        raise RuntimeError(f"{address} answers {page.status_code}")
    spent = []
    used = time.process_time()
    for _ in range(REQUESTS):
        start = time.perf_counter()
        client.get(address)
        spent.append(time.perf_counter() - start)
    return spent, (time.process_time() - used) / REQUESTS


def first_page_seconds(folder: Path) -> float:
    """Time from starting Python to the first page of an app whose database is there [s]."""
    command = [sys.executable, "-m", "tests.bench.first_page", str(folder)]
    start = time.perf_counter()
    subprocess.run(command, check=True)
    return time.perf_counter() - start
