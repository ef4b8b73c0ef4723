"""Starts the app on a data folder, asks for its first page and ends; timed from outside."""

from __future__ import annotations

import sys
from pathlib import Path

from fastapi.testclient import TestClient

from app.main import create_app
from app.settings import read_settings
from tests.demo_app import ADDRESS, OWN_PAGE, TODAY


def main() -> int:
    """Exit code 0 if the first page came."""
    app = create_app(read_settings(data_dir=Path(sys.argv[1]), today=TODAY))
    with TestClient(app, base_url=ADDRESS, headers=OWN_PAGE) as client:
        return int(client.get("/").status_code != 200)


if __name__ == "__main__":
    sys.exit(main())
