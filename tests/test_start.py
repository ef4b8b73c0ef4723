"""Starting: how many threads linear algebra has, and that loading leaves garbage collection on."""

from __future__ import annotations

import ctypes
import gc
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import scipy.linalg

from app.answers.studies.workers import Pool
from app.loading import loading
from app.settings import CHECKOUT

ASKED = (
    "scipy_openblas_get_num_threads64_", "scipy_openblas_get_num_threads",
    "openblas_get_num_threads64_", "openblas_get_num_threads",
)  # fmt: skip
"""What OpenBLAS says of its threads, under the names that NumPy and SciPy give it in their own
packages and those of a system's library."""


def threads() -> dict[str, int]:
    """Threads of each library of linear algebra that this process has loaded, by its file."""
    rng = np.random.default_rng(1)
    scipy.linalg.solve(rng.random((4, 4)), rng.random(4))
    lines = Path("/proc/self/maps").read_text(encoding="utf-8").splitlines()
    found: dict[str, int] = {}
    for path in sorted({line.split()[-1] for line in lines if "openblas" in line.lower()}):
        library = ctypes.CDLL(path)
        for name in ASKED:
            if hasattr(library, name):
                found[path] = int(getattr(library, name)())
    return found


def told(*before: str, **environment: str) -> dict[str, int]:
    """The same of a fresh process that runs some lines first."""
    code = "\n".join([*before, "from tests.test_start import threads", "print(threads())"])
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=CHECKOUT, env=os.environ | environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    found: dict[str, int] = eval(done.stdout)  # noqa: S307 - what `threads` printed
    return found


def test_linear_algebra_has_one_thread() -> None:
    """Whatever the environment says, a process of the app, a worker that it starts and this one of
    the tests compute with one thread; a process without the app would have taken what it was
    told."""
    assert set(threads().values()) == {1}
    many = {"OPENBLAS_NUM_THREADS": "2"}
    alone = told("import numpy, scipy.linalg", **many)
    assert len(alone) >= 1
    if (os.cpu_count() or 1) > 1:
        assert set(alone.values()) == {2}
    with_app = told("import app.main", **many)
    assert set(with_app.values()) == {1}
    pool = Pool(1)
    try:
        in_worker = pool.submit(threads).result(timeout=120)
    finally:
        pool.shutdown()
    assert set(in_worker.values()) == {1}
    assert len(in_worker) == len(with_app) == len(alone)


def test_loading_leaves_the_collector_on() -> None:
    """Garbage is not looked for while modules are loaded, and is again afterwards, even if loading
    fails; what was there already is not set aside."""
    held = gc.get_freeze_count()
    with loading():
        assert not gc.isenabled()
    assert gc.isenabled()
    assert gc.get_freeze_count() == held
    try:
        with loading():
            raise ImportError("planted")
    except ImportError:
        pass
    assert gc.isenabled()
