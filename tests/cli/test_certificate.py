"""The command that makes certificates, and what serving refuses; OpenSSL, by Python's own `ssl`, is
the judge of what a phone would trust."""

from __future__ import annotations

import datetime
import ipaddress
import ssl
import stat
from dataclasses import dataclass
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import NameOID

from app.certificates import AUTHORITY_KEY, SERVER, SERVER_KEY, issue, served_by, usable
from app.settings import BadSettings, Settings, read_settings
from tests.cli.shell import Shell

NAMES = ("wash.example", "192.168.1.20")
NOW = datetime.datetime.now(datetime.UTC).replace(microsecond=0)
"""OpenSSL goes by the machine's clock, so what it judges has to be made by that."""


@dataclass
class Kept:
    """A data folder with a certificate for `NAMES`."""

    settings: Settings

    @property
    def certificate(self) -> Path:
        """The server's certificate."""
        return self.settings.https_dir / SERVER

    @property
    def key(self) -> Path:
        """Its key."""
        return self.settings.https_dir / SERVER_KEY


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    """A certificate made just now."""
    settings = read_settings(data_dir=tmp_path / "data")
    issue(settings, NAMES, NOW)
    return Kept(settings)


def shake_hands(kept: Kept, name: str) -> str:
    """What a client that trusts the authority alone finds wrong with the server under a name; empty
    for nothing. Both ends are OpenSSL's, joined in memory."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(kept.certificate, kept.key)
    client = ssl.create_default_context(cafile=str(kept.settings.authority))
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    asking = client.wrap_bio(to_client, to_server, server_hostname=name)
    answering = server.wrap_bio(to_server, to_client, server_side=True)
    for _turn in range(4):
        for end in (asking, answering):
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                continue
            except ssl.SSLCertVerificationError as fault:
                return fault.verify_message
    assert asking.version() is not None
    return ""


@pytest.mark.parametrize("name", [*NAMES, "localhost", "127.0.0.1"])
def test_who_trusts_the_authority_trusts_the_server(kept: Kept, name: str) -> None:
    """Under every name that was given, and the machine's own, OpenSSL has nothing against it."""
    assert shake_hands(kept, name) == ""


@pytest.mark.parametrize("name", ["other.example", "192.168.1.21"])
def test_under_another_name_nobody_does(kept: Kept, name: str) -> None:
    """A name that was not given is refused."""
    assert "mismatch" in shake_hands(kept, name)


def test_the_authority_vouches_for_nothing_else(kept: Kept) -> None:
    """A certificate for another site, made with the authority's very key, is refused: name
    constraints (RFC 5280 section 4.2.1.10)."""
    folder = kept.settings.https_dir
    authority = x509.load_pem_x509_certificate(kept.settings.authority.read_bytes())
    key = load_pem_private_key((folder / AUTHORITY_KEY).read_bytes(), None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    for name in (x509.DNSName("bank.example"), x509.IPAddress(ipaddress.ip_address("10.0.0.1"))):
        own = ec.generate_private_key(ec.SECP256R1())
        forged = (
            x509.CertificateBuilder()
            .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "forged")]))
            .issuer_name(authority.subject)
            .public_key(own.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(NOW - datetime.timedelta(days=1))
            .not_valid_after(NOW + datetime.timedelta(days=9))
            .add_extension(x509.SubjectAlternativeName([name]), critical=False)
            .sign(key, hashes.SHA256())
        )
        kept.certificate.write_bytes(forged.public_bytes(Encoding.PEM))
        kept.key.write_bytes(written(own))
        assert "permitted subtree violation" in shake_hands(kept, str(name.value))


def written(key: ec.EllipticCurvePrivateKey, password: bytes = b"") -> bytes:
    """A key as a file has it, locked with a password if there is one."""
    lock = BestAvailableEncryption(password) if password else NoEncryption()
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock)


def test_it_lasts_as_long_as_browsers_take(kept: Kept) -> None:
    """From first to last moment 398 days at most, the limit that public authorities had (CA/Browser
    Forum, Baseline Requirements, section 6.3.2, 2020 to 2025; from memory)."""
    made = x509.load_pem_x509_certificate(kept.certificate.read_bytes())
    span = made.not_valid_after_utc - made.not_valid_before_utc
    assert span <= datetime.timedelta(days=398)
    assert made.not_valid_after_utc > NOW + datetime.timedelta(days=365)


def test_keys_are_their_owners_alone(kept: Kept) -> None:
    """Nobody else can read a key; certificates are no secret."""
    folder = kept.settings.https_dir
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()}
    assert modes == {
        "authority.crt": 0o644, "authority.key": 0o600, "server.crt": 0o644, "server.key": 0o600,
    }  # fmt: skip


def test_keys_have_128_bits(kept: Kept) -> None:
    """Authority and server have keys on a curve of 256 bits, which stands for 128 bits of security
    (NIST SP 800-57 part 1, table 2, from memory), and sign by SHA-256."""
    for path in (kept.certificate, kept.settings.authority):
        one = x509.load_pem_x509_certificates(path.read_bytes())[0]
        key = one.public_key()
        assert isinstance(key, ec.EllipticCurvePublicKey)
        assert key.curve.key_size >= 256
        assert isinstance(one.signature_hash_algorithm, hashes.SHA256)


def test_the_next_certificate_is_of_the_same_authority(kept: Kept) -> None:
    """Made again, phones need nothing new; another name is refused until another authority is asked
    for, and a host name that is none at all times."""
    before = kept.settings.authority.read_bytes()
    again = issue(kept.settings, ["wash.example"], NOW)
    assert (again.is_new, kept.settings.authority.read_bytes()) == (False, before)
    assert again.served.names == ("wash.example", "localhost", "127.0.0.1")
    assert shake_hands(kept, "wash.example") == ""
    with pytest.raises(BadSettings, match=r"vouches for .* alone, not for other.example"):
        issue(kept.settings, ["other.example"], NOW)
    anew = issue(kept.settings, ["other.example"], NOW, anew=True)
    assert anew.is_new
    assert kept.settings.authority.read_bytes() != before
    assert shake_hands(kept, "other.example") == ""
    for name in ("https://wash.example", "a b", "-x", "1.2.3", ""):
        with pytest.raises(BadSettings, match="is no name of a server"):
            issue(kept.settings, [name], NOW)


def test_what_can_not_be_served_with_is_told(kept: Kept, tmp_path: Path) -> None:
    """Missing, unreadable, of another key, ended, not yet begun, without names: a sentence each."""
    there, key = kept.certificate, kept.key
    other, locked, junk = (tmp_path / name for name in ("other.key", "locked.key", "junk.pem"))
    other.write_bytes(written(ec.generate_private_key(ec.SECP256R1())))
    locked.write_bytes(written(ec.generate_private_key(ec.SECP256R1()), b"x"))
    junk.write_text("-----BEGIN nothing")
    year = datetime.timedelta(days=400)
    cases = [
        (tmp_path / "none.crt", key, NOW, r"none.crt can't be read \(no such file"),
        (there, tmp_path / "none.key", NOW, r"none.key can't be read \(no such file"),
        (tmp_path, key, NOW, r"can't be read \(is a directory"),
        (junk, key, NOW, "junk.pem is no certificate"),
        (there, junk, NOW, "junk.pem is no private key"),
        (there, locked, NOW, "locked with a password"),
        (there, other, NOW, "does not belong to the certificate"),
        (there, key, NOW + year, "ended on .* clothcast certificate makes another"),
        (there, key, NOW - year, "holds only from .* clock of this machine"),
        (kept.settings.authority, kept.settings.https_dir / AUTHORITY_KEY, NOW, "is for no name"),
    ]
    for certificate, its_key, now, said in cases:
        with pytest.raises(BadSettings, match=said):
            usable(certificate, its_key, now)


def test_one_file_alone_is_refused(kept: Kept) -> None:
    """A certificate needs its key; settings that name neither ask for none."""
    data_dir = kept.settings.data_dir
    for given in ({"certificate": kept.certificate}, {"key": kept.key}):
        with pytest.raises(BadSettings, match="go together"):
            served_by(read_settings(data_dir=data_dir, **given))
    assert served_by(kept.settings) is None


def test_the_command_says_what_to_do(shell: Shell) -> None:
    """The command prints how to serve, what phones have to trust, and says so differently the
    second time; a wrong name ends it with the reason."""
    code, out, err = shell.run("certificate", *NAMES)
    assert (code, err) == (0, "")
    assert "This certificate is for wash.example, localhost, 192.168.1.20, 127.0.0.1." in out
    assert "clothcast serve --host 0.0.0.0 --certificate" in out
    assert "Each phone has to trust this authority once" in out
    assert "need nothing new" in shell.run("certificate", *NAMES)[1]
    code, out, err = shell.run("certificate", "http://x")
    assert (code, out) == (1, "")
    assert "is no name of a server" in err
