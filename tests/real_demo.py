"""The demo as it is begun by the very command that people type, served from a data folder that need
not be there yet."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2

from tests.opened import opened

HOST = "127.0.0.1"
LIST = "/harbor-road/studies"
READABLE = "Every page of today has something to show."
"""What the list says once that is so."""


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
    told = {"CLOTHCAST_DATA_DIR": str(folder)}
    with opened(["demo"], told, host=HOST, stderr=None) as one:
        yield Demo(one.process, f"http://{HOST}:{one.port}", one.client)
