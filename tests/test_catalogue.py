"""The catalogue of texts: identity, gaps, another language, and markup that stays markup."""

from __future__ import annotations

from datetime import date

import pytest
from markupsafe import Markup

from app.catalogue import _, say, speaking
from sim.errors import InputProblem
from sim.units import quantity


def test_without_a_table_a_text_is_itself() -> None:
    """Texts stand for themselves; braces count as gaps only when values are given."""
    assert _("Store") == "Store"
    assert _("a {gap} left alone") == "a {gap} left alone"
    assert _("{count} cars", count=3) == "3 cars"


def test_a_gap_without_a_value_is_an_error() -> None:
    """A sentence can't be said with a hole in it."""
    with pytest.raises(KeyError, match="what"):
        _("{count} {what}", count=3)


def test_another_language_holds_within_its_block() -> None:
    """A table is in force for one block and forgotten after it, errors or not."""
    with speaking({"Store": "Speichern"}):
        assert _("Store") == "Speichern"
        assert _("Today") == "Today"
    assert _("Store") == "Store"
    with pytest.raises(KeyError, match="gap"), speaking({"Store {gap}": "{gap} speichern"}):
        _("Store {gap}", other=1)
    assert _("Store {gap}", gap=1) == "Store 1"


def test_markup_stays_markup_and_escapes_what_fills_it() -> None:
    """What fills a gap of markup is escaped, translated or not."""
    text = Markup("<b>{name}</b>")
    assert _(text, name="<i>") == Markup("<b>&lt;i&gt;</b>")
    with speaking({"<b>{name}</b>": "<b>Herr {name}</b>"}):
        assert _(text, name="<i>") == Markup("<b>Herr &lt;i&gt;</b>")


def test_a_problem_is_said_in_the_readers_units_and_language() -> None:
    """Quantities are shown in the reader's units, labels in the reader's language."""
    values = {"label": "Length", "value": quantity(3.048, "length")}
    problem = InputProblem("length_m", "{label} {value} is too short.", values)
    assert say(problem, "us") == "Length 10\u00a0ft is too short."
    assert say(problem, "si") == "Length 3.05\u00a0m is too short."
    with speaking({"Length": "Länge", "{label} {value} is too short.": "{label}: {value}?"}):
        assert say(problem, "si") == "Länge: 3.05\u00a0m?"


def test_a_date_in_a_problem_is_said_as_pages_say_it() -> None:
    """Dates that fill a gap read as dates, not as a file would have them."""
    problem = InputProblem("counts", "Nothing on {day}.", {"day": date(2026, 7, 18)})
    assert say(problem, "si") == "Nothing on 18 July 2026."
