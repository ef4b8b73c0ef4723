"""The list of sites, and the second step of a new site's set-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.catalogue import _, say
from app.pages.cautions import Notice, belt
from app.pages.fields import FieldView, Summary, field_id, input_field, summary
from app.pages.forms import Typed, messages_by_field
from app.pages.site.view import Hidden
from app.sites.reading import SiteLine, StoredSite
from sim.errors import InputProblem
from sim.inputs import INPUTS
from sim.profiles import STARTS, USUAL

SETUP_NAMES = (
    "open_h",
    "close_h",
    "slowest_belt_m_s",
    "fastest_belt_m_s",
    "conveyor_speed_m_s",
    "car_spacing_m",
    "pusher_pitch_m",
    "wheel_position_m",
    "pay_lanes",
    "loading_line_cars",
    "stack_limit_cars",
    "loaders",
    "people",
    "price_per_car",
    "wage_per_h",
)
SETUP_INPUTS = {name: INPUTS[name] for name in SETUP_NAMES}
"""What a new site enters first: without these no plan resembles it."""

TIMEZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Toronto",
    "Europe/London",
    "Europe/Berlin",
    "Australia/Sydney",
    "UTC",
)


@dataclass(frozen=True, slots=True)
class SitesPage:
    """The list of sites and the form for a new one.

    Attributes:
        sites: name and slug of each.
        zones: time zones that are offered; any other name may be typed.
    """

    answer: str
    sites: tuple[tuple[str, str], ...]
    summary: Summary | None
    request_key: str
    fields: tuple[FieldView, ...]
    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetupPage:
    """The second step of a set-up."""

    slug: str
    name: str
    stale: str
    summary: Summary | None
    hidden: Hidden
    fields: tuple[FieldView, ...]
    notices: tuple[Notice, ...]


def sites_page(
    sites: Sequence[SiteLine],
    request_key: str,
    typed: Typed,
    problems: Sequence[InputProblem],
) -> SitesPage:
    """Fills the page; `typed` and `problems` are of a new site that could not be stored."""
    faults = messages_by_field(problems)

    def said(name: str) -> tuple[str, ...]:
        return tuple(say(p, "us") for p in faults.get(name, ()))

    texts = typed.texts
    fields = (
        FieldView(
            field_id("name"), "name", _("Name of the site"), texts.get("name", ""),
            hint=_("What your people call it, up to 60 characters."),
            numeric=False, wide=True, messages=said("name"),
        ),
        FieldView(
            field_id("timezone"), "timezone", _("Time zone"),
            texts.get("timezone", TIMEZONES[0]),
            hint=_("Choose one, or type its name in the time zone database."),
            numeric=False, wide=True, messages=said("timezone"),
        ),
        FieldView(
            field_id("units"), "units", _("Units"), texts.get("units", "us"),
            choices=(("us", _("US: feet, °F, pounds")), ("si", _("SI: metres, °C, kilograms"))),
            messages=said("units"),
        ),
        FieldView(
            field_id("start"), "start", _("Start from"), texts.get("start", USUAL.key),
            choices=tuple((item.key, _(item.label)) for item in STARTS.values()),
            hint=_("Guesses that come near; your own figures replace them in the next step."),
            messages=said("start"),
        ),
    )  # fmt: skip
    return SitesPage(
        _answer(len(sites)),
        tuple((line.name, line.slug) for line in sites),
        summary(problems, "us"),
        request_key,
        fields,
        TIMEZONES,
    )


def _answer(count: int) -> str:
    if count == 0:
        return _("No site is stored here yet.")
    if count == 1:
        return _("One site is stored here.")
    return _("{count} sites are stored here.", count=count)


def setup_page(
    site: StoredSite,
    request_key: str,
    typed: Typed | None = None,
    problems: Sequence[InputProblem] = (),
    system: str = "",
) -> SetupPage:
    """Fills the page; `typed` and `problems` are of a form that could not be stored."""
    system = system or site.data.units
    faults = messages_by_field(problems)
    fields = tuple(
        input_field(
            row,
            site.data.site.value(name),
            system,
            given=name in site.data.given,
            typed=typed,
            problems=faults.get(name, ()),
        )
        for name, row in SETUP_INPUTS.items()
    )
    return SetupPage(
        site.slug,
        site.data.site.name,
        "",
        summary(problems, system),
        Hidden(site.version, request_key, system),
        fields,
        (belt(),),
    )
