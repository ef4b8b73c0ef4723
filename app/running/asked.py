"""Every request counted, timed and written down, with an id that its answer bears."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from datetime import datetime

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.running.log import tell, whence
from app.running.numbers import Requests

ROUTE = "route"
"""Where in the state of a request stands the pattern of its route."""
ID_HEADER = "X-Request-Id"
STATIC = "/static/"
METHODS = ("GET", "HEAD", "POST", "PUT")
OTHER = "other"
NO_ROUTE = "none"
"""What is said of a request that no route took: there is none, or it was refused before."""


class Asked:
    """Stands around the whole app.

    Args:
        secret: under which addresses are hashed.
        clock: the moment by the machine's clock.
    """

    def __init__(
        self, app: ASGIApp, requests: Requests, secret: str, clock: Callable[[], datetime]
    ) -> None:
        self._app = app
        self._requests = requests
        self._secret = secret
        self._clock = clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began, status, fault = time.perf_counter(), 0, None
        named = secrets.token_hex(8)
        state = scope.setdefault("state", {})

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = int(message["status"])
                MutableHeaders(scope=message)[ID_HEADER] = named
            await send(message)

        try:
            await self._app(scope, receive, noted)
        except Exception as met:
            status, fault = 500, met
            raise
        finally:
            if status:  # else whoever asked has gone
                method = scope["method"] if scope["method"] in METHODS else OTHER
                route = STATIC if scope["path"].startswith(STATIC) else state.get(ROUTE, NO_ROUTE)
                seconds = time.perf_counter() - began
                self._requests.note(method, route, status, seconds)
                address = (scope.get("client") or ("", 0))[0]
                tell(
                    "request", fault, id=named, method=method, route=route, status=status,
                    seconds=round(seconds, 4),
                    whence=whence(self._secret, address, self._clock()),
                )  # fmt: skip
