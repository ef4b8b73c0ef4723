"""A browser without script on an app with one small site."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.pages.pages import small_client
from tests.pages.told_day import DAYS, Told, told_day


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The browser; the app lives as long as the test."""
    with small_client(tmp_path) as browser:
        yield browser


@pytest.fixture(scope="module", params=DAYS)
def told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Told]:
    """A day of the demo, on which it is that day."""
    with told_day(request.param, tmp_path_factory.mktemp(request.param)) as found:
        yield found
