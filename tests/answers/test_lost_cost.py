"""Whether a site has entered its own cost of a lost car survives folder, text and database."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.db import store
from app.db.session import Session
from app.pages.forms import input_field
from app.sites.changes import Gate
from app.sites.folder import read_folder, read_site_text, site_text, write_folder
from sim.inputs import FOLLOWS, INPUTS, SiteData
from tests.small_wash import small_wash

HEAD = 'name = "Typed"\n[money]\nprice_per_car = 15\n'


def read(text: str) -> SiteData:
    """A site's text without a problem."""
    data, problems = read_site_text(text.encode())
    assert not problems
    return data


@pytest.mark.parametrize(
    ("line", "held", "costs", "given"),
    [
        ("", FOLLOWS, 12.5, False),
        ('lost_cost = ""\n', FOLLOWS, 12.5, False),
        ("lost_cost = 9.5\n", 9.5, 9.5, True),
        ("lost_cost = 0\n", 0.0, 0.0, True),
        ('lost_cost = "4 $"\n', 4.0, 4.0, True),
    ],
)
def test_a_text_says_whether_it_was_entered(
    line: str, held: float, costs: float, given: bool
) -> None:
    """Without the line, or with an empty one, a lost car costs 15 − 2.5; what is entered holds, the
    old default and 0 among it; written and read again it is the same."""
    data = read(HEAD + line)
    again = read(site_text(data))
    for one in (data, again):
        assert one.site.money.lost_cost == held
        assert one.site.money.lost_car_cost == costs
        assert ("lost_cost" in one.given) == given


def test_no_number_stands_for_an_empty_field() -> None:
    """What stands for nothing entered can't be typed as a number."""
    _, problems = read_site_text((HEAD + "lost_cost = -1\n").encode())
    assert [p.field for p in problems] == ["lost_cost"]
    assert "Enter 0" in str(problems[0])


def test_folder_and_database_keep_it(tmp_path: Path, session: Session, gate: Gate) -> None:
    """Entered, kept by database and folder; emptied again, it follows, and is no entry any more."""
    site_id = gate.create_site(small_wash(), "made").site_id
    assert store.get_site(session, site_id).data.site.money.lost_cost == FOLLOWS
    gate.set_inputs(site_id, {"lost_cost": 3.0}, expected_version=1, request_key="typed")
    typed = store.get_site(session, site_id).data
    assert (typed.site.money.lost_car_cost, "lost_cost" in typed.given) == (3.0, True)
    write_folder(tmp_path / "typed", typed)
    assert read_folder(tmp_path / "typed").site.money.lost_cost == 3.0
    gate.set_inputs(site_id, {"lost_cost": FOLLOWS}, expected_version=2, request_key="emptied")
    emptied = store.get_site(session, site_id).data
    assert (emptied.site.money.lost_car_cost, "lost_cost" in emptied.given) == (9.5, False)
    write_folder(tmp_path / "emptied", emptied)
    assert "lost_cost" not in (tmp_path / "emptied" / "site.toml").read_text(encoding="utf-8")


def test_the_field_says_what_an_empty_one_means() -> None:
    """It is empty and says what follows; with something entered the way back is named."""
    row = INPUTS["lost_cost"]
    empty = input_field(row, FOLLOWS, "us", given=False)
    assert empty.value == ""
    assert "Empty: takings per car less cost per car." in empty.hint
    typed = input_field(row, 4.0, "us", given=True)
    assert (typed.value, typed.origin) == ("4", "yours")
    assert typed.mark_words == "Back to the default, takings per car less cost per car"
