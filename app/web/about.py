"""About the model: what it computes, with which equations, and how far it may be believed."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.catalogue import _
from app.web.contexts.about import about_page
from app.web.deps import render

router = APIRouter()


@router.get("/about")
def show_about(request: Request) -> Response:
    """The page."""
    page = about_page()
    return render(request, "about/about.html", page, title=_("About the model"), current="about")
