"""A value beside its name is read by the name; with a unit, by the unit, everywhere alike."""

from __future__ import annotations

import pytest

from app.sites.folder import read_site_text
from sim.inputs import CLASS_INPUTS, GROUP_INPUTS, INPUTS, Entry
from sim.units import BY_NAME, UNITS

NUMBERS = {
    name: row for name, row in {**INPUTS, **CLASS_INPUTS}.items() if row.kind in ("number", "whole")
}
ENDINGS = {
    "_w_m2k": "W/m²K", "_kg_kg": "kg/kg", "_kg_m2": "kg/m²", "_m_s": "m/s", "_rev_s": "rev/s",
    "_s_m2": "s/m²", "_s_kg": "s/kg", "_per_1000_cars": None,
    "_m2": "m²", "_per_h": None, "_s": "s", "_min": "min", "_h": "h", "_days": "days", "_m": "m",
    "_kg": "kg", "_pa": "Pa", "_k": "K", "_w": "W", "_cars": "cars", "_sets": "sets",
    "_people": "people",
}  # fmt: skip
"""What the end of a name says of its unit, the longest first; written out, not taken from code."""


def unit_of(name: str) -> str | None:
    """The unit that a name ends with; None where it ends with none."""
    return next((unit for end, unit in ENDINGS.items() if name.endswith(end)), None)


@pytest.mark.parametrize("name", NUMBERS)
def test_the_end_of_a_name_is_the_unit_of_a_bare_number(name: str) -> None:
    """A bare number and the same number with the unit of the name's end are one stored value."""
    row = NUMBERS[name]
    typed = f"{row.low:.6g}" if row.low else f"{row.high:.6g}"
    bare = row.parse(typed, BY_NAME)
    assert bare == pytest.approx(float(typed))
    unit = unit_of(name)
    if unit is not None and row.unit is not UNITS["number"]:
        assert row.parse(f"{typed} {unit}", BY_NAME) == pytest.approx(bare)
    if row.unit is UNITS["share"]:
        assert row.parse(f"{100 * float(typed):.8g} %", BY_NAME) == pytest.approx(bare)


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("name", [n for n, row in INPUTS.items() if row.is_number])
def test_a_value_with_its_unit_reads_the_same_everywhere(name: str, system: str) -> None:
    """What is shown with its unit is read back to the shown digits, whatever a bare one means."""
    row = INPUTS[name]
    if row.default in ("", ()):
        return
    shown = row.with_unit(row.default, system)
    for reader in ("si", "us", BY_NAME):
        assert _flat(row.parse(shown, reader)) == pytest.approx(_flat(row.default), rel=1e-3)


def _flat(value: object) -> list[object]:
    if isinstance(value, tuple):
        return [part for item in value for part in _flat(item)]
    return [value]


@pytest.mark.parametrize(
    ("group", "line"),
    [
        ("pay", "patience_median_s = {}"),
        ("pay", "day_factor_cv = {}"),
        ("water", "film_after_rinse_kg_m2 = {}"),
        ("wheel", "strip_dry_mass_kg = {}"),
    ],
)
def test_quotation_marks_change_no_number_of_a_site_toml(group: str, line: str) -> None:
    """A number in a file is what its name says, as text too; with a unit it goes by that."""
    name = line.partition(" ")[0]
    row: Entry = next(rows[name] for rows in GROUP_INPUTS.values() if name in rows)
    group = next(g for g, rows in GROUP_INPUTS.items() if name in rows)
    amount = f"{1.1 * float(str(row.default)):.6g}"
    values = []
    for written in (amount, f'"{amount}"', f'"{row.with_unit(float(amount), "us")}"'):
        text = f'name = "A"\n[{group}]\n' + line.format(written) + "\n"
        data, problems = read_site_text(text.encode())
        assert problems == ()
        values.append(float(str(data.site.value(name))))
    assert values == pytest.approx([float(amount)] * 3, rel=1e-3)
