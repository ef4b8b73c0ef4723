"""Certificates for pages by HTTPS: an authority of the installation's own, which signs one for the
names of its server; and whether a certificate that somebody brings can be served with.

Phones keep entries without network only where the pages come by HTTPS from a server that they
trust (W3C Service Workers, secure contexts). A server within four walls has no name that a public
authority would vouch for, so the installation vouches for itself, to phones that were told so. What
it may vouch for is written into the authority (RFC 5280 section 4.2.1.10): whoever takes its key
can't pass for any other site with it.
"""

from __future__ import annotations

import ipaddress
import os
import re
import ssl
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from app.settings import BadSettings, Settings

AUTHORITY_KEY = "authority.key"
SERVER, SERVER_KEY = "server.crt", "server.key"
AUTHORITY_AGE = timedelta(days=3650)
"""How long an authority lasts; phones have to trust the next one anew. A guess."""
SERVER_AGE = timedelta(days=397)
"""How long a server's certificate lasts: public authorities were held to 398 days when phones came
to ask for that (CA/Browser Forum, Baseline Requirements, section 6.3.2, versions of 2020 to 2025,
from memory). Phones take up to 825 days from an authority that their owner added."""
EARLIER = timedelta(days=1)
"""How long before it was made a certificate holds, for phones whose clocks lag."""
LOCAL_NAMES = ("localhost", "127.0.0.1")
"""Names of the machine itself, which every certificate has."""
_HOST_NAME = re.compile(
    r"(?=.{1,253}\Z)[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
    r"(?:\.[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?)*"
)


@dataclass(frozen=True, slots=True)
class ServedBy:
    """A certificate that pages can be served with.

    Attributes:
        certificate, key: its files.
        names: names and addresses that it is for, in its order.
        until: the last moment at which it holds.
    """

    certificate: Path
    key: Path
    names: tuple[str, ...]
    until: datetime

    @property
    def name(self) -> str:
        """The first name by which another machine may know the server."""
        return next((name for name in self.names if name not in LOCAL_NAMES), self.names[0])


@dataclass(frozen=True, slots=True)
class Issued:
    """What was made for a server.

    Attributes:
        authority: file of the authority's certificate, which phones are to trust; no secret.
        fingerprint: SHA-256 of that, as phones show it.
        is_new: whether the authority was made just now, so that no phone trusts it yet.
    """

    served: ServedBy
    authority: Path
    fingerprint: str
    is_new: bool


# ---- making --------------------------------------------------------------------------------------


def issue(settings: Settings, names: Sequence[str], now: datetime, *, anew: bool = False) -> Issued:
    """Make a certificate for a server, signed by the authority of the installation, which is made
    with it where there is none.

    Args:
        names: host names and addresses by which phones will know the server.
        anew: make a new authority even where there is one.

    Raises:
        BadSettings: if a name is none, or the authority there may not vouch for it.
    """
    wanted = tuple(dict.fromkeys([*(_plain(name) for name in names), *LOCAL_NAMES]))
    folder = settings.https_dir
    folder.mkdir(parents=True, exist_ok=True)
    its_key = folder / AUTHORITY_KEY
    is_new = anew or not (settings.authority.exists() and its_key.exists())
    if is_new:
        key = ec.generate_private_key(ec.SECP256R1())
        _keep_key(its_key, key)
        _keep(settings.authority, _authority(wanted, key, now).public_bytes(Encoding.PEM), 0o644)
    authority = _read_certificate(settings.authority)
    _check_dates(authority, settings.authority, now, "clothcast certificate --anew makes another")
    key = _read_key(its_key)
    strange = [name for name in wanted if name not in _permitted(authority)]
    if strange:
        raise BadSettings(
            f"The authority of this installation vouches for {_joined(_permitted(authority))} "
            f"alone, not for {_joined(strange)}. Use those names, or add --anew for another "
            "authority, which every phone then has to be told to trust."
        )
    own = ec.generate_private_key(ec.SECP256R1())
    made = _of_server(wanted, own, authority, key, now)
    _keep_key(folder / SERVER_KEY, own)
    _keep(folder / SERVER, made.public_bytes(Encoding.PEM), 0o644)
    served = usable(folder / SERVER, folder / SERVER_KEY, now)
    return Issued(served, settings.authority, fingerprint_of(settings.authority), is_new)


def fingerprint_of(path: Path) -> str:
    """SHA-256 of a certificate, in pairs of digits as phones show it."""
    return _read_certificate(path).fingerprint(hashes.SHA256()).hex(":").upper()


def _authority(
    names: Sequence[str], key: ec.EllipticCurvePrivateKey, now: datetime
) -> x509.Certificate:
    called = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _called(names))])
    only = x509.NameConstraints([_subtree(name) for name in names], None)
    return (
        _begun(called, called, key.public_key(), now, AUTHORITY_AGE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(key_cert_sign=True), critical=True)
        .add_extension(only, critical=True)
        .sign(key, hashes.SHA256())
    )


def _of_server(
    names: Sequence[str],
    own: ec.EllipticCurvePrivateKey,
    authority: x509.Certificate,
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
) -> x509.Certificate:
    called = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    age = min(SERVER_AGE, authority.not_valid_after_utc - now)
    by = x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key())
    return (
        _begun(called, authority.subject, own.public_key(), now, age)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(n) for n in names]), critical=False)
        .add_extension(by, critical=False)
        .sign(key, hashes.SHA256())
    )


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime,
    age: timedelta,
) -> x509.CertificateBuilder:  # fmt: skip
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - EARLIER)
        .not_valid_after(now + age)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _usage(*, digital_signature: bool = False, key_cert_sign: bool = False) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=digital_signature,
        key_cert_sign=key_cert_sign,
        crl_sign=key_cert_sign,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _called(names: Sequence[str]) -> str:
    """What phones list an authority as; a common name has at most 64 characters (RFC 5280)."""
    return f"Clothcast at {names[0]}"[:64]


# ---- names ---------------------------------------------------------------------------------------


def _plain(name: str) -> str:
    """A name as certificates have it; raises BadSettings for what is none."""
    text = name.strip().lower().rstrip(".")
    try:
        return str(ipaddress.ip_address(text.removeprefix("[").removesuffix("]")))
    except ValueError:
        pass
    if not _HOST_NAME.fullmatch(text) or text.rpartition(".")[2].isdigit():
        raise BadSettings(
            f"“{name}” is no name of a server. Give a host name in plain letters, as "
            "wash.example, or an address, as 192.168.1.20, without https:// and port."
        )
    return text


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _subtree(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_network(name))
    except ValueError:
        return x509.DNSName(name)


def _permitted(authority: x509.Certificate) -> tuple[str, ...]:
    """The names that an authority of ours may vouch for."""
    try:
        said = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    except x509.ExtensionNotFound:
        return ()
    return tuple(
        str(tree.value.network_address)
        if isinstance(tree, x509.IPAddress) and not isinstance(tree.value, _ADDRESSES)
        else str(tree.value)
        for tree in said.permitted_subtrees or ()
    )


_ADDRESSES = (ipaddress.IPv4Address, ipaddress.IPv6Address)


def _joined(names: Sequence[str]) -> str:
    return ", ".join(names) or "nothing"


# ---- whether one can be served with --------------------------------------------------------------


def served_by(settings: Settings) -> ServedBy | None:
    """The certificate that the settings name; None where they name none.

    Raises:
        BadSettings: if it can't be served with, or one of its two files is not named.
    """
    if settings.certificate is None and settings.key is None:
        return None
    if settings.certificate is None or settings.key is None:
        raise BadSettings(
            "A certificate and its key go together: give both --certificate and --key, or neither."
        )
    return usable(settings.certificate, settings.key, settings.clock())


def usable(certificate: Path, key: Path, now: datetime) -> ServedBy:
    """A certificate and its key as they can be served with.

    Raises:
        BadSettings: with what is wrong with them, and what would be right.
    """
    found = _read_certificate(certificate)
    _check_dates(found, certificate, now, "clothcast certificate makes another")
    names = _names_of(found)
    if not names:
        raise BadSettings(
            f"The certificate {certificate} is for no name that a browser would look at: have one "
            "made with subject alternative names."
        )
    _check_key(key)
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key)
    except ssl.SSLError as fault:
        raise BadSettings(
            f"The key {key} does not belong to the certificate {certificate}: give the two files "
            "that were made together."
        ) from fault
    return ServedBy(certificate, key, names, found.not_valid_after_utc)


def _names_of(certificate: x509.Certificate) -> tuple[str, ...]:
    try:
        said = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return ()
    hosts = said.get_values_for_type(x509.DNSName)
    return (*hosts, *map(str, said.get_values_for_type(x509.IPAddress)))


def _check_dates(certificate: x509.Certificate, path: Path, now: datetime, remedy: str) -> None:
    first, last = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if now > last:
        raise BadSettings(f"The certificate {path} ended on {last:%Y-%m-%d}: {remedy}.")
    if now < first:
        raise BadSettings(
            f"The certificate {path} holds only from {first:%Y-%m-%d} on: see that the clock of "
            "this machine is right, or wait."
        )


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as fault:
        reason = (fault.strerror or str(fault)).lower()
        raise BadSettings(f"The {what} {path} can't be read ({reason}).") from fault


def _read_certificate(path: Path) -> x509.Certificate:
    """The first certificate of a file."""
    held = _read(path, "certificate")
    try:
        return x509.load_pem_x509_certificate(held)
    except ValueError as fault:
        raise BadSettings(
            f"The file {path} is no certificate: give one that begins with -----BEGIN CERTIFICATE."
        ) from fault


def _check_key(path: Path) -> None:
    held = _read(path, "key")
    try:
        load_pem_private_key(held, password=None)
    except TypeError as fault:
        raise BadSettings(
            f"The key {path} is locked with a password: a server that starts by itself needs one "
            "that is not."
        ) from fault
    except ValueError as fault:
        raise BadSettings(
            f"The file {path} is no private key: give one that begins with -----BEGIN."
        ) from fault


def _read_key(path: Path) -> ec.EllipticCurvePrivateKey:
    """The key of our own authority."""
    _check_key(path)
    key = load_pem_private_key(_read(path, "key"), password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise BadSettings(f"The key {path} is none that Clothcast made: move it away.")
    return key


# ---- files ---------------------------------------------------------------------------------------


def _keep_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    """Keep a key for its owner only."""
    _keep(path, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)


def _keep(path: Path, content: bytes, mode: int) -> None:
    """Write a file whole or not at all, in place of the one there."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")  # made with mode 600
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(mode)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)
