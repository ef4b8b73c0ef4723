"""Charts as inline SVG."""

from app.charts.by_hour import Chart, hourly_charts

__all__ = ["Chart", "hourly_charts"]
