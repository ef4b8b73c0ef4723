"""Programs of tests: their tokens, and how they ask."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from app.access.codes import digest_of
from app.access.table import API, SCOPES
from app.sites.programs import programs_gate

SECRET = "token of {name}"  # noqa: S105 - how tests name theirs


def let_in(
    app: FastAPI,
    name: str,
    scopes: Iterable[str] = SCOPES,
    site_ids: Iterable[int] = (1,),
    person_id: int = 1,
    days: float = 30.0,
) -> str:
    """Makes a token as somebody, by default the built-in person; returns it."""
    web = app.state.web
    secret, now = SECRET.format(name=name), web.settings.clock()
    with programs_gate(web.database.for_person(person_id), now) as gate:
        until = now + timedelta(days=days)
        gate.make(name, digest_of(secret), tuple(scopes), tuple(site_ids), until)
    return secret


class Program:
    """A program with a token."""

    def __init__(self, client: TestClient, token: str) -> None:
        self._client, self._token = client, token

    def ask(self, method: str, path: str, key: str = "", **sent: Any) -> Response:
        """Asks for an address below the interface's; `key` is that of the request."""
        headers = {"Authorization": f"Bearer {self._token}", **sent.pop("headers", {})}
        if key:
            headers["Idempotency-Key"] = f'"{key}"'
        answer: Response = self._client.request(method, f"{API}{path}", headers=headers, **sent)
        return answer

    def get(self, path: str) -> Any:
        """What is at an address, which must be there."""
        answer = self.ask("GET", path)
        assert answer.status_code == 200, answer.text
        return answer.json()


def is_problem(answer: Response, status: int, anchor: str) -> None:
    """Asserts that an answer is a problem (RFC 9457, section 3.1): its members, their types, the
    same status in it as on it, its type one of the guide's parts, and no cookie beside it."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert told["status"] == status
    assert told["type"] == f"/guide/api#{anchor}"
    assert all(isinstance(told[name], str) and told[name] for name in ("title", "detail"))
    assert all(set(one) == {"pointer", "detail", "value"} for one in told["errors"])
    assert "set-cookie" not in answer.headers
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
