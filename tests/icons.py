"""The icons of the logbook on a phone, drawn from `icon.svg`: `python -m tests.icons`."""

from __future__ import annotations

import sys

from playwright.sync_api import sync_playwright

from app.pages.deps import STATIC
from tests import chromium

SIZES = (192, 512)
"""Sides [px] that phones ask for."""


def main() -> int:
    """Draws them anew; exit code 1 where there is no browser."""
    path = chromium.find()
    if path is None:
        sys.stderr.write(f"{chromium.MISSING}\n")
        return 1
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(chromium.FLAGS))
        for size in SIZES:
            page = browser.new_page(viewport={"width": size, "height": size})
            page.goto((STATIC / "icon.svg").as_uri())
            page.screenshot(path=STATIC / f"icon-{size}.png")
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
