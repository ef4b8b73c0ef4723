"""Figures of the pages: one from stored results, and the first one after a start."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from fastapi.testclient import TestClient

from tests.bench.figures import Figure, percentile
from tests.demo_app import demo_client

REQUESTS = 200
STARTS = 5
WAIT_S = 120.0


def page_figures() -> list[Figure]:
    """Times of pages on the demo site, whose peak day has been computed and stored before."""
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            spent = stored_page_seconds(client)
        starts = [first_page_seconds(Path(folder)) for _ in range(STARTS)]
    return [
        Figure("page from stored results, median", percentile(spent, 50) * 1e3, "ms"),
        Figure("page from stored results, p95", percentile(spent, 95) * 1e3, "ms", 100.0),
        Figure("first page after start, longest of five", max(starts), "s", 3.0),
    ]
