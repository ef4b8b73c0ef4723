"""Reading: what is not there is told, and a moment keeps its zone."""

from __future__ import annotations

from datetime import timedelta, timezone

import pytest
from sqlalchemy import select
from sqlalchemy.exc import StatementError

from app.db import store
from app.db.session import begin_write, open_database
from app.db.tables import ResultRow, SiteRow
from app.db.writes import add_result, add_site
from tests.world import DAY, NOW

HEAD = {
    "name": "Plain",
    "timezone": "UTC",
    "units": "us",
    "reference_class": "sedan",
    "counted": "arrived",
    "stands_on": "",
}


def test_a_site_that_is_not_there_is_told() -> None:
    """An id that no site has is an error, a name that no site has is None."""
    with open_database(None).session() as session:
        assert store.list_sites(session) == ()
        assert store.find_site(session, "Plain") is None
        with pytest.raises(LookupError, match="there is no site 3"):
            store.get_site(session, 3)
        with pytest.raises(LookupError, match="there is no site 3"):
            store.load_history(session, 3)


def test_a_moment_of_any_zone_comes_back_as_the_same_moment() -> None:
    """A moment is kept in UTC, and one without a zone is refused."""
    with open_database(None).session() as session:
        begin_write(session)
        site_id = add_site(session, "plain", HEAD)
        eastern = NOW.astimezone(timezone(timedelta(hours=-4)))
        add_result(session, "a", site_id, DAY, eastern, "{}")
        back = session.scalars(select(ResultRow.at)).one()
        assert back == NOW
        assert back.utcoffset() == timedelta(0)
        with pytest.raises(StatementError, match="has no time zone"):
            add_result(session, "b", site_id, DAY, NOW.replace(tzinfo=None), "{}")


def test_sites_are_listed_by_name_whatever_the_capitals() -> None:
    """People look for a name in a list without minding its capitals."""
    with open_database(None).session() as session:
        begin_write(session)
        for name in ("beta", "Alpha", "Gamma"):
            add_site(session, name.lower(), {**HEAD, "name": name})
        session.commit()
        assert [line.name for line in store.list_sites(session)] == ["Alpha", "beta", "Gamma"]
        assert session.scalar(select(SiteRow.version).limit(1)) == 1
