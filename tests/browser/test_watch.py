"""The watch that every test of this folder keeps would notice what it is there to notice."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext

from tests.browser.conftest import Watched
from tests.browser.served import PEAK, Served

PLANTED = {
    "style": "document.body.setAttribute('style', 'color: red')",
    "script": """const s = document.createElement('script'); s.textContent = 'window.bad = 1';
                 document.body.append(s)""",
    "elsewhere": "new Image().src = 'http://elsewhere.invalid/mark.png'",
    "error": "setTimeout(() => { throw new Error('planted') })",
}


@pytest.mark.parametrize("fault", PLANTED)
def test_planted_fault_is_noticed(
    new_context: Callable[[], BrowserContext], served: Served, fault: str
) -> None:
    """An inline style or script, a picture from another host and a script error are all seen.

    The first three are refused by the pages' content policy, so they also do no harm.
    """
    context = new_context()
    seen = Watched(served.url)
    seen.watch(context)
    page = context.new_page()
    page.goto(PEAK)
    assert seen.faults == []
    with context.expect_event("weberror" if fault == "error" else "console"):
        page.evaluate(PLANTED[fault])
    assert seen.faults != []
    if fault != "error":
        assert any("Content Security Policy" in text for text in seen.faults)
        assert page.evaluate("window.bad") is None
