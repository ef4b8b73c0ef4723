"""Memory of a server with many threads: kept together, and given back."""

from __future__ import annotations

import ctypes
import sys
import threading
from typing import Any

ARENAS = 2
"""Parts of memory that the threads of a process share. One thread computes at a time, so they never
wait for each other there."""
M_ARENA_MAX = -8
"""The name of that limit (mallopt(3))."""
GIVEN_BACK_S = 60.0
"""How often what is free is given back [s]."""


def few_arenas() -> bool:
    """Have all threads of this process take memory from a few parts; whether that could be said.

    By itself the C library (glibc) gives its threads up to eight parts a processor, and none of
    them uses what another has free: under the load of fifty people and five a server's parts grew
    by 60 MB in three minutes, all of it free, while what was in use stayed as it was. To be called
    before there are threads. Where the C library is another one nothing is said to it.
    """
    return bool(_said("mallopt", M_ARENA_MAX, ARENAS))


def give_back() -> bool:
    """Give what is free between what is in use back to the system (malloc_trim(3)); whether there
    was anything."""
    return bool(_said("malloc_trim", 0))


def keep_giving_back() -> None:
    """Do so every minute, in a thread that ends with the process."""
    pause = threading.Event()

    def work() -> None:
        while not pause.wait(GIVEN_BACK_S):
            give_back()

    threading.Thread(target=work, daemon=True, name="memory").start()


def _said(name: str, *given: int) -> int:
    if sys.platform != "linux":
        return 0
    function: Any = getattr(ctypes.CDLL(None), name, None)
    return 0 if function is None else int(function(*given))
