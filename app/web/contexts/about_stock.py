"""About the model: sets in rotation, orders and stock."""

from __future__ import annotations

from markupsafe import Markup

from app.catalogue import _
from app.web.contexts.about_parts import Equation, Part


def stock() -> Part:
    """The part of the page."""
    return Part(
        "stock",
        _("Sets and orders"),
        _("A season’s dates come from many futures; the standing rule from textbooks."),
        (
            _(
                "Each future of a year draws how far demand lies from what is expected, the luck "
                "of days, how long each set lasts, and how long a delivery takes. Sets take turns "
                "from one laundry to the next. What is not known of how much a car wears cloth is "
                "not in the windows."
            ),
            _(
                "A set that is away for laundry and drying comes back at a rate; the wheel is the "
                "one server of a queue with finite source. With every time random that is the "
                "cautious end; a loop over the site’s own times and calendar stands beside it."
            ),
        ),
        (
            Equation(
                _("When to order"),
                (
                    Markup(
                        "<i>s</i> = <i>d L</i> + <i>z</i> √(<i>L σ</i><sub>d</sub>² + "
                        "<i>d</i>² <i>σ</i><sub>L</sub>²)"
                    ),
                ),
                _(
                    "s sets in store and on order at which to order, d sets a day, L delivery "
                    "time, σ their standard deviations, z what the wished chance takes; made "
                    "whole, and raised until the Poisson distribution agrees."
                ),
            ),
            Equation(
                _("How many"),
                (Markup("<i>Q</i> = √(2 <i>K D</i> ÷ (<i>i c</i>))"),),
                _(
                    "D sets a year, K cost of an order, i share of the price c that keeping one "
                    "for a year costs; the whole number of least yearly cost under price breaks."
                ),
            ),
            Equation(
                _("Chance that a change finds no dry set"),
                (
                    Markup("<i>p</i><sub>1</sub> ÷ (1 − <i>p</i><sub>0</sub>)"),
                    Markup(
                        "<i>p</i><sub><i>n</i></sub> ÷ <i>p</i><sub><i>n</i>−1</sub> = "
                        "(<i>N</i> − <i>n</i> + 1) <i>λ</i> ÷ <i>μ</i>"
                    ),
                ),
                _(
                    "N sets, of which n are on the wheel or ready; 1 ÷ λ time away, 1 ÷ μ time on "
                    "the wheel."
                ),
            ),
        ),
    )
