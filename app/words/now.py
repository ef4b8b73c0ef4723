"""What to do with the rest of a day, in words: the act, why, how sure, and what would change it."""

from __future__ import annotations

from dataclasses import dataclass

from app.answers.now import NowFound
from app.catalogue import _, _n
from app.words.checks import ready_words
from app.words.numbers import about_dollars, of_twenty, percent, whole
from app.words.phrases import joined
from sim.decide.now.answer import Act, NowAnswer, WouldChange
from sim.inputs.logbook import GO_BACK, REDUCE_LATER, REDUCE_NOW
from sim.units import show_clock

SAME_CARS = 0.05
"""As many cars as expected, within that share; a guess."""


@dataclass(frozen=True, slots=True)
class NowWords:
    """What is said.

    Attributes:
        act: what to do; why: in a sentence.
        guess: that nobody has told anything for long; empty otherwise.
        beside: what it does beside the plan. sure: how sure it is. assumed: what it rests on.
        change: which look would change it.
        stops: a safety device is down.
    """

    act: str
    why: str
    guess: str = ""
    beside: str = ""
    sure: str = ""
    assumed: str = ""
    change: str = ""
    stops: bool = False


def now_words(found: NowFound) -> NowWords | None:
    """All of it; None while there is nothing to say."""
    if found.stops is not None:
        said = ready_words(found.stops)
        return NowWords(said.lead, said.rest, stops=True)
    answer, planned = found.answer, found.planned
    if planned is not None and found.is_guess:
        act = _act(planned.act) if planned.by_clock else _("Go on by the plan.")
        return NowWords(act, _("By the plan."), _guess(None))
    if answer is None:
        return None
    return NowWords(
        act=act_words(answer),
        why=_why(answer),
        guess=_guess(answer) if found.is_guess else "",
        beside=_beside(answer),
        sure=_sure(answer),
        assumed=_assumed(answer),
        change=_change(answer),
    )


def act_words(answer: NowAnswer) -> str:
    """What to do, as it is also kept in the log."""
    if answer.by_plan and not answer.by_clock:
        return _("Go on by the plan.")
    return _act(answer.told.act)


def _act(act: Act) -> str:
    until = "" if act.until_s is None else show_clock(act.until_s)
    if act.at_s is None:
        if act.word == REDUCE_NOW:
            return _("Reduce now, until about {end}.", end=until) if until else _("Reduce now.")
        if act.word == GO_BACK:
            return _("Go back to full now.")
        return _("Stay on reduced.") if act.reduced else _("Stay on full.")
    sentence = {REDUCE_LATER: "Reduce at about {time}."}.get(
        act.word, "Go back to full at about {time}."
    )
    return _(sentence, time=show_clock(act.at_s))


def _why(answer: NowAnswer) -> str:
    parts = []
    if answer.washed is not None and answer.cars_scale is not None:
        more = answer.cars_scale - 1.0
        sentence = "{cars} cars by {time}, about as many as expected"
        if more > SAME_CARS:
            sentence = "{cars} cars by {time}, {share} more than expected"
        elif more < -SAME_CARS:
            sentence = "{cars} cars by {time}, {share} fewer than expected"
        parts.append(
            _(sentence, cars=whole(answer.washed), time=show_clock(answer.counted_s or 0.0),
              share=percent(abs(more)))
        )  # fmt: skip
    damp = 20.0 * answer.damp_share
    if damp < 0.5:
        parts.append(_("hardly a hood is expected damp"))
    else:
        parts.append(_("about {damp} of 20 hoods expected damp", damp=whole(damp)))
    said = ", ".join(parts)
    return _("{said}.", said=said[:1].upper() + said[1:])


def _guess(answer: NowAnswer | None) -> str:
    """That nobody has noted anything since an answer's last entry; None: since opening."""
    if answer is None or answer.last_s is None:
        return _("A guess: nobody has noted anything since opening.")
    return _("A guess: nobody has noted anything since {time}.", time=show_clock(answer.last_s))


def _beside(answer: NowAnswer) -> str:
    """What it does beside the plan; of the plan itself, beside the best that does otherwise now."""
    if answer.by_plan:
        other = _act(answer.other.act).removesuffix(".")
        if answer.beats > 0.5:
            sentence = "It is the plan. “{other}” would cost about {money} more."
            return _(sentence, other=other, money=about_dollars(answer.beats))
        return _("It is the plan, and “{other}” would not cost more.", other=other)
    parts = [_saved(answer)]
    fewer = round(answer.spares)
    if fewer > 0:
        parts.append(_n("1 car fewer leaves damp", "{count} cars fewer leave damp", fewer))
    elif fewer < 0:
        parts.append(_n("1 car more leaves damp", "{count} cars more leave damp", -fewer))
    return _("Beside the plan {what}.", what=joined(parts))


def _saved(answer: NowAnswer) -> str:
    money = about_dollars(abs(answer.saves))
    error = about_dollars(2.0 * answer.saves_error, 1)
    sentence = "it saves about {money} (± {error})"
    if answer.saves < 0.0:
        sentence = "it costs about {money} (± {error}) more"
    return _(sentence, money=money, error=error)


def _sure(answer: NowAnswer) -> str:
    tenths = of_twenty(answer.chance) // 2
    said = _(
        "On {count} of 10 days that may still come, nothing else right now would have been better "
        "by what matters.",
        count=tenths,
    )
    if answer.widened:
        few = _("Few of the simulated sites agree with what was seen, so it is less sure.")
        return f"{said} {few}"
    return said


def _assumed(answer: NowAnswer) -> str:
    planned = [
        ("cars", answer.washed is None),
        ("people", not answer.missing),
        ("weather", answer.felt_s is None),
        ("belt", answer.stands_until_s is None),
    ]
    as_planned = joined([_(what) for what, is_planned in planned if is_planned])
    said = []
    if as_planned:
        rest = _("{things} as planned", things=as_planned)
        said.append(_("{rest}; wiped as noted, and before that as planned.",
                      rest=rest[:1].upper() + rest[1:]))  # fmt: skip
    else:
        said.append(_("Wiped as noted, and before that as planned."))
    if answer.felt_s is not None:
        said.append(_("The air stays as felt at {time}.", time=show_clock(answer.felt_s)))
    if answer.missing:
        sentence = "{count} people are missing, taken for those who dry cars, where any do."
        said.append(_n("1 person is missing, taken for one who dries cars, where any do.", sentence,
                       answer.missing))  # fmt: skip
    if answer.stands_until_s is not None:
        end = show_clock(answer.stands_until_s)
        said.append(_("The belt is taken to stand until {time}.", time=end))
    said.append(_("{cars} cars are still to come.", cars=whole(answer.cars_left)))
    return " ".join(said)


def _change(answer: NowAnswer) -> str:
    change = answer.changes
    if change is None:
        return _("No likely count of damp hoods would change it.")
    act = _changed_act(change)
    sentence = "{damp} damp hoods or fewer among the next {of} would make it “{act}”."
    if change.at_least:
        sentence = "{damp} damp hoods or more among the next {of} would make it “{act}”."
    said = _(sentence, damp=change.damp, of=change.of, act=act)
    usual = _("About {usual} are expected.", usual=whole(change.usual))
    return f"{said} {usual}"


def _changed_act(change: WouldChange) -> str:
    if change.at_s is not None:
        sentence = {REDUCE_LATER: "Reduce at about {time}"}.get(
            change.word, "Go back to full at about {time}"
        )
        return _(sentence, time=show_clock(change.at_s))
    if change.word == REDUCE_NOW:
        return _("Reduce now")
    return _("Go back to full now") if change.word == GO_BACK else _("Stay as it is")
