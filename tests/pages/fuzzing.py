"""Hostile requests: every route, form, file, header and cookie, drawn from a seed.

Routes come from the app itself, forms and links from the HTML of its pages; so what is added to
the app is tried without a word here. A request is described by what it takes to send it again.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

import numpy as np
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.demo_app import OWN_PAGE, app_of

MARK = "zqz"
"""What is looked for in an answer: no page of ours has it by itself."""
MARKUP = f"{MARK}\"'><b {MARK}>&{MARK}"
RAW = (f"{MARK}\"'", f'{MARK}"&', f"<b {MARK}", f"&{MARK}")
"""What is left of it where it was not escaped."""
LONG = 60_000
HOSTILE = (
    "", " ", "0", "-1", "-0", "--5", "1e308", "1e400", "1e-320", "nan", "inf", "-inf", "1e5e5",
    "0x10", "1_000", "1,5", "1.2.3", "\u22125", "\uff11\uff12", "\u0661\u0662", "\u00bd", "1 000",
    "9" * 400, "9" * 5_000, "1 " * 2_000, "1" + " " * 3_000 + "\n", "+ " * 2_000, "." * 3_000,
    "\x00", "\x1b[31m", "\u202e", "\ufeff", "\ufffd", "\U0001f697" * 200, "a\u0301" * 500,
    "\n" * 1_000, "x\r\nSet-Cookie: zqz=1", "a" * LONG,
    "0001-01-01", "9999-12-31", "2026-02-30", "2026-W01-1", "20260718", "2026-07-18T00:00",
    "-2026-07-18", "24:00", "99:99", "10:00-09:00",
    "clock 10:00-17:00", "clock " + "10:00-11:00," * 300, "band 60 40", "band 40 60", "full and ",
    "class x:reduced", "full " * 2_000,
    "[" * 2_000, "(" * 2_000, "{" * 2_000, '"' * 2_000, "<" * 2_000, "%" * 2_000, ";" * 2_000,
    "=1+1", "@SUM(A1)", "+cmd", "-2+3", "\t=1", "../../etc/passwd", "' OR 1=1 --", "{{7*7}}",
    "%s%n", "true", "None", MARKUP, MARKUP * 20,
)  # fmt: skip
NAMES = ("day", "stored", "do", "n", "month", "units", "version", "request_key", "form_token", "x")
"""Names of fields that no form may have shown yet."""
METHODS = ("PUT", "PATCH", "DELETE", "OPTIONS", "HEAD", "TRACE", "POST", "QUERY")
COOKIES = ("a/b=1", "a,b=1", "x@y=1", "f[0]=1", "=", ";;", '"\\', f"clothcast_site={MARK}", "\xe9")
HEADERS = (
    ("Host", "evil.example"), ("Host", "127.0.0.1:x"), ("Host", "[::1"), ("Host", ""),
    ("Content-Type", "application/json"), ("Content-Type", "multipart/form-data"),
    ("Content-Type", "multipart/form-data; boundary=" + "b" * 300), ("Content-Type", "\xff"),
    ("Content-Length", "-1"), ("Content-Length", "x"), ("Range", "bytes=9-1,,"),
    ("If-None-Match", '"' * 500), ("If-Modified-Since", "never"), ("Accept-Language", MARKUP),
    ("Referer", "://"), ("Origin", "null"), ("Sec-Fetch-Site", MARKUP), ("X-Forwarded-For", "::"),
    ("X-HTTP-Method-Override", "DELETE"), ("Accept", "*/" * 3_000), ("User-Agent", MARKUP),
)  # fmt: skip
FILES = (
    b"", b"\x00" * 2_000, b"\xff\xfe=\x00", b"PK\x03\x04", b'"' * 5_000, b"," * 50_000,
    b"day,hour,cars\n" + b"2026-07-01,10,=1\n" * 500, b"day;hour;cars\n0001-01-01;99;-1\n",
    b"day,hour,cars\n9999-12-31,23," + b"9" * 5_000, b"time,temperature\n" + b"x\n" * 3_000,
    MARKUP.encode() + b",\n" + MARKUP.encode(), b"a,b\n" + b'"x\n' * 500, b"\r" * 3_000,
    b"[site]\n" + b"a." * 3_000 + b"=1\n", "day,h\u00f6he\n".encode("latin-1"),
)  # fmt: skip


@dataclass
class SeenForm:
    """A form as a page shows it: where it goes, how, and what its fields hold."""

    action: str
    method: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)


class Seen(HTMLParser):
    """The forms and links of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[SeenForm] = []
        self.links: list[str] = []
        self._form: SeenForm | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes forms, what they hold, and links of this site."""
        given = {name: value or "" for name, value in attrs}
        name, value = given.get("name", ""), given.get("value", "")
        if tag == "form":
            self._form = SeenForm(given.get("action", ""), given.get("method", "get").upper())
            self.forms.append(self._form)
        elif tag in ("a", "link") and given.get("href", "").startswith("/"):
            self.links.append(given["href"].partition("#")[0])
        elif self._form is not None and name:
            if given.get("type") == "file":
                self._form.files.append(name)
            elif tag in ("input", "select", "textarea", "button"):
                self._form.fields.append((name, value))

    def handle_endtag(self, tag: str) -> None:
        """Closes the form."""
        if tag == "form":
            self._form = None


@dataclass
class Fault:
    """An answer that must not be: to what, and what is wrong with it."""

    sent: str
    what: str


@dataclass
class Fuzzer:
    """Draws requests, sends them and judges the answers.

    Attributes:
        slowest_s: most processor time that one answer took [s]; and to what.
    """

    client: TestClient
    rng: np.random.Generator
    slug: str
    days: Sequence[str]
    sent: int = 0
    slowest_s: float = 0.0
    slowest: str = ""
    faults: list[Fault] = field(default_factory=list)
    forms: dict[str, SeenForm] = field(default_factory=dict)
    links: set[str] = field(default_factory=set)

    def run(self, count: int) -> None:
        """Sends so many requests, every route among the first."""
        for method, path in self._routes():
            if self.sent < count:
                self._send(method, self._filled(path, is_fair=True), OWN_PAGE)
        while self.sent < count:
            draw = self.rng.random()
            if draw < 0.3:
                self._look()
            elif draw < 0.75:
                self._post()
            elif draw < 0.9:
                self._oddly()
            else:
                method, path = self._one(list(self._routes()))
                self._send(method, self._filled(path), OWN_PAGE)

    # ---- what is sent ----------------------------------------------------------------------------

    def _routes(self) -> Iterator[tuple[str, str]]:
        for route in iter_route_contexts(app_of(self.client).routes):
            for method in sorted(getattr(route, "methods", ()) or ()):
                if route.path:
                    yield method, route.path

    def _one(self, of: Sequence[Any]) -> Any:
        return of[int(self.rng.integers(len(of)))]

    def _filled(self, path: str, is_fair: bool = False) -> str:
        fair = {"slug": self.slug, "day": self._one(self.days), "week": "2026-07-20"}
        parts = []
        for part in path.split("/"):
            name = part.strip("{}").partition(":")[0]
            value = fair.get(name, "start") if part.startswith("{") else part
            if part.startswith("{") and not is_fair and self.rng.random() < 0.4:
                value = self._hostile(value)[:3_000]
            parts.append(quote(value, safe=""))
        return "/".join(parts)

    def _hostile(self, value: str) -> str:
        piece = str(self._one(HOSTILE))
        draw = self.rng.random()
        if draw < 0.6:
            return piece
        at = int(self.rng.integers(len(value) + 1))
        if draw < 0.85:
            return value[:at] + piece + value[at:]
        return value[:at] + value[at + 1 :] if draw < 0.95 else value * 50

    def _look(self) -> None:
        """A page whose address has hostile parts or asks hostile things."""
        path = str(self._one(sorted(self.links) or ["/"]))
        shown = [form for form in self.forms.values() if form.method == "GET"]
        asked = {str(self._one(NAMES)): self._hostile("2026-07-18")[:3_000] for _ in range(2)}
        said = parse_qsl(urlsplit(path).query, keep_blank_values=True)
        if said:
            asked = dict(self._changed(said, 1_000))
        elif shown and self.rng.random() < 0.5:
            form = self._one(shown)
            path, asked = form.action, dict(self._changed(form.fields, 3_000))
        base = path.partition("?")[0].partition("#")[0]
        self._send("GET", f"{base}?{urlencode(asked)}", OWN_PAGE)

    def _post(self) -> None:
        """A form of a page with some hostile fields, now and then with a file."""
        forms = [form for form in self.forms.values() if form.method == "POST"]
        if not forms:
            self._send("GET", f"/{self.slug}/site", OWN_PAGE)
            return
        form = self._one(forms)
        fields = self._changed(form.fields, LONG)
        if form.files:
            name = self._hostile("a.csv")[:200].replace("\r", "").replace("\n", "")
            files = {form.files[0]: (name, self._one(FILES), "text/csv")}
            self._send("POST", form.action, OWN_PAGE, data=_as_sent(fields), files=files)
        else:
            self._send("POST", form.action, OWN_PAGE, data=_as_sent(fields))

    def _changed(self, fields: Sequence[tuple[str, str]], most: int) -> list[tuple[str, str]]:
        """Fields of a form, one to three of them hostile, some left out or sent twice."""
        sent = list(fields)
        free = [at for at, (name, _value) in enumerate(sent) if name != "form_token"]
        for _ in range(int(self.rng.integers(1, 4)) if free else 0):
            at = self._one(free)
            name, value = sent[at]
            sent[at] = (name, self._hostile(value)[:most])
        draw = self.rng.random()
        if free and draw < 0.1:
            sent.pop(self._one(free))
        elif free and draw < 0.2:
            sent.append(sent[self._one(free)])
        elif draw < 0.25:
            sent.append((MARKUP, MARKUP))
        return sent

    def _oddly(self) -> None:
        """A fair address asked for with hostile headers, cookies, methods or bodies."""
        path = str(self._one(sorted(self.links) or ["/"]))
        headers = dict(OWN_PAGE)
        body = b""
        draw = self.rng.random()
        method = "GET"
        if draw < 0.4:
            name, value = self._one(HEADERS)
            headers[name] = value
        elif draw < 0.7:
            own = "; ".join(f"{name}={value}" for name, value in self.client.cookies.items())
            headers["Cookie"] = f"{self._one(COOKIES)}; {own}"
        else:
            method, body = self._one(METHODS), self._one(FILES)
            name, value = self._one(HEADERS)
            headers[name] = value
        self._send(method, path, headers, content=body)

    # ---- what comes back -------------------------------------------------------------------------

    def _send(self, method: str, path: str, headers: dict[str, str], **body: Any) -> None:
        said = f"{method} {path[:300]} {headers} {str(body)[:600]}"
        given = [(name.encode("latin-1"), text.encode("latin-1")) for name, text in headers.items()]
        before = time.process_time()
        answer = self.client.request(method, path, headers=given, follow_redirects=False, **body)
        spent_s = time.process_time() - before
        self.sent += 1
        if spent_s > self.slowest_s:
            self.slowest_s, self.slowest = spent_s, said
        self.faults += [Fault(said, what) for what in faults_of(answer)]
        self._learn(answer)

    def _learn(self, answer: Response) -> None:
        """Takes up the forms and links of every other page, with their fresh tokens and keys."""
        where = answer.headers.get("location", "")
        if where.startswith("/"):
            self.links.add(where.partition("#")[0])
        is_page = answer.headers.get("content-type", "").startswith("text/html")
        if not is_page or (self.forms and self.rng.random() < 0.5):
            return
        seen = Seen(answer.text)
        fair = [link for link in seen.links if len(link) < 200 and MARK not in link]
        self.links.update(fair[: max(0, 2_000 - len(self.links))])
        for form in seen.forms:
            if urlsplit(form.action).path.startswith("/") and MARK not in form.action:
                self.forms[f"{form.method} {form.action}"] = form


def _as_sent(fields: Sequence[tuple[str, str]]) -> dict[str, list[str]]:
    sent: dict[str, list[str]] = {}
    for name, value in fields:
        sent.setdefault(name, []).append(value)
    return sent


def faults_of(answer: Response) -> list[str]:
    """What an answer must not be or hold, whatever was asked."""
    found = []
    if answer.status_code >= 500:
        found.append(f"status {answer.status_code}")
    head = "\n".join(f"{name}: {value}" for name, value in answer.headers.items())
    if f"set-cookie: {MARK}" in head.lower():
        found.append("a header of the request's making")
    if answer.headers.get("content-security-policy", "").partition(";")[0] != "default-src 'none'":
        found.append("no policy")
    if answer.headers.get("content-type", "").startswith("text/html"):
        text = answer.text
        found += [f"reflects {raw}" for raw in RAW if raw in text]
        if "Traceback (most recent call last)" in text:
            found.append("a traceback")
    return found
