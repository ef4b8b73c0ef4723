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
``crew hoods U-L``  from U damp hoods among the last twenty on until they are down to L
``crew strip U-L``  from U g that one strip weighs on until it is down to L g
==================  ========================================================================

A car sold the full wipe is wiped in full by every rule but ``reduced``.

The last four are cues that a crew can see, carried out as a crew does on one day. All but the
clock are *watched*: there is a reading, the cars whose hood met the wheel in the 60 minutes before
this car's, the damp hoods among the last twenty cars that passed the wheel, or the weight of one
strip. At the first car, and then at the first car after each interval of the site, the crew takes
the reading; a count of cars and a weight are each time off by a factor of their own, and of hoods
each is told wrongly, dry for damp or damp for dry, with the same small probability, and stays so.
While it wipes in full, a reading at or above the upper one decides to reduce; while it wipes
reduced, one at or below the lower one decides to go back. The k-th decision is carried out the k-th
delay later, from the first car on that comes then; until that is done, readings are taken and not
heeded.

A look takes its time of a person, once however many terms go by it. For a weighing the wheel is
locked out: in the gap before the car, if no car was at the wheel for as long, or before the day's
first; else, unless the wheel is locked out for a dry set anyway, the belt stands meanwhile with the
car's hood at the wheel.

A hood is damp that left the wheel with more than the allowed film, whatever its windshield; before
twenty cars have passed, there are fewer to look at.

An act comes some time after the cue was reached, and no act overtakes the one before it. The k-th
act of a cue has the k-th delay of the day, whatever the cue: rules stay paired in their crew.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import deque
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import ClassVar, Literal, NamedTuple

from sim.day.crew import CrewDay, Windows, late_windows
from sim.errors import InputError, InputProblem, quoted
from sim.units import check_length, format_number, parse_clock, show_clock

LONGEST_RULE = 1_000
"""Characters of a written rule, and of the dry sets of a day."""
HOUR_S = 3600.0
GRAMS = 1000.0
HOODS_SEEN = 20
"""So many hoods are looked at, those of the cars that passed the wheel last."""


# ---- terms: `text` as a rule is written, `words` as a page says it -------------------------------


@dataclass(frozen=True, slots=True)
class Clock:
    """True inside any window [s after midnight, start included, end not]."""

    windows: Windows
    kind: Literal["clock"] = "clock"

    def text(self) -> str:
        """As the rule is written."""
        return "clock " + _between(self.windows, "-", ",")

    def words(self) -> str:
        """As a page says it."""
        return _between(self.windows, "–", " and ")


@dataclass(frozen=True, slots=True)
class CrewClock:
    """Clock windows [s after midnight] as the crew carries them out; see the module."""

    windows: Windows
    kind: Literal["crew_clock"] = "crew_clock"

    def text(self) -> str:
        """As the rule is written."""
        return "crew clock " + _between(self.windows, "-", ",")

    def words(self) -> str:
        """As a page says it."""
        return _between(self.windows, "–", " and ") + " as the crew gets to it"


def _between(windows: Windows, dash: str, joined: str) -> str:
    return joined.join(f"{show_clock(start)}{dash}{show_clock(end)}" for start, end in windows)


class Reading(NamedTuple):
    """How limits are written and said: the word that they begin with, by what a reading is
    multiplied, its digits, and a sentence with gaps for both."""

    word: str
    times: float
    digits: int
    said: str


@dataclass(frozen=True, slots=True)
class Limits:
    """True from a reading of `upper` or more until one of `lower` or less; as before in between,
    false at first."""

    upper: float
    lower: float
    reading: ClassVar[Reading]

    def _shown(self) -> dict[str, str]:
        _word, times, digits, _said = self.reading
        ends = {"upper": self.upper, "lower": self.lower}
        return {name: format_number(times * end, digits) for name, end in ends.items()}

    def text(self) -> str:
        """As the rule is written."""
        return "{word} {upper}-{lower}".format(word=self.reading.word, **self._shown())

    def words(self) -> str:
        """As a page says it."""
        return self.reading.said.format(**self._shown())


@dataclass(frozen=True, slots=True)
class Band(Limits):
    """Limits of the saturation, 0 to 1, known at once."""

    kind: Literal["band"] = "band"
    reading = Reading("band", 100.0, 4, "from {upper} % saturation down to {lower} %")


@dataclass(frozen=True, slots=True)
class CrewCars(Limits):
    """Limits of the cars washed in the last hour, as the crew counts them; see the module."""

    kind: Literal["crew_cars"] = "crew_cars"
    reading = Reading(
        "crew cars", 1.0, 6, "from {upper} cars counted in the last hour down to {lower}"
    )


@dataclass(frozen=True, slots=True)
class CrewHoods(Limits):
    """Limits of the damp hoods among the last twenty, as the crew tells them; see the module."""

    kind: Literal["crew_hoods"] = "crew_hoods"
    reading = Reading(
        "crew hoods", 1.0, 6, "from {upper} damp hoods among the last twenty down to {lower}"
    )


@dataclass(frozen=True, slots=True)
class CrewStrip(Limits):
    """Limits of the weight of one strip [kg], written in grams, as the crew weighs it; see the
    module."""

    kind: Literal["crew_strip"] = "crew_strip"
    reading = Reading(
        "crew strip", GRAMS, 6, "from {upper} g that a strip weighs down to {lower} g"
    )


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


def look_takes_s(cue: Watched, crew: CrewDay) -> float:
    """Time of a person that a look takes [s]."""
    if isinstance(cue, CrewCars):
        return crew.count_takes_s
    return crew.hoods_take_s if isinstance(cue, CrewHoods) else crew.weighing_takes_s


Watched = CrewCars | CrewHoods | CrewStrip
Cue = CrewClock | CrewCars | CrewHoods | CrewStrip
Term = Clock | Band | Classes | Service | CrewClock | CrewCars | CrewHoods | CrewStrip


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
        rows = " or ".join(" and ".join(term.text() for term in row) for row in self.either)
        object.__setattr__(self, "text", "reduced" if self.everyone else rows or "full")

    @property
    def bands(self) -> list[Band]:
        """Its bands, which go by the saturation, known at once."""
        return [term for row in self.either for term in row if isinstance(term, Band)]

    @property
    def by_crew(self) -> bool:
        """Whether a crew can carry it out: nobody sees the saturation that a band goes by."""
        return not self.bands

    def words(self) -> str:
        """The rule as a page says it."""
        if self.everyone:
            return "Always reduced"
        if not self.either:
            return "Always full"
        rows = (" and ".join(term.words() for term in row) for row in self.either)
        return "Reduced " + ", or ".join(rows)


def stops_belt(rule: Rule, crew: CrewDay) -> bool:
    """Whether a rule may stop the belt for weighings."""
    terms = (term for row in rule.either for term in row)
    return crew.weighing_takes_s > 0.0 and any(isinstance(term, CrewStrip) for term in terms)


def watches(rule: Rule) -> bool:
    """Whether a rule goes by watched cues."""
    return any(isinstance(term, Watched) for row in rule.either for term in row)


FULL = Rule()
REDUCED = Rule(((Service(),),), everyone=True)


# ---- on one day ----------------------------------------------------------------------------------


class Watch:
    """A watched cue in use on one day."""

    def __init__(self, cue: Watched, crew: CrewDay) -> None:
        self._cue, self._crew = cue, crew
        self.reducing = False
        self._due_s = math.inf
        self._next_look_s = -math.inf
        self._looks = self._acts = 0
        self.looked = False
        self._hoods: deque[float] = deque()
        self._passed = 0
        self._told_damp: deque[bool] = deque(maxlen=HOODS_SEEN)

    def let_pass(self, hood_is_damp: bool) -> None:
        """A car has passed the wheel; its hood is told from the others once for all."""
        wrong = self._crew.hood_misjudged
        self._told_damp.append(hood_is_damp != bool(wrong[self._passed % len(wrong)]))
        self._passed += 1

    def see(self, now_s: float, saturation: float) -> None:
        """A car's hood meets the wheel; what that leads to holds for this car already."""
        while self._hoods and self._hoods[0] <= now_s - HOUR_S:
            self._hoods.popleft()
        self._act_if_due(now_s)
        self.looked = self.is_due(now_s)
        if self.looked:
            reading = self._look(now_s, saturation)
            if self._due_s == math.inf and self._is_reached(reading):
                delays = self._crew.delay_s
                self._due_s = now_s + float(delays[self._acts % len(delays)])
                self._acts += 1
                self._act_if_due(now_s)
        self._hoods.append(now_s)

    def is_due(self, now_s: float) -> bool:
        """Whether a car that comes now is one at which the crew looks."""
        return now_s >= self._next_look_s

    def _act_if_due(self, now_s: float) -> None:
        if self._due_s <= now_s:
            self.reducing = not self.reducing
            self._due_s = math.inf

    def _is_reached(self, reading: float) -> bool:
        return reading <= self._cue.lower if self.reducing else reading >= self._cue.upper

    def _look(self, now_s: float, saturation: float) -> float:
        crew, look = self._crew, self._looks
        self._looks += 1
        if isinstance(self._cue, CrewCars):
            self._next_look_s = now_s + crew.count_every_s
            return len(self._hoods) * float(crew.count_factor[look % len(crew.count_factor)])
        if isinstance(self._cue, CrewHoods):
            self._next_look_s = now_s + crew.hoods_every_s
            return float(sum(self._told_damp))
        self._next_look_s = now_s + crew.weigh_every_s
        off = float(crew.weigh_factor[look % len(crew.weigh_factor)])
        return crew.strip_dry_kg + crew.strip_holding_kg * saturation * off


class RuleState:
    """A rule in use on one day; keeps what each band and each watched cue last decided."""

    def __init__(self, rule: Rule, class_keys: Collection[str], crew: CrewDay) -> None:
        self._rule, self._crew = rule, crew
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

    def weighs(self, now_s: float) -> bool:
        """Whether a strip will be weighed at a car whose hood meets the wheel now."""
        return any(
            isinstance(cue, CrewStrip) and watch.is_due(now_s)
            for cue, watch in self._watches.items()
        )

    @property
    def looked_s(self) -> float:
        """Time of a person that looks at the last car took [s]."""
        looked = {type(cue): cue for cue, watch in self._watches.items() if watch.looked}
        return math.fsum(look_takes_s(cue, self._crew) for cue in looked.values())

    def let_pass(self, hood_is_damp: bool) -> None:
        """The car has been wiped; whether its hood left the wheel damp."""
        for watch in self._watches.values():
            watch.let_pass(hood_is_damp)

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


# ---- as they are typed ---------------------------------------------------------------------------

_BAND = re.compile(r"(\d+(?:\.\d+)?)\s*(?:%\s*)?[-–]\s*(\d+(?:\.\d+)?)\s*%?")
_KNOWN = (
    "full, reduced, service, clock 12:00-15:30, band 60-50, class van,pickup, "
    "crew clock 12:00-15:30, crew cars 118-95, crew hoods 6-2, crew strip 640-560"
)
_PAIR = re.compile(r"(\d+(?:\.\d+)?)\s*[-–]\s*(\d+(?:\.\d+)?)")


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
        return CrewClock(_windows(rest)) if cue == "clock" else _watched(cue, rest)
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


def _windows(text: str) -> Windows:
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


def _watched(word: str, rest: str) -> Watched:
    """The cue of a text such as ``cars 118-95``, split at its first word."""
    if word == "cars":
        upper, lower = _pair(rest, "crew cars 118-95, cars washed in the last hour")
        return CrewCars(upper, lower)
    if word == "strip":
        upper, lower = _pair(rest, "crew strip 640-560, weight of one strip in g")
        return CrewStrip(upper / GRAMS, lower / GRAMS)
    if word == "hoods":
        upper, lower = _pair(rest, "crew hoods 6-2, damp hoods among the last twenty")
        if upper > HOODS_SEEN:
            raise ValueError(f"of {HOODS_SEEN} hoods {format_number(upper)} can’t be damp")
        return CrewHoods(upper, lower)
    raise ValueError(
        "a cue is crew clock 12:00-15:30, crew cars 118-95, crew hoods 6-2 or crew strip 640-560"
    )


def _pair(text: str, example: str) -> tuple[float, float]:
    match = _PAIR.fullmatch(text.strip())
    if not match:
        raise ValueError(f"this cue is written {example}")
    upper, lower = float(match.group(1)), float(match.group(2))
    if not lower < upper:
        raise ValueError(f"the larger number comes first: {example}")
    return upper, lower


# ---- dry sets ------------------------------------------------------------------------------------


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
