"""The demo as it is brought in: the invented site, its unweighed twin, and the days that they have
planned."""

from __future__ import annotations

import uuid

from app.answers.answer import Desk
from app.answers.planning import DEFAULT_SCENARIOS, PLAN, PlanView
from app.db import store
from app.db.store import StoredSite
from app.sites.changes import Gate
from app.sites.demo import FAIR_BRINGS, demo_data, demo_days, standing_day, twin_data
from sim.inputs import Scenario, Site, Value, value_at

EARLIER = "{name}, kept from before {version}"


def fair_scenarios(site: Site) -> tuple[Scenario, ...]:
    """What the day of the street fair compares: the people of the exit are at the fair, and are
    missing on the line; or the site's own stay."""
    crew = site.crew
    starts = sorted({start for table in (crew.people, crew.finishers) for start, _count in table})
    left = tuple((at, value_at(crew.people, at) - value_at(crew.finishers, at)) for at in starts)
    gone: dict[str, Value] = {"people": left, "finishers": ((0.0, 0.0),)}
    window = "clock 10:00-17:00"
    return (
        Scenario("Nobody at the exit", "full", changes=gone),
        Scenario("Nobody there, reduced 10:00–17:00", window, changes=gone),
        Scenario("Somebody there, reduced 10:00–17:00", window),
    )


def bring_demo(gate: Gate) -> tuple[StoredSite, PlanView]:
    """Bring the demo site and its unweighed twin in where they are not there.

    What was entered at them since stays. A demo of an earlier version, whose year moved with the
    clock, stays as well, under a name that says so.

    Returns:
        The demo site, and its peak day's plan, whose comparison may still have to be computed.
    """
    data, session = demo_data(), gate.session
    earlier = store.find_site(session, data.site.name)
    if earlier is not None and earlier.data.stands_on is None:
        name = EARLIER.format(name=data.site.name, version=earlier.version)
        gate.set_inputs(
            earlier.id, {}, name=name, expected_version=earlier.version,
            request_key=uuid.uuid4().hex,
        )  # fmt: skip
    for one in (data, twin_data()):
        stored = store.find_site(session, one.site.name)
        site_id = gate.create_site(one, uuid.uuid4().hex).site_id if stored is None else stored.id
        _plan_days(gate, site_id, one.site)
    found = store.find_site(session, data.site.name)
    if found is None:
        raise LookupError(f"the demo site {data.site.name} was not stored")
    peak = standing_day(data)
    return found, Desk(session, found).open(PLAN, peak)


def _plan_days(gate: Gate, site_id: int, site: Site) -> None:
    """Store the plans that come with the demo, of the day on which it stands and of the fair,
    where a day has none."""
    days = demo_days()
    plans = (
        (days["humid_peak"], "", DEFAULT_SCENARIOS),
        (days["hands"], FAIR_BRINGS, fair_scenarios(site)),
    )
    for day, expect, scenarios in plans:
        if store.find_plan(gate.session, site_id, day) is None:
            gate.store_plan(site_id, day, expect, scenarios, 0, uuid.uuid4().hex)
