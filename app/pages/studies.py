"""Work in hand, the studies of a site: what is being computed, how far it is, how long still, who
asked, what became of it; and the button that stops it.
"""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from app.answers import kinds
from app.answers.kinds import StudyLine
from app.answers.studies.runner import ended_words
from app.catalogue import _, _n, long_date
from app.pages.deps import FormDep, SiteDep, Web, WebDep, render
from app.pages.forms import text_of
from app.pages.waiting import left_words, stage_words, turn_words
from app.sites.keeping import kept_of
from app.sites.reading import StoredSite
from app.words.numbers import whole
from app.words.phrases import moment

router = APIRouter()
REFRESH_S = 5
"""How often the list looks again while something is under way."""


@dataclass(frozen=True, slots=True)
class StudyEntry:
    """A study in the list.

    Attributes:
        label, page: what it is and where its answer is shown.
        state: what has become of it, in words; far: what it does now.
        left: how long it still takes; empty where that isn't known or it has ended.
        asked: who asked, or why it was begun before anybody did, and when.
        reason: why, for what was begun ahead; else empty.
        is_open: whether it waits or runs.
    """

    key: str
    label: str
    page: str
    state: str
    done: int
    total: int
    far: str
    left: str
    asked: str
    reason: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class StudiesPage:
    """The list of a site's studies: those that wait or run, and those that have ended; what is said
    of work ahead, and whether any of it is to come; what is said of the copies of the database."""

    slug: str
    answer: str
    running: tuple[StudyEntry, ...]
    ended: tuple[StudyEntry, ...]
    ahead: tuple[str, ...]
    is_to_come: bool
    copies: tuple[str, ...]

    @property
    def follows(self) -> bool:
        """Whether the page asks again by itself."""
        return bool(self.running) or self.is_to_come


# ---- the list ------------------------------------------------------------------------------------


@router.get("/{slug}/studies")
def show_studies(request: Request, site: SiteDep, web: WebDep) -> Response:
    """The list; what a server left behind that is there no more is taken up."""
    page = _page(site, web)
    return render(
        request, "studies/studies.html", page, title=_("Work in hand"), current="studies",
        site=site, again=REFRESH_S if page.follows else 0,
    )  # fmt: skip


@router.get("/{slug}/studies.json")
def studies_json(site: SiteDep, web: WebDep) -> Response:
    """The same list for programs."""
    page = _page(site, web)
    names = "key", "label", "page", "state", "done", "total", "left", "asked", "reason", "is_open"
    entries = (*page.running, *page.ended)
    studies = [{name: getattr(entry, name) for name in names} for entry in entries]
    return JSONResponse({"schema": "clothcast.studies/1", "studies": studies})


@router.post("/{slug}/studies/stop")
def stop_all(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Stops whatever waits or runs for the site."""
    kinds.cancel_all(web.database, web.runner, site.id)
    return RedirectResponse(f"/{site.slug}/studies", 303)


@router.post("/{slug}/studies/{key}/cancel")
def cancel(site: SiteDep, web: WebDep, form: FormDep, key: str) -> Response:
    """Stops a study, and goes back to the list or to the page that waited for it."""
    study = kinds.cancel(web.database, web.runner, site.id, key)
    if study is None:
        raise HTTPException(404, _("There is no such work in hand."))
    kind = kinds.KINDS.get(study.kind)
    back = "studies"
    if kind is not None and text_of(form, "back") != "studies":
        back = kind.page_of(study.day)
    return RedirectResponse(f"/{site.slug}/{back}", 303)


def _page(site: StoredSite, web: Web) -> StudiesPage:
    """The list, asked last first."""
    timezone = site.data.site.timezone
    lines = kinds.list_studies(web.database, web.runner, site.id)
    entries = [_entry(site.slug, timezone, line) for line in lines]
    running = tuple(entry for entry in entries if entry.is_open)
    ended = tuple(entry for entry in entries if not entry.is_open)
    answer = _("Nothing is being computed.")
    if running:
        one, many = "One answer is being worked out.", "{count} answers are being worked out."
        answer = _n(one, many, len(running))
    ahead, is_to_come = _ahead_words(site, web)
    copies = _copy_words(site, web)
    return StudiesPage(site.slug, answer, running, ended, ahead, is_to_come, copies)


def _copy_words(site: StoredSite, web: Web) -> tuple[str, ...]:
    """When the database was copied last, and why not if it could not be."""
    kept = kept_of(web.database)
    if kept.newest is None:
        said = _("No copy has been made yet; a server that runs makes one a day.")
    else:
        at = moment(kept.newest, site.data.site.timezone)
        said = _n(
            "Copied and looked through: {at}. There is 1 copy.",
            "Copied and looked through: {at}. There are {count} copies.",
            kept.count,
            at=at,
        )
    return (said, kept.fault) if kept.fault else (said,)


def _ahead_words(site: StoredSite, web: Web) -> tuple[tuple[str, ...], bool]:
    """What work ahead has spent today and what it does next, and whether it does anything."""
    budget_s = web.settings.ahead_s if web.apart is not None else 0.0
    if web.apart is None or budget_s <= 0.0:
        return (_("Nothing is worked out ahead here: its budget of processor time is 0."),), False
    spent_s = web.runner.book.spent()
    sentence = _(
        "{spent} of {budget} processor seconds have been used today; how many there are is set by "
        "CLOTHCAST_AHEAD_S and, unless it was, a guess.",
        spent=whole(spent_s),
        budget=whole(budget_s),
    )
    if spent_s >= budget_s:
        more = _("No more is begun until tomorrow; what somebody opens is, as always.")
        return (sentence, more), False
    following = web.apart.following
    is_there, first = site.id in web.apart.readable, _("Every page of today has something to show.")
    if not is_there:
        first = _("Something to show on every page of today comes first.")
    if following is None and not is_there:
        return (sentence, first), True
    if following is None:
        return (sentence, first, _("All that is wanted ahead is there or under way.")), False
    site_id, kind, day, reason = following
    if site_id != site.id:
        return (sentence, first, _("Next comes something of another site.")), True
    label = _("{kind}, {day}", kind=_(kinds.KINDS[kind].label), day=long_date(day))
    return (sentence, first, _("Next: {label}. {reason}", label=label, reason=_(reason))), True


def _entry(slug: str, timezone: str, line: StudyLine) -> StudyEntry:
    study, progress = line.study, line.progress
    done, total = (progress.done, progress.total) if progress else (study.done, study.total)
    is_running = study.state == "running" and progress is not None
    far = stage_words(line.stages, progress) if progress is not None and is_running else ""
    at, reason = moment(study.asked_at, timezone), _(study.reason) if study.reason else ""
    asked = _("Asked by {person}, {at}.", person=study.person, at=at)
    if reason:
        asked = _("Worked out ahead, {at}: {reason}", at=at, reason=reason)
    return StudyEntry(
        key=study.key,
        label=_("{kind}, {day}", kind=_(line.label), day=long_date(study.day, year=True)),
        page=f"/{slug}/{line.page}",
        state=_state_words(line),
        done=done,
        total=total,
        far=far,
        left=left_words(progress.left_s) if progress else "",
        asked=asked,
        reason=reason,
        is_open=study.is_open,
    )


def _state_words(line: StudyLine) -> str:
    if line.study.state == "waiting":
        ahead = line.progress.ahead if line.progress else 0
        return turn_words(ahead) or _("Waits for its turn.")
    return ended_words(line.study) or _("Done." if line.study.state == "done" else "Running.")
