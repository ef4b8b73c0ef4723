"""What the pages of Plan a day show: choosing a day, waiting for it, and its plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from app.answers.answer import Answer, Found
from app.answers.coming_days import ComingDay
from app.answers.planning import DayAsked, ExpectedDay, Posed
from app.catalogue import _, long_date, say
from app.charts.marks import Chart
from app.pages.cautions import Notice, belt, deference, safety_device, set_change, shaping_sensor
from app.pages.fields import Summary
from app.pages.plan.change_view import ChangePart
from app.pages.plan.form import FormView, ScenarioTyped
from app.pages.plan.table import Table
from app.pages.studies.view import Waiting
from app.words.answer import opening_words
from app.words.how_sure import Narrow
from app.words.numbers import about, degrees, percent
from app.words.phrases import Spoken, day_words
from sim.decide.answer import Opening
from sim.errors import InputProblem


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day to choose: words, address, what it is expected to bring."""

    words: str
    href: str
    says: str


@dataclass(frozen=True, slots=True)
class ChoosePage:
    """Choosing a day.

    Attributes:
        typed, message: the date field as typed, and what is wrong with it.
        special: days that are worth a look, such as the busiest of the demo site.
    """

    slug: str
    typed: str
    message: str
    days: tuple[DayLine, ...]
    special: tuple[DayLine, ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan of a day.

    Attributes:
        date_words: the day, such as "Saturday 18 July".
        weather: what it is expected to bring, in a line.
        opening: how wet the cloth is at opening and where that comes from.
        origin, notes: what the expected day was made of.
        answer, sure: the sentences on top; None while there is nothing to say.
        narrow: what widens the answer most and what would narrow it; None where that isn't known.
        waiting: set while the plan is being computed.
        refining: what becomes of the answer shown, while or because it is not the last one.
        form_first: the form stands on top, because it has problems or was changed.
        needs_counts: nothing is known of such a day; the way leads to the Counts page.
        change: the part “Try a change”; None while there is no answer to start from.
        weighed: why the site's weighings are not in the plan; empty where they are, or are none.
    """

    slug: str
    day: str
    date_words: str
    weather: str
    opening: str
    origin: str
    notes: tuple[str, ...]
    answer: Spoken | None
    sure: Spoken | None
    narrow: Narrow | None
    waiting: Waiting | None
    table: Table | None
    charts: tuple[Chart, ...]
    form: FormView | None
    form_first: bool
    needs_counts: bool
    problems: Summary | None
    stale: str
    notices: tuple[Notice, ...]
    weighed: str = ""
    refining: str = ""
    change: ChangePart | None = None


def choose_page(
    slug: str,
    days: Sequence[ComingDay],
    special: Sequence[tuple[str, ComingDay]],
    system: str,
    typed: str = "",
    message: str = "",
) -> ChoosePage:
    """The page on which a day is chosen; `special` names some days."""
    return ChoosePage(
        slug,
        typed,
        message,
        tuple(_day_line(slug, day, system) for day in days),
        tuple(
            replace(line, says=f"{name}: {line.says}", words=long_date(day.day, year=True))
            for name, day in special
            for line in [_day_line(slug, day, system)]
        ),
    )


def _day_line(slug: str, day: ComingDay, system: str) -> DayLine:
    if day.expected is None:
        says = _("nothing is known of such a day yet")
    elif day.expected.closed:
        says = _("closed")
    else:
        says = _(
            "about {cars} cars, {temp} at most",
            cars=about(day.cars),
            temp=degrees(day.expected.highest_temp_c, system),
        )
    if day.note:
        says = f"{says} · {day.note}"
    return DayLine(long_date(day.day), f"/{slug}/plan/{day.day.isoformat()}", says)


def weather_words(expected: ExpectedDay, system: str) -> str:
    """What a day is expected to bring, in a line."""
    if expected.closed:
        return _("Closed.")
    return day_words(
        expected.expected_cars,
        expected.highest_temp_c,
        expected.humidity_then,
        expected.rain_mm,
        system,
    )


def closed_words(date_words: str) -> tuple[Spoken, Spoken]:
    """Answer of a day on which no car is let in."""
    return (
        Spoken(
            _("Closed:"),
            _("no car is let in on {day}, so there is nothing to plan.", day=date_words),
        ),
        Spoken("", _("Choose another day, or change the opening hours or the day’s mark first.")),
    )


def unknown_words(problems: Sequence[InputProblem], system: str) -> tuple[Spoken, Spoken]:
    """Answer of a day of which nothing can be expected: what is missing and where it goes."""
    reasons = " ".join(dict.fromkeys(say(problem, system) for problem in problems))
    return (
        Spoken(_("No plan yet."), reasons),
        Spoken("", _("Counts and weather are brought in on the Counts page, from a file.")),
    )


def no_cars_words() -> tuple[Spoken, Spoken]:
    """Answer of an open day on which no car is expected."""
    return (
        Spoken(_("Nothing to decide:"), _("no car is expected on this day.")),
        Spoken("", _("If cars will come all the same, the counts of like days have to say so.")),
    )


def opening_line(opening: Opening | None) -> str:
    """How wet the cloth is at opening, and where that comes from."""
    if opening is None:
        return ""
    return _(
        "At opening the cloth is at {percent} of what it can hold: {origin}.",
        percent=percent(opening.saturation),
        origin=opening_words(opening),
    )


def plan_notices(scenarios: Sequence[ScenarioTyped]) -> tuple[Notice, ...]:
    """The cautions that a plan calls for."""
    found = [deference()]
    if any(
        one.inputs.get("conveyor_speed_m_s") or one.inputs.get("car_spacing_m") for one in scenarios
    ):
        found.append(belt())
    if any(one.cloth.strip() for one in scenarios):
        found.append(set_change())
    if any((one.inputs.get("failed_sensor") or "none") != "none" for one in scenarios):
        found += [shaping_sensor(), safety_device()]
    return tuple(found)


def plan_title(day: date) -> str:
    """Words beside the site's name."""
    return _("planning for {day}", day=long_date(day))


def instead_of(
    view: Answer[DayAsked[Posed], Found], system: str, nothing: str | None = None
) -> tuple[Spoken | None, Spoken | None, bool]:
    """What is said while a day has no answer, and whether its plan has to be mended.

    Args:
        nothing: said of a plan that can't be computed as it stands.
    """
    plan = view.asked.plan
    if plan.expected is None:
        return (*unknown_words(plan.problems, system), True)
    if plan.expected.closed:
        return (*closed_words(long_date(plan.day)), False)
    if plan.expected.expected_cars <= 0:
        return (*no_cars_words(), False)
    if view.asked.question is None:
        rest = _("The plan of this day can’t be computed as it stands.")
        return Spoken(nothing or _("No answer yet."), rest), None, True
    if view.failed:
        return Spoken(view.failed, _("“Work it out” begins it.")), None, False
    return None, None, False
