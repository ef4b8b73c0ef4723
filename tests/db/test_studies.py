"""Studies and answers as they lie in the database: what is let go."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from sqlalchemy import text

from app.db import store, studies, writes
from app.db.session import begin_write, open_database
from app.sites.changes import Gate
from sim.inputs import Site, SiteData

NOW = datetime(2026, 7, 15, 12, tzinfo=UTC)
DAY = date(2026, 7, 18)


def test_old_studies_are_let_go_but_open_ones_stay() -> None:
    """Of a site's studies the newest are kept, and every one that has not come to an end."""
    database = open_database(None)
    with database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        site_id = gate.create_site(SiteData(Site("Mill Lane")), "one").site_id
        begin_write(session)
        for number in range(writes.KEPT_STUDIES + 20):
            key, at = f"k{number:03}", NOW + timedelta(minutes=number)
            writes.ask_study(
                session, key, kind="plan", site_id=site_id, day=DAY, person_id=1, at=at, total=4
            )
            if number != 3:
                writes.end_open_study(session, key, "cancelled", None)
        session.commit()
        kept = [study.key for study in studies.list_studies(session, site_id, 1_000)]
    newest = [f"k{number:03}" for number in range(writes.KEPT_STUDIES + 19, 19, -1)]
    assert kept == [*newest, "k003"]
    database.close()


def test_what_a_kind_takes_is_the_median_of_its_last_few() -> None:
    """Of the newest studies that are done; stopped ones, other kinds and older ones don't count."""
    database = open_database(None)
    with database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        site_id = gate.create_site(SiteData(Site("Mill Lane")), "one").site_id
        begin_write(session)
        took = [90.0, 3.0, 2.0, 9.0, 4.0, 5.0]
        rows = [("maps", spent, "done") for spent in took]
        for number, (kind, spent, state) in enumerate(
            [*rows, ("maps", 70.0, "failed"), ("plan", 80.0, "done")]
        ):
            key, at = f"k{number}", NOW + timedelta(minutes=number)
            writes.ask_study(
                session, key, kind=kind, site_id=site_id, day=DAY, person_id=1, at=at, total=4
            )
            assert writes.claim_study(session, key, "me", NOW)
            assert writes.beat_study(session, key, "me", done=1, spent_s=spent, now=NOW)
            writes.end_held_study(session, key, "me", state)
        assert studies.usual_spent(session, "maps") == 4.0
        assert studies.usual_spent(session, "switch") is None
    database.close()


def test_stopping_is_told_in_the_history_and_changes_no_site() -> None:
    """Who stopped a study is kept; the site's own history and version do not know of it."""
    database = open_database(None)
    with database.session() as session:
        gate = Gate(session, store.built_in_person(session), NOW)
        site_id = gate.create_site(SiteData(Site("Mill Lane")), "one").site_id
        begin_write(session)
        writes.ask_study(
            session, "k", kind="plan", site_id=site_id, day=DAY, person_id=1, at=NOW, total=4
        )
        session.commit()
        before = store.input_history(session, site_id)
        outcome = gate.cancel_study("k")
        assert (outcome.version, outcome.changed) == (1, ("2026-07-18",))
        assert gate.cancel_study("k").changed == ()
        assert store.input_history(session, site_id) == before
        told = session.execute(text("SELECT old, new FROM changes WHERE what = 'study'")).all()
        assert [tuple(row) for row in told] == [('"waiting"', '"cancelled"')]
    database.close()
