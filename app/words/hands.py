"""Words of people at the exit: whether more hands beat reduced wiping, and what they would cost."""

from __future__ import annotations

from app.catalogue import _, _n
from app.words.beside import level_words
from app.words.numbers import apart_as_shown, dollars, whole
from app.words.phrases import Statement, TextTable
from app.words.rules import act_words, damp_percent, order_of, wish_words
from sim.decide.switching.answer import Hands, HandsRow, MoreHands, WhenToReduce
from sim.units import MINUS, show_clock

NOTHING = "–"


def hands_words(answer: WhenToReduce, system: str) -> Statement | None:
    """Whether somebody more at the exit is advised, with which rule, and what it costs or saves;
    None where it was not worked out, or no car leaves damp."""
    hands = answer.hands
    if hands is None or hands.best_more is None:
        return None
    row = hands.chosen if hands.beats else hands.best_more
    if not hands.beats:
        return Statement("", _not_worth_it(answer, hands, row))
    lead = (
        f"{act_words(row.rule, answer.crew_terms, system)} {people_words(row.hands, row.whole_day)}"
    )
    return Statement(lead, _worth_it(answer, hands.own, row, system))


def other_advice(answer: WhenToReduce, system: str) -> str:
    """What goes by the people planned now, where more are advised, and what the advice is; else
    nothing."""
    hands = answer.hands
    if hands is None or not hands.beats:
        return ""
    row = hands.chosen
    return _(
        "This goes by the people planned now. More are advised: {act} {people} Once the manager "
        "has put them into the plan, this goes by them.",
        act=act_words(row.rule, answer.crew_terms, system),
        people=people_words(row.hands, row.whole_day),
    )


def people_words(hands: MoreHands, whole_day: bool = False) -> str:
    """Who is put at the exit, and when, as an order."""
    if not hands.people:
        return _("Nobody more at the exit.")
    return _n(
        "Put one more person with towels at the exit {when}.",
        "Put {count} more people with towels at the exit {when}.",
        hands.people,
        when=_when(hands, whole_day),
    )


def _when(hands: MoreHands, whole_day: bool) -> str:
    if whole_day:
        return _("all day")
    start, end = show_clock(hands.from_s), show_clock(hands.until_s)
    return _("from {start} to {end}", start=start, end=end)


def _worth_it(answer: WhenToReduce, own: HandsRow, row: HandsRow, system: str) -> str:
    if row.more > 0.0:
        sentence = (
            "This meets {wish} more surely than your own people can, for about {amount} a day "
            "more; {wages} of it are wages."
        )
        if not own.keeps:
            sentence = (
                "With your own people no rule meets {wish}; this does, for about {amount} a day "
                "more, {wages} of wages counted."
                if row.keeps
                else "No rule meets {wish}, with your own people or more; this comes nearest, "
                "for about {amount} a day more, {wages} of wages counted."
            )
        return _(
            sentence,
            wish=wish_words(answer.wish),
            amount=dollars(row.more),
            wages=dollars(row.wages),
        )
    sentence = (
        "That is about {amount} a day better than your own people with “{act}”: {wages} of wages, "
        "and {damp} of the cars leave damp instead of {before}."
    )
    if not row.keeps:
        sentence = (
            "That is about {amount} a day better than your own people with “{act}”: {wages} of "
            "wages, and {damp} of the cars leave damp instead of {before}. Even so it misses "
            "{wish}."
        )
    return _(
        sentence,
        wish=wish_words(answer.wish),
        amount=dollars(-row.more),
        act=order_of(answer.told, answer.crew_terms, system),
        wages=dollars(row.wages),
        damp=_damp(answer, own, row),
        before=_damp(answer, own, own),
    )


def _not_worth_it(answer: WhenToReduce, hands: Hands, row: HandsRow) -> str:
    own = hands.own
    saved = apart_as_shown(row.wages, row.more, 1.0)  # so that wages less it are what it costs more
    told = {
        "when": _when(row.hands, row.whole_day),
        "wages": dollars(row.wages),
        "saved": dollars(max(0.0, saved)),
        "wish": wish_words(answer.wish),
    }
    sentence = (
        "One more person at the exit {when} would cost {wages} and save {saved}: too little to "
        "matter.",
        "{count} more people at the exit {when} would cost {wages} and save {saved}: too little to "
        "matter.",
    )
    if row.more < -hands.matters:
        sentence = (
            "One more person at the exit {when} would cost {wages} and save {saved}, but keep less "
            "surely to {wish}.",
            "{count} more people at the exit {when} would cost {wages} and save {saved}, but keep "
            "less surely to {wish}.",
        )
    if row.more >= 0.0:
        reduces = bool(own.rule.either) or own.rule.everyone
        sentence = (
            (
                "One more person at the exit {when} would cost {wages} and save {saved}: reduce "
                "instead.",
                "{count} more people at the exit {when} would cost {wages} and save {saved}: "
                "reduce instead.",
            )
            if reduces
            else (
                "One more person at the exit {when} would cost {wages} and save {saved}: not worth "
                "it.",
                "{count} more people at the exit {when} would cost {wages} and save {saved}: not "
                "worth it.",
            )
        )
    return _n(*sentence, row.hands.people, **told)


def hands_of(answer: WhenToReduce, system: str) -> TextTable | None:
    """People at the exit with the rule that is best with them; None where it was not worked out."""
    hands, says = answer.hands, hands_words(answer, system)
    if hands is None or says is None:
        return None
    heads = (
        _("At the exit"), _("Rule"), _("Leave damp"), _("Full wipes"), _("Wages"),
        _("Cost of the day"), _("Meets your wish"),
    )  # fmt: skip
    rows = tuple(
        (
            _who(row),
            order_of(row.rule, answer.crew_terms, system),
            _damp(answer, hands.own, row),
            whole(row.full_cars),
            dollars(row.wages) if row.hands.people else NOTHING,
            _apart(row.more) if row.hands.people else _cost(answer, row),
            _("yes") if row.keeps else _("no"),
        )
        for row in hands.rows
    )
    return TextTable(str(says), heads, rows)


def _damp(answer: WhenToReduce, own: HandsRow, row: HandsRow) -> str:
    """The share of cars that leave damp, beside that of the day's comparison."""
    shares = row.left_damp_share, own.left_damp_share
    if answer.comparison.with_rule(own.rule.text) is None:
        return damp_percent(row.left_damp_share, answer.wish)
    return level_words(answer.comparison, own.rule.text, "left_damp_share", *shares)


def _cost(answer: WhenToReduce, own: HandsRow) -> str:
    """What the day costs with the site's own people, as its comparison has it."""
    if answer.comparison.with_rule(own.rule.text) is None:
        return dollars(own.cost)
    return level_words(answer.comparison, own.rule.text, "cost", own.cost, own.cost)


def hands_line(answer: WhenToReduce) -> str:
    """Whether more people at the exit pay, in a line."""
    hands = answer.hands
    row = None if hands is None else hands.chosen if hands.beats else hands.best_more
    if row is None:
        return ""
    sentence = (
        "{who}: about {money} a day better."
        if row.more <= 0
        else "{who}: about {money} a day worse."
    )
    return _(sentence, who=_who(row), money=dollars(abs(row.more)))


def _who(row: HandsRow) -> str:
    if not row.hands.people:
        return _("Your own people")
    return _n(
        "1 more {when}",
        "{count} more {when}",
        row.hands.people,
        when=_when(row.hands, row.whole_day),
    )


def _apart(money: float) -> str:
    sign = MINUS if money < 0.0 else "+"
    return f"{sign}{dollars(abs(money))}"
