"""Inputs of people and money: crew, work, what damp cars get, prices, and what matters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.inputs.entry import FOLLOWS, Steps, bt, choice, ln, number, steps, whole, words
from sim.inputs.line import TIMES

Role = Literal["greeter", "loader", "finisher", "dryer", "floater"]
"""What people do on the line; a site may have names of its own for each."""
ROLES: tuple[Role, ...] = ("greeter", "loader", "finisher", "dryer", "floater")
PRACTICE = "common practice, no source"
WANTED = "guess; the manager's wish"
WISHES = {
    "mean": "share leaving damp, on average",
    "days": "share leaving damp, 9 days of 10",
    "cost": "least cost",
}
"""What a wiping rule may be chosen by."""
SEASON_WIPING = {
    "full": "always full",
    "peak": "reduced between two times on peak days, else full",
    "clock": "reduced between two times every day",
    "reduced": "always reduced",
}
"""What may be counted on for a day without a plan."""
FINISH_ORDERS = {
    "first": "first come",
    "hood": "cars with a damp hood first",
    "members": "members first",
}
"""Which of the damp cars that wait a finisher takes next; among equals first come."""
MOST_FINISHERS = 20


@dataclass(frozen=True, slots=True)
class Crew:
    """People and their work."""

    people: Steps = steps(
        ((0.0, 4.0),), "People on the line", "people", 0, 60, "site's own",
        advice="Everybody paid, loaders included; by time: 3; 10:00 5; 18:00 3.",
    )
    prep_work_s: float = number(12, "Preparation work per car", "seconds", 0, 300, TIMES)
    load_work_s: float = number(18, "Loading work per car", "seconds", 0, 300, TIMES)
    exit_work_s: float = number(6, "Exit work per car", "seconds", 0, 300, TIMES)
    reduced_work_s: float = number(
        10, "Extra hand work per reduced car", "seconds", 0, 300, TIMES, prior=ln(3, 30),
    )
    finishers: Steps = steps(
        ((0.0, 0.0),), "People who only dry damp cars", "people", 0, MOST_FINISHERS, "site's own",
        advice="Behind the wheel, with towels, counted among the people on the line; by time: 0; "
        "10:00 2; 17:00 0.",
    )
    finish_area_s_m2: float = number(
        12, "Drying by hand, time by area", "seconds_per_area", 0, 120, "guess", prior=ln(6, 24),
        advice="A finisher’s time for each area of hood and windshield that is damp.",
    )
    finish_film_s_kg: float = number(
        200, "Drying by hand, time by water", "seconds_per_mass", 0, 2000, "guess",
        prior=ln(100, 400), advice="And for the water that was left on them.",
    )
    exit_patience_s: float = number(
        20, "Longest a damp car stands for a finisher", "seconds", 0, 60, "site's own",
        advice="Then it drives off damp. Keep the way out free by your own rules.",
    )
    finish_order: str = choice(
        "first", "Which damp car is dried next", FINISH_ORDERS, "site's own",
        advice="Of those that stand and wait.",
    )
    damp_rewash_share: float = number(
        0.03, "Damp cars re-washed", "share", 0, 1, "guess",
        advice="They go through the line again, ahead of waiting cars, and are not dried by hand "
        "before; after a re-wash no car goes again.",
    )
    rewash_return_s: float = number(
        120, "Way back to the loading point for a re-wash", "seconds", 0, 1800, "guess",
    )
    cue_delay_median_s: float = number(
        180, "From a cue to the act, median", "minutes_from_s", 0, 3600, "guess",
        advice="How late the crew switches the wiping after a clock time, a count or a weight.",
    )
    cue_delay_log_sd: float = number(
        0.6, "From a cue to the act, log spread", "number", 0, 2, "guess",
    )
    count_every_min: float = number(
        10, "Time between two counts of the last hour’s cars", "minutes", 0, 240, "guess",
        advice="0: at every car.",
    )
    count_log_sd: float = number(
        0.05, "Error of a count of the last hour’s cars", "share", 0, 0.6, "guess",
        advice="One standard deviation of a logarithm.",
    )
    weigh_every_min: float = number(
        30, "Time between two weighings of a strip", "minutes", 0, 480, "guess",
        advice="0: at every car. How long one takes, with the wheel locked out, is an input of its own.",
    )
    hoods_every_min: float = number(
        20, "Time between two looks at twenty hoods", "minutes", 0, 240, "guess",
        advice="How many of the last twenty cars left with a damp hood. 0: at every car.",
    )
    hood_misjudged_share: float = number(
        0.05, "Hoods told wrongly", "share", 0, 0.5, "guess", prior=bt(0.01, 0.2),
        advice="Dry ones taken for damp, or damp ones for dry.",
    )
    cue_cost_count_min: float = number(
        1, "Time for a count of the last hour’s cars", "minutes", 0, 60, "guess", prior=ln(0.3, 3),
        advice="A person’s, at the wage, whatever else there is to do.",
    )
    cue_cost_hoods_min: float = number(
        3, "Time for a look at twenty hoods", "minutes", 0, 60, "guess", prior=ln(1, 9),
        advice="A person’s, at the wage, whatever else there is to do.",
    )
    cue_cost_strip_min: float = number(
        10, "Time for a weighing of a strip", "minutes", 0, 60, "guess", prior=ln(4, 25),
        advice="A person’s, wheel stopped and locked out as your equipment’s manual says; the belt "
        "stands meanwhile, unless no car has been at the wheel for as long.",
    )
    opening_work_min: float = number(45, "Opening work", "minutes", 0, 240, PRACTICE)
    closing_work_min: float = number(60, "Closing work", "minutes", 0, 240, PRACTICE)
    fixed_work_min_per_h: float = number(
        10, "Fixed work in an open hour", "minutes", 0, 240, "guess",
        advice="Checks, cleaning, emptying bins: a person’s minutes, however many cars come.",
    )
    greeter_called: str = words(
        "greeter", "Who prepares cars before the belt", "site's own",
        advice="As people’s skills and the roster call it.",
    )
    loader_called: str = words("loader", "Who loads cars onto the belt", "site's own")
    finisher_called: str = words("finisher", "Who works behind the wheel", "site's own")
    dryer_called: str = words("dryer", "Who only dries damp cars", "site's own")
    floater_called: str = words("floater", "Who does fixed work and whatever is left", "site's own")
    min_crew: int = whole(2, "Fewest people while open", "people", 1, 20, PRACTICE)
    target_use: float = number(0.8, "Target use of a person", "share", 0.3, 1, PRACTICE)

    @property
    def called(self) -> dict[Role, str]:
        """What the site calls each role; two roles may have one name."""
        return {
            "greeter": self.greeter_called,
            "loader": self.loader_called,
            "finisher": self.finisher_called,
            "dryer": self.dryer_called,
            "floater": self.floater_called,
        }


@dataclass(frozen=True, slots=True)
class Money:
    """Prices and costs, and from where on a difference matters."""

    price_per_car: float = number(12, "Takings per car", "money", 0, 200, "guess")
    cost_per_car: float = number(2.5, "Water, soap, power per car", "money", 0, 100, "guess")
    rinse_agent_cost: float = number(
        0.15, "Drying agent, per car", "money", 0, 20, "guess",
        advice="Counted where the film with it is entered as other than 1 × that without.",
    )
    damp_cost: float = number(
        2, "Cost of a damp car", "money", 0, 100, "guess", prior=ln(0.7, 6),
        advice="Goodwill lost when a car of somebody who is no member is left damp.",
    )
    zone_minded_roof: float = number(
        0.2, "What a wet roof counts for, of a damp hood", "share", 0, 1,
        "guess; ask your customers",
        advice="Hood and windshield make a car damp and count 1. In the cost of every car.",
    )
    zone_minded_rear: float = number(
        0.4, "What a wet rear counts for, of a damp hood", "share", 0, 1,
        "guess; ask your customers",
    )
    reduced_cost: float = number(
        0, "Cost of a reduced wipe beside that", "money", 0, 50,
        "guess: none; what a wet roof and rear cost is counted by itself",
        advice="Refunds or complaints that come whether or not anything was left wet.",
    )
    lost_cost: float = number(
        FOLLOWS, "Cost of a lost car", "money", 0, 200, "what a car leaves",
        follows="takings per car less cost per car",
        advice="What is typed here holds, whatever a car brings.",
    )
    member_share: float = number(
        0.5, "Cars of members", "share", 0, 1, "guess; your own books tell",
        advice="Of all cars that come.",
    )
    member_margin_year: float = number(
        250, "What a member earns in a year", "money", 0, 5000, "guess",
        advice="Dues less what washing the member’s cars costs.",
    )
    member_leave_per_damp: float = number(
        0.005, "Chance that a member leaves, for each damp car", "share", 0, 1,
        "guess; nobody knows without years of members’ records", prior=ln(0.001, 0.025),
    )
    member_leave_per_ten_minutes: float = number(
        0.002, "Chance that a member leaves, for each 10 minutes waited", "share", 0, 1,
        "guess; nobody knows without years of members’ records", prior=ln(0.0004, 0.01),
        advice="A member who drives away counts as a wait as long as the patience was.",
    )
    wage_per_h: float = number(20, "Wage with on-costs", "money_per_hour", 0, 200, "guess")
    set_price: float = number(900, "New cloth set", "money", 0, 20000, "guess")
    towel_cost: float = number(
        0.2, "Towels of a car finished by hand", "money", 0, 50, "guess",
        advice="Laundering and wear of the towels; the time is counted as work.",
    )
    launder_price: float = number(15, "Laundering a set", "money", 0, 2000, "guess")
    unplanned_change_cost: float = number(
        500, "Extra cost of an unplanned change", "money", 0, 20000, "guess", prior=ln(200, 1250),
    )

    @property
    def lost_car_cost(self) -> float:
        """What a lost car costs [money]: as entered, else what a car leaves at today's prices."""
        if self.lost_cost == FOLLOWS:
            return self.price_per_car - self.cost_per_car
        return self.lost_cost


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the manager wants, and from where on a difference matters to them."""

    reduce_wish: str = choice(
        "mean", "What a wiping rule is chosen by", WISHES, WANTED,
        advice="By the first two as many cars as can be are fully wiped.",
    )
    allowed_damp_share: float = number(0.05, "Cars leaving damp allowed", "share", 0, 1, WANTED)
    allowed_wait_p90_s: float = number(
        720, "9 cars in 10 may wait at most", "minutes_from_s", 0, 14400, WANTED,
    )
    allowed_lost_cars: float = number(60, "Lost cars allowed a day", "cars", 0, 5000, WANTED)
    allowed_full_share: float = number(
        0.1, "Time with a full stack allowed", "share", 0, 1, WANTED,
        advice="Of each half-hour; while the stack is full every further car is lost.",
    )
    most_switches: int = whole(
        4, "Switches of the wiping rule a day, most", "number", 0, 40, WANTED,
        advice="Reducing and going back are a switch each.",
    )
    least_between_switches_min: float = number(
        15, "Time between two switches, least", "minutes", 0, 240, WANTED,
    )
    season_wiping: str = choice(
        "peak", "Wiping on days that have no plan of their own", SEASON_WIPING, "guess",
        advice="What the season counts on; a day with a plan goes by its first scenario.",
    )
    season_from_h: float = number(10, "Then reduced from", "clock_h", 0, 24, WANTED)
    season_to_h: float = number(17, "Then reduced to", "clock_h", 0, 24, WANTED)
    peak_days_share: float = number(
        0.1, "Share of open days that count as peak days", "share", 0.01, 0.5,
        "guess; the busiest by expected cars",
    )
    matters_cars: float = number(10, "Cars a day that matter", "cars", 0, 1000, WANTED)
    matters_wait_s: float = number(60, "Waiting time that matters", "minutes_from_s", 0, 3600, WANTED)
    matters_share: float = number(0.01, "Share of cars that matters", "share", 0, 1, WANTED)
    matters_saturation: float = number(0.03, "Saturation that matters", "share", 0, 1, WANTED)
    matters_money: float = number(50, "Money a day that matters", "money", 0, 100000, WANTED)
