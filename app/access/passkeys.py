"""Passkeys (W3C Web Authentication), by the library `webauthn`: what a browser is asked, and what
its answers are worth.

A passkey holds where a device is unlocked by its user, so it stands for a password and a second
means at once. Browsers make them for names alone, not for bare addresses, and by HTTPS, but for the
machine itself.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Sequence
from dataclasses import dataclass

from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

NAME = "Clothcast"
FAULTS = (WebAuthnException, ValueError, TypeError, KeyError)


class BadPasskey(Exception):
    """An answer that no passkey of ours gave."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where pages are open: the name that passkeys are bound to, and how an address begins."""

    name: str
    origin: str


@dataclass(frozen=True, slots=True)
class Made:
    """A passkey that a device has made: id and public key as URL-safe text, and its uses."""

    key: str
    public: str
    count: int


def place_of(scheme: str, host: str, port: int | None) -> Place | None:
    """Where pages are open, if passkeys can be had there; None for a bare address or plain HTTP."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        is_name = True
    else:
        is_name = False
    if not is_name or (scheme != "https" and host != "localhost"):
        return None
    return Place(host, f"{scheme}://{host}{f':{port}' if port else ''}")


def ask_to_make(place: Place, person_id: int, name: str, known: Sequence[str]) -> tuple[str, bytes]:
    """What a browser is asked to make a passkey by, as JSON, and its challenge.

    Args:
        known: ids of passkeys that the person has, so that no device makes a second.
    """
    options = generate_registration_options(
        rp_id=place.name,
        rp_name=NAME,
        user_id=str(person_id).encode(),
        user_name=name,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        ),
        exclude_credentials=[
            PublicKeyCredentialDescriptor(id=base64url_to_bytes(key)) for key in known
        ],
    )
    return options_to_json(options), options.challenge


def made(place: Place, challenge: bytes, answer: str) -> Made:
    """The passkey that a browser's answer holds; raises BadPasskey."""
    try:
        told = verify_registration_response(
            credential=answer,
            expected_challenge=challenge,
            expected_rp_id=place.name,
            expected_origin=place.origin,
            require_user_verification=True,
        )
    except FAULTS as fault:
        raise BadPasskey(str(fault)) from fault
    key, public = told.credential_id, told.credential_public_key
    return Made(bytes_to_base64url(key), bytes_to_base64url(public), told.sign_count)


def ask_to_use(place: Place) -> tuple[str, bytes]:
    """What a browser is asked to use any passkey by, as JSON, and its challenge."""
    options = generate_authentication_options(
        rp_id=place.name, user_verification=UserVerificationRequirement.REQUIRED
    )
    return options_to_json(options), options.challenge


def key_of(answer: str) -> str:
    """The id of the passkey that a browser's answer is of; empty for none."""
    try:
        told = json.loads(answer)
    except (ValueError, RecursionError):
        return ""
    return str(told.get("id", "")) if isinstance(told, dict) else ""


def used(place: Place, challenge: bytes, answer: str, public: str, count: int) -> int:
    """How often the passkey of a public key says that it was used; raises BadPasskey.

    Args:
        count: how often it said so before.
    """
    try:
        told = verify_authentication_response(
            credential=answer,
            expected_challenge=challenge,
            expected_rp_id=place.name,
            expected_origin=place.origin,
            credential_public_key=base64url_to_bytes(public),
            credential_current_sign_count=count,
            require_user_verification=True,
        )
    except FAULTS as fault:
        raise BadPasskey(str(fault)) from fault
    return told.new_sign_count
