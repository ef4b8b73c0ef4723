"""Measurements that a crew can make, and which inputs each of them would settle.

None needs more than a scale, a stopwatch, a piece of chalk, a thermometer or the books. What
they are and how they are made is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.catalogue import _
from sim.day.setup import damp_criterion
from sim.inputs import Site


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something to be measured at the site.

    Attributes:
        act: what to do, as an order that ends in a full stop.
        inputs: names of the inputs that it tells, see `sim.inputs.INPUTS`.
        at_wheel: hands come near wheel or belt, so they must be locked out first.
    """

    act: str
    inputs: tuple[str, ...]
    at_wheel: bool = False


MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement(
        "Soak one strip, let it hang until it has stopped dripping, and weigh it: its water "
        "divided by its dry weight is the holding capacity.",
        ("holding_capacity_kg_kg",),
        at_wheel=True,
    ),
    Measurement(
        "Dry the hoods of five cars that your crew would let pass and of five that it would call "
        "back; weigh the towel before and after: what it gained, halfway between the two, is what "
        "a hood may be left with.",
        ("allowed_film_kg_m2",),
    ),
    Measurement(
        "Time a few looks at each cue with a stopwatch: counting the last hour’s cars, looking at "
        "twenty hoods, weighing a strip from the lock-out until the belt moves again.",
        ("cue_cost_count_min", "cue_cost_hoods_min", "cue_cost_strip_min"),
        at_wheel=True,
    ),
    Measurement(
        "Have somebody say of twenty hoods which are damp, and dry each with a weighed towel after "
        "that: how many were told wrongly is the share of misjudged hoods.",
        ("hood_misjudged_share",),
    ),
    Measurement(
        "Weigh one strip at the moment when cars begin to come out damp: its water divided by "
        "what it can hold is the damp limit, which tells the allowed film.",
        ("allowed_film_kg_m2",),
        at_wheel=True,
    ),
    Measurement(
        "On a busy afternoon weigh one strip when the rush is over, and again after 15 minutes "
        "and after an hour of idling: how fast it gets lighter, and where it settles, tells "
        "throw-off and drying.",
        (
            "throw_off_moisture_kg_kg",
            "throw_off_time_s",
            "critical_moisture_kg_kg",
            "exposed_area_share",
            "air_slip",
        ),
        at_wheel=True,
    ),
    Measurement(
        "Let the soaked wheel spin for a quarter of an hour at idle speed, and another time at "
        "contact speed; weigh one strip before and after each.",
        ("throw_off_speed_exponent", "throw_off_time_exponent"),
        at_wheel=True,
    ),
    Measurement(
        "Weigh one wet strip in the evening, when the wheel has come to rest, and again in the "
        "morning.",
        ("still_h_w_m2k",),
        at_wheel=True,
    ),
    Measurement(
        "Film the wheel from outside the tunnel as one car leaves it and the next one comes, and "
        "count the seconds from contact to its full idle speed, and back.",
        ("spin_change_s",),
    ),
    Measurement(
        "With the wheel at rest on a standing car, mark with chalk where the cloth begins and "
        "where it ends, and measure between the marks along the car.",
        ("contact_patch_m",),
        at_wheel=True,
    ),
    Measurement(
        "Send five cars through with the wheel lifted, dry each hood at the exit with a weighed "
        "towel, and weigh the towel again: the gain divided by the area is the film after the "
        "blowers.",
        ("film_after_rinse_kg_m2", "blower_removal", "film_cv"),
    ),
    Measurement(
        "Dry the hoods of some cars with a weighed towel at a slow and at a fast belt, the wheel "
        "lifted.",
        ("blower_speed_exponent",),
    ),
    Measurement(
        "With a dry set just hung, dry the hoods of five fully wiped cars at the exit with a "
        "weighed towel: what the towel gains is what the wheel leaves.",
        ("uptake_max", "wipe_time_s"),
    ),
    Measurement(
        "Hang something of known weight, such as a full bottle of water weighed elsewhere, on the "
        "scale: what it shows too much, as a share, is its bias.",
        ("scale_bias",),
    ),
    Measurement(
        "Dry one hood with a weighed towel, then the same hood again with a second one: what the "
        "first gained divided by what both gained is what a towel takes.",
        ("towel_takes",),
    ),
    Measurement(
        "Let two people judge the same twenty hoods, each without hearing the other, and dry those "
        "on which they part with a weighed towel: how far these differ is the crew’s scatter.",
        ("crew_damp_log_sd",),
    ),
    Measurement(
        "Stand at the pay lanes with a stopwatch for thirty cars, and note the time of each and "
        "whether it was a quick or a slow payer.",
        ("quick_payer_share", "quick_pay_mean_s", "slow_pay_mean_s"),
    ),
    Measurement(
        "Stand at the loading point with a stopwatch for thirty cars, fifteen with one loader and "
        "fifteen with two.",
        ("load_mean_s", "second_loader_factor"),
    ),
    Measurement(
        "Keep a logbook of belt stops for two weeks: when, how long, and how many cars were "
        "washed in between.",
        ("stops_per_h", "stops_per_car", "stop_median_s"),
    ),
    Measurement(
        "For one afternoon with a long stack, note of every car that turns away how many cars "
        "stood before it.",
        ("patience_median_s",),
    ),
    Measurement(
        "Compare the counts of some ten like days, such as Saturdays of one month: how far their "
        "totals differ is the day-to-day variation.",
        ("day_factor_cv",),
    ),
    Measurement(
        "Hang a thermometer with a hygrometer near the wheel and another outdoors; read both at "
        "noon on an open day, and after closing.",
        ("tunnel_temp_offset_k", "tunnel_humid_share", "night_humid_share"),
    ),
    Measurement(
        "Time some cars that are dried by hand behind the wheel, with a stopwatch: some with a few "
        "drops on hood and windshield and some that are really wet. Weigh the towels before and "
        "after, if you can: what they gained is the water.",
        ("finish_area_s_m2", "finish_film_s_kg"),
    ),
    Measurement(
        "Time the extra hand work on some cars that were wiped reduced, with a stopwatch.",
        ("reduced_work_s",),
    ),
    Measurement(
        "Time the next change of a set, and weigh one strip of the set taken off every few hours "
        "until it gets no lighter.",
        ("set_change_min", "set_dry_h"),
        at_wheel=True,
    ),
    Measurement(
        "Note of every set the car counts at which it was hung and taken off, and why.",
        ("life_shape", "life_scale_cars"),
    ),
    Measurement(
        "On the last day before a set goes to the laundry and on the first day after, dry the "
        "hoods of some fully wiped cars at the exit with a weighed towel, the strips about as wet.",
        ("soil_loss_per_1000_cars", "launder_restores"),
    ),
    Measurement(
        "Count the damp hoods of some twenty fully wiped cars under a new set and of as many under "
        "an old one, at about the same hour of like days, and enter both on the page Cloth.",
        ("uptake_loss_at_life",),
    ),
    Measurement(
        "Look up when the last sets were ordered and when they came.",
        ("order_lead_days",),
    ),
    Measurement(
        "Go through a month of the books: refunds and free washes given for damp cars, and what an "
        "unplanned change of cloth cost.",
        ("damp_cost", "unplanned_change_cost"),
    ),
)


def allowed_film(site: Site) -> float:
    """Film above which a hood or windshield counts as damp [kg/m²], however it was entered."""
    return damp_criterion(site)[0]


NOT_CHEAP = (
    "member_leave_per_damp",
    "member_leave_per_ten_minutes",
    "wet_wear_factor",
    "idle_wear_per_h",
    "idle_wear_speed_exponent",
    "launder_wear",
)
"""Guessed inputs that only months of use would tell."""


@dataclass(frozen=True, slots=True)
class Narrowing:
    """What a measurement would do to a range.

    Attributes:
        share: of the range's variance that its inputs carry, 0 to 1.
        field: the input of it that carries most.
    """

    measurement: Measurement
    share: float
    field: str

    @property
    def narrower(self) -> float:
        """By which share the range would be narrower if the measurement left nothing open."""
        return float(1.0 - (1.0 - min(1.0, self.share)) ** 0.5)


def best_measurement(shares: Mapping[str, float]) -> Narrowing | None:
    """The one measurement that would narrow a range most; None where none would.

    Args:
        shares: share of the range's variance that an input carries, by the input's name.
    """
    found = [
        Narrowing(one, sum(carried.values()), max(carried, key=carried.__getitem__))
        for one in MEASUREMENTS
        if (carried := {name: shares[name] for name in one.inputs if shares.get(name, 0.0) > 0})
    ]
    return max(found, key=lambda narrowing: narrowing.share, default=None)


def in_words(measurement: Measurement) -> str:
    """What to do, in the reader's language, the lock-out first where hands come near the wheel."""
    act = _(measurement.act)
    if not measurement.at_wheel:
        return act
    return _(
        "Before a strip is touched, stop the wheel and the belt and lock them out. {act}", act=act
    )
