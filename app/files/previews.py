"""What files that wait would bring, kept in memory from their reading to their confirmation."""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from app.files.hourly_files import CountsPreview, WeatherPreview, read_counts, read_weather
from app.files.uploads import Pending
from sim.inputs import Site

Preview = CountsPreview | WeatherPreview
MOST_KEPT = 3
"""Previews kept at most; one of the longest file takes some 40 MB. The oldest go first."""


@dataclass(frozen=True, slots=True)
class WaitingFile:
    """A file that waits, with its content."""

    pending: Pending
    raw: bytes


def read_file(
    file: WaitingFile, site: Site, told: Callable[[int], None] = lambda line: None
) -> Preview:
    """What a file would bring to a site; `told` hears of the lines that were reached."""
    pending = file.pending
    if pending.kind == "weather":
        pressure_pa = site.drying.pressure_pa
        return read_weather(file.raw, site.timezone, pressure_pa, pending.name, told)
    line, counted = site.line, pending.counted or None
    return read_counts(
        file.raw, site.timezone, line.open_h, line.close_h, counted, pending.name, told
    )


class FilePreviews:
    """Previews by the key of their reading, and which file each site asked for last."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Preview] = OrderedDict()
        self._asked: dict[int, WaitingFile] = {}
        self._gone: Counter[str] = Counter()

    def keep(self, key: str, preview: Preview) -> None:
        """Keep what a reading found; too many, and the oldest are forgotten."""
        with self._lock:
            self._kept[key] = preview
            while len(self._kept) > MOST_KEPT:
                forgotten, _preview = self._kept.popitem(last=False)
                self._gone[forgotten] += 1

    def drop(self, key: str, site_id: int) -> None:
        """Forget a reading whose file was stored or let go."""
        with self._lock:
            self._kept.pop(key, None)
            self._asked.pop(site_id, None)

    def find(self, key: str) -> Preview | None:
        """What a reading found; None if it was not made, or is forgotten."""
        with self._lock:
            return self._kept.get(key)

    def times_forgotten(self, key: str) -> int:
        """How often what a reading found was forgotten, so that it is made anew."""
        with self._lock:
            return self._gone[key]

    def ask(self, site_id: int, file: WaitingFile) -> None:
        """Remember the file that a site asked for last."""
        with self._lock:
            self._asked[site_id] = file

    def asked(self, site_id: int) -> WaitingFile | None:
        """The file that a site asked for last; None for none."""
        with self._lock:
            return self._asked.get(site_id)
