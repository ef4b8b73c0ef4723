"""The sentences of When to reduce: what to do, what comes of it, what it was chosen among."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

from app.answers.switching import stay_of
from app.catalogue import _
from app.words.columns import Column, Spoken, value_of
from app.words.cue_terms import CREW, watched_words
from app.words.figures import one_in, plain_number, share_words
from app.words.phrases import joined, whole
from sim.units import NBSP, quantity, show_clock

Found = Mapping[str, Any]
DAYS_KEPT = 0.9
"""Share of days on which a wish for single days is to be kept."""
SURE = 0.95
"""A choice less probable than this among the rules tried is not called firm."""


def column_of(found: Found, role: str) -> Column:
    """The column of the comparison that is "chosen", "present", "full" or "reduced"."""
    column: Column = found["comparison"]["scenarios"][found["columns"][role]]
    return column


def weight_words(found: Found, saturation: float, system: str) -> str:
    """What one strip weighs at a saturation, water and dry cloth together."""
    strip = found["strip"]
    weight_kg = strip["dry_kg"] * (1.0 + strip["holding_kg_kg"] * saturation)
    return quantity(weight_kg, "small_mass", 2).show(system)


# ---- what to do ----------------------------------------------------------------------------------


CLOCKS = ("clock", "crew_clock")


def act_words(found: Found, system: str, rule: Found | None = None) -> str:
    """The chosen rule, or another, as an order to the crew: clock times and weights, no
    percentages."""
    rule = rule or found["chosen"]
    if rule["everyone"]:
        return _("Reduce all day.")
    if not rule["either"]:
        return _("Wipe in full all day.")
    rows = rule["either"]
    if len(rows) == 1 and len(rows[0]) == 1 and rows[0][0]["kind"] in CLOCKS:
        return " ".join(_window(found, one, i) for i, one in enumerate(rows[0][0]["windows"]))
    said = ", or ".join(_row(found, row, system) for row in rows)
    return _("Reduce {when}.", when=said)


def role_of(found: Found) -> str:
    """The column of the comparison that the crew is told to work by."""
    stay = stay_of(found)
    if stay is None:
        return "chosen"
    return "reduced" if stay["everyone"] else "full"


def stay_words(found: Found, system: str) -> str:
    """Why the crew stays by one wiping all day though another rule was found; else nothing."""
    stay = stay_of(found)
    if stay is None:
        return ""
    slack = found["wish"]["slack"]
    matters = (
        _("${amount} a day", amount=whole(slack))
        if found["cues"]["unit"] == "money"
        else _("{count} full wipes a day, or what matters in damp cars", count=whole(slack))
    )
    act = act_words(found, system).removesuffix(".")
    return _(
        "Done to the letter another rule would do better ({act}), but no cue that a crew can see "
        "gains more than {matters}.",
        act=act,
        matters=matters,
    )


def turns(found: Found) -> list[tuple[str, str]]:
    """Clock times at which the chosen rule reduces and goes back, if it is by the clock alone."""
    rows = found["chosen"]["either"]
    if len(rows) != 1 or len(rows[0]) != 1 or rows[0][0]["kind"] not in CLOCKS:
        return []
    return turns_of(found, rows[0][0])


def turns_of(found: Found, term: Found) -> list[tuple[str, str]]:
    """Clock times at which a term of clock windows begins and ends to reduce."""
    opens, closes = _open_s(found)
    return [
        (
            _("opening") if start <= opens else show_clock(start),
            _("not before closing") if end >= closes else show_clock(end),
        )
        for start, end in term["windows"]
    ]


def _open_s(found: Found) -> tuple[float, float]:
    limits = found["comparison"]["limits"]
    return 3600.0 * limits["open_h"], 3600.0 * limits["close_h"]


def _window(found: Found, window: Sequence[float], number: int) -> str:
    opens, closes = _open_s(found)
    start, end = window
    if start <= opens and end >= closes:
        return _("Reduce all day.")
    if start <= opens:
        return _("Reduce from opening, go back at {end}.", end=show_clock(end))
    if end >= closes:
        sentence = "Reduce again at {start} until closing." if number else ""
        return _(sentence or "Reduce at {start} until closing.", start=show_clock(start))
    sentence = "Reduce again at {start}, go back at {end}." if number else ""
    return _(
        sentence or "Reduce at {start}, go back at {end}.",
        start=show_clock(start),
        end=show_clock(end),
    )


def _row(found: Found, row: Sequence[Found], system: str) -> str:
    return _(" and ").join(_term(found, term, system) for term in row)


def _term(found: Found, term: Found, system: str) -> str:
    kind = term["kind"]
    if kind in CLOCKS:
        opens, closes = _open_s(found)
        said = []
        for start, end in term["windows"]:
            first = _("opening") if start <= opens else show_clock(start)
            last = _("closing") if end >= closes else show_clock(end)
            said.append(_("from {first} to {last}", first=first, last=last))
        return joined(said)
    if kind == "band":
        return _(
            "when a strip weighs {upper}, until it is down to {lower}",
            upper=weight_words(found, term["upper"], system),
            lower=weight_words(found, term["lower"], system),
        )
    if kind.startswith(CREW):
        return watched_words(term, system)
    if kind == "class":
        return _("for {classes} only", classes=joined([_(one).lower() for one in term["labels"]]))
    return _("every car but those sold the full wipe")


def has_band(found: Found) -> bool:
    """Whether the chosen rule follows the cloth, so that its times are only expected ones."""
    return any(term["kind"] == "band" for row in found["chosen"]["either"] for term in row)


def expected_spells(found: Found) -> list[tuple[float, float]]:
    """Stretches [s after midnight] in which most cars are expected to be wiped reduced."""
    hours = found["half_hours"]
    flags = [(share or 0.0) > 0.5 for share in hours["chosen"]["reduced"]]
    spells: list[tuple[float, float]] = []
    for start, less in zip(hours["start_s"], flags, strict=True):
        if less and spells and spells[-1][1] == start:
            spells[-1] = (spells[-1][0], start + 1800.0)
        elif less:
            spells.append((start, start + 1800.0))
    return spells


def spells_words(found: Found) -> str:
    """When that is likely to be, for a rule that follows the cloth."""
    spells = expected_spells(found)
    if not has_band(found):
        return ""
    if not spells:
        return _("In no half hour more than half of the cars are expected to be reduced.")
    said = [_("{a} to {b}", a=show_clock(a), b=show_clock(b)) for a, b in spells]
    return _("On a day as expected that is mostly {times}.", times=joined(said))


def answer_words(found: Found, system: str) -> Spoken:
    """What to do, what comes of it, and whether it is what was wished for."""
    role, stay = role_of(found), stay_of(found)
    told, present = column_of(found, role), column_of(found, "present")
    damp, before = value_of(told, "damp_share"), value_of(present, "damp_share")
    parts: list[str] = []
    spells = "" if stay else spells_words(found)
    if spells:
        parts.append(spells)
    if damp is not None:
        is_new = found["columns"][role] != found["columns"]["present"]
        parts.append(_damp_words(damp, before if is_new else None))
    if stay is not None:
        return Spoken(act_words(found, system, stay), " ".join(parts), stay_words(found, system))
    share = value_of(told, "full_share")
    also = ""
    if share is not None and 0.02 < share < 0.98:
        also = _("Still wiped in full: {share} of the cars.", share=share_words(share))
    rate = kept_words(found)
    if rate:
        parts.append(rate)
    if limit_state(found) == "misses":
        missed = _(
            "No rule tried keeps to {wish}; of those that miss it by least, or by no more than "
            "matters, this one wipes the most cars in full. It takes more than another rule.",
            wish=wish_words(found),
        )
        also = f"{missed} {also}".strip()
    return Spoken(act_words(found, system), " ".join(parts), also)


def _damp_words(damp: float, before: float | None) -> str:
    said = one_in(damp)
    said = said[:1].upper() + said[1:]
    if before is None or one_in(before) == one_in(damp):
        return _("{cars} will leave damp.", cars=said)
    return _("{cars} will leave damp, {before} as planned now.", cars=said, before=one_in(before))


def limit_state(found: Found) -> Literal["keeps", "near", "misses"]:
    """Whether the rule keeps to the allowed share of damp cars, by the figures that are shown.

    ``near``: what the choice saw and what is shown lie on different sides, or the days that were
    counted leave it open.
    """
    kind, kept = found["wish"]["kind"], found.get("kept")
    if kind == "cost":
        return "keeps"
    if kind == "days" and kept:
        if kept["low"] >= DAYS_KEPT:
            return "keeps"
        return "misses" if kept["high"] < DAYS_KEPT else "near"
    damp = value_of(column_of(found, "chosen"), "damp_share")
    allowed = found["wish"]["allowed_damp_share"]
    if kind == "mean" and damp is not None and (damp <= allowed) != found["keeps"]:
        return "near"
    return "keeps" if found["keeps"] else "misses"


def kept_words(found: Found) -> str:
    """On how many days the rule keeps to the allowed share, or that it is about at the limit."""
    kept = found.get("kept")
    state = limit_state(found)
    if found["wish"]["kind"] == "days" and kept:
        share, low, high = (math.floor(100 * kept[end] + 0.5) for end in ("share", "low", "high"))
        said = _(
            "It kept to that share on {share} of 100 days that the choice had not seen ({low} to "
            "{high}).",
            share=share,
            low=low,
            high=high,
        )
        if state == "near":
            near = _("90 are asked for: too close to tell whether it keeps them.")
            return f"{said} {near}"
        return said
    if state == "near":
        return _(
            "That is about at the limit of {wish}: too close to tell whether it keeps to it.",
            wish=wish_words(found),
        )
    return ""


def wish_words(found: Found) -> str:
    """What a rule was chosen by, such as "at most 5 % damp cars in expectation"."""
    wish = found["wish"]
    if wish["kind"] == "cost":
        return _("the least cost of the day")
    percent = f"{plain_number(100 * wish['allowed_damp_share'], 1).removesuffix('.0')}{NBSP}%"
    if wish["kind"] == "days":
        return _("at most {percent} damp cars on 9 days of 10", percent=percent)
    return _("at most {percent} damp cars in expectation", percent=percent)


# ---- what it was chosen among --------------------------------------------------------------------


def chances(probability: float) -> str:
    """A probability as chances in 20, rounded down, so that little is never told as much."""
    return _("{count} in 20", count=math.floor(20.0 * probability + 1e-9)).replace(" ", NBSP)


def certainty_of(found: Found) -> float:
    """How sure the choice is: that no other rule is better by what matters, and that the order of
    choice ends at it."""
    return float(min(found["probability"], found.get("settled", 1.0)))


def choice_words(found: Found) -> tuple[str, ...]:
    """Among how many rules it was chosen and by what; how close foresight would come."""
    kind = found["wish"]["kind"]
    if kind == "cost":
        sentence = "Of {rules} rules tried on the same simulated days, this one costs least."
    elif limit_state(found) == "misses":
        sentence = "Of {rules} rules tried on the same simulated days, none keeps to {wish}."
    else:
        sentence = (
            "Of {rules} rules tried on the same simulated days, this one keeps the most cars fully "
            "wiped with {wish}."
        )
    parts = [
        _(sentence, rules=whole(found["rules"]), wish=wish_words(found)),
        _("Of rules that are as good but for what does not matter, the simplest was taken."),
    ]
    if certainty_of(found) >= SURE:
        parts.append(
            _(
                "Chances that no other is better by enough to matter: {chance}.",
                chance=chances(certainty_of(found)),
            )
        )
    return (" ".join(parts), *bound_words(found))


def bound_words(found: Found) -> tuple[str, ...]:
    """How much of what perfect foresight would give, with its run error, rounded against the rule.

    Nothing where that tells nothing.
    """
    bound = found.get("bound")
    if not bound or limit_state(found) == "misses":
        return ()
    share, low, high = bound["share"]
    if share is None or share <= 0:
        return ()
    if found["wish"]["kind"] == "cost":
        if share > 1:
            return ()
        sentence = _(
            "Perfect foresight of every car would save at most {share} of the day’s cost{luck}; "
            "part of that gap nobody can close.",
            share=percent(whole(100 * (1 - share))),
            luck=_luck(bound, low, high, lambda one: whole(100 * max(0.0, 1 - one)), turned=True),
        )
        return (sentence,)
    sentence = _(
        "It reaches at least {share} of the full wipes that perfect foresight of every car "
        "would give{luck}; part of that gap nobody can close.",
        share=percent(_floor(share)),
        luck=_luck(bound, low, high, _floor),
    )
    return (sentence,)


def percent(figure: str) -> str:
    """A figure with its sign."""
    return f"{figure}{NBSP}%"


def _floor(share: float) -> str:
    return str(math.floor(100 * min(1.0, max(0.0, share))))


def _luck(
    bound: Found,
    low: float | None,
    high: float | None,
    shown: Callable[[float], str],
    turned: bool = False,
) -> str:
    """The run error of a share in brackets, if there is one."""
    if low is None or high is None:
        return ""
    ends = (shown(high), shown(low)) if turned else (shown(low), shown(high))
    return _(
        " ({low} to {high} by the luck of {days} simulated days)",
        low=ends[0],
        high=percent(ends[1]),
        days=whole(bound["draws"]),
    )
