"""What is told of the rest of a day."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Act:
    """What to do now, and next.

    Attributes:
        word: one of the words of an advice in the log.
        at_s: when [s after midnight]; None for right now, and for staying.
        reduced: whether cars are wiped reduced until then.
        until_s: when it is switched again after that [s]; None for not at all.
    """

    word: str
    at_s: float | None
    reduced: bool
    until_s: float | None = None


@dataclass(frozen=True, slots=True)
class Course:
    """One way of going on until closing, as the day so far leads to expect it.

    Attributes:
        act: what it begins with.
        rule: the whole day's wiping rule, as it is written; what was switched so far is in it.
        cost: of the whole day, expected [money].
        damp: cars that leave damp from now on, expected.
        full: cars fully wiped on the whole day, expected.
    """

    act: Act
    rule: str
    cost: float
    damp: float
    full: float


@dataclass(frozen=True, slots=True)
class WouldChange:
    """A look at the next hoods that would change the advice.

    Attributes:
        damp, of: so many damp ones of so many or, with `at_least` false, so few.
        usual: as many damp ones are expected.
        chance: of that many or more (or fewer).
        word: of the act that would then be advised; at_s: when [s after midnight], None for now.
    """

    damp: int
    of: int
    at_least: bool
    usual: float
    chance: float
    word: str
    at_s: float | None


@dataclass(frozen=True, slots=True)
class NowAnswer:
    """What to do with the rest of a day.

    Attributes:
        now_s: as of when [s after midnight].
        told: what to do; planned: going on by the plan's rule; other: the best that does otherwise
            right now.
        by_plan: whether it is the plan's rule.
        by_clock: whether the plan's rule goes by the clock alone; else the crew goes by what it
            sees, and the act says how cars are wiped now.
        saves, saves_error: cost of the plan's rule less that of what is told, paired, and the
            standard error of that [money].
        spares, spares_error: the same in cars leaving damp.
        beats: cost of the other less that of what is told [money]; spares_of_other: cars damp.
        chance: that the day comes out so that the other would not have been better by what matters.
        draws, effective: drawn sites with a day each that were followed, and as how many equal
            ones they count after what was counted and seen (Kish).
        widened: whether they were so few that what was seen was given less weight.
        damp_share: of the last hoods until now, expected by the followed sites.
        cars_scale: cars washed so far beside those that were expected; None without a count.
        washed: cars washed until the last count; counted_s: when that was [s]. None without one.
        looks, strips: how many there were.
        cars_left: cars expected to be washed from now on.
        felt_s: when the air was felt last [s]; None: it is as was expected.
        missing: people fewer than planned, as far as noted.
        stands_until_s: until when the belt is taken to stand [s]; None where it runs.
        changes: a look that would change it; None if none would.
        last_s: of the last entry that told anything [s]; None without one.
    """

    now_s: float
    told: Course
    planned: Course
    other: Course
    by_plan: bool
    by_clock: bool
    saves: float
    saves_error: float
    spares: float
    spares_error: float
    beats: float
    spares_of_other: float
    chance: float
    draws: int
    effective: float
    widened: bool
    damp_share: float
    cars_scale: float | None
    washed: int | None
    counted_s: float | None
    looks: int
    strips: int
    cars_left: float
    felt_s: float | None
    missing: int
    stands_until_s: float | None
    changes: WouldChange | None
    last_s: float | None


STALE_S = 7_200.0
"""After so long without an entry the answer is a guess [s]."""
