"""Where each figure of a plan comes from and what moves it, in plain words."""

from __future__ import annotations

from app.catalogue import _


def explained(name: str) -> str:
    """The explanation of a figure; empty for one that has none."""
    return _texts().get(name, "")


def _texts() -> dict[str, str]:
    """Said anew for every reader, because the language may differ."""
    return {
        "cars_arrived": _(
            "Cars that drive up, washed or not: the expected day, hour by hour, and the day’s own "
            "luck. The same cars come in every column."
        ),
        "cars_washed": _(
            "Cars whose tail has passed the wheel by the end of the day. Moved by arrivals, belt "
            "speed, spacing, pay lanes and loaders; by the wiping rule only when damp cars are "
            "washed again."
        ),
        "cars_lost": _(
            "Cars that find the stack full, and cars that think the wait too long and drive on. "
            "Nobody who has joined leaves again, so real losses may be larger. Moved by belt speed "
            "and spacing while the belt is the bottleneck, else by pay lanes and loaders."
        ),
        "cars_lost_full": _("Cars that come while the stack is at its limit."),
        "cars_lost_impatient": _(
            "Cars that expect to wait longer than they accept. How long people accept is a guess "
            "until the site enters its own."
        ),
        "cars_per_hour": _(
            "Cars leaving the tunnel in the busiest hour. It can’t exceed what the belt takes, nor "
            "what the loaders can load."
        ),
        "wait_p50_s": _("From driving up to the end of loading: half of the cars wait less."),
        "wait_p90_s": _("From driving up to the end of loading: 90 cars of 100 wait less."),
        "wait_p95_s": _(
            "From driving up to the end of loading. Cars that were lost did not wait and are not "
            "counted, so a shorter wait can come with more cars lost."
        ),
        "stack_max": _("The longest the stack gets at any moment of the day."),
        "stack_full_minutes": _(
            "Minutes with the stack at its limit; every car that comes is lost."
        ),
        "belt_use": _("Share of the belt’s pushers that carry a car, of those that could."),
        "damp_share": _(
            "Cars whose hood or windshield leaves with more water than allowed. Moved by how wet "
            "the cloth is (damp limit), how much water is on the car, and belt speed."
        ),
        "damp_cars": _("The same as a number of cars."),
        "rear_wet_share": _(
            "Cars whose roof or rear stays wetter than allowed; a reduced wipe leaves both alone."
        ),
        "rewashed_cars": _("Damp cars that were sent through again."),
        "finished_cars": _("Damp cars that somebody dried with a towel."),
        "full_share": _("Set by the wiping rule and by when cars come."),
        "saturation_mean": _(
            "Water in the cloth against what it can hold, mean of the open hours."
        ),
        "saturation_p95": _("Saturation is lower than this in 95 minutes of 100."),
        "saturation_max": _(
            "The wettest the cloth gets. Moved by cars per hour, full wipes, the air’s humidity "
            "and how much is flung off between cars."
        ),
        "over_damp_limit_minutes": _("Minutes with the cloth wetter than the damp limit."),
        "water_taken_kg": _("Water that the cloth took from cars over the day."),
        "water_thrown_kg": _("Water that rotation flung off the cloth."),
        "water_evaporated_kg": _("Water that dried out of the cloth into the tunnel’s air."),
        "wear_cars": _(
            "How far the cloth slid on cars, counted in fully wiped reference cars, with idle "
            "spinning added. Fewer full wipes wear it less."
        ),
        "staff_use": _("Work of the line against the people present."),
        "stops": _("Belt stops of the day, drawn from the site’s rate of stops."),
        "overtime_minutes": _("Minutes from closing until the last car is through."),
        "margin": _(
            "Takings less water, soap and power, wages, cloth wear, and what the site says a damp "
            "car, a reduced wipe and a lost car cost. Those costs are guesses until entered."
        ),
    }
