"""Numbers of a running server in the open text format that monitors collect.

OpenMetrics 1.0, section “Text format”: a family is its type, unit and help, then its samples; a
counter's sample ends with ``_total``, a histogram has cumulated buckets, and the text ends with
``# EOF``.
"""

from __future__ import annotations

import threading
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
PREFIX = "clothcast"
BUCKETS_S = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
"""Upper ends of the buckets of how long requests take [s]; above the last one anything."""
Labels = tuple[tuple[str, str], ...]
Sample = tuple[str, Labels, float]
"""End of its name, labels, value."""


@dataclass(frozen=True, slots=True)
class Family:
    """Samples of one quantity.

    Attributes:
        name: without the project's name before it; ends with its unit where it has one.
        kind: ``counter``, ``gauge``, ``histogram`` or ``info``.
        help: what it is, in a sentence. unit: in full, such as ``seconds``; empty for a number.
    """

    name: str
    kind: str
    help: str
    samples: tuple[Sample, ...]
    unit: str = ""


def gauge(name: str, words: str, value: float, unit: str = "") -> Family:
    """A family of one value that goes up and down."""
    return Family(name, "gauge", words, (("", (), value),), unit)


def exposition(families: Iterable[Family]) -> str:
    """The text that a monitor reads."""
    lines = []
    for one in families:
        name = f"{PREFIX}_{one.name}" if one.name else PREFIX
        lines.append(f"# TYPE {name} {one.kind}")
        if one.unit:
            lines.append(f"# UNIT {name} {one.unit}")
        lines.append(f"# HELP {name} {_escaped(one.help)}")
        lines += [f"{name}{end}{_braced(labels)} {_number(x)}" for end, labels, x in one.samples]
    return "\n".join([*lines, "# EOF\n"])


def _braced(labels: Labels) -> str:
    inside = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels)
    return f"{{{inside}}}" if inside else ""


def _escaped(text: str) -> str:
    """A text with backslash, quote and line feed written as the format has them."""
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")


def _number(value: float) -> str:
    """A whole number without a point, any other as the shortest that reads back the same."""
    return str(value) if isinstance(value, int) else repr(float(value))


@dataclass
class _Times:
    """How long requests of a route took: how many by bucket, and all together [s]."""

    counts: list[int] = field(default_factory=lambda: [0] * (len(BUCKETS_S) + 1))
    sum_s: float = 0.0


class Requests:
    """Requests since the start by method, route and status, and how long they took by route.

    A route is its pattern, so there are as many as the program has, whatever is asked for.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._counts: dict[tuple[str, str, str], int] = {}
        self._times: dict[str, _Times] = {}

    def note(self, method: str, route: str, status: int, seconds: float) -> None:
        """Counts one that was answered."""
        with self._lock:
            key = method, route, str(status)
            self._counts[key] = self._counts.get(key, 0) + 1
            times = self._times.setdefault(route, _Times())
            times.counts[bisect_left(BUCKETS_S, seconds)] += 1
            times.sum_s += seconds

    def families(self) -> tuple[Family, Family]:
        """Both, as a monitor reads them."""
        with self._lock:
            counts = tuple(
                ("_total", (("method", method), ("route", route), ("status", status)), count)
                for (method, route, status), count in sorted(self._counts.items())
            )
            times = tuple(sample for route in sorted(self._times) for sample in self._of(route))
        return (
            Family("requests", "counter", "Requests answered since the start.", counts),
            Family(
                "request_seconds", "histogram", "How long answers took, by route.", times,
                "seconds",
            ),
        )  # fmt: skip

    def _of(self, route: str) -> Iterable[Sample]:
        times, seen = self._times[route], 0
        for end, count in zip((*map(str, BUCKETS_S), "+Inf"), times.counts, strict=True):
            seen += count
            yield "_bucket", (("route", route), ("le", end)), seen
        yield "_count", (("route", route),), seen
        yield "_sum", (("route", route),), times.sum_s


def by_label(name: str, words: str, label: str, values: Mapping[str, int]) -> Family:
    """A family of one value a label."""
    samples = tuple(("", ((label, said),), value) for said, value in sorted(values.items()))
    return Family(name, "gauge", words, samples)
