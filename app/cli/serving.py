"""Serving the pages from the command line: whether the port is free, and the server itself."""

from __future__ import annotations

import socket
from datetime import timedelta

from rich.console import Console

from app.access.codes import digest_of_code, new_code
from app.access.sessions import FIRST
from app.answers.apart import Apart
from app.catalogue import _
from app.loading import load_without, loading
from app.memory import few_arenas, keep_giving_back
from app.running import log
from app.settings import Settings
from app.sites.people import people_gate
from app.sites.reading import Database

SOON = timedelta(days=30)
"""How long before its end a certificate is spoken of."""


CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""What TLS 1.2 may encrypt by, as OpenSSL writes it: what RFC 9325, section 4.2, recommends, keys
that are thrown away and authenticated ciphers alone. TLS 1.3 has nothing else."""
FINISH_S = 20
"""How long requests that are open when the server is told to end may still take [s]."""


class Refused(Exception):
    """A sentence for whoever typed the command; ends the program with exit code 1."""


def check_port(settings: Settings) -> None:
    """Raise Refused with a sentence if nothing can listen at the port."""
    with socket.socket(socket.AF_INET6 if ":" in settings.host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as fault:
            raise Refused(
                _(
                    "Port {port} at {host} can't be used ({reason}): end what uses it, or choose "
                    "another with --port (make demo PORT=8001).",
                    port=settings.port,
                    host=settings.host,
                    reason=(fault.strerror or str(fault)).lower(),
                )
            ) from None


def say_first_code(database: Database, settings: Settings, console: Console) -> None:
    """While nobody owns this installation, prints a code that makes the owner, once."""
    code, now = new_code(), settings.clock()
    with people_gate(database, now) as gate:
        is_first = gate.begin_first(digest_of_code(code), now + FIRST)
    if is_first:
        console.print(_("Nobody has an account here yet. Open the page /first and type this code,"))
        console.print(_("which makes you the owner, once, within a day: {code}", code=code))


def listen(settings: Settings, console: Console, page: str, apart: Apart) -> None:
    """Serve until the program is ended, and what computes for it too.

    Args:
        page: what to open first.
    """
    try:
        _listen(settings, console, page, apart)
    finally:
        apart.close()


def _listen(settings: Settings, console: Console, page: str, apart: Apart) -> None:
    few_arenas()
    with loading():
        import uvicorn  # the web framework is loaded only by commands that serve
        from uvicorn.config import LOGGING_CONFIG

        from app.main import create_app

        load_without("numba", "psychrolib")  # half a first page would be the loading of Numba
    check_port(settings)
    served = None
    if settings.certificate or settings.key:
        from app.certificates import served_by  # loaded only where it is needed

        served = served_by(settings)
    if settings.log_json:
        log.begin()
    keep_giving_back()
    app = create_app(settings, apart, is_whole=False)
    if settings.sign_in:
        say_first_code(app.state.web.database, settings, console)
    host = settings.own_name() if settings.is_open else settings.host
    scheme, host = ("https", served.name) if served else ("http", host)
    address = f"{scheme}://{f'[{host}]' if ':' in host else host}:{settings.port}/{page}"
    console.print(_("Clothcast is open at {address} (end it with Ctrl+C)", address=address))
    if served is not None and served.until - settings.clock() < SOON:
        console.print(
            _("Its certificate ends on {day}: make another before.", day=f"{served.until:%Y-%m-%d}")
        )
    uvicorn.run(
        app, host=settings.host, port=settings.port, log_level="warning",
        log_config=None if settings.log_json else LOGGING_CONFIG,
        timeout_graceful_shutdown=FINISH_S,
        ssl_certfile=served.certificate if served else None,
        ssl_keyfile=served.key if served else None,
        ssl_ciphers=CIPHERS,
    )  # fmt: skip
