"""Stages of a study: how far it is never goes back, of a total that never grows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.answers.kinds import KINDS
from app.answers.studies.stages import PARTS, Course, Stage, stage_at

STAGES = (Stage("a", "first this", 1.0), Stage("b", "then that", 3.0))
STEPS = st.tuples(st.integers(0, 60), st.integers(0, 60))


def test_each_stage_has_its_share_of_the_whole() -> None:
    """Half of a stage is half of its share; a stage that begins stands where its share does,
    whatever the one before had left, and what is done by then is told as of it."""
    course = Course(STAGES, PARTS)
    told = []
    for step in (1, 2):
        course.step(step, 4)
        told.append(course.done)
    course.enter("b")
    told.append(course.done)
    for step in (3, 6):  # counted from the first of all
        course.step(step, 6)
        told.append(course.done)
    assert told == [62, 125, 250, 437, 1_000]
    assert [stage_at(STAGES, done, PARTS) for done in told] == [0, 0, 1, 1, 1]


def test_a_work_that_takes_longer_than_it_thought_goes_on_slower() -> None:
    """Each step is its part of what is left; one stage is the whole, in as many parts as told."""
    course = Course((), 4)
    told = []
    for step, total in ((1, 2), (2, 4), (3, 4), (4, 4)):
        course.step(step, total)
        told.append(course.done)
    assert told == [2, 2, 3, 4]


@given(st.lists(st.one_of(STEPS, st.sampled_from(["a", "b"])), max_size=40))
def test_it_never_goes_back_nor_beyond_the_whole(told: list[tuple[int, int] | str]) -> None:
    """Whatever a work says, what is done only grows, and never beyond the total or its stage."""
    course = Course(STAGES, PARTS)
    before, stage = 0, 0
    for one in told:
        if isinstance(one, str):
            course.enter(one)
            stage = max(stage, ["a", "b"].index(one))
        else:
            course.step(*one)
        assert before <= course.done <= (250, 1_000)[stage]
        before = course.done


def test_an_unknown_stage_is_refused() -> None:
    """A work may begin only what its kind tells of."""
    with pytest.raises(LookupError, match="no stage c, but a, b"):
        Course(STAGES, PARTS).enter("c")


def test_every_kind_says_what_it_does() -> None:
    """Each kind has a stage at least, each with a share and with words that end no sentence."""
    for name, kind in KINDS.items():
        names = [stage.name for stage in kind.stages]
        assert names, name
        assert len(set(names)) == len(names), name
        for stage in kind.stages:
            assert stage.share > 0.0, stage
            assert stage.words[-1].isalpha(), stage
            assert stage.words[0].islower(), stage
