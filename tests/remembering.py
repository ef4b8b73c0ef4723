"""What many tests begin from, worked out once a run of the suite for each question.

Worker processes share a folder: whoever asks first works it out, and the others wait for it.
"""

from __future__ import annotations

import fcntl
import hashlib
import inspect
import pickle
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, TypeVar

import pytest

Content = TypeVar("Content")

_known: dict[str, bytes] = {}
_folder: Path | None = None


def share(folder: Path | None) -> None:
    """Says where the processes of a run keep what they worked out; None: each for itself."""
    global _folder
    _folder = folder


def kept(question: object, work: Callable[[], Content]) -> Content:
    """What `work` gives, done once a run for whoever asks the same question.

    Each caller gets a copy of its own.

    Args:
        question: whatever the answer depends on; it is pickled.
    """
    key = hashlib.sha256(pickle.dumps(question)).hexdigest()
    if key not in _known:
        _known[key] = _done_once(key, work)
    found: Content = pickle.loads(_known[key])  # noqa: S301 - written by this run
    return found


def _done_once(key: str, work: Callable[[], object]) -> bytes:
    if _folder is None:
        return pickle.dumps(work())
    with (_folder / key).open("a+b") as file:
        fcntl.flock(file, fcntl.LOCK_EX)  # let go of as the file is closed
        file.seek(0)
        done = file.read()
        if not done:
            done = pickle.dumps(work())
            file.write(done)
        return done


def remember(patch: pytest.MonkeyPatch, where: Any, name: str, but: Collection[str] = ()) -> None:
    """While `patch` holds, a function is called only for arguments that it was not called for yet.

    For tests of what is done with an answer: another question is still answered by the product.

    Args:
        where, name: the module, or what else holds the function, and its name there.
        but: arguments that change no answer: who is told of steps, workers, memories.
    """
    inner = getattr(where, name)
    signature = inspect.signature(inner)

    def remembered(*args: Any, **more: Any) -> Any:
        given = signature.bind(*args, **more)
        asked = {key: value for key, value in given.arguments.items() if key not in but}
        return kept((inner.__module__, inner.__qualname__, asked), lambda: inner(*args, **more))

    patch.setattr(where, name, remembered)
