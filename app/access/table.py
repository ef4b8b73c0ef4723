"""The one table of who may do what: pages, acts, routes and roles.

Routes are refused by it, menus and buttons follow from it, and tests walk through it. A route that
is not in it is refused to everybody.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

OWNER, MANAGER, ATTENDANT = "owner", "manager", "attendant"
PHONE, SCREEN, NOBODY = "phone", "screen", "nobody"
ROLES = (OWNER, MANAGER, ATTENDANT, PHONE, SCREEN, NOBODY)
"""Owner: every site. Manager and attendant: the sites they were let in at. Phone: one that came by
its link and at which nobody has signed in. Screen: the read-only link of a crew room. Nobody:
whoever is none of these."""
EVERY_SITE = (OWNER,)
"""Roles to whom every site is their own; to the others other sites are as if they were not there.
"""
PEOPLE = (OWNER, MANAGER)
CREW = (*PEOPLE, ATTENDANT)
LOGGING = (*CREW, PHONE)
LET_IN = (*LOGGING, SCREEN)
SITE = "/{slug}"
"""How the address of a page of a site begins."""
PROGRAM = "program"
"""What asks by a token, of the interface for programs alone; no browser is one."""
READ, LOG, CHANGE, COMPUTE = "read", "log", "change", "compute"
SCOPES = (READ, LOG, CHANGE, COMPUTE)
"""What a token may do: read answers and books, write in the logbook, change counts and weighings,
have something worked out."""
API = "/api/v1"
"""How every address of the interface for programs begins."""


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table.

    Attributes:
        page: what it is part of, by its key in the pages line where it stands there.
        act: what is done there: ``see``, ``change``, or a finer word where roles differ.
        roles: who may; whoever has sites, at his own alone.
        routes: method and path of each route that does it.
        is_open_here: whether a program on the machine itself may ask without anybody's role.
        scope: what the token of a program must be for; empty for what browsers ask for.
    """

    page: str
    act: str
    roles: tuple[str, ...]
    routes: tuple[str, ...]
    is_open_here: bool = False
    scope: str = ""


def _row(page: str, act: str, roles: tuple[str, ...], *routes: str) -> Row:
    """A row whose routes are written without ``/{slug}`` where they begin with a dot."""
    return Row(page, act, roles, tuple(route.replace(" .", f" {SITE}") for route in routes))


def _see(page: str, *paths: str, roles: tuple[str, ...] = PEOPLE) -> Row:
    return _row(page, "see", roles, *(f"GET ./{path}" for path in paths))


def _change(page: str, *paths: str, roles: tuple[str, ...] = PEOPLE) -> Row:
    return _row(page, "change", roles, *(f"POST ./{path}" for path in paths))


def _program(scope: str, *routes: str) -> Row:
    """A row of the interface for programs; its routes are written without where that begins."""
    held = (route.replace(" .", f" /sites{SITE}") for route in routes)
    whole = tuple(route.replace(" /", f" {API}/", 1) for route in held)
    return Row("api", scope, (PROGRAM,), whole, scope=scope)


TABLE = (
    # Without a site.
    _row("guide", "see", ROLES, "GET /guide", "GET /guide/tour", "GET /guide/{name}", "GET /about"),
    _row("first", "see", LET_IN, "GET /"),
    _row("sites", "see", PEOPLE, "GET /sites"),
    _row("sites", "make", PEOPLE, "GET /sites/new", "POST /sites/new", "POST /sites/demo"),
    # What a server tells whoever operates it, and nobody else of the network.
    Row(
        "running", "see", EVERY_SITE, ("GET /health/live", "GET /health/ready", "GET /metrics"),
        is_open_here=True,
    ),
    # The day that is on.
    _see("today", "today"),
    _change("today", "today/short"),
    _row(
        "logbook", "see", LOGGING, "GET ./logbook", "GET ./logbook/{day}",
        "GET ./logbook/app.webmanifest", "GET ./logbook/worker.js", "GET ./logbook/token",
    ),
    _row("logbook", "log", LOGGING, "POST ./logbook", "POST ./logbook/send"),
    _row(
        "logbook", "files", PEOPLE,
        "GET ./logbook.csv", "POST ./logbook/preview", "POST ./logbook/confirm",
    ),
    _see("checks", "checks", roles=LOGGING),
    _change("checks", "checks/list", "checks/remove", "checks/ours"),
    _row("sheet", "see", (*CREW, SCREEN), "GET ./sheet", "GET ./sheet/{day}"),
    _see("shifts", "shifts", roles=(ATTENDANT,)),
    _see("down", "down"),
    _change("down", "down", "down/plan"),
    _see("stops", "stops", "stops/{day}"),
    _change("stops", "stops/preview", "stops/confirm", "stops/{day}"),
    _see("happened", "happened", "happened/{day}"),
    _change("happened", "happened/{day}"),
    # Planning.
    _see(
        "plan", "plan", "plan/{day}", "plan/{day}/draft", "plan/{day}/figures.csv",
        "plan/{day}/hours.csv", "plan/{day}/page.html", "plan/{day}/versions",
        "plan/{day}/versions/{number}", "plan/{day}/change/figures", "plan/{day}/change/charts",
    ),
    _change("plan", "plan/{day}", "plan/{day}/versions/{number}"),
    _see("settings", "settings", "settings/{day}", "settings/{day}/map.csv"),
    _change("settings", "settings/{day}", "settings/{day}/plan"),
    _see("reduce", "reduce", "reduce/{day}", "reduce/{day}/rules.csv", "reduce/{day}/together"),
    _change(
        "reduce", "reduce/{day}", "reduce/{day}/wish", "reduce/{day}/plan",
        "reduce/{day}/remedy/plan", "reduce/{day}/together", "reduce/{day}/together/plan",
    ),
    _see("coming", "coming"),
    _change("coming", "coming"),
    _see("staff", "staff", "staff/{day}", "staff/{day}/people.csv", "staff/{day}/people.xlsx"),
    _change("staff", "staff/{day}", "staff/{day}/plan"),
    _see("watch", "watch/{day}", "watch/{day}/series.json"),
    _see(
        "roster", "roster", "roster/{week}", "roster/{week}/roster.csv",
        "roster/{week}/roster.xlsx", "roster/{week}/needs", "roster/{week}/made",
    ),
    _change(
        "roster", "roster/{week}/calendar.ics", "roster/{week}/needs", "roster/{week}/make",
        "roster/{week}/place", "roster/{week}/move", "roster/{week}/person",
        "roster/{week}/undo", "roster/{week}/leave",
    ),
    _see(
        "cloth", "cloth", "cloth.json", "cloth/season", "cloth/season/days.csv",
        "cloth/season/season.xlsx",
    ),
    _change(
        "cloth", "cloth", "cloth/anew", "cloth/strike", "cloth/season",
        "cloth/season/calendar.ics",
    ),
    _see("studies", "studies", "studies.json"),
    _change("studies", "studies/stop", "studies/{key}/cancel"),
    # What the site is, and what was counted and weighed there.
    _see("counts", "counts", "counts.csv", "weather.csv"),
    _change(
        "counts", "counts/preview", "counts/say", "counts/confirm", "counts/forget",
        "counts/again", "counts/days",
    ),
    _see("days", "days"),
    _change("days", "days"),
    _see("setup", "setup"),
    _change("setup", "setup"),
    _see("weighings", "weighings"),
    _change("weighings", "weighings", "weighings/strike"),
    _see("site", "site"),
    _change("site", "site/identity", "site/vehicles", "site/put-back", "site/{group}"),
    # Ways in.
    _row(
        "sign-in", "see", ROLES, "GET /sign-in", "POST /sign-in", "POST /sign-in/passkey/ask",
        "POST /sign-in/passkey", "POST /sign-out", "GET /first", "POST /first", "GET /invited",
        "GET /invited/{secret}", "POST /invited",
    ),
    _row("me", "see", CREW, "GET /me", "POST /me/sign-out"),
    _row(
        "me", "keys", PEOPLE, "POST /me/password", "POST /me/one-time", "POST /me/passkey/ask",
        "POST /me/passkey", "POST /me/passkey/forget",
    ),
    _row("people", "see", PEOPLE, "GET /people"),
    _row(
        "people", "change", PEOPLE, "POST /people", "POST /people/renew", "POST /people/sign-out",
        "POST /people/let-go",
    ),
    _see("phones", "phones"),
    _change("phones", "phones", "phones/revoke"),
    _row("phones", "trust", LOGGING, "GET ./phones/authority.crt"),
    _row("phones", "open", ROLES, "GET ./phone/{secret}"),
    # The interface for programs, and who lets them in.
    _row("programs", "see", PEOPLE, "GET /people/programs"),
    _row(
        "programs", "change", PEOPLE, "POST /people/programs", "POST /people/programs/take-back",
    ),
    _row("api", "describe", ROLES, f"GET {API}/openapi.json"),
    _program(
        READ,
        "GET /sites", "GET .", "GET ./now", "GET ./checks", "GET ./days/{day}/plan",
        "GET ./days/{day}/rule", "GET ./days/{day}/staff", "GET ./days/{day}/happened",
        "GET ./log", "GET ./log/{key}", "GET ./counts", "GET ./weighings", "GET ./work",
        "GET ./work/{key}",
    ),
    _program(LOG, "POST ./log", "PUT ./log/{key}", "PUT ./log/{key}/struck"),
    _program(CHANGE, "PUT ./counts", "POST ./weighings"),
    _program(COMPUTE, "POST ./work"),
)  # fmt: skip

BY_ROUTE: Mapping[str, Row] = {route: row for row in TABLE for route in row.routes}
"""The row of a route, by method and path."""
BY_ACT: Mapping[tuple[str, str], Row] = {(row.page, row.act): row for row in TABLE}
NEVER_KEPT = frozenset(
    {"sign-in", "me", "people", "programs", "phones", "api", "roster", "shifts", "sheet"}
)
"""Pages with ways in, names and shifts of people, of which no browser may keep a copy. The others
may be kept, though not shown again unasked: going back to a form finds what was typed. Logbook and
checks are kept on purpose, by the phones of the crew."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever asks for a page.

    Attributes:
        role: one of `ROLES`.
        slugs: places of the sites that are his own; None for all of them.
        name: of the person, the phone or the screen; empty where nobody said.
        person_id: as whom he changes things; None for the built-in person.
        phone_id: the phone whose link he came by; None for none.
        session: digest of what he is signed in by; empty for nobody who signed in.
        token_id, scopes: of a program, by which token it asks and what that is for.
    """

    role: str
    slugs: frozenset[str] | None = frozenset()
    name: str = ""
    person_id: int | None = None
    phone_id: int | None = None
    session: str = ""
    token_id: int | None = None
    scopes: frozenset[str] = frozenset()

    def has(self, slug: str) -> bool:
        """Whether the site at an address is his own."""
        return self.slugs is None or slug in self.slugs

    def may(self, page: str, act: str = "see") -> bool:
        """Whether his role may do something on a page, at a site of his own where it is of one.

        Raises:
            KeyError: for what is in no row of the table.
        """
        return self.role in BY_ACT[page, act].roles

    def where(self, sites: frozenset[str]) -> frozenset[str]:
        """Of some sites, his own."""
        return sites if self.slugs is None else sites & self.slugs


HERE = Visitor(MANAGER, None)
"""A browser on the machine itself where nobody has to sign in."""
STRANGER = Visitor(NOBODY)
"""Somebody who is neither signed in nor came by a link."""


def may_ask(visitor: Visitor, route: str, slug: str | None) -> bool:
    """Whether a visitor's role may ask for a route, and the site is his own where it is of one.

    Args:
        route: method and path as the app has it, such as ``GET /{slug}/today``.
        slug: what stands in the address for the site; None where the path has none.
    """
    row = BY_ROUTE.get(route)
    if row is None or visitor.role not in row.roles:
        return False
    if row.scope and row.scope not in visitor.scopes:
        return False
    return slug is None or row.roles == ROLES or visitor.has(slug)
