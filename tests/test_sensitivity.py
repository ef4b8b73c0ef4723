"""The guide on what a busy day turns on: its guesses and their ends are those of the inputs."""

from __future__ import annotations

from sim.checks import check_site
from sim.inputs import INPUTS
from tests.sensitivity import ENDS, FEW, GUESSES, GUIDE, MIDDLE, OWN_PEOPLE, busy_day, cases


def test_ends_are_those_believed_of_the_site() -> None:
    """Each guess has a prior, and the sites at its low, middle and high end have values that follow
    one another within what is allowed; the middle one is the site as it is."""
    site = busy_day().site
    rows = {row[0].label: row for row in cases(site)}
    for name in GUESSES:
        entry = INPUTS[name]
        assert entry.prior is not None
        row = rows[f"{entry.label} (guess)"]
        low, middle, high = (float(str(case.site.value(name))) for case in row)
        assert entry.low <= low < middle < high <= entry.high
        assert row[ENDS.index(MIDDLE)].site == site
        assert len({case.at for case in row}) == len(ENDS)


def test_every_case_is_a_site_that_can_be_planned() -> None:
    """No case has a problem, and people at the exit are paid: counted among those on the line."""
    site = busy_day().site
    rows = cases(site)
    assert [case.at for row in rows for case in row if check_site(case.site)] == []
    (own,) = (row for row in rows if row[0].is_own)
    for count, case in zip(OWN_PEOPLE, own, strict=True):
        more = [
            max(people for _, people in case.site.crew.people),
            max(people for _, people in case.site.crew.finishers),
        ]
        assert more[1] == count
        assert more[0] == max(people for _, people in site.crew.people) + count


def test_the_guide_tells_these_cases() -> None:
    """Rows of the stored guide are those of the script, in its order, at the same values, and as
    many days are told."""
    text = GUIDE.read_text(encoding="utf-8")
    table = [line.split(" | ") for line in text.splitlines() if line.startswith("| ")][2:]
    told = [(line[0].removeprefix("| "), line[1]) for line in table]
    assert told == [(case.label, case.at) for row in cases(busy_day().site) for case in row]
    assert f"on {FEW.sure} simulated days" in text
