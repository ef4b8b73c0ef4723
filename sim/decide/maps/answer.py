"""What the maps of a day found: the very thing that is stored, drawn and worded; all in SI.

None stands where a day has no such figure; the version of the shape is `SCHEMA`, and the guide
describes it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from sim.decide.answer import Opening, PairedDifference, Standing
from sim.decide.maps.lattice import Axis, Segment
from sim.inputs import Scenario

__all__ = ["ALL", "SCHEMA", "Axis", "Map", "MapPoint", "Segment", "SettingsMap"]

SCHEMA = "clothcast.map/4"
ALL = "all"
"""Name of the boundary of what keeps to every limit."""


@dataclass(frozen=True, slots=True)
class MapPoint:
    """What came out at a point: means over the simulated days by name of the figure, and by figure
    whether what the manager allows is kept."""

    x: float
    y: float
    figures: dict[str, float | None]
    keeps: dict[str, bool]

    @property
    def keeps_all(self) -> bool:
        """Whether it keeps to everything that the manager allows."""
        return all(self.keeps.values())

    @property
    def margin(self) -> float:
        """What the day earns."""
        return self.figures["margin"] or 0.0


@dataclass(frozen=True, slots=True)
class Map:
    """Two settings against each other.

    Attributes:
        grid: points of the grid, row by row; those that could not be simulated, such as a day with
            frost, are left out.
        between: points between, which were looked at where a limit begins to hold.
        boundaries: by figure, and under `ALL` for the limits together: stretches from x, y to
            x, y along which the limit is just met.
    """

    x: Axis
    y: Axis
    grid: tuple[MapPoint, ...]
    between: tuple[MapPoint, ...]
    boundaries: dict[str, tuple[Segment, ...]]

    @property
    def points(self) -> list[MapPoint]:
        """All points, by the first axis and then by the second."""
        return sorted([*self.grid, *self.between], key=lambda point: (point.x, point.y))


@dataclass(frozen=True, slots=True)
class SettingsMap:
    """The answer to a `sim.decide.maps.points.MapQuestion`.

    Attributes:
        replications: simulated days at each point, the same ones at all.
        opening: how wet the cloth is at opening, and where that comes from.
        scenario: the one that the maps are made for; label: its rule and dry sets in words.
        has_timetable: whether its belt has a timetable of speeds; every other point runs at one.
        cars, highest_temp_c: expected of the day.
        allowed: what the manager allows, by figure.
        present: the present setting on the expected day; with a timetable its mark stands at
            the speed of the busiest hour.
        best: grid point with the most margin of those that keep to all limits; the present
            setting if that keeps to them and nothing earns more by enough to matter; None where
            no point keeps to all.
        nearest: without a best, the grid point that misses the limits by least; else None.
        differences: of `best` (or `nearest`) to the present setting, by figure.
        settings: speed against spacing, at the expected day.
        weather: demand against highest temperature, at the present setting.
        demand_now, demand_best: the expected temperature with other demands, at the present and
            at the best (or nearest) setting.
        rival: what the advice is held against: the present setting or, where that stays, the best
            of the others; None where there is no other.
        standing: how the advice stands against it at drawn sites; None with `rival`, or where no
            site was drawn. weighed: kinds of weighing that these were drawn by.
        coarse: whether these are first maps, of few points on few days, shown until all are there.
    """

    schema: str = field(default=SCHEMA, kw_only=True)
    replications: int
    opening: Opening
    scenario: Scenario
    label: str
    has_timetable: bool
    cars: float
    highest_temp_c: float
    allowed: dict[str, float]
    present: MapPoint
    best: MapPoint | None
    nearest: MapPoint | None
    differences: dict[str, PairedDifference]
    settings: Map
    weather: Map
    demand_now: tuple[MapPoint, ...]
    demand_best: tuple[MapPoint, ...]
    rival: MapPoint | None
    standing: Standing | None
    weighed: tuple[str, ...]
    coarse: bool = False

    @property
    def better(self) -> MapPoint | None:
        """The best point, where that is not the present setting."""
        return None if self.best == self.present else self.best

    @property
    def other(self) -> MapPoint | None:
        """The best point or, without one, the nearest."""
        return self.best or self.nearest
