"""The calendar file against RFC 5545, Internet Calendaring and Scheduling, from memory.

§3.1: content lines end with CRLF, none is longer than 75 octets without its break, a folded line
goes on after one white-space character, and good writers cut no character in two. §3.3.5 and
§3.6.5: a local time carries a TZID that the file defines. §3.6.1, §3.8.4.7, §3.8.7.2: an event
has UID and DTSTAMP. §3.8.1.11, §3.8.7.4: STATUS and SEQUENCE. Dates of daylight saving in the
United States: Energy Policy Act of 2005, second Sunday of March to first Sunday of November.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar, Timezone

from app.db.store import CalendarEntry, Exported
from app.sites.calendar import calendar_file

NOW = datetime(2026, 10, 1, 12, tzinfo=UTC)
ZONE = "America/New_York"
LONG = "Tücher wechseln, vor der Öffnung; „gründlich“ " * 9


def entry(day: date, key: str = "laundry", start_s: float | None = 23_100.0) -> CalendarEntry:
    """A morning at 6:25, or a whole day."""
    return CalendarEntry(f"{key}-{day}", day, start_s, 35.0 if start_s else 0.0, "Cloth", LONG)


def written(*entries: CalendarEntry, zone: str = ZONE) -> bytes:
    """The file of new entries."""
    rows = [
        Exported(f"{at}@clothcast", one, at, at % 2 == 1, NOW) for at, one in enumerate(entries)
    ]
    return calendar_file(rows, "Hafenstraße: cloth", zone, date(2026, 10, 1))


def strictly(raw: bytes) -> Calendar:
    """Reads a file as a strict reader would: form first, then every component and its rules."""
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    lines = raw.split(b"\r\n")[:-1]
    assert max(len(line) for line in lines) <= 75
    for line in lines:
        line.decode("utf-8")  # no character is cut in two
    unfolded = raw.replace(b"\r\n ", b"").decode().splitlines()
    depth = 0
    for whole in unfolded:
        name, colon, _value = whole.partition(":")
        assert colon, whole
        assert name.partition(";")[0].replace("-", "").isalnum(), whole
        depth += {"BEGIN": 1, "END": -1}.get(name, 0)
        assert depth >= 0
    assert depth == 0
    found = Calendar.from_ical(raw)
    assert isinstance(found, Calendar)
    assert found.errors == []
    zones = {str(zone["tzid"]) for zone in found.walk("VTIMEZONE")}
    uids = []
    for event in found.walk("VEVENT"):
        assert event.errors == []
        for name in ("uid", "dtstamp", "dtstart", "sequence", "status"):
            assert name in event, name
        tzid = event["dtstart"].params.get("TZID")
        assert tzid is None or tzid in zones
        uids.append(str(event["uid"]))
    assert len(set(uids)) == len(uids)
    return found


def starts(found: Calendar) -> list[datetime | date]:
    """When each event begins."""
    return [event.decoded("dtstart") for event in found.walk("VEVENT")]


@pytest.mark.parametrize(
    ("change", "before_utc_h", "after_utc_h"),
    [(date(2026, 11, 1), 10, 11), (date(2027, 3, 14), 11, 10)],
)
def test_mornings_keep_their_clock_across_a_change(
    change: date, before_utc_h: int, after_utc_h: int
) -> None:
    """6:25 in New York stays 6:25 on the day before, the day of and the day after a change of
    clocks: 10:25 by universal time under daylight saving, else 11:25. The file's own rules of the
    zone say so too."""
    days = [change + timedelta(days=n) for n in (-1, 0, 1)]
    found = strictly(written(*(entry(day) for day in days)))
    moments = starts(found)
    for day, moment in zip(days, moments, strict=True):
        assert isinstance(moment, datetime)
        assert (moment.date(), moment.hour, moment.minute) == (day, 6, 25)
    hours = [m.astimezone(UTC).hour for m in moments if isinstance(m, datetime)]
    assert hours == [before_utc_h, after_utc_h, after_utc_h]
    told = found.walk("VTIMEZONE")[0]
    assert isinstance(told, Timezone)
    zone = told.to_tz(lookup_tzid=False)
    offsets = [
        datetime(day.year, day.month, day.day, 6, 25, tzinfo=zone).utcoffset() for day in days
    ]
    assert offsets == [timedelta(hours=6 - h) for h in hours]


def test_long_texts_are_folded_and_come_back() -> None:
    """A description of some four hundred characters, umlauts, commas, semicolons and quotation
    marks among them, comes back as it was from lines of at most 75 octets."""
    found = strictly(written(entry(date(2026, 10, 5))))
    assert str(found.walk("VEVENT")[0]["description"]) == LONG


def test_whole_days_are_dates() -> None:
    """An order is a date without a time, and ends with the day after, which is not part of it."""
    found = strictly(written(entry(date(2026, 10, 31), "order", None)))
    event = found.walk("VEVENT")[0]
    assert event.decoded("dtstart") == date(2026, 10, 31)
    assert event.decoded("dtend") == date(2026, 11, 1)


def test_cancelled_entries_say_so() -> None:
    """Number and status of each entry are written as they are kept."""
    found = strictly(written(entry(date(2026, 10, 5)), entry(date(2026, 10, 6))))
    told = [(int(str(e["sequence"])), str(e["status"])) for e in found.walk("VEVENT")]
    assert told == [(0, "CONFIRMED"), (1, "CANCELLED")]


def test_a_zone_without_daylight_saving() -> None:
    """In Phoenix 6:25 is 13:25 by universal time all year."""
    days = [date(2026, 10, 31), date(2026, 11, 2)]
    found = strictly(written(*(entry(day) for day in days), zone="America/Phoenix"))
    moments = [moment for moment in starts(found) if isinstance(moment, datetime)]
    assert [moment.astimezone(UTC).hour for moment in moments] == [13, 13]


def test_what_every_file_and_event_says() -> None:
    """§3.6, §3.7: version 2.0, a product and a method; §3.8: an event’s texts, what it does to its
    reader’s time, when it changed, and an end after its minutes."""
    row = Exported("1@clothcast", entry(date(2026, 10, 5)), 3, False, NOW)
    for is_busy, transp in ((False, "TRANSPARENT"), (True, "OPAQUE")):
        raw = calendar_file([row], "Cloth", ZONE, date(2026, 10, 1), is_busy)
        lines = set(raw.replace(b"\r\n ", b"").decode().splitlines())
        assert lines >= {
            "VERSION:2.0", "PRODID:-//Clothcast//Calendar//EN", "METHOD:PUBLISH", "NAME:Cloth",
            "UID:1@clothcast", "SEQUENCE:3", "STATUS:CONFIRMED", "SUMMARY:Cloth",
            f"TRANSP:{transp}", "DTSTAMP:20261001T120000Z", "LAST-MODIFIED:20261001T120000Z",
            f"DTSTART;TZID={ZONE}:20261005T062500", f"DTEND;TZID={ZONE}:20261005T070000",
        }  # fmt: skip


def test_rules_of_the_zone_reach_beyond_the_last_event() -> None:
    """Clocks that change in the year after the last event are in the file, for who moves it."""
    found = strictly(written(entry(date(2026, 10, 5))))
    assert [str(event["transp"]) for event in found.walk("VEVENT")] == ["TRANSPARENT"]
    (zone,) = strictly(written(entry(date(2028, 1, 5)), entry(date(2026, 10, 5)))).walk("VTIMEZONE")
    assert isinstance(zone, Timezone)
    told = zone.to_tz(lookup_tzid=False)
    assert datetime(2028, 7, 1, 6, tzinfo=told).utcoffset() == timedelta(hours=-4)
    (zone,) = found.walk("VTIMEZONE")
    assert isinstance(zone, Timezone)
    told = zone.to_tz(lookup_tzid=False)
    for month, hours in ((12, -5), (7, -4)):
        moment = datetime(2026 + (month == 7), month, 1, 6, tzinfo=told)
        assert moment.utcoffset() == timedelta(hours=hours)
