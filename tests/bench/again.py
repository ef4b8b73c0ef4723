"""Figures of a server that is killed while people note things and it computes: when the next one is
ready, and whether each entry that was acknowledged is there."""

from __future__ import annotations

import http.client
import json
import os
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path
from subprocess import Popen

from app.db.session import open_database
from app.settings import read_settings
from app.sites.demo import demo_days
from app.sites.reading import whole_log_of
from tests.bench.crowd import AHEAD_S, UNDER_WAY, Person
from tests.bench.figures import Figure
from tests.bench.starting import GAP_S, LONG_S, PATIENCE_S, begun
from tests.demo_app import demo_client, store_comparison

KILLS, NOTING = 5, 8
"""How often a server is killed, and how many people note things meanwhile, one after the other."""
NOTED = 20
"""Acknowledged entries after which it is killed, in the middle of the next ones."""
TICKS = os.sysconf("SC_CLK_TCK")


def again_figures() -> list[Figure]:
    """Times from the start of `clothcast serve` after a kill to the first 200 of `/health/ready`.

    Raises:
        RuntimeError: if an acknowledged entry is not there, or a server does not get ready.
    """
    acknowledged: list[str] = []
    took_s, used_s = [], []
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            stored = store_comparison(client, demo_days()["humid_peak"])
        slug = stored.split("/")[1]
        server, port = begun(Path(folder), AHEAD_S)
        try:
            _until_ready(server, port)
            for kill in range(KILLS):
                acknowledged += _noted_until_killed(server, port, slug, kill)
                start = time.perf_counter()
                server, port = begun(Path(folder), AHEAD_S)
                _until_ready(server, port)
                took_s.append(time.perf_counter() - start)
                used_s.append(_processor_s(server.pid))
        finally:
            server.kill()
            server.wait()
        database = open_database(read_settings(data_dir=Path(folder)).database_path)
        lost = set(acknowledged) - {entry.key for entry in whole_log_of(database, 1)}
        database.close()
    if lost:
        raise RuntimeError(f"entries that were acknowledged are not there: {sorted(lost)}")
    return [
        Figure("killed with work going on: ready again, longest of five", max(took_s), "s", 3.0),
        Figure("… processor time of the server until then, longest of five", max(used_s), "s"),
        Figure("… entries acknowledged before, all of them there", float(len(acknowledged)), ""),
    ]


def _noted_until_killed(server: Popen[bytes], port: int, slug: str, kill: int) -> list[str]:
    """Keys of entries that people got acknowledged before their server was killed with work ahead
    under way."""
    found: list[str] = []
    enough, is_over = threading.Event(), threading.Event()
    Person(port).waits_for(f"/{slug}/studies", UNDER_WAY)

    def notes(who: int) -> None:
        person, number = Person(port), 0
        with suppress(OSError, http.client.HTTPException):
            token = json.loads(person.opens(f"/{slug}/logbook/token")[0])["token"]
            while not is_over.is_set():
                key, number = f"kill-{kill}-{who}-{number}", number + 1
                pairs = {"key": key, "request_key": key, "kind": "note", "text": key}
                moment_ms = round(time.time() * 1e3)
                entry = {"id": key, "at_ms": moment_ms, "pairs": list(pairs.items())}
                body = {"sent_ms": moment_ms, "entries": [entry]}
                told = json.loads(person.sends(f"/{slug}/logbook/send", body, token)[0])
                if told["entries"][0]["state"] == "arrived":
                    found.append(key)
                if len(found) >= NOTED:
                    enough.set()

    people = [threading.Thread(target=notes, args=(who,)) for who in range(NOTING)]
    for one in people:
        one.start()
    is_enough = enough.wait(LONG_S)
    server.kill()
    server.wait()
    is_over.set()
    for one in people:
        one.join()
    if not is_enough:
        raise RuntimeError(f"only {len(found)} entries arrived")
    return found


def _until_ready(server: Popen[bytes], port: int) -> None:
    start = time.perf_counter()
    while not _is_ready(port):
        if time.perf_counter() - start > PATIENCE_S or server.poll() is not None:
            raise RuntimeError("the server does not get ready")
        time.sleep(GAP_S)  # a server tells nobody when it listens


def _is_ready(port: int) -> bool:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        line.request("GET", "/health/ready")
        return line.getresponse().status == 200
    except ConnectionRefusedError:
        return False
    finally:
        line.close()


def _processor_s(pid: int) -> float:
    """Processor time that a process took so far, of itself alone [s] (proc_pid_stat(5))."""
    parts = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / TICKS
