"""Wiping rules: when a car gets only hood and windshield wiped; and dry sets put on by day.

A rule is written as terms joined by ``or`` and ``and`` (``and`` binds tighter):

==================  ========================================================================
``full``            every car wiped in full (stands alone)
``reduced``         every car wiped reduced, whatever was sold (stands alone)
``service``         every car but those sold the full wipe
``clock A-B,C-D``   cars whose hood meets the wheel in one of the windows
``band U-L``        from saturation U % on until it is down to L %
``class K,L``       cars of the named vehicle classes
``crew clock A-B``  the same windows, each edge carried out late by the crew's delay
``crew cars U-L``   from U cars counted in the last hour on until they are down to L
``crew strip U-L``  from U g that one strip weighs on until it is down to L g
==================  ========================================================================

The last three are what a crew can see, carried out as a crew does; see `sim.day.cues`. A car sold
the full wipe is wiped in full by every rule but ``reduced``.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Literal

from sim.day.cues import (
    CrewCars,
    CrewClock,
    CrewDay,
    CrewStrip,
    Watch,
    Watched,
    late_windows,
    read_watched,
)
from sim.errors import InputError, InputProblem, quoted
from sim.units import check_length, format_number, parse_clock, show_clock

LONGEST_RULE = 1_000
"""Characters of a written rule, and of the dry sets of a day."""


@dataclass(frozen=True, slots=True)
class Clock:
    """True inside any window [s after midnight, start included, end not]."""

    windows: tuple[tuple[float, float], ...]
    kind: Literal["clock"] = "clock"

    def text(self) -> str:
        """As the rule is written."""
        return "clock " + ",".join(f"{show_clock(a)}-{show_clock(b)}" for a, b in self.windows)

    def words(self) -> str:
        """As a page says it."""
        return " and ".join(f"{show_clock(a)}–{show_clock(b)}" for a, b in self.windows)


@dataclass(frozen=True, slots=True)
class Band:
    """True from saturation ≥ `upper` until ≤ `lower`; as before in between, false at first."""

    upper: float
    lower: float
    kind: Literal["band"] = "band"

    def text(self) -> str:
        """As the rule is written."""
        return f"band {format_number(100 * self.upper, 4)}-{format_number(100 * self.lower, 4)}"

    def words(self) -> str:
        """As a page says it."""
        upper, lower = format_number(100 * self.upper, 4), format_number(100 * self.lower, 4)
        return f"from {upper} % saturation down to {lower} %"


@dataclass(frozen=True, slots=True)
class Classes:
    """True for cars of the named vehicle classes."""

    keys: tuple[str, ...]
    kind: Literal["class"] = "class"

    def text(self) -> str:
        """As the rule is written."""
        return "class " + ",".join(self.keys)

    def words(self) -> str:
        """As a page says it."""
        return "for " + ", ".join(self.keys)


@dataclass(frozen=True, slots=True)
class Service:
    """True for every car; cars sold the full wipe are spared by the rule itself."""

    kind: Literal["service"] = "service"

    def text(self) -> str:
        """As the rule is written."""
        return "service"

    def words(self) -> str:
        """As a page says it."""
        return "for all but cars sold the full wipe"


Term = Clock | Band | Classes | Service | CrewClock | CrewCars | CrewStrip


@dataclass(frozen=True, slots=True)
class Rule:
    """A wiping rule.

    Attributes:
        either: a car is wiped reduced if all terms of any row are true; no row: never.
        everyone: also cars sold the full wipe are wiped reduced (the rule ``reduced``).
        text: as `parse_rule` reads it; follows from the rest.
    """

    either: tuple[tuple[Term, ...], ...] = ()
    everyone: bool = False
    text: str = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", self._text())

    def _text(self) -> str:
        if self.everyone:
            return "reduced"
        if not self.either:
            return "full"
        return " or ".join(" and ".join(term.text() for term in row) for row in self.either)

    def words(self) -> str:
        """The rule as a page says it."""
        if self.everyone:
            return "Always reduced"
        if not self.either:
            return "Always full"
        rows = (" and ".join(term.words() for term in row) for row in self.either)
        return "Reduced " + ", or ".join(rows)


FULL = Rule()
REDUCED = Rule(((Service(),),), everyone=True)


class RuleState:
    """A rule in use on one day; keeps what each band and each watched cue last decided."""

    def __init__(self, rule: Rule, class_keys: Collection[str], crew: CrewDay) -> None:
        self._rule = rule
        self._keys = list(class_keys)
        terms = [term for row in rule.either for term in row]
        self._on: dict[Band, bool] = {term: False for term in terms if isinstance(term, Band)}
        self._watches: dict[Watched, Watch] = {
            term: Watch(term, crew) for term in terms if isinstance(term, Watched)
        }
        self._late = {
            term: late_windows(term.windows, crew) for term in terms if isinstance(term, CrewClock)
        }

    def reduced(self, now_s: float, saturation: float, class_index: int, sold_full: bool) -> bool:
        """Whether the car whose hood now meets the wheel is wiped reduced.

        Bands and cues see every car, also those that another term decides.
        """
        for band in self._on:
            if saturation >= band.upper:
                self._on[band] = True
            elif saturation <= band.lower:
                self._on[band] = False
        for watch in self._watches.values():
            watch.see(now_s, saturation)
        if self._rule.everyone:
            return True
        if sold_full:
            return False
        key = self._keys[class_index]
        return any(all(self._true(term, now_s, key) for term in row) for row in self._rule.either)

    def _true(self, term: Term, now_s: float, key: str) -> bool:
        if isinstance(term, Clock):
            return any(start <= now_s < end for start, end in term.windows)
        if isinstance(term, CrewClock):
            return any(start <= now_s < end for start, end in self._late[term])
        if isinstance(term, Watched):
            return self._watches[term].reducing
        if isinstance(term, Band):
            return self._on[term]
        if isinstance(term, Classes):
            return key in term.keys
        return True


_BAND = re.compile(r"(\d+(?:\.\d+)?)\s*(?:%\s*)?[-–]\s*(\d+(?:\.\d+)?)\s*%?")
_KNOWN = (
    "full, reduced, service, clock 12:00-15:30, band 60-50, class van,pickup, "
    "crew clock 12:00-15:30, crew cars 118-95, crew strip 640-560"
)


def parse_rule(text: str, class_keys: Collection[str] | None = None, field: str = "rule") -> Rule:
    """The rule that a text states; vehicle classes are checked when `class_keys` is given.

    Raises:
        InputError: naming field, text and what can be written.
    """
    typed = " ".join(text[:LONGEST_RULE].split())
    try:
        check_length(text, LONGEST_RULE)
        if typed in ("", "full"):
            return FULL
        if typed == "reduced":
            return REDUCED
        rows = [
            tuple(_term(part, class_keys) for part in row.split(" and "))
            for row in typed.split(" or ")
        ]
    except ValueError as fault:
        sentence = "Wiping rule “{rule}”: {fault}."
        filling = {"rule": quoted(typed, 200), "fault": str(fault)}
        raise InputError([InputProblem(field, sentence, filling)]) from None
    return Rule(tuple(rows))


def _term(part: str, class_keys: Collection[str] | None) -> Term:
    word, _, rest = part.strip().partition(" ")
    if word == "service" and not rest:
        return Service()
    if word == "clock":
        return Clock(_windows(rest))
    if word == "band":
        return _band(rest)
    if word == "crew":
        cue, _, rest = rest.strip().partition(" ")
        return CrewClock(_windows(rest)) if cue == "clock" else read_watched(cue, rest)
    if word == "class":
        keys = tuple(key.strip() for key in rest.split(",") if key.strip())
        if not keys:
            raise ValueError("class needs at least one vehicle class, as in class van,pickup")
        for key in keys:
            if class_keys is not None and key not in class_keys:
                known = ", ".join(class_keys)
                raise ValueError(f"“{key}” is not a vehicle class here; use {known}")
        return Classes(keys)
    if word in ("full", "reduced"):
        raise ValueError(f"“{word}” stands alone")
    raise ValueError(f"“{part}” is not a rule; write {_KNOWN}, joined by and, or")


def _windows(text: str) -> tuple[tuple[float, float], ...]:
    windows = []
    for window in text.split(","):
        start_text, dash, end_text = window.replace("–", "-").partition("-")
        if not dash:
            raise ValueError("a clock window is written 12:00-15:30")
        start, end = parse_clock(start_text), parse_clock(end_text)
        if end <= start:
            raise ValueError(f"the window {window.strip()} ends before it begins")
        windows.append((start, end))
    for (_, end), (start, _) in itertools.pairwise(windows):
        if start < end:
            raise ValueError("clock windows must follow one another without overlap")
    return tuple(windows)


def _band(text: str) -> Band:
    match = _BAND.fullmatch(text.strip())
    if not match:
        raise ValueError("a band is written band 60-50, upper and lower saturation in %")
    upper, lower = float(match.group(1)) / 100, float(match.group(2)) / 100
    if not 0 <= lower < upper <= 1:
        raise ValueError("a band needs 0 to 100 %, the upper saturation first: band 60-50")
    return Band(upper, lower)


@dataclass(frozen=True, slots=True)
class SetChange:
    """A dry set put on before the next car from a time on, or at a saturation; once.

    Attributes:
        at_s: seconds after midnight; None when a saturation decides.
        at_saturation: 0 to 1; None when the clock decides.
    """

    at_s: float | None = None
    at_saturation: float | None = None

    def due(self, now_s: float, saturation: float) -> bool:
        """Whether the set is to be put on now."""
        if self.at_s is not None:
            return now_s >= self.at_s
        return self.at_saturation is not None and saturation >= self.at_saturation

    def words(self) -> str:
        """As a page says it."""
        if self.at_s is not None:
            return f"dry set at {show_clock(self.at_s)}"
        return f"dry set at {format_number(100 * (self.at_saturation or 0), 4)} % saturation"


def parse_changes(text: str, sets_owned: int, field: str = "cloth") -> tuple[SetChange, ...]:
    """Dry sets put on during the day, such as ``13:00`` or ``45 %; 16:00``.

    Raises:
        InputError: naming field, text and what would be right, also when more sets are asked
            for than the site owns beside the one on the wheel.
    """
    changes = []
    for part in (p.strip() for p in text.split(";") if p.strip()):
        try:
            check_length(text, LONGEST_RULE)
            if part.endswith("%"):
                share = float(part[:-1]) / 100
                if not 0 < share <= 1:
                    raise ValueError(f"“{part}” is not a saturation from 0 to 100 %")
                changes.append(SetChange(at_saturation=share))
            else:
                changes.append(SetChange(at_s=parse_clock(part)))
        except ValueError:
            sentence = "Dry set “{text}” is neither a time nor a saturation. Write 13:00 or 45 %."
            raise InputError([InputProblem(field, sentence, {"text": quoted(part)})]) from None
    if len(changes) > sets_owned - 1:
        sentence = (
            "{count} dry sets are planned, but with {owned} owned there are {spare} beside the "
            "one on the wheel."
        )
        filling = {"count": len(changes), "owned": sets_owned, "spare": sets_owned - 1}
        raise InputError([InputProblem(field, sentence, filling)])
    return tuple(changes)
