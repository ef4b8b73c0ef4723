"""A server process of its own, to be killed: `python -m tests.answers.study_server FOLDER`.

It serves the pages on a free port, which it says in a line, as it does each time that it has
written down how far a study is.
"""

from __future__ import annotations

import socket
import sys
from pathlib import Path
from unittest.mock import patch

import uvicorn

from app.answers.studies.book import StudyBook
from app.main import create_app
from app.settings import Settings
from tests.small_wash import TODAY


def main(folder: str) -> None:
    """Serves until it is ended."""
    app = create_app(Settings(data_dir=Path(folder), today=TODAY, workers=2))
    book: StudyBook = app.state.web.runner.book
    beat = book.beat

    def tell(key: str, done: int, spent_s: float = 0.0) -> bool:
        held = beat(key, done, spent_s)
        say(f"{done} done")
        return held

    with (
        patch.object(book, "beat", tell),
        socket.create_server(("127.0.0.1", 0)) as listener,
    ):
        say(str(listener.getsockname()[1]))
        config = uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1)
        uvicorn.Server(config).run(sockets=[listener])


def say(line: str) -> None:
    """A line for whoever started this process."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
