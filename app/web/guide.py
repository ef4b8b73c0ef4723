"""The guides, served from their Markdown files."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from markupsafe import Markup

from app.catalogue import _
from app.services.guides import GuideLine, list_guides, read_guide
from app.web.deps import render

router = APIRouter()


@dataclass(frozen=True, slots=True)
class GuidePage:
    """One guide beside the list of all; `body` is HTML of our own making."""

    name: str
    title: str
    body: Markup
    parts: tuple[tuple[str, str], ...]
    guides: tuple[GuideLine, ...]


@dataclass(frozen=True, slots=True)
class GuidesPage:
    """The list of guides."""

    guides: tuple[GuideLine, ...]


@router.get("/guide")
def show_guides(request: Request) -> Response:
    """The list of guides."""
    page = GuidesPage(list_guides())
    return render(request, "guide/guides.html", page, title=_("Guide"), current="guide")


@router.get("/guide/{name}")
def show_guide(request: Request, name: str) -> Response:
    """One guide."""
    guide = read_guide(name)
    if guide is None:
        raise HTTPException(404, _("There is no guide at this address."))
    body = Markup(guide.html)  # noqa: S704 - our own file, HTML in it escaped when it was read
    page = GuidePage(guide.name, guide.title, body, guide.parts, list_guides())
    return render(request, "guide/guide.html", page, title=guide.title, current="guide")
