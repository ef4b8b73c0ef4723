"""The browser of the browser tests: one that is installed, or Debian's, installed as root.

Playwright's own download is not used: it cannot be had everywhere. `python -m tests.chromium`
makes sure that there is one, or stops with a sentence that names the package.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

NAMES = ("chromium", "chromium-browser", "google-chrome", "/usr/bin/chromium")
PACKAGES = ("chromium", "fonts-dejavu-core")  # without a font, pages have no readable text
FLAGS = (
    "--no-sandbox",  # root, as on a build server, gets no sandbox; only our own pages are opened
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
MISSING = (
    "The browser tests need Chromium: install the package `chromium` (Debian: apt-get install "
    "chromium), or run `make test NO_BROWSER=1` to go on without them."
)


def is_left_out() -> bool:
    """Whether NO_BROWSER=1 asks to go on without browser tests."""
    return os.environ.get("NO_BROWSER", "") not in ("", "0")


def find() -> str | None:
    """The path of an installed Chromium, or None."""
    return next((path for path in map(shutil.which, NAMES) if path), None)


def install() -> None:
    """Installs Debian's Chromium where this may be done; otherwise does nothing."""
    if not shutil.which("apt-get") or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return
    print("Installing Debian's chromium for the browser tests", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    get = ["apt-get", "-qq", "-o", "Dpkg::Use-Pty=0"]
    subprocess.run([*get, "update"], env=quiet, check=False, stdout=subprocess.DEVNULL)
    subprocess.run(
        [*get, "install", "-y", "--no-install-recommends", *PACKAGES],
        env=quiet,
        check=False,
        stdout=subprocess.DEVNULL,
    )


def main() -> int:
    """Exit code 0 when browser tests can run or are left out by choice."""
    if is_left_out() or find():
        return 0
    install()
    if find():
        return 0
    print(MISSING, file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
