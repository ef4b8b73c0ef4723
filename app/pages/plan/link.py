"""A plan in an address: what stands in its form, stored or not, as a link that opens it again.

    ?units=us&expect=91+°F&1=Always+full&2=Less+belt&2.rule=clock+10:00-17:00&2.cloth=13:00

A number is a scenario's name, a number with a name one of its texts: the wiping rule in writing,
dry sets, or an input by its name, each as it was typed. What is not there is as the site has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from app.pages.plan.form import SHOWN_INPUTS, PlanTyped, ScenarioTyped
from app.sites.rule_forms import parts_of, written
from sim.inputs import INPUTS, MOST_SCENARIOS

LONGEST_LINK = 4_000
"""Characters of what an address asks for; browsers, mail and messages carry as many."""
_AS_THEY_ARE = ":,;"


def asked_of(typed: PlanTyped) -> str:
    """What the address of a form asks for; it may be longer than `LONGEST_LINK`."""
    parts = {"units": typed.units, "expect": " ".join(typed.expect.split())}
    for number, one in enumerate(typed.scenarios, start=1):
        parts[f"{number}"] = one.name.strip()
        rule = written(one.rule)
        texts = {"rule": "" if rule == "full" else rule, "cloth": one.cloth}
        texts |= {name: one.inputs.get(name, "") for name in SHOWN_INPUTS}
        for name, text in (texts | _by_name(one.more)).items():
            parts[f"{number}.{name}"] = text.strip()
    kept = {name: text for name, text in parts.items() if text or name.isdigit()}
    return "&".join(f"{_quoted(name)}={_quoted(text)}" for name, text in kept.items())


def _quoted(text: str) -> str:
    return quote(text, _AS_THEY_ARE).replace("%20", "+")


def _by_name(more: str) -> dict[str, str]:
    """The lines of other inputs by the name of the input; any other line under ``more``."""
    found: dict[str, str] = {}
    odd = []
    for line in filter(None, map(str.strip, more.splitlines())):
        name, equals, text = (part.strip() for part in line.partition("="))
        if equals and name in INPUTS and name not in SHOWN_INPUTS and name not in found and text:
            found[name] = text
        else:
            odd.append(line)
    return {**found, "more": "\n".join(odd)} if odd else found


def typed_in(asked: Mapping[str, str], units: str) -> PlanTyped:
    """The form that an address asks for; at most six scenarios, and nothing else of it, are looked
    at."""
    scenarios = []
    for number in range(1, MOST_SCENARIOS + 1):
        if f"{number}" not in asked:
            break
        scenarios.append(_scenario(asked, number))
    return PlanTyped(asked.get("expect", ""), tuple(scenarios), units)


def _scenario(asked: Mapping[str, str], number: int) -> ScenarioTyped:
    mark = f"{number}."
    texts = {name.removeprefix(mark): t for name, t in asked.items() if name.startswith(mark)}
    rule = parts_of(texts.pop("rule", "full"))
    cloth, more = texts.pop("cloth", ""), texts.pop("more", "")
    inputs = {name: texts.pop(name, "") for name in SHOWN_INPUTS}
    lines = [*(f"{name} = {text}" for name, text in texts.items()), *more.splitlines()]
    return ScenarioTyped(asked[f"{number}"], rule, cloth, inputs, "\n".join(lines))
