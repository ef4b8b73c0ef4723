"""Settings of the program: the only reader of the environment and of the clock."""

from __future__ import annotations

import os
import secrets
import socket
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import Field, SecretStr, ValidationError
from pydantic_core import ErrorDetails
from pydantic_settings import BaseSettings, SettingsConfigDict

PREFIX = "CLOTHCAST_"
FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Years that may be taken for today's."""
CHECKOUT = Path(__file__).resolve().parents[1]
VERSION = "0.1.0"
"""Of this Clothcast, as pyproject.toml has it."""
DATABASE_NAME = "clothcast.sqlite3"
HTTPS_FOLDER, AUTHORITY = "https", "authority.crt"
EVERY_ADDRESS = ("0.0.0.0", "::")  # noqa: S104 - what stands for all addresses, listened to if asked
LEAST_SECRET = 16
"""Characters of a secret."""
SECRET_FILE = "secret"  # noqa: S105 - the name of a file
FIXED_TIME = time(12, tzinfo=UTC)
"""Time of day that goes with a fixed `Settings.today`, so that what is shown repeats exactly."""


class BadSettings(ValueError):
    """Settings that cannot be used; the text has one sentence a setting."""


def _spare_cores() -> int:
    return max(1, (os.cpu_count() or 2) - 1)


class Settings(BaseSettings):
    """What the environment decides; every name is read with the prefix ``CLOTHCAST_``.

    Attributes:
        data_dir: folder of the database and of the secret, made when first needed.
        host: address that the pages are served at.
        port: port that the pages are served at, 0 to 65535; 0 takes a free one.
        today: the day that the program takes for today; None asks the system's clock.
        secret: signs cookies; None takes the one that is kept in `data_dir`.
        certificate, key: files of a certificate and its key, by which the pages are served by
            HTTPS; None of both serves them by HTTP.
        links_only: whether a request from another machine needs the link of a phone.
        sign_in: whether people sign in; else a browser on this machine is a manager, and another
            machine needs a link, as in the demo.
        workers: processes for long runs, 1 to 64; all cores but one unless told, and
            at least two where no page waits beside them.
        log_json: whether a server writes its log, a JSON object a line, to the error output.
        ahead_s: processor seconds a day for answers that nobody has asked for yet, 0 to 86,400; 0
            works nothing out ahead. The default, an hour, is a guess.
    """

    model_config = SettingsConfigDict(env_prefix=PREFIX, frozen=True, extra="forbid")

    data_dir: Path = CHECKOUT / "data"
    host: str = Field("127.0.0.1", min_length=1)
    port: int = Field(8000, ge=0, le=65535)
    today: date | None = Field(None, ge=date(FIRST_YEAR, 1, 1), le=date(LAST_YEAR, 12, 31))
    secret: SecretStr | None = Field(None, min_length=LEAST_SECRET)
    certificate: Path | None = None
    key: Path | None = None
    links_only: bool = False
    sign_in: bool = True
    log_json: bool = False
    workers: int = Field(default_factory=_spare_cores, ge=1, le=64)
    ahead_s: float = Field(3_600.0, ge=0.0, le=86_400.0)

    @property
    def is_open(self) -> bool:
        """Whether the pages are served at every address of the machine."""
        return self.host in EVERY_ADDRESS

    def own_name(self) -> str:
        """The name of this machine."""
        return socket.gethostname()

    @property
    def workers_apart(self) -> int:
        """Processes of a command, and of what computes for a server and stands back behind it: as
        told, else two at least."""
        return self.workers if "workers" in self.model_fields_set else max(2, self.workers)

    @property
    def database_path(self) -> Path:
        """The file of the database."""
        return self.data_dir / DATABASE_NAME

    @property
    def https_dir(self) -> Path:
        """The folder of the authority and the certificates that are made here."""
        return self.data_dir / HTTPS_FOLDER

    @property
    def authority(self) -> Path:
        """The file of the authority's certificate, which phones are given; there may be none."""
        return self.https_dir / AUTHORITY

    def now(self) -> datetime:
        """The moment, with its time zone; noon UTC of `today` if that is fixed."""
        if self.today is not None:
            return datetime.combine(self.today, FIXED_TIME)
        return datetime.now(UTC)

    def clock(self) -> datetime:
        """The moment by the machine's own clock even where `today` is fixed: for leases and for
        how long something takes."""
        return datetime.now(UTC)

    def today_at(self, timezone: str, stands_on: date | None = None) -> date:
        """The date in a time zone by its IANA name, unless it always is one day at the place."""
        if self.today is not None:
            return self.today
        return stands_on or self.now().astimezone(ZoneInfo(timezone)).date()

    def secret_key(self) -> str:
        """The secret that signs cookies, made once and kept in `data_dir` for its owner only.

        Raises:
            BadSettings: if it can be neither read nor kept.
        """
        if self.secret is not None:
            return self.secret.get_secret_value()
        path = self.data_dir / SECRET_FILE
        try:
            if not path.exists():
                self.data_dir.mkdir(parents=True, exist_ok=True)
                _keep_once(path, secrets.token_urlsafe(48))
            kept = path.read_text(encoding="ascii").strip()
        except (OSError, UnicodeDecodeError) as fault:
            reason = getattr(fault, "strerror", None) or "it is no text"
            raise BadSettings(f"The secret {path} cannot be read or kept: {reason}.") from fault
        if len(kept) < LEAST_SECRET:
            raise BadSettings(
                f"The secret {path} has {len(kept)} characters, which anybody could guess: remove "
                "the file, and a new one is made; pages that are open must then be loaded again."
            )
        return kept


def _keep_once(path: Path, text: str) -> None:
    """Write a file whole or not at all; one that is already there stays as it is."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".secret-")  # made with mode 600
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileExistsError):  # another process was first; its secret counts
            path.hardlink_to(name)
        _sync_folder(path.parent)
    finally:
        Path(name).unlink()


def _sync_folder(folder: Path) -> None:
    """Have the names of a folder on the disk, so that a power cut takes none of them away."""
    if os.name != "posix":
        return  # elsewhere a folder can't be opened
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def read_settings(**given: object) -> Settings:
    """The settings of the environment, those `given` by name (command line, tests) on top.

    Raises:
        BadSettings: naming every setting that is unknown or cannot be used.
    """
    faults = [
        f"{name} is not a setting; there are {_named(Settings.model_fields)}."
        for name in sorted(os.environ)
        if name.startswith(PREFIX)
        and name.removeprefix(PREFIX).lower() not in Settings.model_fields
    ]
    try:
        settings = Settings.model_validate(given)
    except ValidationError as fault:
        faults += [
            f"{PREFIX}{'.'.join(str(part) for part in row['loc']).upper()}"
            f" cannot be “{_shown(row)}”: {row['msg'][:1].lower()}{row['msg'][1:]}."
            for row in fault.errors()
        ]
        raise BadSettings(" ".join(faults)) from None
    if faults:
        raise BadSettings(" ".join(faults))
    return settings


def _shown(row: ErrorDetails) -> object:
    return "…" if "secret" in row["loc"] else row["input"]


def _named(names: Iterable[str]) -> str:
    return ", ".join(f"{PREFIX}{name.upper()}" for name in names)
