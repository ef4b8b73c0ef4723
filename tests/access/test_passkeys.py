"""Passkeys by a device that is made here, as W3C Web Authentication describes one: authenticator
data, a public key in COSE and signatures by ECDSA (sections 6.1, 6.5 and 7 of level 2, and RFC 9053
for the key; from memory). The signatures are of an independent library, `cryptography`.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from typing import Any

import cbor2
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url

from app.access.passkeys import (
    BadPasskey,
    Made,
    Place,
    ask_to_make,
    ask_to_use,
    key_of,
    made,
    place_of,
    used,
)

HERE = Place("wash.example", "https://wash.example:8443")
PRESENT, VERIFIED, ATTESTED = 1, 4, 64
"""Flags of authenticator data: the user was there, was verified, and a key comes along."""


@dataclass
class Device:
    """A device that holds one passkey.

    Attributes:
        flags: what it says of its user; count: how often it says that it was used.
    """

    key: ec.EllipticCurvePrivateKey = field(
        default_factory=lambda: ec.generate_private_key(ec.SECP256R1())
    )
    name: bytes = b"a passkey of ours"
    flags: int = PRESENT | VERIFIED
    count: int = 0

    def _told(self, kind: str, challenge: bytes, place: Place) -> bytes:
        told = {"type": kind, "challenge": bytes_to_base64url(challenge), "origin": place.origin}
        return json.dumps(told).encode()

    def _data(self, place: Place, more: bytes = b"", flags: int = 0) -> bytes:
        head = hashlib.sha256(place.name.encode()).digest()
        return head + bytes([self.flags | flags]) + self.count.to_bytes(4, "big") + more

    def _answer(self, response: dict[str, bytes]) -> str:
        key = bytes_to_base64url(self.name)
        told = {name: bytes_to_base64url(value) for name, value in response.items()}
        return json.dumps({"id": key, "rawId": key, "type": "public-key", "response": told})

    def make(self, challenge: bytes, place: Place = HERE) -> str:
        """What a browser sends once the device has made its passkey."""
        numbers = self.key.public_key().public_numbers()
        x, y = (number.to_bytes(32, "big") for number in (numbers.x, numbers.y))
        public = cbor2.dumps({1: 2, 3: -7, -1: 1, -2: x, -3: y})
        more = bytes(16) + len(self.name).to_bytes(2, "big") + self.name + public
        data = self._data(place, more, ATTESTED)
        held = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        told = self._told("webauthn.create", challenge, place)
        return self._answer({"clientDataJSON": told, "attestationObject": held})

    def use(self, challenge: bytes, place: Place = HERE) -> str:
        """What a browser sends once the device has signed."""
        told, data = self._told("webauthn.get", challenge, place), self._data(place)
        signed = self.key.sign(data + hashlib.sha256(told).digest(), ec.ECDSA(SHA256()))
        return self._answer(
            {"clientDataJSON": told, "authenticatorData": data, "signature": signed}
        )


@pytest.mark.parametrize(
    ("scheme", "host", "port", "origin"),
    [
        ("https", "wash.example", None, "https://wash.example"),
        ("https", "wash.example", 8443, "https://wash.example:8443"),
        ("http", "localhost", 8000, "http://localhost:8000"),
        ("https", "localhost", None, "https://localhost"),
        ("http", "wash.example", None, ""), ("https", "192.168.1.7", None, ""),
        ("http", "127.0.0.1", 8000, ""), ("https", "::1", None, ""),
    ],
)  # fmt: skip
def test_where_passkeys_can_be_had(scheme: str, host: str, port: int | None, origin: str) -> None:
    """At names by HTTPS, and on the machine itself; never at bare addresses."""
    assert place_of(scheme, host, port) == (Place(host, origin) if origin else None)


def test_what_a_browser_is_asked_to_make() -> None:
    """A passkey of this place and person that its device keeps and unlocks, beside none that the
    person has; the challenge is another each time."""
    text, challenge = ask_to_make(HERE, 7, "Olive Owner", [bytes_to_base64url(b"an older one")])
    told: dict[str, Any] = json.loads(text)
    assert told["rp"] == {"id": "wash.example", "name": "Clothcast"}
    assert (told["user"]["name"], base64url_to_bytes(told["user"]["id"])) == ("Olive Owner", b"7")
    assert told["authenticatorSelection"]["residentKey"] == "required"
    assert told["authenticatorSelection"]["userVerification"] == "required"
    assert [base64url_to_bytes(one["id"]) for one in told["excludeCredentials"]] == [
        b"an older one"
    ]
    assert base64url_to_bytes(told["challenge"]) == challenge
    assert ask_to_make(HERE, 7, "Olive Owner", [])[1] != challenge


def test_what_a_browser_is_asked_to_use() -> None:
    """Any passkey of this place, unlocked by its user."""
    text, challenge = ask_to_use(HERE)
    told = json.loads(text)
    assert (told["rpId"], told["userVerification"]) == ("wash.example", "required")
    assert base64url_to_bytes(told["challenge"]) == challenge
    assert ask_to_use(HERE)[1] != challenge


def of_device(device: Device) -> Made:
    """The passkey of a device, made at a challenge."""
    return made(HERE, b"made at this challenge", device.make(b"made at this challenge"))


def test_a_passkey_is_made_and_used() -> None:
    """Its id, its key and its uses are what the device has; a count that goes up is told anew."""
    device = Device(count=3)
    passkey = of_device(device)
    assert (base64url_to_bytes(passkey.key), passkey.count) == (device.name, 3)
    assert key_of(device.use(b"x")) == passkey.key
    device.count = 4
    answer = device.use(b"another challenge")
    assert used(HERE, b"another challenge", answer, passkey.public, passkey.count) == 4


def test_an_answer_of_anything_else_is_refused() -> None:
    """To another challenge, at another place, by another device, of a user who was not verified, by
    a copy whose count does not go up, or no answer at all."""
    device, other = Device(count=3), Device(count=9)
    public = of_device(device).public
    elsewhere = Place("other.example", "https://other.example")
    wrong = (elsewhere, Place(HERE.name, elsewhere.origin), Place(elsewhere.name, HERE.origin))
    unverified = Device(device.key, flags=PRESENT, count=9)
    device.count = 9
    for held, answer in (
        (b"another", device.use(b"this one")),
        *((b"this one", device.use(b"this one", place)) for place in wrong),
        (b"this one", other.use(b"this one")),
        (b"this one", unverified.use(b"this one")),
        (b"this one", Device(device.key, count=3).use(b"this one")),
        (b"this one", device.make(b"this one")),
        (b"this one", "{}"),
        (b"this one", "no answer"),
    ):
        with pytest.raises(BadPasskey):
            used(HERE, held, answer, public, 3)
    for held, answer in (
        (b"another", device.make(b"this one")),
        *((b"this one", device.make(b"this one", place)) for place in wrong),
        (b"this one", unverified.make(b"this one")),
        (b"this one", device.use(b"this one")),
        (b"this one", "no answer"),
    ):
        with pytest.raises(BadPasskey):
            made(HERE, held, answer)


@pytest.mark.parametrize("text", ["", "no answer", "[1]", "3", "{}", "[" * 100_000])
def test_an_answer_without_an_id_is_of_no_passkey(text: str) -> None:
    """Whatever a browser sends is read, and nothing in it raises."""
    assert key_of(text) == ""
