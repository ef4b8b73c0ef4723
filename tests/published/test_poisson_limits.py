"""Exact limits of a Poisson mean and of a share.

- F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437–442: 95 %
  limits of the mean of a count, as they are printed in handbooks of epidemiology and quality. FROM
  MEMORY, but for counts of 0, 10 and 25 (at 90, 95 and 99 %), which were seen printed where the
  method is described.
- N. Gehrels, Confidence limits for small numbers of events in astrophysical data, Astrophysical
  Journal 303 (1986) 336–346, tables 1 and 2: single-sided limits at 0.8413, which are two-sided
  ones at 0.6827. FROM MEMORY.
- C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits illustrated in the
  case of the binomial, Biometrika 26 (1934) 404–413: 95 % limits of shares of 20, as tables of the
  method print them. FROM MEMORY.
"""

from __future__ import annotations

import pytest

from sim.decide.stops.rates import one_in, poisson_limits, rate_of
from sim.learn.happened import share_limits

GARWOOD_95 = {
    0: (0.0, 3.689), 1: (0.0253, 5.572), 2: (0.2422, 7.225), 3: (0.6187, 8.767), 4: (1.090, 10.24),
    5: (1.623, 11.67), 10: (4.795, 18.39), 25: (16.18, 36.90), 100: (81.36, 121.6),
}  # fmt: skip
GARWOOD_25 = {0.90: (17.38, 34.92), 0.95: (16.18, 36.90), 0.99: (14.00, 41.00)}
GEHRELS = {0: (0.0, 1.841), 1: (0.173, 3.300), 2: (0.708, 4.638), 3: (1.367, 5.918)}
CLOPPER_PEARSON_OF_20 = {0: (0.0, 0.1684), 1: (0.0013, 0.2487), 5: (0.0866, 0.4910)}


def to_its_digits(printed: float, value: float) -> bool:
    """Whether a value is that printed, to half its last digit."""
    text = f"{printed:g}"
    decimals = len(text.partition(".")[2])
    return abs(printed - value) <= 0.5 * 10.0**-decimals + 1e-12


@pytest.mark.parametrize("count", GARWOOD_95)
def test_limits_of_a_count(count: int) -> None:
    """Each printed limit, to half its last digit."""
    for printed, value in zip(GARWOOD_95[count], poisson_limits(count), strict=True):
        assert to_its_digits(printed, value), (printed, value)


@pytest.mark.parametrize("level", GARWOOD_25)
def test_limits_of_25_at_other_levels(level: float) -> None:
    """The higher the level, the further apart, as printed."""
    for printed, value in zip(GARWOOD_25[level], poisson_limits(25, level), strict=True):
        assert to_its_digits(printed, value), (printed, value)


@pytest.mark.parametrize("count", GEHRELS)
def test_limits_at_one_sigma(count: int) -> None:
    """Single-sided limits at 0.8413 each."""
    for printed, value in zip(GEHRELS[count], poisson_limits(count, 0.682689), strict=True):
        assert to_its_digits(printed, value), (printed, value)


@pytest.mark.parametrize("count", GARWOOD_95)
def test_all_ways_of_stating_a_rate_are_those_limits(count: int) -> None:
    """For 1,000 cars, a day, an open hour: the printed limits over what was counted; one in so many
    cars: what was counted over the printed limits, the other way round."""
    low, high = GARWOOD_95[count]
    cars, days, open_h = 40_000, 50, 650.0
    for over in (cars / 1000.0, float(days), open_h):
        rate = rate_of(count, over)
        assert rate.value == count / over
        assert rate.low * over == pytest.approx(low, rel=1e-3, abs=1e-12)
        assert rate.high is not None
        assert rate.high * over == pytest.approx(high, rel=1e-3)
    apart = one_in(count, cars)
    assert apart.low * high == pytest.approx(cars, rel=1e-3)
    if count:
        assert apart.value == cars / count
        assert apart.high is not None
        assert apart.high * low == pytest.approx(cars, rel=1e-3)
    else:
        assert (apart.value, apart.high) == (None, None)


@pytest.mark.parametrize("count", CLOPPER_PEARSON_OF_20)
def test_limits_of_a_share(count: int) -> None:
    """Of 20 looked at, to the fourth decimal."""
    low, high = CLOPPER_PEARSON_OF_20[count]
    found = share_limits(count, 20, 0.95)
    assert found.low == pytest.approx(low, abs=5e-5)
    assert found.high == pytest.approx(high, abs=5e-5)
    mirrored = share_limits(20 - count, 20, 0.95)
    assert mirrored.low == pytest.approx(1.0 - high, abs=5e-5)
