"""Makes the archive of a release: `make release`.

The tracked files of the checkout in one tar.gz, with their SHA-256 beside it. The same tree makes
the same bytes: files stand in order, belong to nobody, and are of the day that the release has in
CHANGELOG.md. A tree that differs from its commit, or whose version is not the same everywhere, is
refused.
"""

import argparse
import gzip
import hashlib
import io
import re
import subprocess
import sys
import tarfile
import tomllib
from datetime import datetime, timezone
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAD = re.compile(r"^## (\S+), (\d{4}-\d{2}-\d{2})$", re.MULTILINE)


class Refused(Exception):
    """A sentence for whoever typed make."""


def git(root, *words):
    """What git says of a checkout."""
    try:
        command = ["git", "-C", str(root), *words]  # by the name that it has on the path
        done = subprocess.run(command, capture_output=True, check=False)
    except FileNotFoundError:
        raise Refused("A release is made with git, which is not installed here.") from None
    if done.returncode:
        raise Refused(done.stderr.decode().strip())
    return done.stdout.decode()


def tracked(root):
    """The files of a checkout that stands as it was committed, in order."""
    changed = git(root, "status", "--porcelain")
    if changed:
        raise Refused("A release is made of what was committed, and this is not:\n" + changed)
    return sorted(name for name in git(root, "ls-files", "-z").split("\0") if name)


def release_of(root):
    """Version and day of a checkout's release, held against each other."""
    version = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    found = HEAD.search((root / "CHANGELOG.md").read_text("utf-8"))
    if found is None or found[1] != version:
        told = "none" if found is None else found[1]
        raise Refused(
            f"pyproject.toml has version {version}, the newest release of CHANGELOG.md is {told}: "
            f"its head is to be “## {version}, ” and the day, as 2026-12-01."
        )
    day = datetime.strptime(found[2], "%Y-%m-%d").replace(tzinfo=timezone.utc)
    return version, int(day.timestamp())


def archive(root, names, folder, moment):
    """The bytes of the archive: files by name under a folder, all of one moment."""
    inside = io.BytesIO()
    with tarfile.open(fileobj=inside, mode="w", format=tarfile.PAX_FORMAT) as tar:
        for name in names:
            path = root / name
            one = tarfile.TarInfo(f"{folder}/{name}")
            content = path.read_bytes()
            one.size, one.mtime = len(content), moment
            one.mode = 0o755 if path.stat().st_mode & 0o100 else 0o644
            tar.addfile(one, io.BytesIO(content))
    return gzip.compress(inside.getvalue(), mtime=moment)


def main(arguments=None):
    """Makes the archive and says where it lies."""
    parser = argparse.ArgumentParser(description="Make the archive of a release.")
    parser.add_argument("--root", type=Path, default=ROOT, help="the checkout")
    parser.add_argument("--into", type=Path, help="folder of the archive (default: dist)")
    parsed = parser.parse_args(arguments)
    root, into = parsed.root, parsed.into or parsed.root / "dist"
    try:
        version, moment = release_of(root)
        made = archive(root, tracked(root), f"clothcast-{version}", moment)
    except Refused as fault:
        print(fault, file=sys.stderr)
        return 1
    into.mkdir(parents=True, exist_ok=True)
    target = into / f"clothcast-{version}.tar.gz"
    target.write_bytes(made)
    sums = f"{hashlib.sha256(made).hexdigest()}  {target.name}\n"
    (into / f"{target.name}.sha256").write_text(sums, "ascii")
    print(f"{target} ({len(made) / 1e6:.1f} MB), its SHA-256 beside it.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
