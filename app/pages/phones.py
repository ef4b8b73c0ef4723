"""The page Phones: a link with a secret of its own for each phone of the crew, which opens the
logbook and the checks alone and can be taken back; and what a phone still lacks to keep entries
offline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from app.access.codes import new_secret
from app.catalogue import _, _n
from app.charts.code import code_picture
from app.pages.deps import FormDep, SiteDep, Web, WebDep, file_answer, render
from app.pages.forms import FieldView, RowForm, Summary, summary, text_of
from app.pages.links import (
    COOKIE_AGE_S,
    PHONE_COOKIE,
    REVOKED,
    LinkRefused,
    digest_of,
    is_here,
    set_key,
)
from app.pages.security import LOCAL_HOSTS
from app.sites.reading import StoredSite, gate, phone_with, phones_of
from app.words.phrases import moment
from sim.errors import InputProblem, quoted
from sim.inputs.rows import Name
from sim.units import whole_number

router = APIRouter()
NAME = Name(name="name", label="Name of the phone", hint="As Exit, or whose it is.", longest=40)
SCREENS = "see"
"""What a screen's link may."""
CERTIFICATE = "application/x-x509-ca-cert"


@dataclass(frozen=True, slots=True)
class PhoneLine:
    """A phone or a screen that was let in: its number, name, since when, and until when; empty
    while it is."""

    id: int
    name: str
    is_screen: bool
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class NewLink:
    """A link that was made just now and is shown once."""

    name: str
    address: str
    code: Markup


@dataclass(frozen=True, slots=True)
class PhonesPage:
    """The page.

    Attributes:
        lacks: what a phone lacks, a sentence each.
        has_authority: whether there is an authority that phones may have to trust.
    """

    slug: str
    answer: str
    link: NewLink | None
    phones: Sequence[PhoneLine]
    name: FieldView
    summary: Summary | None
    lacks: tuple[str, ...]
    has_authority: bool


@router.get("/{slug}/phones")
def show_phones(request: Request, site: SiteDep, web: WebDep) -> Response:
    """Every phone that was let in, and a form for one more."""
    return _page(request, web, site)


@router.post("/{slug}/phones")
def let_in(request: Request, site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Makes a link, which is shown on this answer alone."""
    typed = text_of(form, "name")
    name, problems = _name_of(web, site, typed)
    if problems:
        return _page(request, web, site, typed=typed, problems=problems, status=422)
    secret, may = new_secret(), SCREENS if text_of(form, "for") == SCREENS else "log"
    with gate(web.database, web.now()) as writes:
        writes.add_phone(site.id, name, digest_of(secret), may)
    address = f"{base_of(request, web)}/{site.slug}/phone/{secret}"
    code = code_picture(address, _("A code that opens the link"))
    return _page(request, web, site, link=NewLink(name, address, code))


@router.post("/{slug}/phones/revoke")
def take_back(site: SiteDep, web: WebDep, form: FormDep) -> Response:
    """Takes the link of a phone back."""
    number = whole_number(text_of(form, "phone"))
    try:
        with gate(web.database, web.now()) as writes:
            writes.revoke_phone(site.id, -1 if number is None else number)
    except LookupError:
        raise HTTPException(404, _("There is no such phone.")) from None
    return RedirectResponse(f"/{site.slug}/phones", 303)


@router.get("/{slug}/phones/authority.crt")
def authority(site: SiteDep, web: WebDep) -> Response:
    """The certificate that phones are to trust; it is no secret."""
    path = web.settings.authority
    if not path.exists():
        raise HTTPException(404, _("No authority was made here: see the guide “Phones”."))
    return file_answer(path.read_bytes(), path.name, CERTIFICATE)


@router.get("/{slug}/phone/{secret}")
def open_link(request: Request, site: SiteDep, web: WebDep, secret: str) -> Response:
    """Opens the logbook on a phone, which is known by the secret from then on."""
    phone = phone_with(web.database, digest_of(secret))
    if phone is None or phone.site_id != site.id:
        raise LinkRefused(REVOKED)
    page = "sheet" if phone.may == SCREENS else "logbook"
    answer = RedirectResponse(f"/{site.slug}/{page}", 303)
    if web.settings.sign_in or not is_here(request):
        set_key(answer, request, PHONE_COOKIE, secret, COOKIE_AGE_S)
    return answer


def _name_of(web: Web, site: StoredSite, typed: str) -> tuple[str, list[InputProblem]]:
    """The name that was typed for a phone, and what is wrong with it."""
    name, problems = " ".join(typed.split()), list[InputProblem]()
    if not 1 <= len(name) <= NAME.longest:
        sentence = "“{name}” can’t be the name of a phone. Enter 1 to {most} characters."
        problems.append(
            InputProblem("name", sentence, {"name": quoted(name), "most": NAME.longest})
        )
    taken = [one.name.casefold() for one in phones_of(web.database, site.id) if not one.revoked_at]
    if name.casefold() in taken:
        sentence = "There is a phone “{name}”. Take its link back first, or enter another name."
        problems.append(InputProblem("name", sentence, {"name": quoted(name)}))
    return name, problems


def base_of(request: Request, web: Web) -> str:
    """What the address of a link begins with: as this page was opened, unless only this computer
    knows it by that."""
    host = request.url.hostname or ""
    if web.outside and host in (*LOCAL_HOSTS, "::1"):
        host = web.outside
    host = f"[{host}]" if ":" in host else host
    port = f":{request.url.port}" if request.url.port else ""
    return f"{request.url.scheme}://{host}{port}"


def _lacks(request: Request, web: Web) -> tuple[str, ...]:
    """What a phone lacks as the pages are served now, a sentence each."""
    found = []
    if not web.outside:
        found.append(
            _("Only this computer reaches Clothcast now: start it with clothcast serve --host.")
        )
    if request.url.scheme != "https":
        found.append(
            _(
                "Served without HTTPS, a phone writes only while it reaches the server, and others "
                "in the network can read along."
            )
        )
    return tuple(found)


def _page(
    request: Request,
    web: Web,
    site: StoredSite,
    *,
    link: NewLink | None = None,
    typed: str = "",
    problems: Sequence[InputProblem] = (),
    status: int = 200,
) -> Response:
    zone, units = site.data.site.timezone, site.data.units
    lines = [
        PhoneLine(
            one.id, one.name, one.may == SCREENS, moment(one.made_at, zone),
            moment(one.revoked_at, zone) if one.revoked_at else "",
        )
        for one in phones_of(web.database, site.id)
    ]  # fmt: skip
    count = sum(not one.until and not one.is_screen for one in lines)
    answer = _("No phone has a link to the logbook yet.")
    if link is not None:
        answer = _("Open this link on the phone now: it is shown only once.")
    elif count:
        answer = _n(
            "One phone may write in the logbook.", "{count} phones may write in the logbook.", count
        )
    page = PhonesPage(
        slug=site.slug,
        answer=answer,
        link=link,
        phones=lines,
        name=RowForm("", units, {"name": typed}, problems).field(NAME, numeric=False),
        summary=summary(problems, units),
        lacks=_lacks(request, web),
        has_authority=web.settings.authority.exists(),
    )
    return render(
        request, "phones/phones.html", page, title=_("Phones"), current="logbook", site=site,
        status=status,
    )  # fmt: skip
