"""One person fewer for some hours of a day: what the day becomes, and what that does.

Nothing is kept of who it is or why: only that a job has one fewer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.answers.change import WhatIfCache, try_on_day
from app.answers.planning import DayInputs
from app.answers.switching import with_one_more
from sim.decide.answer import Comparison
from sim.errors import InputProblem
from sim.inputs import Scenario, Site, Steps, fewer, value_at

LOADER, DRYER, ANYBODY = "loaders", "finishers", "people"
LEAST = {LOADER: 1.0, DRYER: 0.0, ANYBODY: 0.0}
"""Jobs of which one may be missing, by the input that counts them, and how many there are at
least: a line without a loader stands still, so somebody else loads."""


@dataclass(frozen=True, slots=True)
class Missing:
    """One fewer in a job between two times of day [s after midnight]."""

    job: str
    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class ShortHanded:
    """A day with one fewer.

    Attributes:
        base, scenario: the day as it was to be run, and as it is then.
        stands_in: whether at some time of the hours the job has nobody to spare, so that somebody
            else does it.
        found: the quick comparison of both; None where `problems` say why there is none.
    """

    missing: Missing
    base: Scenario
    scenario: Scenario
    stands_in: bool
    found: Comparison | None
    problems: tuple[InputProblem, ...] = ()


def jobs_of(site: Site) -> tuple[str, ...]:
    """Jobs of which one may be missing at a site: no finisher where it has none."""
    has_dryers = any(count > 0.0 for _at, count in site.crew.finishers)
    return (LOADER, DRYER, ANYBODY) if has_dryers else (LOADER, ANYBODY)


def has_none_to_spare(table: Steps, missing: Missing) -> bool:
    """Whether the job has no more than its least at some time of the hours."""
    inside = (start for start, _count in table if missing.from_s < start < missing.until_s)
    least = LEAST[missing.job]
    return any(value_at(table, at) - 1.0 < least for at in (missing.from_s, *inside))


def _tables(site: Site) -> dict[str, Steps]:
    crew = site.crew
    return {LOADER: site.pay.loaders, DRYER: crew.finishers, ANYBODY: crew.people}


def without_one(base: Scenario, site: Site, missing: Missing, name: str) -> Scenario:
    """A scenario with one fewer in a job, and so with one fewer on the line."""
    tables = _tables(site.with_values(base.changes))
    changes = {
        one: fewer(tables[one], missing.from_s, missing.until_s, LEAST[one])
        for one in sorted({ANYBODY, missing.job})
    }
    return replace(base, name=name, changes={**base.changes, **changes})


def short_handed(
    plan: DayInputs, base: Scenario, site: Site, missing: Missing, name: str, tries: WhatIfCache
) -> ShortHanded | None:
    """What one fewer does to a day that is run by a scenario; None for a day without a question."""
    scenario = without_one(base, site, missing, name)
    tried = try_on_day(plan, base, scenario, tries)
    if tried is None:
        return None
    stands_in = has_none_to_spare(_tables(site.with_values(base.changes))[missing.job], missing)
    return ShortHanded(missing, base, scenario, stands_in, *tried)


def with_short_handed(plan: DayInputs, one: Scenario) -> tuple[Scenario, ...] | None:
    """The plan's scenarios led by the day with one fewer, by which all else then goes; None where
    the plan is full."""
    return with_one_more(plan.scenarios, one, first=True)
