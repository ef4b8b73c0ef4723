"""What every route that stores something shares: request keys, versions, somebody else's change."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from datetime import date

from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from app.answers.planning import DayInputs
from app.catalogue import _, say
from app.pages.advice import opened_gate
from app.pages.deps import Web
from app.pages.forms import text_of
from app.pages.history import history_row
from app.sites.reading import Gate, Outcome, Stale, StoredSite
from app.words.phrases import moment
from sim.errors import InputError, InputProblem, quoted
from sim.inputs import Scenario
from sim.units import parse_clock, parse_day, whole_number

TOLD = 6
"""So many of what somebody else changed are told with what is stored of them now."""


def new_request_key() -> str:
    """A key for one form: sent twice, it is carried out once."""
    return secrets.token_urlsafe(18)


def request_key_of(form: FormData) -> str:
    """The key that a form was drawn with; a fresh one if it has none."""
    return text_of(form, "request_key").strip()[:80] or new_request_key()


def version_of(form: FormData) -> int:
    """The version that a form was drawn from; -1, which is never current, if it names none."""
    text = text_of(form, "version").strip()
    number = whole_number(text)
    return -1 if number is None else number


def stale_words(stale: Stale, timezone: str, system: str) -> str:
    """Who changed what since the form was drawn, what is stored of it now, and what to do."""
    if stale.at is None:
        return _("What you saw is not what is stored. Look at it as it is now, then store again.")
    newest = {change.field: change for change in reversed(stale.changes)}
    rows = [history_row(newest[name], timezone, system) for name in stale.fields[:TOLD]]
    return _(
        "{person} changed this at {at}. Stored now: {stored}. What you typed is still here: store "
        "again, and where both of you changed the same, yours takes its place.",
        person=stale.person,
        at=moment(stale.at, timezone),
        stored="; ".join(
            _("{what}: {now}", what=row.what, now=row.new or _("nothing")) for row in rows
        ),
    )


def carry_out(
    web: Web,
    site: StoredSite,
    write: Callable[[Gate], Outcome],
    again: Callable[..., Response],
    address: str | Callable[[Outcome], str],
) -> Response:
    """Write through the gate, then lead to an address; else the page again, and why.

    Args:
        address: may follow from what became of it.
        again: draws the page of a site, with ``problems`` or ``stale``, and a ``status``.
    """
    try:
        with opened_gate(web, site) as opened:
            outcome = write(opened)
    except InputError as fault:
        return again(site, problems=fault.problems, status=422)
    except Stale as fault:
        words = stale_words(fault, site.data.site.timezone, site.data.units)
        fresh = web.site_at(site.slug) or site
        return again(fresh, stale=words, status=409)
    return RedirectResponse(address if isinstance(address, str) else address(outcome), 303)


def told_again(draw: Callable[[StoredSite, str, str, int], Response]) -> Callable[..., Response]:
    """What `store_scenarios` is handed to draw a page without a form once more.

    Args:
        draw: of the site as it is by then, with what somebody else stored meanwhile, why there is
            no room for one scenario more, and a status.
    """

    def again(
        fresh: StoredSite,
        problems: Sequence[InputProblem] = (),
        stale: str = "",
        no_room: str = "",
        status: int = 422,
    ) -> Response:
        words = no_room or " ".join(say(one, fresh.data.units) for one in problems)
        return draw(fresh, stale, words, status)

    return again


def store_scenarios(
    web: Web,
    site: StoredSite,
    plan: DayInputs,
    scenarios: tuple[Scenario, ...] | None,
    form: FormData,
    again: Callable[..., Response],
) -> Response:
    """Stores a day's plan with one more scenario and leads to it; None: it has no room for one,
    which `again` is told as ``no_room``."""
    address = f"/{site.slug}/plan/{plan.day.isoformat()}"
    if scenarios is None:
        words = _("The plan of this day has six scenarios already. Take one away there first.")
        return again(site, no_room=words, status=409)
    if scenarios == plan.scenarios:
        return RedirectResponse(address, 303)
    version, key = version_of(form), request_key_of(form)
    return carry_out(
        web, site,
        lambda writes: writes.store_plan(
            site.id, plan.day, plan.expect, scenarios, expected_version=version, request_key=key
        ),
        again, address,
    )  # fmt: skip


def place_in(form: FormData, count: int) -> int | None:
    """The place that a form to strike something out names, below `count`; None if none."""
    text = text_of(form, "which")
    number = whole_number(text)
    return number if number is not None and number < count else None


def read_day(field: str, text: str, problems: list[InputProblem]) -> date | None:
    """A typed day; None, with a problem of its field, if it is none."""
    try:
        return parse_day(text)
    except ValueError:
        sentence = "Date “{day}” is not a date. Write year-month-day, as in 2026-12-25."
        problems.append(InputProblem(field, sentence, {"day": quoted(text)}))
        return None


def read_clock(field: str, text: str, problems: list[InputProblem]) -> float:
    """A typed time of day [s]; 0, with a problem of its field, if it is none."""
    try:
        return parse_clock(text)
    except ValueError:
        sentence = "“{typed}” is not a time of day. Write it as 15:20."
        problems.append(InputProblem(field, sentence, {"typed": text}))
        return 0.0
