"""Faults to plant in cloth, and what is learnt."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

LIFE = (
    "tests/learn/test_cloth_life.py", "tests/published/test_nist_handbook.py",
    "tests/published/test_meeker_escobar.py", "-k", "not often",
)  # fmt: skip
SETS = ("tests/learn/test_cloth_wear.py", "-k", "not simulated")
LOOKS = ("tests/learn/test_cloth_inspect.py",)
CHANGE = ("tests/decide/test_cloth_change.py", "tests/published/test_age_replacement.py")
YEAR = ("tests/decide/test_season.py",)
FUTURES = ("tests/decide/test_forecast.py",)
ORDERS = ("tests/decide/test_stock.py", "tests/published/test_inventory.py")
TURNS = ("tests/decide/test_rotation.py", "tests/published/test_finite_source.py")
OPTIONS = ("tests/decide/test_options.py", "-k", "not comparison")

WEIGHED = ("tests/learn/test_weigh_in.py", "tests/answers/test_weighings.py")
DAMP_SHARE = ("tests/day/test_damp_share.py",)

HOODS = ("tests/learn/test_uptake_loss.py",)
LAUNDER = ("tests/decide/test_launder.py",)
GUESSES = ("tests/decide/test_cloth_guesses.py",)

FAULTS: list[Fault] = [
    *faults_in(
        "sim/decide/cloth/launder.py",
        LAUNDER,
        ("return cars * self._leaves / (1.0 - self._leaves)", "return cars * self._leaves"),
        ("left + cars))) / cars", "left + cars))) / (cars + left)"),
        ("(intervals * self.at.laundering + soil)", "(self.at.laundering + soil)"),
        ("1.0 - (1.0 - self._worn) * (1.0 - soil[:, None])", "self._worn + soil[:, None]"),
        ("hours = 0.0 if wear.dry_set_at_opening", "hours = 0.0 if False"),
        ("if len(values[name]) > 1", "if len(values[name]) > 0"),
    ),
    *faults_in(
        "sim/learn/cloth_life.py",
        LIFE,
        ("total += log_beta - log_age + z", "total += log_beta + z"),
        ("        if life.failed:\n", "        if True:\n"),
        ("for _ in range(2 if told or more else 1):", "for _ in range(1):"),
        ("log_weight -= 0.5 * (", "log_weight -= 1.0 * ("),
        ("if life.wear_cars > 0.0]", "if life.wear_cars > 30_000.0]"),
    ),
    *faults_in(
        "sim/learn/cloth_life.py",
        LIFE,
        ("fall = 0.5 * float(chdtri(1, 1.0 - level))", "fall = float(chdtri(1, 1.0 - level))"),
        ("/ latest for life in lives]", "/ latest for life in lives if life.failed]"),
        ("- 1.0 / beta - mean", "- 1.0 / beta - 0.9 * mean"),
        ("len(told) - len(failed))", "len(told))"),
        ("- math.log(len(failed))) / beta", "- math.log(len(lives))) / beta"),
    ),
    *faults_in(
        "sim/learn/cloth_wear.py",
        SETS,
        ("Life(self.age_cars, self.reason == WORN)", 'Life(self.age_cars, self.reason != "")'),
        ('reason = item.cars_before, 0, ""', 'reason = 0.0, 0, ""'),
        ("launderings + 1, age + launder_wear", "launderings + 1, age"),
        ("soil_after_laundering(soil, ", "soil_after_laundering(0.0, "),
        (
            "list(item.wiped_m), list(item.wiped_m[:2])",
            "list(item.wiped_m[:2]), list(item.wiped_m)",
        ),
        ("<= (today, now_s)]", "<= (date.max, now_s)]"),
        ("sold * of_sold + (1.0 - sold) * of_rest", "of_rest"),
        ("np.sum(part * of_day(day))", "np.sum(of_day(day))"),
        ("share * float(days.wear(day).sum())", "float(days.wear(day).sum())"),
    ),
    *faults_in(
        "sim/learn/cloth_looks.py",
        LOOKS,
        ("look.wear_cars * np.exp(-log_eta)", "look.wear_cars * np.exp(log_eta)"),
        ("b=weights / weights.sum()", "b=np.full(len(weights), 1.0 / len(weights))"),
    ),
    *faults_in(
        "sim/learn/cloth_looks.py",
        HOODS,
        ("min(1.0, count.wear_cars / life_scale_cars)", "1.0"),
        ("-count.damp * np.logaddexp(0.0, -logit)", "-count.damp * np.logaddexp(0.0, logit)"),
        ("+ site + DAY_SD * nodes", "+ site"),
        ("site = SITE_SD * nodes[:, None]", "site = DAY_SD * nodes[:, None]"),
    ),
    *faults_in(
        "sim/decide/cloth/guesses.py",
        GUESSES,
        ('day["cost"] - left - day["cost_wear"]', 'day["cost"] - left'),
        ("left * damp_cost + np", "left + np"),
        ("excess = max(excess, rate / best.cost_rate - 1.0)", "excess = rate / best.cost_rate"),
        ("self.by_loss.cost_at(worn, damp_cost) @ weight", "worn @ weight"),
        ("if not loss.is_known:", "if True:"),
    ),
    *faults_in(
        "sim/decide/cloth/change.py",
        CHANGE,
        ("self.planned * lasts + self.unplanned", "self.planned + self.unplanned"),
        ("order = (power + 1.0) / beta", "order = power + 1.0 / beta"),
        ("total + self.damp[-1] * beyond", "total"),
        ("lengths @ posterior.weight", "lengths.mean(axis=1)"),
        ("least_rate > (1.0 - LEAST_SAVING) * at_failure", "least_rate > at_failure"),
        ("fails[i] - half[0] * found[i - 1]", "fails[i]"),
        ("costs.planned + costs.unplanned * renewals", "costs.planned + costs.planned * renewals"),
    ),
    *faults_in(
        "sim/decide/cloth/change.py",
        CHANGE,
        ("max(0.0, cars * hours - room)", "max(0.0, cars - room)"),
        ("self.cloth + self.work + self.lost + self.extra", "self.cloth + self.work + self.extra"),
        ("rate = parts * float(", "rate = float("),
        ("(parts + 1) / (2 * parts)", "1 / parts"),
    ),
    *faults_in(
        "sim/decide/cloth/advice.py",
        CHANGE,
        ("np.exp(log_lasts - log_lasts[0])", "np.exp(log_lasts)"),
    ),
    *faults_in(
        "sim/decide/cloth/season.py",
        YEAR,
        ('name=RULES[0], rule="full")', "name=RULES[0])"),
        ("[rules.index(rule) for rule in asked]", "[0 for rule in asked]"),
        (".tallies(rules, sets)", ".tallies(rules)"),
        ('max(known["last_s"], prices.close_s)', "prices.close_s"),
        ("[:, rule].sum(axis=0))", "[:, rule].mean(axis=0))"),
    ),
    *faults_in(
        "sim/decide/cloth/outlook.py",
        YEAR,
        ("np.argsort(-cars", "np.argsort(cars"),
        ("(at >= begins) & ((at - begins) % every == 0)", "(at - begins) % every == 0"),
    ),
    *faults_in(
        "sim/decide/cloth/outlook.py",
        FUTURES,
        ("on = (on + 1) % count", "on = 0"),
        ("            age[on] += wear.launder_wear\n", "            pass\n"),
        (
            "((age / eta) ** beta + rng.exponential(size=age.shape))",
            "(0.0 * age + rng.exponential(size=age.shape))",
        ),
        ("is_worn | (age[on] >= planned_age)", "age[on] >= planned_age"),
        ("age[on, is_off] = 0.0", "age[on] = 0.0"),
        ("latest_day(due - found.delivery_days, service)", "latest_day(due, service)"),
        ("in range(position, found", "in range(0, found"),
        ("level * wear.mean[day]", "wear.mean[day]"),
    ),
    *faults_in(
        "sim/decide/cloth/stock.py",
        ORDERS,
        ("0.5 * quantity_ * holding_share", "quantity_ * holding_share"),
        ("chance = under_cost / (", "chance = over_cost / ("),
        ("+ (per_day * lead_sd_days) ** 2", ""),
        ("low = max(1, from_, least)", "low = max(1, from_)"),
        ("sd)) < stock.stock_service:", "sd)) < 0.0:"),
        ("max(stock.spare_sets, new) + stock.sets_on_order", "stock.spare_sets + new"),
    ),
    *faults_in(
        "sim/decide/cloth/stock.py",
        TURNS,
        ("(min(n, servers) * repair_rate)", "repair_rate"),
        ("float(p[1] / (1.0 - p[0]))", "float(p[0])"),
        ("            now = back\n", ""),
        ("+ (wear.launder_turn_h if laundered else 0.0)", ""),
        ("heapq.heapreplace(ready, want.at_h + want.away_h)", "heapq.heappop(ready)"),
    ),
    *faults_in(
        "sim/decide/cloth/season.py",
        OPTIONS,
        ("* asked.count + option.each_year\n", "* asked.count\n"),
        ("all_day(site, 1)", "all_day(site, 2)"),
        ("return once / gain if gain", "return once if gain"),
        ("max(least, was * share)", "was * share"),
    ),
    *faults_in("sim/decide/cloth/answer.py", OPTIONS, ("min(kept, key=", "max(kept, key=")),
    *faults_in(
        "sim/learn/weigh_in.py",
        WEIGHED,
        (
            "first.setdefault((item.at_s, item.cars, item.damp_cars, item.kind == HOODS), place)",
            "first[item.at_s, item.cars, place, True] = place",
        ),
        ("size * seen, size * (1.0 - seen)", "size * seen, size * seen"),
        (
            "dry = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share, item.cars - item.damp_cars",
            "dry = MISJUDGED + (1.0 - 2.0 * MISJUDGED) * share, item.cars",
        ),
        ("WIDER_ERRORS * usual, usual)", "usual, usual)"),
        (
            "np.where(strange, 0.0, np.log(np.maximum(few, LEAST_PROBABILITY)))",
            "np.log(np.maximum(few, LEAST_PROBABILITY))",
        ),
        ("if item.kind == DAMP:", "if item.kind != DAMP:"),
        ("prior + power * log", "power * log"),
        (
            "weighed += averaged(of_draws)",
            "weighed += of_draws.sum(axis=0)",
        ),
        ("at_once = [w for w in weighings if w.at_once]", "at_once = list(weighings)"),
    ),
    *faults_in(
        "sim/learn/weighed_day.py",
        ("tests/learn/test_weighed_day.py", "tests/learn/test_weigh_in.py"),
        ("Night(day.evening, rule, night, 1)", "None"),
        ("factors * steps / np.maximum(made, 1.0)", "factors"),
        ("np.diff(wanted, prepend=0.0)", "wanted"),
        ("np.cumsum(shares)", "shares"),
    ),
    *faults_in(
        "sim/learn/weighed_day.py",
        ("tests/learn/test_weighed_day.py", "tests/answers/test_weighings.py"),
        ("if row.day == day:", "if row.day <= day:"),
        ("counted.get(h, n * scale)", "counted.get(h, n)"),
        ("expected >= MOST *", "expected >= 0.0 *"),
        ("cars >= rising[-1][1]", "cars >= 0"),
        ("if not expected.days:", "if expected.days:"),
        ("math.hypot(expected.level_cv, PICKED_CV)", "math.hypot(expected.level_cv)"),
        ("DemandSpread(0.0, expected.hour_cv)", "DemandSpread(0.0)"),
        ("math.hypot(of_day, spread.level_cv)", "of_day"),
    ),
    *faults_in(
        "sim/learn/weigh_in.py",
        ("tests/learn/test_measured_sites.py", "-k", "twenty"),
        ("binomial = xlogy(item.damp_cars, seen)", "binomial = xlogy(item.cars, seen)"),
    ),
    *faults_in(
        "sim/learn/spin.py",
        ("tests/learn/test_spin.py",),
        ("            since = until\n", ""),
        ("apart = offsets(usual)", "apart = 0.0 * offsets(usual)"),
    ),
    *faults_in(
        "sim/learn/towel.py",
        ("tests/learn/test_towel.py",),
        ("at + math.log(share)", "at - math.log(share)"),
    ),
    *faults_in(
        "sim/learn/weighed_day.py",
        DAMP_SHARE,
        ("uptake * cloth.soil_a_car", "cloth.soil_a_car"),
        ("uptake * cloth.soil_a_car**wiped_cars", "uptake"),
        ("np.minimum(moistures_kg_kg / cloth.holding, 1.0)", "moistures_kg_kg / cloth.holding"),
        ("[:, :2]).max(axis=1)", "[:, :1]).max(axis=1)"),
        ("highest / cloth.allowed_film)", "highest / cloth.allowed_film) * 1.1"),
        ("cloth.film_kg_m2[row] *", "cloth.film_kg_m2[0] *"),
        ("max(film_sigma(site.water.film_cv), 1e-9)", "film_sigma(site.water.film_cv)"),
    ),
]
