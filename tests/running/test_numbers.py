"""The numbers of a server are of the open text format, and are what happened."""

from __future__ import annotations

import pytest

from app.running.numbers import Family, Requests, by_label, exposition, gauge
from tests.running.open_format import Wrong, read

EXAMPLE = """\
# TYPE acme_http_router_request_seconds summary
# UNIT acme_http_router_request_seconds seconds
# HELP acme_http_router_request_seconds Latency though all of ACME's HTTP request router.
acme_http_router_request_seconds_sum{path="/api/v1",method="GET"} 9036.32
acme_http_router_request_seconds_count{path="/api/v1",method="GET"} 807283.0
# TYPE go_goroutines gauge
# HELP go_goroutines Number of goroutines that currently exist.
go_goroutines 69
# TYPE process_cpu_seconds counter
# UNIT process_cpu_seconds seconds
# HELP process_cpu_seconds Total user and system CPU time spent in seconds.
process_cpu_seconds_total 4.20072246e+06
# EOF
"""
"""Of the example of a complete exposition in the standard (OpenMetrics, section “Overall
Structure”), without its optional timestamps and second path."""


def test_the_reader_reads_the_standards_example() -> None:
    """What the tests hold Clothcast's numbers against reads the published example."""
    found = read(EXAMPLE)
    assert found["process_cpu_seconds"].values == {("process_cpu_seconds_total", ""): 4200722.46}
    assert found["go_goroutines"].type == "gauge"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("# EOF\n", ""),
        ("go_goroutines 69", "go_goroutines sixty"),
        ("go_goroutines 69", "go_goroutines 69\ngo_goroutines 70"),
        ("go_goroutines 69", "go-goroutines 69"),
        ("process_cpu_seconds_total", "process_cpu_seconds"),
        ("go_goroutines gauge", "go_goroutines gage"),
        ("_cpu_seconds seconds", "_cpu_seconds meters"),
        ('"/api/v1",method="GET"} 9', '"/api/"v1",method="GET"} 9'),
        ("go_goroutines 69\n", "go_goroutines 69\n\n"),
    ],
)
def test_the_reader_refuses_what_is_not_of_the_format(old: str, new: str) -> None:
    """A missing end, an odd number, name, type, unit, quote or line, a sample twice."""
    assert old in EXAMPLE
    with pytest.raises(Wrong):
        read(EXAMPLE.replace(old, new))


def test_requests_are_counted_and_timed() -> None:
    """Counts by method, route and status; buckets cumulate, a time at a bucket's end is in it."""
    requests = Requests()
    for seconds in (0.005, 0.01, 0.02, 4.0, 99.0):
        requests.note("GET", "/{slug}/today", 200, seconds)
    requests.note("POST", "/sign-in", 422, 0.2)
    found = read(exposition(requests.families()))
    counts = found["clothcast_requests"].values
    label = 'method="GET",route="/{slug}/today",status="200"'
    assert counts["clothcast_requests_total", label] == 5
    assert len(counts) == 2
    times = found["clothcast_request_seconds"].values
    name, route = "clothcast_request_seconds", 'route="/{slug}/today"'
    buckets = {
        end: times[f"{name}_bucket", f'{route},le="{end}"'] for end in ("0.01", "1.0", "+Inf")
    }
    assert buckets == {"0.01": 2, "1.0": 3, "+Inf": 5}
    assert times[f"{name}_sum", route] == pytest.approx(103.035)


def test_what_is_odd_in_a_text_is_escaped() -> None:
    """Quotes, backslashes and line ends in a help or a label break no line."""
    odd = 'a "b" \\ c\nd'
    found = read(exposition([
        by_label("things", odd, "of", {odd: 3}), gauge("age_seconds", "How old.", 1e-7, "seconds"),
        Family("", "info", "What.", (("_info", (("version", odd),), 1),)),
    ]))  # fmt: skip
    escaped = 'a \\"b\\" \\\\ c\\nd'
    assert found["clothcast_things"].values == {("clothcast_things", f'of="{escaped}"'): 3}
    assert found["clothcast_things"].help == escaped
    assert found["clothcast_age_seconds"].values["clothcast_age_seconds", ""] == 1e-7
