"""The demo as it is brought in: the invented site, its unweighed twin, and its day to look at."""

from __future__ import annotations

import uuid

from app.answers.answer import Desk
from app.answers.planning import DEFAULT_SCENARIOS, PLAN, PlanView
from app.db import store
from app.db.store import StoredSite
from app.sites.changes import Gate
from app.sites.demo import demo_data, standing_day, twin_data

EARLIER = "{name}, kept from before {version}"


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
        if store.find_site(session, one.site.name) is None:
            gate.create_site(one, uuid.uuid4().hex)
    found = store.find_site(session, data.site.name)
    if found is None:
        raise LookupError(f"the demo site {data.site.name} was not stored")
    peak = standing_day(data)
    if store.find_plan(session, found.id, peak) is None:
        gate.store_plan(found.id, peak, "", DEFAULT_SCENARIOS, 0, uuid.uuid4().hex)
    return found, Desk(session, found).open(PLAN, peak)
