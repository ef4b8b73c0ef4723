"""About the model: how many people a half-hour needs."""

from __future__ import annotations

from markupsafe import Markup

from app.catalogue import _
from app.web.contexts.about_parts import Equation, Part


def staff_part() -> Part:
    """The part of the page."""
    return Part(
        "staff",
        _("People"),
        _("Formulas begin, the simulation decides."),
        (
            _(
                "In the model only loaders move cars: their number by half-hour is searched for "
                "on the same simulated days. Everybody else is counted: their work may take no "
                "more than the target use of their time."
            ),
            _(
                "The formulas take service times as exponential and nobody as giving up, so they "
                "ask for more where lines are long; each takes its half-hour for itself, so they "
                "miss the line left over from the one before."
            ),
        ),
        (
            Equation(
                _("Share of cars that wait"),
                (
                    Markup("<i>B</i>(<i>c</i>) = <i>aB</i>(<i>c</i> − 1) ÷ "
                           "(<i>c</i> + <i>aB</i>(<i>c</i> − 1))"),
                    Markup("<i>C</i> = <i>B</i> ÷ (1 − (<i>a</i> ÷ <i>c</i>)(1 − <i>B</i>))"),
                    Markup("<i>P</i>(wait &gt; <i>t</i>) = "
                           "<i>C</i> exp(−(<i>c</i> − <i>a</i>)<i>t</i> ÷ <i>s</i>)"),
                ),
                _("c servers, a offered load, s mean service time (Erlang 1917)."),
            ),
            Equation(
                _("Offered load over a day"),
                (Markup("<i>m</i>′ = <i>λ</i>(<i>t</i>) − <i>m</i> ÷ <i>s</i>"),),
                _("λ arrivals per second; the load lags them (Eick, Massey and Whitt 1993)."),
            ),
        ),
    )  # fmt: skip
