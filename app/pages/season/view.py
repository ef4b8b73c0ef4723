"""The page of the season: its sentences, its picture, and the tables below."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from app.catalogue import _, short_date
from app.charts.cloth import year_chart
from app.charts.marks import Chart
from app.pages.cautions import Notice, deference, set_change, wheel
from app.pages.studies.view import Waiting
from app.words.columns import Spoken
from app.words.season import (
    busy_lines,
    change_lines,
    cost_of_season,
    made_for,
    month_lines,
    option_lines,
    owned_lines,
    stock_facts,
)
from app.words.why import Lines
from sim.decide.cloth.answer import SeasonAnswer


@dataclass(frozen=True, slots=True)
class Told:
    """What is drawn of a season.

    Attributes:
        year: the picture; changes, options, owned, months, costs: tables with their
            sentences.
        stock: orders and stock, label and sentence; empty with `stock_problems`.
        busy: address part, words and cells of the busiest days.
        made_for: what it rests on.
    """

    year: Chart
    changes: Lines
    stock: tuple[tuple[str, str], ...]
    stock_problems: tuple[str, ...]
    options: Lines
    owned: Lines
    months: Lines
    costs: Lines
    busy: tuple[tuple[str, str, tuple[str, ...]], ...]
    made_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The page.

    Attributes:
        span: first and last day in words.
        reasons: why there is nothing to show, a sentence each.
        told: what is drawn of the answer; None while there is none.
        can_retry: a computation failed and may be tried again.
    """

    slug: str
    span: str
    answer: Spoken | None
    sure: Spoken | None
    reasons: tuple[str, ...]
    waiting: Waiting | None
    told: Told | None
    can_retry: bool
    notices: tuple[Notice, ...]


def told_of(found: SeasonAnswer, today: date, system: str) -> Told:
    """What is drawn of a season."""
    return Told(
        year=year_chart(found),
        changes=change_lines(found),
        stock=stock_facts(found, today),
        stock_problems=tuple(one.say(system) for one in found.stock_problems),
        options=option_lines(found, system),
        owned=owned_lines(found),
        months=month_lines(found),
        costs=cost_of_season(found),
        busy=busy_lines(found),
        made_for=made_for(found, system),
    )  # fmt: skip


def cautions() -> tuple[Notice, ...]:
    """What stands on every such page."""
    return deference(), wheel(), set_change()


def span_words(first: date, last: date) -> str:
    """First and last day of a season."""
    return _("{first} to {last}", first=short_date(first), last=short_date(last))
