"""Problems as programs are told them (RFC 9457): every refusal below the interface's address."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from app.catalogue import _, say
from app.pages.errors import DISK_FAULTS, disk_words
from app.sites.reading import CannotOpen, Stale
from sim.errors import InputError, InputProblem, quoted

KIND = "application/problem+json"
KEY_HEADER = "Idempotency-Key"
GUIDE = "/guide/api"
"""Where a guide says what each sort of problem is."""
SORTS = {
    400: ("request", "The request can’t be read."),
    401: ("token-refused", "No token that opens anything came with the request."),
    403: ("scope", "The token is not for that."),
    404: ("not-here", "There is nothing at this address."),
    405: ("method", "This address can’t be used that way."),
    409: ("changed", "What is stored is not what the request rests on."),
    413: ("too-large", "What was sent is larger than can be taken. Nothing was stored."),
    415: ("request", "The request can’t be read."),
    422: ("values", "Something in the request can’t be. Nothing was stored."),
    429: ("cost", "The token has asked for too much. Nothing was begun."),
    500: ("broken", "Clothcast made a mistake here. Nothing was stored."),
    507: ("broken", "The disk took nothing."),
}
"""Anchor in the guide and title of each status."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a part of a request.

    Attributes:
        pointer: the part of a body (RFC 6901) as a URL fragment, or the name of a parameter.
        detail: what is wrong, and what would be right.
        value: as it was sent, as far as it is short.
    """

    pointer: str
    detail: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """The body of a refusal.

    Attributes:
        type: names the sort of problem, where the guide tells of it; title: the same in words.
        detail: what happened here, in a sentence.
        errors: what is wrong with which part of the request.
    """

    type: str
    title: str
    status: int
    detail: str
    errors: tuple[Fault, ...] = field(default=())


class Refused(Exception):
    """A request that is refused.

    Attributes:
        status: by HTTP; detail: a sentence; faults: parts at fault; headers: of the answer.
    """

    def __init__(
        self,
        status: int,
        detail: str = "",
        faults: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.status, self.detail = status, detail
        self.faults, self.headers = tuple(faults), dict(headers or {})


def problem(status: int, detail: str = "", faults: Sequence[Fault] = ()) -> bytes:
    """The body of a refusal."""
    anchor, title = SORTS.get(status, SORTS[400 if status < 500 else 500])
    told = Problem(f"{GUIDE}#{anchor}", _(title), status, detail or _(title), tuple(faults))
    return json.dumps(asdict(told), ensure_ascii=False).encode("utf-8", "replace")


def answer(
    status: int,
    detail: str = "",
    faults: Sequence[Fault] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """A refusal."""
    return Response(problem(status, detail, faults), status, headers, KIND)


def told(one: InputProblem, units: str = "si", before: str = "") -> Fault:
    """What the gate or a row of a book says is wrong, as a fault of a body."""
    return Fault(f"#/{before}{one.field}", say(one, units))


def of_input(fault: InputError, before: str = "") -> Refused:
    """A refusal of what the gate did not take."""
    return Refused(422, faults=[told(one, before=before) for one in fault.problems])


def of_stale(fault: Stale) -> Refused:
    """A refusal of what rests on a version that is not the present one."""
    sentence = _(
        "Version {expected} is not the present one: it is {version}. Read it anew, then ask again.",
        expected=fault.expected,
        version=fault.version,
    )
    return Refused(409, sentence)


def _of_library(one: Mapping[str, object], body: object) -> Fault:
    """What the reader of parameters and bodies says, as a fault; its pointer follows the body, in
    which the name of a kind is no step."""
    place = one.get("loc")
    kind, *rest = place if isinstance(place, tuple) and place else ("",)
    steps = []
    for part in rest:
        if isinstance(body, dict) and part not in body and part == body.get("kind"):
            continue
        steps.append(str(part).replace("~", "~0").replace("/", "~1"))
        body = body.get(part) if isinstance(body, dict) else body
        body = body[part] if isinstance(body, list) and isinstance(part, int) else body
    pointer = "#/" + "/".join(steps) if kind == "body" else ".".join(steps)
    is_missing = one.get("type") == "missing"
    return Fault(pointer, f"{one.get('msg', '')}.", "" if is_missing else _short(one.get("input")))


def _short(value: object) -> str:
    return quoted(value if isinstance(value, str) else repr(value))


def _status(fault: RequestValidationError) -> int:
    """400 for a key of a request that is not there or is none, as its draft asks; else 422."""
    of_key = any(tuple(one["loc"]) == ("header", KEY_HEADER) for one in fault.errors())
    return 400 if of_key else 422


def install(app: FastAPI) -> None:
    """Registers the handlers of every error with the interface."""

    @app.exception_handler(Refused)
    async def on_refused(request: Request, fault: Refused) -> Response:
        return answer(fault.status, fault.detail, fault.faults, fault.headers)

    @app.exception_handler(HTTPException)
    async def on_http(request: Request, fault: HTTPException) -> Response:
        bare = HTTPStatus(fault.status_code).phrase
        detail = "" if fault.detail == bare else str(fault.detail)
        return answer(fault.status_code, detail, headers=fault.headers)

    @app.exception_handler(RequestValidationError)
    async def on_invalid(request: Request, fault: RequestValidationError) -> Response:
        found = [_of_library(one, fault.body) for one in fault.errors()]
        return answer(_status(fault), faults=found)

    @app.exception_handler(InputError)
    async def on_input(request: Request, fault: InputError) -> Response:
        refused = of_input(fault)
        return answer(refused.status, faults=refused.faults)

    @app.exception_handler(Stale)
    async def on_stale(request: Request, fault: Stale) -> Response:
        return answer(409, of_stale(fault).detail)

    @app.exception_handler(CannotOpen)
    async def on_closed(request: Request, fault: CannotOpen) -> Response:
        return answer(507, _(fault.sentence, **fault.values))

    @app.exception_handler(OSError)
    async def on_disk(request: Request, fault: OSError) -> Response:
        if fault.errno not in DISK_FAULTS:
            raise fault
        return answer(507, disk_words(fault))

    @app.exception_handler(Exception)
    async def on_broken(request: Request, fault: Exception) -> Response:
        # The server itself writes the traceback to the window in which it runs.
        return answer(500)
