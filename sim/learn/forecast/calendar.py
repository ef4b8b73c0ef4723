"""Public holidays of a country, by name."""

from __future__ import annotations

from datetime import date

OBSERVED = " (observed)"
"""What the library adds to the name of a holiday that was moved to a working day."""


def public_holidays(country: str, first: date, last: date) -> dict[date, str]:
    """Public holidays that a whole country has, from one day to another.

    Args:
        country: two letters of ISO 3166-1; none are known of an empty or unknown one.
    """
    import holidays  # takes a third of a second, which no page should wait for

    if country not in holidays.list_supported_countries():
        return {}
    years = range(first.year, last.year + 1)
    found = holidays.country_holidays(country, years=years)
    return {
        day: name.removesuffix(OBSERVED) for day, name in sorted(found.items())
        if first <= day <= last
    }  # fmt: skip
