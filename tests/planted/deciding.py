"""Faults to plant in rules and comparisons."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

SWITCH_CUES = ("tests/decide/test_switch_cues.py",)
WORTH = ("tests/decide/test_worth.py",)
SELECTION = ("tests/decide/test_selection.py", "-k", "not honest")

FAULTS: list[Fault] = [
    *faults_in(
        "sim/decide/next_measurement.py",
        ("tests/decide/test_next_measurement.py",),
        ("after = weigh(known + log, usual, few)", "after = weigh(log, usual, few)"),
        (
            "return float(after[now] - after[then]), float(then != now)",
            "return float(after[now]), float(then != now)",
        ),
        ("best.setdefault(one.option.kind, one)", "best[one.option.kind] = one"),
        ("return self.money / EFFORT[self.option.kind][0]", "return self.money"),
        ("tuple(good[:OFFERED])", "tuple(best.values())"),
    ),
    *faults_in(
        "sim/decide/worth.py",
        WORTH,
        (", FEW_LEFT * len(log)).weights", ").weights"),
        (
            "looked.damp[truth, then] - looked.damp[truth, now]",
            "looked.damp[truth, now] - looked.damp[truth, then]",
        ),
    ),
    *faults_in(
        "sim/decide/firm.py",
        ("tests/decide/test_firm.py",),
        ("bettered = self.leads < -1.0", "bettered = self.leads < 0.0"),
        ("self.cost.apart > self.cost.slack", "self.cost.apart < -self.cost.slack"),
        ("self.bettered <= MOST_BETTERED", "self.bettered <= 2.0 * MOST_BETTERED"),
        ("            and self.told\n", ""),
        ("excess[1] - excess[0]", "excess[0] - excess[1]"),
    ),
    *faults_in(
        "sim/decide/switching/thresholds.py",
        SWITCH_CUES,
        ("hoods - HOUR_S, side", "hoods - 2.0 * HOUR_S, side"),
        ("(up if now else down)", "(down if now else up)"),
        (
            "edges.append(_moved(start, early) if start > opens else start)",
            "edges.append(_moved(start, early))",
        ),
        ("if len(up) < FEWEST:", "if len(up) < 1:"),
    ),
    *faults_in(
        "sim/decide/switching/cues.py",
        SWITCH_CUES,
        ("take_apart(self.of(other) - self.of(own))", "take_apart(self.of(own) - self.of(other))"),
        (" + SITES.blocks\n", "\n"),
        (
            "crossed_draws(question, measured, first + tried.blocks)",
            "crossed_draws(question, measured, first)",
        ),
        ("-column(table, COST)", "column(table, COST)"),
        ("lead.mean > aim.slack", "lead.mean > 0.0"),
        ("gains=found.gains and found.pays", "gains=found.gains"),
        ("constant = rule if better(", "constant = FULL if better("),
        (
            "seen.worth - self._price * seen.burdens[1]",
            "seen.worth + self._price * seen.burdens[1]",
        ),
    ),
    *faults_in(
        "sim/decide/switching/search.py",
        SELECTION,
        ("if able.all() or not able[chosen]:", "if able.all() or able[chosen]:"),
        ("for place in best} | self._stay)", "for place in best})"),
        ("if likely[one] > own]", "if likely[one] < own]"),
        ("if returns and pool.take_back", "if not returns and pool.take_back"),
        ("if other != place and shares[other]", "if other == place and shares[other]"),
    ),
    *faults_in(
        "sim/decide/switching/choice.py",
        SELECTION,
        ("(worth >= best - aim.slack)", "(worth >= best)"),
        ("(excess <= least + 1.0)", "(excess <= least)"),
        ("burdens + SURE * errors", "burdens + 0.0 * errors"),
        ("SURELY_WITHIN * error, 0.0)", "0.0 * error, 0.0)"),
        ("among &= rank == rank.min(", "among &= rank == rank.max("),
        ("_near(-excess, -scaled[binds], 1.0)", "_near(-excess, -scaled[binds], 0.0)"),
        ("np.where(counts & (excess > 1.0), np.inf, excess)", "excess"),
    ),
    *faults_in(
        "sim/decide/switching/at_exit.py",
        ("tests/decide/test_hands.py",),
        ("if one.from_s <= edge <", "if one.from_s < edge <"),
        ("planned_s + people * stays * late_s", "planned_s"),
        ("by_hands[..., PLAN_TALLY.index(name)]", "rows[..., TALLY.index(name)]"),
    ),
    *faults_in(
        "sim/decide/switching/hands.py",
        ("tests/decide/test_hands.py",),
        ("Samples(-column(tables, COST)", "Samples(column(tables, COST)"),
    ),
    *faults_in(
        "sim/decide/switching/best_possible.py",
        ("tests/decide/test_best_possible.py",),
        ("multiple * most, 0.0)", "2.0 * multiple * most, most)"),
        ("math.floor(there_s / shortest) + begun", "0.5 * math.floor(there_s / shortest)"),
    ),
    *faults_in(
        "sim/decide/switching/study.py",
        ("tests/decide/test_kept.py",),
        ("draws = search_draws(question, days, first)", "draws = search_draws(question, days)"),
        ("left_damp_share(table) <= question", "left_damp_share(table) >= question"),
        ("(share + 0.5 * more)", "(share + 0.0 * more)"),
    ),
    *faults_in(
        "sim/decide/switching/advice.py",
        ("tests/decide/test_kept.py",),
        ("gains_of(its, own", "gains_of(own, its"),
    ),
    *faults_in(
        "sim/decide/how_sure.py",
        ("tests/decide/test_how_sure.py", "-k", "go_on"),
        ("is_new[:, : before.shape.points, : before.shape.days] = False", "pass"),
    ),
    *faults_in(
        "sim/decide/how_sure.py",
        ("tests/decide/test_demand_level.py",),
        ("of_level = max(0.0, slope**2 - noise) * spread", "of_level = 0.0"),
        ("names, z = (*names, LEVEL)", "names, z = (*names, names[0])"),
    ),
    *faults_in(
        "sim/day/engine.py",
        ("tests/decide/test_demand_level.py",),
        ("self._drawn.day(conditions).with_inputs", "conditions.with_inputs"),
    ),
    *faults_in(
        "sim/day/engine.py",
        ("tests/decide/test_paired_runs.py",),
        ("opens = (variant.changes, air) if own", "opens = (variant.changes, self._air) if own"),
    ),
    *faults_in(
        "sim/day/engine.py",
        ("tests/decide/test_evening_changes.py",),
        ("opens = (variant.changes, air) if own", "opens = ((), air) if own"),
    ),
    *faults_in(
        "sim/learn/like_days.py",
        ("tests/learn/test_demand_spread.py",),
        ("moved + alone / len(like)", "moved"),
        ("mean = came[:, None] * p", "mean = expected"),
        ("None if guess.hour_entered or not held.days", "None if not held.days"),
        ("((came - sums) ** 2 - sums)", "((came - sums) ** 2)"),
        ("sought = ordinals - lag", "sought = ordinals + lag"),
    ),
    *faults_in(
        "sim/day/draw.py",
        ("tests/day/test_demand_spread.py",),
        ("math.hypot(day_cv, spread.level_cv)", "day_cv"),
        ("pay.hour_factor_cv if spread.hour_cv is None", "pay.hour_factor_cv if spread.hour_cv"),
        ('draw.take("hour", 24)', 'draw.take("hour", 1)'),
    ),
    *faults_in(
        "sim/day/drawn.py",
        ("tests/day/test_demand_spread.py",),
        ("spread=replace(spread, level_cv=0.0)", "spread=spread"),
        ("found[first:last] = stream.permutation(found[first:last])", "pass"),
    ),
    *faults_in(
        "sim/decide/compare.py",
        ("tests/decide/test_stages.py", "-k", "rule or difference"),
        ("error.width / 2.0 < half_digit(", "error.width / 4.0 < half_digit("),
        ("return site is not None and error", "return site is None and error"),
    ),
    *faults_in(
        "sim/day/blocks.py",
        ("tests/day/test_blocks.py",),
        ("return (block + point * day) % blocks", "return block"),
        ("values[(at - point * day) % blocks", "values[(at + point * day) % blocks"),
        ("squares.mean() - left.mean()", "squares.mean()"),
        ("max(0.0, own.variance - day_left)", "max(0.0, own.variance)"),
    ),
]
