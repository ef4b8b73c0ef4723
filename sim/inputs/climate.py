"""Where a site lies: typical weather by month, from named climates or the site's own numbers."""

from __future__ import annotations

from dataclasses import dataclass

from sim.inputs.entry import Times, choice, flag, months

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Normals:
    """What is typical of twelve months, January first.

    Attributes:
        high_c, low_c: mean highest and lowest temperature of a day [°C].
        humidity: relative humidity in the warmest hour, 0 to 1.
    """

    high_c: tuple[float, ...]
    low_c: tuple[float, ...]
    humidity: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class NamedClimate:
    """A kind of climate in the northern half of the world: words, and its `Normals`."""

    label: str
    normals: Normals


def _named(label: str, high: str, low: str, humidity: str) -> NamedClimate:
    def read(text: str) -> tuple[float, ...]:
        return tuple(map(float, text.split()))

    shares = tuple(value / 100.0 for value in read(humidity))
    return NamedClimate(label, Normals(read(high), read(low), shares))


CLIMATES = {
    "cfa": _named(
        "hot humid summers, mild winters",
        "12 14 18 23 27 31 33 33 29 24 18 13",
        "2 3 7 11 16 20 22 22 18 12 7 3",
        "55 52 50 48 52 54 56 56 54 50 52 56",
    ),
    "dfa": _named(
        "warm humid summers, cold winters",
        "1 3 9 16 22 27 29 28 24 17 10 3",
        "-8 -6 -1 5 11 16 19 18 14 7 1 -5",
        "66 63 57 51 51 53 54 56 55 54 62 68",
    ),
    "dfb": _named(
        "mild summers, long cold winters",
        "-5 -3 3 11 19 24 26 25 20 12 4 -2",
        "-14 -13 -7 0 6 11 14 13 8 2 -4 -11",
        "68 64 58 50 48 52 53 54 56 58 68 72",
    ),
    "cfb": _named(
        "mild and damp all year",
        "7 8 11 14 18 21 23 23 19 15 10 7",
        "2 2 3 5 9 12 14 14 11 8 5 3",
        "80 74 66 60 58 58 58 58 64 72 79 82",
    ),
    "csa": _named(
        "dry warm summers, mild wet winters",
        "14 15 17 20 24 28 31 31 28 23 18 15",
        "5 5 7 9 13 16 19 19 16 13 9 6",
        "62 58 54 50 46 42 38 40 46 54 60 64",
    ),
    "bsk": _named(
        "dry, with cold winters",
        "6 8 13 17 22 28 32 31 26 19 11 6",
        "-8 -6 -2 2 7 12 16 15 10 3 -4 -8",
        "50 45 38 33 32 28 27 29 30 34 44 50",
    ),
    "bwh": _named(
        "hot desert",
        "19 21 25 30 35 40 41 40 37 31 24 19",
        "6 8 11 15 20 25 29 28 24 17 10 6",
        "35 30 25 18 14 12 20 24 20 22 28 36",
    ),
    "aw": _named(
        "tropical, warm and humid all year",
        "28 29 30 31 32 32 33 33 32 31 30 28",
        "19 20 21 22 24 25 26 26 25 24 22 20",
        "60 58 56 55 58 66 65 66 67 64 62 61",
    ),
}
"""Climates by the class of Köppen that each stands for (classes: Köppen and Geiger, an open
standard). The numbers are rounded and from memory, typical of such places and of none in
particular: a guess that a site replaces by its own."""

OWN_MONTHS = "a guess by climate, from memory; the nearest weather station's means"
TWELVE = "Twelve numbers, January first. Empty: those of the climate."


@dataclass(frozen=True, slots=True)
class Climate:
    """Typical weather, for days of which no hourly weather is stored."""

    climate: str = choice(
        "cfa", "Climate", {key: one.label for key, one in CLIMATES.items()},
        "guess; a kind of climate, from memory",
        advice="Typical weather stands in where no hourly weather is stored.",
    )
    southern: bool = flag(
        False, "In the southern half of the world", "site's own",
        advice="Where January is summer.",
    )
    usual_high_c: Times = months(
        (), "Usual highest temperature", "temperature", -40, 55, OWN_MONTHS, advice=TWELVE,
    )
    usual_low_c: Times = months(
        (), "Usual lowest temperature", "temperature", -50, 45, OWN_MONTHS, advice=TWELVE,
    )
    usual_humidity: Times = months(
        (), "Usual humidity in the warmest hour", "share", 0.02, 1, OWN_MONTHS, advice=TWELVE,
    )

    @property
    def normals(self) -> Normals:
        """The site's own months where it entered them, else those of its climate."""
        named = CLIMATES[self.climate].normals

        def of(own: Times, typical: tuple[float, ...]) -> tuple[float, ...]:
            return own or (typical[6:] + typical[:6] if self.southern else typical)

        return Normals(
            of(self.usual_high_c, named.high_c),
            of(self.usual_low_c, named.low_c),
            of(self.usual_humidity, named.humidity),
        )

    @property
    def is_own(self) -> bool:
        """Whether all of what is typical is the site's own."""
        return bool(self.usual_high_c and self.usual_low_c and self.usual_humidity)
