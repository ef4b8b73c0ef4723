"""What all counts together tell of the coming days, beside like days, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from app.answers.arrivals import ArrivalsView
from app.catalogue import _, _n, long_date, short_date
from app.words.numbers import about, percent, whole
from sim.inputs import ForecastDay
from sim.learn.forecast.answer import Arrivals, Judged

SHOWN_DAYS = 14


@dataclass(frozen=True, slots=True)
class ExpectedRow:
    """A coming day: its name, cars by like days and by all counts, public holiday."""

    day: str
    like: str
    together: str
    holiday: str


@dataclass(frozen=True, slots=True)
class ExpectedWords:
    """The part of the page.

    Attributes:
        finding: which of the two is used, in a line.
        why: because of what, and since when; or why nothing is told yet.
        rows: the coming days; empty while nothing is told.
        notes: what was learnt besides, a sentence each.
    """

    finding: str
    why: str
    rows: tuple[ExpectedRow, ...] = ()
    notes: tuple[str, ...] = ()


def expected_words(view: ArrivalsView, today: date) -> ExpectedWords:
    """What is told of the coming days."""
    like = _("Used: like days.")
    if not view.key:
        return ExpectedWords(
            like,
            _(
                "Once twelve weeks of days are counted by the hour, all counts together are tried "
                "against like days, and used where they tell coming days better."
            ),
        )
    found = view.result
    if found is None:
        if view.failed:
            return ExpectedWords(like, view.failed)
        return ExpectedWords(
            like, _("What all counts together tell is being tried on days held back.")
        )
    rows = tuple(
        _row(*both)
        for both in zip(found.forecast.days, found.like_cars, found.cars, strict=True)
        if both[0].day >= today
    )[:SHOWN_DAYS]
    is_used = found.judged.is_used and view.asked.data.stands_on is None
    finding = _("Used: all counts together.") if is_used else like
    why = f"{_because(found.judged)} {_decided(found)}"
    if found.judged.is_used and not is_used:
        why += " " + _("An invented site stays with like days all the same, as its story is told.")
    return ExpectedWords(finding, why, rows, _notes(found))


def _row(one: ForecastDay, like: float, together: float) -> ExpectedRow:
    return ExpectedRow(
        long_date(one.day), about(like) if like else "–", about(together), one.holiday
    )


def _because(judged: Judged) -> str:
    """What both missed on the days held back."""
    said = {
        "days": judged.days,
        "together": whole(judged.together.missed_by),
        "like": whole(judged.like.missed_by),
    }
    if judged.is_used:
        return _(
            "Because on the last {days} days, held back, all counts together missed a day by "
            "{together} cars, like days by {like}.",
            **said,
        )
    return _(
        "Because on the last {days} days, held back, all counts together missed a day by "
        "{together} cars, like days by {like}: not surely better.",
        **said,
    )


def _decided(found: Arrivals) -> str:
    return _(
        "Decided on {day}, by counts until {last}; tried again with new counts.",
        day=short_date(found.decided),
        last=short_date(found.through),
    )


def _notes(found: Arrivals) -> tuple[str, ...]:
    forecast, judged = found.forecast, found.judged
    notes = [
        _(
            "Of these days {eighty} lay within the middle 80 % that all counts together told, and "
            "{ninety_five} within 95 %; by like days {like_eighty} and {like_ninety_five}.",
            eighty=percent(judged.together.held_80),
            ninety_five=percent(judged.together.held_95),
            like_eighty=percent(judged.like.held_80),
            like_ninety_five=percent(judged.like.held_95),
        )
    ]
    if forecast.wet_days:
        notes.append(
            _n(
                "1 wet day tells what rain does: {wet} times the cars of a dry day; {after} times "
                "on a dry day after rain.",
                "{count} wet days tell what rain does: {wet} times the cars of a dry day; {after} "
                "times on a dry day after rain.",
                forecast.wet_days,
                wet=f"{forecast.wet.factor:.2f}",
                after=f"{forecast.after_rain.factor:.2f}",
            )
        )
    if found.country:
        notes.append(
            _(
                "Public holidays of {country}, the country of the site’s time zone, are told "
                "apart; those of a part of it are not.",
                country=found.country,
            )
        )
    if forecast.full:
        notes.append(
            _n(
                "1 hour was full: no fewer came than were washed, and more may have.",
                "{count} hours were full: no fewer came than were washed, and more may have.",
                forecast.full,
            )
        )
    return tuple(notes)
