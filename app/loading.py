"""Loading what takes long to load."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def loading() -> Iterator[None]:
    """While modules are loaded nobody looks for garbage, and afterwards never again among what they
    hold: it is there for good."""
    before = len(sys.modules)
    gc.disable()
    try:
        yield
    finally:
        if len(sys.modules) > before:
            gc.freeze()
        gc.enable()
