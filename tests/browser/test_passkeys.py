"""Passkeys by a browser's own authenticator in software (W3C Web Authentication, section 11,
virtual authenticators), from making one to forgetting it, and what must not open."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import CDPSession, Page, expect

from app.access.table import OWNER
from tests.access.signed import NAMES, PASSWORD, wash
from tests.browser.served import Served, serve_app

OPTIONS = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True,
    "hasUserVerification": True, "isUserVerified": True, "automaticPresenceSimulation": True,
}  # fmt: skip
DEVICE = "Pocket phone"


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """An installation with somebody of each role, under the name by which passkeys can be had."""
    with wash(tmp_path) as made, serve_app(made.app, "localhost") as one:
        yield one


class Authenticator:
    """One in software, which unlocks by itself."""

    def __init__(self, page: Page) -> None:
        self._tools: CDPSession = page.context.new_cdp_session(page)
        self._tools.send("WebAuthn.enable")
        made = self._tools.send("WebAuthn.addVirtualAuthenticator", {"options": OPTIONS})
        self._own = {"authenticatorId": made["authenticatorId"]}

    def keys(self) -> list[dict[str, Any]]:
        """What it holds."""
        found: list[dict[str, Any]]
        found = self._tools.send("WebAuthn.getCredentials", self._own)["credentials"]
        return found

    def replace(self, key: dict[str, Any]) -> None:
        """Hold one key in place of all others."""
        self._tools.send("WebAuthn.clearCredentials", self._own)
        self._tools.send("WebAuthn.addCredential", {**self._own, "credential": key})

    def unlock(self, does: bool) -> None:
        """Whether it is unlocked by its user."""
        self._tools.send("WebAuthn.setUserVerified", {**self._own, "isUserVerified": does})


def sign_in_by_password(page: Page) -> None:
    """The owner signs in."""
    page.goto("/sign-in")
    page.get_by_label("Name").fill(NAMES[OWNER])
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page).not_to_have_url(re.compile("/sign-in"))


def sign_out(page: Page) -> None:
    """Whoever is signed in ends that."""
    page.goto("/me")
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page).to_have_url(re.compile("/sign-in$"))


def use_passkey(page: Page) -> None:
    """Presses the button."""
    page.goto("/sign-in")
    page.get_by_role("button", name="Sign in with a passkey").click()


def test_a_passkey_is_made_used_and_forgotten(page: Page) -> None:
    """Made with the present password alone, it signs its owner in by itself; one that is locked,
    one whose count went back (a copy) and one that nobody here knows don't; forgotten, with the
    password again, it opens nothing."""
    authenticator = Authenticator(page)
    sign_in_by_password(page)
    page.goto("/me")
    form = page.locator('form[data-passkey="make"]')
    form.get_by_label("Name of the device").fill(DEVICE)
    form.get_by_label("Present password").fill("not the password")
    form.get_by_role("button").click()
    expect(form.get_by_role("alert")).not_to_be_empty()
    assert authenticator.keys() == []
    form.get_by_label("Present password").fill(PASSWORD)
    form.get_by_role("button").click()
    expect(page.get_by_text(f"{DEVICE}: since")).to_be_attached()
    (key,) = authenticator.keys()
    sign_out(page)

    use_passkey(page)
    expect(page.get_by_text(f"Signed in as {NAMES[OWNER]}")).to_be_visible()
    (used,) = authenticator.keys()
    assert used["signCount"] > key["signCount"]
    sign_out(page)

    refused = page.locator('form[data-passkey="use"]').get_by_role("alert")
    authenticator.replace(key)  # a copy of the device as it was
    use_passkey(page)
    expect(refused).to_have_text("This passkey did not answer as it should. Try once more.")
    authenticator.replace({**used, "credentialId": "AAAAAAAAAAAAAAAAAAAAAA=="})
    use_passkey(page)
    expect(refused).to_have_text(re.compile("No account here knows this passkey"))
    authenticator.replace(used)
    authenticator.unlock(False)
    use_passkey(page)
    expect(refused).not_to_be_empty()
    expect(page).to_have_url(re.compile("/sign-in$"))

    authenticator.unlock(True)
    use_passkey(page)
    expect(page.get_by_text(f"Signed in as {NAMES[OWNER]}")).to_be_visible()
    page.goto("/me#passkeys")
    fold = page.locator("#passkeys")
    fold.evaluate("one => (one.closest('details') || one).open = true")
    forget = page.locator('form[action="/me/passkey/forget"]')
    forget.get_by_label("Present password").fill("not the password")
    forget.get_by_role("button").click()
    expect(page.get_by_text("This is not your present password")).to_have_count(2)
    page.goto("/me#passkeys")
    page.locator("#passkeys").evaluate("one => (one.closest('details') || one).open = true")
    forget.get_by_label("Present password").fill(PASSWORD)
    forget.get_by_role("button").click()
    expect(forget).to_have_count(0)
    sign_out(page)
    expect(page.get_by_role("button", name="Sign in with a passkey")).to_have_count(0)
