"""A log of one JSON object a line: when in UTC, what, and nothing that tells of a person.

No address, no name, no path: a request is its route's pattern, and whence it came a hash under
this installation's secret that is another each day. Of a fault its type and where in the program,
not its sentence, which may hold what somebody typed.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from typing import TextIO

LOG = logging.getLogger("clothcast")
"""Where events are told, by `tell` alone; nobody listens unless `begin` was called."""
LIBRARY = "library"
"""The event of a line that a library wrote."""


def tell(event: str, fault: BaseException | None = None, **told: object) -> None:
    """Write an event down, with what there is to be told of it."""
    LOG.info(event, extra={"told": told}, exc_info=fault)


def whence(secret: str, address: str, now: datetime) -> str:
    """A name for an address that holds for a day (UTC) and can't be turned back without the
    secret."""
    said = f"{now.astimezone(UTC).date()} {address}"
    return hmac.new(secret.encode(), said.encode(), hashlib.sha256).hexdigest()[:12]


class Lines(logging.Formatter):
    """An event as one line of JSON; of a library's, the sentence without what fills its gaps."""

    def format(self, record: logging.LogRecord) -> str:
        """The line, without its end."""
        at = datetime.fromtimestamp(record.created, UTC)
        line: dict[str, object] = {"at": f"{at:%Y-%m-%dT%H:%M:%S}.{at.microsecond // 1000:03d}Z"}
        if record.name == LOG.name:
            line |= {"event": record.msg, **getattr(record, "told", {})}
        else:
            line |= {
                "event": LIBRARY,
                "of": record.name,
                "level": record.levelname.lower(),
                "said": str(record.msg),
            }
        fault = record.exc_info[1] if record.exc_info else None
        if fault is not None:
            line |= {"fault": type(fault).__name__, "where": _where(fault)}
        return json.dumps(line, ensure_ascii=True, default=str)


def _where(fault: BaseException) -> list[str]:
    """The way that led to a fault: file, line, function."""
    frames = traceback.extract_tb(fault.__traceback__)
    return [f"{one.filename}:{one.lineno} {one.name}" for one in frames]


def begin(stream: TextIO | None = None) -> logging.Handler:
    """Have every event, and what libraries say, written as lines to a stream, the error output
    unless another is given. Says what writes, so that it can be taken away again."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(Lines())
    # A fault of a request is told by `Asked`, with the request that met it.
    handler.addFilter(lambda record: not (record.name == "uvicorn.error" and record.exc_info))
    root = logging.getLogger()
    root.addHandler(handler)
    root.setLevel(logging.WARNING)
    LOG.setLevel(logging.INFO)
    return handler
