"""Pieces of work for worker processes, which leave a trace in a folder."""

from __future__ import annotations

import os
import signal
from pathlib import Path

Piece = tuple[str, int]


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
