"""Figures of a real server under load: fifty people log, five plan, the server works ahead.

Also a command of its own, as memory is told over half an hour: `python -m tests.bench.load 1800`.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from scipy.stats import linregress, t

from app.sites.demo import demo_days
from tests.bench.crowd import AHEAD_S, UNDER_WAY, Person
from tests.bench.figures import Figure, percentile, show
from tests.bench.starting import served
from tests.demo_app import demo_client, store_comparison

LOGGING, PLANNING = 50, 5
LASTS_S = 180.0
NOTES_S, LOOKS_S = 30.0, 5.0
"""How often each of the crew notes something and looks at the log after it, and how often a planner
looks at a stored page and moves a speed on it [s]."""
AT = "13:00"
"""The time of day that an invented site is asked for."""
MEMORY_S = 15.0
"""How often memory is looked at [s]."""
WARM = 1.0 / 3.0
"""Memory is held against what it was after so much of a short time, when all that is needed has
been loaded."""
SETTLED_S, LEAST_S = 300.0, 600.0
"""Where there are so many seconds more after the first of these, memory is called flat if the
straight line of least squares through its means by the minute rises by less than `FLAT` in ten
minutes. This was said before the first run that was looked at."""
FLAT, MINUTE_S = 1.0, 60.0
"""What is flat [%]."""
OWN = ("Pss_Anon:", "Pss_Shmem:")
"""Lines of `smaps_rollup` of what a process holds for itself (proc(5))."""


@dataclass(slots=True)
class Met:
    """What people met; each list takes from all of them."""

    pages: list[float] = field(default_factory=list)
    changes: list[float] = field(default_factory=list)
    entries: list[float] = field(default_factory=list)
    logs: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    memory: list[tuple[float, float]] = field(default_factory=list)


def load_figures(lasts_s: float = LASTS_S) -> list[Figure]:
    """A server of the demo, two processes of which compute, under load for so long [s]."""
    with tempfile.TemporaryDirectory() as folder:
        with demo_client(Path(folder)) as client:
            stored = store_comparison(client, demo_days()["humid_peak"])
        slug = stored.split("/")[1]
        with served(Path(folder), AHEAD_S) as port:
            Person(port).waits_for(f"/{slug}/studies", UNDER_WAY)
            met = under_load(port, slug, stored, lasts_s)
    for fault in sorted(set(met.faults)):
        sys.stderr.write(f"{fault}\n")
    return [
        Figure("fifty log and five plan: requests that failed", float(len(met.faults)), "", 0.0),
        Figure("… entries that arrived", float(len(met.entries)), ""),
        Figure("… stored page, p95", percentile(met.pages, 95) * 1e3, "ms", 250.0),
        Figure("… one input changed, p95", percentile(met.changes, 95) * 1e3, "ms"),
        Figure("… entry to its acknowledgement, p95", percentile(met.entries, 95) * 1e3, "ms"),
        Figure("… log with new advice, p95", percentile(met.logs, 95), "s"),
        *memory_figures(met.memory),
    ]


def memory_figures(seen: Sequence[tuple[float, float]]) -> list[Figure]:
    """How memory went.

    Args:
        seen: moments from the beginning [s] and memory then [MB].
    """
    settled = [(at, size) for at, size in seen if at >= SETTLED_S]
    if not settled or settled[-1][0] < SETTLED_S + LEAST_S:
        warm = seen[round(WARM * len(seen))][1]
        return [
            Figure("… memory at the end beside that after a third", seen[-1][1] / warm, "×", 1.1)
        ]
    minutes = defaultdict[int, list[float]](list)
    for at, size in settled:
        minutes[int(at // MINUTE_S)].append(size)
    means = [sum(sizes) / len(sizes) for sizes in minutes.values()]
    line = linregress(list(minutes), means)
    percent = 100.0 * 10.0 / (sum(means) / len(means))
    half = float(t.ppf(0.975, len(means) - 2)) * line.stderr * percent
    return [
        Figure("… memory, mean from the fifth minute on", sum(means) / len(means), "MB"),
        Figure("… its rise in ten minutes from then on", line.slope * percent, "%", FLAT),
        Figure("… half the 95 % interval of that rise", half, "%"),
    ]


def under_load(port: int, slug: str, stored: str, lasts_s: float) -> Met:
    """What fifty who log and five who plan meet within so long [s]."""
    met, ends = Met(), time.monotonic() + lasts_s
    acts: list[tuple[float, Callable[[int], None]]] = [(MEMORY_S, _memory_seen(met))]
    acts += [(NOTES_S, _crew(Person(port), slug, number, met)) for number in range(LOGGING)]
    acts += [(LOOKS_S, _planner(Person(port), stored, met)) for _ in range(PLANNING)]
    people = []
    for place, (every_s, act) in enumerate(acts):
        first_s = every_s * place / len(acts)  # nobody acts together with another one
        people.append(threading.Thread(target=_acts, args=(act, first_s, every_s, ends, met)))
        people[-1].start()
    for one in people:
        one.join()
    return met


def _acts(
    act: Callable[[int], None], first_s: float, every_s: float, ends: float, met: Met
) -> None:
    """Does something every so often until the end; a fault is told, and nothing stops for it."""
    due, number = time.monotonic() + first_s, 0
    while due < ends:
        time.sleep(max(0.0, due - time.monotonic()))  # as people do
        try:
            act(number)
        except (OSError, RuntimeError) as fault:
            met.faults.append(f"{type(fault).__name__}: {fault}")
        due, number = max(due + every_s, time.monotonic()), number + 1


def _crew(person: Person, slug: str, who: int, met: Met) -> Callable[[int], None]:
    """Sends an entry as a phone does, then looks at the log and at what is to be done now; each
    third one counts cars, from which new advice follows."""

    def act(number: int) -> None:
        token = json.loads(person.opens(f"/{slug}/logbook/token")[0])["token"]
        key, moment_ms = f"load-{who}-{number}", round(time.time() * 1e3)
        fields = {"key": key, "request_key": key, "kind": "note", "text": key, "at_s": AT}
        if number % 3 == 0:
            fields |= {"kind": "cars", "count": str(400 + number)}
        entry = {"id": key, "at_ms": moment_ms, "pairs": list(fields.items())}
        body = {"sent_ms": moment_ms, "entries": [entry]}
        told, took = person.sends(f"/{slug}/logbook/send", body, token)
        (outcome,) = json.loads(told)["entries"]
        if outcome["state"] != "arrived":
            raise RuntimeError(f"an entry was refused: {outcome['problem']}")
        met.entries.append(took)
        met.logs.append(person.opens(f"/{slug}/logbook?at={AT}")[1])

    return act


def _planner(person: Person, stored: str, met: Met) -> Callable[[int], None]:
    """Looks at a plan that is stored, and moves its speed."""

    def act(number: int) -> None:
        met.pages.append(person.opens(stored)[1])
        moved = f"scenario-tried.conveyor_speed_m_s={46 + 0.1 * (number % 40):.1f}"
        met.changes.append(person.opens(f"{stored}/change/figures?{moved}")[1])

    return act


def _memory_seen(met: Met) -> Callable[[int], None]:
    began = time.monotonic()
    return lambda _number: met.memory.append((time.monotonic() - began, memory_mb()))


def memory_mb() -> float:
    """Memory that the server and what it started hold for themselves, what they share among them
    counted once [MB]: not the libraries and files that they read, whose share falls and rises as
    other programs of the machine read the same."""
    parents, sizes = dict[int, int](), dict[int, float]()
    for found in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it has ended
            parents[int(found.name)] = int(
                (found / "stat").read_text().rsplit(")", 1)[1].split()[1]
            )
            lines = (found / "smaps_rollup").read_text().splitlines()
            sizes[int(found.name)] = sum(
                float(line.split()[1]) / 1e3 for line in lines if line.startswith(OWN)
            )
    ours = {os.getpid()}
    while more := {one for one, parent in parents.items() if parent in ours} - ours:
        ours |= more
    return sum(sizes.get(one, 0.0) for one in ours - {os.getpid()})


if __name__ == "__main__":
    show(load_figures(float(sys.argv[1]) if len(sys.argv) > 1 else LASTS_S))
