# -*- coding: utf-8 -*-
"""Makes the environment in .venv from the lock files; run by make through .ci/setup.

Written so that even old interpreters can read it: they have to get as far as saying that they
are too old. Hence no f-strings, no annotations, and the standard library alone.
"""

from __future__ import print_function

import os
import shutil
import subprocess
import sys
import tempfile

NEEDED = (3, 11)
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
SCRIPTS = os.path.join(VENV, "Scripts" if os.name == "nt" else "bin")
PYTHON = os.path.join(SCRIPTS, "python")
BUILD_LOCK = "requirements-build.lock"
LOCKS = {"runtime": "requirements.lock", "test": "requirements-test.lock"}
NO_NETWORK = (
    "Connection refused",
    "ConnectTimeoutError",
    "Failed to establish a new connection",
    "Name or service not known",
    "NameResolutionError",
    "Network is unreachable",
    "NewConnectionError",
    "ProxyError",
    "ReadTimeoutError",
    "Temporary failure in name resolution",
)


def stop(sentence):
    """Ends with one sentence for whoever typed make."""
    sys.stderr.write(sentence + "\n")
    sys.exit(1)


def is_new_enough(version):
    """Whether an interpreter of this version can run Clothcast."""
    return tuple(version[:2]) >= NEEDED


def check_folder():
    """Stops where nothing can be written; tried, since root passes every permission check."""
    try:
        handle, path = tempfile.mkstemp(prefix=".write-test-", dir=ROOT)
        os.close(handle)
        os.remove(path)
    except (IOError, OSError) as fault:
        stop(
            "Clothcast cannot write in its own folder %s (%s): move the folder to where you may "
            "write, or change its permissions." % (ROOT, fault.strerror)
        )


def has_usable_environment():
    """Whether .venv holds a Python that starts and is new enough."""
    code = "import sys; sys.exit(sys.version_info[:2] < %r)" % (NEEDED,)
    try:
        return subprocess.call([PYTHON, "-c", code], stderr=subprocess.DEVNULL) == 0
    except (IOError, OSError):
        return False


def make_environment():
    """An empty environment in .venv, unless a usable one is there."""
    if has_usable_environment():
        return
    print("Making a Python environment in .venv", flush=True)
    shutil.rmtree(VENV, ignore_errors=True)
    made = subprocess.run(
        [sys.executable, "-m", "venv", VENV],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        universal_newlines=True,
    )
    if made.returncode:
        shutil.rmtree(VENV, ignore_errors=True)
        if "ensurepip" in made.stdout:
            stop(
                "This Python (%s) lacks its venv module: install it (Debian: apt-get install "
                "python3-venv) and run make again." % sys.executable
            )
        stop("Making .venv failed: %s" % last_line(made.stdout))


def last_line(output):
    """The last line that says something, errors first."""
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR")]
    return (errors or lines or ["no message"])[-1]


def pip(*arguments):
    """Runs pip in the environment; a failure ends in one sentence, its log kept beside."""
    command = [PYTHON, "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
    done = subprocess.run(
        command + ["--retries", "2"] + list(arguments),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        universal_newlines=True,
    )
    if done.returncode == 0:
        return
    if any(sign in done.stdout for sign in NO_NETWORK):
        stop(
            "The Python package index could not be reached: connect this machine to a network "
            "(or set PIP_INDEX_URL to an index that you can reach) and run make again."
        )
    log = os.path.join(VENV, "setup.log")
    with open(log, "w") as out:
        out.write(done.stdout)
    stop("Installing failed, see .venv/setup.log: %s" % last_line(done.stdout))


def install(what):
    """Installs everything `what` needs, each file checked against its hash in the lock."""
    print("Installing what %s needs (some minutes the first time)" % what, flush=True)
    # Some packages exist as source alone. The tools that build them are installed first, by hash;
    # then nothing is built in isolation, which would fetch those tools once more without one.
    if what == "runtime":
        pip("--require-hashes", "--only-binary", ":all:", "-r", BUILD_LOCK)
    pip("--require-hashes", "--no-build-isolation", "-r", LOCKS[what])
    if what == "runtime":
        pip("--no-deps", "--no-build-isolation", "--editable", ".")
    with open(os.path.join(VENV, what + ".stamp"), "w") as stamp:
        stamp.write(LOCKS[what] + "\n")


def main(arguments):
    """`new-enough` answers by exit code; `runtime` and `test` make and fill the environment."""
    if arguments == ["new-enough"]:
        sys.exit(not is_new_enough(sys.version_info))
    if not is_new_enough(sys.version_info):
        stop(
            "Clothcast needs Python 3.11 or newer; %s is %d.%d. Install a newer one, or name it "
            "with PYTHON=…, as in `make demo PYTHON=python3.12`."
            % ((sys.executable,) + tuple(sys.version_info[:2]))
        )
    if len(arguments) != 1 or arguments[0] not in LOCKS:
        stop("usage: .ci/setup runtime|test")
    check_folder()
    make_environment()
    install(arguments[0])


if __name__ == "__main__":
    main(sys.argv[1:])
