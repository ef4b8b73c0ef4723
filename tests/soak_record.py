"""The record of a soak run: read from the reports of its tests, written as a table in Markdown."""

from __future__ import annotations

import datetime
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

import pytest

from tests.seeds import ROOT_SEED

ROOT = Path(__file__).resolve().parent.parent
COUNT = "soak count"
FIGURE = "soak figure"
HEAD = "| test | outcome | counts | figures |"


@dataclass(slots=True)
class Row:
    """One soak test as it ran.

    Attributes:
        outcome: ``passed`` or ``failed``.
        counts: full counts at which it ran, in the order in which it asked for them.
        figures: name, value and unit of what it measured.
        fault: first line of the failure, or empty.
    """

    outcome: str = "passed"
    counts: list[int] = field(default_factory=list)
    figures: list[tuple[str, float, str]] = field(default_factory=list)
    fault: str = ""


@dataclass(slots=True)
class Recorder:
    """Plugin of the main process: gathers soak tests' reports and writes the record at the end."""

    target: Path
    rows: dict[str, Row] = field(default_factory=dict)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Takes a report of set-up, call or tear-down; reports of workers pass here as well."""
        if "soak" not in report.keywords:
            return
        row = self.rows.setdefault(report.nodeid, Row())
        if report.outcome != "passed":
            row.outcome = "failed"
            row.fault = row.fault or first_line(report)
        if report.when == "call":
            for name, value in report.user_properties:
                if name == COUNT:
                    row.counts.append(int(str(value)))
                elif name == FIGURE:
                    row.figures.append(cast("tuple[str, float, str]", value))

    def pytest_sessionfinish(self) -> None:
        """Writes the record, if any soak test ran."""
        if self.rows:
            today = datetime.datetime.now(datetime.UTC).date()
            self.target.write_text(record_text(self.rows, today, commit()), encoding="utf-8")


def first_line(report: pytest.TestReport) -> str:
    """What a failed report says in one line."""
    crash = getattr(report.longrepr, "reprcrash", None)
    message = str(crash.message if crash else report.longrepr).strip()
    return message.splitlines()[0] if message else "no message"


def commit(written: Path = ROOT / "tests/soak_record.md") -> str:
    """The commit that ran, and whether files but the record that is written differed from it."""

    def git(*arguments: str) -> str:
        done = subprocess.run(
            ["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=True
        )
        return done.stdout.strip()

    short = git("rev-parse", "--short=12", "HEAD")
    record = f":(exclude){written.resolve().relative_to(ROOT).as_posix()}"
    changed = git("status", "--porcelain", "--untracked-files=no", "--", ".", record)
    return f"{short} with changes not yet committed" if changed else short


def cell(text: str) -> str:
    """A text that cannot break the table."""
    return text.replace("|", "\\|").replace("\n", " ")


def record_text(rows: dict[str, Row], day: datetime.date, commit_ran: str) -> str:
    """The record in Markdown: when, what ran, a row a test, and every failure."""
    failed = {test: row for test, row in rows.items() if row.outcome != "passed"}
    lines = [
        "# Record of the last soak run",
        "",
        "Written by `make soak`: the statistical tests of `make test`, at full counts.",
        "",
        f"- Date: {day.isoformat()}",
        f"- Commit: {commit_ran}",
        f"- Root seed: {ROOT_SEED}",
        f"- Tests: {len(rows)}, failures: {len(failed)}",
        "",
        HEAD,
        "|---|---|---|---|",
    ]
    for test, row in sorted(rows.items()):
        counts = ", ".join(f"{count:,}" for count in row.counts)
        figures = "; ".join(
            f"{name} {value:.6g} {unit}".rstrip() for name, value, unit in row.figures
        )
        lines.append(f"| {cell(test)} | {row.outcome} | {counts} | {cell(figures)} |")
    lines += ["", "## Failures", ""]
    lines += [f"- {test}: {row.fault}" for test, row in sorted(failed.items())] or ["None."]
    return "\n".join(lines) + "\n"


def recorded_tests(text: str) -> set[str]:
    """Tests that have a row in a record, as ``file::name`` without parameters."""
    _, _, table = text.partition(HEAD)
    cells = [line.split("|")[1].strip() for line in table.splitlines() if line.startswith("| ")]
    return {test.partition("[")[0] for test in cells if "::" in test}
