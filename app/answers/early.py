"""The process that computes for a server, begun while the server itself still loads.

This module is all that is loaded of the program before that.
"""

from __future__ import annotations

import atexit
import multiprocessing
import signal
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from app.answers.studies.workers import stand_back
from app.loading import loading


class Early:
    """A process that loads what computing takes, and then waits to be told the settings.

    It is started afresh (spawn), and ended with this one where nobody has taken it.
    """

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_load, args=(theirs,))
        self._process.start()
        theirs.close()
        self._is_taken = False
        atexit.register(self.end)  # before the interpreter waits for its children

    def taken(self) -> tuple[Connection, BaseProcess]:
        """Our end of its pipe, and the process, from now on the caller's to end."""
        self._is_taken = True
        atexit.unregister(self.end)
        return self._pipe, self._process

    def end(self) -> None:
        """End it, unless it was taken: it has done nothing yet."""
        atexit.unregister(self.end)
        if not self._is_taken:
            self._process.kill()
            self._process.join()
            self._pipe.close()


def _load(pipe: Connection) -> None:
    """In the process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C ends the server, and it this process
    stand_back()
    with loading():
        from app.answers.apart import compute
    compute(pipe)
