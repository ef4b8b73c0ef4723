"""Every problem of a site at once: ranges of single inputs, then rules that join several."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from sim.errors import InputProblem, Sentence
from sim.inputs import CLASS_INPUTS, INPUTS, Conditions, Site, Steps, VehicleClass, value_at
from sim.inputs.climate import MONTHS
from sim.inputs.roster import shift_problems
from sim.physics.air import tunnel_air
from sim.physics.water_film import wiping_share
from sim.units import Quantity, quantity, show_clock

SAFETY_WORDS = (
    "emergency", "e stop", "estop", "stop button", "kill switch", "pull cord", "guard",
    "safeguard", "interlock", "anticollision", "collision", "light curtain", "lightcurtain",
    "safety", "lock out", "lockout",
)  # fmt: skip
"""What names a safety device; no scenario is made for running on with a failed one. Each is the
beginning of one or more words, written with spaces whatever marks stand between them."""
_NAMES_SAFETY = re.compile(rf"\b(?:{'|'.join(SAFETY_WORDS)})")


SECOND_CLOTH = {
    "second_mass_factor": "strip_dry_mass_kg",
    "second_holding_factor": "holding_capacity_kg_kg",
    "second_throw_off_factor": "throw_off_moisture_kg_kg",
    "second_throw_off_time_factor": "throw_off_time_s",
    "second_uptake_factor": "uptake_max",
    "second_life_factor": "life_scale_cars",
}
"""Each ratio of the second kind of cloth, and the input of the usual kind that it belongs to."""

LENGTH_SPREADS = 3.0
"""No car is drawn further than this many spreads from its class's mean length."""


def check_site(site: Site) -> list[InputProblem]:
    """Every reason why a site can't be planned for; an empty list when there is none."""
    problems = [p for name, value in site.values().items() for p in INPUTS[name].problems(value)]
    problems += _check_identity(site)
    problems += [p for item in site.vehicles for p in _class_ranges(item)]
    if problems:
        return problems  # rules that join inputs would only repeat a value already refused
    rules: tuple[Callable[[Site], Iterable[InputProblem]], ...] = (
        _hours, _belt, _times, _vehicles, _moisture, _wheel, _damp_limit, _finishers, _orders,
        _second_cloth, _climate,
    )  # fmt: skip
    return [p for rule in rules for p in rule(site)] + shift_problems(site.shifts)


def check_conditions(site: Site, conditions: Conditions) -> list[InputProblem]:
    """Every reason why a day can't be simulated: wrong lengths, negative counts, frost, air."""
    problems: list[InputProblem] = []
    for name in ("arrivals_per_h", "temp_c", "humidity"):
        values = getattr(conditions, name)
        if len(values) != 24:
            sentence = "{field} has {count} hours. Give 24, one for each hour of the day."
            problems.append(InputProblem(name, sentence, {"field": name, "count": len(values)}))
    if problems:
        return problems
    for hour, cars in enumerate(conditions.arrivals_per_h):
        if not 0 <= cars <= 5000:
            sentence = "Cars arriving at {hour}:00 {value} can't be used. Enter 0 to 5,000."
            filling = {"hour": hour, "value": quantity(cars, "cars_per_hour", 4)}
            problems.append(InputProblem("arrivals_per_h", sentence, filling))
    for hour in open_hours(site):
        temp = conditions.temp_c[hour]
        if not 0 <= temp <= 55:
            sentence = (
                "Temperature {value} at {hour}:00 is outside what the model knows. Plan hours of "
                "{low} to {high}: below is frost, and ice is not in the model."
            )
            filling = {
                "value": quantity(temp, "temperature"),
                "hour": hour,
                "low": quantity(0, "temperature"),
                "high": quantity(55, "temperature"),
            }
            problems.append(InputProblem("temp_c", sentence, filling))
            continue
        if not 0 < conditions.humidity[hour] <= 1:
            sentence = "Humidity {value} at {hour}:00 can't be. Enter more than 0 % up to 100 %."
            filling = {"value": quantity(conditions.humidity[hour], "share", 4), "hour": hour}
            problems.append(InputProblem("humidity", sentence, filling))
            continue
        wet_bulb = _wet_bulb_c(site, temp, conditions.humidity[hour])
        if wet_bulb < 0:
            sentence = (
                "At {hour}:00 the air has {value}, but a wet bulb of {wet}: what is wet freezes, "
                "and ice is not in the model. Plan hours with a wet bulb from {low} up."
            )
            filling = {
                "hour": hour,
                "value": quantity(temp, "temperature"),
                "wet": quantity(wet_bulb, "temperature"),
                "low": quantity(0, "temperature"),
            }
            problems.append(InputProblem("temp_c", sentence, filling))
    opening = conditions.opening_moisture_kg_kg
    holding = site.wheel.holding_capacity_kg_kg
    if opening is not None and not 0 <= opening <= holding:
        sentence = (
            "Opening moisture {value} is more than the cloth holds. Enter 0 to {high}, "
            "the holding capacity."
        )
        filling = {
            "value": quantity(opening, "moisture"),
            "high": quantity(holding, "moisture", 3, "most"),
        }
        problems.append(InputProblem("opening_moisture_kg_kg", sentence, filling))
    return problems


NO_FROST_ABOVE_C = 25.0
"""Above it even bone-dry air leaves a wet thermometer above 0 °C, at any pressure of the table."""


def _wet_bulb_c(site: Site, temp_c: float, humidity: float) -> float:
    """Wet bulb [°C] of the colder of the air outdoors and in the tunnel; both wet cars and cloth.

    Above `NO_FROST_ABOVE_C` it is not worked out, and the air's own temperature stands for it.
    """
    drying = site.drying
    offset_k = min(0.0, drying.tunnel_temp_offset_k)
    if temp_c + offset_k > NO_FROST_ABOVE_C:
        return temp_c
    outdoors = tunnel_air(temp_c, humidity, drying.pressure_pa, 0.0, 0.0)[2]
    if offset_k == 0.0:
        return outdoors
    share = drying.tunnel_humid_share
    return min(outdoors, tunnel_air(temp_c, humidity, drying.pressure_pa, offset_k, share)[2])


def safety_problem(field: str, text: str) -> InputProblem | None:
    """The refusal of a text that names a safety device as failed; None for any other text."""
    if not _NAMES_SAFETY.search(re.sub(r"[\W_]+", " ", text.lower())):
        return None
    sentence = (
        "“{text}” names a safety device. No plan is made for running on without one: stop, lock "
        "out, and call licensed service. Only a failed height or presence reading that shapes "
        "the wiping can be planned for."
    )
    return InputProblem(field, sentence, {"text": text})


def or_refusal(field: str, text: str, problems: Sequence[InputProblem]) -> tuple[InputProblem, ...]:
    """The problems of a typed text; one that names a safety device is refused as such instead."""
    refusal = safety_problem(field, text)
    return tuple(problems) if refusal is None else (refusal,)


def open_hours(site: Site) -> range:
    """Clock hours that lie at least partly within opening time."""
    return range(int(site.line.open_h), min(24, math.ceil(site.line.close_h)))


def _orders(site: Site) -> Iterable[InputProblem]:
    """Price breaks that cost less for more, and hours of the season's wiping in their order."""
    stock, before_sets, before_price = site.stock, 0, site.money.set_price
    rows = (("break_sets", "break_price"), ("second_break_sets", "second_break_price"))
    for name, price_name in rows:
        sets, price = getattr(stock, name), getattr(stock, price_name)
        if sets == 0:
            continue
        if sets <= before_sets:
            sentence = "{label} {value} must be more than {before}, where the price before begins."
            filling = {"label": INPUTS[name].label, "value": sets, "before": before_sets}
            yield InputProblem(name, sentence, filling)
        if not 0 < price < before_price:
            sentence = "{label} {value} must be more than 0 and below {before}, the price before."
            filling = {
                "label": INPUTS[price_name].label,
                "value": quantity(price, "money"),
                "before": quantity(before_price, "money"),
            }
            yield InputProblem(price_name, sentence, filling)
        before_sets, before_price = sets, price
    wishes = site.wishes
    if wishes.season_wiping in ("clock", "peak") and wishes.season_to_h <= wishes.season_from_h:
        sentence = "{label} {value} must be after {before}, when reducing begins."
        filling = {
            "label": INPUTS["season_to_h"].label,
            "value": quantity(wishes.season_to_h, "clock_h"),
            "before": quantity(wishes.season_from_h, "clock_h"),
        }
        yield InputProblem("season_to_h", sentence, filling)


def _check_identity(site: Site) -> list[InputProblem]:
    problems = []
    if not 1 <= len(site.name.strip()) <= 60:
        sentence = "Name “{name}” can't be used. Enter 1 to 60 characters."
        problems.append(InputProblem("name", sentence, {"name": site.name}))
    if not site.vehicles:
        sentence = "There is no vehicle class. Enter at least one."
        problems.append(InputProblem("vehicles", sentence))
    keys = [item.key for item in site.vehicles]
    for key in sorted({k for k in keys if keys.count(k) > 1}):
        sentence = "Vehicle class “{key}” stands there twice. Give each its own short name."
        problems.append(InputProblem("vehicles", sentence, {"key": key}))
    for key in keys:
        if not key or not all(c.isascii() and (c.isalnum() or c == "_") for c in key):
            sentence = "Short name “{key}” can't be used. Use letters, digits and underscores."
            problems.append(InputProblem("vehicles", sentence, {"key": key}))
    if site.vehicles and site.reference_class not in keys:
        sentence = "Reference class “{key}” is not among the vehicle classes. Use one of {keys}."
        filling = {"key": site.reference_class, "keys": ", ".join(keys)}
        problems.append(InputProblem("reference_class", sentence, filling))
    return problems


def _class_ranges(item: VehicleClass) -> list[InputProblem]:
    found = []
    for name, row in CLASS_INPUTS.items():
        for problem in row.problems(getattr(item.numbers, name)):
            field = class_field(item.key, name)
            values = {**problem.values, "class": item.label}
            found.append(InputProblem(field, "{class}: " + problem.sentence, values))
    return found


def class_field(key: str, name: str) -> str:
    """Name under which an input of a vehicle class is reported and edited."""
    return f"vehicle.{key}.{name}"


_LIMITS = {"low": "least", "high": "most"}


def _amounts(site: Site, **names: str) -> dict[str, object]:
    """Fillings of a sentence by the names of inputs; "low" and "high" bound what may be entered."""
    amounts: dict[str, object] = {}
    for gap, name in names.items():
        value = site.value(name)
        limit = _LIMITS.get(gap, "")
        amounts[gap] = (
            value if isinstance(value, tuple) else INPUTS[name].amount(float(value), limit)
        )
    return amounts


def _hours(site: Site) -> Iterable[InputProblem]:
    if site.line.close_h <= site.line.open_h:
        sentence = "Last car accepted {close} is not after opening {open}. Enter a later hour."
        yield InputProblem("close_h", sentence, _amounts(site, close="close_h", open="open_h"))


def _belt(site: Site) -> Iterable[InputProblem]:
    line = site.line
    length = site.reference.numbers.length_m
    if line.car_spacing_m < length:
        sentence = (
            "Car spacing {value} is shorter than the reference car, {car} of {length}. "
            "Enter {low} or more."
        )
        filling = _amounts(site, value="car_spacing_m") | {
            "car": site.reference.label,
            "length": quantity(length, "length", 4),
            "low": quantity(length, "length", 4, "least"),
        }
        yield InputProblem("car_spacing_m", sentence, filling)
    ends = "slowest_belt_m_s", "fastest_belt_m_s"
    sentence = "Slowest belt {value} is above the fastest, {high}. Enter {high} or less."
    problems = [*_at_most(site, *ends, sentence)]
    if not problems:
        speeds = [("conveyor_speed_m_s", line.conveyor_speed_m_s)]
        speeds += [("speed_timetable", speed) for _, speed in line.speed_timetable]
        problems += _by_the_manual(site, speeds, *ends)
    yield from problems


def _climate(site: Site) -> Iterable[InputProblem]:
    normals = site.climate.normals
    for month, low, high in zip(MONTHS, normals.low_c, normals.high_c, strict=True):
        if low > high:
            own = "usual_low_c" if site.climate.usual_low_c else "usual_high_c"
            sentence = (
                "{label}: in {month} the lowest temperature, {low}, is above the highest, {high}. "
                "Correct one of the two months."
            )
            filling = {
                "label": INPUTS[own].label,
                "month": Sentence(month),
                "low": quantity(low, "temperature"),
                "high": quantity(high, "temperature"),
            }
            yield InputProblem(own, sentence, filling)
            return


def _second_cloth(site: Site) -> Iterable[InputProblem]:
    """Numbers of the second kind that no cloth could have."""
    for name, of in SECOND_CLOTH.items():
        ratio, usual, row = float(str(site.value(name))), float(str(site.value(of))), INPUTS[of]
        if ratio == 1.0 or row.low <= ratio * usual <= row.high:
            continue
        sentence = (
            "{label} {value} would make “{of}” {product}, outside what can be used. "
            "Enter {low} to {high}."
        )
        yield InputProblem(
            name,
            sentence,
            {
                "label": INPUTS[name].label,
                "value": INPUTS[name].amount(ratio),
                "of": row.label,
                "product": row.amount(ratio * usual),
                "low": INPUTS[name].amount(row.low / usual, "least"),
                "high": INPUTS[name].amount(row.high / usual, "most"),
            },
        )
    ends, holds = site.second.second_throw_off_factor, site.second.second_holding_factor
    wheel = site.wheel
    most = holds * wheel.holding_capacity_kg_kg / wheel.throw_off_moisture_kg_kg
    if ends > holds and ends > most * (1.0 + 1e-9):
        sentence = (
            "{label} {value} would let throw-off end above the holding capacity of that cloth. "
            "Enter {high} or less."
        )
        row = INPUTS["second_throw_off_factor"]
        filling = {
            "label": row.label,
            "value": row.amount(ends),
            "high": row.amount(most, "most"),
        }
        yield InputProblem("second_throw_off_factor", sentence, filling)


def _at_most(site: Site, name: str, limit: str, sentence: str) -> Iterable[InputProblem]:
    """An input above another one, with what is said of it."""
    if float(str(site.value(name))) > float(str(site.value(limit))):
        yield InputProblem(name, sentence, _amounts(site, value=name, high=limit))


def _by_the_manual(
    site: Site, speeds: Iterable[tuple[str, float]], low: str, high: str
) -> Iterable[InputProblem]:
    """Speeds, by the inputs that they are entered in, which the equipment's manual rules out."""
    slowest, fastest = float(str(site.value(low))), float(str(site.value(high)))
    sentence = (
        "{label} {value} is outside what the equipment's own manual allows by your "
        "entry. Enter {low} to {high}, or correct that entry from the manual."
    )
    for name, speed in speeds:
        if not slowest <= speed <= fastest:
            amounts = _amounts(site, low=low, high=high)
            amounts |= {"label": INPUTS[name].label, "value": INPUTS[name].amount(speed)}
            yield InputProblem(name, sentence, amounts)


def _times(site: Site) -> Iterable[InputProblem]:
    for stem, kind in (
        ("quick_pay", site.pay.quick_pay_kind),
        ("slow_pay", site.pay.slow_pay_kind),
        ("load", site.pay.load_kind),
    ):
        name = f"{stem}_measured_s"
        if kind == "measured" and not site.value(name):
            sentence = "{label}: none are entered. Enter at least one, or choose another kind."
            yield InputProblem(name, sentence, {"label": INPUTS[name].label})
    for name in ("pay_lanes", "loaders", "people", "finishers"):
        table = site.value(name)
        if not table:
            sentence = "{label}: nothing was entered. Enter {low} to {high}."
            row = INPUTS[name]
            yield InputProblem(name, sentence, {"label": row.label, **row.limits()})
        yield from _whole_steps(name, table if isinstance(table, tuple) else ())


def _whole_steps(name: str, table: Steps | tuple[float, ...]) -> Iterable[InputProblem]:
    for row in table:
        amount = row[1] if isinstance(row, tuple) else row
        if amount != int(amount):
            sentence = "{label} {value} is not a whole number. Enter {low} to {high}."
            entry = INPUTS[name]
            filling = {"label": entry.label, "value": entry.amount(amount), **entry.limits()}
            yield InputProblem(name, sentence, filling)


def _vehicles(site: Site) -> Iterable[InputProblem]:
    total = math.fsum(item.numbers.share for item in site.vehicles)
    if abs(total - 1.0) > 1e-6:
        sentence = "The shares of the vehicle classes sum to {total}. Make them sum to 100 %."
        filling: Mapping[str, object] = {"total": Quantity(total, INPUTS["film_cv"].unit, 5)}
        for item in site.vehicles:
            yield InputProblem(class_field(item.key, "share"), sentence, filling)
    for item in site.vehicles:
        numbers = item.numbers
        reach = numbers.hood_start_m + math.fsum(item.wiped_m)
        if reach > numbers.length_m:
            sentence = (
                "{class}: hood start and wiped lengths sum to {reach}, more than the car's "
                "length, {length}. Shorten a wiped length or enter a longer car."
            )
            filling = {
                "class": item.label,
                "reach": quantity(reach, "length"),
                "length": quantity(numbers.length_m, "length"),
            }
            yield InputProblem(class_field(item.key, "hood_wiped_m"), sentence, filling)
        shortest = shortest_m(item)
        if numbers.pushed_wheel_m >= shortest:
            sentence = "{class}: the pushed wheel at {at} is behind the car. Enter less than {end}."
            filling = {
                "class": item.label,
                "at": quantity(numbers.pushed_wheel_m, "length"),
                "end": quantity(shortest, "length", 3, "most"),
            }
            yield InputProblem(class_field(item.key, "pushed_wheel_m"), sentence, filling)
        if numbers.hood_area_m2 <= 0 or numbers.windshield_area_m2 <= 0:
            sentence = (
                "{class}: hood and windshield need an area above 0, for damp is judged there."
            )
            field = class_field(item.key, "hood_area_m2")
            yield InputProblem(field, sentence, {"class": item.label})


def _moisture(site: Site) -> Iterable[InputProblem]:
    holding = "holding_capacity_kg_kg"
    sentence = (
        "Moisture where throw-off ends {value} is above the holding capacity. Enter {high} or less."
    )
    yield from _at_most(site, "throw_off_moisture_kg_kg", holding, sentence)
    for name in ("critical_moisture_kg_kg", "throw_off_moisture_kg_kg"):
        if site.drying.bound_moisture_kg_kg >= float(str(site.value(name))):
            sentence = (
                "Moisture that does not dry off {value} is not below “{label}”. "
                "Enter less than {limit}."
            )
            amounts = _amounts(site, value="bound_moisture_kg_kg", limit=name)
            amounts["label"] = INPUTS[name].label
            yield InputProblem("bound_moisture_kg_kg", sentence, amounts)
    sentence = (
        "Moisture below which drying slows {value} is above the holding capacity. "
        "Enter {high} or less."
    )
    yield from _at_most(site, "critical_moisture_kg_kg", holding, sentence)
    sentence = (
        "Moisture of a set put on dry {value} is above the holding capacity. Enter {high} or less."
    )
    yield from _at_most(site, "dry_set_moisture_kg_kg", holding, sentence)


def _wheel(site: Site) -> Iterable[InputProblem]:
    wheel = site.wheel
    if wheel.strip_length_m >= wheel.wheel_radius_m:
        sentence = "Strip length {value} reaches past the wheel's axle. Enter less than {radius}."
        amounts = _amounts(site, value="strip_length_m")
        amounts["radius"] = INPUTS["strip_length_m"].amount(wheel.wheel_radius_m, "most")
        yield InputProblem("strip_length_m", sentence, amounts)
    ends = "slowest_wheel_rev_s", "fastest_wheel_rev_s"
    sentence = "Slowest wheel {value} is above the fastest, {high}. Enter {high} or less."
    problems = [*_at_most(site, *ends, sentence)]
    if not problems:
        names = ("contact_speed_rev_s", "idle_speed_rev_s")
        speeds = [(name, float(str(site.value(name)))) for name in names]
        problems += _by_the_manual(site, speeds, *ends)
    yield from problems


def _damp_limit(site: Site) -> Iterable[InputProblem]:
    # with no blower every car may come out damp, and that is what a plan for it must show
    if not site.wiping.is_judged_by_film or site.water.blower_removal == 0:
        return
    dry_left = dry_cloth_leaves(site)
    if site.wiping.allowed_film_kg_m2 <= dry_left:
        sentence = (
            "Allowed film {value} is less than what even a dry cloth leaves here. "
            "Enter more than {low}."
        )
        filling = _amounts(site, value="allowed_film_kg_m2") | {
            "low": quantity(dry_left, "film", 3, "least")
        }
        yield InputProblem("allowed_film_kg_m2", sentence, filling)


def shortest_m(item: VehicleClass) -> float:
    """Length below which no car of a class is drawn [m]: its zones must fit on it."""
    numbers = item.numbers
    reach = numbers.hood_start_m + math.fsum(item.wiped_m)
    return max(numbers.length_m - LENGTH_SPREADS * numbers.length_sd_m, reach)


def site_median_film(site: Site) -> float:
    """Median film on the hood at the blower's reference speed [kg/m²]."""
    water = site.water
    return water.film_factor_hood * water.film_after_rinse_kg_m2 * (1.0 - water.blower_removal)


def site_kappa(site: Site) -> float:
    """Share that dry new cloth takes at the blower's reference speed, κ."""
    return wiping_share(
        site.wiping.uptake_max,
        site.wiping.contact_patch_m,
        site.water.blower_reference_speed_m_s,
        site.wiping.wipe_time_s,
    )


def dry_cloth_leaves(site: Site) -> float:
    """Film that dry new cloth leaves of the median on the reference car's hood [kg/m²]."""
    return site_median_film(site) * (1.0 - site_kappa(site))


def _finishers(site: Site) -> Iterable[InputProblem]:
    people, finishers = site.crew.people, site.crew.finishers
    if not (people and finishers):
        return
    for moment in sorted({row[0] for row in (*people, *finishers)}):
        there, drying = value_at(people, moment), value_at(finishers, moment)
        if drying > there:
            sentence = (
                "{label}: {value} from {time} are more than the people on the line then, {people}. "
                "Enter {people} or less from then on, or more people."
            )
            filling = {
                "label": INPUTS["finishers"].label,
                "value": INPUTS["finishers"].amount(drying),
                "time": show_clock(moment),
                "people": INPUTS["people"].amount(there),
            }
            yield InputProblem("finishers", sentence, filling)
            return
