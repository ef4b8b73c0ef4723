"""Seeds of a day's streams, all at once.

They are those of the children that NumPy's `SeedSequence` spawns (O'Neill 2015, "Developing a
seed_seq alternative"), which it makes one by one; for a day's two dozen that takes longer than to
draw the cars. The children of a sequence differ in one word, so that all are mixed side by side.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.random.bit_generator import ISeedSequence
from numpy.typing import DTypeLike, NDArray

Words = NDArray[np.uint32]

POOL = 4
"""Words of entropy that are kept."""
TOLD, TOLD_BY = 0x43B0D7E5, 0x931E8875
"""What entropy is mixed with, and by what that grows from word to word; then of what is asked."""
ASKED, ASKED_BY = 0x8B51F9DD, 0x58F38DED
OF_POOL, OF_WORD = np.uint32(0xCA01F9DD), np.uint32(0x4973F715)
HALF = np.uint32(16)


class Seeded(ISeedSequence):
    """A seed for `PCG64` whose words are known."""

    __slots__ = ("_words",)

    def __init__(self, words: NDArray[np.uint64]) -> None:
        self._words = words

    def generate_state(self, n_words: int, dtype: DTypeLike = np.uint32) -> NDArray[Any]:
        """The four words of 64 bits that `PCG64` asks for.

        Raises:
            ValueError: for whoever asks for others.
        """
        if n_words != POOL or dtype is not np.uint64:
            raise ValueError(f"{n_words} words of {dtype} asked for, 4 of 64 bits known")
        return self._words


def spawned(seed: tuple[int, ...], count: int) -> NDArray[np.uint64]:
    """Four words for each child of a sequence, enough for `PCG64`; shape (count, 4)."""
    words = sum(max(1, -(-number.bit_length() // 32)) for number in seed)
    pool = np.random.SeedSequence(seed).pool * OF_POOL - _children(words, count)
    pool ^= pool >> HALF
    return _hashed(np.hstack([pool, pool]), _STATE).view(np.uint64)


def _growing(first: int, factor: int, begin: int, count: int) -> Words:
    """Numbers from a place on of the sequence that begins with one and grows by a factor."""
    return np.array(
        [first * pow(factor, at, 1 << 32) % (1 << 32) for at in range(begin, begin + count)],
        np.uint32,
    )


def _hashed(words: Words, mixed: Words) -> Words:
    found = (words ^ mixed[:-1]) * mixed[1:]
    return found ^ (found >> HALF)


_STATE = _growing(ASKED, ASKED_BY, 0, 2 * POOL + 1)


@lru_cache(maxsize=16)
def _children(words: int, count: int) -> Words:
    """The children's own words as they go into each word of a pool of so much entropy."""
    # the pool is filled, each of its words mixed into the others, and what is beyond it into all
    done = POOL * POOL + POOL * max(0, words - POOL)
    own = np.arange(count, dtype=np.uint32)[:, np.newaxis]
    return _hashed(own, _growing(TOLD, TOLD_BY, done, POOL + 1)) * OF_WORD
