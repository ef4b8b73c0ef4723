"""Where every random number of the suite comes from: one root seed and the name of the test."""

from __future__ import annotations

import hashlib

import numpy as np

ROOT_SEED = 20_260_718
"""Changing this changes every random number of the suite, and nothing else should."""


def seed_sequence(name: str) -> np.random.SeedSequence:
    """The seed sequence of `name`: the same for ever, unrelated to that of any other name."""
    digest = hashlib.sha256(name.encode()).digest()
    words = [int.from_bytes(digest[i : i + 4], "big") for i in range(0, 16, 4)]
    return np.random.SeedSequence(ROOT_SEED, spawn_key=words)


def generator(name: str) -> np.random.Generator:
    """A generator of its own for whatever is called `name`, such as the id of a test."""
    return np.random.Generator(np.random.PCG64(seed_sequence(name)))


def seed(name: str, index: int = 0) -> int:
    """A whole number from 0 to 2³¹ − 1 for code that takes a seed, one an `index`."""
    state = seed_sequence(f"{name}#{index}").generate_state(1)
    return int(state[0]) & 0x7FFF_FFFF
