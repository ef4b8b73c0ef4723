"""The pictures of README and guide, taken anew: `python -m tests.pictures`.

They show the demo site on a fixed day, its peak day computed as `make demo` computes it, so that
they change only when the product does.
"""

from __future__ import annotations

import datetime
import os
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from app.answers import planning
from tests import chromium
from tests.browser.served import DEMO, PEAK, prepare_demo, serve

FOLDER = Path(__file__).resolve().parent.parent / "app" / "guide" / "pictures"
MOST_BYTES = 400_000
SPARE_PX = 8


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the top of a page: file, address, width [px], what it ends below, and a folded
    part that is opened for it."""

    name: str
    address: str
    width: int
    last: str
    opened: str = ""


BUSY = datetime.date(2026, 7, 18)
"""The day on which the demo site stands."""
PICTURES = (
    Picture("today-phone.png", f"{DEMO}/today", 390, "dl.day-lines >> nth=1"),
    Picture("watch-the-day.png", f"{DEMO}/watch/{BUSY}", 1280, "#watch .key"),
    Picture("plan-a-day.png", PEAK, 1280, "table.compare >> nth=0 >> tbody tr >> nth=6"),
    Picture("plan-a-day-phone.png", PEAK, 390, "table.compare >> nth=0 >> tbody tr >> nth=3"),
    Picture("logbook-phone.png", f"{DEMO}/logbook", 390, ".kinds"),
    Picture(
        "what-happened.png",
        f"{DEMO}/happened/{BUSY:%Y-%m}",
        1280,
        "main table >> tbody tr >> nth=-1",
        "main .fold >> nth=0",
    ),
    Picture("counts.png", f"{DEMO}/counts", 1280, ".fold >> nth=2"),
    Picture("site.png", f"{DEMO}/site", 1280, "#leading"),
)


def take(browser: Browser, url: str, picture: Picture, folder: Path) -> int:
    """Takes a picture; returns its size in bytes."""
    with browser.new_context(
        base_url=url, viewport={"width": picture.width, "height": 900}, locale="en-US"
    ) as context:
        page = context.new_page()
        page.goto(picture.address)
        page.wait_for_load_state("networkidle")  # what a script fetches is drawn
        if picture.opened:
            page.locator(picture.opened).evaluate("part => { part.open = true }")
        box = page.locator(picture.last).bounding_box()
        if box is None:
            raise LookupError(f"{picture.address} does not show {picture.last}")
        height = box["y"] + box["height"] + SPARE_PX
        raw = page.screenshot(
            path=folder / picture.name,
            full_page=True,
            clip={"x": 0, "y": 0, "width": picture.width, "height": height},
        )
    return len(raw)


def main() -> int:
    """Takes all of them; exit code 1 where one is too large or there is no browser."""
    path = chromium.find()
    if path is None:
        sys.stderr.write(f"{chromium.MISSING}\n")
        return 1
    os.environ["CLOTHCAST_SIGN_IN"] = "0"  # as the demo is served
    FOLDER.mkdir(parents=True, exist_ok=True)
    too_large = False
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        sys.stdout.write("Computing the demo's peak day\n")
        prepare_demo(data, planning.FIRST_REPLICATIONS, BUSY)
        with serve(data, BUSY) as served, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=path, args=list(chromium.FLAGS))
            for picture in PICTURES:
                size = take(browser, served.url, picture, FOLDER)
                too_large = too_large or size > MOST_BYTES
                sys.stdout.write(f"{picture.name}: {size / 1000:.0f} kB\n")
            browser.close()
    return 1 if too_large else 0


if __name__ == "__main__":
    sys.exit(main())
