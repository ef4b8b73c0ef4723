"""Every form of every page that a role may see, filled with hostile text in a real browser and
sent: no text of it ever runs, becomes a part of a page or breaks the policy of what a page may
load."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from urllib.parse import urldefrag, urlsplit

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Dialog, Page
from playwright.sync_api import Error as BrowserError

from app.access.table import ATTENDANT, MANAGER, OWNER, PHONE, ROLES, SCREEN
from app.pages.links import PHONE_COOKIE, SESSION_COOKIE
from app.sites.reading import gate
from tests.access.signed import NAMES, Wash, wash
from tests.browser.conftest import PATIENCE_MS, context_args
from tests.browser.served import Served, serve_app
from tests.demo_app import begin_nothing
from tests.pages import fixture_comparison as invented
from tests.sizes import Size

HOSTILE = (
    "<script>planted('script')</script>",
    "\"><img src=x onerror=planted('image')><b data-planted>",
    "'><svg onload=planted('picture')><b data-planted>",
    "</textarea></title></script><b data-planted>x</b><script>planted('end')</script>",
    "javascript:planted('link')",
    "\" autofocus onfocus=planted('focus') x=\"",
    "{{ 7 * 7 }}{% raw %}${planted('gap')}",
    "\u202eright to left\u202c \u05d0\u05d1\u05d2 \u0627\u0628",
    "\u0000\u0007\u200b\ufeff\U0001f600\U0001f468\u200d\U0001f469",
    "=cmd|' /C calc'!A0",
    "'; DROP TABLE sites; --",
    "long " * 2_000,
)
"""Texts that would run, become a part of a page or break one, were they not shown as they are."""
LEFT_OUT = re.compile(r"^/(sign-out|me/|people/(let-go|sign-out|renew))")
"""Forms that would end the way in of whoever tries the others; their fields are buttons."""
NO_PAGE = re.compile(
    r"^/static/|\.(csv|xlsx|ics|json|html|crt|md|webmanifest|js)$|/phone/|/guide/.+"
)
"""Addresses that show no form: files, links of phones, and the guides, which are the same text."""
BRIEFLY_MS = 2_000
"""How long a sent form may take to lead on; a script of ours keeps some on their page."""
LISTENS = """
document.addEventListener('securitypolicyviolation', (fault) => {
  told('policy: ' + fault.violatedDirective + ' ' + fault.blockedURI + ' ' + fault.sample);
});
window.planted = (what) => told('ran: ' + what);
"""
LOOK = """() => ({
  shown: document.documentElement.outerHTML.includes('planted(') ? 1 : 0,
  parts: document.querySelectorAll(
    "[data-planted], img[src='x'], svg[onload], a[href^='javascript:'], [onerror], [onfocus]"
  ).length,
})"""
FORMS = """() => [...document.forms].map((form) => ({
  action: new URL(form.action).pathname, method: form.method,
  names: [...form.elements].map((one) => one.name).filter(Boolean).sort().join(' '),
}))"""
FILL = """([at, texts]) => {
  const form = document.forms[at];
  const kept = new Set(['form_token', 'version', 'request_key']);
  form.noValidate = true;
  let place = 0;
  for (const one of form.elements) {
    if (!one.name || kept.has(one.name) || one.tagName === 'BUTTON') continue;
    if (one.type === 'file') continue;
    if (one.type === 'checkbox' || one.type === 'radio') { one.checked = true; continue; }
    const text = texts[place++ % texts.length];
    if (one.tagName === 'SELECT') {
      if (place % 3) continue;
      one.append(new Option(text, text, true, true));
    } else {
      if (one.type !== 'hidden' && one.tagName === 'INPUT') one.type = 'text';
      if (one.type !== 'hidden' || place % 2) one.value = text;
    }
  }
  const button = form.querySelector('button:not([formaction]), input[type=submit]');
  button ? form.requestSubmit(button) : form.requestSubmit();
}"""


@dataclass
class Tried:
    """What was done as a role, and what a page did that it must not.

    Attributes:
        sent: forms. seen: pages; shown: those of them that had a hostile text in them.
        told: what ran, what the policy stopped, what became a part of a page.
    """

    sent: int = 0
    seen: int = 0
    shown: int = 0
    told: list[str] = field(default_factory=list)
    forms: set[str] = field(default_factory=set)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Wash, Served]]:
    """An installation with somebody of each role and, at their site, a past, people and sets; what
    one role stores the next one meets. Nothing is worked out."""
    folder = tmp_path_factory.mktemp("hostile")
    with pytest.MonkeyPatch.context() as patch, wash(folder) as made:
        begin_nothing(patch)
        web = made.app.state.web
        whole = invented.small_site()
        with gate(web.database, web.now()) as writes:
            named = replace(whole, site=replace(whole.site, name="Mill Lane"))
            writes.replace_site(1, named, 1, "fill")
        with serve_app(made.app) as served:
            yield made, served


@contextmanager
def signed_in(browser: Browser, made: Wash, served: Served, role: str) -> Iterator[BrowserContext]:
    """A browser of somebody of a role."""
    context = browser.new_context(**context_args(served.url))
    context.set_default_timeout(PATIENCE_MS)
    port, cookies = urlsplit(served.url).port, {}
    if role in (PHONE, SCREEN, ATTENDANT):
        cookies[PHONE_COOKIE] = made.secrets[SCREEN if role == SCREEN else PHONE]
    if role in NAMES:
        cookies[SESSION_COOKIE] = made.secrets[role]
    for name, value in cookies.items():
        context.add_cookies([{"name": f"{name}_{port}", "value": value, "url": served.url}])
    yield context
    context.close()


def looked_at(page: Page, tried: Tried, where: str) -> None:
    """Notes what of a page is a text that was sent and became a part of it."""
    found = None
    while found is None:
        with suppress(BrowserError):  # it led on just now: the page behind it is looked at
            page.wait_for_load_state("domcontentloaded")
            found = page.evaluate(LOOK)
    tried.seen += 1
    tried.shown += found["shown"]
    if found["parts"]:
        tried.told.append(f"part of the page: {where}")


def opened(page: Page, path: str) -> bool:
    """Opens an address; False for what is no page."""
    try:
        answer = page.goto(path, wait_until="domcontentloaded")
    except BrowserError:
        return False  # a file that is kept rather than shown
    kind = answer.headers.get("content-type", "") if answer else ""
    return kind.startswith("text/html")


def try_forms(context: BrowserContext, tried: Tried, rng: np.random.Generator, most: int) -> None:
    """From the first page on, sends every form that is met, then looks at every page again."""
    context.expose_binding("told", lambda _source, what: tried.told.append(what))
    context.add_init_script(LISTENS)
    page = context.new_page()

    def closed(dialog: Dialog) -> None:
        tried.told.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    page.on("dialog", closed)
    page.on("pageerror", lambda fault: tried.told.append(f"script: {fault}"))
    waiting, known = deque(["/"]), {"/"}
    while waiting and tried.sent < most:
        path = waiting.popleft()
        if not opened(page, path):
            continue
        looked_at(page, tried, path)
        for link in page.eval_on_selector_all("a[href]", "all => all.map((one) => one.href)"):
            parts = urlsplit(urldefrag(link).url)
            sort = re.sub(r"[0-9][0-9-]*", "#", parts.path)
            if parts.netloc == urlsplit(page.url).netloc and sort not in known:
                known.add(sort)
                if not NO_PAGE.search(parts.path):
                    waiting.append(parts.path)
        for at, form in enumerate(page.evaluate(FORMS)):
            sort = f"{form['method']} {re.sub(r'[0-9-]+', '#', form['action'])} {form['names']}"
            if sort in tried.forms or LEFT_OUT.search(form["action"]) or tried.sent >= most:
                continue
            tried.forms.add(sort)
            if tried.sent and not opened(page, path):
                break
            texts = [HOSTILE[int(one)] for one in rng.permutation(len(HOSTILE))]
            leads_on = page.expect_event("domcontentloaded", timeout=BRIEFLY_MS)
            with suppress(BrowserError), leads_on:  # a script of ours keeps it, or a file comes
                page.evaluate(FILL, [at, texts])
            tried.sent += 1
            looked_at(page, tried, f"{form['action']} of {path}")
            opened(page, path)
            looked_at(page, tried, f"{path} again")


@pytest.mark.soak
@pytest.mark.parametrize("role", ROLES)
def test_no_text_of_a_form_ever_runs(
    browser: Browser,
    small: tuple[Wash, Served],
    role: str,
    rng: np.random.Generator,
    size: Size,
    record_figure: Callable[..., None],
) -> None:
    """Sent in every form that a role meets from its first page on, hostile texts run nowhere,
    become no part of any page, open no dialog and break no policy, when they come back as what was
    wrong and when they come back stored."""
    most = size(small=3 if role in (MANAGER, PHONE) else 1, full=400)
    tried = Tried()
    with signed_in(browser, *small, role) as context:
        try_forms(context, tried, rng, most)
    record_figure("forms sent", tried.sent)
    record_figure("pages looked at", tried.seen)
    record_figure("of them with a hostile text", tried.shown)
    assert tried.told == []
    assert tried.sent or role == SCREEN  # whose sheet has no form
    assert tried.shown or role not in (MANAGER, PHONE)


def test_what_runs_is_noticed(browser: Browser, small: tuple[Wash, Served]) -> None:
    """Planted in a page, a script that may run, one that the policy stops and a part that a text
    became are each told."""
    with signed_in(browser, *small, OWNER) as context:
        tried = Tried()
        context.expose_binding("told", lambda _source, what: tried.told.append(what))
        context.add_init_script(LISTENS)
        page = context.new_page()
        page.goto("/sites")
        page.evaluate("document.body.insertAdjacentHTML('beforeend', '<b data-planted>x</b>')")
        page.evaluate("planted('by hand')")
        page.evaluate(
            "document.body.append(Object.assign(document.createElement('script'), {text: '1'}))"
        )
        page.wait_for_function("document.querySelector('[data-planted]') !== null")
        looked_at(page, tried, "/sites")
    assert [one.split(":")[0] for one in tried.told] == ["ran", "policy", "part of the page"]
