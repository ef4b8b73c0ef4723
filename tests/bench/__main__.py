"""`python -m tests.bench [--json FILE]`: measures the figures to reach and prints them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.bench.again import again_figures
from tests.bench.crowd import crowd_figures
from tests.bench.figures import as_json, show
from tests.bench.forms import form_figures
from tests.bench.learning import learning_figures
from tests.bench.load import load_figures
from tests.bench.model import model_figures
from tests.bench.now import now_figures
from tests.bench.pages import page_figures
from tests.bench.queues import queue_figures
from tests.bench.scale import scale_figures
from tests.bench.searching import search_figures
from tests.bench.season import season_figures
from tests.bench.starting import starting_figures


def main() -> int:
    """Exit code 0 when every figure keeps its bound, 1 otherwise."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write the figures there")
    given = parser.parse_args()
    figures = [
        *model_figures(), *queue_figures(), *scale_figures(), *search_figures(), *form_figures(),
        *season_figures(), *learning_figures(), *now_figures(), *page_figures(),
        *starting_figures(), *again_figures(), *crowd_figures(), *load_figures(),
    ]  # fmt: skip
    show(figures)
    if given.json:
        given.json.write_text(as_json(figures), encoding="utf-8")
    return int(any(row.met is False for row in figures))


if __name__ == "__main__":
    sys.exit(main())
