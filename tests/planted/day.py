"""Faults to plant in the day, in both models."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

AGREE = (
    "tests/day/test_kernel.py",
    "-k",
    "at_once or same_half or every_feature or switch or just_met",
)
MANY = ("tests/day/test_many.py", "-k", "trace or switches or forgets")
TOGETHER = ("tests/day/test_many.py", "-k", "alone")
CREW = ("tests/day/test_kernel.py", "-k", "crew")
CUES = ("tests/day/test_cues.py",)
DRAWS = ("tests/day/test_draw.py",)
FORESIGHT = ("tests/decide/test_best_possible.py", "-k", "least_cost or never_overstated")
LOOKS = ("tests/learn/test_cloth_inspect.py",)
COSTS = ("tests/day/test_costs.py",)
HANDS = ("tests/day/test_hands.py", "-k", "not wiped_day and not loss")
SPIN = ("tests/day/test_spin_change.py",)
WATCHED = ("tests/answers/test_watch.py",)
KERNEL = "sim/day/kernel/"

FAULTS: list[Fault] = [
    *faults_in(
        "sim/day/engine.py",
        ("tests/day/test_kept_mornings.py",),
        (
            "        air = replace(conditions, arrivals_per_h=NO_CARS)",
            "        air = replace(self._expected, arrivals_per_h=NO_CARS)",
        ),
        ("in_other_air(numbers, self._changed(changes), air)", "numbers"),
        ("of.conditions.arrivals_per_h, of.conditions.spread", "NO_CARS, of.conditions.spread"),
        (
            "met, streams = _met(self, draw), None",
            "met, streams = _met(self, Draw(0, 0, ())), None",
        ),
    ),
    *faults_in(
        "sim/day/watching.py",
        WATCHED,
        ("if not any(begin <= middle < until for begin, until in stops):", "if True:"),
        ("pays = car.pay_start_s if car.turn == 1 else car.unblocked_s", "pays = car.unblocked_s"),
        ("dried, gone = car.finish_s, car.finished_s", "dried, gone = car.exit_s, car.finished_s"),
        ("        elif not _fits(", "        elif False and not _fits("),
    ),
    *faults_in(
        "sim/day/watched.py",
        WATCHED,
        ("place > DRIED and car.leaves_damp", "place > BELT and car.leaves_damp"),
        ("not (car.is_lost or car.goes_round)", "not car.is_lost"),
    ),
    *faults_in(
        KERNEL + "line.py",
        AGREE,
        ("rows.line[row, r.LOST] = r.LOST_FULL", "rows.line[row, r.LOST] = r.LOST_IMPATIENT"),
        ("waiting >= day.line.stack_limit", "waiting > day.line.stack_limit"),
        (") > day.cars.patience_s[car]:", ") >= day.cars.patience_s[car]:"),
        ("r.CAUGHT] <= now - MEMORY_S", "r.CAUGHT] < now - MEMORY_S"),
        ("now - day.line.open_s >= MEMORY_S", "now - day.line.open_s > MEMORY_S"),
        ("(front, r.READY) < day.line.places", "(front, r.READY) <= day.line.places"),
        (
            "_waiting(front, r.STACK) + _waiting(front, r.RETURNED)\n",
            "_waiting(front, r.STACK)\n",
        ),
        ("row_at(line.loader_from, now)", "row_at(line.loader_from, now - TIME_TOLERANCE_S)"),
        (
            "        if _waiting(front, r.RETURNED):\n            row = _pop(front, r.RETURNED)\n"
            "        elif _waiting(front, r.BLOCKED):\n            row = _pop(front, r.BLOCKED)\n",
            "        if _waiting(front, r.BLOCKED):\n            row = _pop(front, r.BLOCKED)\n"
            "        elif _waiting(front, r.RETURNED):\n            row = _pop(front, r.RETURNED)\n",
        ),
        ("pusher = max(pusher, rows.line[ahead, r.PUSHER] + apart)", "pusher = max(pusher, apart)"),
        ("cars.length_m[ahead_car],", "cars.length_m[car],"),
        ("travel = nose + day.cars.length_m[car]", "travel = travel + 0.0"),
    ),
    *faults_in(
        KERNEL + "compile.py",
        AGREE,
        ("if front.due[r.PAYMENT] <= now:", "if front.due[r.PAYMENT] < now:"),
        ("if returns <= now:", "if returns < now:"),
        ("if front.due[r.LOADER] <= now:", "if front.due[r.LOADER] < now:"),
        ("if lanes <= now:", "if lanes < now:"),
        (
            "rows.times[row, r.HOOD] = now + takes",
            "rows.times[row, r.HOOD] = now + 0.0 * takes",
        ),
        ("served, last = served + 1, max(last, rows.times[row, r.EXIT])", "served += 1"),
        ("due, met = now, behind > 0.0", "due, met = now, False"),
        ("closed_s = max(last, day.line.close_s)", "closed_s = last"),
    ),
    *faults_in(
        KERNEL + "line.py",
        AGREE,
        ("cars.clock_start_s[clock] <= end:", "cars.clock_start_s[clock] < end:"),
        ("end = max(end, belt.end_s[at])", "end = max(end, 0.0)"),
        ("starts[row + 1] <= moment_s", "starts[row + 1] < moment_s"),
        (
            "return belt.travel_m[at] + belt.speed[at] * (now",
            "return belt.travel_m[at] + 0.9 * belt.speed[at] * (now",
        ),
    ),
    *faults_in(
        KERNEL + "wheel.py",
        AGREE,
        ("saturation >= rule.bands[band, 0]", "saturation > rule.bands[band, 0]"),
        ("elif saturation <= rule.bands[band, 1]:", "elif saturation <= rule.bands[band, 0]:"),
        ("elif saturation <= rule.bands[band, 1]:", "elif saturation < rule.bands[band, 1]:"),
        ("<= now < rule.windows[window, 1]", "< now <= rule.windows[window, 1]"),
    ),
    *faults_in(
        KERNEL + "wheel.py",
        CREW,
        ("r.HOOD] <= now - HOUR_S", "r.HOOD] <= now - HOUR_S / 2.0"),
        ("places[r.OLDEST] = seen + 1, oldest", "places[r.OLDEST] = seen, oldest"),
        (
            "    if memory[r.DUE] <= now:\n        memory[r.ON]",
            "    if memory[r.DUE] < now:\n        memory[r.ON]",
        ),
        ("if now < memory[r.NEXT_LOOK]:", "if now <= memory[r.NEXT_LOOK]:"),
        ("    if memory[r.DUE] != math.inf:\n        return True\n", ""),
        ("memory[r.LOOKS] += 1.0", "memory[r.LOOKS] += 0.0"),
        ("max(0, passed - HOODS_SEEN), passed", "max(0, passed - HOODS_SEEN - 1), passed"),
        ("hood |= zone == 0", "hood |= zone < 2"),
        ("damp += wet != crew", "damp += wet or crew"),
        ("looked += rule.watches[watch, 3]", "looked += rule.watches[0, 3]"),
        ("memory[r.ACTS] += 1.0", "memory[r.ACTS] += 0.0"),
        ("reading = cars[0] * off", "reading = cars[0]"),
        ("crew.strip_holding_kg * saturation * off", "crew.strip_holding_kg * saturation"),
        ("memory[r.ON] == 0.0 and reading >= upper", "memory[r.ON] == 0.0 and reading > upper"),
        ("memory[r.ON] == 1.0 and reading <= lower", "memory[r.ON] == 1.0 and reading < lower"),
        ("wiped.watches[first, r.ON] == 1.0", "wiped.watches[0, r.ON] == 1.0"),
    ),
    *faults_in(
        KERNEL + "compile.py",
        CUES,
        ("state[r.NOW] >= takes):", "state[r.NOW] > 2.0 * takes):"),
        ("        state[r.LOCKED_UNTIL] = now + takes\n", "        takes *= 1.0\n"),
        ("r.LOCKED_UNTIL] = max(state[r.LOCKED_UNTIL], now)", "r.LOCKED_UNTIL] += 0.0"),
    ),
    *faults_in(
        KERNEL + "wheel.py",
        MANY,
        ("wiped.watches[watch, :] = 0.0", "wiped.watches[watch, :] += 0.0"),
        ("wiped.places[r.SEEN] = wiped.places[r.OLDEST] = 0", "wiped.places[r.OLDEST] = 0"),
    ),
    *faults_in(
        KERNEL + "tree.py",
        TOGETHER,
        ("_copy(kept.state[deep], day.wiped.state)", "_copy(kept.state[0], day.wiped.state)"),
        ("_copy(kept.due[deep], front.due)", "_copy(kept.due[0], front.due)"),
        ("_copy(kept.head[deep], front.head)", "_copy(kept.tail[deep], front.head)"),
        ("kept.laid[deep, r.COUNT] = count", "kept.laid[deep, r.COUNT] = first + 1"),
        ("rows.times[rows.order[place], r.HOOD] = math.nan", "rows.counts[0] += 0"),
        ("tree.reduces[one] = reduces", "tree.reduces[one] = asked"),
        ("tree.rules[cut + at] = tree.other[at]", "tree.rules[cut + at] = tree.other[0]"),
    ),
    *faults_in(
        KERNEL + "compile.py",
        TOGETHER,
        (
            "served, stretch = wholes[CAR], wholes[SERVED], wholes[STRETCH]",
            "served, stretch = wholes[CAR], wholes[SERVED], stretch",
        ),
        ("kept.moments[deep] = now", "kept.moments[deep] = last"),
        (
            "back, sent, row = wholes[BACK], wholes[SENT], wholes[ROW]",
            "back, row = wholes[BACK], wholes[ROW]",
        ),
    ),
    *faults_in(
        KERNEL + "line.py",
        TOGETHER,
        (
            "rows.times[row, r.HOOD] = math.nan  # another",
            "rows.times[row, r.HOOD] += 0.0  # another",
        ),
    ),
    *faults_in(
        "sim/day/rules.py",
        CUES,
        ("self._hoods[0] <= now_s - HOUR_S", "self._hoods[0] < now_s - HOUR_S"),
        ("if self._due_s <= now_s:", "if self._due_s < now_s:"),
        ("self._due_s == math.inf and self._is_reached", "self._is_reached"),
        ("now_s >= self._next_look_s", "now_s > self._next_look_s"),
        ("reading <= self._cue.lower", "reading < self._cue.lower"),
        ("looked = {type(cue): cue for", "looked = {id(cue): cue for"),
        ("reading >= self._cue.upper", "reading > self._cue.upper"),
        ("        self._hoods.append(now_s)", "        self._hoods.appendleft(now_s)"),
    ),
    *faults_in(
        "sim/day/streams.py",
        DRAWS,
        ("max(0, words - POOL)", "max(1, words - POOL)"),
    ),
    *faults_in(
        "sim/day/draw.py",
        DRAWS,
        (
            "first.fate < site.crew.damp_rewash_share",
            "first.fate < 0.9 * site.crew.damp_rewash_share",
        ),
        ("int(stops[-1]) + 1)[stops]", "len(stops))"),
    ),
    *faults_in(
        "sim/day/crew.py",
        CUES,
        ("edge <= crew.opens_s", "edge < crew.opens_s"),
        ("max(act, done[-1])", "act"),
        ("np.exp(crew.count_log_sd *", "np.exp(0.0 * crew.count_log_sd *"),
        ("np.exp(wheel.strip_log_sd *", "np.exp(wheel.weigh_in_log_sd *"),
        ("crew.weigh_every_min * 60.0", "crew.weigh_every_min"),
    ),
    *faults_in(
        KERNEL + "wheel.py",
        AGREE,
        (
            "cloth.holding >= rule.changes_at[following]",
            "cloth.holding > rule.changes_at[following]",
        ),
        ("wheel, end = STILL, min(end", "wheel, end = IDLE, min(end"),
        ("wheel = CONTACT if touching else IDLE", "wheel = IDLE"),
        ("reduced and zone > 1", "reduced and zone > 0"),
        (
            "state[r.SET_WEAR] = cloth.set_wear_cars\n    state[r.SET_SOIL] = cloth.set_soil\n",
            "state[r.SET_SOIL] = cloth.set_soil\n",
        ),
        ("    if not unwiped:\n        state[r.SET_SOIL] *= cloth.soil_a_car\n", ""),
        ("if turn == 1 and u < cloth.rewash_share:", "if u < cloth.rewash_share:"),
        ("cloth.drying[hour % 24, wheel]", "cloth.drying[7, wheel]"),
    ),
    *faults_in(
        KERNEL + "wheel.py",
        AGREE,
        ("slow > 0.0 and not stands:", "slow > 0.0:"),
        ("on.day_wear + worn, cloth.slow_s)", "on.day_wear + worn, on.slow + cloth.slow_s)"),
        ("slow -= end - now", "slow -= 0.0"),
        (
            "on_car = touching and wheel == CONTACT",
            "on_car = touching",
        ),
    ),
    *faults_in(
        KERNEL + "compile.py",
        SPIN,
        ("day.wiped.state[r.SLOW] = 0.0", "day.wiped.state[r.SLOW] += 0.0"),
    ),
    *faults_in(
        "sim/day/setup.py",
        SPIN,
        ("2.0 * wheel.spin_change_s", "wheel.spin_change_s"),
        (
            "(wears(speeds[0]), wears(speeds[1]), wears(0.0))",
            "(wears(speeds[0]), wears(speeds[0]), wears(0.0))",
        ),
    ),
    *faults_in(
        "sim/learn/cloth_wear.py",
        ("tests/learn/test_cloth_wear.py", "-k", "between_cars"),
        ("cars[hour] * 2.0 * site.wheel.spin_change_s", "cars[hour] * site.wheel.spin_change_s"),
    ),
    *faults_in(
        "sim/day/wheel_cloth.py",
        SPIN,
        ("self._slow_s > 0.0 and not in_stop:", "self._slow_s > 0.0:"),
        ("self._slow_s = cloth.slow_s", "self._slow_s += cloth.slow_s"),
        ("self._slow_s -= end - now", "self._slow_s -= 0.0"),
    ),
    *faults_in(
        KERNEL + "hands.py",
        HANDS,
        ("r.EXIT] + day.hands.patience_s >= now", "r.EXIT] + day.hands.patience_s > now"),
        ("if now > until or", "if now >= until or"),
        ("busy[still] = busy[each]", "busy[still] = busy[still]"),
        ("return 1 - day.wiped.marks[row, r.HOOD_WET]", "return 0"),
        ("< least:", "<= least:"),
        ("while working < people[at]:", "if working < people[at]:"),
    ),
    *faults_in(
        "sim/day/apron.py",
        HANDS,
        ("PriorityTimeout(env, 0.0, AFTER_DEPARTURES)", "PriorityTimeout(env, 0.0, BY_THE_CLOCK)"),
        ("zone.index < len(damp)", "zone.index < 1"),
        ("return 0 if self._cars.member[car.car] else 1", "return car.car % 2"),
        ("moment <= self._day.close_s", "moment < self._day.close_s"),
        ("GONE = -1", "GONE = 1"),
    ),
    *faults_in(
        KERNEL + "hands.py",
        ("tests/day/test_hands.py", "-k", "wiped_day"),
        (
            "== r.TOWEL:\n            wiped.marks[row, r.FATE] = r.LEAVES",
            "== r.AGAIN:\n            wiped.marks[row, r.FATE] = r.LEAVES",
        ),
        ("found[P_FINISHING_S] += wiped.hands[row, r.TAKES]", "found[P_FINISHING_S] += 1.0"),
    ),
    *faults_in(
        KERNEL + "stats.py",
        AGREE,
        ("int(leavings[gone] <= arrives)", "int(leavings[gone] < arrives)"),
        ("rank = (count - 1) * (percent / 100.0)", "rank = count * (percent / 100.0)"),
        ("if hour < last_open:", "if hour <= last_open:"),
    ),
    *faults_in(
        KERNEL + "many.py",
        MANY,
        ("asked != before:", "asked > before:"),
        ("wiped.places[at] = 0", "wiped.places[at] += 0"),
        ("if rows.line[row, r.TURN] == 1:", "if rows.line[row, r.TURN] >= 1:"),
    ),
    *faults_in(
        KERNEL + "many.py",
        FORESIGHT,
        ("after[node + 1] - max(0.0, above - x)", "after[node + 1]"),
        ("if x0 <= x1:", "if x0 > x1:"),
        ("worth = value[here, one] + gain[car, way]", "worth = value[here, one] + gain[car, 0]"),
    ),
    *faults_in(
        "sim/day/tunnel.py",
        AGREE,
        ("yield PriorityTimeout(env, 0.0, AFTER_RETURNS)", "yield Later(env, 0.0, AFTER_PAYMENTS)"),
        ("sorted(self.paid, key=_lane)", "sorted(self.paid, key=_lane, reverse=True)"),
        ("caught[0] <= now - MEMORY_S", "caught[0] < now - MEMORY_S"),
        ("waiting >= self.site.pay.stack_limit_cars", "waiting > self.site.pay.stack_limit_cars"),
        (
            "car.damp and car.turn == 1 and float(self.cars.first.fate[car.car]) < share",
            "car.damp and car.turn == 1 and float(self.cars.again.fate[car.car]) < share",
        ),
    ),
    *faults_in(
        "sim/day/tunnel.py",
        AGREE,
        ("len(self._line) < self._places", "len(self._line) <= self._places"),
        ("waiting := self._again or self._blocked", "waiting := self._blocked or self._again"),
    ),
    *faults_in(
        "sim/day/tunnel.py",
        AGREE,
        ("self.stops[-1] = (start, max(end, end_s))", "self.stops[-1] = (start, end_s)"),
        (
            "row = bisect.bisect_right(self._changes, now)",
            "row = bisect.bisect_left(self._changes, now)",
        ),
    ),
    *faults_in(
        "sim/day/wheel_cloth.py",
        AGREE,
        ("self._first_stop += 1", "self._first_stop += 2"),
        (
            "state, end = STILL, min(end, self._locked_until)",
            "state, end = IDLE, min(end, self._locked_until)",
        ),
        ("return now_s < self._locked_until - LOCK_SLACK_S", "return False"),
    ),
    *faults_in(
        "sim/day/engine.py",
        ("tests/day/test_parallel.py",),
        ("if len(waiting) >= PENDING:", "if len(waiting) > PENDING:"),
        ("            future.cancel()", "            future.done()"),
    ),
    *faults_in(
        "sim/day/goodwill.py",
        ("tests/day/test_goodwill.py",),
        ("self.damp * others", "self.damp * self.minded(counts)"),
        ('counts["left_damp_members"] + members', 'counts["left_damp_members"]'),
        ('self.rear * counts[f"rear_left_wet{of}"]', 'self.roof * counts[f"rear_left_wet{of}"]'),
        ("member_leave_per_ten_minutes / TEN_MINUTES_S", "member_leave_per_ten_minutes / 60.0"),
        ("(1.0 - share) * prices.damp + share", "share * prices.damp + share"),
    ),
    *faults_in(
        "sim/day/figures.py",
        ("tests/day/test_goodwill.py",),
        ('counts["cars_washed"] + counts["lost_members"]', 'counts["cars_washed"]'),
        ('counts["cars_lost"] - counts["lost_members"]', 'counts["cars_lost"]'),
    ),
    *faults_in(
        "sim/day/kernel/stats.py",
        ("tests/day/test_goodwill.py",),
        ("minded[M_MEMBER_WAITS_S] += patience_s", "minded[M_MEMBER_WAITS_S] += 0.0"),
        ("if marks[r.FATE] == r.AGAIN:\n        return\n", ""),
    ),
    *faults_in(
        "sim/day/figures.py",
        COSTS,
        ("value_at(table, start) * (end - start)", "value_at(table, 0.0) * (end - start)"),
        ("min(max(start, open_s), close_s)", "start + 7200.0"),
        ('prices.towel * counts["finished_cars"]', "0.0 * late_s"),
        ('prices.laundry * counts["sets_changed"]', "0.0 * late_s"),
        ('prices.work_per_s * counts["overload_s"]', "0.0 * late_s"),
        ("        money.lost_car_cost,\n", "        9.5,\n"),
        ('left - (cost - found["cost_lost"])', "left - cost"),
    ),
    *faults_in(
        KERNEL + "stats.py",
        COSTS,
        ("able += work.able_s[at] + work.hands_s[at]", "able += work.able_s[at]"),
        ("leaving += work.reduced_s", "leaving += 0.0"),
        ("start + day.cloth.change_s, day.work.change_people)", "start + day.cloth.change_s, 1.0)"),
        ("max(0.0, done[at] - work.able_s[at])", "done[at] - work.able_s[at]"),
    ),
]
