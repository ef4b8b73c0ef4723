"""Faults to plant where the logbook is written."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

REST = "tests/decide/test_now_rest.py"
PAGE = "tests/pages/test_logbook_page.py"

FAULTS: list[Fault] = [
    *faults_in(
        "app/pages/logbook/entries.py",
        (PAGE, "-k", "yesterday or corrected or kind"),
        ('if is_now and full["day"] != today.isoformat():', "if False:"),
        ("(name for name, text in texts.items() if text_of(form, WAS + name) == text)", "()"),
        ("if kind not in ENTERED:", "if kind not in LOGGED:"),
    ),
    *faults_in(
        "app/pages/logbook/taken.py",
        (PAGE, "-k", "twice or undo"),
        ("if _was_so(web, site, read.entry, held, read.is_now):", "if False:"),
        ("    if undone is not changes[0]:", "    if False:"),
    ),
    *faults_in(
        "app/pages/logbook/files.py",
        (PAGE, "-k", "bad_lines"),
        ("for one in entries if one.day <= today}", "for one in entries}"),
    ),
    *faults_in(
        "app/pages/logbook/taken.py",
        ("tests/pages/test_sent.py", "-k", "several_checks"),
        ('FormData([*shared, ("name", name), ("key", f"{key}-{number}")])', "form"),
    ),
    *faults_in(
        "app/pages/logbook/sent.py",
        ("tests/pages/test_sent.py",),
        ("if len(held) == len(every) and not problems:", "if held:"),
        ("ago_ms = max(0, sent.sent_ms - entry.at_ms)", "ago_ms = 0"),
        ("if fast_s > WRONG_S:", "if False:"),
        ("if max(open_ms) > sent.sent_ms + 1000.0 * WRONG_S:", "if False:"),
    ),
    *faults_in(
        "app/answers/now.py",
        ("tests/answers/test_now_ready.py",),
        ("asked = max(others, key=lambda one: len(one.news))", "asked = mine"),
        (" and other.news <= self.news", ""),
        ("is_now = 0.0 <= self.now_s - other.now_s <= SAME_S", "is_now = True"),
    ),
    *faults_in(
        "app/pages/links.py",
        ("tests/pages/test_phones.py",),
        ("    if phone is None:\n", "    if False:\n"),
        ("return client in LOCAL_ADDRESSES and ", "return "),
    ),
    *faults_in(
        "app/certificates.py",
        ("tests/cli/test_certificate.py",),
        (".add_extension(only, critical=True)", ""),
        ("age = min(SERVER_AGE, authority.not_valid_after_utc - now)", "age = 4 * SERVER_AGE"),
        (
            "    strange = [name for name in wanted if name not in _permitted(authority)]",
            "    strange = []",
        ),
        (
            "x509.SubjectAlternativeName([_general(n) for n in names])",
            "x509.SubjectAlternativeName([_general(names[0])])",
        ),
    ),
    *faults_in(
        "app/pages/advice.py",
        ("tests/pages/test_now_page.py", "-k", "however_it_comes or as_it_was_given"),
        ("if any(entry.day == web.today(site) for entry in opened.entered):", "if False:"),
        ("if found.advised is not None and found.advised.text == text:", "if False:"),
    ),
    *faults_in(
        "app/words/logbook.py",
        (PAGE, "-k", "switches_of or near_a_planned"),
        (" if opens_s < at < closes_s}", "}"),
        ("<= NEAR_PLAN_S for at", "<= 2.0 * NEAR_PLAN_S for at"),
        ("word == entry.word and abs(", "abs("),
    ),
    *faults_in(
        "sim/decide/now/evening.py",
        (REST,),
        ("known.last_s < HOUR_S * line.close_h - LATEST_COUNT_S", "known.last_s < 0.0"),
        ("if at > HOUR_S * line.open_h", "if at >= 0.0"),
        ("totals[-1] / usual[-1]", "1.0"),
        ("spread=DemandSpread(0.0, 0.0)", "spread=expected.spread"),
    ),
    *faults_in(
        "sim/decide/now/rest.py",
        (REST,),
        ("max(site.line.stop_median_s, stood)", "site.line.stop_median_s"),
        ("value_at(people, max(0.0, at - DUE_S))", "0.0"),
        ("then < count", "then > count"),
    ),
    *faults_in(
        "sim/learn/felt.py",
        (REST,),
        (
            "one.humidity * saturation_pressure_pa(temp)",
            "one.humidity * saturation_pressure_pa(temps[hour])",
        ),
        ("range(begin, 24)", "range(24)"),
    ),
    *faults_in(
        "sim/day/night.py",
        (REST,),
        ("parse_rule(self.rule) if self.rule else rule", "rule"),
        ("cars_of(number), rule, sets, tables", "cars_of(number), rule, tables"),
    ),
]
