"""The demo site in the database, with a finished plan for its peak day."""

from __future__ import annotations

import dataclasses
import uuid
from datetime import date, timedelta

from app.answers.answer import Desk
from app.answers.planning import DEFAULT_SCENARIOS, PLAN, PlanView
from app.db import store
from app.db.session import Session
from app.db.store import StoredSite
from app.sites.changes import Gate
from app.sites.demo import demo_data, demo_days
from sim.inputs import ClothBook

STALE_AFTER = timedelta(days=7)


def prepare(session: Session, gate: Gate, today: date) -> tuple[StoredSite, PlanView]:
    """Bring the demo site in if it is not there, lay its year anew if it has grown old.

    What was entered at the demo site since stays; only its past is laid anew.

    Returns:
        The site, and its peak day's plan, whose comparison may still have to be computed.
    """
    data = demo_data(today)
    stored = store.find_site(session, data.site.name)
    if stored is None:
        gate.create_site(data, uuid.uuid4().hex)
    else:
        history = store.load_history(session, stored.id)
        last = max((row.day for row in history.counts), default=date.min)
        if not last < today <= last + STALE_AFTER:
            renewed = dataclasses.replace(stored.data, history=data.history)
            # a record of cloth that nobody touched moves with its days
            laid = demo_data(last + timedelta(days=1)).cloth if last > date.min else ClothBook()
            if stored.data.cloth in (laid, ClothBook()):
                renewed = dataclasses.replace(renewed, cloth=data.cloth)
            gate.replace_site(stored.id, renewed, stored.version, uuid.uuid4().hex)
    found = store.find_site(session, data.site.name)
    if found is None:
        raise LookupError(f"the demo site {data.site.name} was not stored")
    peak = demo_days(today)["humid_peak"]
    if store.find_plan(session, found.id, peak) is None:
        gate.store_plan(found.id, peak, "", DEFAULT_SCENARIOS, 0, uuid.uuid4().hex)
    return found, Desk(session, found).open(PLAN, peak)
