"""About the model: how long cloth lasts, and when it is changed."""

from __future__ import annotations

from markupsafe import Markup

from app.catalogue import _
from app.web.contexts.about_parts import Equation, Part


def life() -> Part:
    """The part of the page."""
    return Part(
        "life",
        _("Life of cloth"),
        _("Learnt from a site’s own sets, those included that have not worn out."),
        (
            _(
                "Ages are counted in full-wipe equivalents. Shape and scale of life start as "
                "guesses; each set changes what is believed of them by its likelihood, on a grid, "
                "without chance. A set that is still on, was changed on plan, torn by accident or "
                "stolen tells only that it would have lasted longer."
            ),
            _(
                "That cloth wears out by a Weibull law, that strips get shorter, lighter and torn "
                "in proportion to wear, and how parts of a set would last are assumptions: nobody "
                "has published lives of such cloth."
            ),
        ),
        (
            Equation(
                _("Life"),
                (Markup("<i>R</i>(<i>t</i>) = exp(−(<i>t</i> ÷ <i>η</i>)<sup><i>β</i></sup>)"),),
                _("R share of sets that outlast the age t, β shape, η scale of life."),
            ),
            Equation(
                _("Cost of changing at an age"),
                (
                    Markup(
                        "<i>C</i>(<i>T</i>) = [<i>c</i><sub>p</sub> <i>R</i>(<i>T</i>) + "
                        "<i>c</i><sub>u</sub> (1 − <i>R</i>(<i>T</i>)) + "
                        "∫₀<sup><i>T</i></sup> <i>R d</i> d<i>t</i>] ÷ "
                        "∫₀<sup><i>T</i></sup> <i>R</i> d<i>t</i>"
                    ),
                ),
                _(
                    "T age at a planned change, c_p and c_u cost of a planned and of an unplanned "
                    "change, d cost of the cars that leave damp because the cloth is worn; each "
                    "term is the mean over what is believed of the life. T is best where C is "
                    "least."
                ),
            ),
        ),
    )
