"""Faults to plant in people and rosters."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

QUEUES = (
    "tests/published/test_erlang.py",
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
ROSTER = (
    "tests/decide/test_roster.py", "tests/decide/test_roster_conflicts.py",
    "tests/answers/test_roster.py", "-k", "not large and not drawn",
)  # fmt: skip
ROSTER_BOOK = (
    "tests/answers/test_roster.py", "-k",
    "question_is or named or another_week or published or costs_by_day or by_hand or key or"
    " undoing or told_with or everything",
)  # fmt: skip
ROSTER_STUDY = ("tests/answers/test_roster.py", "-k", "solver or key")
SHIFT_CHANGES = ("tests/pages/test_roster_page.py", "-k", "undo or like_a_date")
COVERING = ("tests/published/test_covering.py",)

FAULTS: list[Fault] = [
    *faults_in(
        "sim/decide/staff/queues.py",
        QUEUES,
        ("(server + load * blocked)", "(server + load)"),
        ("1.0 - load / servers * (1.0 - blocked)", "1.0 - load / servers * blocked"),
        ("math.exp(-(servers - load) * wait_s", "math.exp(-servers * wait_s"),
        ("* service_s / (servers - load)", "* service_s / servers"),
        ("math.ceil(load / most_use - 1e-9)", "math.ceil(load - 1e-9)"),
        ("load / min(present, servers)", "load / present"),
    ),
    *faults_in(
        "sim/decide/staff/queues.py",
        QUEUES,
        ("load = level + (load - level) * fade", "load = level"),
        ("service_s * (1.0 - fade) / step_s", "service_s * fade / step_s"),
        ("min(present, servers) / service_s", "servers / service_s"),
        ("numbers[:-1] - servers + 1, 0", "numbers[:-1] - servers, 0"),
        ("    state = np.zeros(places + 1)\n", "    state = np.full(places + 1, 0.1)\n"),
        ("range(1, departures)", "range(1, departures + 1)"),
    ),
    *faults_in(
        "sim/decide/staff/measure.py",
        STAFF_WORK,
        ("+ crew.exit_work_s)", ")"),
        ("_sum(arrival[~kept])", "_sum(arrival[kept])"),
        ("(moments[at + 1]))", "(moments[at] + 60.0))"),
        ("crew.reduced_work_s, 0.0)", "crew.exit_work_s, 0.0)"),
        ("start + wear.set_change_min * 60.0", "start + wear.set_change_min"),
        ("weight * (until - start_s)", "(until - start_s)"),
    ),
    *faults_in(
        "sim/decide/staff/measure.py",
        STAFF_WORK,
        ("math.sqrt(days)", "days"),
        ("stdtrit(days - 1, CONFIDENCE)", "stdtrit(days - 1, 0.5)"),
        ("MINUTE_S / 2.0", "MINUTE_S"),
        ("HALF_HOUR_S * site.crew.target_use", "HALF_HOUR_S"),
        ("_ceil(whole[at] / room))", "0)"),
        ("edge + step * number", "edge + step * number - step"),
        ("if people == 1:", "if people == 3:"),
        ("(self.shared[at], people - loaders)", "(self.shared[at], people)"),
    ),
    *faults_in(
        "sim/decide/staff/needs.py",
        NEEDS,
        ("LATE_SHARE * half", "0.5 * half"),
        ("HALF_HOUR_S) - wishes.allowed_full_share", "HALF_HOUR_S)"),
        ("best.full + slack, 0.0)", "best.full, 0.0)"),
        (" | (judged.lost > self.lost + 1e-9)", ""),
        ("if limits.broken(self.judge(fewer)).any():", "if False:"),
        ("elif worth.pop(at) >= 0.0:", "elif worth.pop(at) > np.inf:"),
        ("best.late + SLACK_CARS, 0.0)", "0.0, 0.0)"),
    ),
    *faults_in(
        "sim/decide/staff/queues.py",
        NEEDS,
        ("<= LATE_SHARE and not is_full", "<= LATE_SHARE"),
        ("mean_load_s(site) * site.pay.second_loader_factor", "mean_load_s(site)"),
    ),
    *faults_in(
        "sim/decide/staff/needs.py",
        ("tests/decide/test_staff_needs.py", "-k", "every_loader"),
        ("float(self._gain(loaders, fewer).mean())", "0.0 * at"),
    ),
    *faults_in(
        "sim/decide/staff/measure.py",
        STAFF_WORK,
        ("math.ceil(site.line.close_h", "math.floor(site.line.open_h"),
        ("if start < moment < end]", "if start < moment <= end]"),
    ),
    *faults_in(
        "sim/decide/staff/needs.py",
        STAFF_ANSWER,
        ("max(1, loaders[at] + change)", "max(1, loaders[at])"),
        ("difference(-paid(question, plan, base), -", "difference(paid(question, plan, base), -"),
        ("one - other, len(one)", "one, len(one)"),
    ),
    *faults_in(
        "sim/decide/staff/needs.py",
        STAFF_ANSWER,
        ("(planned.people) / 2.0 + work_h", "(planned.people) / 2.0"),
    ),
    *faults_in(
        "sim/decide/staff/program.py",
        COVERING,
        (
            "LinearConstraint(covers, needed, np.inf)",
            "LinearConstraint(covers, needed - 1, np.inf)",
        ),
        ("np.ones(len(cost)) if whole is None", "np.zeros(len(cost)) if whole is None"),
    ),
    *faults_in(
        "sim/decide/staff/week.py",
        ROSTER,
        ("first = max(start + PER_H, end - pause - most)", "first = start + PER_H"),
        ("unpaid = 0 if limits.break_paid else", "unpaid = 0 if not limits.break_paid else"),
        ("if end - start <= most:", "if end - start <= most + 1:"),
    ),
    *faults_in(
        "sim/decide/staff/week.py",
        ROSTER,
        (
            "away.from_s < end_s and away.to_s > start_s",
            "away.from_s > end_s and away.to_s > start_s",
        ),
        ("on = (day, self.monday + timedelta(days=day))", "on = (day,)"),
        ("return min(person.most_h, self.limits.most_h_week)", "return self.limits.most_h_week"),
        ("over * (week.limits.overtime_factor - 1.0)", "over * week.limits.overtime_factor"),
        ("np.sum([self.skilled[name] for name in some], axis=0)", "self.skilled[some[0]]"),
        ("for n in range(len(names))", "for n in range(min(1, len(names)))"),
        (
            "np.minimum(np.asarray(counts[role], dtype=int), most)",
            "np.asarray(counts[role], dtype=int)",
        ),
        ("        if name in skills:\n", "        if name:\n"),
        ("limits.most_weekend_days - had)", "limits.most_weekend_days)"),
        ("(old.name, old.day) == (duty.name, duty.day)", "old.day == duty.day"),
        ("found.get(name, np.zeros(SLOTS, dtype=int)) + asked", "asked"),
    ),
    *faults_in(
        "sim/decide/staff/roster.py",
        ROSTER,
        ("+ people / PER_H", "+ 1.0 / PER_H"),
        ("if worst and together[worst] > alone:", "if worst:"),
        ("hours - week.most_h(person)", "hours - person.most_h - 100.0"),
        ("person.least_h - hours", "-hours"),
        ("len(mine) - limits.most_days_week", "len(mine) - limits.most_days_week - 1"),
        ("spans = [(-1, shift) for shift in week.last_sunday(person)]", "spans = []"),
        ("- earlier.end < slots_of(limits.rest_h)", "- earlier.end < 0"),
    ),
    *faults_in(
        "sim/decide/staff/program.py",
        ROSTER,
        ("first <= a and b <= last]", "first < a and b <= last]"),
        (
            "at_work.setdefault((group, day, slot), {})[column] = -1.0",
            "at_work.setdefault((group, day, slot), {})[column] = 0.0",
        ),
        ("if counts_for(skills, group):", "if True:"),
    ),
    *faults_in(
        "sim/decide/staff/program.py",
        ROSTER,
        ("if d == day}, 0.0, 1.0)", "if d == day}, 0.0, 2.0)"),
        ("if group != mine_too or (", "if ("),
        ('rule: Rule = "skill" if skills else "cover"', 'rule: Rule = "cover"'),
        ("made.rules.add(terms, person.least_h, np.inf)", "made.rules.add(terms, 0.0, np.inf)"),
        ('("days_off", 0, self.week.limits.most_days_week)', '("days_off", 0, 7)'),
        ("if start + SLOTS - end < rest}", "if start + SLOTS - end < 0}"),
        ("0.0 if day < 0 else 1.0)", "1.0)"),
        ("premium = person.wage_per_h * (", "premium = 0.0 * ("),
    ),
    *faults_in(
        "sim/decide/staff/roster.py",
        ROSTER,
        ("best = min(found, key=", "best = max(found, key="),
        ("- bound <= _gap_allowed(week, bound)", "- bound >= _gap_allowed(week, bound)"),
        (
            "found = replace(near[0], lp_bound=found[0].lp_bound, bound=found[0].bound), near[1]",
            "found = near",
        ),
    ),
    *faults_in(
        "sim/decide/staff/roster.py",
        ROSTER,
        ("rule not in tried.free)", "rule in tried.free)"),
        ("cover_days=tried.cover_days - {day}", "cover_days=tried.cover_days"),
        ("{one.rule for one in breaches} <= asked.relaxed", "breaches"),
        ("cap = np.inf if best is None else best.price - FINER", "cap = np.inf"),
    ),
    *faults_in(
        "app/answers/staff.py",
        ROSTER_BOOK,
        ("return day - timedelta(days=day.weekday())", "return day"),
        ('if note.kind == "closed"}', "}"),
        ("        if day in days\n    }", "    }"),
        ("in_week(monday - WEEK))", "in_week(monday))"),
        (" if any(told.roles[role])\n", "\n"),
        ("sorted(names - _skills(people))", "sorted(names)"),
        ("(start + end - length) // 2", "start"),
        ("if one.version == changes[0].version)", ")"),
        ("shifts.pop((held.day, held.name), None)", "pass"),
        ("        if change.old:\n", "        if not change.new:\n"),
    ),
    *faults_in(
        "sim/inputs/roster.py",
        ROSTER_BOOK,
        ("if monday <= one.day < ends))", "if monday <= one.day))"),
        ("if one not in held)", "if False)"),
        ("0.0 if limits.break_paid else self", "0.0 if not limits.break_paid else self"),
    ),
    *faults_in(
        "sim/decide/staff/week.py",
        ROSTER_BOOK,
        (
            "shift.pause, shift.pause_end))\n        found",
            "shift.pause, shift.end))\n        found",
        ),
        ("by_day[duty.day] += wages", "by_day[0] += wages"),
    ),
    *faults_in(
        "sim/decide/staff/roster.py",
        ROSTER_BOOK,
        (
            "conflict = explain(week, left_s, found.nearest, True) if found.proved else None",
            "conflict = None",
        ),
    ),
    *faults_in(
        "app/answers/staff.py",
        ROSTER_STUDY,
        ("        solver.kill()\n", ""),
        ("            report(done, steps)\n", ""),
        ("needed = week.needed.tolist()", "needed = 0"),
        ("sorted(week.skilled.items())}", "[]}"),
        ("(week.monday, week.people, week.limits,", "(week.monday, week.limits,"),
    ),
    *faults_in(
        "app/db/store.py",
        SHIFT_CHANGES,
        ("        ChangeRow.what == SHIFTS.what,\n", ""),
    ),
]
