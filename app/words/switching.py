"""The sentences of When to reduce: what to do, what comes of it, among what, and how sure it is; of
speed, spacing and rule together, side by side."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

from app.catalogue import _, _n
from app.words.answer import firm_words, unweighed_words
from app.words.beside import apart_of, level_words
from app.words.figures import row_step
from app.words.hands import hands_words
from app.words.numbers import (
    amount,
    apart_as_shown,
    dollars,
    of_twenty,
    one_beside,
    one_in,
    percent,
    share_words,
    whole,
)
from app.words.phrases import Statement, TextTable, joined
from app.words.rules import act_words, cue_of, damp_percent, order_of, wish_words
from app.words.why import changes_words, settle_words
from sim.day.figures import FIGURES
from sim.decide.answer import Comparison
from sim.decide.switching.answer import (
    Cues,
    Overruled,
    SettingPlan,
    Together,
    Watched,
    WhenToReduce,
    Wish,
)
from sim.units import NBSP, show_clock

CREW = ("cue_delay_median_s", "count_log_sd", "hood_misjudged_share", "strip_place_log_sd")
"""What a crew's cues are simulated by, beside how often it looks."""
SURE = 0.95
"""A choice less probable than this among the rules tried is not called firm."""
TEN_MINUTES_H = 1.0 / 6.0


# ---- what to do ----------------------------------------------------------------------------------


def answer_words(answer: WhenToReduce, system: str) -> Statement:
    """What to do, what comes of it, and whether it is what was wished for."""
    hands = hands_words(answer, system)
    if answer.hands is not None and answer.hands.beats and hands is not None:
        own = _by_own_people(answer, system)
        named = _(
            "With the people you plan now, and so on the day sheet: {order}",
            order=f"{own.lead} {own.rest}",
        )
        return Statement(hands.lead, hands.rest, named)
    return _by_own_people(answer, system)


def _by_own_people(answer: WhenToReduce, system: str) -> Statement:
    """The same with the site's own people."""
    lead = act_words(answer.told, answer.crew_terms, system)
    if answer.as_planned:
        lead = _("{order}, as planned.", order=lead.removesuffix("."))
    rest = (
        overruled_words(answer, system), spells_words(answer), _comes_of(answer, system),
        kept_words(answer),
    )  # fmt: skip
    missed, stays, full = "", stay_words(answer, system), ""
    share = answer.comparison.columns[answer.columns.told].value("full_share")
    if share is not None and 0.02 < share < 0.98:
        full = _("Still wiped in full: {share} of the cars.", share=share_words(share))
    if answer.limit == "misses":
        missed = _(
            "No rule tried meets {wish}; of those that miss it by least, or by no more than "
            "matters, this one wipes the most cars in full. It takes more than another rule.",
            wish=wish_words(answer.wish),
        )
        if answer.told != answer.chosen:
            missed = no_cue_words(answer.wish)
    also = (missed, stays, full)
    return Statement(lead, " ".join(filter(None, rest)), " ".join(filter(None, also)))


def overruled_words(answer: WhenToReduce, system: str) -> str:
    """What the plan says where another rule is advised, and what that gains; else nothing."""
    over = answer.overruled
    if over is None or answer.stay is not None:
        return ""
    told = {"act": order_of(over.rule, answer.crew_terms, system)}
    saved, step = _saved(answer, over)
    if answer.wish.kind == "cost" and saved > 0:
        return _("The plan says “{act}”: this saves about {amount} a day.",
                 amount=dollars(saved, step), **told)  # fmt: skip
    apart = apart_of(answer.comparison, answer.told.text, over.rule.text)
    changes = changes_words(over.gains, apart=apart)
    return _("The plan says “{act}”: this is {changes} a day.", changes=changes, **told)


def _saved(answer: WhenToReduce, over: Overruled) -> tuple[float, float]:
    """What is saved against a rule of the plan, by the costs that the comparison prints, and to
    which power of ten; without it by the days of the search."""
    day, both = answer.comparison, (over.rule.text, answer.told.text)
    costs = [None if one is None else one.value("cost") for one in map(day.with_rule, both)]
    theirs, ours = costs
    if theirs is None or ours is None:
        return float(-round(over.gains.cost.value)), 1.0
    step = row_step(FIGURES["cost"], day, "si")
    return apart_as_shown(theirs, ours, step), step


def no_cue_words(wish: Wish) -> str:
    """That the wish is missed by whatever the crew can see."""
    return _("No cue that is worth its looks meets {wish}.", wish=wish_words(wish))


def stay_words(answer: WhenToReduce, system: str) -> str:
    """Why the crew stays by what needs no cue though another rule was found; else nothing."""
    if answer.cues is None or answer.stay is None:
        return ""
    return _(
        "Done to the letter another rule would do better ({act}), but no cue that a crew can see "
        "gains more than {matters} and saves more than its looks cost.",
        act=order_of(answer.chosen, answer.crew_terms, system),
        matters=_matters(answer.cues, answer.wish.slack),
    )


def _matters(cues: Cues, slack: float) -> str:
    if cues.unit == "money":
        return _("{amount} a day", amount=dollars(slack))
    return _("{count} full wipes a day, or what matters in damp cars", count=whole(slack))


def spells_words(answer: WhenToReduce) -> str:
    """When that is likely to be, for a rule that follows the cloth or a reading; else nothing."""
    spells = answer.half_hours.reduced
    if answer.told.by_crew and not isinstance(cue_of(answer.told), Watched):
        return ""
    if not spells:
        return _("In no half hour more than half of the cars are expected to be reduced.")
    said = [_("{a} to {b}", a=show_clock(a), b=show_clock(b)) for a, b in spells]
    return _("On a day as expected that is mostly {times}.", times=joined(said))


def _comes_of(answer: WhenToReduce, system: str) -> str:
    """How many cars leave damp by what is advised, and by what is planned now if that is other."""
    columns = answer.comparison.columns
    damp = columns[answer.columns.told].value("left_damp_share")
    before = columns[answer.columns.present].value("left_damp_share")
    if damp is None:
        return ""
    said, was = (one_in(damp), "") if before is None else one_beside(damp, before, bare=False)
    said = said[:1].upper() + said[1:]
    is_new = answer.columns.told != answer.columns.present
    if not is_new or before is None or one_in(before) == one_in(damp):
        return _("{cars} will leave damp.", cars=said)
    if answer.as_planned:  # of several rules in the plan the first is done now
        act = order_of(answer.present, answer.crew_terms, system)
        return _("{cars} will leave damp, {before} with “{act}”.",
                 cars=said, before=was, act=act)  # fmt: skip
    return _("{cars} will leave damp, {before} as planned now.", cars=said, before=was)


def kept_words(answer: WhenToReduce) -> str:
    """On how many days the rule meets the allowed share, or that it is about at the limit."""
    kept = answer.kept
    if answer.wish.kind == "days" and kept is not None:
        ends = {"share": kept.share, "low": kept.low, "high": kept.high}
        said = _(
            "It met that share on {share} of 100 days that the choice had not seen ({low} to "
            "{high}).",
            **{name: math.floor(100 * value + 0.5) for name, value in ends.items()},
        )
        if answer.limit == "near":
            near = _("90 are asked for: too close to tell whether it keeps them.")
            return f"{said} {near}"
        return said
    if answer.limit == "near":
        return _(
            "That is about at the limit of {wish}: too close to tell whether it meets it.",
            wish=wish_words(answer.wish),
        )
    return ""


# ---- what it was chosen among --------------------------------------------------------------------


def chances(probability: float) -> str:
    """A probability as chances in 20, rounded down, so that little is never told as much."""
    return _("{count} in 20", count=of_twenty(probability)).replace(" ", NBSP)


def choice_words(answer: WhenToReduce) -> tuple[str, ...]:
    """Among how many rules it was chosen and by what; how close foresight would come."""
    if answer.wish.kind == "cost":
        sentence = "Of {rules} rules tried on the same simulated days, this one costs least."
    elif not answer.keeps:
        sentence = "Of {rules} rules tried on the same simulated days, none meets {wish}."
    else:
        sentence = (
            "Of {rules} rules tried on the same simulated days, this one keeps the most cars fully "
            "wiped with {wish}."
        )
    parts = [
        _(sentence, rules=whole(answer.rules), wish=wish_words(answer.wish)),
        _("Of rules that are as good but for what does not matter, the simplest was taken."),
    ]
    if answer.certainty >= SURE:
        parts.append(
            _(
                "Chances that no other that a crew can carry out is better by enough to matter: "
                "{chance}.",
                chance=chances(answer.certainty),
            )
        )
    foresight = foresight_words(answer)
    return (" ".join(parts), foresight) if foresight else (" ".join(parts),)


FORESIGHT = {
    (False, False): (
        "It reaches at least {share} of the full wipes that perfect foresight of every car would "
        "give; part of that gap nobody can close."
    ),
    (False, True): (
        "It reaches at least {share} of the full wipes that perfect foresight of every car would "
        "give ({low} to {high} by the luck of {days} simulated days); part of that gap nobody can "
        "close."
    ),
    (True, False): (
        "Perfect foresight of every car would save at most {share} of the day’s cost; part of that "
        "gap nobody can close."
    ),
    (True, True): (
        "Perfect foresight of every car would save at most {share} of the day’s cost ({low} to "
        "{high} by the luck of {days} simulated days); part of that gap nobody can close."
    ),
}
"""What foresight would give: by least cost or not, and with its run error or without."""


def foresight_words(answer: WhenToReduce) -> str:
    """How much of what perfect foresight would give, with its run error, rounded against the rule.

    Empty where that tells nothing.
    """
    bound, by_cost = answer.bound, answer.wish.kind == "cost"
    if bound is None or bound.share is None or bound.share <= 0 or not (answer.keeps or by_cost):
        return ""
    if by_cost and bound.share > 1:
        return ""

    def told(share: float) -> float:
        return max(0.0, 1 - share) if by_cost else _floor(share)

    error = bound.run_error
    low, high = (0.0, 0.0) if error is None else sorted((told(error.low), told(error.high)))
    return _(
        FORESIGHT[by_cost, error is not None],
        share=percent(told(bound.share)),
        low=whole(100 * low),
        high=percent(high),
        days=whole(bound.draws),
    )


def _floor(share: float) -> float:
    return math.floor(100 * min(1.0, max(0.0, share))) / 100


# ---- how sure ------------------------------------------------------------------------------------


def switch_sure(answer: WhenToReduce, given: Collection[str], system: str) -> Statement:
    """At how many sites like this one it holds, and whether the choice itself is settled; where the
    crew stays by one wiping, what that rests on.

    Args:
        given: names of the inputs that the site entered itself.
    """
    if answer.hands is not None and answer.hands.beats:
        name = _("your own people, {act}", act=order_of(answer.told, answer.crew_terms, system))
        told = firm_words(answer.hands.standing, name, answer.comparison.weighed)
        weighings = unweighed_words(answer.comparison.weighed, given)
        return Statement(told.lead, " ".join(filter(None, (told.rest, weighings))))
    said = _firm(answer, system)
    unweighed = unweighed_words(answer.comparison.weighed, given)
    if answer.cues is not None and answer.stay is not None:
        days = _(
            "What cues gain was measured on {days} days that their choice had not seen.",
            days=whole(answer.cues.days),
        )
        guessed = [name for name in CREW if name not in given]
        crew = _("How late and how wrong the crew is are guesses until you enter yours.")
        parts = (said.rest, days, crew if guessed else "", unweighed)
        return Statement(said.lead, " ".join(filter(None, parts)))
    if answer.certainty < SURE:
        firm = f"{said.rest[:1].upper()}{said.rest[1:]}"  # begins a sentence here
        rest = " ".join(filter(None, (close_words(answer, system), firm, unweighed)))
        return Statement(_("Too close to tell."), rest)
    return Statement(said.lead, " ".join(filter(None, (said.rest, unweighed))))


def coarse_sure(answer: WhenToReduce) -> Statement:
    """How sure a first form is, and what it rests on."""
    return Statement(
        _("So far:"),
        _(
            "chosen among a few windows by the clock, on few simulated days. Chances that no rule "
            "is better by enough to matter: {chance}, by how often that held on drawn days. All "
            "rules are being tried; what is advised may still change.",
            chance=chances(answer.certainty),
        ),
    )


def missing_words(answer: WhenToReduce, is_stopped: bool) -> str:
    """Which parts of an answer are not there yet; empty for a first form, of which all is.

    Args:
        is_stopped: nobody is at work on them.
    """
    parts = (
        (answer.hands, _("whether somebody at the exit does better")),
        (answer.why, _("why this advice")),
        (answer.remedies, _("what would help")),
        (answer.moves, _("how it moves with the day")),
        (answer.bound, _("what perfect foresight would give")),
        (answer.tipping, _("on which days always full is enough")),
    )
    missing = [said for part, said in parts if not part]
    if answer.coarse or not missing:
        return ""
    sentence = "Not worked out: {parts}." if is_stopped else "Still being worked out: {parts}."
    return _(sentence, parts=joined(missing))


def _firm(answer: WhenToReduce, system: str) -> Statement:
    """Whether the rule is firm; it never is where it does not surely meet what is allowed."""
    if answer.limit == "misses":
        if answer.told != answer.chosen:
            return Statement(_("Not firm:"), _("no cue worth its looks meets what you allow."))
        return Statement(_("Not firm:"), _("no rule tried meets what you allow."))
    if answer.limit == "near":
        return Statement(_("Not firm:"), _("whether it meets what you allow is open."))
    rule, standing = answer.rival or (None, None)
    name = "" if rule is None else order_of(rule, answer.crew_terms, system)
    said = firm_words(standing, name, answer.comparison.weighed)
    if standing is None or standing.is_firm or said.lead != _("Not firm:"):
        return said
    settles = settle_words(answer) if answer.stay is None else ""
    return said if not settles else replace(said, rest=f"{said.rest} {settles}")


def close_words(answer: WhenToReduce, system: str) -> str:
    """What else it might as well have been and what that differs in."""
    others = answer.alternatives
    if not others:
        return _(
            "Between this rule and the next best the simulated days do not decide yet: the chance "
            "that no other that a crew can carry out is better by enough to matter is {chance}.",
            chance=chances(answer.certainty),
        )
    sentence = (
        "The simulated days do not tell it from the same kind of rule with other numbers, such as "
        "“{act}”: {changes} a day."
        if all(one.same_kind for one in others)
        else "The simulated days do not tell it from “{act}”: {changes} a day."
    )
    if answer.told != answer.chosen:
        sentence = (
            "The cue stands for a rule that the simulated days do not tell from “{act}”: {changes} "
            "a day."
        )
    return _(
        sentence,
        act=order_of(others[0].rule, answer.crew_terms, system),
        changes=changes_words(
            others[0].gains,
            apart=apart_of(answer.comparison, others[0].rule.text, answer.chosen.text),
        ),
    )


# ---- speed, spacing and rule together ------------------------------------------------------------


def speeds_words(plan: SettingPlan, system: str) -> str:
    """The belt's speeds, such as ``49 ft/min, from 11:00 39 ft/min``."""
    (_start, first), *later = plan.speeds
    parts = [amount(first, "speed", system, 2)]
    for start, speed in later:
        said = amount(speed, "speed", system, 2)
        parts.append(_("from {time} {speed}", time=show_clock(start), speed=said))
    return ", ".join(parts)


def spacing_words(plan: SettingPlan, system: str) -> str:
    """The spacing, nose to nose."""
    return amount(plan.spacing_m, "length", system)


def setting_words(plan: SettingPlan, system: str) -> str:
    """Speed and spacing in a row."""
    sentence = "{speed} and {spacing}" if len(plan.speeds) == 1 else "{speed}, spaced {spacing}"
    return _(sentence, speed=speeds_words(plan, system), spacing=spacing_words(plan, system))


def reduced_words(hours: float) -> str:
    """How long cars are wiped reduced, such as ``2 h 40``, to ten minutes."""
    whole_hours, tens = divmod(round(hours / TEN_MINUTES_H), 6)
    if not whole_hours and not tens:
        return _("no time") if hours <= 0.0 else _("a few minutes")
    if not whole_hours:
        return f"{10 * tens}{NBSP}min"
    return f"{whole_hours}{NBSP}h" + (f"{NBSP}{10 * tens}" if tens else "")


def together_answer(
    answer: Together, system: str, comparison: Comparison | None = None
) -> Statement:
    """Whether to keep speed and spacing, and what it takes never to reduce; `comparison` is that of
    the day, beside which figures are told."""
    never = _never_words(answer, system)
    if not answer.stays:
        lead = _("Run at {setting}.", setting=setting_words(answer.chosen, system))
        return Statement(lead, never, _better_words(answer, system, comparison))
    lead = _("Keep {setting}.", setting=setting_words(answer.present, system))
    also = _("No other setting looked at costs less a day by enough to matter.")
    if not answer.chosen.keeps:
        also = _("No other setting looked at comes nearer to what you allow, or costs less.")
    return Statement(lead, never, also)


def _never_words(answer: Together, system: str) -> str:
    """What the setting that never reduces would mean, beside the present one."""
    present, never = answer.present, answer.never_reduce
    if present.keeps and not present.reduced_h:
        return _("At the present setting you never need to reduce.")
    if never is None:
        return _("At no speed and spacing looked at is always full enough.")
    return _(
        "At {setting} you wash {cars} and never need to reduce; at {now} you reduce for {hours}.",
        setting=setting_words(never, system),
        cars=_cars_words(never, present),
        now=setting_words(present, system),
        hours=reduced_words(present.reduced_h),
    )


def _cars_words(plan: SettingPlan, present: SettingPlan) -> str:
    """How many more cars it washes an hour, by the numbers of the table."""
    more = apart_as_shown(plan.cars_washed_h, present.cars_washed_h, 1.0)
    count = round(abs(more))
    if count == 0:
        return _("as many cars")
    if more > 0:
        return _n("1 more car an hour", "{count} more cars an hour", count)
    return _n("1 fewer car an hour", "{count} fewer cars an hour", count)


def _levels(
    answer: Together, plan: SettingPlan, comparison: Comparison | None
) -> tuple[str, str, str]:
    """Lost cars, share of cars that leave damp, and cost of the day."""
    if comparison is None:
        share = damp_percent(plan.left_damp_share, answer.wish)
        return whole(plan.cars_lost), share, dollars(plan.cost)
    own = answer.present
    pairs = {
        "cars_lost": (plan.cars_lost, own.cars_lost),
        "left_damp_share": (plan.left_damp_share, own.left_damp_share),
        "cost": (plan.cost, own.cost),
    }
    lost, damp, cost = (
        level_words(comparison, own.rule.text, name, *pair) for name, pair in pairs.items()
    )
    return lost, damp, cost


def _better_words(answer: Together, system: str, comparison: Comparison | None) -> str:
    """What the found setting gives with its rule."""
    present, chosen = answer.present, answer.chosen
    (_lost, before, _cost), (_lost, damp, _cost) = (
        _levels(answer, plan, comparison) for plan in (present, chosen)
    )
    less, step = apart_as_shown(present.cost, chosen.cost, 1.0), 1.0
    if comparison is not None and "cost" in comparison.columns[0].figures:
        own = present.rule.text, "cost"
        step = row_step(FIGURES["cost"], comparison, "si")
        less = apart_as_shown(
            comparison.level(*own, present.cost, present.cost),
            comparison.level(*own, chosen.cost, present.cost),
            step,
        )
    said = [
        _(
            "With it: {rule} You wash {cars}, {damp} leave damp instead of {before}.",
            rule=act_words(chosen.rule, answer.crew_terms, system),
            cars=_cars_words(chosen, present),
            damp=damp,
            before=before,
        )
    ]
    if less:
        sentence = "The day costs {money} less." if less > 0 else "The day costs {money} more."
        said.append(_(sentence, money=dollars(abs(less), step)))
    if not present.keeps and chosen.keeps:
        said.append(_("It meets what you allow, which the rule at the present setting does not."))
    return " ".join(said)


def together_sure(answer: Together) -> str:
    """How sure the choice is, and how it was made."""
    return _(
        "Chances that no other setting looked at is better by enough to matter: {chance}. Settings "
        "are judged by the cost of the day with your own people, lost cars and reduced wipes "
        "included, within what you allow; {runs} days were simulated.",
        chance=chances(answer.probability),
        runs=whole(answer.runs),
    )


def together_table(
    answer: Together, system: str, comparison: Comparison | None = None
) -> TextTable:
    """The settings compared, a column each; `comparison` as for `together_answer`."""
    columns = [(_("Now"), answer.present)]
    if not answer.stays:
        columns.append((_("Advised"), answer.chosen))
    never = answer.never_reduce
    if never is not None and never not in [plan for _name, plan in columns]:
        columns.append((_("Never reduce"), never))
    plans = [plan for _name, plan in columns]
    rules = [act_words(plan.rule, answer.crew_terms, system) for plan in plans]
    lost, damp, costs = zip(*(_levels(answer, plan, comparison) for plan in plans), strict=True)
    rows = (
        (_("Conveyor speed"), *(speeds_words(plan, system) for plan in plans)),
        (_("Car spacing"), *(spacing_words(plan, system) for plan in plans)),
        (_("Rule"), *rules),
        (_("Reduced for"), *(reduced_words(plan.reduced_h) for plan in plans)),
        (_("Cars washed an hour"), *(whole(plan.cars_washed_h) for plan in plans)),
        (_("Lost cars a day"), *lost),
        (_("Leave damp"), *damp),
        (_("Cost of the day"), *costs),
        (_("Meets your wish"), *(_("yes") if plan.keeps else _("no") for plan in plans)),
    )
    return TextTable("", ("", *(name for name, _plan in columns)), rows)
