"""Loading what takes long to load."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import cast


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


def load_without(missing: str, name: str) -> None:
    """Load a module as though a library that it asks for, but does without, were not installed;
    where that library is loaded already, as it is.

    Not beside threads that may load the library, which would find it missing too.
    """
    if missing in sys.modules:
        import_module(name)
        return
    sys.modules[missing] = cast(ModuleType, None)  # the import system's own sign for that
    try:
        import_module(name)
    finally:
        del sys.modules[missing]
