"""Sites in and out: nothing is lost, and a name finds its site."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from sqlalchemy import text

from app.db import store
from app.db.session import Session, begin_write, open_database
from app.sites import reading
from app.sites.changes import Gate
from app.sites.checks import slug_for
from sim.checks import check_site
from sim.errors import InputError
from sim.inputs import (
    DEFAULT_CLASSES,
    INPUTS,
    LONGEST_WORDS,
    DayNote,
    Entry,
    History,
    HourCount,
    HourWeather,
    Site,
    SiteData,
    Value,
    VehicleClass,
)

NOW = datetime(2026, 7, 18, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def full_session() -> Iterator[Session]:
    """A session on a database that fills up with one drawn site after another."""
    database = open_database(None)
    with database.session() as opened:
        yield opened
    database.close()


def gate_of(session: Session) -> Gate:
    """The gate for the built-in person."""
    return Gate(session, store.built_in_person(session), NOW)


def drawn_value(entry: Entry, draw: random.Random) -> Value:
    """A value within the range of an input, with as many digits as a float has."""
    if entry.kind == "choice":
        return draw.choice(entry.choices)[0]
    if entry.kind == "flag":
        return draw.random() < 0.5
    if entry.kind == "words":
        return "".join(draw.choices("aé“ß-", k=draw.randint(1, LONGEST_WORDS)))
    if entry.kind == "address":
        return draw.choice(
            ("", "https://recorder.example/{date}/{time}", "http://10.0.0.9/?t={hour}")
        )
    if entry.kind == "whole":
        return draw.randint(int(entry.low), int(entry.high))
    if entry.kind == "times":
        return tuple(draw.uniform(entry.low, entry.high) for _ in range(draw.randrange(4)))
    if entry.kind == "months":
        return tuple(draw.uniform(entry.low, entry.high) for _ in range(draw.choice((0, 12))))
    if entry.kind == "steps":
        starts = sorted({0.0, *(draw.uniform(1, 86400) for _ in range(draw.randrange(3)))})
        if entry.unit.kind in ("lanes", "people"):
            return tuple((s, float(draw.randint(int(entry.low), int(entry.high)))) for s in starts)
        return tuple((s, draw.uniform(entry.low, entry.high)) for s in starts)
    return draw.uniform(entry.low, entry.high)


def drawn_site(draw: random.Random) -> Site:
    """A site that can be planned for, with odd values wherever they go together."""
    site = Site("Drawn")
    names = draw.sample(list(INPUTS), 48)
    for start in range(0, len(names), 8):
        values = {name: drawn_value(INPUTS[name], draw) for name in names[start : start + 8]}
        while problems := check_site(site.with_values(values)):
            told = {problem.field for problem in problems} & values.keys()
            del values[min(told) if told else draw.choice(list(values))]
        site = site.with_values(values)
    classes = list(DEFAULT_CLASSES)
    draw.shuffle(classes)
    cut = draw.uniform(0, 0.09)
    first, second = classes[0].numbers, classes[1].numbers
    classes[0] = replace(classes[0], numbers=replace(first, share=first.share - cut))
    classes[1] = replace(classes[1], numbers=replace(second, share=second.share + cut))
    varied = tuple(VehicleClass(c.key, f"{c.label} ”{draw.random()}", c.numbers) for c in classes)
    site = replace(
        site,
        timezone=draw.choice(["UTC", "America/New_York", "Australia/Lord_Howe"]),
        vehicles=varied,
        reference_class=draw.choice([c.key for c in varied]),
    )
    return site if not check_site(site) else replace(site, reference_class="small")


def drawn_past(draw: random.Random) -> History:
    """Hours and days in no regular order of time, with both folds of an hour."""
    hours = sorted(
        {
            (date(2024, 1, 1) + timedelta(draw.randrange(900)), draw.randrange(24), fold)
            for _ in range(draw.randrange(60))
            for fold in draw.choice([(0,), (0, 1)])
        }
    )
    days = sorted({(hour[0], draw.choice(["closed", "event"])) for hour in hours[::5]})
    return History(
        draw.choice(["arrived", "washed"]),
        tuple(HourCount(*hour, draw.randrange(300)) for hour in hours),
        tuple(
            HourWeather(*hour, draw.uniform(-40, 55), draw.random(), draw.expovariate(1))
            for hour in hours
        ),
        tuple(DayNote(day, kind, draw.choice(["", "Fair, “big”\n2nd line"])) for day, kind in days),
    )


@given(st.integers(0, 2**32))
def test_a_site_comes_back_as_it_went_in(full_session: Session, seed: int) -> None:
    """Whatever a site holds, stored new and in place of another, loading gives the same site."""
    draw = random.Random(seed)
    for site in (drawn_site(draw), drawn_site(draw)):
        assume(not check_site(site))
        own = frozenset(draw.sample(list(INPUTS), draw.randrange(20)))
        site = replace(site, name=f"Site {seed}")
        data = SiteData(site, draw.choice(["us", "si"]), own, drawn_past(draw))
        key = f"{seed} {draw.random()}"
        reading.bring_in(full_session, gate_of(full_session), data, key)
        assert reading.load(full_session, data.site.name) == data


def test_an_odd_name_comes_back(session: Session) -> None:
    """Letters of any script survive, and find their site again."""
    for number, name in enumerate(("Ünï “Wash” – 東京", "a" * 60, "Ω", "'; DROP TABLE sites; --")):
        reading.bring_in(session, gate_of(session), SiteData(Site(name)), f"{number}")
        assert reading.load(session, name).site.name == name


def test_drawn_sites_are_mostly_storable() -> None:
    """The claim above is not empty: most drawn sites pass, and differ from the defaults."""
    drawn = [drawn_site(random.Random(seed)) for seed in range(40)]
    fine = [site for site in drawn if not check_site(site)]
    assert len(fine) >= 30
    different = [
        sum(site.value(name) != entry.default for name, entry in INPUTS.items()) for site in fine
    ]
    assert min(different) >= 10


def test_a_default_site_comes_back(session: Session) -> None:
    """A site of defaults, of which some are its own, comes back with that knowledge."""
    data = SiteData(Site("Plain"), given=frozenset({"open_h", "pay_lanes"}))
    reading.bring_in(session, gate_of(session), data, "a")
    assert reading.load(session, "plain") == data


def test_bringing_in_again_replaces(session: Session) -> None:
    """A second import under the same name, in any capitals, is the same site with a history."""
    gate = gate_of(session)
    first = reading.bring_in(session, gate, SiteData(Site("Plain")), "a")
    changed = SiteData(Site("PLAIN").with_values({"open_h": 8.0}))
    second = reading.bring_in(session, gate, changed, "b")
    assert (second.site_id, second.version) == (first.site_id, 2)
    assert reading.load(session, "plain") == changed
    assert [line.name for line in store.list_sites(session)] == ["PLAIN"]


def test_a_name_like_anothers_slug_makes_a_new_site(session: Session) -> None:
    """Bringing in a site called as another one's address does not replace that other one."""
    gate = gate_of(session)
    reading.bring_in(session, gate, SiteData(Site("North Wash!")), "a")
    reading.bring_in(session, gate, SiteData(Site("north-wash")), "b")
    slugs = [(line.name, line.slug) for line in store.list_sites(session)]
    assert slugs == [("North Wash!", "north-wash"), ("north-wash", "north-wash-2")]
    assert reading.find(session, "north-wash").data.site.name == "north-wash", "names come first"
    assert reading.find(session, "north wash!").data.site.name == "North Wash!"


def test_a_misspelt_name_gets_the_nearest(session: Session) -> None:
    """A name that is nearly right is answered with the right one."""
    with pytest.raises(InputError, match="the database holds none yet"):
        reading.find(session, "Plain")
    gate = gate_of(session)
    reading.bring_in(session, gate, SiteData(Site("Plain Wash")), "a")
    reading.bring_in(session, gate, SiteData(Site("Harbour")), "b")
    with pytest.raises(InputError, match=r"no site “plane wash”.*Did you mean “Plain Wash”\?"):
        reading.load(session, "plane wash")
    with pytest.raises(InputError, match=r"no site “xyz”.*There is “Harbour”, “Plain Wash”"):
        reading.load(session, "xyz")


def test_an_input_that_the_program_lacks_is_told(session: Session) -> None:
    """A stored input that no longer exists is not dropped in silence."""
    reading.bring_in(session, gate_of(session), SiteData(Site("Plain")), "a")
    begin_write(session)
    session.execute(text("INSERT INTO input_values VALUES (1, 'old_input', '1', 1)"))
    session.commit()
    with pytest.raises(LookupError, match=r"inputs that the program lacks: .'old_input'"):
        reading.load(session, "Plain")


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("North Wash", "north-wash"),
        ("  Été & Co. — №2 ", "ete-co-no2"),
        ("洗車", "site"),
        ("x" * 200, "x" * 60),
    ],
)
def test_slugs_are_plain(name: str, slug: str) -> None:
    """An address holds lower-case letters, digits and hyphens only, and is never empty."""
    assert slug_for(name, ()) == slug


def test_slugs_are_unique() -> None:
    """A taken slug gets the next free number."""
    assert slug_for("A b", {"a-b", "a-b-2", "a-b-4"}) == "a-b-3"


@pytest.mark.parametrize("name", ["", "x" * 61, " padded", "two\nlines"])
def test_names_that_nobody_could_type_are_refused(session: Session, name: str) -> None:
    """A name is one line of 1 to 60 characters without spaces at its ends."""
    with pytest.raises(InputError, match=r"^Name “"):
        gate_of(session).create_site(SiteData(Site(name)), "a")
    assert store.list_sites(session) == ()
