"""Inputs of the vehicle classes: shares, lengths, wiped areas and lengths of each zone."""

from __future__ import annotations

from dataclasses import dataclass

from sim.inputs.entry import Entry, entries_of, number

ZONES = ("hood", "windshield", "roof", "rear")
"""Zones of a car in the order in which the wheel meets them."""

GUESS = "guess; generic car geometry"


@dataclass(frozen=True, slots=True)
class ClassNumbers:
    """The numbers of one vehicle class; see `VehicleClass`."""

    share: float = number(0, "Share of cars", "share", 0, 1, GUESS)
    length_m: float = number(4.85, "Length", "length", 2, 8, GUESS)
    length_sd_m: float = number(0.2, "Length, spread", "length", 0, 0.6, GUESS)
    pushed_wheel_m: float = number(0.95, "Nose to pushed wheel", "length", 0, 3, GUESS)
    hood_start_m: float = number(0.25, "Nose to where the hood starts", "length", 0, 2, GUESS)
    hood_area_m2: float = number(1.5, "Hood, area wiped", "area", 0, 8, GUESS)
    windshield_area_m2: float = number(0.95, "Windshield, area wiped", "area", 0, 8, GUESS)
    roof_area_m2: float = number(1.65, "Roof, area wiped", "area", 0, 8, GUESS)
    rear_area_m2: float = number(1.35, "Rear, area wiped", "area", 0, 8, GUESS)
    hood_wiped_m: float = number(1.1, "Hood, length wiped", "length", 0, 6, GUESS)
    windshield_wiped_m: float = number(0.75, "Windshield, length wiped", "length", 0, 6, GUESS)
    roof_wiped_m: float = number(1.25, "Roof, length wiped", "length", 0, 6, GUESS)
    rear_wiped_m: float = number(1.0, "Rear, length wiped", "length", 0, 6, GUESS)
    hand_work: float = number(
        1, "Hand work, × that per car", "factor", 0.1, 10,
        "guess: like any other",
        advice="Of preparing, loading, exit and extra work, as People and their work has it.",
    )  # fmt: skip


CLASS_INPUTS: dict[str, Entry] = entries_of(ClassNumbers)


@dataclass(frozen=True, slots=True)
class VehicleClass:
    """A class of vehicles.

    Attributes:
        key: short name of lower-case letters, digits and underscores, unique at the site.
        label: what pages call it.
        numbers: shares, lengths [m] and areas [m²].
    """

    key: str
    label: str
    numbers: ClassNumbers

    @property
    def areas_m2(self) -> tuple[float, float, float, float]:
        """Wiped area of each zone [m²], in the order of `ZONES`."""
        n = self.numbers
        return (n.hood_area_m2, n.windshield_area_m2, n.roof_area_m2, n.rear_area_m2)

    @property
    def wiped_m(self) -> tuple[float, float, float, float]:
        """Wiped length along the car of each zone [m], in the order of `ZONES`."""
        n = self.numbers
        return (n.hood_wiped_m, n.windshield_wiped_m, n.roof_wiped_m, n.rear_wiped_m)


def _row(key: str, label: str, *numbers: float) -> VehicleClass:
    return VehicleClass(key, label, ClassNumbers(*numbers))


DEFAULT_CLASSES: tuple[VehicleClass, ...] = (
    _row("small", "small car",
         0.10, 4.10, 0.20, 0.85, 0.25, 1.15, 0.85, 1.55, 0.50, 0.85, 0.65, 1.40, 0.35),
    _row("sedan", "sedan",
         0.30, 4.85, 0.18, 0.95, 0.25, 1.50, 0.95, 1.65, 1.35, 1.10, 0.75, 1.25, 1.00),
    _row("utility", "utility",
         0.38, 4.75, 0.20, 0.92, 0.25, 1.50, 0.95, 2.55, 0.40, 1.05, 0.65, 2.05, 0.30),
    _row("pickup", "pickup, open bed",
         0.17, 5.80, 0.25, 0.97, 0.25, 1.80, 0.95, 1.60, 0.00, 1.20, 0.65, 1.40, 0.00),
    _row("van", "van",
         0.05, 5.30, 0.30, 1.00, 0.20, 1.10, 1.30, 3.50, 0.20, 0.75, 0.80, 2.70, 0.20),
)
