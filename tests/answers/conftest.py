"""What tests of answers share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.answers.played_servers import Servers


@pytest.fixture
def servers(tmp_path: Path) -> Iterator[Servers]:
    """A database file with one site."""
    made = Servers(tmp_path / "data.sqlite3")
    yield made
    for runner in made.runners:
        runner.close()
    made.database.close()
