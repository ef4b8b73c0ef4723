"""In cues that the crew can see: the part of the page, the day sheet and the terminal."""

from __future__ import annotations

import io
from typing import Any

import pytest
from rich.console import Console

from app.cli import terminal
from app.words.cues import crew_damp, cues_of, earlier_words, sheet_act, sheet_cues
from app.words.switch_sure import switch_sure
from app.words.switching import act_words, answer_words, role_of
from tests.web.switch_content import FULL, REDUCED, band, clock, rule, switch

CREW = {
    "delay_median_s": 180.0, "delay_log_sd": 0.6, "count_every_s": 600.0, "count_log_sd": 0.05,
    "weigh_every_s": 0.0, "weigh_log_sd": 0.156,
}  # fmt: skip


def loss(value: float, low: float, high: float) -> dict[str, Any]:
    """A loss with its run error."""
    return {"value": value, "intervals": [{"kind": "run error", "low": low, "high": high}]}


def measured(one: dict[str, Any], damp: float, keeps: bool = True) -> dict[str, Any]:
    """A rule with its figures."""
    return {"rule": one, "damp_cars": 1840 * damp, "damp_share": damp, "full_cars": 1210.4,
            "cost": 3120.7, "keeps": keeps, "nearly": keeps}  # fmt: skip


def gain(cost: float) -> dict[str, Any]:
    """What a cue changes against wiping in full all day."""
    return {"gains": {"damp_cars": {"value": -21.0}, "full_cars": {"value": -127.0},
                      "cost": {"value": cost}}}  # fmt: skip


def crew_rule(kind: str, more: list[Any] | None = None, **values: Any) -> dict[str, Any]:
    """A rule of one cue, and who is reduced beside."""
    term = {"kind": f"crew_{kind}", **values}
    return rule(f"crew {kind}", "in a cue", [[term, *(more or [])]])


CLOCK = crew_rule("clock", windows=[[42900.0, 57300.0]])
CARS = crew_rule("cars", upper=118.0, lower=95.0)
STRIP = crew_rule("strip", upper_kg=0.64, lower_kg=0.56)


def found(
    use: str = "clock", unit: str = "full_cars", chosen: dict[str, Any] | None = None
) -> dict[str, Any]:
    """An answer with three cues: losses of 12, 34 and none that is sure."""
    cues = [
        {
            "kind": kind,
            **measured(one, damp, keeps),
            "to_chosen": lost,
            "to_band": lost,
            "tried": 9,
            "over_constant": gain(-12.0),
            "gains": True,
        }
        for kind, one, damp, keeps, lost in (
            ("clock", CLOCK, 0.0512, True, loss(12.4, 8.6, 16.1)),
            ("cars", CARS, 0.067, False, loss(34.2, 28.0, 41.0)),
            ("strip", STRIP, 0.052, True, loss(1.0, -3.0, 5.0)),
        )
    ]
    told = switch(chosen)
    told["cues"] = {
        "use": use, "unit": unit, "chosen": measured(told["chosen"], 0.0498),
        "constant": measured(FULL, 0.17, keeps=False),
        "band": measured(band(0.5, 0.4), 0.049), "found": cues, "crew": CREW, "days": 256,
        "runs": 2600,
    }  # fmt: skip
    return told


def test_the_cue_to_use_comes_first_with_what_it_loses() -> None:
    """Which cue, what the crew does by it, what that loses and among which it is the best."""
    part = cues_of(found(), "si")
    assert part is not None
    assert part.lead == "Go by the clock."
    assert part.says.startswith("Reduce at 11:55, go back at 15:55.")
    assert "loses the worth of 12 full wipes a day (9 to 16) against the advice" in part.says
    assert "Of the cues that keep to at most 5\u00a0% damp cars in expectation" in part.says


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("money", "it loses $12 a day ($9 to $16) against"),
        ("damp_cars", "it loses 12 more damp cars a day (9 to 16) against"),
    ],
)
def test_a_loss_is_told_in_what_was_wished_for(unit: str, said: str) -> None:
    """Money by least cost; damp cars where no rule keeps to the wish."""
    part = cues_of(found(unit=unit), "si")
    assert part is not None
    assert said in part.says


def test_a_loss_that_may_be_none_is_not_given_a_number() -> None:
    """Where the run error reaches zero, no loss is claimed."""
    part = cues_of(found("strip"), "si")
    assert part is not None
    assert "it loses nothing that the simulated days could tell" in part.says


def test_no_cue_better_than_staying_on_full_says_so() -> None:
    """Where no cue gains more than matters, page, part and day sheet say to stay on full, with its
    damp cars, what the rule to the letter would be and what the best cue would gain."""
    told = found("", "money")
    told["wish"] |= {"kind": "cost", "slack": 5.0}
    for one in told["cues"]["found"]:
        one |= {"gains": False, "over_constant": gain(-0.6)}
    part, said = cues_of(told, "si"), answer_words(told, "si")
    assert part is not None
    assert part.lead == "Stay on full."
    assert "no cue that a crew can see gains more than $5 a day" in part.says
    assert "The best of them, weight of one strip, makes 21 fewer damp cars" in part.says
    assert (said.lead, sheet_act(told, "si")) == ("Wipe in full all day.",) * 2
    assert "about 1 car in 6 will leave damp" in str(said).replace("\u00a0", " ").lower()
    assert "Reduce at 12:00, go back at 16:00" in str(said)
    assert "beats" not in str(switch_sure(told, frozenset(), "si"))
    assert sheet_cues(told, "si", "") == ()
    assert role_of(told) == "full"
    assert role_of(found()) == "chosen"


def test_what_the_cue_gains_over_full_is_told() -> None:
    """Against wiping in full all day, in damp cars, full wipes and money."""
    part = cues_of(found(), "si")
    assert part is not None
    assert (
        "Over “Wipe in full all day” it makes 21 fewer damp cars, 130 fewer full wipes and $12 "
        "cheaper a day." in part.says
    )
    assert "Full all day" in {row[0] for row in part.rows}


def test_the_table_has_each_cue_and_the_rules_it_stands_for() -> None:
    """A row a cue with its thresholds, then the advice to the letter and the ideal band."""
    part = cues_of(found(), "si")
    assert part is not None
    rows = {row[0]: row[1:] for row in part.rows}
    assert rows["Clock"][:3] == ("11:55", "15:55", "5.1\u00a0%")
    assert rows["Cars washed in the last hour"][:2] == ("118 or more", "95 or fewer")
    assert rows["Cars washed in the last hour"][5:] == ("34", "34")
    assert rows["Weight of one strip"][:2] == ("640\u00a0g or more", "560\u00a0g or less")
    assert rows["The advice, done to the letter"][3:5] == ("1,210", "$3,121")
    assert "The ideal band, which nobody sees" in rows
    assert all(len(row) == len(part.heads) for row in part.rows)
    part = cues_of(found(), "us")
    assert part is not None
    weights = {row[0]: row[1] for row in part.rows}["Weight of one strip"]
    assert weights == "22.6\u00a0oz (640\u00a0g) or more"


def test_it_says_how_the_crew_was_simulated() -> None:
    """Delay, looks and errors stand there, and that they are guessed."""
    part = cues_of(found(), "si")
    assert part is not None
    wanted = (
        "256 days", "3\u00a0min after the cue", "every 10\u00a0min", "off by 5\u00a0%",
        "weighs a strip every car", "off by 16\u00a0%", "guessed until you enter yours",
    )  # fmt: skip
    assert all(words in part.how[0] for words in wanted)


def test_without_a_switch_no_cue_is_needed() -> None:
    """All day the same: that is said; answers without cues, and of old, have no such part."""
    for one in (FULL, REDUCED):
        part = cues_of({**switch(one), "cues": None}, "si")
        assert part is not None
        assert (part.lead, part.rows) == ("No cue is needed.", ())
        assert sheet_cues({**switch(one), "cues": None}, "si", "") == ()
    part = cues_of({**switch(CARS), "cues": None}, "si")
    assert part is not None
    assert part.lead == "The advice is in a cue already."
    assert cues_of({**switch(), "cues": None}, "si") is None
    assert cues_of(switch(), "si") is None


def test_cues_that_could_not_be_found_are_not_hidden() -> None:
    """Where no thresholds could be read off, the part says so."""
    told = found()
    told["cues"] |= {"found": [], "use": ""}
    part = cues_of(told, "si")
    assert part is not None
    assert part.lead == "No cue was found."
    assert sheet_act(told, "si") == act_words(told, "si")


def test_the_sheet_names_the_cue_to_go_by_first() -> None:
    """On the sheet the cue to use leads, the others follow in case that it fails."""
    told = found("strip")
    told["cues"]["found"].reverse()  # whatever the order, the next best comes next
    first, second, third = sheet_cues(told, "si", "15 minutes at least.")
    assert first.name == "Weight of one strip"
    assert first.note.startswith("Go by this. 15 minutes at least. Weigh every car")
    assert "locked out" in first.note
    assert (second.name, second.note) == ("Clock", "If that fails.")
    assert third.note == "If that fails. Count every 10\u00a0min."
    wanted = "Reduce when a strip weighs 640\u00a0g or more, until it weighs 560\u00a0g or less."
    assert sheet_act(told, "si") == wanted
    assert earlier_words(told, "si") == ""
    assert crew_damp(told) == ", 5.2\u00a0% as the crew carries it out"
    assert crew_damp(switch()) == ""


def test_signs_that_come_before_the_clock() -> None:
    """Who goes by the clock reduces earlier when a count or a weight says so."""
    assert earlier_words(found(), "si") == (
        "If you have washed 118 or more cars in the last hour, or a strip weighs 640\u00a0g or "
        "more: reduce earlier than the clock says."
    )


def test_who_is_spared_stays_in_the_order() -> None:
    """A cue for some classes names them."""
    told = found("cars")
    more = [{"kind": "class", "labels": ["Van"]}]
    told["cues"]["found"][1]["rule"] = crew_rule("cars", more, upper=60.0, lower=40.0)
    assert sheet_act(told, "si") == (
        "Reduce when 60 or more cars were washed in the last hour, until 40 or fewer were and "
        "for van only."
    )


def test_the_terminal_prints_the_cues(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command tells the same as the page."""
    monkeypatch.setattr(terminal, "SWITCH_SHOWN", ("damp_share",))
    out = io.StringIO()
    terminal.print_switch(Console(file=out, width=200), found(chosen=clock((12, 16))), "si", ())
    text = out.getvalue()
    assert "Go by the clock. Reduce at 11:55, go back at 15:55." in text
    assert "118 or more" in text
    assert "guessed until you enter yours" in text
