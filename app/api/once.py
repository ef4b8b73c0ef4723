"""A request that comes twice is carried out once: the header Idempotency-Key (IETF draft
draft-ietf-httpapi-idempotency-key-header-07, from memory).

The same key with the same body gets the answer of the first time, with another body it is refused,
and while the first is still being carried out it is told to wait.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from typing import Annotated

from fastapi import Header, Request
from fastapi.responses import Response

from app.api.door import Asking
from app.api.problems import KEY_HEADER, Refused
from app.api.shapes import JSON
from app.catalogue import _
from app.sites.programs import KeptAnswer, answered, programs_gate

_TEXT = r'"([!#-\[\]-~]{8,64})"'
"""A structured text (RFC 8941 section 3.3.3) of 8 to 64 characters, none of them escaped."""
Key = Annotated[
    str,
    Header(
        alias=KEY_HEADER, pattern=f"^{_TEXT}$",
        description="A key of the program’s own for this request, in quotation marks.",
    ),
]  # fmt: skip
OTHER = (
    "This key came before with another request. Use a key of its own for each request, and the "
    "same one only to send the same again."
)
AT_IT = "The same request is being carried out. Ask again in a second."


class Underway:
    """Requests that are being carried out, by token and key."""

    def __init__(self) -> None:
        self._held: set[tuple[int, str]] = set()
        self._lock = threading.Lock()

    def begin(self, one: tuple[int, str]) -> bool:
        """Take a request up; False where it is being carried out already."""
        with self._lock:
            is_new = one not in self._held
            self._held.add(one)
        return is_new

    def end(self, one: tuple[int, str]) -> None:
        """It was carried out, or could not be."""
        with self._lock:
            self._held.discard(one)


UNDERWAY = Underway()


def entry_key(token_id: int, key: str) -> str:
    """The key of the entry that a request makes: the same each time that it comes."""
    return hashlib.sha256(f"program {token_id} {key}".encode()).hexdigest()[:32]


def name_of(token_id: int, key: str) -> str:
    """What the gate knows a program's request by."""
    return f"program {token_id} {key}"


def once(
    program: Asking, request: Request, key: str, asked: object, work: Callable[[], Response]
) -> Response:
    """The answer to a request that may come again; what is refused may be sent again, mended.

    Args:
        asked: everything that was asked, the address apart.

    Raises:
        Refused: 422 where the key came before with something else, 409 while it is carried out.
    """
    one = (program.token_id, key)
    asked_of = f"{request.method} {request.url.path} {asked!r}"
    digest = hashlib.sha256(asked_of.encode("utf-8", "surrogatepass")).hexdigest()
    if not UNDERWAY.begin(one):
        raise Refused(409, _(AT_IT), headers={"Retry-After": "1"})
    try:
        before = answered(program.web.database, *one)
        if before is not None:
            if before.digest != digest:
                raise Refused(422, _(OTHER))
            return Response(before.body, before.status, media_type=JSON)
        told = work()
        with programs_gate(program.web.database, program.web.settings.clock()) as gate:
            gate.keep(*one, KeptAnswer(digest, told.status_code, bytes(told.body).decode()))
        return told
    finally:
        UNDERWAY.end(one)
