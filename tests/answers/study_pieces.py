"""Pieces of work for worker processes, which leave a trace in a folder."""

from __future__ import annotations

import fcntl
import os
import signal
import stat
from contextlib import suppress
from multiprocessing import resource_tracker
from pathlib import Path
from typing import Any

Piece = tuple[str, int]
LONG_MESSAGE = (1_000).to_bytes(4, "big") + bytes(10)
"""The length of a message as `multiprocessing.connection` writes it, and too little of it."""


def leave_trace(piece: Piece) -> int:
    """Writes a file named by the piece's number."""
    folder, number = piece
    (Path(folder) / str(number)).touch()
    return number


def die_once(piece: Piece) -> int:
    """The third piece kills its process, the first time that it is computed."""
    folder, number = piece
    if number == 2:
        mark = Path(folder) / "died"
        if not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
    return number


def die_always(piece: Piece) -> int:
    """The third piece kills its process."""
    if piece[1] == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return piece[1]


def die_amid_a_message(piece: Piece) -> int:
    """The third piece kills its process when it has sent half an answer, the first time."""
    folder, number = piece
    if number == 2:
        mark = Path(folder) / "died"
        if not mark.exists():
            mark.touch()
            for fd in _pipes():
                os.write(fd, LONG_MESSAGE)
            os.kill(os.getpid(), signal.SIGKILL)
    return number


def large(piece: Piece) -> tuple[int, bytes]:
    """An answer of a megabyte: most of the time goes into sending it."""
    return piece[1], bytes(1_000_000)


def stop_itself(piece: Piece) -> int:
    """Says in the folder's pipe that it is there and then stands still, as a process does that
    was stopped from outside; one that is begun after it goes on."""
    folder, number = piece
    mark = Path(folder) / "stood still"
    if not mark.exists():
        mark.touch()
        (Path(folder) / "says").write_text("here", encoding="ascii")
        os.kill(os.getpid(), signal.SIGSTOP)
    return number


def wait_for_word(piece: Piece) -> int:
    """Waits until somebody writes into a pipe."""
    Path(piece[0]).read_text("ascii")
    return piece[1]


def unfit(piece: Piece) -> Any:
    """Something that can't be sent."""
    return lambda: piece


def refuse(piece: Piece) -> int:
    """Fails."""
    raise ValueError(f"piece {piece[1]}")


def _pipes() -> list[int]:
    """What this process writes its answers to."""
    tracker = resource_tracker._resource_tracker._fd  # type: ignore[attr-defined]  # not public
    found = []
    for entry in list(Path("/proc/self/fd").iterdir()):
        fd = int(entry.name)
        with suppress(OSError):
            kind, mode = os.fstat(fd).st_mode, fcntl.fcntl(fd, fcntl.F_GETFL) & os.O_ACCMODE
            is_pipe = stat.S_ISFIFO(kind) or stat.S_ISSOCK(kind)
            if fd > 2 and fd != tracker and is_pipe and mode != os.O_RDONLY:
                found.append(fd)
    return found
