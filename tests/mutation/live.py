"""Puts a changed module's code into the functions that are there already."""

from __future__ import annotations

import ast
import gc
import sys
from collections.abc import Collection, Iterator
from pathlib import Path
from types import CodeType, FunctionType

Key = tuple[str, int]
"""A function within its file: its qualified name and the line on which it begins."""

OURS = ("app", "sim", "tests")


class NotPlaced(Exception):
    """A fault whose function nothing holds, or can't hold: it shares other names with the one
    around it than before."""


def functions_of(paths: Collection[Path]) -> dict[Path, dict[Key, list[FunctionType]]]:
    """Every function that is there, by the file in which it was written."""
    found: dict[Path, dict[Key, list[FunctionType]]] = {path: {} for path in paths}
    names = {str(path): path for path in paths}
    gc.unfreeze()  # what is frozen is not among the objects
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename in names:
            inside = found[names[one.__code__.co_filename]]
            inside.setdefault(_key(one.__code__), []).append(one)
    gc.freeze()
    return found


def put(tree: ast.Module, path: Path, there: dict[Key, list[FunctionType]]) -> None:
    """Gives the functions of a file the code of a changed tree.

    Raises:
        NotPlaced: where none of them changes by it.
    """
    changed = False
    for code in _codes(compile(tree, str(path), "exec")):
        for function in there.get(_key(code), ()):
            if function.__code__ == code:
                continue
            if function.__code__.co_freevars != code.co_freevars:
                raise NotPlaced(f"{code.co_qualname} shares other names")
            function.__code__ = code
            changed = True
    if not changed:
        raise NotPlaced("no function that is there changes")


def renew(tree: ast.Module, path: Path, name: str) -> None:
    """Runs a changed module anew in its own place, and hands what it makes to all of the project
    that had taken it by its name: what happens while a module is imported can be tried so."""
    before = dict(vars(sys.modules[name]))
    exec(compile(tree, str(path), "exec"), vars(sys.modules[name]))  # noqa: S102 - our own source
    after = dict(vars(sys.modules[name]))
    for other in [one for at, one in sys.modules.items() if at.split(".")[0] in OURS]:
        for taken, value in list(vars(other).items()):
            if taken in before and value is before[taken] and value is not after[taken]:
                setattr(other, taken, after[taken])


def _key(code: CodeType) -> Key:
    return code.co_qualname, code.co_firstlineno


def _codes(code: CodeType) -> Iterator[CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from _codes(constant)
