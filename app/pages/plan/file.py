"""A plan as one file that needs no server: the page as it was when it was made, and from what.

Styles and charts stand in the file; it has no script, asks for nothing and leads nowhere but to its
own parts, so it can be mailed, kept and opened from a disk.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response
from markupsafe import Markup

from app.answers.answer import libraries
from app.answers.planning import PLAN, DayInputs, ExpectedDay
from app.catalogue import _, _n, long_date
from app.pages import terms
from app.pages.cautions import Notice
from app.pages.days import wanted, weather_words
from app.pages.deps import STATIC, SiteDep, WebDep, file_answer, make_templates
from app.pages.forms import origin_of
from app.pages.history import input_label, input_text
from app.pages.plan.form import typed_from
from app.pages.plan.route import plan_notices
from app.pages.plan.told import PlanTold, ScenarioTold, scenarios_told, told_of
from app.sites.reading import StoredSite
from app.words.answer import answer_sentences
from app.words.numbers import whole
from app.words.phrases import Statement, moment
from app.words.weighings import weighed_words
from sim.decide.answer import Plan
from sim.inputs import GROUP_INPUTS, GROUPS, INPUTS, SiteData

router = APIRouter()
STYLES = ("clothcast.css", "charts.css", "plan.css")


@dataclass(frozen=True, slots=True)
class InputGroup:
    """Inputs under a heading: what each is called, its value, and whether it is the site's own."""

    heading: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class PlanFile:
    """What the file shows.

    Attributes:
        title: of the window. place: the site's name; is_invented: there is no such site.
        weather: what the day is expected to bring, in a line.
        expect: what was typed over it.
        made: when it was made, by which version, and from what, a sentence each.
    """

    title: str
    place: str
    is_invented: bool
    day: date
    units: str
    weather: str
    expect: str
    answer: Statement
    sure: Statement
    told: PlanTold
    expected: ExpectedDay | None
    weighed: str
    scenarios: tuple[ScenarioTold, ...]
    notices: tuple[Notice, ...]
    made: tuple[str, ...]
    inputs: tuple[InputGroup, ...]


@router.get("/{slug}/plan/{day}/page.html")
def page_file(site: SiteDep, web: WebDep, day: str) -> Response:
    """The plan of a day as a file to keep or to send."""
    view = web.open(site, PLAN, wanted(day))
    if view.result is None:
        raise HTTPException(404, _("This day has not been computed yet."))
    text = plan_file(site, view.asked, view.result, web.now(), is_final=view.is_final)
    return file_answer(text.encode(), f"{site.slug}-{day}-plan.html", "text/html; charset=utf-8")


def plan_file(
    site: StoredSite, asked: DayInputs, plan: Plan, now: datetime, *, is_final: bool = True
) -> str:
    """The file of a plan that was computed for a site.

    Args:
        now: the moment that it says it was made at.
        is_final: whether no finer answer is on its way.
    """
    data, found = site.data, plan.comparison
    answer, sure = answer_sentences(found, data.given)
    scenarios = tuple(column.scenario for column in found.columns)
    page = PlanFile(
        title=_("Plan of {day}", day=long_date(plan.date, year=True)),
        place=data.site.name,
        is_invented=data.stands_on is not None,
        day=plan.date,
        units=data.units,
        weather=weather_words(asked.expected, data.units),
        expect=asked.expect,
        answer=answer,
        sure=sure,
        told=told_of(site, found),
        expected=asked.expected,
        weighed=weighed_words(asked.held),
        scenarios=scenarios_told(scenarios, data.units),
        notices=plan_notices(typed_from("", scenarios, data.units).scenarios),
        made=_made(site, asked.version, plan, now, is_final),
        inputs=_inputs(data),
    )
    with terms.noting():
        return make_templates().get_template("plan/file.html").render(page=page, styles=_styles())


def _styles() -> Markup:
    """The stylesheets, to stand in the file; they are our own and ask for nothing."""
    return Markup("\n".join((STATIC / name).read_text(encoding="utf-8") for name in STYLES))  # noqa: S704  our own files


def _made(
    site: StoredSite, version: int, plan: Plan, now: datetime, is_final: bool
) -> tuple[str, ...]:
    found, given = plan.comparison, site.data.given
    sentence = (
        "Made on {when} by Clothcast {program} from version {site} of the site and version {plan} "
        "of this day’s plan."
    )
    if not version:
        sentence = (
            "Made on {when} by Clothcast {program} from version {site} of the site and scenarios "
            "that are not stored."
        )
    versions = {name: text for name, text in plan.libraries.items() if name != "clothcast"}
    made = _(
        sentence,
        when=moment(now, site.data.site.timezone),
        program=libraries()["clothcast"],
        site=site.version,
        plan=version,
    )
    sentence = "{days} simulated days, seed {seed}."
    if found.sites:
        sentence = "{days} simulated days at {sites} drawn sites, seed {seed}."
    days = _(sentence, days=whole(found.days), sites=found.sites, seed=found.seed)
    with_ = ", ".join(f"{name} {number}" for name, number in versions.items())
    guesses = sum(1 for name, row in INPUTS.items() if row.is_guess and name not in given)
    own = _n(
        "1 input is the site’s own; {guesses} are guesses, the others defaults.",
        "{count} inputs are the site’s own; {guesses} are guesses, the others defaults.",
        len(given),
        guesses=guesses,
    )
    later = () if is_final else (_("A finer answer was still being worked out."),)
    return made, days, *later, _("Computed with {libraries}.", libraries=with_), own


def _inputs(data: SiteData) -> tuple[InputGroup, ...]:
    return tuple(
        InputGroup(
            _(group.heading),
            tuple(
                (
                    input_label(row, data.units),
                    input_text(row, data.site.value(name), data.units),
                    origin_of(row, name in data.given),
                )
                for name, row in GROUP_INPUTS[group.key].items()
            ),
        )
        for group in GROUPS
    )
