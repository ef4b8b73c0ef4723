"""How many of each shift cover what is needed at least cost: an integer program.

Set covering with general covers (Dantzig 1954, Operations Research 2:339–341): the least
Σ cost·count with Σ cover·count ≥ needed, counts whole and ≥ 0. Solved by HiGHS.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import csr_array

OPTIMAL = 0
"""Status by which the solver says that it has proved its answer the best."""
INFEASIBLE = 2
"""Status by which the solver says that it has proved that there is no answer."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of each shift.

    Attributes:
        counts: shape (columns,); whole numbers where they have to be.
        cost: of them all, in the unit of the costs given.
        lp_bound: the same with counts that need not be whole; nothing can cost less.
        bound: the solver's own, at least `lp_bound`; nothing can cost less either.
    """

    counts: np.ndarray
    cost: float
    lp_bound: float
    bound: float


def cover_counts(
    cost: np.ndarray,
    covers: np.ndarray | csr_array,
    needed: np.ndarray,
    side: LinearConstraint | None = None,
    whole: np.ndarray | None = None,
    most_s: float = 60.0,
) -> Counts | None:
    """The cheapest counts that cover; None where none were found.

    Args:
        cost: shape (columns,), of one shift each.
        covers: shape (periods, columns), people that one of a shift gives to a period.
        needed: shape (periods,).
        side: further rows that the counts must meet.
        whole: shape (columns,), 1 where a count is a whole number; everywhere if not given.
        most_s: time after which the best counts so far are taken [s].
    """
    rows = [LinearConstraint(covers, needed, np.inf)]
    if side is not None:
        rows.append(side)
    free = milp(cost, constraints=rows)
    if free.x is None:
        return None
    kinds = np.ones(len(cost)) if whole is None else whole
    options = {"mip_rel_gap": 0.0, "time_limit": max(0.1, most_s)}
    found = milp(cost, constraints=rows, integrality=kinds, options=options)
    if found.x is None:
        return None
    counts = np.where(kinds > 0, np.rint(found.x), found.x)
    bound = max(float(free.fun), float(found.mip_dual_bound))
    return Counts(counts, float(cost @ counts), float(free.fun), bound)
