"""A server that is told to end by a signal, as service managers do: a process of its own."""

from __future__ import annotations

import json
import signal
import socket
from pathlib import Path

from tests.opened import opened
from tests.running.units import unit

HALF, REST = b"name=x&code", b"=00&more=y"
HEAD = (
    b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded"
    b"\r\nContent-Length: %d\r\n\r\n" % len(HALF + REST)
)


def is_closed(address: tuple[str, int]) -> bool:
    """Whether nothing listens at an address any more."""
    with socket.socket() as probe:
        return probe.connect_ex(address) != 0


def test_a_request_under_way_is_answered_then_all_ends(tmp_path: Path) -> None:
    """The unit's command is begun, and SIGTERM comes while a form is half sent: nobody else is let
    in, the rest of the form is still taken and answered, then the server, with the process that
    computes, ends of itself and tells so in its log, in which every line is JSON."""
    told = {"CLOTHCAST_DATA_DIR": str(tmp_path), "CLOTHCAST_AHEAD_S": "0"}
    with opened(unit()["ExecStart"].split()[1:], told) as served:
        one, asks, address = served.process, served.client, ("127.0.0.1", served.port)
        assert asks.get("/health/ready").json()["is_ready"] is True
        assert "clothcast_info" in asks.get("/metrics").text
        assert asks.get("/guide").status_code == 200
        with socket.create_connection(address) as under_way:
            under_way.settimeout(60)
            under_way.sendall(HEAD + HALF)
            asks.get("/health/live")  # what was sent before has been taken
            asks.close()
            one.send_signal(signal.SIGTERM)
            while not is_closed(address):
                assert one.poll() is None
            under_way.sendall(REST)
            with under_way.makefile("rb") as answer:
                said = answer.read()
        _out, log = one.communicate(timeout=60)
    assert said.startswith(b"HTTP/1.1 403 ")
    assert b"Nothing was stored" in said
    lines = [json.loads(line) for line in log.splitlines()]
    events = [(line["event"], line.get("route"), line.get("status")) for line in lines]
    assert events[0] == ("started", None, None)
    assert events[-2:] == [("request", "/sign-in", 403), ("ended", None, None)]
    assert one.returncode in (0, -signal.SIGTERM)
