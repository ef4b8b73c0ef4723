"""What a start leaves for later, and templates that are compiled already."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import jinja2
import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from starlette.routing import BaseRoute

from app import main
from app.main import create_app, is_first
from app.pages.compiled import Kept
from app.settings import read_settings
from tests.demo_app import HERE
from tests.pages.pages import ADDRESS, TODAY


def addresses(app: FastAPI) -> list[str]:
    """The addresses of an app, in the order in which they are tried."""
    return [str(getattr(route, "path", "")) for route in iter_route_contexts(app.routes)]


def test_every_room_is_there_once_one_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server that has just started has what a start opens, also while the others are loaded; the
    first address of another room brings all, in the order of an app that is whole."""
    settings = read_settings(data_dir=tmp_path, today=TODAY, workers=1)
    whole, late = create_app(settings), create_app(settings, is_whole=False)
    first = addresses(late)
    may_load, load = threading.Event(), main._others

    def held(app: FastAPI) -> tuple[BaseRoute, ...]:
        may_load.wait()
        return load(app)

    monkeypatch.setattr(main, "_others", held)
    assert set(first) < set(addresses(whole))
    with TestClient(late, base_url=ADDRESS, client=HERE) as browser:
        assert browser.get("/static/charts.css").status_code == 200
        assert addresses(late) == first
        may_load.set()
        assert browser.get("/about").status_code == 200
        assert addresses(late) == addresses(whole)
        assert browser.get("/sites").status_code == 200


def test_what_is_first_is_only_that(tmp_path: Path) -> None:
    """An address that needs no other room belongs to no other room."""
    settings = read_settings(data_dir=tmp_path, today=TODAY, workers=1)
    first = addresses(create_app(settings, is_whole=False))
    for address in addresses(create_app(settings)):
        if is_first(address):
            assert address in first


def test_a_template_is_compiled_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was compiled is kept, read by the next process and known to be of another text; where
    Python is told to write nothing, nothing is written."""

    def drawn(text: str) -> str:
        loader = jinja2.DictLoader({"one.html": text})
        env = jinja2.Environment(loader=loader, bytecode_cache=Kept(tmp_path), autoescape=True)
        return env.get_template("one.html").render()

    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert drawn("{{ 2 * 3 }}") == "6"
    assert not list(tmp_path.iterdir())
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    assert drawn("{{ 2 * 3 }}") == "6"
    assert len(list(tmp_path.iterdir())) == 1
    with monkeypatch.context() as without:
        without.delattr(jinja2.Environment, "_generate")
        assert drawn("{{ 2 * 3 }}") == "6"
        with pytest.raises(AttributeError):
            drawn("{{ 2 * 4 }}")
    assert drawn("{{ 2 * 4 }}") == "8"
