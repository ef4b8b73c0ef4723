"""The code on a day sheet, read by a reader of codes that has nothing to do with its maker."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from fastapi.testclient import TestClient

from app.access.codes import digest_of, new_secret
from app.charts.code import QUIET, code_picture
from app.main import create_app
from app.settings import read_settings
from app.sites.demo import demo_data
from app.sites.reading import gate
from tests.demo_app import HERE

DOTS = 6
"""Printed dots a module."""


def read_code(picture: str) -> str:
    """What a phone reads off the picture, drawn in black dots on white."""
    side = int(re.findall(r'viewBox="0 0 (\d+)', picture)[0])
    paper = np.full((side, side), 255, dtype=np.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", picture):
        paper[int(y), int(x)] = 0
    assert not (255 - paper)[: QUIET - 1].any(), "white all around"
    (found,) = zxingcpp.read_barcodes(np.kron(paper, np.ones((DOTS, DOTS), dtype=np.uint8)))
    return str(found.text)


@pytest.mark.parametrize(
    "address",
    [
        "http://192.168.1.20:8000/harbor-road/sheet/2026-07-18",
        "https://wash.example/a-rather-long-name-of-a-site-with-ümlauts/sheet/2026-12-31",
    ],
)
def test_a_reader_of_codes_reads_the_address(address: str) -> None:
    """What was put in comes out, in addresses short and long."""
    assert read_code(code_picture(address, "A code")) == address


def test_a_sheet_that_others_reach_has_its_own_address_on_it(tmp_path: Path) -> None:
    """Asked for by an address of the network the sheet has a code of itself, without what else the
    address said; asked for on the server itself it says how to come by one."""
    app = create_app(read_settings(data_dir=tmp_path, host="0.0.0.0"))  # noqa: S104
    with gate(app.state.web.database, app.state.web.now()) as opened:
        opened.create_site(demo_data(), "demo")
    sheet = "http://192.168.1.20:8000/harbor-road/sheet/2026-07-29"
    secret = new_secret()
    with gate(app.state.web.database, app.state.web.now()) as opened:
        opened.add_phone(1, "Crew room", digest_of(secret), "see")
    with (
        TestClient(app, base_url="http://192.168.1.20:8000") as client,
        TestClient(app, base_url="http://localhost:8000", client=HERE) as own,
    ):
        client.get(f"/harbor-road/phone/{secret}", follow_redirects=False)
        shown = client.get(f"{sheet}?tour=6").text
        at_home = own.get("/harbor-road/sheet/2026-07-29").text
    app.state.web.database.close()
    (picture,) = re.findall(r'<svg class="code".*?</svg>', shown, re.DOTALL)
    assert read_code(picture) == sheet
    assert 'class="code"' not in at_home
    assert "it has a code for phones" in at_home
