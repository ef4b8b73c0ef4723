"""Whether a regular expression can take a text apart in more ways than its length.

A backtracking matcher tries them all when in the end nothing fits. By Weber and Seidl ("On the
degree of ambiguity of finite automata", Theoretical Computer Science 88, 1991) the ways grow at
least with the length if and only if there are states p and q and a text w with paths p→p, p→q
and q→q that all read w (p ≠ q), and without bound at all if a state returns to itself by two
paths that read the same. The automaton is that of positions (Glushkov 1961); a search adds a state
before it that reads anything. Repeats with a bound are as good as a few.
"""

from __future__ import annotations

import importlib
import re
import string
from collections import Counter, deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

op: Any = importlib.import_module("re._constants")
parser: Any = importlib.import_module("re._parser")
"""The parser of the library itself, which has no public name."""
SAMPLES = (*string.printable, "é", "٣", "\u00a0", "“", "\u2212", "–", "°")
ANYTHING, START = 0, -1
WHOLE, FROM_START, ANYWHERE = "whole", "from the start", "anywhere"
MODES = {
    "fullmatch": WHOLE, "match": FROM_START, "search": ANYWHERE, "findall": ANYWHERE,
    "finditer": ANYWHERE, "split": ANYWHERE, "sub": ANYWHERE, "subn": ANYWHERE,
}  # fmt: skip


@dataclass
class Part:
    """A piece of a pattern: where it can begin and end, how often each in so many ways."""

    first: Counter[int] = field(default_factory=Counter)
    last: Counter[int] = field(default_factory=Counter)
    empty: int = 1


class Positions:
    """The automaton of a pattern: what each position reads, and what may follow it."""

    def __init__(self, pattern: str, flags: int, mode: str) -> None:
        self.reads: dict[int, frozenset[str]] = {}
        self.next: dict[int, Counter[int]] = {}
        self.flags = flags
        self.ends_at_end = mode == WHOLE
        self.begins_at_start = mode != ANYWHERE
        tree = parser.parse(pattern, flags)
        whole = self._sequence(list(tree))
        self.next[START] = whole.first
        ends = set(whole.last)
        if not self.begins_at_start:
            self.reads[ANYTHING] = frozenset(SAMPLES)
            self.next[ANYTHING] = Counter({ANYTHING: 1}) + whole.first
        if not self.ends_at_end:  # whoever may end here has matched, and nothing is tried again
            for position in ends:
                del self.reads[position], self.next[position]
            for follow in self.next.values():
                for position in ends:
                    follow.pop(position, None)

    def _new(self, reads: frozenset[str]) -> Part:
        number = len(self.reads) + 1
        self.reads[number], self.next[number] = reads, Counter()
        return Part(Counter({number: 1}), Counter({number: 1}), 0)

    def _sequence(self, items: list[Any]) -> Part:
        whole = Part()
        for item in items:
            whole = self._joined(whole, self._part(*item))
        return whole

    def _joined(self, one: Part, two: Part) -> Part:
        for position in one.last:
            self.next[position] += two.first
        first = one.first + Counter({k: n * one.empty for k, n in two.first.items()})
        last = two.last + Counter({k: n * two.empty for k, n in one.last.items()})
        return Part(+first, +last, one.empty * two.empty)

    def _part(self, code: Any, given: Any) -> Part:
        if code in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            low, high, items = given
            whole = Part()
            for _ in range(min(low, 2)):
                whole = self._joined(whole, self._sequence(list(items)))
            if high != low:
                more = self._sequence(list(items))
                if high == op.MAXREPEAT:
                    for position in more.last:
                        self.next[position] += more.first
                more.empty += 1
                whole = self._joined(whole, more)
            return whole
        if code is op.SUBPATTERN:
            return self._sequence(list(given[-1]))
        if code is op.BRANCH:
            whole = Part(empty=0)
            for branch in given[1]:
                part = self._sequence(list(branch))
                whole = Part(
                    whole.first + part.first, whole.last + part.last, whole.empty + part.empty
                )
            return whole
        if code is op.AT:
            self.ends_at_end |= given in (op.AT_END, op.AT_END_STRING)
            self.begins_at_start |= given in (op.AT_BEGINNING, op.AT_BEGINNING_STRING)
            return Part()
        if code in (op.ASSERT, op.ASSERT_NOT):
            return Part()
        return self._new(frozenset(c for c in SAMPLES if self._takes(code, given, c)))

    def _takes(self, code: Any, given: Any, char: str) -> bool:
        cases = {char, char.lower(), char.upper()} if self.flags & re.IGNORECASE else {char}
        if code is op.LITERAL:
            return chr(given) in cases
        if code is op.NOT_LITERAL:
            return chr(given) not in cases
        if code is op.ANY:
            return char != "\n" or bool(self.flags & re.DOTALL)
        if code is op.RANGE:
            return any(given[0] <= ord(c) <= given[1] for c in cases if len(c) == 1)
        if code is op.CATEGORY:
            return _in_category(given, char)
        if code is op.IN:
            negated = given[0][0] is op.NEGATE
            inside = any(self._takes(code, what, char) for code, what in given[int(negated) :])
            return bool(inside != negated)
        raise ValueError(f"a pattern with {code} is not judged here; write it without")


def _in_category(name: Any, char: str) -> bool:
    is_so = {
        op.CATEGORY_DIGIT: char.isdecimal(),
        op.CATEGORY_SPACE: char.isspace(),
        op.CATEGORY_WORD: char.isalnum() or char == "_",
    }
    return is_so[name] if name in is_so else not is_so[getattr(op, name.name.replace("NOT_", ""))]


def _steps(automaton: Positions, places: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Where several walkers can stand after one more letter that all of them read."""

    def walk(
        left: tuple[int, ...], chosen: tuple[int, ...], letters: frozenset[str]
    ) -> Iterator[tuple[int, ...]]:
        if not left:
            yield chosen
            return
        for place in automaton.next[left[0]]:
            both = letters & automaton.reads[place]
            if both:
                yield from walk(left[1:], (*chosen, place), both)

    yield from walk(places, (), frozenset(SAMPLES))


def _reaches(automaton: Positions, start: tuple[int, ...], goal: tuple[int, ...]) -> bool:
    seen, waiting = {start}, deque([start])
    while waiting:
        for place in _steps(automaton, waiting.popleft()):
            if place == goal:
                return True
            if place not in seen:
                seen.add(place)
                waiting.append(place)
    return False


def why_not_linear(pattern: str, flags: int, method: str) -> str:
    """How a text can be taken apart in too many ways; empty if there is no such text.

    Args:
        method: how the pattern is used: ``match``, ``fullmatch``, ``search``, ``sub`` and so on.
    """
    automaton = Positions(pattern, flags, MODES[method])
    loops = [p for p in automaton.reads if _reaches(automaton, (p,), (p,))]
    for p in loops:
        for follow, ways in automaton.next[p].items():
            if ways > 1 and _reaches(automaton, (follow,), (p,)):
                return f"position {p} is followed by {follow} in {ways} ways, again and again"
        for here in set(_steps(automaton, (p, p))):
            if here[0] != here[1] and _reaches(automaton, here, (p, p)):
                return f"position {p} comes back to itself by two ways"
        for q in loops:
            if p != q and _reaches(automaton, (p, p, q), (p, q, q)):
                return f"positions {p} and {q} take the same letters after one another"
    return ""
