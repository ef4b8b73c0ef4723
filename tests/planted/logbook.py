"""Faults to plant where the logbook is written."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

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
        "app/words/logbook.py",
        (PAGE, "-k", "switches_of or near_a_planned"),
        (" if opens_s < at < closes_s}", "}"),
        ("<= NEAR_PLAN_S for at", "<= 2.0 * NEAR_PLAN_S for at"),
        ("word == entry.word and abs(", "abs("),
    ),
]
