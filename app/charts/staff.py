"""People by half-hour drawn: a bar for those needed, a line across it for those planned."""

from __future__ import annotations

from collections.abc import Sequence

from app.catalogue import _
from app.charts import marks
from app.charts.marks import Chart, Key, Scale
from app.words.numbers import clock
from sim.decide.staff.answer import HalfHour

TOP, FLOOR = 22.0, 226.0
"""Frame of the bars [px]."""
LEFT = 4.0
"""Room for the numbers beside them [%]."""
HALF_BAR = 0.175
"""Half the width of a bar [h]."""


def staff_chart(rows: Sequence[HalfHour]) -> Chart:
    """Draws the half-hours of an answer; at least one. The table beside it is the page's own."""
    first, last = rows[0].start_h, rows[-1].start_h + 0.5
    most = max(1, *(max(row.people, row.planned) for row in rows))
    x, y = Scale(first, last, LEFT, 100.0), Scale(0.0, most, FLOOR, TOP)
    drawn = []
    for row in rows:
        left, right = x(row.start_h + 0.25 - HALF_BAR), x(row.start_h + 0.25 + HALF_BAR)
        says = _(
            "{time}: {needed} needed, {planned} planned",
            time=clock(row.start_h),
            needed=row.people,
            planned=row.planned,
        )
        needed = marks.bar("wet", (left, right, y(row.people), FLOOR))
        planned = [marks.across("would", y(row.planned), left, right)] if row.planned else []
        drawn.append(marks.told(says, needed, *planned))
    step = 1 if most <= 6 else 5
    every = 1 if last - first <= 16.0 else 2
    hours = [h for h in range(int(first) + 1, int(last) + 1) if h < last and h % every == 0]
    svg = marks.picture(
        _("People needed and planned by half-hour; the same figures are in the table below."),
        FLOOR + marks.FOOT_PX,
        marks.grid(y, range(step, most + 1, step)),
        marks.floor(FLOOR, [(x(hour), str(hour)) for hour in hours]),
        *drawn,
    )
    key = (
        Key(marks.BAR, _("people needed")),
        Key(marks.DASH, _("planned, by the site’s timetable")),
    )
    return Chart("people", "", "", svg, (), (), key)
