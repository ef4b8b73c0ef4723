"""Inputs of the wiping stage: water on the car, wiping, wheel and cloth, drying, wear and sets."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.inputs.entry import (
    FOLLOWS,
    MANUAL,
    ON_SITE,
    bt,
    choice,
    flag,
    ln,
    nm,
    number,
    whole,
    words,
)

RATIO = "site's own; 1 until you know"
LAUNDRY = "slope of a published remaining-moisture table, from memory"


@dataclass(frozen=True, slots=True)
class Water:
    """Film of water on the car as it reaches the wheel."""

    film_after_rinse_kg_m2: float = number(
        0.1, "Water film after rinse", "film", 0.01, 0.5,
        "guess (0.1 mm; order of a drained sheet with drops)", prior=ln(0.06, 0.17),
    )
    rinse_agent_factor: float = number(
        1, "Film with a drying agent in the rinse ÷ film without", "factor", 0.3, 2,
        "site's own; where an agent is used 0.6 to 0.9 is a guess",
        advice="1: as your film after rinse and your damp limit were judged.",
    )
    blowers_down: bool = flag(
        False, "The blowers are down", "site's own",
        advice="They then remove nothing, for the whole day.",
    )
    blower_removal: float = number(
        0.7, "Share the blowers remove at the reference speed", "share", 0, 0.99, "guess",
        prior=bt(0.5, 0.85),
    )
    blower_reference_speed_m_s: float = number(
        0.25, "Conveyor speed at which that holds", "speed", 0.05, 0.6, "the usual speed",
    )
    blower_speed_exponent: float = number(
        0.5, "How blowing weakens with speed", "number", 0, 2, "guess", prior=ln(0.2, 1),
    )
    film_cv: float = number(
        0.25, "Film, variation between cars", "share", 0, 1.5, "guess", prior=ln(0.15, 0.42),
    )
    film_factor_hood: float = number(1, "Film factor, hood", "factor", 0.2, 3, "reference zone")
    film_factor_windshield: float = number(
        0.85, "Film factor, windshield", "factor", 0.2, 3, "guess"
    )
    film_factor_roof: float = number(1, "Film factor, roof", "factor", 0.2, 3, "guess")
    film_factor_rear: float = number(1.3, "Film factor, rear", "factor", 0.2, 3, "guess")

    @property
    def film_rinsed_kg_m2(self) -> float:
        """Film on the hood after the rinse as it is run, a drying agent counted [kg/m²]."""
        return self.film_after_rinse_kg_m2 * self.rinse_agent_factor

    @property
    def removal_now(self) -> float:
        """Share that the blowers remove as they are run; `blower_removal` is that of a usual day,
        for which the damp limit is stated."""
        return 0.0 if self.blowers_down else self.blower_removal


@dataclass(frozen=True, slots=True)
class Wiping:
    """How the cloth takes water from the car, and when a car counts as damp."""

    contact_patch_m: float = number(
        0.5, "Length along the car that the cloth lies on", "short_length", 0.05, 2,
        "guess; measure on site (chalk test)", prior=ln(0.3, 0.8),
    )
    uptake_max: float = number(
        0.92, "Share a dry new cloth takes, endless contact", "share", 0.3, 1, "guess",
        prior=bt(0.8, 0.97),
    )
    wipe_time_s: float = number(
        0.8, "Time constant of wiping one spot", "seconds", 0.05, 10, "guess", prior=ln(0.3, 2),
    )
    allowed_film_kg_m2: float = number(
        0.015, "Allowed film on hood and windshield", "film", 0.002, 0.2,
        "guess; a weighed towel on hoods that your crew would let pass or call back",
        prior=ln(0.008, 0.025),
        advice="A car with more than that on either counts as damp, unless a damp limit is entered.",
    )
    damp_limit_saturation: float = number(
        FOLLOWS, "Damp limit", "share", 0.1, 0.95,
        "what leaves the allowed film; observable: strip weight when cars begin to come out damp",
        follows="the saturation that leaves the reference car with the allowed film",
        advice="Saturation at which the reference car with median film just leaves damp.",
    )
    damp_limit_from: str = choice(
        "saturation", "Damp cars are judged by",
        {
            "saturation": "the damp limit where one is entered, else the allowed film",
            "film": "the allowed film",
        },
        "site's own",
    )

    @property
    def is_judged_by_film(self) -> bool:
        """Whether the allowed film says which car is damp, and the damp limit follows from it."""
        return self.damp_limit_from == "film" or self.damp_limit_saturation == FOLLOWS


@dataclass(frozen=True, slots=True)
class Wheel:
    """The wheel, its strips, how much they hold and how they throw water off."""

    wheel_radius_m: float = number(1.1, "Wheel radius to strip tips", "length", 0.3, 2.5, ON_SITE)
    strip_length_m: float = number(0.9, "Strip length", "short_length", 0.1, 2, ON_SITE)
    strip_width_m: float = number(0.25, "Strip width", "short_length", 0.02, 1, ON_SITE)
    strip_count: int = whole(200, "Strips on the wheel", "strips", 10, 3000, "measure on site")
    strip_dry_mass_kg: float = number(
        0.1, "Dry mass of one strip", "small_mass", 0.005, 2,
        "measure on site (0.44 kg/m² for 0.9 × 0.25 m)",
    )
    contact_speed_rev_s: float = number(0.9, "Contact speed", "rotation", 0.1, 5, ON_SITE)
    idle_speed_rev_s: float = number(
        1.5, "Idle speed", "rotation", 0.1, 6, ON_SITE,
        advice="Throw-off moisture and time hold at the reference idle speed.",
    )
    reference_speed_rev_s: float = number(
        1.5, "Idle speed at which throw-off was judged", "rotation", 0.1, 6, "the usual idle speed",
        advice="The wear of an hour’s spinning holds there too.",
    )
    spin_change_s: float = number(
        3, "Time of the wheel from contact to idle speed, and back", "seconds", 0, 60,
        "guess; film the wheel between two cars", prior=ln(1, 8),
        advice="Each of the two. The wheel counts as turning at contact speed meanwhile.",
    )
    slowest_wheel_rev_s: float = number(
        0.5, "Slowest wheel the manual allows", "rotation", 0.1, 6, MANUAL,
    )
    fastest_wheel_rev_s: float = number(
        2.0, "Fastest wheel the manual allows", "rotation", 0.1, 6, MANUAL,
    )
    holding_capacity_kg_kg: float = number(
        2.2, "Holding capacity", "moisture", 0.5, 6,
        "guess; soak, drain until dripping stops, weigh", prior=ln(1.5, 3.2),
    )
    throw_off_moisture_kg_kg: float = number(
        0.55, "Moisture where throw-off ends, at idle", "moisture", 0.05, 3,
        "guess; consistent in order with a laundry table at equal G × length", prior=ln(0.3, 1),
    )
    throw_off_time_s: float = number(
        1200, "Time constant of throw-off, at idle", "minutes_from_s", 60, 36000,
        "guess; minutes at 100 g, × ratio of G, are hours (drainage ∝ G); wheels are spun up between "
        "cars because seconds help, and that says minutes",
        prior=ln(120, 12000),
        advice="The range holds both; a spin test settles it.",
    )
    throw_off_speed_exponent: float = number(
        0.4, "Exponent b: how much less moisture stays at more spin", "number", 0, 1, LAUNDRY, prior=ln(0.2, 0.7),
    )
    throw_off_time_exponent: float = number(
        1, "Exponent c: how much faster throw-off is at more spin", "number", 0, 2, "Darcy drainage, textbook from memory",
        prior=nm(0.6, 1.4),
    )
    weigh_in_log_sd: float = number(
        0.12, "Error of a weigh-in, as share of the water", "share", 0.01, 0.6,
        "guess; weigh the same strip a few times", advice="One standard deviation of a logarithm.",
    )
    strip_place_log_sd: float = number(
        0.1, "How far strips on one wheel differ, as share of the water", "share", 0, 0.6,
        "guess; weigh several strips at once", advice="One standard deviation of a logarithm.",
    )
    scale_bias: float = number(
        0, "Bias of the scale: how much too much it shows, as share of the weight", "share", -0.2, 0.2,
        "guess; hang something of known weight on it", prior=nm(-0.06, 0.06),
        advice="Beside the dry weight that is entered: weighed on the same scale, both are off alike.",
    )
    towel_log_sd: float = number(
        0.15, "Error of a towel test, as share of the water", "share", 0.01, 0.6,
        "guess; hoods differ in size, and towels miss some",
        advice="One standard deviation of a logarithm.",
    )
    towel_takes: float = number(
        0.9, "Share of a hood’s water that a towel takes", "share", 0.3, 1,
        "guess; dry a hood with a second towel", prior=bt(0.74, 0.97),
    )
    crew_damp_log_sd: float = number(
        0.25, "How far one look of the crew differs from the next, as share of the water",
        "share", 0.02, 1, "guess; have two people judge the same cars",
        prior=ln(0.1, 0.6), advice="One standard deviation of a logarithm.",
    )

    @property
    def strip_log_sd(self) -> float:
        """How far the water of one strip from the wheel, weighed, is off; log standard deviation.

        The weighing and the strip's place together, added in squares.
        """
        return math.hypot(self.weigh_in_log_sd, self.strip_place_log_sd)


@dataclass(frozen=True, slots=True)
class Drying:
    """Air at the cloth and how it dries."""

    critical_moisture_kg_kg: float = number(
        0.4, "Moisture below which drying slows", "moisture", 0.05, 2, "guess", prior=ln(0.2, 0.8),
    )
    bound_moisture_kg_kg: float = number(
        0.02, "Moisture that does not dry off", "moisture", 0, 0.2,
        "fibre regain at 65 % RH (polyester 0.4 %, nylon 4–4.5 %, cotton 7–8.5 %); blend guess",
    )
    exposed_area_share: float = number(
        0.45, "Share of both strip faces that the air reaches", "share", 0.05, 1,
        "guess (only its product with heat transfer is identified)", prior=bt(0.2, 0.73),
    )
    air_slip: float = number(
        0.5, "Air speed past strips ÷ strip speed", "number", 0.05, 1, "guess",
        prior=bt(0.25, 0.75),
    )
    still_h_w_m2k: float = number(
        6, "Heat transfer, wheel standing", "heat_transfer", 1, 25,
        "free convection 2–25 W/m²K, textbook from memory", prior=ln(3, 12),
    )
    wheel_heat_w: float = number(
        0, "Friction heat reaching the cloth", "power", 0, 5000,
        "left out (0) until humid-day weigh-ins ask for it",
    )
    tunnel_temp_offset_k: float = number(
        0, "Tunnel air warmer than outdoors", "temperature_difference", -15, 20,
        "guess; one thermometer", prior=nm(-2, 2),
    )
    tunnel_humid_share: float = number(
        0.35, "Tunnel air: part of the way to saturation, open", "share", 0, 1,
        "guess; one hygrometer", prior=bt(0.12, 0.68),
    )
    night_humid_share: float = number(
        0.6, "Tunnel air: part of the way to saturation, closed", "share", 0, 1, "guess",
        prior=bt(0.3, 0.85),
    )
    pressure_pa: float = number(
        101325, "Air pressure", "pressure", 60000, 110000, "standard atmosphere; from altitude",
    )
    close_spin_s: float = number(
        0, "Wheel runs at idle after closing", "minutes_from_s", 0, 28800, "site's own",
        advice="Only where the equipment’s own manual and local code let it turn unattended.",
    )


@dataclass(frozen=True, slots=True)
class Wear:
    """Wear of the cloth and the sets that a site owns."""

    life_shape: float = number(
        2.5, "Weibull shape of cloth life", "number", 0.5, 8, "guess", prior=ln(1.5, 4.2),
    )
    life_scale_cars: float = number(
        60000, "Weibull scale of cloth life, full-wipe equivalents", "cars", 1000, 1_000_000,
        "guess; own sets replace it", prior=ln(25000, 150000),
    )
    uptake_loss_at_life: float = number(
        0.2, "Uptake lost when worn out", "share", 0, 0.9, "guess", prior=bt(0.08, 0.42),
    )
    cloth_wear_cars: float = number(
        0, "Wear of the set now on the wheel", "cars", 0, 1_000_000, "site's own",
        advice="Full-wipe equivalents since the set was new.",
    )
    soil_loss_per_1000_cars: float = number(
        0.01, "Uptake that the wax and soil of 1,000 cars take", "share", 0, 0.3, "guess",
        prior=ln(0.002, 0.05),
        advice="Of what is left of it, since the set was laundered; wear takes its part beside it.",
    )
    launder_restores: float = number(
        0.9, "Share of that soil that a laundering takes out", "share", 0, 1, "guess",
        prior=bt(0.6, 0.99),
    )
    cloth_soil_cars: float = number(
        0, "Cars wiped since the set on the wheel was laundered", "cars", 0, 100_000, "site's own",
        advice="As the day begins; a dry set put on during the day counts alike.",
    )
    wet_wear_factor: float = number(
        1, "Wear wet ÷ dry", "factor", 0.2, 3, "guess", prior=ln(0.6, 1.7),
    )
    idle_wear_per_h: float = number(
        3, "Wear of an hour's spinning", "cars", 0, 200, "guess", prior=ln(0.5, 18),
        advice="Off a car, at the idle speed at which throw-off was judged.",
    )
    idle_wear_speed_exponent: float = number(
        2, "Exponent x: how much more a faster wheel wears", "number", 0, 4,
        "guess; drag on a strip ∝ speed², textbook from memory", prior=nm(1, 3),
    )
    launder_wear: float = number(
        250, "Wear of one laundering", "cars", 0, 5000, "guess", prior=ln(60, 1000),
    )
    sets_owned: int = whole(3, "Cloth sets owned", "sets", 1, 20, "site's own")
    dry_set_at_opening: bool = flag(
        False, "A dry set is hung every morning", "site's own",
        advice="Otherwise the day starts with what the night left in the cloth.",
    )
    dry_set_moisture_kg_kg: float = number(
        0.05, "Moisture of a set put on dry", "moisture", 0, 1, "guess; weigh one strip",
    )
    set_change_min: float = number(
        35, "Time to change a set", "minutes", 5, 240, "guess", prior=ln(20, 60),
    )
    set_change_people: int = whole(2, "People to change a set", "people", 1, 10, "guess")
    set_change_cars: str = choice(
        "wait", "Cars during a change of set",
        {"wait": "wait, the belt stands", "unwiped": "pass with the wheel locked out, unwiped"},
        "guess; whatever the equipment's own manual and local code allow",
    )
    set_dry_h: float = number(
        16, "Hours a set off the wheel needs to dry", "hours", 1, 96, "guess", prior=ln(8, 32),
    )
    launder_turn_h: float = number(24, "Laundry turn-round", "hours", 1, 336, "guess")
    launder_every_days: int = whole(
        7, "Open days on the wheel between launderings", "days", 1, 120, "guess",
        advice="The set then goes to the laundry and the next dry one is hung before opening.",
    )
    order_lead_days: float = number(
        14, "Delivery time of a new set", "days", 0, 365, "guess", prior=ln(7, 28),
    )


AGENT_FILM = 0.8
"""Film with a drying agent ÷ without, where one is only looked at (a guess)."""
FIRST, SECOND = "first", "second"
"""Kinds of cloth that a site may hang."""


@dataclass(frozen=True, slots=True)
class SecondCloth:
    """A second kind of cloth beside the usual one.

    Its numbers are ratios to those of the usual cloth: what is not known of a site, such as how
    its wheel throws water off, is then the same for both, and only what sets them apart counts.
    """

    cloth_kind: str = choice(
        FIRST, "Cloth on the wheel", {FIRST: "the usual kind", SECOND: "the second kind"},
        "site's own",
    )
    second_cloth_called: str = words("second kind", "What the second kind is called", "site's own")
    second_mass_factor: float = number(
        1, "Second kind: dry mass of a strip ÷ the usual one’s", "factor", 0.2, 5, RATIO,
        advice="Weigh a dry strip of each.",
    )
    second_holding_factor: float = number(
        1, "Second kind: holding capacity ÷ the usual one’s", "factor", 0.2, 5, RATIO,
        advice="Soak both, let them drain until nothing drips, weigh: water per dry weight.",
    )
    second_throw_off_factor: float = number(
        1, "Second kind: moisture where throw-off ends ÷ the usual one’s", "factor", 0.1, 10, RATIO,
    )
    second_throw_off_time_factor: float = number(
        1, "Second kind: time of throw-off ÷ the usual one’s", "factor", 0.05, 20, RATIO,
    )
    second_uptake_factor: float = number(
        1, "Second kind: share a dry new cloth takes ÷ the usual one’s", "factor", 0.2, 3, RATIO,
    )
    second_life_factor: float = number(
        1, "Second kind: life ÷ the usual one’s", "factor", 0.05, 20, RATIO,
    )
    second_set_price: float = number(
        FOLLOWS, "Second kind: new set", "money", 0, 20000, "what your supplier asks",
        follows="the price of a new cloth set",
    )


@dataclass(frozen=True, slots=True)
class Stock:
    """New sets in store, how they are ordered, and how far a year may differ from the last."""

    spare_sets: int = whole(
        0, "New sets in store", "sets", 0, 100, "site's own",
        advice="Bought and not yet used; sets in rotation are not among them.",
    )
    sets_on_order: int = whole(0, "Sets on order", "sets", 0, 100, "site's own")
    order_lead_sd_days: float = number(
        4, "Delivery time, standard deviation", "days", 0, 120, "guess; your last deliveries",
    )
    stock_service: float = number(
        0.95, "Chance that a set is there when it is needed", "share", 0.5, 0.99,
        "guess; the owner's wish",
    )
    order_cost: float = number(40, "Cost of placing an order", "money", 0, 5000, "guess")
    holding_share: float = number(
        0.2, "Cost of keeping a set for a year, share of its price", "share", 0.01, 1, "guess",
        advice="Interest, room, and cloth that ages in store.",
    )
    least_order_sets: int = whole(1, "Fewest sets in an order", "sets", 1, 100, "guess")
    break_sets: int = whole(
        0, "First price break, from so many sets", "sets", 0, 1000, "guess (0: none)",
    )
    break_price: float = number(0, "Price of a set from there on", "money", 0, 20000, "guess")
    second_break_sets: int = whole(
        0, "Second price break, from so many sets", "sets", 0, 1000, "guess (0: none)",
    )
    second_break_price: float = number(
        0, "Price of a set from there on (second)", "money", 0, 20000, "guess"
    )
    year_level_cv: float = number(
        0.1, "How far a coming year's demand may lie from the last one's", "share", 0, 1,
        "guess; one year of counts can't tell", advice="One standard deviation.",
    )
