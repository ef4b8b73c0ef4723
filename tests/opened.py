"""Clothcast begun by the very command that people type: a process of its own, once it is open."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2

from tests.demo_app import OWN_PAGE
from tests.world import ROOT

TRIES = 12
"""How often it is tried to reach a server that says that it opens; each waits twice as long."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The process, the port that it listens at, and a client of it."""

    process: subprocess.Popen[str]
    port: int
    client: httpx2.Client


@contextmanager
def opened(
    words: Sequence[str],
    told: Mapping[str, str],
    cwd: Path = ROOT,
    host: str = "localhost",
    stderr: int | None = subprocess.PIPE,
) -> Iterator[Opened]:
    """Runs a command that serves, while the block runs; killed in the end.

    Args:
        words: the command and its options, but for the port.
        told: variables of its environment beside those of the tests.
        stderr: where its error output goes; none is read of one that runs for long.
    """  # fmt: skip
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    command = [sys.executable, "-m", "app.cli.main", *words, "--port", str(port)]
    with subprocess.Popen(
        command, cwd=cwd, env=os.environ | told, text=True, stdout=subprocess.PIPE, stderr=stderr
    ) as one:
        try:
            assert one.stdout is not None
            assert any("is open at" in line for line in one.stdout)
            reach, url = httpx2.HTTPTransport(retries=TRIES), f"http://{host}:{port}"
            with httpx2.Client(base_url=url, transport=reach, timeout=60, headers=OWN_PAGE) as asks:
                yield Opened(one, port, asks)
        finally:
            one.kill()
