"""Faults to plant in the services."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

RECORD = ("tests/answers/test_cloth.py", "-k", "beside or files or lines")
SEASON = ("tests/answers/test_season.py", "-k", "peak_days or stored_plan")
CALENDAR = ("tests/books/test_calendar_book.py", "tests/published/test_rfc5545.py")
SUBTRACTING = ("tests/words/test_subtracting.py", "tests/words/test_how_sure.py")
SHEETS = ("tests/files/test_sheets.py",)

FAULTS: list[Fault] = [
    *faults_in(
        "app/words/answer.py",
        ("tests/answers/test_guesses_named.py",),
        (
            'changed turns on guesses until you enter yours: {inputs}.",\n'
            '        ("film_after_rinse_kg_m2", "blower_removal"),',
            'changed turns on guesses until you enter yours: {inputs}.",\n'
            '        ("blower_removal",),',
        ),
        ('"prep_work_s",', ""),
    ),
    *faults_in(
        "app/words/figures.py",
        SUBTRACTING,
        ("min(levels + differences)", "min(levels)"),
        ("min(levels) / 10.0", "0.0"),
        ("(*comparison.columns, *comparison.unshown)", "comparison.columns"),
    ),
    *faults_in(
        "app/words/numbers.py",
        SUBTRACTING,
        ("(round(value / step) - round(first / step)) * step", "value - first"),
    ),
    *faults_in(
        "sim/decide/answer.py",
        ("tests/pages/test_one_truth.py", "-k", "figure_differs and hot_dry"),
        ("base + (value - own)", "value"),
    ),
    *faults_in(
        "app/db/writes.py",
        ("tests/answers/test_studies.py",),
        ('or_(StudyRow.state == "waiting", lapsed)', "StudyRow.state.in_(OPEN)"),
        ("    return _set_study(session, _held(key, holder), news)", "    return True"),
    ),
    *faults_in(
        "app/sites/differences.py",
        ("tests/sites/test_plan_states.py",),
        ("replace(old, name=new.name) == new", "False"),
        ("if stood != sorted(kept,", "if False and sorted(kept,"),
    ),
    *faults_in(
        "app/answers/planning.py",
        ("tests/sites/test_plan_states.py",),
        ("within = state.change, state.next_change", "within = state.change, None"),
    ),
    *faults_in(
        "app/pages/plan/link.py",
        ("tests/pages/test_plan_versions.py", "-k", "link"),
        ("if text or name.isdigit()}", "if text}"),
        ('[*(f"{name} = {text}" for name, text in texts.items()), *more', "[*more"),
    ),
    *faults_in(
        "app/pages/plan/versions.py",
        ("tests/pages/test_plan_versions.py", "-k", "version"),
        ("expected_version=version,", "expected_version=_newest,"),
    ),
    *faults_in(
        "app/pages/security.py",
        ("tests/pages/test_security.py", "-k", "looks_the_same"),
        ("mask = secrets.token_bytes(len(held))", "mask = bytes(len(held))"),
    ),
    *faults_in(
        "app/books.py",
        RECORD,
        ("            elif on_wheel is not None:\n", "            elif False:\n"),
        ("if event.reason != ROTATED:", "if event.reason == ROTATED:"),
    ),
    *faults_in(
        "sim/inputs/rows.py",
        RECORD,
        ('return self.to_come if today is not None and value > today else ""', 'return ""'),
    ),
    *faults_in(
        "sim/inputs/rows.py",
        ("tests/books/test_books.py",),
        ("(self.blank is not None and self.blank(row))", "False"),
        ("if self.twice:", "if False:"),
    ),
    *faults_in(
        "app/answers/season.py",
        SEASON,
        ('"peak": f"clock {hours}" if is_peak else "full"', '"peak": f"clock {hours}"'),
        ('plan.expect if plan else ""', '""'),
    ),
    *faults_in(
        "app/sites/calendar.py",
        CALENDAR,
        ("before.sequence + 1, False", "before.sequence, False"),
        ("if row.entry.day < today]", "if False]"),
        ("sequence=row.sequence + 1, is_cancelled=True", "is_cancelled=True"),
        ("before.entry == entry and not before.is_cancelled", "before.entry == entry"),
    ),
    *faults_in(
        "app/sites/calendar.py",
        CALENDAR,
        ("time(), zone)", "time(), UTC)"),
        (
            "made.add_missing_timezones(first_date=today, last_date=last + timedelta(days=366))",
            "_ = last",
        ),
        ("entry.day + timedelta(days=1)", "entry.day"),
    ),
    *faults_in(
        "app/files/sheets.py",
        SHEETS,
        ('    made.data_type = "s"\n', ""),
    ),
    *faults_in(
        "app/files/csv_table.py",
        ("tests/files/test_csv_cells.py",),
        ('FORMULA_MARKS = "=+-@"', 'FORMULA_MARKS = "="'),
        ('unicodedata.normalize("NFKC", text.lstrip()[:1])', "text.lstrip()[:1]"),
        ("return cell[1:] if is_text else cell", "return cell"),
    ),
]
