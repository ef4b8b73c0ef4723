"""Threads take their memory from a few parts, as the C library itself counts them; how memory went
is told as it went."""

from __future__ import annotations

import mmap
import re
import subprocess
import sys

import pytest

from app.memory import ARENAS, few_arenas
from tests.bench.load import MEMORY_S, memory_figures
from tests.world import ROOT

COUNTING = """
import ctypes, sys, threading
from app.memory import few_arenas
if sys.argv[1] == "few":
    assert few_arenas()
meet = threading.Barrier(12)
def works():
    meet.wait()  # as many threads as are there at once
    held = [bytes(2_000) for _ in range(200)]
    meet.wait()
every = [threading.Thread(target=works) for _ in range(12)]
for one in every: one.start()
for one in every: one.join()
libc = ctypes.CDLL(None)
libc.fdopen.restype = ctypes.c_void_p
out = ctypes.c_void_p(libc.fdopen(1, b"w"))
libc.malloc_info(0, out)
libc.fflush(out)
"""
"""Twelve threads that hold 400 kB each at once, after which the library tells of its parts."""


def test_many_threads_share_few_parts() -> None:
    """By malloc_info(3) of glibc: as many parts as were said, where by itself it makes more. To
    another system nothing is said."""
    if sys.platform != "linux":
        assert not few_arenas()
        return

    def parts(word: str) -> int:
        command = [sys.executable, "-c", COUNTING, word]
        told = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
        return len(re.findall(r"<heap nr=", told.stdout))

    assert parts("few") <= ARENAS < parts("as it is")


FREEING = """
from app.memory import give_back
def pages():
    return int(open("/proc/self/statm").read().split()[1])
held = [bytes(2_000) for _ in range(30_000)]
full = pages()
held = held[::50]
before = pages()
assert give_back()
print(full, before, pages())
"""
"""Holds 60 MB in small pieces, lets go of all but each fiftieth of them, and gives back."""


def test_what_is_free_between_is_given_back() -> None:
    """Pages of the process by proc_pid_statm(5): what lies between pieces in use stays with the
    process until it is given back; then four fifths of it and more are gone."""
    command = [sys.executable, "-c", FREEING]
    told = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    full, before, after = map(int, told.stdout.split())
    lies_between = 0.96 * 60e6 / mmap.PAGESIZE
    assert full - before < 0.2 * lies_between
    assert before - after > 0.8 * lies_between


def test_a_rise_is_told_as_it_was() -> None:
    """Memory that rises by 3 MB in ten minutes, 2 MB up and down within each minute, after five
    minutes of loading: the line has that slope, its interval holds it, and it is told in percent
    of the mean. Arithmetic, no source."""
    seen = [
        (at, (250.0 if at < 300.0 else 400.0) + 3.0 * at / 600.0 + (2.0 if turn % 2 else -2.0))
        for turn, at in enumerate(MEMORY_S * number for number in range(120))
    ]
    mean, rise, half = (one.value for one in memory_figures(seen))
    assert mean == pytest.approx(400.0 + 3.0 * 1042.5 / 600.0)
    assert rise == pytest.approx(100.0 * 3.0 / mean)
    assert half < 0.01
    (ratio,) = memory_figures(seen[:24])
    assert ratio.value == pytest.approx(seen[23][1] / seen[8][1])
