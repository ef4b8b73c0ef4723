"""Who is needed on a day and a week's roster: what was found out, as it is stored and told."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from sim.decide.firm import Standing
from sim.decide.switching.at_exit import MoreHands
from sim.inputs import PlannedShift, Steps
from sim.inputs.people import Role

Bound = Literal["", "opening", "loading", "drying", "use", "fewest"]
"""What asks for so many people in a half-hour: opening or closing work, the loaders and nobody
else, these and who only dries damp cars, work at the target use, the fewest people while open;
empty where nobody is needed."""
Rule = Literal[
    "cover", "away", "skill", "longest", "most_hours", "least_hours", "days_off", "rest", "weekend"
]
"""What a roster must keep to: people at work, when somebody can't work, people with a skill, the
longest shift, which only a hand can break, most and least hours of a person, days of work a week,
rest between shifts, weekend days in two weeks."""
STAFF_SCHEMA = "clothcast.staff/8"
ROSTER_SCHEMA = "clothcast.roster/5"


@dataclass(frozen=True, slots=True)
class MeanDifference:
    """A mean difference over days and half its 95 % interval."""

    mean: float
    half: float


@dataclass(frozen=True, slots=True)
class Differences:
    """Of what 9 cars in 10 of a day wait at most [s], of its cars lost, of its margin [money]."""

    wait_p90_s: MeanDifference
    cars_lost: MeanDifference
    margin: MeanDifference


@dataclass(frozen=True, slots=True)
class Effect:
    """One person more or fewer in a clock hour.

    Attributes:
        change: 1 or −1.
        loads: whether it changes the loaders and so the line; else cars see no difference in the
            model, only the work is shared by another number.
        use: share of their time that work then takes in the busier half-hour, see
            `sim.decide.staff.measure.Crewed.use`; None with nobody there for it.
        wait_p90_s, cars_lost, margin: the day's, against the plan as it is.
    """

    hour: int
    change: int
    loads: bool
    use: float | None
    wait_p90_s: MeanDifference
    cars_lost: MeanDifference
    margin: MeanDifference


@dataclass(frozen=True, slots=True)
class LostAtMost:
    """Upper ends of cars lost a day: with the people needed, with most loaders, on fresh days."""

    needed: float
    most_loaders: float
    fresh: float


@dataclass(frozen=True, slots=True)
class Targets:
    """What the site asks for, and what of it can't be had.

    Attributes:
        wait_p90_s, lost_cars, full_share, use, min_crew: the site's own targets.
        lost_reached: whether that of lost cars is met with most loaders.
        unreached: half-hours whose targets of wait and stack most loaders don't meet.
        fresh_missed: half-hours that could not be shown to meet what can be met on fresh days.
    """

    wait_p90_s: float
    lost_cars: float
    full_share: float
    use: float
    min_crew: int
    lost_reached: bool
    lost_at_most: LostAtMost
    unreached: tuple[int, ...]
    fresh_missed: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Margins:
    """By how much the targets of a half-hour are met: of late cars and a full stack on fresh days,
    of use on the days of the search; None where there is nothing to judge."""

    late_cars: float | None
    full_share: float | None
    use: float | None


@dataclass(frozen=True, slots=True)
class HalfHour:
    """A half-hour with the people needed and with those planned.

    Attributes:
        start_h: its beginning [h after midnight].
        people, planned: needed and planned, of all roles; roles: of those needed.
        why: what asks for that many.
        formula_people, formula_loaders, formula_mean_wait_s: what formulas said before anything
            was simulated; None for a wait where the line would grow for ever.
        offered_load: of the line with one loader [erlangs].
        arrived, lost: cars of a day, mean.
        late_share, chain_late_share: cars washed that waited longer than allowed, simulated and by
            the queue's differential equations.
        full_share: of the time the stack was full.
        use: share of their time that work takes of the people needed.
    """

    start_h: float
    people: int
    planned: int
    roles: dict[Role, int]
    why: Bound
    formula_people: int
    formula_loaders: int
    formula_mean_wait_s: float | None
    offered_load: float
    arrived: float
    late_share: float
    chain_late_share: float
    lost: float
    full_share: float
    use: float | None
    margins: Margins


@dataclass(frozen=True, slots=True)
class Timetables:
    """What can be entered at the site to plan just so."""

    people: Steps
    loaders: Steps
    finishers: Steps


@dataclass(frozen=True, slots=True)
class StaffedDay:
    """The day with so many people, means over the simulated days.

    Attributes:
        people_hours, cost: of the people in whole half-hours, opening and closing work among them,
            and their wages [h, money].
        per_car: of those wages; None where no car was washed.
        costs: items of the day's cost by name (`sim.day.figures`) [money]; cost_of_day: their sum.
    """

    people_hours: float
    cost: float
    per_car: float | None
    wait_p90_s: float
    wait_mean_s: float
    cars_lost: float
    cars_washed: float
    margin: float
    left_damp: float
    overtime_minutes: float
    costs: dict[str, float]
    cost_of_day: float


@dataclass(frozen=True, slots=True)
class RuleWork:
    """What a wiping rule makes of the work, with the same loaders; all of a day, means.

    Attributes:
        extra_hours: of reduced wipes and towels [h]; work_hours: by role [h].
        people_hours: of the people then needed [h].
    """

    text: str
    left_damp: float
    extra_hours: float
    work_hours: dict[Role, float]
    people_hours: float


@dataclass(frozen=True, slots=True)
class StaffAnswer:
    """Who is needed on a day.

    Attributes:
        origin: what the expected day rests on, in words.
        days: simulated days that it was settled on, and as many fresh ones that it was tried on.
        rule: the plan's, in text.
        half_hours: those in which somebody is needed or planned.
        roles, people, planned: by half-hour from midnight; shape (48,) each.
        called: what the site calls each role.
        hands: people more than planned who only dry damp cars, because they pay.
        needed, present: the day with the people needed, and with those planned.
        present_difference: of those planned against those needed.
        effects: two an hour, one more and one fewer.
        rules: that of the plan first, then always full and always reduced.
        standing: how the day with the people needed stands against that with those planned, over
            drawn sites; None where none was drawn. weighed: kinds of weighing these were drawn by.
        rough: whether it is a first form, settled on few days, without `effects` and `standing`.
    """

    schema: str = field(default=STAFF_SCHEMA, kw_only=True)
    day: date
    origin: str
    libraries: dict[str, str]
    seed: int
    days: int
    rule: str
    targets: Targets
    half_hours: tuple[HalfHour, ...]
    roles: dict[Role, tuple[int, ...]]
    called: dict[Role, str]
    hands: MoreHands
    people: tuple[int, ...]
    planned: tuple[int, ...]
    timetables: Timetables
    needed: StaffedDay
    present: StaffedDay
    present_difference: Differences
    effects: tuple[Effect, ...]
    rules: tuple[RuleWork, ...]
    standing: Standing | None = None
    weighed: tuple[str, ...] = ()
    rough: bool = False


# ---- a week's roster -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule broken.

    Attributes:
        name: by whom; empty for cover and skills.
        weekday: Monday 0; -1 for the week as a whole.
        amount: in hours for cover, skills and hours of a person, else a count.
        skills: of which too few are there.
    """

    rule: Rule
    name: str
    weekday: int
    amount: float
    skills: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WayOut:
    """A roster that breaks some rules: which, and its shifts.

    Attributes:
        price: of what is broken, see `sim.decide.staff.program.PRICES`.
        least: whether it is proved that nothing less than this, by the same rules, is enough.
    """

    breaches: tuple[Breach, ...]
    shifts: tuple[PlannedShift, ...]
    price: float
    least: bool


@dataclass(frozen=True, slots=True)
class Conflict:
    """Why there is no roster.

    Attributes:
        rules: rules that can't all be met.
        days: weekdays whose cover, or skills, are part of it.
        ways: ways out, the least unwelcome first; then by one rule each, where that is enough.
        minimal: whether it is proved that none of the rules can be spared.
    """

    rules: tuple[Rule, ...]
    days: tuple[int, ...]
    ways: tuple[WayOut, ...]
    minimal: bool = True


@dataclass(frozen=True, slots=True)
class Roster:
    """A week's roster that meets every rule.

    Attributes:
        cost: wages with overtime [money]; cost_by_day: without it, Monday first.
        lp_bound: no roster can cost less, by the program without whole numbers [money].
        bound: the best bound known, at least `lp_bound` [money].
        kept: shifts of last week that stay as they were, in start and end; last_week: of so many.
    """

    cost: float
    lp_bound: float
    bound: float
    kept: int
    last_week: int
    cost_by_day: tuple[float, ...]
    shifts: tuple[PlannedShift, ...]

    @property
    def gap(self) -> float:
        """Share of the cost that lies above the best bound."""
        return max(0.0, self.cost - self.bound) / self.cost if self.cost > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class RosterAnswer:
    """A week's roster, or why there is none; neither where none was found in time, and it is not
    proved that there is none. `coarse`: it breaks no rule, but a better one is looked for."""

    schema: str = field(default=ROSTER_SCHEMA, kw_only=True)
    coarse: bool = field(default=False, kw_only=True)
    monday: date
    roster: Roster | None
    conflict: Conflict | None
