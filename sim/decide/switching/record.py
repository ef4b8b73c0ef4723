"""The answer of When to reduce as plain content for JSON, versioned by `SCHEMA`; see the guide."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sim.day.rules import Rule
from sim.decide.record import number, record
from sim.decide.switching.cues_record import cues_content
from sim.decide.switching.figures import Place, SwitchStudy
from sim.decide.switching.further_record import strip_content, tipping_content, wish_content
from sim.decide.switching.hours import HalfHours, half_hour_starts
from sim.decide.switching.reasons_record import (
    move_content,
    remedies_content,
    rule_content,
    why_content,
)
from sim.decide.switching.simplicity import kind_of

SCHEMA = "clothcast.switch/1"
COLUMNS = (
    "rule", "label", "damp_share", "full_share", "damp_cars", "full_cars", "cost", "draws", "keeps",
    "undominated",
)  # fmt: skip
"""What a row of the trade-off holds."""
MOST_OTHERS = 160
"""So many dominated rules are kept at most, evenly spread over the candidates."""


def switch_record(
    found: SwitchStudy, date: str, origin: str, libraries: dict[str, str]
) -> dict[str, Any]:
    """A study as plain content: NaN becomes null, everything is in SI.

    Args:
        date: the planned day, ISO 8601.
        origin: what the expected day was made of, in words.
        libraries: versions of what computed it.
    """
    answer = found.answer
    question, selection, site = answer.asked, answer.selection, answer.asked.site
    roles = [
        next(at for at, kinds in enumerate(found.roles) if role in kinds)
        for role in ("present", "chosen", "full", "reduced")
    ]
    present, chosen, full, reduced = roles
    return {
        "schema": SCHEMA,
        "site": site.name,
        "date": date,
        "seed": question.seed,
        "libraries": libraries,
        "origin": origin,
        "wish": wish_content(question.wish),
        "present": rule_content(answer.rules[0], site),
        "chosen": rule_content(answer.chosen, site),
        "keeps": selection.keeps,
        "probability": selection.probability,
        "settled": selection.settled,
        "alternatives": [
            {
                "rule": rule_content(one.rule, site),
                "same_kind": kind_of(one.rule) == kind_of(answer.chosen),
                "chance": one.chance,
                "gains": {
                    name: {"value": getattr(one, name)}
                    for name in ("damp_cars", "full_cars", "cost")
                },
            }
            for one in found.alternatives
        ],
        "kept": None if found.kept is None else asdict(found.kept),
        "rules": len(answer.rules),
        "runs": selection.runs,
        "draws": {"first": int(selection.draws.min()), "chosen": len(_of_chosen(found))},
        "strip": strip_content(site),
        "comparison": record(found.comparison, date, origin, libraries),
        "columns": {"present": present, "chosen": chosen, "full": full, "reduced": reduced},
        "half_hours": {
            "start_s": half_hour_starts(question).tolist(),
            "chosen": _hours(found.hours[0]),
            "full": _hours(found.hours[1]),
        },
        "trade_off": {"columns": list(COLUMNS), "points": _points(found)},
        "bound": _bound(found),
        "why": None if found.why is None else why_content(found.why, site),
        "remedies": None if found.remedies is None else remedies_content(found.remedies, site),
        "moves": [move_content(one, site) for one in found.moves],
        "tipping": None if found.tipping is None else tipping_content(found.tipping, question),
        "cues": None if found.cues is None else cues_content(found.cues, site),
    }


def _of_chosen(found: SwitchStudy) -> Any:
    return found.answer.outcomes[found.answer.selection.chosen]


def _hours(hours: HalfHours) -> dict[str, list[float | None]]:
    return {
        name: [number(value) for value in getattr(hours, name)]
        for name in ("cars", "saturation", "reduced", "damp")
    }


def _points(found: SwitchStudy) -> list[list[Any]]:
    """Rows of the trade-off: always full, always reduced, present, chosen, the undominated, and
    a spread of the others."""
    rules = found.answer.rules
    marked = {0, found.answer.selection.chosen}
    marked |= {at for at, rule in enumerate(rules) if rule.everyone or not rule.either}
    kept = [p for p in found.places if p.undominated or p.rule in marked]
    others = [p for p in found.places if not p.undominated and p.rule not in marked]
    step = max(1, -(-len(others) // MOST_OTHERS))
    return [_row(place, rules[place.rule]) for place in (*kept, *others[::step])]


def _row(place: Place, rule: Rule) -> list[Any]:
    figures = (
        place.damp_share, place.full_share, place.damp_cars, place.full_cars, place.cost,
    )  # fmt: skip
    marks = [place.draws, place.keeps, place.undominated]
    return [rule.text(), rule.words(), *(number(value) for value in figures), *marks]


def _bound(found: SwitchStudy) -> dict[str, Any] | None:
    bound, reached = found.bound, found.reached
    if bound is None or reached is None:
        return None
    return {
        "best_possible": bound.bound,
        "reached": reached.mean,
        "share": [number(reached.share), number(reached.low), number(reached.high)],
        "unit": "$" if found.answer.asked.wish.kind == "cost" else "cars",
        "draws": bound.days,
        "without_rewash": bound.without_rewash,
    }
