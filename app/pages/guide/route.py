"""The guides, served from their Markdown files."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from app.catalogue import _
from app.pages.deps import render
from app.pages.guide.markdown import ABOUT, Guide, GuideLine, guide_address, list_guides, read_guide

router = APIRouter()


@dataclass(frozen=True, slots=True)
class GuidePage:
    """One guide beside the list of all."""

    guide: Guide
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
    if name == ABOUT:
        return RedirectResponse(guide_address(name), 308)
    try:
        guide = read_guide(name)
    except LookupError as fault:
        raise HTTPException(404, _("There is no guide at this address.")) from fault
    page = GuidePage(guide, list_guides())
    return render(request, "guide/guide.html", page, title=guide.title, current="guide")
