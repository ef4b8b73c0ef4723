"""Writes the text of `site.toml`, from which the same site is read back to the last bit."""

from __future__ import annotations

from sim.inputs import (
    CLASS_INPUTS,
    DEFAULT_CLASSES,
    GROUP_INPUTS,
    GROUPS,
    Entry,
    SiteData,
    Value,
    VehicleClass,
)
from sim.units import show_clock

_HEAD = """\
# A site as Clothcast keeps it; the guide has a page on this file.
# Numbers are in the unit that ends their name, shares are 0 to 1. What is left out has its default.
"""


def site_text(data: SiteData) -> str:
    """The text of `site.toml`; reading it gives the same site, to the last bit.

    Only inputs that were given are written. One that differs from its default without being
    marked as given is written too, so that no value is lost.
    """
    site = data.site
    texts = {
        "name": site.name,
        "timezone": site.timezone,
        "units": data.units,
        "reference_class": site.reference_class,
    }
    parts = [_HEAD + "".join(f"{key} = {_toml(value)}\n" for key, value in texts.items())]
    for group in GROUPS:
        lines = []
        for name, row in GROUP_INPUTS[group.key].items():
            value = site.value(name)
            if name in data.given or value != row.default:
                lines.append(f"{name} = {_value_text(row, value)}\n")
        if lines:
            parts.append(f"[{group.key}]\n" + "".join(lines))
    if site.vehicles != DEFAULT_CLASSES:
        parts += [_vehicle_text(item) for item in site.vehicles]
    for note in data.history.days:
        lines = [f"date = {note.day.isoformat()}\n", f"kind = {_toml(note.kind)}\n"]
        if note.note:
            lines.append(f"note = {_toml(note.note)}\n")
        parts.append("[[day]]\n" + "".join(lines))
    return "\n".join(parts)


def _vehicle_text(item: VehicleClass) -> str:
    lines = [f"key = {_toml(item.key)}\n", f"label = {_toml(item.label)}\n"]
    lines += [f"{name} = {_toml(getattr(item.numbers, name))}\n" for name in CLASS_INPUTS]
    return "[[vehicle]]\n" + "".join(lines)


def _value_text(row: Entry, value: Value) -> str:
    if row.kind == "steps" and isinstance(value, tuple):
        cells = [f"[{_moment(r[0])}, {_toml(r[1])}]" for r in value if isinstance(r, tuple)]
        return "[" + ", ".join(cells) + "]"
    if row.kind == "times" and isinstance(value, tuple):
        return "[" + ", ".join(_toml(x) for x in value) + "]"
    return _toml(value)


def _moment(seconds: float) -> str:
    """A time of day as text; seconds as a number where it is not a full minute."""
    return _toml(show_clock(seconds)) if seconds % 60.0 == 0.0 else _toml(seconds)


_ESCAPES = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"'}


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value).removesuffix(".0")
    out = []
    for char in str(value):
        if char == "\\":
            out.append("\\\\")
        elif char in _ESCAPES:
            out.append(_ESCAPES[char])
        elif char < " " or char == "\x7f":
            out.append(f"\\u{ord(char):04X}")
        else:
            out.append(char)
    return '"' + "".join(out) + '"'
