"""Speed, spacing and rule together, in words: what another setting would give, side by side."""

from __future__ import annotations

from app.catalogue import _, _n
from app.words.numbers import amount, dollars, whole
from app.words.phrases import Statement, TextTable
from app.words.rules import act_words, damp_percent
from app.words.switching import chances
from sim.decide.switching.answer import SettingPlan, Together
from sim.units import NBSP, show_clock

TEN_MINUTES_H = 1.0 / 6.0


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


def together_answer(answer: Together, system: str) -> Statement:
    """Whether to keep speed and spacing, and what it takes never to reduce."""
    never = _never_words(answer, system)
    if not answer.stays:
        lead = _("Run at {setting}.", setting=setting_words(answer.chosen, system))
        return Statement(lead, never, _better_words(answer, system))
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
        cars=_cars_words(never.cars_washed_h - present.cars_washed_h),
        now=setting_words(present, system),
        hours=reduced_words(present.reduced_h),
    )


def _cars_words(more: float) -> str:
    count = round(abs(more))
    if count == 0:
        return _("as many cars")
    if more > 0:
        return _n("1 more car an hour", "{count} more cars an hour", count)
    return _n("1 fewer car an hour", "{count} fewer cars an hour", count)


def _better_words(answer: Together, system: str) -> str:
    """What the found setting gives with its rule."""
    present, chosen = answer.present, answer.chosen
    less = present.cost - chosen.cost
    said = [
        _(
            "With it: {rule} You wash {cars}, {damp} leave damp instead of {before}.",
            rule=act_words(chosen.rule, answer.crew_terms, system),
            cars=_cars_words(chosen.cars_washed_h - present.cars_washed_h),
            damp=damp_percent(chosen.damp_share, answer.wish),
            before=damp_percent(present.damp_share, answer.wish),
        )
    ]
    if round(less):
        sentence = "The day costs {money} less." if less > 0 else "The day costs {money} more."
        said.append(_(sentence, money=dollars(abs(less))))
    if not present.keeps and chosen.keeps:
        said.append(
            _("It keeps to what you allow, which the rule at the present setting does not.")
        )
    return " ".join(said)


def together_sure(answer: Together) -> str:
    """How sure the choice is, and how it was made."""
    return _(
        "Chances that no other setting looked at is better by enough to matter: {chance}. Settings "
        "are judged by the cost of the day, lost cars and reduced wipes included, within what you "
        "allow; {runs} days were simulated.",
        chance=chances(answer.probability),
        runs=whole(answer.runs),
    )


def together_table(answer: Together, system: str) -> TextTable:
    """The settings compared, a column each."""
    columns = [(_("Now"), answer.present)]
    if not answer.stays:
        columns.append((_("Advised"), answer.chosen))
    never = answer.never_reduce
    if never is not None and never not in [plan for _name, plan in columns]:
        columns.append((_("Never reduce"), never))
    plans = [plan for _name, plan in columns]
    rules = [act_words(plan.rule, answer.crew_terms, system) for plan in plans]
    rows = (
        (_("Conveyor speed"), *(speeds_words(plan, system) for plan in plans)),
        (_("Car spacing"), *(spacing_words(plan, system) for plan in plans)),
        (_("Rule"), *rules),
        (_("Reduced for"), *(reduced_words(plan.reduced_h) for plan in plans)),
        (_("Cars washed an hour"), *(whole(plan.cars_washed_h) for plan in plans)),
        (_("Lost cars a day"), *(whole(plan.cars_lost) for plan in plans)),
        (_("Leave damp"), *(damp_percent(plan.damp_share, answer.wish) for plan in plans)),
        (_("Cost of the day"), *(dollars(plan.cost) for plan in plans)),
        (_("Keeps to your wish"), *(_("yes") if plan.keeps else _("no") for plan in plans)),
    )
    return TextTable("", ("", *(name for name, _plan in columns)), rows)
