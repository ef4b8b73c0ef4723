"""Answers that many tests begin from, worked out once a run and process for each question."""

from __future__ import annotations

import copy
import inspect
import pickle
from collections.abc import Collection
from typing import Any

import pytest

_kept: dict[tuple[str, str, bytes], Any] = {}


def remember(patch: pytest.MonkeyPatch, where: Any, name: str, but: Collection[str] = ()) -> None:
    """While `patch` holds, a function is called only for arguments that it was not called for yet.

    For tests of what is done with an answer: another question is still answered by the product.
    Each caller gets a copy of its own.

    Args:
        where, name: the module, or what else holds the function, and its name there.
        but: arguments that change no answer: who is told of steps, workers, memories.
    """
    inner = getattr(where, name)
    signature = inspect.signature(inner)

    def remembered(*args: Any, **more: Any) -> Any:
        given = signature.bind(*args, **more)
        asked = {key: value for key, value in given.arguments.items() if key not in but}
        key = (inner.__module__, inner.__qualname__, pickle.dumps(asked))
        if key not in _kept:
            _kept[key] = inner(*args, **more)
        return copy.deepcopy(_kept[key])

    patch.setattr(where, name, remembered)
