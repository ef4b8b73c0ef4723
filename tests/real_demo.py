"""The demo as it is begun by the very command that people type: a process of its own, served from a
data folder that need not be there yet."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2

from tests.demo_app import OWN_PAGE
from tests.world import ROOT

LIST = "/harbor-road/studies"
READABLE = "Every page of today has something to show."
"""What the list says once that is so."""
TRIES = 12
"""How often it is tried to reach a server that says that it opens; each waits twice as long."""


@dataclass(frozen=True, slots=True)
class Demo:
    """The process, its address, and a client of it."""

    process: subprocess.Popen[str]
    url: str
    client: httpx2.Client

    def is_readable(self) -> bool:
        """Whether every page of today has something to show."""
        return READABLE in self.client.get(LIST).text


@contextmanager
def demo(folder: Path) -> Iterator[Demo]:
    """Serves the demo from a data folder while the block runs; killed in the end."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    command = [sys.executable, "-m", "app.cli.main", "demo", "--port", str(port)]
    told = os.environ | {"CLOTHCAST_DATA_DIR": str(folder)}
    url = f"http://127.0.0.1:{port}"
    with subprocess.Popen(command, cwd=ROOT, env=told, stdout=subprocess.PIPE, text=True) as one:
        try:
            assert one.stdout is not None
            assert any("is open at" in line for line in one.stdout)
            reach = httpx2.HTTPTransport(retries=TRIES)
            with httpx2.Client(base_url=url, transport=reach, timeout=60, headers=OWN_PAGE) as asks:
                yield Demo(one, url, asks)
        finally:
            one.kill()
