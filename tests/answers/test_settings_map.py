"""Maps against the command line: `clothcast plan --set …` prints a point's figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from app.answers.planning import SEED, make_question
from app.answers.serial import read
from app.cli import main as cli
from app.sites.folder import write_folder
from app.words.figures import printed_step
from app.words.numbers import shown, stepped
from sim.day.figures import FIGURES, Figure
from sim.decide.answer import Plan
from sim.decide.maps.lattice import Axis
from sim.decide.maps.points import MapQuestion, map_question, settings_map
from sim.inputs import History, HourCount, HourWeather, Scenario, Site, SiteData
from tests.intervals import value_of

DAY = date(2026, 7, 18)
DAYS = 2
COMMON = ("--date", DAY.isoformat(), "--rule", "full", "--replications", str(DAYS))


@pytest.fixture(scope="module")
def data() -> SiteData:
    """A site that opens for an hour, with three weeks of equal days."""
    days = [DAY - timedelta(days=back) for back in range(21, 0, -1)]
    counts = tuple(HourCount(day, 8, 0, 120) for day in days)
    weather = tuple(
        HourWeather(day, hour, 0, 20.0 + hour / 4, 0.7, 0.0) for day in days for hour in range(24)
    )
    site = Site("Short Morning").with_values({"open_h": 8.0, "close_h": 9.0})
    given = frozenset({"open_h", "close_h"})
    return SiteData(site, "us", given, History("arrived", counts, weather, ()))


@pytest.fixture(scope="module")
def asked(data: SiteData) -> MapQuestion:
    """Its maps on grids of two by two."""
    scenario = Scenario("full", "full")
    question, _expected = make_question(data, DAY, "", (scenario,), DAYS, SEED)
    whole = map_question(replace(question, known=None), "us")
    return replace(
        whole,
        speeds=few(whole.speeds),
        spacings=few(whole.spacings),
        demands=replace(whole.demands, values=(0.8, 1.2)),
        temps=replace(whole.temps, values=(22.0, 31.0)),
    )


def few(axis: Axis) -> Axis:
    """The fourth value from either end alone."""
    return replace(axis, values=(axis.values[3], axis.values[-4]))


def printed(capsys: pytest.CaptureFixture[str], folder: Path, *more: str) -> dict[str, Figure]:
    """The figures that the command line gives for a folder."""
    assert cli.main(["plan", str(folder), *COMMON, "--json", "-", *more]) == 0
    return read(Plan, capsys.readouterr().out).comparison.columns[0].figures


def test_random_points_are_plans_to_the_printed_digit(
    data: SiteData,
    asked: MapQuestion,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    rng: np.random.Generator,
) -> None:
    """At 20 random settings, the map's own spots and the midpoints between, the command line
    writes what the map writes there, rounded as each of the two prints it."""
    wide = replace(asked, speeds=several(asked.speeds), spacings=several(asked.spacings))
    points = settings_map(wide).settings.points
    assert len(points) > 20
    write_folder(tmp_path / "site", data)
    for at in rng.choice(len(points), size=20, replace=False):
        point = points[at]
        pair = (f"conveyor_speed_m_s={point.x!r}", f"car_spacing_m={point.y!r}")
        figures = printed(capsys, tmp_path / "site", "--set", pair[0], "--set", pair[1])
        assert len(point.figures) == 5
        for name, mapped in point.figures.items():
            assert mapped is not None
            value, unit = value_of(figures[name]), FIGURES[name].unit
            step = printed_step(figures[name], unit, "us", value)
            assert stepped(mapped, step) == stepped(value, step), name
            assert shown(mapped, unit, "us") == shown(value, unit, "us"), name


def several(axis: Axis) -> Axis:
    """Five values from one end to the other."""
    return replace(
        axis, values=tuple(axis.values[round(i * (len(axis.values) - 1) / 4)] for i in range(5))
    )


def test_the_command_line_gives_a_points_figures(
    data: SiteData, asked: MapQuestion, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Speed and spacing typed in either unit system, and a day typed over, give the figures that
    the maps have there, and the present setting those of the maps' present point."""
    found = settings_map(asked)
    write_folder(tmp_path / "site", data)

    def check(figures: dict[str, Figure], mapped: dict[str, float | None]) -> None:
        assert len(mapped) == 5
        for name, value in mapped.items():
            assert value_of(figures[name]) == pytest.approx(value, rel=1e-9, abs=1e-9)

    check(printed(capsys, tmp_path / "site"), found.present.figures)
    grid = found.settings.grid
    assert len(grid) == 4
    for point in (grid[0], grid[3]):
        exact = (f"conveyor_speed_m_s={point.x!r}", f"car_spacing_m={point.y!r}")
        feet = (
            f"conveyor_speed_m_s={point.x * 60 / 0.3048:.6g} ft/min",
            f"car_spacing_m={point.y / 0.3048:.6g} ft",
        )
        for pair in (exact, feet):
            figures = printed(capsys, tmp_path / "site", "--set", pair[0], "--set", pair[1])
            check(figures, point.figures)
    busier = next(p for p in found.weather.grid if (p.x, p.y) == (1.2, 31.0))
    figures = printed(capsys, tmp_path / "site", "--expect", "31 C, +20 %")
    check(figures, busier.figures)
