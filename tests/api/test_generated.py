"""Requests drawn from the interface's own description by an independent generator (Schemathesis):
every check of it, for a token of each scope, one of all, and none."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.config import SchemathesisConfig

from app.access.codes import digest_of_code
from app.access.table import API, SCOPES
from app.main import create_app
from app.settings import read_settings
from app.sites.people import people_gate
from app.sites.reading import gate, whole_log_of
from tests.api.programs import let_in
from tests.demo_app import TODAY, begin_nothing
from tests.pages import fixture_comparison as invented
from tests.sizes import Size

SITE = "invented-lane"
HOST = "testserver"
"""The name by which the generator asks."""
MODES = schemathesis.GenerationMode
CONFIG = {
    "checks": {
        "positive_data_acceptance": {
            # A description can't say all that a site makes of a value: a day that is still to come,
            # a check that is on no list, more damp hoods than were looked at. 400 is a key of a
            # request with a letter that no header can carry.
            "expected-statuses": ["2xx", "401", "403", "404", "409", "422", "429"],
        }
    }
}
TOKENS: Mapping[str, tuple[str, ...]] = {
    **{scope: (scope,) for scope in SCOPES}, "all": SCOPES, "none": (),
}  # fmt: skip
"""Scopes of the tokens that are tried; the last program has none."""


@contextmanager
def served(folder: Path) -> Iterator[FastAPI]:
    """An app whose people sign in, with a small site that has a past, people, sets and an owner."""
    app = create_app(
        read_settings(data_dir=folder, today=TODAY, workers=1, sign_in=True, host=HOST)
    )
    web = app.state.web
    with gate(web.database, web.now()) as writes:
        writes.create_site(invented.small_site(), request_key="site")
    with people_gate(web.database, web.settings.clock()) as people:
        people.begin_first(digest_of_code("first"), web.settings.clock())
        people.make_owner(digest_of_code("first"), "Olive Owner", "a hash")
    yield app
    web.runner.close()
    web.database.close()


def tried(operation: Any, headers: dict[str, str], count: int, answers: Counter[int]) -> None:
    """Draws so many requests of an operation, fair ones and bad ones, and holds the answers against
    every check."""
    drawn = st.one_of(
        operation.as_strategy(generation_mode=MODES.POSITIVE),
        operation.as_strategy(generation_mode=MODES.NEGATIVE),
    )

    @settings(
        max_examples=count, deadline=None, derandomize=True, database=None,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=drawn, is_there=st.integers(0, 9))
    def one(case: Any, is_there: int) -> None:
        if "slug" in case.path_parameters and is_there:
            case.path_parameters["slug"] = SITE
        answer = case.call(headers=headers)
        answers[answer.status_code] += 1
        case.validate_response(answer, headers=headers)

    one()


@pytest.mark.soak
@pytest.mark.parametrize("who", TOKENS)
def test_drawn_requests(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    who: str,
    size: Size,
    record_figure: Callable[..., None],
) -> None:
    """No answer fails a check: none is of the server's fault, each has a status, a type and a shape
    that the description names, what it forbids is refused and what it allows is not, methods that
    it lacks are, and no address opens without a token. What is asked for is not worked out."""
    begin_nothing(monkeypatch)
    answers, each = Counter[int](), size(small=4 if who == "all" else 1, full=90)
    with served(tmp_path) as app:
        schema = schemathesis.openapi.from_asgi(
            f"{API}/openapi.json", app, config=SchemathesisConfig.from_dict(CONFIG)
        )
        every: list[Any] = list(schema.get_all_operations())
        operations = [one.ok() for one in every]
        headers = {}
        if TOKENS[who]:
            secret = let_in(app, who, TOKENS[who], person_id=2)
            headers["Authorization"] = f"Bearer {secret}"
        for operation in operations:
            tried(operation, headers, each, answers)
        stored = len(whole_log_of(app.state.web.database, 1))
    record_figure("requests", sum(answers.values()))
    record_figure("that were answered by 2xx", sum(answers[code] for code in (200, 201, 202)))
    record_figure("entries stored by them", stored)
    assert sum(answers.values()) >= 0.8 * each * len(operations)
    assert (set(answers) == {401}) == (who == "none"), answers


def test_an_answer_of_another_shape_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Planted in the interface, an answer without a part that its description names fails."""
    with served(tmp_path) as app:
        schema = schemathesis.openapi.from_asgi(
            f"{API}/openapi.json", app, config=SchemathesisConfig.from_dict(CONFIG)
        )
        headers = {"Authorization": f"Bearer {let_in(app, 'all', person_id=2)}"}
        monkeypatch.setattr("app.api.read._site", lambda *_given: {"slug": SITE})
        operation = schema["/sites/{slug}"]["GET"]
        with pytest.raises(BaseExceptionGroup, match="distinct failure"):
            tried(operation, headers, 20, Counter[int]())
