"""About the model: what it computes, with which equations, and how far it may be believed."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.catalogue import _
from app.pages.cautions import Notice, deference
from app.pages.deps import render
from app.pages.guide.markdown import ABOUT, Guide, read_guide
from sim.inputs import INPUTS

router = APIRouter()


@dataclass(frozen=True, slots=True)
class AboutPage:
    """The page: the guide that is its text, and what of it is counted."""

    guide: Guide
    sure: str
    notices: tuple[Notice, ...]


@router.get("/about")
def show_about(request: Request) -> Response:
    """The page."""
    sure = _(
        "Of {count} inputs, {guesses} are guesses until a site enters its own. Nothing here "
        "was measured at a car wash.",
        count=len(INPUTS),
        guesses=sum(row.is_guess for row in INPUTS.values()),
    )
    page = AboutPage(read_guide(ABOUT), sure, (deference(),))
    return render(request, "about/about.html", page, title=page.guide.title, current="about")
