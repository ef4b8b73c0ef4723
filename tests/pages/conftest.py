"""A browser without script on an app with one small site."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.pages.pages import small_client


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The browser; the app lives as long as the test."""
    with small_client(tmp_path) as browser:
        yield browser
