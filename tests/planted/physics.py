"""Faults to plant in the physics."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

MOISTURE = ("tests/physics/test_moisture.py",)
FILM = ("tests/physics/test_water_film.py",)
BELT = ("tests/physics/test_belt.py", "tests/published/test_cars93.py")
WEAR = ("tests/physics/test_wear.py",)
AIR = (
    "tests/physics/test_air.py", "tests/published/test_ashrae.py",
    "tests/published/test_incropera.py", "tests/published/test_geankoplis.py",
)  # fmt: skip

FAULTS: list[Fault] = [
    *faults_in(
        "sim/physics/moisture.py",
        MOISTURE,
        (
            "thrown += k * flung_s\n        evaporated += r * t",
            "thrown += k * flung_s\n        evaporated += r * left",
        ),
        ("both = k + q", "both = k"),
        ("to = max(x_c, x_e)", "to = x_e"),
        ("after = x - r * left", "after = x - q * left"),
        ("q * ((x_e - x_h) * t + flung_s)", "q * (x_e * t + flung_s)"),
        ("return min(holding, max(bound, limit)), rate", "return max(bound, limit), rate"),
        ("g_ratio_log = 2.0 * math.log", "g_ratio_log = math.log"),
        ("math.log1p(along) / rate", "math.log1p(along) / (2.0 * rate)"),
        ("held += 0.5 * (x + after) * t", "held += x * t"),
    ),
    *faults_in(
        "sim/physics/moisture.py",
        MOISTURE,
        ("z * (1.0 / 5040.0)", "z * (1.0 / 5140.0)"),
        ("z2 * (1.0 / 24.0 - ", "z2 * (1.0 / 24.0 + "),
    ),
    *faults_in(
        "sim/physics/moisture.py",
        FILM,
        ("return -math.expm1(-z)\n", "return math.expm1(-z)\n"),
    ),
    *faults_in(
        "sim/physics/water_film.py",
        FILM,
        ("/ (speed_m_s * wipe_time_s)", "/ wipe_time_s"),
        (
            "math.pow(ref_speed_m_s / speed_m_s, exponent)",
            "math.pow(speed_m_s / ref_speed_m_s, exponent)",
        ),
        ("min(1.0, wear_cars / life_scale_cars)", "wear_cars / life_scale_cars"),
        ("uptake_max * worn * soil_leaves", "uptake_max * worn"),
        ("soil_cars / 1000.0)", "soil_cars / 100.0)"),
        ("soil_cars * (1.0 - restores)", "soil_cars * restores"),
        ("room_kg = (holding - moisture) * mass_kg", "room_kg = holding * mass_kg"),
        (
            "return median_film_kg_m2 * (1.0 - kappa * (1.0 - damp_limit))",
            "return median_film_kg_m2 * (1.0 - kappa * damp_limit)",
        ),
    ),
    *faults_in(
        "sim/physics/belt.py",
        BELT,
        ("noses_m = max(spacing_m, ahead_length_m + least_gap_m)", "noses_m = spacing_m"),
        ("(noses_m - ahead_pushed_m + pushed_m)", "(noses_m + ahead_pushed_m - pushed_m)"),
        (
            "return math.ceil(travel_m / pitch_m - PUSHER_SLACK)",
            "return math.ceil(travel_m / pitch_m)",
        ),
    ),
    *faults_in(
        "sim/physics/wear.py",
        WEAR,
        ("abs(surface_speed_m_s - car_speed_m_s)", "abs(surface_speed_m_s + car_speed_m_s)"),
        (
            "return wet_factor * sliding_m / reference_sliding_m",
            "return sliding_m / reference_sliding_m",
        ),
        ("speed_rev_s / ref_speed_rev_s, exponent", "ref_speed_rev_s / speed_rev_s, exponent"),
        ("    if speed_rev_s <= 0.0:\n        return 0.0\n", ""),
    ),
    *faults_in(
        "sim/physics/air.py",
        AIR,
        ("(2501.0 - 2.361 * wet_bulb_c)", "(2501.0 + 2.361 * wet_bulb_c)"),
        ("math.cbrt(prandtl)", "math.sqrt(prandtl)"),
        ("return 2.0 * strips", "return strips"),
        (
            "h_w_m2k * area_m2 * (temp_c - wet_bulb_c) + heat_w",
            "h_w_m2k * area_m2 * (temp_c - wet_bulb_c)",
        ),
        ("outdoor + humid_share * (saturated - outdoor)", "outdoor + humid_share * saturated"),
    ),
    *faults_in(
        "sim/physics/air.py",
        ("tests/physics/test_wet_bulb.py",),
        ("    if found < 0.0:", "    if found < -9.0:"),
        ("(2501.0, 2.326, 4.186)", "(2501.0, 2.326, 2.1)"),
        ("NEAR_K, MOST_STEPS = 1e-6, 50", "NEAR_K, MOST_STEPS = 1e-1, 2"),
    ),
]
