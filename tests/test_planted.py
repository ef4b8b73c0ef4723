"""Planted faults stay plantable: a fault whose text has moved on would be noticed by nobody."""

from __future__ import annotations

import pytest

from tests.architecture import ROOT
from tests.planted import FAULTS, Fault


@pytest.mark.parametrize("path", sorted({fault.path for fault in FAULTS}))
def test_each_text_of_a_fault_stands_once_in_its_file(path: str) -> None:
    """Where it stood twice or not at all, another fault than the one meant would be planted."""
    text = (ROOT / path).read_text(encoding="utf-8")
    counts = {fault.old: text.count(fault.old) for fault in FAULTS if fault.path == path}
    assert {old: count for old, count in counts.items() if count != 1} == {}


def test_each_fault_changes_something_and_has_tests_that_are_there() -> None:
    """Files of tests that were moved or renamed are named anew here too."""

    def faults_of(fault: Fault) -> list[str]:
        files = [part.split("::")[0] for part in fault.tests if part.startswith("tests/")]
        return [] if files and all((ROOT / one).exists() for one in files) else [str(fault.tests)]

    assert [missing for fault in FAULTS for missing in faults_of(fault)] == []
    assert [fault for fault in FAULTS if fault.old == fault.new] == []
