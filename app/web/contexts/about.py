"""About the model: equations, sources, what is verified, what is not, what was left out."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from app.catalogue import _
from app.web.cautions import Notice, deference
from app.web.contexts.about_crew import crew_words
from app.web.contexts.about_life import life
from app.web.contexts.about_parts import Equation, Part
from app.web.contexts.about_staff import staff_part
from sim.inputs import INPUTS


@dataclass(frozen=True, slots=True)
class AboutPage:
    """The page."""

    answer: str
    sure: str
    parts: tuple[Part, ...]
    notices: tuple[Notice, ...]


def about_page() -> AboutPage:
    """Fills the page."""
    guesses = sum(1 for row in INPUTS.values() if row.is_guess)
    return AboutPage(
        _(
            "A day is played through car by car, many times, and every drop of water is accounted "
            "for. The equations are checked; no car wash has been measured for them."
        ),
        _(
            "Of {count} inputs, {guesses} are guesses until a site enters its own. Nothing here "
            "was measured at a car wash.",
            count=len(INPUTS),
            guesses=guesses,
        ),
        (_line(), _belt(), _water(), _cloth(), life(), _damp(), Part("crew", *crew_words()),
         staff_part(), _sure_words(), _choice(), _verified(), _validated(), _left_out(),
         _sources()),
        (deference(),),
    )  # fmt: skip


def _line() -> Part:
    return Part(
        "line",
        _("The line"),
        _("From the street to the belt."),
        (
            _(
                "Cars arrive at random around the expected number of each hour, and whole days "
                "differ from one another as real days do. A car that finds the stack full drives "
                "away. So does one that sees a longer wait than it has patience for; leaving "
                "after having joined the line is not modelled."
            ),
            _(
                "Payment takes place in lanes side by side. A car that has paid moves up into the "
                "loading line; if that is full it stays in its lane and the lane stays blocked. So "
                "a slow belt first fills the loading line, then blocks the lanes, then fills the "
                "stack, then loses cars."
            ),
            _(
                "How far days come out from what is expected is told from your counts, in three "
                "parts: by how much days differ, by how much an hour differs from what its day "
                "leads to expect, and how far the mean of like days is off, for past days were "
                "held against the mean of the days before them. The first two are luck of the "
                "day; the third is drawn with your site, as what is not known. All three are "
                "gamma distributed with mean 1. With few counts the guesses of the Site page "
                "weigh in, and what you entered yourself holds."
            ),
            _(
                "Cars that come within the hour behave as a Poisson process with the hour’s rate; "
                "times for paying and loading follow the kinds of distribution entered on the Site "
                "page."
            ),
        ),
    )


def _belt() -> Part:
    return Part(
        "belt",
        _("The belt"),
        _("Pushers are counted, not measured."),
        (
            _(
                "A car takes the first pusher that comes after it is loaded and that keeps the "
                "spacing and the least gap to the car before. Stops of the belt freeze everything "
                "on it; a timetable may change its speed."
            ),
        ),
        (
            Equation(
                _("Pushers between two cars"),
                (
                    Markup(
                        "<i>k</i> = ⌈ (max(<i>s</i>, <i>ℓ</i> + <i>g</i>) − <i>o</i>′"
                        " + <i>o</i>) ÷ <i>p</i> ⌉"
                    ),
                ),
                _(
                    "s car spacing, ℓ length of the car before, g least gap, o and o′ distance "
                    "from nose to pushed wheel of this car and of the one before, p distance "
                    "between pushers; ⌈ ⌉ rounds up to a whole pusher."
                ),
            ),
            Equation(
                _("Most cars an hour"),
                (
                    Markup(
                        "<i>n</i> = 3600 ÷ (<i>p</i> · mean <i>k</i> ÷ <i>v</i> · e<sup><i>a</i>"
                        "</sup> + <i>c</i> <i>S</i> (e<sup><i>a</i></sup> − 1) ÷ <i>a</i>)"
                    ),
                ),
                _(
                    "v conveyor speed in m/s, S mean length of a stop, a stops per second times S "
                    "(stops may overlap), c stops per car; mean k over lengths of cars."
                ),
            ),
        ),
    )


def _water() -> Part:
    return Part(
        "water",
        _("Water on the car, and what the cloth takes"),
        _("Zone by zone, in the order hood, windshield, roof, rear."),
        (
            _(
                "What rinse and blowers leave is a film, in grams on each square metre, different "
                "from car to car. As a zone comes under the wheel, dry cloth takes most of it and "
                "wet cloth little; what it doesn’t take leaves with the car. A reduced wipe ends "
                "after the windshield."
            ),
        ),
        (
            Equation(
                _("Film at the wheel"),
                (
                    Markup(
                        "<i>f</i> = <i>φ</i> · <i>f</i><sub>0</sub> · (1 − <i>B</i>)"
                        "<sup>(<i>v</i>₀ ÷ <i>v</i>)ᵐ</sup> · e<sup><i>σZ</i></sup>"
                    ),
                ),
                _(
                    "φ factor of the zone, f₀ film after rinse, B share that the blowers remove at "
                    "speed v₀, m how that weakens with speed, Z a standard normal number of the "
                    "car."
                ),
            ),
            Equation(
                _("Share taken by the cloth"),
                (
                    Markup("<i>κ</i> = <i>ε</i> (1 − e<sup>−<i>t</i> ÷ <i>τ</i></sup>)"),
                    Markup(
                        "water taken = <i>C</i> (1 − <i>S</i>) "
                        "(1 − e<sup>−<i>κ f a</i> ÷ <i>C</i></sup>)"
                    ),
                ),
                _(
                    "ε what dry cloth takes at most, less as it wears; t contact length ÷ v; τ "
                    "time constant of wiping; a wiped area, C all water that the cloth can hold, S "
                    "its saturation at that moment. For much cloth this is κ (1 − S) f a."
                ),
            ),
        ),
    )


def _cloth() -> Part:
    return Part(
        "cloth",
        _("Throwing off and drying"),
        _("Solved exactly from event to event, without time steps."),
        (
            _(
                "A turning wheel throws water off until a limit is reached that depends on its "
                "speed; between cars it turns faster and throws more. Air dries the cloth, quickly "
                "while it is wet and more slowly below a critical moisture. At night it hangs "
                "still and starts the next day with what is left."
            ),
        ),
        (
            Equation(
                _("Throw-off"),
                (
                    Markup(
                        "d<i>X</i> ÷ d<i>t</i> = −(<i>X</i> − <i>X</i>ₑ) ÷ <i>T</i>"
                        " while <i>X</i> &gt; <i>X</i>ₑ"
                    ),
                    Markup("<i>X</i>ₑ ∝ <i>n</i><sup>−2<i>b</i></sup>"),
                    Markup("<i>T</i> ∝ <i>n</i><sup>−2<i>c</i></sup>"),
                ),
                _(
                    "X moisture in kg of water per kg of dry cloth, Xₑ the moisture where "
                    "throw-off ends, T its time constant, n wheel speed."
                ),
            ),
            Equation(
                _("Drying"),
                (
                    Markup(
                        "<i>R</i> = (<i>h A</i> (<i>T</i> − <i>T</i><sub>w</sub>) + <i>P</i>)"
                        " ÷ <i>λ</i>"
                    ),
                ),
                _(
                    "in kg/s above the critical moisture, falling in proportion below it; h heat "
                    "transfer of air along a flat strip, A exposed area, T temperature and Tw "
                    "wet-bulb temperature of the tunnel’s air, P friction heat, λ latent heat of "
                    "water."
                ),
            ),
            Equation(
                _("Wear"),
                (Markup("wear ∝ load × sliding distance"),),
                _("counted in full-wipe equivalents: one reference car wiped in full is 1."),
            ),
            Equation(
                _("Cost"),
                (Markup("work beyond = Σ max(0, work − people present)"),),
                _(
                    "by half-hour, at the wage: work that fits into the time of people who are "
                    "paid anyway costs nothing more. With wages, towels, laundry, wear, re-washes, "
                    "cars lost at what a car leaves today, damp cars and reduced wipes it adds up "
                    "to the cost of a day, the same on every page. The guide has the list."
                ),
            ),
        ),
    )


def _damp() -> Part:
    return Part(
        "damp",
        _("When a car counts as damp"),
        _("The same measure for full and for reduced wipes."),
        (
            _(
                "A car is damp when the film left on its hood or on its windshield is above the "
                "allowed film. Roof and rear are reported apart. Damp limit and allowed film are "
                "two names of one thing; a site enters whichever it can see."
            ),
        ),
    )


def _sure_words() -> Part:
    return Part(
        "sure",
        _("How sure, in words"),
        _("Three kinds of range. They are never mixed."),
        points=(
            (
                _("Day range"),
                _(
                    "What single days do: of 20 days like this one, 18 lie within it. It holds "
                    "that the expected number of cars itself may be off, as the day that comes "
                    "will. It doesn’t shrink much, because days differ."
                ),
            ),
            (
                _("Site uncertainty"),
                _(
                    "Where the expected value may lie at your site: of 20 sites like yours, 18 lie "
                    "within it. Every number that you haven’t entered is drawn at random from the "
                    "range in which it is believed to lie, and sites so drawn are told apart on "
                    "days that they share, so that the luck of days is no part of it. It shrinks "
                    "with every number that you measure. Where only few "
                    "days are simulated, no sites are drawn: then there is no such range, and "
                    "every number is shown as if the guesses were right."
                ),
            ),
            (
                _("Run error"),
                _(
                    "The simulation’s own error, from playing a limited number of days. It is "
                    "shown only where figures are explained, and no figure is printed finer than "
                    "it, nor finer than about a tenth of its site uncertainty."
                ),
            ),
            (
                _("Clearly, probably"),
                _(
                    "“Clearly”: by more than you said matters, and the same way in 19 of 20 sites "
                    "like yours; “probably”: in 16 of 20. “A little”: in 16 of 20, but by less "
                    "than matters. “Hardly differs”: in 9 of 10 by less than matters. “Can’t "
                    "tell”: either way. Where no sites were drawn, the same is said of simulated "
                    "days."
                ),
            ),
            (
                _("What widens a range most"),
                _(
                    "The share of a range’s variance that goes with an input over the drawn sites. "
                    "A measurement’s share is the sum over the inputs that it tells; how much "
                    "narrower it would make the range is said as if it left nothing of them open."
                ),
            ),
            (
                _("Firm"),
                _(
                    "No advice is called firm before the site has its own holding capacity, damp "
                    "limit and throw-off moisture, and then only if it holds clearly."
                ),
            ),
        ),
    )


def _choice() -> Part:
    return Part(
        "choice",
        _("How a wiping rule is chosen"),
        _(
            "In four steps, the same for every wish. What matters is the site’s own input: cars, "
            "money or a share of damp cars a day. Where no rule keeps to the allowed share, the "
            "first step leaves those that miss it by no more than matters beyond the one that "
            "misses by least."
        ),
        points=(
            (
                _("Keeps"),
                _(
                    "The allowed share of damp cars and the limits of switching, with four "
                    "chances in five by the luck of the simulated days. Every change of the "
                    "wiping from one car to the next is a switch."
                ),
            ),
            (
                _("As good"),
                _(
                    "Every rule that is surely, 19 chances in 20, within what matters of the one "
                    "that wipes most cars in full or, by least cost, costs least."
                ),
            ),
            (
                _("Simplest"),
                _(
                    "Always full; the same all day; one clock window; a band; several windows; "
                    "windows and bands combined; by vehicle class. Of one kind the rounder numbers."
                ),
            ),
            (_("Then"), _("The most full wipes, then the least cost.")),
            (
                _("Too close to tell"),
                _(
                    "The whole order is gone through again a thousand times with the days weighted "
                    "at random. Where it ends at another rule more often than once in 20, that "
                    "rule is named with what it differs in."
                ),
            ),
            (
                _("Days of 10"),
                _(
                    "On how many of 100 days a rule keeps to the allowed share is counted on 1,024 "
                    "days that its choice has not seen."
                ),
            ),
        ),
    )


def _verified() -> Part:
    return Part(
        "verified",
        _("What is verified"),
        _("Code against equations."),
        (
            _(
                "Tests that come with the program compare it with results that others have "
                "published or computed: waiting times of queues with one and with several places "
                "of service, blocking between two stations, capacity of the belt, wet-bulb "
                "temperature and humidity of air, heat transfer along a plate, two published sets "
                "of lives, the exact solution of throwing off and drying against a solver of "
                "differential equations."
            ),
            _(
                "On every simulated day the water adds up: at the start + taken = thrown off + "
                "evaporated + at the end + carried away with changed sets. So do the cars. Each "
                "term is added up on its own; none is the rest of the others."
            ),
        ),
    )


def _validated() -> Part:
    return Part(
        "validated",
        _("What is validated"),
        _("Equations against the world."),
        (
            _(
                "Nothing. No car wash has been measured for this model. Until your own strips are "
                "weighed and your own cars counted, figures rest on guesses and on equations that "
                "nobody has tried on a wheel. The site uncertainty covers the guesses, not the "
                "equations. Differences between scenarios are more reliable than either of them."
            ),
            _(
                "Three weighings tell most of what is unknown: a soaked strip that has stopped "
                "dripping, a strip at the moment when cars begin to come out damp, one strip on a "
                "busy afternoon. Each is judged by what its own day had, and one site in twenty is "
                "taken to be unlike what was believed of it, so that what was counted moves every "
                "plan even where the model does not explain it."
            ),
        ),
    )


def _left_out() -> Part:
    return Part(
        "left-out",
        _("What was left out"),
        _(
            "The first five make reduced wiping look slightly better, or drying slightly worse, "
            "than it is."
        ),
        points=(
            (_("Run-back"), _("Roof water that runs onto the windshield after a reduced wipe.")),
            (_("Splash"), _("Thrown water that lands on the car again.")),
            (_("Streaks"), _("Lines that the edge of a strip leaves.")),
            (_("Warm rinse"), _("Heat of the rinse water on the car.")),
            (_("Traffic"), _("Humidity that the cars themselves bring into the tunnel.")),
            (
                _("Frost"),
                _(
                    "Hours in which the air or its wet bulb is below freezing can’t be planned: "
                    "ice is not in the model."
                ),
            ),
            (_("Second thoughts"), _("Drivers who leave the line after they have joined it.")),
        ),
    )


def _sources() -> Part:
    return Part(
        "sources",
        _("Where it comes from"),
        _("Textbook results, used under their own names."),
        points=(
            (_("Queues"), _("Poisson arrivals, service in parallel, blocking after service: "
                            "textbook queueing theory; Erlang 1917, Eick, Massey and Whitt "
                            "1993, from memory.")),
            (_("Moist air"), _("Psychrometrics by PsychroLib, after the ASHRAE Handbook of "
                               "Fundamentals.")),
            (_("Drying"), _("Constant-rate and falling-rate period, flat-plate heat transfer: "
                            "textbook chemical engineering, from memory.")),
            (_("Throw-off"), _("Drainage in a spinning bed; its exponents from a published table "
                               "of remaining moisture of laundry, from memory. That table is for "
                               "drums at far higher speeds: orientation only.")),
            (_("Wear"), _("Archard’s law of wear.")),
            (_("Life"), _("Weibull lives with censoring; age and block replacement after Barlow "
                          "and Proschan: textbooks, from memory.")),
            (_("Orders"), _("Economic order quantity, reorder point, newsvendor and the queue with "
                            "finite source: textbooks of operations management, from memory.")),
            (_("Everything else"), _("Each input’s source stands beside it on the Site page.")),
        ),
    )  # fmt: skip
