"""The unit of the guide by which a service manager begins the server."""

from __future__ import annotations

import configparser

from tests.world import ROOT

UNIT = ROOT / "app/guide/units/clothcast.service"


class Keys(configparser.RawConfigParser):
    """A unit file: keys keep their letters' case (systemd.syntax(7))."""

    def optionxform(self, optionstr: str) -> str:
        """The key as it stands."""
        return optionstr


def unit() -> dict[str, str]:
    """What the section Service says."""
    read = Keys(strict=True, interpolation=None)
    read.read_string(UNIT.read_text("utf-8"))
    return dict(read["Service"])
