"""The same day as the SimPy model, compiled: an event loop over the same cars and numbers."""

from sim.day.kernel.days import FlowResult, Run, closing, figures, flow, is_coupled, run, run_day
from sim.day.kernel.hindsight import Nodes
from sim.day.kernel.many import TALLY
from sim.day.kernel.searching import best_of_plans, foresight, tallies
from sim.day.kernel.tables import Tables, make_tables
from sim.day.kernel.warm import warm

__all__ = [
    "TALLY",
    "FlowResult",
    "Run",
    "Tables",
    "Nodes",
    "best_of_plans",
    "closing",
    "figures",
    "flow",
    "foresight",
    "is_coupled",
    "make_tables",
    "run",
    "run_day",
    "tallies",
    "warm",
]
