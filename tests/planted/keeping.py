"""Faults in who may do what, and in what keeps the history and its copies."""

from __future__ import annotations

from tests.planted.fault import Fault, faults_in

FAULTS: list[Fault] = [
    *faults_in(
        "app/access/table.py",
        ("tests/pages/test_people.py", "-k", "every_route"),
        ("row.roles == ROLES or visitor.has(slug)", "True"),
        ("if row is None or visitor.role not in row.roles:", "if row is None:"),
    ),
    *faults_in(
        "app/access/passwords.py",
        ("tests/access/test_passwords.py",),
        (" and len(password) <= MOST  #", "  #"),
        ("(*name.casefold().split(), *KNOWN)", "name.casefold().split()"),
    ),
    *faults_in(
        "app/access/passkeys.py",
        ("tests/browser/test_passkeys.py",),
        ("credential_current_sign_count=count", "credential_current_sign_count=0"),
    ),
    *faults_in(
        "app/cli/commands.py",
        ("tests/cli/test_person.py",),
        ("now + RECOVERY", "now + 2 * RECOVERY"),
        ("        if found.role == ATTENDANT:", "        if False:"),
    ),
    *faults_in(
        "app/cli/serving.py",
        ("tests/cli/test_serving.py", "-k", "ciphers"),
        ("ssl_ciphers=CIPHERS", 'ssl_ciphers="TLSv1"'),
    ),
    *faults_in(
        "app/access/codes.py",
        ("tests/pages/test_phones.py",),
        ("return hashlib.sha256(secret.encode()).hexdigest()", "return secret"),
    ),
    *faults_in(
        "app/db/chain.py",
        ("tests/db/test_chain.py",),
        ("    told: list[object] = [before]", "    told: list[object] = []"),
        ("        if written != right:", "        if not written:"),
        ("    if against and held_at is None:", "    if False:"),
        ('        if encode(LOG.plain(entry)) != encode(row["new"]):', "        if False:"),
    ),
    *faults_in(
        "app/db/backups.py",
        ("tests/db/test_backups.py",),
        ("    if said != digest(backup):", "    if False:"),
        ("        if not found.is_whole:\n            why", "        if False:\n            why"),
        ("    if not as_one_file(path):", "    if as_one_file(path) and False:"),
        ("    stay = {at for at in ordered if at > now}", "    stay = set()"),
        (
            "                newest.setdefault(_span(name, at.date()), at)",
            "                newest[_span(name, at.date())] = at",
        ),
    ),
    *faults_in(
        "app/db/upgrade.py",
        ("tests/db/test_upgrade.py",),
        ("        if not found.is_whole:", "        if False:"),
        ("        if not as_one_file(path):", "        if as_one_file(path) and False:"),
        ("        _try_on(backup.path, path)\n", ""),
    ),
    *faults_in(
        "app/pages/links.py",
        ("tests/running/test_health.py",),
        ("row.is_open_here and is_here(request)", "row.is_open_here"),
    ),
    *faults_in(
        "app/pages/running.py",
        ("tests/running/test_health.py",),
        ("        has_shape and can_write and computes,", "        has_shape and can_write,"),
        ("200 if found.is_ready else 503", "200"),
    ),
    *faults_in(
        "app/running/numbers.py",
        ("tests/running/test_numbers.py",),
        ("            seen += count", "            seen = count"),
        ("bisect_left(BUCKETS_S, seconds)", "bisect_left(BUCKETS_S, seconds + 1e-9)"),
        ('.replace("\\n", "\\\\n")', ""),
    ),
    *faults_in(
        "app/running/log.py",
        ("tests/running/test_log.py",),
        ('"fault": type(fault).__name__', '"fault": repr(fault)'),
        ('"said": str(record.msg)', '"said": record.getMessage()'),
        ('said = f"{now.astimezone(UTC).date()} {address}"', 'said = f"{address}"'),
    ),
    *faults_in(
        "app/sites/put_back.py",
        ("tests/sites/test_put_back.py",),
        ("    if now - change.at > FOR:", "    if False:"),
        ("    if problems:", "    if False:"),
        ("change.new is not None or ", ""),
    ),
]
