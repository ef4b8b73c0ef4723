"""A reader of the open text format, written from its published grammar.

OpenMetrics 1.0, https://prometheus.io/docs/specs/om/open_metrics_spec/, sections “ABNF”, “Numbers”,
“MetricFamily metadata” and “Histogram”.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

REAL = r"[+-]?(?:\d+(?:\.\d*)?|\d*\.\d+)(?:[eE][+-]?\d+)?"
NUMBER = rf"(?:{REAL}|[+-]?(?:[iI][nN][fF](?:[iI][nN][iI][tT][yY])?)|[nN][aA][nN])"
NAME = r"[A-Za-z_:][A-Za-z0-9_:]*"
ESCAPED = r'(?:[^"\\\n]|\\["\\n]|\\[^"\\\n])*'
LABEL = rf'[A-Za-z_][A-Za-z0-9_]*="{ESCAPED}"'
SAMPLE = re.compile(
    rf"(?P<name>{NAME})(?:\{{(?P<labels>(?:{LABEL}(?:,{LABEL})*)?)\}})? (?P<value>{NUMBER})"
    rf"(?: {REAL})?"
)
TYPES = (
    "counter", "gauge", "histogram", "gaugehistogram", "stateset", "info", "summary", "unknown",
)  # fmt: skip
DESCRIPTION = re.compile(
    rf"# (?:(?P<what>TYPE) (?P<of>{NAME}) (?P<type>{'|'.join(TYPES)})"
    rf"|UNIT (?P<unit_of>{NAME}) (?P<unit>[A-Za-z0-9_:]*)"
    rf"|HELP (?P<help_of>{NAME}) (?P<help>{ESCAPED}))"
)
ENDS = {
    "counter": ("_total", "_created"),
    "gauge": ("",),
    "histogram": ("_bucket", "_count", "_sum", "_created"),
    "info": ("_info",),
    "summary": ("", "_count", "_sum", "_created"),
}


class Wrong(ValueError):
    """A text that is not of the format."""


@dataclass
class Read:
    """A family as it was read: type, unit, help, values by name and labels."""

    type: str = ""
    unit: str = ""
    help: str = ""
    values: dict[tuple[str, str], float] = field(default_factory=dict)


def read(text: str) -> dict[str, Read]:
    """The families of an exposition.

    Raises:
        Wrong: naming the line.
    """
    if "\r" in text or not re.search(r"(?:^|\n)# EOF\n?\Z", text):
        raise Wrong("it does not end with # EOF")
    found: dict[str, Read] = {}
    now = ""
    for line in text[: text.rindex("# EOF")].splitlines():
        described = DESCRIPTION.fullmatch(line)
        sample = SAMPLE.fullmatch(line)
        if described:
            now = _describe(found, now, described, line)
        elif sample:
            _take(found, now, sample, line)
        else:
            raise Wrong(line)
    for name, one in found.items():
        if one.unit and not name.endswith(f"_{one.unit}"):
            raise Wrong(f"{name} has the unit {one.unit}")
        if one.type == "histogram":
            _check_buckets(name, one)
    return found


def _describe(found: dict[str, Read], now: str, said: re.Match[str], line: str) -> str:
    name = said["of"] or said["unit_of"] or said["help_of"]
    if name != now and name in found:
        raise Wrong(f"{name} is told in two places: {line}")
    one = found.setdefault(name, Read())
    for key, value in (("type", said["type"]), ("unit", said["unit"]), ("help", said["help"])):
        if value is not None:
            if getattr(one, key) or one.values:
                raise Wrong(f"twice or too late: {line}")
            setattr(one, key, value)
    return name


def _take(found: dict[str, Read], now: str, sample: re.Match[str], line: str) -> None:
    one = found.get(now)
    if one is None or sample["name"] not in [now + end for end in ENDS[one.type]]:
        raise Wrong(f"of no family that was begun: {line}")
    key = sample["name"], sample["labels"] or ""
    if key in one.values:
        raise Wrong(f"twice: {line}")
    one.values[key] = float(sample["value"])
    if one.type == "counter" and one.values[key] < 0.0:
        raise Wrong(f"a counter below nothing: {line}")


def _check_buckets(name: str, one: Read) -> None:
    """Buckets of a set of labels go up to +Inf, never fall, and end with the count."""
    series: dict[str, list[tuple[float, float]]] = {}
    for (sample, labels), value in one.values.items():
        if sample == f"{name}_bucket":
            rest, _, end = labels.rpartition(',le="')
            series.setdefault(rest, []).append((float(end.rstrip('"')), value))
    for rest, buckets in series.items():
        ends, counts = zip(*buckets, strict=True)
        if list(ends) != sorted(ends) or list(counts) != sorted(counts):
            raise Wrong(f"buckets of {name}{{{rest}}} fall")
        if ends[-1] != float("inf") or counts[-1] != one.values[f"{name}_count", rest]:
            raise Wrong(f"buckets of {name}{{{rest}}} don't end with their count")
