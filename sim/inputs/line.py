"""Inputs of the line: hours, belt, pay lanes, loading, demand, failed sensors, and classes of cars."""

from __future__ import annotations

from dataclasses import dataclass

from sim.inputs.entry import (
    MANUAL,
    ON_SITE,
    Entry,
    Steps,
    Times,
    address,
    bt,
    choice,
    entries_of,
    ln,
    number,
    steps,
    times,
    whole,
)

TIME_KINDS = {
    "fixed": "always the mean",
    "exponential": "exponential",
    "lognormal": "lognormal",
    "gamma": "gamma",
    "measured": "measured times, each equally likely",
}
MEASURED = "the site's own stopwatch"
LOGBOOK = "guess; logbook"
TIMES = "guess; times taken by the crew replace it"
WAITS = "guess; waits noted in the logbook replace it"


@dataclass(frozen=True, slots=True)
class Line:
    """Hours and conveyor belt."""

    open_h: float = number(7, "Opens", "clock_h", 0, 24, "site's own")
    close_h: float = number(
        20, "Last car accepted", "clock_h", 0, 24, "site's own",
        advice="Cars already in line are still washed; that time counts as overtime.",
    )
    conveyor_speed_m_s: float = number(
        0.25, "Conveyor speed", "speed", 0.05, 0.6, ON_SITE,
        advice="Mark the belt, time how long the mark takes over a known length.",
    )
    speed_timetable: Steps = steps(
        (), "Conveyor speed by time of day", "speed", 0.05, 0.6, "site's own",
        advice="Leave empty for one speed all day, or write 49 ft/min; 12:00 45 ft/min.",
    )
    slowest_belt_m_s: float = number(
        0.15, "Slowest belt the manual allows", "speed", 0.05, 0.6, MANUAL,
    )
    fastest_belt_m_s: float = number(
        0.35, "Fastest belt the manual allows", "speed", 0.05, 0.6, MANUAL,
    )
    pusher_pitch_m: float = number(0.75, "Distance between pushers", "length", 0.2, 5, ON_SITE)
    car_spacing_m: float = number(
        6, "Car spacing, nose to nose", "length", 4, 15, "guess; the crew's choice",
        advice="Front of a car to front of the next. A longer car takes more by itself.",
    )
    least_gap_m: float = number(
        1.2, "Least gap between cars", "length", 0.3, 6, "guess",
        advice="Bumper to bumper; never undercut.",
    )
    wheel_position_m: float = number(33, "Loading point to wheel", "length", 5, 120, ON_SITE)
    stops_per_h: float = number(
        0.3, "Belt stops per open hour", "per_hour", 0, 20, LOGBOOK, prior=ln(0.1, 1),
    )
    stops_per_car: float = number(
        0.001, "Belt stops per car", "per_thousand_cars", 0, 0.1, LOGBOOK, prior=ln(0.0003, 0.004),
    )
    stop_median_s: float = number(
        45, "Length of a stop, median", "seconds", 5, 3600, LOGBOOK, prior=ln(25, 90),
    )
    stop_log_sd: float = number(0.8, "Length of a stop, log spread", "number", 0.1, 2, "guess")
    belt_stands: Steps = steps(
        (), "Belt stands, by time of day", "number", 0, 1, "site's own",
        advice="Beside stops by chance: 1 while it stands, 0 while it moves, as in 0; 13:05 1; "
        "13:50 0. Leave empty for none.",
    )
    recorder_address: str = address(
        "Your recorder at a minute", "site's own",
        advice="Address of the camera recorder’s page, with {date} and {time} (or {year}, {month}, "
        "{day}, {hour}, {minute}) where those go. Each stop then leads there.",
    )
    wheel_during_stop: str = choice(
        "off", "Wheel while the belt stands",
        {"idle": "turns at idle speed, off the car", "off": "stands, off the car"},
        "common practice, no source; the equipment's own manual says",
        advice="An interlock usually lets the wheel turn only while the belt moves.",
    )


@dataclass(frozen=True, slots=True)
class Pay:
    """Pay lanes, loading line, loading, and how long people wait."""

    pay_lanes: Steps = steps(
        ((0.0, 2.0),), "Pay lanes open", "lanes", 1, 40, "site's own",
        advice="One number, or by time: 2; 11:00 3; 18:00 2.",
    )
    quick_payer_share: float = number(
        0.6, "Share of quick payers", "share", 0, 1, TIMES, prior=bt(0.4, 0.78),
    )
    quick_pay_kind: str = choice("lognormal", "Quick payer, kind of time", TIME_KINDS, "guess")
    quick_pay_mean_s: float = number(
        15, "Quick payer, mean time", "seconds", 2, 300, TIMES, prior=ln(9, 25),
    )
    quick_pay_cv: float = number(0.3, "Quick payer, variation", "number", 0, 2, TIMES)
    quick_pay_measured_s: Times = times((), "Quick payer, measured times", 0, 3600, MEASURED)
    slow_pay_kind: str = choice("lognormal", "Slow payer, kind of time", TIME_KINDS, "guess")
    slow_pay_mean_s: float = number(
        50, "Slow payer, mean time", "seconds", 5, 900, TIMES, prior=ln(33, 76),
    )
    slow_pay_cv: float = number(0.5, "Slow payer, variation", "number", 0, 2, TIMES)
    slow_pay_measured_s: Times = times((), "Slow payer, measured times", 0, 3600, MEASURED)
    loading_line_cars: int = whole(
        7, "Loading line", "cars", 0, 60, "measure on site (count the places)",
        advice="Places between pay lanes and loading point.",
    )
    load_kind: str = choice("lognormal", "Loading, kind of time", TIME_KINDS, "guess")
    load_mean_s: float = number(
        14, "Loading time with one loader", "seconds", 3, 300, TIMES, prior=ln(10, 20),
    )
    load_cv: float = number(0.3, "Loading time, variation", "number", 0, 2, TIMES)
    load_measured_s: Times = times((), "Loading, measured times", 0, 3600, MEASURED)
    loaders: Steps = steps(
        ((0.0, 1.0),), "Loaders", "people", 1, 2, "site's own",
        advice="One number, or by time: 1; 11:00 2; 17:00 1.",
    )
    second_loader_factor: float = number(
        0.75, "Loading time with a second loader", "factor", 0.3, 1, "guess", prior=bt(0.55, 0.88),
    )
    stack_limit_cars: int = whole(
        20, "Stack limit", "cars", 0, 300, "measure on site",
        advice="Cars that can wait before the pay lanes; one more drives away.",
    )
    patience_median_s: float = number(
        900, "Patience, median wait accepted", "minutes_from_s", 60, 14400, WAITS,
        prior=ln(400, 2000),
    )
    patience_log_sd: float = number(0.5, "Patience, log spread", "number", 0, 2, "guess")
    arrival_shape: str = choice(
        "constant", "Arrivals within an hour",
        {"constant": "at the hour's rate", "linear": "leaning towards the busier hour beside it"},
        "guess",
        advice="Either way every hour keeps its number of cars.",
    )
    day_factor_cv: float = number(
        0.12, "Day-to-day variation of demand", "share", 0, 1, "guess; counts replace it",
        prior=ln(0.06, 0.24),
    )
    hour_factor_cv: float = number(
        0.1, "Hour-to-hour variation of demand", "share", 0, 1, "guess; counts replace it",
        advice="How far an hour comes out from what its day leads to expect, beside the luck of "
        "single cars.",
    )
    full_service_share: float = number(
        0, "Share of cars sold the full wipe", "share", 0, 1, "site's own",
        advice="Wiped in full by every rule but “always reduced”.",
    )


@dataclass(frozen=True, slots=True)
class Degraded:
    """Running on with a failed sensor that only shapes the wiping; never with a safety device."""

    failed_sensor: str = choice(
        "none", "Failed shaping sensor",
        {"none": "none", "height": "height reading", "presence": "presence reading"}, "site's own",
        advice="Only a sensor that shapes the wiping. With a failed safety device: stop.",
    )
    failed_spacing_factor: float = number(
        1.3, "Car spacing with a failed sensor", "factor", 1, 3, "guess",
    )
    failed_speed_factor: float = number(
        0.8, "Conveyor speed with a failed sensor", "factor", 0.2, 1, "guess",
    )
    failed_wiped_share: float = number(
        0.8, "Area still wiped with a failed sensor", "share", 0, 1, "guess",
        advice="The wheel is drawn back earlier, so less of each zone is wiped.",
    )


# ---- classes of cars -----------------------------------------------------------------------------

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
        1, "Hand work, × that per car", "factor", 0.1, 10, "guess: like any other",
        advice="Of preparing, loading, exit and extra work, as People and their work has it.",
    )


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
