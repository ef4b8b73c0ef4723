"""The same day as the SimPy model, compiled: an event loop over the same cars and numbers."""

from sim.day.kernel.days import FlowResult, figures, flow, is_coupled, run_day
from sim.day.kernel.tables import make_tables
from sim.day.kernel.warm import warm

__all__ = ["FlowResult", "figures", "flow", "is_coupled", "make_tables", "run_day", "warm"]
