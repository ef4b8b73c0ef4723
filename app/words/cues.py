"""The part "In cues that the crew can see": which to use, what each loses, how it was simulated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.answers.switching import stay_of
from app.catalogue import _
from app.words.cue_terms import CREW, reads_down, reads_up
from app.words.figures import interval, plain_number
from app.words.phrases import whole
from app.words.switching import act_words, stay_words, turns_of, wish_words
from app.words.why import changes_words
from sim.units import NBSP, format_number, quantity

Found = Mapping[str, Any]
NAMES = {
    "clock": "Clock",
    "cars": "Cars washed in the last hour",
    "strip": "Weight of one strip",
}
BY = {
    "clock": "Go by the clock.",
    "cars": "Go by the cars washed in the last hour.",
    "strip": "Go by the weight of one strip.",
}


@dataclass(frozen=True, slots=True)
class CuePart:
    """The part of the page.

    Attributes:
        lead, says: which cue to use, what it loses and why it is that one.
        heads, rows: the table; without rows there is none.
        how: how the cues were simulated, a sentence each.
        field: input to which the page leads for what is guessed; empty without a table.
    """

    lead: str
    says: str
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    how: tuple[str, ...] = ()
    field: str = ""


@dataclass(frozen=True, slots=True)
class SheetCue:
    """A line of the day sheet."""

    name: str
    reduce: str
    back: str
    note: str


def cues_of(found: Found, system: str) -> CuePart | None:
    """The part; None where cues were not looked for."""
    cues = found.get("cues")
    if cues is None:
        if "cues" not in found or _says_when(found["chosen"]):
            return None
        if any(term["kind"].startswith(CREW) for row in found["chosen"]["either"] for term in row):
            says = _("It was simulated as the crew carries it out, everywhere on this page.")
            return CuePart(_("The advice is in a cue already."), says)
        says = _("The advice does not change during the day, so there is no moment to see.")
        return CuePart(_("No cue is needed."), says)
    if not cues["found"]:
        says = _("On the simulated days too few switches were seen to read thresholds off them.")
        return CuePart(_("No cue was found."), says)
    heads = (
        _("Cue"), _("Reduce"), _("Go back"), _("Damp"), _("Wiped in full"), _("Cost of the day"),
        _("Loss to the advice"), _("Loss to the ideal band"),
    )  # fmt: skip
    rows = [_cue_row(found, one, system) for one in cues["found"]]
    rows.append(_ideal_row(_("The advice, done to the letter"), cues["chosen"]))
    if cues.get("constant"):
        stays = cues["constant"]
        name = _("Reduced all day") if stays["rule"]["everyone"] else _("Full all day")
        rows.append(_ideal_row(name, stays))
    if cues["band"] is not None and cues["band"]["rule"]["text"] != cues["chosen"]["rule"]["text"]:
        rows.append(_ideal_row(_("The ideal band, which nobody sees"), cues["band"]))
    stay = stay_of(found)
    if stay is None:
        lead = _(BY[cues["use"]])
    else:
        lead = _("Stay on reduced.") if stay["everyone"] else _("Stay on full.")
    field = "cue_delay_median_s"
    return CuePart(lead, _says(found, system), heads, tuple(rows), _how(cues, system), field)


def _says_when(rule: Found) -> bool:
    return any(term["kind"] in ("clock", "band") for row in rule["either"] for term in row)


def used(found: Found) -> Found | None:
    """The cue to use; None where there is none."""
    cues = found.get("cues")
    if not cues:
        return None
    return next((one for one in cues["found"] if one["kind"] == cues["use"]), None)


def _says(found: Found, system: str) -> str:
    one, cues = used(found), found["cues"]
    if one is None:
        return _stay_says(found, system)
    parts = [act_words(found, system, one["rule"])]
    loss = _loss_words(one["to_chosen"], cues["unit"])
    parts.append(
        _(
            "Carried out by the crew it loses {loss} against the advice done to the letter.",
            loss=loss,
        )
    )
    gain = _gain_words(found, one)
    if gain:
        parts.append(gain)
    others = [other for other in cues["found"] if other["kind"] != one["kind"]]
    if not one["keeps"] and one.get("nearly") and found["wish"]["kind"] != "cost":
        words = _("It misses {wish}, but by less than matters.", wish=wish_words(found))
        parts.append(words)
    elif not one["keeps"] and found["wish"]["kind"] != "cost":
        parts.append(_("It misses {wish}, as does every cue.", wish=wish_words(found)))
    elif others:
        said = "Of the cues it loses least."
        if all(other["keeps"] for other in others):
            parts.append(_(said))
        else:
            parts.append(
                _("Of the cues that keep to {wish} it loses least.", wish=wish_words(found))
            )
    return " ".join(parts)


def _gain_words(found: Found, one: Found) -> str:
    """What a cue gains over wiping all day as is best."""
    over, constant = one.get("over_constant"), found["cues"].get("constant")
    if not over or not constant:
        return ""
    act = act_words(found, "si", constant["rule"]).removesuffix(".")
    return _(
        "Over “{act}” it makes {changes} a day.", act=act, changes=changes_words(over["gains"])
    )


def _stay_says(found: Found, system: str) -> str:
    """Why no cue is used, and what the best of them would gain."""
    cues = found["cues"]
    best = min(cues["found"], key=lambda one: (not one["keeps"], one["to_chosen"]["value"]))
    name = _(NAMES[best["kind"]]).lower()
    changes = changes_words(best["over_constant"]["gains"])
    return " ".join(
        (
            stay_words(found, system),
            _("The best of them, {cue}, makes {changes} a day.", cue=name, changes=changes),
        )
    )


def _loss_words(loss: Found, unit: str) -> str:
    """A loss a day in words, with its run error where it is sure that there is one."""
    ends = interval(loss, "run error")
    if ends is None or ends[0] <= 0.0:
        return _("nothing that the simulated days could tell")
    value, low, high = (_amount(x, unit) for x in (loss["value"], *ends))
    if unit == "money":
        return _("{value} a day ({low} to {high})", value=value, low=low, high=high)
    if unit == "damp_cars":
        sentence = "{value} more damp cars a day ({low} to {high})"
        return _(sentence, value=value, low=low, high=high)
    sentence = "the worth of {value} full wipes a day ({low} to {high})"
    return _(sentence, value=value, low=low, high=high)


def _amount(value: float, unit: str) -> str:
    return f"${whole(value)}" if unit == "money" else whole(value)


def crew_term(rule: Found) -> Found:
    """The term of a rule that the crew carries out."""
    term: Found = next(
        term for row in rule["either"] for term in row if term["kind"].startswith(CREW)
    )
    return term


def _moments(found: Found, rule: Found, system: str) -> tuple[str, str]:
    """When to reduce, and when to go back."""
    term = crew_term(rule)
    if term["kind"] != "crew_clock":
        return reads_up(term, system), reads_down(term, system)
    times = turns_of(found, term)
    return "; ".join(start for start, _end in times), "; ".join(end for _start, end in times)


def _cue_row(found: Found, one: Found, system: str) -> tuple[str, ...]:
    unit = found["cues"]["unit"]
    losses = (_amount(one["to_chosen"]["value"], unit), _band_loss(one, unit))
    return (_(NAMES[one["kind"]]), *_moments(found, one["rule"], system), *_figures(one), *losses)


def _band_loss(one: Found, unit: str) -> str:
    return "" if one["to_band"] is None else _amount(one["to_band"]["value"], unit)


def _ideal_row(name: str, one: Found) -> tuple[str, ...]:
    return (name, "", "", *_figures(one), "", "")


def _figures(one: Found) -> tuple[str, str, str]:
    damp = _percent(one["damp_share"], 1 if one["damp_share"] < 0.1 else 0)
    return damp, whole(one["full_cars"]), f"${whole(one['cost'])}"


def _how(cues: Found, system: str) -> tuple[str, ...]:
    crew = cues["crew"]
    median = quantity(crew["delay_median_s"], "minutes_from_s", 2).show(system)
    said = [
        _(
            "Each cue was simulated as a rule of its own, on {days} days that the choice did not "
            "see, carried out as by a crew: it acts {median} after the cue (median), counts cars "
            "every {count} and is off by {miscount} at that, weighs a strip every {weigh} and is "
            "off by {error} of its water. All of that is guessed until you enter yours. The time "
            "that a weighing takes is not in the figures.",
            days=whole(cues["days"]),
            median=median,
            count=_every(crew["count_every_s"]),
            miscount=_percent(crew["count_log_sd"]),
            weigh=_every(crew["weigh_every_s"]),
            error=_percent(crew["weigh_log_sd"]),
        ),
        _(
            "The advice and the ideal band act at once and know the saturation. A weight tells it "
            "only as well as the holding capacity is known; weighing a soaked strip makes it "
            "better."
        ),
        {
            "money": _("A loss counts everything a day costs."),
            "damp_cars": _("No rule keeps to what is wanted, so a loss counts damp cars."),
            "full_cars": _(
                "A loss counts cars fully wiped, with damp cars at the price at which the wish "
                "just asks for the advice."
            ),
        }[cues["unit"]],
    ]
    return tuple(said)


def _every(seconds: float) -> str:
    if seconds <= 0.0:
        return _("car")
    return f"{format_number(seconds / 60.0)}{NBSP}min"


def _percent(share: float, decimals: int = 0) -> str:
    return f"{plain_number(100 * share, decimals)}{NBSP}%"


# ---- the day sheet -------------------------------------------------------------------------------


def sheet_act(found: Found, system: str) -> str:
    """The order at the top of the day sheet: the cue to use, or the rule where there is none; or
    to stay by one wiping all day, where no cue is worth its trouble."""
    one, stay = used(found), stay_of(found)
    if stay is not None:
        return act_words(found, system, stay)
    return act_words(found, system) if one is None else act_words(found, system, one["rule"])


def sheet_cues(found: Found, system: str, least: str) -> tuple[SheetCue, ...]:
    """The cues, the one to use first; empty where none was looked for.

    Args:
        least: how long to leave between two switches, in a sentence.
    """
    first = used(found)
    if first is None:
        return ()
    cues = found["cues"]
    rows = []
    others = [one for one in cues["found"] if one is not first]
    others.sort(key=lambda one: (not one["keeps"], one["to_chosen"]["value"]))
    for one in (first, *others):
        notes = [_("Go by this. {least}", least=least)] if one is first else [_("If that fails.")]
        if one["kind"] == "strip":
            every = _every(cues["crew"]["weigh_every_s"])
            notes.append(_("Weigh every {every}, wheel stopped and locked out.", every=every))
        if one["kind"] == "cars":
            notes.append(_("Count every {every}.", every=_every(cues["crew"]["count_every_s"])))
        up, down = _moments(found, one["rule"], system)
        rows.append(SheetCue(_(NAMES[one["kind"]]), up, down, " ".join(notes)))
    return tuple(rows)


def crew_damp(found: Found) -> str:
    """Damp cars as the crew carries out the cue to use, to be joined to those of the advice."""
    one = used(found)
    if one is None:
        return ""
    damp = _percent(one["damp_share"], 1 if one["damp_share"] < 0.1 else 0)
    return _(", {damp} as the crew carries it out", damp=damp)


def earlier_words(found: Found, system: str) -> str:
    """What tells before the clock does to reduce earlier; empty where the clock is not used."""
    first = used(found)
    if first is None or first["kind"] != "clock":
        return ""
    up = {
        one["kind"]: reads_up(crew_term(one["rule"]), system)
        for one in found["cues"]["found"]
        if one["kind"] != "clock"
    }
    said = []
    if "cars" in up:
        said.append(_("you have washed {up} cars in the last hour", up=up["cars"]))
    if "strip" in up:
        said.append(_("a strip weighs {up}", up=up["strip"]))
    if not said:
        return ""
    return _("If {signs}: reduce earlier than the clock says.", signs=_(", or ").join(said))
