"""SciPy's special functions under their own names, loaded when the first of them is called.

What SciPy loads together with them takes longer than all of NumPy, and a page that shows what is
stored calls none.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any


def _late(name: str) -> Callable[..., Any]:
    """A function of `scipy.special` by its name."""

    def function(*given: Any, **named: Any) -> Any:
        return _loaded(name)(*given, **named)

    return function


@cache
def _loaded(name: str) -> Callable[..., Any]:
    from scipy import special

    found: Callable[..., Any] = getattr(special, name)
    return found


betainc = _late("betainc")
betaincinv = _late("betaincinv")
betaln = _late("betaln")
chdtri = _late("chdtri")
erfcx = _late("erfcx")
expit = _late("expit")
gamma = _late("gamma")
gammainc = _late("gammainc")
gammaincinv = _late("gammaincinv")
gammaln = _late("gammaln")
log_ndtr = _late("log_ndtr")
logit = _late("logit")
logsumexp = _late("logsumexp")
ndtr = _late("ndtr")
ndtri = _late("ndtri")
pdtr = _late("pdtr")
stdtr = _late("stdtr")
stdtrit = _late("stdtrit")
xlog1py = _late("xlog1py")
xlogy = _late("xlogy")
