"""An installation with two sites and somebody of each role, and browsers signed in as each."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.access.codes import digest_of, digest_of_code
from app.access.passwords import Passwords
from app.access.sessions import LONGEST
from app.access.table import ATTENDANT, MANAGER, NOBODY, OWNER, PHONE, ROLES, SCREEN
from app.main import create_app
from app.pages.links import PHONE_COOKIE, SESSION_COOKIE
from app.settings import Settings, read_settings
from app.sites.changes import Gate
from app.sites.people import people_gate
from sim.inputs import Site, SiteData
from tests.demo_app import OWN_PAGE, lay_database
from tests.remembering import kept

OWN, OTHER = "mill-lane", "high-street"
NAMES = {OWNER: "Olive Owner", MANAGER: "Max Manager", ATTENDANT: "Ada Attendant"}
PASSWORD, PIN = "four plain words here", "204060"
ADDRESS = "http://localhost:8000"
ELSEWHERE = ("192.168.1.7", 50_000)


class Clock(Settings):
    """Settings whose clock stands until a test moves it."""

    at: datetime.datetime = datetime.datetime(2026, 7, 15, 9, 0, tzinfo=datetime.UTC)

    def clock(self) -> datetime.datetime:
        """The moment that the test has set."""
        return MOMENT.get(str(self.data_dir), self.at)


MOMENT: dict[str, datetime.datetime] = {}
"""Where a test has moved a clock to, by data folder."""


@dataclass
class Wash:
    """The app, and who is there by role.

    Attributes:
        people: numbers of persons; secrets: what cookies hold, by role.
    """

    app: FastAPI
    people: dict[str, int] = field(default_factory=dict)
    secrets: dict[str, str] = field(default_factory=dict)

    def later(self, **more: float) -> None:
        """Moves the clock on."""
        settings = self.app.state.web.settings
        MOMENT[str(settings.data_dir)] = settings.clock() + datetime.timedelta(**more)

    @contextmanager
    def browser(
        self, role: str = NOBODY, address: str = ADDRESS, at: tuple[str, int] = ELSEWHERE
    ) -> Iterator[TestClient]:
        """A browser of a role, from another machine unless told otherwise."""
        opened = TestClient(
            self.app, base_url=address, headers=OWN_PAGE, client=at, follow_redirects=False
        )
        port = f"_{address.rpartition(':')[2]}" if address.count(":") == 2 else ""
        if role in (PHONE, SCREEN, ATTENDANT):
            link = SCREEN if role == SCREEN else PHONE
            opened.cookies.set(f"{PHONE_COOKIE}{port}", self.secrets[link])
        if role in NAMES:
            opened.cookies.set(f"{SESSION_COOKIE}{port}", self.secrets[role])
        yield opened
        opened.close()


def sign_in_again(wash: Wash, role: str) -> None:
    """A fresh session for somebody, as signing in makes it."""
    web = wash.app.state.web
    secret = f"session of {role} at {web.settings.clock().isoformat()}"
    with people_gate(web.database, web.settings.clock()) as opened:
        opened.sign_in(
            wash.people[role], digest_of(secret), "a browser",
            phone_id=1 if role == ATTENDANT else None, over=web.settings.clock() - LONGEST,
        )  # fmt: skip
    wash.secrets[role] = secret


def _hashes() -> tuple[str, str]:
    """What is held of the password and of the short code."""
    passwords = Passwords()
    return passwords.hash(PASSWORD), passwords.hash(PIN)


def _fill(opened: Gate) -> None:
    """Two sites, a phone and a screen of the first, and somebody of each role."""
    for name in ("Mill Lane", "High Street"):
        opened.create_site(SiteData(Site(name, "America/New_York"), "us"), name)
    for number, (role, may) in enumerate(((PHONE, "log"), (SCREEN, "see"))):
        opened.add_phone(1, role, digest_of(_of_link(number)), may)


def _of_link(number: int) -> str:
    return f"secret {number} of a link"


@contextmanager
def wash(folder: Path) -> Iterator[Wash]:
    """The installation, served to whoever is signed in."""
    given = read_settings(
        data_dir=folder, today=datetime.date(2026, 7, 15), workers=1, sign_in=True,
        host="0.0.0.0",  # noqa: S104 - never listened at: the client asks the app itself
    )  # fmt: skip
    settings = Clock(**given.model_dump())
    now = settings.clock()
    lay_database(settings.database_path, "wash", now, _fill)
    app = create_app(settings)
    web = app.state.web
    made = Wash(app)
    made.secrets = {role: _of_link(number) for number, role in enumerate((PHONE, SCREEN))}
    held, pin = kept("hashes", _hashes)
    with people_gate(web.database, now) as people:
        people.begin_first(digest_of_code("first"), now)
        made.people[OWNER] = people.make_owner(digest_of_code("first"), NAMES[OWNER], held)
        for role, word in ((MANAGER, held), (ATTENDANT, pin)):
            made.people[role] = people.invite(NAMES[role], role, [1], password=word)
    for role in NAMES:
        sign_in_again(made, role)
    assert set(made.secrets) == set(ROLES) - {NOBODY}
    yield made
    MOMENT.pop(str(folder), None)
    web.runner.close()
    web.database.close()
