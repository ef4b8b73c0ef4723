"""How the advice of a busy day turns on its guesses: `python -m tests.sensitivity`.

Writes the guide `app/guide/sensitivity.md`: the demo's humid peak with one input at a low, a middle
and a high value, all others at their middle values; at each the product's own search, smaller than
on the page, among rules and people at the exit. Ends are those of what is believed of a guess; what
a site knows by itself (people at the exit, members) is set to values of our own choice.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from app.answers.planning import make_question
from app.answers.switching import switch_question
from app.sites.demo import demo_days, twin_data
from app.words.numbers import amount, dollars, on_area, percent
from app.words.phrases import joined
from app.words.rules import order_of
from sim.day.drawn import prior_quantile
from sim.day.rules import FULL
from sim.decide.switching.answer import CrewTerms
from sim.decide.switching.at_exit import all_day, entered
from sim.decide.switching.candidates import narrowed
from sim.decide.switching.choice import Wish
from sim.decide.switching.hands import HandsRow, choose_hands
from sim.decide.switching.question import SwitchQuestion
from sim.decide.switching.search import SamplingBudget, search
from sim.inputs import INPUTS, Scenario, Site
from sim.units import show_clock

GUIDE = Path(__file__).resolve().parent.parent / "app" / "guide" / "sensitivity.md"
MIDDLE = 0.5
ENDS = (0.025, MIDDLE, 0.975)
FEW = SamplingBudget(first=16, sure=64, most=64)
GUESSES = (
    "allowed_film_kg_m2", "throw_off_time_s", "finish_area_s_m2", "holding_capacity_kg_kg",
    "damp_cost",
)  # fmt: skip
PEOPLE = ((0.0, 3.0), (9 * 3600.0, 4.0), (19 * 3600.0, 3.0))
"""Those of the demo but for the one at the exit."""
OWN_PEOPLE = (0, 1, 2)
"""At the exit all day, nobody more looked for."""
OWN_MEMBERS = (0.2, 0.5, 0.8)
COSTS_TOLD = 10.0
HEAD = """# What the advice of a busy day turns on

The humid peak of the demo's unweighed twin, with nobody at the exit, one number changed at a \
time. A guess stands at the low end of what is \
believed of it, at its middle and at its high end (2.5, 50 and 97.5 of 100 sites); what a site \
knows by itself is set to three values; everything else stays at its middle value. At each, rule \
and people at the exit are chosen anew for least cost, among fewer rules than on the page *When to \
reduce* and on {draws} simulated days. All rows see the same days and may be held against each \
other; other days would shift the costs of all of them alike, by hundreds of dollars. A window \
that moves by half an hour is luck. Where people at the exit are set, the rule alone is chosen. \
Leaving damp and cost are means a day by that advice, wages included.

{turns}

| What is changed | At | Advice | Leaving damp | Cost of the day |
| --- | --- | --- | --- | --- |
"""
TAIL = """
Invented site, invented day, and nothing here was measured at a car wash. The same is said of your \
site on your own page *When to reduce*, in *What would settle it* and in the sentence on whether \
the advice is firm; [Measurements](weighings.md) names what to measure first. People at the exit \
stand clear of the belt and of moving cars; local rules and the equipment's manual come first.

Made by `python -m tests.sensitivity`; it changes when the model does.
"""


@dataclass(frozen=True, slots=True)
class Case:
    """A value that one input of the busy day is given.

    Attributes:
        label: the input, and whose it is; at: the value as people see it.
        is_own: people at the exit are set, and nobody more is looked for.
    """

    label: str
    at: str
    site: Site
    is_own: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """The advice in a case: rule, people more at the exit (how many, and in words), and means a
    day."""

    case: Case
    rule: str
    more: int
    people: str
    left_damp_share: float
    cost: float

    @property
    def line(self) -> str:
        """Its row of the table."""
        advice = "; ".join(filter(None, (self.rule, self.people)))
        told = dollars(COSTS_TOLD * round(self.cost / COSTS_TOLD))
        damp = percent(self.left_damp_share)
        return f"| {self.case.label} | {self.case.at} | {advice} | {damp} | {told} |\n"


def busy_day() -> SwitchQuestion:
    """The humid peak of the demo's twin, guesses at their middle values, nobody at the exit, least
    cost wished for."""
    data = twin_data()
    site = data.site.with_values({"finishers": ((0.0, 0.0),), "people": PEOPLE})
    data = replace(data, site=site)
    asked, _ = make_question(data, demo_days()["humid_peak"], "", (Scenario("Always full"),), 1)
    question = replace(switch_question(asked), known=None, belief=None)
    return replace(question, wish=Wish.of(question.site, "cost"))


def cases(site: Site) -> list[list[Case]]:
    """Low, middle and high of every row of the table, in its order."""
    guesses = [[_guessed(site, name, quantile) for quantile in ENDS] for name in GUESSES]
    hands = _known("finishers")
    people = [
        Case(
            hands,
            f"{count} all day",
            site.with_values(entered(site, all_day(site, count))),
            is_own=True,
        )
        for count in OWN_PEOPLE
    ]
    members = [
        Case(_known("member_share"), percent(share), site.with_values({"member_share": share}))
        for share in OWN_MEMBERS
    ]
    return [*guesses[:2], people, *guesses[2:], members]


def _known(name: str) -> str:
    """An input that a site knows by itself, with the source of its default."""
    return f"{INPUTS[name].label} ({INPUTS[name].source})"


def _guessed(site: Site, name: str, quantile: float) -> Case:
    """A guess at a quantile of what is believed of it; at its middle the site is as it is."""
    if quantile == MIDDLE:
        value, changed = float(str(site.value(name))), site
    else:
        value = prior_quantile(site, name, quantile)
        changed = site.with_values({name: value})
    return Case(f"{INPUTS[name].label} (guess)", _at(site, name, value), changed)


def _at(site: Site, name: str, value: float) -> str:
    """A value as people see it: a film as water on the hood of the reference car, and the time
    for an area as that for its hood and windshield."""
    car = site.reference.numbers
    if name == "allowed_film_kg_m2":
        return on_area(value, car.hood_area_m2)
    if name == "finish_area_s_m2":
        seconds = value * (car.hood_area_m2 + car.windshield_area_m2)
        return f"{seconds:.0f} s for hood and windshield, and the time for its water"
    if INPUTS[name].unit.kind == "money":
        return f"${value:.2f}"
    return amount(value, INPUTS[name].unit.kind, "us", 2)


def cell(question: SwitchQuestion, case: Case) -> Cell:
    """The advice of the day in a case."""
    site = case.site
    asked = replace(question, site=site, among=narrowed(site, FULL), wish=Wish.of(site, "cost"))
    hands = choose_hands(search(asked, effort=FEW), effort=FEW)
    found = hands.own if case.is_own else hands.chosen
    return Cell(
        case,
        order_of(found.rule, CrewTerms.of(site), "us"),
        found.hands.people,
        "" if case.is_own else people_words(found),
        found.left_damp_share,
        found.cost,
    )


def people_words(found: HandsRow) -> str:
    """Who is advised at the exit, and when."""
    more = found.hands
    if not more.people:
        return "nobody more at the exit"
    when = (
        "all day" if found.whole_day else f"{show_clock(more.from_s)} to {show_clock(more.until_s)}"
    )
    return f"{more.people} more at the exit, {when}"


def turns(rows: Sequence[Sequence[Cell]]) -> str:
    """Along which rows rule and people change."""
    rule = [row[0].case.label for row in rows if len({one.rule for one in row}) > 1]
    people = [row[0].case.label for row in rows if len({one.more for one in row}) > 1]
    return (
        f"The rule changes along: {_listed(rule)}. How many more are asked to the exit changes "
        f"along: {_listed(people)}."
    )


def _listed(labels: Sequence[str]) -> str:
    names = [f"*{label.partition(' (')[0].lower()}*" for label in labels]
    return joined(names) if names else "no row"


def main() -> int:
    """Writes the guide anew."""
    question, rows, known = busy_day(), list[list[Cell]](), list[Cell]()
    for row in cases(question.site):
        rows.append([])
        for case in row:
            alike = (one for one in known if one.case.site == case.site and not case.is_own)
            before = next(alike, None)
            one = replace(before, case=case) if before else cell(question, case)
            if not case.is_own:
                known.append(one)
            rows[-1].append(one)
            sys.stdout.write(one.line)
            sys.stdout.flush()
    lines = "".join(one.line for row in rows for one in row)
    head = HEAD.format(draws=FEW.sure, turns=turns(rows))
    GUIDE.write_text(head + lines + TAIL, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
