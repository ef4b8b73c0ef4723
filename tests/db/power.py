"""A disk that forgets what was not flushed: what SQLite writes is recorded, then played back as far
as a drawn moment, of what was not synced by then only drawn sectors.

SQLite's own way to the disk is a table of functions (https://www.sqlite.org/vfs.html, "The SQLite
OS Interface"); here its functions for writing, cutting and syncing are put behind recording ones.
What this can't show: a disk that says that it has flushed and has not.
"""

from __future__ import annotations

import _sqlite3
import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

SECTOR = 512
"""Bytes that a disk writes whole or not at all."""
_int, _ptr, _i64 = ctypes.c_int, ctypes.c_void_p, ctypes.c_int64
_WRITE = ctypes.CFUNCTYPE(_int, _ptr, _ptr, _int, _i64)
_TRUNCATE = ctypes.CFUNCTYPE(_int, _ptr, _i64)
_SYNC = ctypes.CFUNCTYPE(_int, _ptr, _int)
_OPEN = ctypes.CFUNCTYPE(_int, _ptr, _ptr, _ptr, _int, _ptr)


class _Methods(ctypes.Structure):
    """``sqlite3_io_methods``, version 3."""

    _fields_ = [
        ("version", _int), ("close", _ptr), ("read", _ptr), ("write", _WRITE),
        ("truncate", _TRUNCATE), ("sync", _SYNC), ("others", _ptr * 13),
    ]  # fmt: skip


class _File(ctypes.Structure):
    """``sqlite3_file``: where its functions are."""

    _fields_ = [("methods", ctypes.POINTER(_Methods))]


class _Vfs(ctypes.Structure):
    """``sqlite3_vfs``, version 3."""

    _fields_ = [
        ("version", _int), ("file_size", _int), ("longest_path", _int), ("next", _ptr),
        ("name", ctypes.c_char_p), ("data", _ptr), ("open", _OPEN), ("others", _ptr * 14),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that was done: ``write`` of bytes at a place, ``cut`` to a length, ``sync``; or
    ``said``, when a caller was told that something is stored."""

    what: str
    file: str = ""
    at: int = 0
    data: bytes = b""


@dataclass(slots=True)
class Recorded:
    """Everything that was done, in order."""

    acts: list[Act] = field(default_factory=list)

    def say(self, text: str) -> None:
        """Note that a caller was told."""
        self.acts.append(Act("said", data=text.encode()))

    def said(self, until: int) -> list[str]:
        """What callers had been told by a moment."""
        return [act.data.decode() for act in self.acts[:until] if act.what == "said"]

    def files(
        self, before: dict[str, bytes], until: int, rng: np.random.Generator
    ) -> dict[str, bytes]:
        """What the disk holds after power went at a moment.

        Args:
            before: the files as they were at first, synced.
            until: number of acts that were begun.
            rng: which sectors of what was not synced reached the disk.
        """
        held = {name: bytearray(data) for name, data in before.items()}
        waiting: dict[str, list[Act]] = {}
        for act in self.acts[:until]:
            if act.what == "sync":
                for one in waiting.pop(act.file, []):
                    _play(held.setdefault(act.file, bytearray()), one)
            elif act.what != "said":
                waiting.setdefault(act.file, []).append(act)
        for name, acts in waiting.items():
            for act in acts:
                for part in _sectors(act):
                    if rng.random() < 0.5:
                        _play(held.setdefault(name, bytearray()), part)
        return {name: bytes(data) for name, data in held.items()}


def _sectors(act: Act) -> list[Act]:
    """The parts of an act that reach the disk one by one."""
    if act.what == "cut":
        return [act]
    ends = range(0, len(act.data), SECTOR)
    return [Act("write", act.file, act.at + at, act.data[at : at + SECTOR]) for at in ends]


def _play(held: bytearray, act: Act) -> None:
    if act.what == "cut":
        del held[act.at :]
        return
    if len(held) < act.at:
        held.extend(bytes(act.at - len(held)))
    held[act.at : act.at + len(act.data)] = act.data


@contextmanager
def recording(folder: Path) -> Iterator[Recorded]:
    """Record what SQLite writes into files of a folder that it opens meanwhile; the shared memory
    of a journal is none of them, as no start relies on it."""
    library = ctypes.CDLL(_sqlite3.__file__)
    library.sqlite3_vfs_find.restype = ctypes.POINTER(_Vfs)
    usual = library.sqlite3_vfs_find(None)
    recorded = Recorded()
    # Whatever SQLite holds a pointer to must live as long as files are open.
    kept: list[_Methods] = []
    names: dict[int, str] = {}
    tables: dict[int, _Methods] = {}

    def patched(original: _Methods) -> _Methods:
        def write(file: int, data: int, size: int, at: int) -> int:
            recorded.acts.append(Act("write", names[file], at, ctypes.string_at(data, size)))
            return int(original.write(file, data, size, at))

        def truncate(file: int, size: int) -> int:
            recorded.acts.append(Act("cut", names[file], size))
            return int(original.truncate(file, size))

        def sync(file: int, flags: int) -> int:
            done = int(original.sync(file, flags))
            recorded.acts.append(Act("sync", names[file]))
            return done

        table = _Methods()
        ctypes.pointer(table)[0] = original
        table.write, table.truncate, table.sync = _WRITE(write), _TRUNCATE(truncate), _SYNC(sync)
        kept.append(table)
        return table

    def opened(vfs: int, name: int | None, file: int, flags: int, out: int) -> int:
        # The name goes on as the pointer that it is: SQLite reads on behind its end.
        done = int(usual.contents.open(ctypes.addressof(usual.contents), name, file, flags, out))
        path = Path(ctypes.string_at(name).decode()) if name else None
        if done == 0 and path is not None and path.parent == folder:
            one = ctypes.cast(file, ctypes.POINTER(_File)).contents
            names[file] = path.name
            key = ctypes.addressof(one.methods.contents)
            if key not in tables:
                original = _Methods()
                ctypes.pointer(original)[0] = one.methods.contents
                kept.append(original)
                tables[key] = patched(original)
            one.methods = ctypes.pointer(tables[key])
        return done

    mine = _Vfs()
    ctypes.pointer(mine)[0] = usual.contents
    mine.name, mine.open = b"recording", _OPEN(opened)
    library.sqlite3_vfs_register(ctypes.byref(mine), 1)
    try:
        yield recorded
    finally:
        library.sqlite3_vfs_unregister(ctypes.byref(mine))
        library.sqlite3_vfs_register(usual, 1)
