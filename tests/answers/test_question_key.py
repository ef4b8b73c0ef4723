"""The name under which a plan's answer is stored: equal for equal questions only."""

from __future__ import annotations

from dataclasses import replace

from app.answers.planning import question_key
from sim.decide.compare import Question
from sim.inputs import Scenario, Site
from tests.day.sites import conditions

ASKED = Question(Site("Two Hours"), conditions(), (Scenario("Always full"),), 256, 1)


def test_what_the_site_knows_is_part_of_the_question() -> None:
    """An input that becomes the site's own is drawn no longer, so the answer is another one."""
    known = frozenset({"uptake_max", "allowed_film_kg_m2", "film_cv"})
    keys = [
        question_key(replace(ASKED, known=some))
        for some in (None, frozenset(), known - {"film_cv"}, known)
    ]
    assert len(set(keys)) == len(keys)


def test_the_order_of_what_is_known_does_not_matter() -> None:
    """The same inputs in whatever order ask the same question."""
    names = ["uptake_max", "allowed_film_kg_m2", "film_cv", "patience_median_s"]
    one, other = frozenset(names), frozenset(reversed(names))
    assert question_key(replace(ASKED, known=one)) == question_key(replace(ASKED, known=other))
