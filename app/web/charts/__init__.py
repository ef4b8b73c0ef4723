"""Charts as inline SVG."""

from app.web.charts.by_hour import Chart, hourly_charts

__all__ = ["Chart", "hourly_charts"]
