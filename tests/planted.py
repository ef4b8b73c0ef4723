"""Faults to plant, one at a time, and the tests that must notice them."""

from __future__ import annotations

from dataclasses import dataclass

AGREE = (
    "tests/day/test_kernel.py",
    "-k",
    "at_once or every_feature or switch or just_met",
)
MOISTURE = ("tests/physics/test_moisture.py",)
FILM = ("tests/physics/test_water_film.py",)
BELT = ("tests/physics/test_belt.py", "tests/published/test_cars93.py")
WEAR = ("tests/physics/test_wear.py", "tests/published/test_archard.py")
AIR = (
    "tests/physics/test_air.py", "tests/published/test_ashrae.py",
    "tests/published/test_incropera.py", "tests/published/test_geankoplis.py",
)  # fmt: skip


MANY = ("tests/day/test_many.py", "-k", "trace or switches or forgets")
CREW = ("tests/day/test_kernel.py", "-k", "crew")
CUES = ("tests/day/test_cues.py",)
SWITCH_CUES = ("tests/decide/test_switch_cues.py",)
FORESIGHT = ("tests/decide/test_best_possible.py", "-k", "least_cost")
SELECTION = ("tests/decide/test_selection.py", "-k", "not honest")


LIFE = (
    "tests/learn/test_cloth_life.py", "tests/published/test_nist_handbook.py",
    "tests/published/test_meeker_escobar.py", "-k", "not often",
)  # fmt: skip
SETS = ("tests/learn/test_cloth_wear.py", "-k", "not simulated")
LOOKS = ("tests/learn/test_cloth_inspect.py",)
CHANGE = ("tests/decide/test_cloth_change.py", "tests/published/test_age_replacement.py")
QUEUES = (
    "tests/published/test_erlang.py", "tests/published/test_halfin_whitt.py",
    "tests/published/test_eick_massey_whitt.py", "tests/decide/test_staff_queues.py",
    "-k", "not by_its_equations",
)  # fmt: skip
STAFF_WORK = (
    "tests/decide/test_staff_needs.py", "-k",
    "timetables or figures_of_the_day or stretch or follow or covered or helps or upper or paired or busiest",
)  # fmt: skip
NEEDS = (
    "tests/decide/test_staff_needs.py",
    "-k",
    "too_slow or loader_fewer or belt_is or judged or begin_where",
)
STAFF_ANSWER = ("tests/decide/test_staff_needs.py", "-k", "answer_adds_up or paired")
RECORD = ("tests/services/test_cloth.py", "-k", "beside or files or lines")
ROSTER = (
    "tests/decide/test_roster.py", "tests/decide/test_roster_conflicts.py",
    "tests/services/test_roster.py", "-k", "not large and not drawn",
)  # fmt: skip
COVERING = ("tests/published/test_covering.py",)

YEAR = ("tests/decide/test_season.py",)
FUTURES = ("tests/decide/test_forecast.py",)
ORDERS = ("tests/decide/test_stock.py", "tests/published/test_inventory.py")
TURNS = ("tests/decide/test_rotation.py", "tests/published/test_finite_source.py")
OPTIONS = ("tests/decide/test_options.py", "-k", "not comparison")
SEASON = ("tests/services/test_season.py", "-k", "peak_days or stored_plan")
CALENDAR = ("tests/services/test_calendar_book.py", "tests/published/test_rfc5545.py")
SHEETS = ("tests/services/test_sheets.py",)


@dataclass(frozen=True, slots=True)
class Fault:
    """A text of a file that is replaced, and the tests of which one must fail."""

    path: str
    old: str
    new: str
    tests: tuple[str, ...]


def _in(path: str, tests: tuple[str, ...], *pairs: tuple[str, str]) -> list[Fault]:
    return [Fault(path, old, new, tests) for old, new in pairs]


KERNEL = "sim/day/kernel/"
FAULTS: list[Fault] = [
    *_in(
        KERNEL + "line.py", AGREE,
        ("rows.line[row, LOST] = LOST_FULL", "rows.line[row, LOST] = LOST_IMPATIENT"),
        ("waiting >= line.stack_limit", "waiting > line.stack_limit"),
        (") > cars.patience_s[car]:", ") >= cars.patience_s[car]:"),
        ("CAUGHT] <= now - MEMORY_S", "CAUGHT] < now - MEMORY_S"),
        ("now - line.open_s >= MEMORY_S", "now - line.open_s > MEMORY_S"),
        ("_waiting(front, READY) < line.places", "_waiting(front, READY) <= line.places"),
        (
            "_waiting(front, STACK) + _waiting(front, RETURNED)\n",
            "_waiting(front, STACK)\n",
        ),
        ("line.loader_from[at + 1] <= now", "line.loader_from[at + 1] < now"),
        (
            "        if _waiting(front, RETURNED):\n            row = _pop(front, RETURNED)\n"
            "        elif _waiting(front, BLOCKED):\n            row = _pop(front, BLOCKED)\n",
            "        if _waiting(front, BLOCKED):\n            row = _pop(front, BLOCKED)\n"
            "        elif _waiting(front, RETURNED):\n            row = _pop(front, RETURNED)\n",
        ),
        ("pusher = max(pusher, rows.line[ahead, PUSHER] + apart)", "pusher = max(pusher, apart)"),
        ("cars.length_m[ahead_car],", "cars.length_m[car],"),
        ("travel = nose + cars.length_m[car]", "travel = travel + 0.0"),
    ),
    *_in(
        KERNEL + "run.py", AGREE,
        ("if front.due[PAYMENT] <= now:", "if front.due[PAYMENT] < now:"),
        ("if returns <= now:", "if returns < now:"),
        ("if front.due[LOADER] <= now:", "if front.due[LOADER] < now:"),
        ("if lanes <= now:", "if lanes < now:"),
        ("rows.times[row, HOOD] = now + cloth.change_s", "rows.times[row, HOOD] = now"),
        ("served, met, last = served + 1, False, now", "served, met = served + 1, False"),
        ("rest_s = max(last, line.close_s) + line.spin_s", "rest_s = last + line.spin_s"),
    ),
    *_in(
        KERNEL + "belt.py", AGREE,
        ("cars.clock_start_s[clock] <= end:", "cars.clock_start_s[clock] < end:"),
        ("end = max(end, belt.end_s[at])", "end = max(end, 0.0)"),
        ("starts[row + 1] <= moment_s", "starts[row + 1] < moment_s"),
        ("return belt.travel_m[at] + belt.speed[at] * (now", "return belt.travel_m[at] + 0.9 * belt.speed[at] * (now"),
    ),
    *_in(
        KERNEL + "deciding.py", AGREE,
        ("saturation >= rule.bands[band, 0]", "saturation > rule.bands[band, 0]"),
        ("elif saturation <= rule.bands[band, 1]:", "elif saturation <= rule.bands[band, 0]:"),
        ("elif saturation <= rule.bands[band, 1]:", "elif saturation < rule.bands[band, 1]:"),
        ("<= now < rule.windows[window, 1]", "< now <= rule.windows[window, 1]"),
    ),
    *_in(
        KERNEL + "deciding.py", CREW,
        ("HOOD] <= now - HOUR_S", "HOOD] <= now - HOUR_S / 2.0"),
        ("places[OLDEST] = seen + 1, oldest", "places[OLDEST] = seen, oldest"),
        ("    if memory[DUE] <= now:\n        memory[ON]", "    if memory[DUE] < now:\n        memory[ON]"),
        ("if now < memory[NEXT_LOOK]:", "if now <= memory[NEXT_LOOK]:"),
        ("    if memory[DUE] != math.inf:\n        return\n", ""),
        ("memory[LOOKS] += 1.0", "memory[LOOKS] += 0.0"),
        ("memory[ACTS] += 1.0", "memory[ACTS] += 0.0"),
        ("reading = counted * off", "reading = counted"),
        ("crew.strip_holding_kg * saturation * off", "crew.strip_holding_kg * saturation"),
        ("memory[ON] == 0.0 and reading >= upper", "memory[ON] == 0.0 and reading > upper"),
        ("memory[ON] == 1.0 and reading <= lower", "memory[ON] == 1.0 and reading < lower"),
        ("wiped.watches[first, ON] == 1.0", "wiped.watches[0, ON] == 1.0"),
    ),
    *_in(
        KERNEL + "deciding.py", MANY,
        ("wiped.watches[watch, :] = 0.0", "wiped.watches[watch, :] += 0.0"),
        ("wiped.places[SEEN] = wiped.places[OLDEST] = 0", "wiped.places[OLDEST] = 0"),
    ),
    *_in(
        "sim/day/cues.py", CUES,
        ("self._hoods[0] <= now_s - HOUR_S", "self._hoods[0] < now_s - HOUR_S"),
        ("if self._due_s <= now_s:", "if self._due_s < now_s:"),
        ("self._due_s == math.inf and self._is_reached", "self._is_reached"),
        ("now_s >= self._next_look_s", "now_s > self._next_look_s"),
        ("reading <= self._cue.lower", "reading < self._cue.lower"),
        ("reading >= self._cue.upper", "reading > self._cue.upper"),
        ("        self._hoods.append(now_s)", "        self._hoods.appendleft(now_s)"),
    ),
    *_in(
        "sim/decide/switching/cue_grid.py", SWITCH_CUES,
        ("hoods - HOUR_S, side", "hoods - 2.0 * HOUR_S, side"),
        ("(up if now else down)", "(down if now else up)"),
        ("edges.append(_moved(start, early) if start > opens else start)", "edges.append(_moved(start, early))"),
        ("if len(up) < FEWEST:", "if len(up) < 1:"),
    ),
    *_in(
        "sim/decide/switching/cues.py", SWITCH_CUES,
        ("take_apart(self.of(other) - self.of(own))", "take_apart(self.of(own) - self.of(other))"),
        (" + SITES.blocks\n", "\n"),
        ("crossed_draws(question, measured, first + tried.blocks)", "crossed_draws(question, measured, first)"),
        ("-column(table, COST)", "column(table, COST)"),
        ("seen.worth - self._price * seen.burdens[1]", "seen.worth + self._price * seen.burdens[1]"),
    ),
    *_in(
        "sim/day/crew.py", CUES,
        ("edge <= crew.opens_s", "edge < crew.opens_s"),
        ("max(act, done[-1])", "act"),
        ("np.exp(crew.count_log_sd *", "np.exp(0.0 * crew.count_log_sd *"),
        ("np.exp(wheel.strip_log_sd *", "np.exp(wheel.weigh_in_log_sd *"),
        ("crew.weigh_every_min * 60.0", "crew.weigh_every_min"),
    ),
    *_in(
        KERNEL + "wheel.py", AGREE,
        ("cloth.holding >= rule.changes_at[following]", "cloth.holding > rule.changes_at[following]"),
        ("wheel, end = STILL, min(end", "wheel, end = IDLE, min(end"),
        ("wheel = CONTACT if touching else IDLE", "wheel = IDLE"),
        ("reduced and zone > 1", "reduced and zone > 0"),
        ("state[SET_WEAR] = cloth.set_wear_cars\n    state[LOCKED_UNTIL] = now", "state[LOCKED_UNTIL] = now"),
        ("return AGAIN if turn == 1 else TOWEL", "return AGAIN if turn == 1 else LEAVES"),
        ("cloth.drying[hour % 24, wheel]", "cloth.drying[7, wheel]"),
    ),
    *_in(
        KERNEL + "stats.py", AGREE,
        ("if pays <= now:\n        ", "if pays < now:\n        "),
        ("rank = (count - 1) * (percent / 100.0)", "rank = count * (percent / 100.0)"),
        ("if hour < last_open:", "if hour <= last_open:"),
    ),
    *_in(
        KERNEL + "many.py", MANY,
        ("whom != before:", "whom > before:"),
        ("wiped.places[at] = 0", "wiped.places[at] += 0"),
        ("if rows.line[row, TURN] == 1:", "if rows.line[row, TURN] >= 1:"),
    ),
    *_in(
        KERNEL + "hindsight.py", FORESIGHT,
        ("after[node + 1] - max(0.0, above - x)", "after[node + 1]"),
        ("if x0 <= x1:", "if x0 > x1:"),
        ("worth = value[here, one] + gain[car, way]", "worth = value[here, one] + gain[car, 0]"),
    ),
    *_in(
        "sim/decide/switching/selection.py", SELECTION,
        ("(worth >= best - aim.slack)", "(worth >= best)"),
        ("excess <= least + 1.0", "excess <= least"),
        ("np.where(excess <= 0.0, worth, -np.inf)", "np.where(excess <= 1.0, worth, -np.inf)"),
        ("sorted(best | self._stay)", "sorted(best)"),
        ("if likely[one] > own]", "if likely[one] < own]"),
        ("np.flatnonzero(likely >= FAIR * likely.max())", "np.arange(len(likely))"),
        ("if returns and pool.take_back", "if not returns and pool.take_back"),
    ),
    *_in(
        "sim/day/tunnel/model.py", AGREE,
        ("yield Later(env, 0.0, AFTER_RETURNS)", "yield Later(env, 0.0, AFTER_PAYMENTS)"),
        ("sorted(self.paid, key=_lane)", "sorted(self.paid, key=_lane, reverse=True)"),
        ("caught[0] <= now - MEMORY_S", "caught[0] < now - MEMORY_S"),
        ("waiting >= self.site.pay.stack_limit_cars", "waiting > self.site.pay.stack_limit_cars"),
        ("car.fate = REWASHED if car.turn == 1 else FINISHED", "car.fate = REWASHED if car.turn == 1 else LEFT"),
    ),
    *_in(
        "sim/day/tunnel/waiting.py", AGREE,
        ("len(self._line) < self._places", "len(self._line) <= self._places"),
        ("waiting := self._again or self._blocked", "waiting := self._blocked or self._again"),
    ),
    *_in(
        "sim/day/belt_time.py", AGREE,
        ("self.stops[-1] = (start, max(end, end_s))", "self.stops[-1] = (start, end_s)"),
        ("row = bisect.bisect_right(self._changes, now)", "row = bisect.bisect_left(self._changes, now)"),
    ),
    *_in(
        "sim/day/wheel_cloth.py", AGREE,
        ("self._first_stop += 1", "self._first_stop += 2"),
        ("state, end = STILL, min(end, self._locked_until)", "state, end = IDLE, min(end, self._locked_until)"),
        ("return now_s < self._locked_until - LOCK_SLACK_S", "return False"),
    ),
    *_in(
        "sim/physics/moisture.py", MOISTURE,
        ("thrown += k * flung_s\n        evaporated += r * t", "thrown += k * flung_s\n        evaporated += r * left"),
        ("both = k + q", "both = k"),
        ("to = max(x_c, x_e)", "to = x_e"),
        ("after = x - r * left", "after = x - q * left"),
        ("q * ((x_e - x_h) * t + flung_s)", "q * (x_e * t + flung_s)"),
        ("return min(holding, max(bound, limit)), rate", "return max(bound, limit), rate"),
        ("g_ratio_log = 2.0 * math.log", "g_ratio_log = math.log"),
        ("math.log1p(along) / rate", "math.log1p(along) / (2.0 * rate)"),
        ("held += 0.5 * (x + after) * t", "held += x * t"),
    ),
    *_in(
        "sim/physics/decay.py", MOISTURE,
        ("z * (1.0 / 5040.0)", "z * (1.0 / 5140.0)"),
        ("z2 * (1.0 / 24.0 - ", "z2 * (1.0 / 24.0 + "),
    ),
    *_in(
        "sim/physics/decay.py", FILM,
        ("return -math.expm1(-z)", "return math.expm1(-z)"),
    ),
    *_in(
        "sim/physics/water_film.py", FILM,
        ("/ (speed_m_s * wipe_time_s)", "/ wipe_time_s"),
        ("math.pow(ref_speed_m_s / speed_m_s, exponent)", "math.pow(speed_m_s / ref_speed_m_s, exponent)"),
        ("min(1.0, wear_cars / life_scale_cars)", "wear_cars / life_scale_cars"),
        ("room_kg = (holding - moisture) * mass_kg", "room_kg = holding * mass_kg"),
        ("return median_film_kg_m2 * (1.0 - kappa * (1.0 - damp_limit))", "return median_film_kg_m2 * (1.0 - kappa * damp_limit)"),
    ),
    *_in(
        "sim/physics/belt.py", BELT,
        ("noses_m = max(spacing_m, ahead_length_m + least_gap_m)", "noses_m = spacing_m"),
        ("(noses_m - ahead_pushed_m + pushed_m)", "(noses_m + ahead_pushed_m - pushed_m)"),
        ("return math.ceil(travel_m / pitch_m - PUSHER_SLACK)", "return math.ceil(travel_m / pitch_m)"),
    ),
    *_in(
        "sim/physics/wear.py", WEAR,
        ("abs(surface_speed_m_s - car_speed_m_s)", "abs(surface_speed_m_s + car_speed_m_s)"),
        ("return wet_factor * sliding_m / reference_sliding_m", "return sliding_m / reference_sliding_m"),
    ),
    *_in(
        "sim/physics/air.py", AIR,
        ("(2501.0 - 2.361 * wet_bulb_c)", "(2501.0 + 2.361 * wet_bulb_c)"),
        ("math.cbrt(prandtl)", "math.sqrt(prandtl)"),
        ("return 2.0 * strips", "return strips"),
        ("h_w_m2k * area_m2 * (temp_c - wet_bulb_c) + heat_w", "h_w_m2k * area_m2 * (temp_c - wet_bulb_c)"),
        ("outdoor + humid_share * (saturated - outdoor)", "outdoor + humid_share * saturated"),
    ),
    *_in(
        "app/db/writes.py", ("tests/services/test_studies.py",),
        ('or_(StudyRow.state == "waiting", lapsed)', "StudyRow.state.in_(OPEN)"),
        ('    return _set_study(session, _held(key, holder), news)', "    return True"),
    ),
    *_in(
        "sim/day/spread.py", ("tests/day/test_spread.py",),
        ("if len(waiting) >= PENDING:", "if len(waiting) > PENDING:"),
        ("            future.cancel()", "            future.done()"),
    ),
    *_in(
        "sim/decide/how_sure.py", ("tests/decide/test_how_sure.py", "-k", "goes_on"),
        ("for u in rows[held:]", "for u in rows[:fresh]"),
    ),
    *_in(
        "sim/decide/stages.py", ("tests/decide/test_stages.py", "-k", "rule or difference"),
        ("coarse = half >= half_digit(", "coarse = half >= 2.0 * half_digit("),
        ("return not coarse or lost", "return not coarse"),
    ),
    *_in(
        "sim/learn/cloth_life.py", LIFE,
        ("total += log_beta - log_age + z", "total += log_beta + z"),
        ("        if life.failed:\n", "        if True:\n"),
        ("for _ in range(2 if told or more else 1):", "for _ in range(1):"),
        ("log_weight -= 0.5 * (", "log_weight -= 1.0 * ("),
        ("if life.wear_cars > 0.0]", "if life.wear_cars > 30_000.0]"),
    ),
    *_in(
        "sim/learn/life_fit.py", LIFE,
        ("fall = 0.5 * float(chdtri(1, 1.0 - level))", "fall = float(chdtri(1, 1.0 - level))"),
        ("if not life.failed]", "if life.failed]"),
        ("        float(scale * latest),\n", "        float(scale),\n"),
        ("- math.log(len(failed))) / beta", "- math.log(len(lives))) / beta"),
    ),
    *_in(
        "sim/learn/cloth_wear.py", SETS,
        ("Life(self.age_cars, self.reason == WORN)", 'Life(self.age_cars, self.reason != "")'),
        ('reason = item.cars_before, 0, ""', 'reason = 0.0, 0, ""'),
        ("launderings + 1, age + launder_wear", "launderings + 1, age"),
        ("list(item.wiped_m), list(item.wiped_m[:2])", "list(item.wiped_m[:2]), list(item.wiped_m)"),
        ("<= (today, now_s)]", "<= (date.max, now_s)]"),
        ("sold * of_sold + (1.0 - sold) * of_rest", "of_rest"),
        ("np.sum(part * self.wear(day))", "np.sum(self.wear(day))"),
        ("share * float(days.wear(day).sum())", "float(days.wear(day).sum())"),
    ),
    *_in(
        "sim/learn/cloth_inspect.py", LOOKS,
        ("look.wear_cars * np.exp(-log_eta)", "look.wear_cars * np.exp(log_eta)"),
        ("b=weights / weights.sum()", "b=np.full(len(weights), 1.0 / len(weights))"),
    ),
    *_in(
        "sim/decide/cloth/change.py", CHANGE,
        ("self.planned * lasts + self.unplanned", "self.planned + self.unplanned"),
        ("order = (power + 1.0) / beta", "order = power + 1.0 / beta"),
        ("total + self.damp[-1] * beyond", "total"),
        ("lengths @ posterior.weight", "lengths.mean(axis=1)"),
        ("least_rate > (1.0 - LEAST_SAVING) * at_failure", "least_rate > at_failure"),
        ("fails[i] - half[0] * found[i - 1]", "fails[i]"),
        ("costs.planned + costs.unplanned * renewals", "costs.planned + costs.planned * renewals"),
    ),
    *_in(
        "sim/decide/cloth/prices.py", CHANGE,
        ("max(0.0, cars * hours - room)", "max(0.0, cars - room)"),
        ("self.cloth + self.work + self.lost + self.extra", "self.cloth + self.work + self.extra"),
    ),
    *_in(
        "sim/decide/cloth/partial.py", CHANGE,
        ("rate = parts * float(", "rate = float("),
        ("(parts + 1) / (2 * parts)", "1 / parts"),
    ),
    *_in(
        "sim/decide/cloth/answer.py", CHANGE,
        ("np.exp(log_lasts - log_lasts[0])", "np.exp(log_lasts)"),
    ),
    *_in(
        "sim/decide/staff/erlang.py", QUEUES,
        ("(server + load * blocked)", "(server + load)"),
        ("1.0 - load / servers * (1.0 - blocked)", "1.0 - load / servers * blocked"),
        ("math.exp(-(servers - load) * wait_s", "math.exp(-servers * wait_s"),
        ("* service_s / (servers - load)", "* service_s / servers"),
        ("math.ceil(load / most_use - 1e-9)", "math.ceil(load - 1e-9)"),
        ("(servers - load) / math.sqrt(load)", "(servers - load) / math.sqrt(servers)"),
        ("load / min(present, servers)", "load / present"),
    ),
    *_in(
        "sim/decide/staff/offered_load.py", QUEUES,
        ("load = level + (load - level) * fade", "load = level"),
        ("service_s * (1.0 - fade) / step_s", "service_s * fade / step_s"),
        ("min(present, servers) / service_s", "servers / service_s"),
        ("numbers[:-1] - servers + 1, 0", "numbers[:-1] - servers, 0"),
        ("    state = np.zeros(places + 1)\n", "    state = np.full(places + 1, 0.1)\n"),
        ("range(1, departures)", "range(1, departures + 1)"),
    ),
    *_in(
        "sim/decide/staff/measure.py", STAFF_WORK,
        ("+ crew.exit_work_s)", ")"),
        ("_sum(arrival[~kept])", "_sum(arrival[kept])"),
        ("(moments[at + 1]))", "(moments[at] + 60.0))"),
        ("crew.reduced_work_s, 0.0)", "crew.damp_work_s, 0.0)"),
        ("np.diff(sets[order]) > 0", "np.diff(sets[order]) < 0"),
        ("weight * (until - start_s)", "(until - start_s)"),
    ),
    *_in(
        "sim/decide/staff/work.py", STAFF_WORK,
        ("math.sqrt(days)", "days"),
        ("stdtrit(days - 1, CONFIDENCE)", "stdtrit(days - 1, 0.5)"),
        ("MINUTE_S / 2.0", "MINUTE_S"),
        ("HALF_HOUR_S * site.crew.target_use", "HALF_HOUR_S"),
        ("_ceil(whole[at] / room))", "0)"),
        ("edge + step * number", "edge + step * number - step"),
        ("if people == 1:", "if people == 3:"),
        ("(self.shared[at], people - loaders)", "(self.shared[at], people)"),
    ),
    *_in(
        "sim/decide/staff/needs.py", NEEDS,
        ("LATE_SHARE * half", "0.5 * half"),
        ("HALF_HOUR_S) - wishes.allowed_full_share", "HALF_HOUR_S)"),
        ("best.full + slack, 0.0)", "best.full, 0.0)"),
        (" | (judged.lost > self.lost + 1e-9)", ""),
        ("<= LATE_SHARE and not is_full", "<= LATE_SHARE"),
        ("loading * site.pay.second_loader_factor", "loading"),
        ("if not limits.broken(self.judge(fewer)).any():", "if True:"),
        ("loaders, went_on = fewer, True", "break"),
        ("best.late + SLACK_CARS, 0.0)", "0.0, 0.0)"),
    ),
    *_in(
        "sim/decide/staff/plans.py", STAFF_WORK,
        ("math.ceil(site.line.close_h", "math.floor(site.line.open_h"),
        ("if start < moment < end]", "if start < moment <= end]"),
    ),
    *_in(
        "sim/decide/staff/effects.py", STAFF_ANSWER,
        ("max(1, loaders[at] + change)", "max(1, loaders[at])"),
        ("-0.5 * hours * wage", "-1.0 * hours * wage"),
        ("one - other, len(one)", "one, len(one)"),
    ),
    *_in(
        "sim/decide/staff/answer.py", STAFF_ANSWER,
        ("(planned.people) / 2.0 + work_h", "(planned.people) / 2.0"),
    ),
    *_in(
        "app/services/cloth_checks.py", RECORD,
        ("            elif on_wheel is not None:\n", "            elif False:\n"),
        ("if event.reason != ROTATED:", "if event.reason == ROTATED:"),
        ("if today is not None and event.day > today:", "if False:"),
    ),
    *_in(
        "sim/decide/staff/cover.py", COVERING,
        ("LinearConstraint(covers, needed, np.inf)", "LinearConstraint(covers, needed - 1, np.inf)"),
        ("np.ones(len(cost)) if whole is None", "np.zeros(len(cost)) if whole is None"),
    ),
    *_in(
        "sim/decide/staff/shifts.py", ROSTER,
        ("first = max(start + PER_H, end - pause - most)", "first = start + PER_H"),
        ("unpaid = 0 if limits.break_paid else", "unpaid = 0 if not limits.break_paid else"),
        ("if end - start <= most:", "if end - start <= most + 1:"),
    ),
    *_in(
        "sim/decide/staff/week.py", ROSTER,
        ("away.from_s < end_s and away.to_s > start_s", "away.from_s > end_s and away.to_s > start_s"),
        ("on = (day, self.monday + timedelta(days=day))", "on = (day,)"),
        ("return min(person.most_h, self.limits.most_h_week)", "return self.limits.most_h_week"),
        ("over * (week.limits.overtime_factor - 1.0)", "over * week.limits.overtime_factor"),
        ("np.sum([self.skilled[name] for name in some], axis=0)", "self.skilled[some[0]]"),
        ("for n in range(len(names))", "for n in range(min(1, len(names)))"),
        ("np.minimum(np.asarray(counts[role], dtype=int), most)", "np.asarray(counts[role], dtype=int)"),
        ("        if name in skills:\n", "        if name:\n"),
        ("found.get(name, np.zeros(SLOTS, dtype=int)) + asked", "asked"),
    ),
    *_in(
        "sim/decide/staff/faults.py", ROSTER,
        ("(need - here) / PER_H", "1.0 / PER_H"),
        ("if here < need and not told_already:", "if here < need:"),
        ("if hours > week.most_h(person):", "if hours > person.most_h + 100.0:"),
        ("if hours < person.least_h:", "if hours < 0.0:"),
        ("if len(mine) > limits.most_days_week:", "if len(mine) > limits.most_days_week + 1:"),
        ("most = max(0, limits.most_weekend_days - had)", "most = limits.most_weekend_days"),
        ("spans = [(d.day - DAYS, d.shift) for d in before if d.day == DAYS - 1]", "spans = []"),
        ("- earlier.end < slots_of(limits.rest_h)", "- earlier.end < 0"),
    ),
    *_in(
        "sim/decide/staff/program.py", ROSTER,
        ("first <= a and b <= last]", "first < a and b <= last]"),
        ("at_work.setdefault((group, day, slot), {})[column] = -1.0", "at_work.setdefault((group, day, slot), {})[column] = 0.0"),
        ("if counts_for(skills, group):", "if True:"),
    ),
    *_in(
        "sim/decide/staff/assign.py", ROSTER,
        ("made.rules.add(today, 0.0, 1.0)", "made.rules.add(today, 0.0, 2.0)"),
        ("if group != mine_too or (", "if ("),
        ("rule = SKILL if skills else COVER", "rule = COVER"),
        ("made.rules.add(terms, person.least_h, np.inf)", "made.rules.add(terms, 0.0, np.inf)"),
        ("limits.most_weekend_days - had)", "limits.most_weekend_days)"),
        ("(DAYS_OFF, 0, limits.most_days_week)", "(DAYS_OFF, 0, 7)"),
        ("if start + SLOTS - end < rest}", "if start + SLOTS - end < 0}"),
        ("0.0 if day < 0 else 1.0)", "1.0)"),
        ("premium = person.wage_per_h * (", "premium = 0.0 * ("),
        ("(old.name, old.day) == (duty.name, duty.day)", "old.day == duty.day"),
    ),
    *_in(
        "sim/decide/staff/roster.py", ROSTER,
        ("best = min(found, key=", "best = max(found, key="),
        ("above <= allowed", "above >= allowed"),
        ("of_all = replace(second[0], lp_bound=first[0].lp_bound, bound=first[0].bound)", "of_all = second[0]"),
    ),
    *_in(
        "sim/decide/staff/conflicts.py", ROSTER,
        ("rule not in tried.free)", "rule in tried.free)"),
        ("cover_days=tried.cover_days - {day}", "cover_days=tried.cover_days"),
    ),
    *_in(
        "sim/decide/cloth/season.py", YEAR,
        ('name=RULES[0], rule="full")', "name=RULES[0])"),
        ("[rules.index(column.rule) for column in ready]", "[0 for column in ready]"),
        ("rules, one.changes, tables=one.tables)", "rules, (), tables=one.tables)"),
        ('max(row[_AT["last_s"]], ready.day.close_s)', "ready.day.close_s"),
        ("[:, rule].sum(axis=0))", "[:, rule].mean(axis=0))"),
    ),
    *_in(
        "sim/decide/cloth/outlook.py", YEAR,
        ("np.argsort(-cars", "np.argsort(cars"),
        ("(at > 0) & (at % every == 0)", "at % every == 0"),
    ),
    *_in(
        "sim/decide/cloth/forecast.py", FUTURES,
        ("on = (on + 1) % count", "on = 0"),
        ("            age[on] += wear.launder_wear\n", "            pass\n"),
        ("((age / eta) ** beta + rng.exponential(size=age.shape))",
         "(0.0 * age + rng.exponential(size=age.shape))"),
        ("is_worn | (age[on] >= planned_age)", "age[on] >= planned_age"),
        ("age[on, is_off] = 0.0", "age[on] = 0.0"),
        ("latest_day(due - found.delivery_days, service)", "latest_day(due, service)"),
        ("in range(position, found", "in range(0, found"),
        ("level * wear.mean[day]", "wear.mean[day]"),
    ),
    *_in(
        "sim/decide/cloth/stock.py", ORDERS,
        ("0.5 * quantity_ * holding_share", "quantity_ * holding_share"),
        ("chance = under_cost / (", "chance = over_cost / ("),
        ("+ (per_day * lead_sd_days) ** 2", ""),
        ("low = max(1, from_, least)", "low = max(1, from_)"),
        ("while poisson_service(whole, mean) < stock.stock_service:", "while False:"),
        ("max(stock.spare_sets, new) + stock.sets_on_order", "stock.spare_sets + new"),
    ),
    *_in(
        "sim/decide/cloth/rotation.py", TURNS,
        ("(min(n, servers) * repair_rate)", "repair_rate"),
        ("float(found.p[1] / (1.0 - found.p[0]))", "float(found.p[0])"),
        ("            now = back\n", ""),
        ("+ (wear.launder_turn_h if laundered else 0.0)", ""),
        ("heapq.heapreplace(ready, want.at_h + want.away_h)", "heapq.heappop(ready)"),
    ),
    *_in(
        "sim/decide/cloth/options.py", OPTIONS,
        ("* asked.count + option.each_year\n", "* asked.count\n"),
        ("done * site.money.damp_cost", "done"),
        ("return once / gain if gain", "return once if gain"),
        ("min(kept, key=", "max(kept, key="),
        ("max(least, was * share)", "was * share"),
    ),
    *_in(
        "app/services/season_basis.py", SEASON,
        ('"peak": f"clock {hours}" if is_peak else "full"', '"peak": f"clock {hours}"'),
        ('plan.expect if plan else ""', '""'),
    ),
    *_in(
        "app/services/calendar_book.py", CALENDAR,
        ("before.sequence + 1, False", "before.sequence, False"),
        ("if row.entry.day < today]", "if False]"),
        ("sequence=row.sequence + 1, is_cancelled=True", "is_cancelled=True"),
        ("before.entry == entry and not before.is_cancelled", "before.entry == entry"),
    ),
    *_in(
        "app/services/calendar_file.py", CALENDAR,
        ("time(), zone)", "time(), UTC)"),
        ("made.add_missing_timezones(first_date=today, last_date=last + timedelta(days=366))",
         "_ = last"),
        ("entry.day + timedelta(days=1)", "entry.day"),
    ),
    *_in(
        "app/services/sheets.py", SHEETS,
        ('    made.data_type = "s"\n', ""),
        ("said.startswith(FORMULA_MARKS)", 'said.startswith("=")'),
    ),
]  # fmt: skip
"""Every fault; each text must stand in its file exactly once."""
