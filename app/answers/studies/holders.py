"""Ids of server processes that share a database, and whether such a process is known to be gone.

An id tells of the boot and the process namespace in which its process runs, its number there and
when it started. Whoever runs in the same boot and namespace can therefore see at once, and
whatever the clocks say, that a process is no more. Of any other process nothing is known.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from contextlib import suppress
from pathlib import Path

PROC = Path("/proc")
START_FIELD = 22 - 4
"""Place of the start time in ``/proc/PID/stat`` among what follows the state (proc(5))."""


def new_holder() -> str:
    """A random id of this process, of at most 40 characters."""
    place, started = _place(), _started(os.getpid())
    if not (place and started):
        return secrets.token_hex(16)
    return f"{place}.{os.getpid()}.{started}.{secrets.token_hex(4)}"


def is_gone(holder: str) -> bool:
    """Whether the process of an id is known to be no more; False where that can't be told."""
    place, _dot, rest = holder.partition(".")
    pid, _dot, rest = rest.partition(".")
    started = rest.partition(".")[0]
    if not (place and pid.isdecimal() and started) or place != _place():
        return False
    return _started(int(pid)) != started


def _place() -> str:
    """This boot of this machine, and the namespace in which processes are numbered."""
    with suppress(OSError):
        boot = (PROC / "sys/kernel/random/boot_id").read_text("ascii").strip()
        return hashlib.sha256(f"{boot} {(PROC / 'self/ns/pid').readlink()}".encode()).hexdigest()[
            :8
        ]
    return ""


def _started(pid: int) -> str:
    """When a process started, in ticks since the boot; empty for one that is not there."""
    with suppress(OSError):
        state, *fields = (PROC / str(pid) / "stat").read_text("utf-8").rpartition(")")[2].split()
        return "" if state in "ZX" else fields[START_FIELD]
    return ""
