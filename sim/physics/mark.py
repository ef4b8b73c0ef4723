"""The mark of functions that the compiled day calls too; in plain Python it changes nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from types import CodeType, ModuleType
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., Any])
_marked: list[Callable[..., Any]] = []
_inlined: set[Callable[..., Any]] = set()


def compiled(function: F) -> F:
    """Mark a scalar function so that compiled code can call it; it stays plain for Python."""
    _marked.append(function)
    return function


def inlined(function: F) -> F:
    """As `compiled`, and put into the code of whoever calls it: for short functions of many arrays.

    Handing over an array takes seven numbers; handing over a table of twenty takes longer than
    most of these functions do.
    """
    _marked.append(function)
    _inlined.add(function)
    return function


def marked() -> Iterator[tuple[Callable[..., Any], bool]]:
    """Every function marked so far, and whether it is to be inlined."""
    return ((function, function in _inlined) for function in _marked)


def fingerprint() -> str:
    """Hash of the code of every function marked so far, named constants included.

    Compiled code that is kept on disk knows only its own file; with this it also knows whether
    anything that it was compiled from has changed.
    """
    total = hashlib.sha256()
    for function in _marked:
        total.update(f"{function.__module__}.{function.__qualname__}".encode())
        _add_code(total, function.__code__)
        named = {name: function.__globals__.get(name) for name in function.__code__.co_names}
        spaces = [vars(value) for value in named.values() if isinstance(value, ModuleType)]
        for name in sorted(named):
            for value in (named[name], *(space.get(name) for space in spaces)):
                if isinstance(value, bool | int | float):
                    total.update(f"{name}={value!r}".encode())
    return total.hexdigest()[:16]


def _add_code(total: hashlib._Hash, code: CodeType) -> None:
    total.update(code.co_code)
    total.update(repr((code.co_names, code.co_varnames)).encode())
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            _add_code(total, constant)
        else:
            total.update(repr(constant).encode())
