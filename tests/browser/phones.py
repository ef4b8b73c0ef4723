"""Phones at a wash: the app served by HTTPS under a name of its own, with a network that comes and
goes, and browsers with a memory that outlives them."""

from __future__ import annotations

import datetime
import hashlib
import socket
import threading
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from fastapi import FastAPI
from playwright.sync_api import BrowserContext, Error, Locator, Page, Playwright, expect
from playwright.sync_api import TimeoutError as TookTooLong
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.access.codes import digest_of
from app.certificates import issue
from app.cli.workspace import open_stored
from app.db.session import open_database
from app.main import create_app
from app.pages.links import PHONE_COOKIE
from app.settings import DATABASE_NAME, read_settings
from app.sites.reading import gate, whole_log_of
from sim.inputs import LogEntry, SiteData
from tests.browser.served import TODAY

HOST = "wash.example"
LINK = "the secret of the link that the phones came by"
"""A name that is not the machine's own: browsers trust it by its certificate alone."""
SLUG = "/mill-lane"
LOGBOOK = f"{SLUG}/logbook"
CHECKS = f"{SLUG}/checks"
WIDE, HIGH = 390, 844
PATIENCE_MS = 120_000
FAR_S = 4_102_444_800
"""The year 2100 [s since 1970 UTC]: a link's cookie outlives the last page that is closed, as the
program makes it; a browser forgets one without an end there."""


def shift_of(fast_ms: int) -> str:
    """The script by which a clock is so much fast."""
    return f"(now => {{ Date.now = () => now() + {fast_ms}; }})(Date.now);"


PAGES_SEND = "delete ServiceWorkerRegistration.prototype.sync;"
"""The script by which a browser sends nothing itself when network returns: on a phone whose clock
was wrong its worker is shifted for good, while the clock of a real one would go on for both."""


class DeafOnce:
    """The app behind a network that loses answers: what was asked is done, nobody hears of it.

    Attributes:
        lose: how many answers to what phones send are still to be lost.
        fast_ms: how much the clocks of phones are fast, which their workers go by as well [ms].
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.lose = 0
        self.fast_ms = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Loses as many answers to what phones send as `lose` says."""
        if scope["type"] == "http" and scope["path"].endswith("/worker.js") and self.fast_ms:
            await self._shifted(scope, receive, send)
            return
        if scope["type"] != "http" or not scope["path"].endswith("/send") or self.lose == 0:
            await self.app(scope, receive, send)
            return
        self.lose -= 1

        async def nowhere(_message: Message) -> None:
            pass

        await self.app(scope, receive, nowhere)
        start: Message = {"type": "http.response.start", "status": 502, "headers": []}
        await send(start)
        await send({"type": "http.response.body", "body": b"lost"})

    async def _shifted(self, scope: Scope, receive: Receive, send: Send) -> None:
        """A worker's script behind the line that shifts its clock as that of its pages is."""
        parts: list[bytes] = []
        plain = [(name, held) for name, held in scope["headers"] if name != b"accept-encoding"]

        async def gather(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                del headers["content-length"]
                await send(message)
                return
            parts.append(message.get("body", b""))
            if not message.get("more_body", False):
                whole = shift_of(self.fast_ms).encode() + b"".join(parts)
                await send({"type": "http.response.body", "body": whole})

        await self.app({**scope, "headers": plain, "extensions": {}}, receive, gather)


class Cable:
    """What lies between phones and a server: bytes go through it while it is plugged in."""

    def __init__(self, server: int) -> None:
        with socket.create_server(("127.0.0.1", 0)) as probe:
            self.port = int(probe.getsockname()[1])
        self._server = server
        self._listener: socket.socket | None = None
        self._ends: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._threads: list[threading.Thread] = []

    def plug_in(self) -> None:
        """Connections are taken from now on."""
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self._run(self._take, self._listener)

    def pull_out(self) -> None:
        """Every connection ends, and none is taken."""
        listener, self._listener = self._listener, None
        if listener is None:
            return
        self._end(listener)
        with self._lock:
            ends, self._ends = self._ends, set()
        for end in ends:
            self._end(end)
        for thread in self._threads:
            thread.join()
        self._threads.clear()

    def _run(self, work: Callable[..., None], *given: socket.socket) -> None:
        thread = threading.Thread(target=work, args=given, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _take(self, listener: socket.socket) -> None:
        while True:
            try:
                near, _address = listener.accept()
                far = socket.create_connection(("127.0.0.1", self._server))
            except OSError:  # pulled out
                return
            with self._lock:
                self._ends |= {near, far}
            self._run(self._carry, near, far)
            self._run(self._carry, far, near)

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while held := one.recv(65_536):
                other.sendall(held)
        self._end(one)
        self._end(other)

    @staticmethod
    def _end(end: socket.socket) -> None:
        with suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
        end.close()


@dataclass
class Wash:
    """A site and its server; phones reach it while the network is on."""

    data_dir: Path
    certificate: Path
    app: FastAPI
    deaf: DeafOnce
    cable: Cable

    @property
    def port(self) -> int:
        """The port at which phones reach it."""
        return self.cable.port

    @property
    def url(self) -> str:
        """The address by which phones know it."""
        return f"https://{HOST}:{self.port}"

    @property
    def trusted(self) -> str:
        """The server's key as the browser is told to trust it: SHA-256 of what is known of it in
        public (RFC 7469 section 2.4)."""
        made = x509.load_pem_x509_certificate(self.certificate.read_bytes())
        spki = made.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        return b64encode(hashlib.sha256(spki).digest()).decode()

    def network_on(self) -> None:
        """Phones reach the server from now on."""
        self.cable.plug_in()

    def network_off(self) -> None:
        """Nothing answers any more."""
        self.cable.pull_out()

    def log(self) -> tuple[LogEntry, ...]:
        """What is stored, in order of time."""
        database = open_database(self.data_dir / DATABASE_NAME)
        found = whole_log_of(database, 1)
        database.close()
        return found


@contextmanager
def wash(data_dir: Path, data: SiteData) -> Iterator[Wash]:
    """A wash with one site that has an empty logbook, with network."""
    settings = read_settings(data_dir=data_dir, today=TODAY)
    database = open_stored(settings)
    with gate(database, settings.now()) as writes:
        made_site = writes.create_site(data, "one")
        writes.add_phone(made_site.site_id, "Exit", digest_of(LINK))
    database.close()
    served = issue(settings, [HOST], settings.clock()).served
    app = create_app(
        read_settings(
            data_dir=data_dir, today=TODAY, workers=1, host=HOST,
            certificate=served.certificate, key=served.key,
        )
    )  # fmt: skip
    deaf = DeafOnce(app)
    config = uvicorn.Config(
        deaf, log_level="error", lifespan="on",
        ssl_certfile=served.certificate, ssl_keyfile=served.key,
    )  # fmt: skip
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        made = Wash(data_dir, served.certificate, app, deaf, Cable(listener.getsockname()[1]))
        made.network_on()
        try:
            yield made
        finally:
            made.network_off()
            server.should_exit = True
            thread.join()


# ---- phones --------------------------------------------------------------------------------------


@dataclass
class Phone:
    """A phone: a browser whose memory lies in a folder, so that it can be killed and come back."""

    playwright: Playwright
    launched: dict[str, Any]
    wash: Wash
    memory: Path
    context: BrowserContext | None = None
    faults: list[str] = field(default_factory=list)
    killed: list[Page] = field(default_factory=list)
    was_wrong: bool = False

    def on(self, fast: datetime.timedelta = datetime.timedelta()) -> Page:
        """Switched on, with a clock that is so much fast; the logbook is opened."""
        arguments = [
            *self.launched["args"],
            f"--host-resolver-rules=MAP {HOST} 127.0.0.1",
            f"--ignore-certificate-errors-spki-list={self.wash.trusted}",
        ]
        self.context = self.playwright.chromium.launch_persistent_context(
            self.memory, executable_path=self.launched["executable_path"], args=arguments,
            viewport={"width": WIDE, "height": HIGH}, has_touch=True, locale="en-US",
            timezone_id="Asia/Tokyo", base_url=self.wash.url,
        )  # fmt: skip
        self.context.set_default_timeout(PATIENCE_MS)
        cookie = f"__Host-{PHONE_COOKIE}_{self.wash.port}"
        self.context.add_cookies(
            [
                {
                    "name": cookie,
                    "value": LINK,
                    "url": self.wash.url,
                    "secure": True,
                    "expires": FAR_S,
                }
            ]
        )
        self.context.on("weberror", lambda fault: self.faults.append(str(fault.error)))
        self.wash.deaf.fast_ms = round(fast.total_seconds() * 1000)
        if fast:
            self.context.add_init_script(shift_of(self.wash.deaf.fast_ms))
            self.was_wrong = True
        if self.was_wrong:
            self.context.add_init_script(PAGES_SEND)
        page = self.context.pages[0]
        page.goto(LOGBOOK)
        ready(page)
        return page

    def off(self) -> None:
        """Switched off in the middle of what it does: its pages are killed first."""
        for page in self.context.pages if self.context else ():
            self.kill(page)
        self.close()

    def close(self) -> None:
        """Put away at the end of a test."""
        if self.context is not None:
            self.context.close()
        self.context = None

    def kill(self, page: Page) -> None:
        """Ends a page's process at once; nothing in it hears of that."""
        if page in self.killed:
            return
        self.killed.append(page)
        for _attempt in range(5):  # where the page is about to go on, that takes its place
            with suppress(TookTooLong):
                with page.expect_event("crash", timeout=10_000), suppress(Error):
                    page.goto("chrome://crash")  # its own end interrupts the address
                return
        raise AssertionError("the page can't be killed")


def ready(page: Page) -> None:
    """Waits until the page has looked at what the phone kept."""
    expect(page.locator("#kept")).to_have_attribute("data-ready", "yes")


def keep_page(page: Page, address: str = LOGBOOK) -> None:
    """Waits until a page can be opened without network: its worker is at work and has a copy."""
    page.wait_for_function(
        """async (page) => {
          const registration = await navigator.serviceWorker.getRegistration(page);
          if (registration?.active?.state !== "activated") return false;
          if (!navigator.serviceWorker.controller) return false;
          return (await (await caches.open(`clothcast${page}`)).match(page)) !== undefined;
        }""",
        arg=address,
    )


def network_is_back(phone: Phone) -> Page:
    """Has the browser's own background sync begin, as it does when network returns, with no page
    of the wash open (Chrome DevTools Protocol, ServiceWorker.dispatchSyncEvent); an empty page."""
    assert phone.context is not None
    page = phone.context.new_page()
    session = phone.context.new_cdp_session(page)
    told: list[dict[str, Any]] = []
    session.on("ServiceWorker.workerRegistrationUpdated", lambda found: told.append(found))
    session.send("ServiceWorker.enable")
    for _attempt in range(100):
        known = [one for found in told for one in found["registrations"]]
        ours = [one for one in known if one["scopeURL"].endswith(LOGBOOK)]
        if ours:
            break
        page.wait_for_timeout(100)
    session.send(
        "ServiceWorker.dispatchSyncEvent",
        {
            "origin": phone.wash.url,
            "registrationId": ours[-1]["registrationId"],
            "tag": "send",
            "lastChance": False,
        },
    )
    return page


def waiting(page: Page) -> int:
    """How many entries the phone says that it keeps."""
    return page.locator("#kept li[data-state=waiting]").count()


def unfold(part: Locator) -> None:
    """Opens every fold around a part of the page."""
    part.evaluate(
        "e => { for (let n = e; n; n = n.parentElement?.closest('details')) n.open = true }"
    )


def enter_cars(page: Page, count: int) -> None:
    """Enters how many cars there were so far, as a thumb does."""
    part = page.locator("#kind-cars")
    if part.get_attribute("open") is None:
        part.locator("> summary").tap()
    part.locator("input[name=count]").fill(str(count))
    part.get_by_role("button", name="Store").tap()
