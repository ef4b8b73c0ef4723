"""Answers of the page Staff by hand, for tests of what is made of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from sim.decide.staff.answer import (
    Differences,
    HalfHour,
    LostAtMost,
    Margins,
    MeanDifference,
    StaffAnswer,
    StaffedDay,
    Targets,
    Timetables,
)
from sim.decide.switching.at_exit import MoreHands
from sim.inputs.people import ROLES

NONE = MeanDifference(0.0, 0.0)
TARGETS = Targets(
    wait_p90_s=300.0, lost_cars=60, full_share=0.1, use=0.8, min_crew=2, lost_reached=True,
    lost_at_most=LostAtMost(60.2, 60.1, 63.4), unreached=(), fresh_missed=(),
)  # fmt: skip
DAY = StaffedDay(
    people_hours=16.0, cost=320.0, per_car=None, wait_p90_s=0.0, wait_mean_s=0.0, cars_lost=0.0,
    cars_washed=0.0, margin=0.0, left_damp=0.0, overtime_minutes=0.0, costs={}, cost_of_day=0.0,
)  # fmt: skip


def half_hour(start_h: float, people: int, **changes: Any) -> HalfHour:
    """A half-hour with so many people, of whom one loads and the others may do anything."""
    roles = {**dict.fromkeys(ROLES, 0), "loader": 1, "floater": people - 1}
    usual = HalfHour(
        start_h=start_h, people=people, planned=people, roles=roles, why="use",
        formula_people=people, formula_loaders=1, formula_mean_wait_s=0.0, offered_load=0.5,
        arrived=0.0, late_share=0.0, chain_late_share=0.0, lost=0.0, full_share=0.0, use=0.5,
        margins=Margins(None, None, None),
    )  # fmt: skip
    return replace(usual, **changes)


def staff_answer(targets: Targets = TARGETS, **changes: Any) -> StaffAnswer:
    """An answer of a day on which nobody comes, with what is changed of it."""
    usual = StaffAnswer(
        day=date(2026, 7, 18),
        origin="by hand",
        libraries={},
        seed=1,
        days=64,
        rule="full",
        targets=targets,
        half_hours=(),
        roles=dict.fromkeys(ROLES, (0,) * 48),
        called={role: role for role in ROLES},
        people=(0,) * 48,
        planned=(0,) * 48,
        timetables=Timetables(((0.0, 2.0), (34200.0, 3.0)), ((0.0, 1.0),), ((0.0, 0.0),)),
        hands=MoreHands(),
        needed=DAY,
        present=DAY,
        present_difference=Differences(NONE, NONE, NONE),
        effects=(),
        rules=(),
    )
    return replace(usual, **changes)
