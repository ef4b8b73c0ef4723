"""When to reduce: sentences, charts, tables, wish, into the plan, waiting."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from app.answers.studies.runner import Progress
from app.charts.switching import strip_chart, trade_chart
from app.sites.reading import gate
from app.words.rules import act_words
from app.words.switching import answer_words, choice_words, foresight_words, switch_sure
from app.words.why import help_line, helps_of, moves_of, why_facts
from sim.day.figures import Range
from sim.day.rules import FULL, REDUCED, Classes, Rule, Service
from sim.decide.switching.answer import Alternative, WhenToReduce, WishKept
from sim.inputs import Scenario
from tests.charts.drawn import drawn, faults, number
from tests.pages.fixture_comparison import CLOSED, PEAK
from tests.pages.pages import asks_again, page_of
from tests.pages.switch_content import (
    STARTS,
    TERMS,
    band,
    clock,
    hours,
    means,
    switch,
    with_reasons,
)
from tests.pages.switch_visitor import PAGE, PLAN, SHEET, SLUG, Visitor, standing, visiting

WEIGHED = frozenset({"holding_capacity_kg_kg", "allowed_film_kg_m2", "throw_off_moisture_kg_kg"})


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """An app on a fresh database with the invented site; jobs are noted, not computed."""
    with visiting(tmp_path, monkeypatch) as opened:
        yield opened


# ---- sentences -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        (FULL, "Wipe in full all day."),
        (REDUCED, "Reduce all day."),
        (clock((12, 16)), "Reduce at 12:00, go back at 16:00."),
        (clock((7, 16)), "Reduce from opening, go back at 16:00."),
        (clock((12, 24)), "Reduce at 12:00 until closing."),
        (clock((10, 12), (14, 16)),
         "Reduce at 10:00, go back at 12:00. Reduce again at 14:00, go back at 16:00."),
        (band(0.5, 0.4), "Reduce when a strip weighs 500 g, until it is down to 450 g."),
        (Rule(((Classes(("van", "pickup")),),)),
         "Reduce for van and pickup only."),
        (Rule(((Service(),),)), "Reduce every car but those sold the full wipe."),
        (Rule(((*clock((12, 24)).either[0], *band(0.5, 0.4).either[0]),)),
         "Reduce from 12:00 to closing and when a strip weighs 500 g, until it is down to 450 g."),
        (Rule((*clock((7, 9)).either, *band(0.5, 0.4).either)),
         "Reduce from opening to 9:00, or when a strip weighs 500 g, until it is down to 450 g."),
    ],
)  # fmt: skip
def test_the_rule_is_an_order_in_times_and_weights(chosen: Rule, words: str) -> None:
    """Whatever rule is chosen, the crew is told clock times and weights, never a saturation."""
    said = act_words(chosen, TERMS, "si").replace("\u00a0", " ")
    assert said == words
    assert "%" not in said


def test_the_answer_says_what_comes_of_it() -> None:
    """Damp cars with the rule and as planned now, and how many are still wiped in full."""
    said = answer_words(switch(), "us")
    text = str(said).replace("\u00a0", " ")
    assert said.lead == "Reduce at 12:00, go back at 16:00."
    assert "1 car in 22 will leave damp, about 1 car in 6 as planned now." in text
    assert "Still wiped in full: just over half of the cars." in text
    assert "No rule tried meets" not in text


def missing() -> WhenToReduce:
    """An answer whose rule misses what is wished for: 4.5 % damp cars, 4 % allowed."""
    answer = switch()
    return replace(answer, keeps=False, wish=replace(answer.wish, allowed_damp_share=0.04))


def test_without_a_rule_that_keeps_the_answer_says_so() -> None:
    """Where no rule meets the wish the page says it, and claims no share of foresight."""
    content = missing()
    text = str(answer_words(content, "us")).replace("\u00a0", " ")
    assert "No rule tried meets at most 4 % of cars leaving damp on average" in text
    assert "wipes the most cars in full" in text
    assert "none meets at most 4" in choice_words(content)[0]
    assert foresight_words(content) == ""
    said = str(switch_sure(content, WEIGHED, "us"))
    assert said == "Not firm: no rule tried meets what you allow."


@pytest.mark.parametrize(
    ("share", "low", "high", "state", "more"),
    [
        (0.93, 0.912, 0.945, "keeps", ""),
        (
            0.88,
            0.859,
            0.898,
            "misses",
            "meets at most 5 % of cars leaving damp on 9 days",
        ),
        (0.89, 0.87, 0.91, "near", "90 are asked for: too close to tell"),
    ],
)
def test_the_rate_of_days_is_the_one_that_was_found(
    share: float, low: float, high: float, state: str, more: str
) -> None:
    """On how many of 100 fresh days a rule met the share is told as it was counted, whatever
    the choice had believed; only what the days leave open is called too close to tell."""
    rate, wish = WishKept(share, low, high, 1024), replace(switch().wish, kind="days")
    for keeps in (True, False):
        content = replace(switch(), wish=wish, kept=rate, keeps=keeps)
        text = str(answer_words(content, "us")).replace("\u00a0", " ")
        assert f"on {round(100 * share)} of 100 days that the choice had not seen" in text
        assert more in text
        assert content.limit == state
        assert ("No rule tried meets" in text) == (state == "misses")


def test_a_mean_about_at_the_limit_is_not_called_kept_or_missed() -> None:
    """Where the figure shown lies on the other side of the limit than what the choice saw."""
    content = replace(switch(), keeps=False)
    text = str(answer_words(content, "us"))
    assert content.limit == "near"
    assert "too close to tell whether it meets it" in text
    assert "No rule tried" not in text
    said = str(switch_sure(content, WEIGHED, "us"))
    assert said == "Not firm: whether it meets what you allow is open."


def test_what_is_too_close_to_tell_is_named() -> None:
    """The rule that it might as well have been and what that differs in; of one kind, that only
    the numbers differ."""
    other = Alternative(band(0.5, 0.4), False, 0.3, means(12.0, 3.0, 0.002, -2.0))
    close = replace(switch(), settled=0.7, alternatives=(other,))
    said = switch_sure(close, WEIGHED, "si")
    assert said.lead == "Too close to tell."
    text = said.rest.replace("\u00a0", " ")
    assert (
        "do not tell it from “Reduce when a strip weighs 500 g, until it is down to 450 g”" in text
    )
    assert "3 more cars leaving damp, 12 more full wipes and $2 cheaper a day" in text
    assert not re.search(r"[.] [a-z]", text), "a sentence begins with a capital"
    same = replace(close, alternatives=(replace(other, same_kind=True),))
    assert "the same kind of rule with other numbers" in switch_sure(same, WEIGHED, "si").rest
    assert switch_sure(replace(close, settled=0.96), WEIGHED, "si").lead == "Firm."


def test_a_rule_that_follows_the_cloth_has_expected_times() -> None:
    """Its times are told as expected ones, from the half hours in which most are reduced."""
    content = switch(band(0.5, 0.4))
    text = str(answer_words(content, "si")).replace("\u00a0", " ")
    assert "On a day as expected that is mostly 12:00 to 16:00." in text
    seldom = replace(content.half_hours, told=hours([0.4] * 26))
    content = replace(content, half_hours=seldom)
    assert "In no half hour more than half" in str(answer_words(content, "si"))


def test_firm_only_where_told_apart() -> None:
    """While a rival is better at more sites than 1 in 20, or two rules can't be told apart, nothing
    is firm; the rival is named, and the one measurement that would settle most of it."""
    content = switch()
    said = switch_sure(content, frozenset(), "us")
    assert said.lead == "Firm."
    assert "No measurement is in this plan" in said.rest
    assert switch_sure(content, WEIGHED, "us").rest.endswith("128 were drawn.")
    said = switch_sure(with_reasons(content), WEIGHED, "us")
    assert str(said).startswith(
        "Not firm: at 3 of 20 sites like yours (192 were drawn) “Wipe in full all day” is better "
        "by enough to matter. One measurement would settle most of it. Before a strip is touched"
    )
    unsure = replace(content, probability=0.8)
    said = switch_sure(unsure, WEIGHED, "us")
    assert said.lead == "Too close to tell."
    assert "by enough to matter is 16\u00a0in\u00a020" in said.rest


def test_how_close_foresight_would_come() -> None:
    """The share of what foresight gives is rounded down; for costs it is what could be saved."""
    said = foresight_words(switch())
    assert "at least 85\u00a0% of the full wipes" in said
    assert "(81 to 88\u00a0% by the luck of 8 simulated days)" in said
    bound = switch().bound
    assert bound is not None
    bound = replace(
        bound, best_possible=2700.0, reached=3000.0, share=0.9, run_error=Range(0.86, 0.94)
    )
    content = replace(switch(), bound=bound, wish=replace(switch().wish, kind="cost"))
    said = foresight_words(content)
    assert "at most 10\u00a0% of the day’s cost" in said
    assert "(6 to 14\u00a0% by the luck" in said
    sure = replace(content, bound=replace(bound, run_error=None))
    assert "luck" not in foresight_words(sure)
    assert "costs least" in choice_words(content)[0]
    assert foresight_words(replace(switch(), bound=None)) == ""


def test_why_is_told_in_whole_sentences() -> None:
    """Gain with its ranges, how often, loss, what binds, runner-up, what flips and what settles."""
    facts = dict(why_facts(with_reasons(switch()), "us"))
    said = {label: words.replace("\u00a0", " ") for label, words in facts.items()}
    assert said["Expected gain"] == (
        "230 fewer cars leaving damp (90 to 320), 640 fewer full wipes (600 to 700) and $380 "
        "cheaper (−60 to 700) a day than as planned now."
    )
    assert "in 17 of 20 sites like yours, worse in 3" in said["How often it is better"]
    assert said["Loss if wrong"].endswith("640 fewer full wipes and $95 dearer a day.")
    assert said["What makes it needed"].startswith("Humid air: with 40 % less")
    assert said["Runner-up"].startswith("Reduce when a strip weighs 18 oz")
    assert "23 more cars leaving damp" in said["Runner-up"]
    assert said["What would flip it"] == (
        "What is planned now would do below 84 °F at most or with fewer than 1,450 cars."
    )
    assert "Soak one strip" in said["What would settle it"]
    assert why_facts(switch(), "us") == ()


def test_what_helps_and_how_it_moves_are_tables() -> None:
    """A row a remedy, best first, and a row a day; the rule of a day that misses says so; where no
    rule meets the wish, switching is never called enough."""
    content = with_reasons(switch())
    helps, moves = helps_of(content, "us"), moves_of(content, "us")
    assert helps is not None
    assert moves is not None
    assert helps.says.startswith("Switching is enough")
    assert helps.rows[0] == (
        "A dry set at 13:00, 35 min", "Wipe in full all day",
        "4\u00a0%", "−20", "+300", "−$25", "yes",
    )  # fmt: skip
    assert [row[0] for row in moves.rows] == ["As expected", "Cooler", "Busier"]
    assert moves.rows[1][4] == "Wipe in full all day."
    assert moves.rows[2][4] == "Reduce all day. (misses your wish)"
    missed = helps_of(with_reasons(missing()), "us")
    assert missed is not None
    assert missed.says.startswith("Switching alone is not enough")
    assert (helps_of(switch(), "us"), moves_of(switch(), "us")) == (None, None)


def test_parts_that_were_not_computed_are_not_shown(visitor: Visitor) -> None:
    """Reasons, remedies and moved days stand on the page where the record has them, else not."""
    heads = ("Why this advice", "What would help", "How it moves")
    visitor.store(with_reasons(switch()))
    text = visitor.text()
    assert all(re.search(f">{re.escape(head)}(</button>)?</h2>", text) for head in heads)
    assert "Money here turns on guesses until you enter yours: “Takings per car”" in text


# ---- charts --------------------------------------------------------------------------------------


def test_the_strips_fill_from_below() -> None:
    """A strip a half hour, the wetter the higher, by the scale that the damp limit gives; always
    full is a line across it where it would be wetter; the bar above follows the rule."""
    chart = strip_chart(switch())
    seen = drawn(str(chart.svg))
    assert list(faults(str(chart.svg))) == []
    foot, limit = seen.boxes["cloth"][0][3], seen.lines["limit"][0][0][1]
    strips = list(zip(seen.boxes["cloth"], seen.boxes["wet"], chart.rows, strict=True))
    assert len(strips) == len(STARTS)
    for cloth, wet, row in strips:
        assert cloth[:2] == wet[:2]
        assert cloth[3] == wet[3] == foot
        assert 66.0 * (foot - wet[2]) / (foot - limit) == pytest.approx(number(row[2]), abs=0.7)
        half = seen.along((wet[0] + wet[1]) / 2.0)
        hour, _colon, minutes = row[0].partition(":")
        assert half == pytest.approx(int(hour) + int(minutes) / 60.0 + 0.25, abs=0.01)
    assert "would" not in seen.lines, "here always full is as wet"
    turns = [seen.along(line[0][0]) for line in seen.lines["turn"]]
    assert turns == pytest.approx([12.0, 16.0], abs=0.01)
    (less,) = seen.lines["less"]
    assert [seen.along(x) for x, _y in less] == pytest.approx([12.0, 16.0], abs=0.05)
    assert len(seen.lines["whole"]) == 2
    assert {"Full wipe", "Reduced", "damp limit 66\u00a0%"} <= {one.text for one in seen.words}
    assert chart.rows[10][:3] == ("12:00", "60", "40\u00a0%")


def test_always_full_stands_where_it_would_be_wetter() -> None:
    """Over a strip that always full would make wetter there is a line at that saturation."""
    answer = switch()
    day = answer.half_hours
    wetter = tuple(0.5 if n == 3 else value for n, value in enumerate(day.full.saturation))
    full = replace(day.full, saturation=wetter)
    chart = strip_chart(replace(answer, half_hours=replace(day, full=full)))
    seen = drawn(str(chart.svg))
    foot, limit = seen.boxes["cloth"][0][3], seen.lines["limit"][0][0][1]
    (line,) = seen.lines["would"]
    assert [x for x, _y in line] == pytest.approx(seen.boxes["cloth"][3][:2])
    assert 66.0 * (foot - line[0][1]) / (foot - limit) == pytest.approx(50.0, abs=0.5)


def test_the_trade_off_marks_what_matters() -> None:
    """Always full (the rule now), always reduced and the advised rule are named, once each, where
    the axes have their shares; the line joins those that no other beats."""
    chart = trade_chart(switch())
    seen = drawn(str(chart.svg))
    assert list(faults(str(chart.svg))) == []
    assert [row.words for row in chart.key[:3]] == ["always reduced", "always full, now", "advised"]
    assert {"advised", "always full, now", "always reduced"} <= {one.text for one in seen.words}
    for kind, damp, full in (("dot s3", 4.5, 60), ("dot s1", 17, 100), ("dot s2", 3, 0)):
        (place,) = seen.points[kind]
        assert seen.along(place[0]) == pytest.approx(full, abs=0.2)
        assert seen.value(place[1]) == pytest.approx(damp, abs=0.1)
    assert seen.points["ring"] == seen.points["dot s3"]
    assert len(seen.points["other"]) == 1
    (line,) = seen.lines["line best"]
    told = [(number(row[1]), number(row[2])) for row in chart.rows]
    assert [seen.along(x) for x, _y in line] == pytest.approx([x for x, _y in told], abs=0.6)
    assert [seen.value(y) for _x, y in line] == pytest.approx([y for _x, y in told], abs=0.6)
    assert len(line) == 4
    limit = seen.lines["limit"][0][0][1]
    assert seen.value(limit) == pytest.approx(5.0, abs=0.1)
    both = trade_chart(switch(REDUCED))
    assert [row.words for row in both.key[:2]] == ["always full, now", "advised, always reduced"]
    assert list(faults(str(both.svg))) == []


# ---- the page ------------------------------------------------------------------------------------


def test_the_page_leads_with_the_sentence(visitor: Visitor) -> None:
    """Sentence, how sure, charts with tables, three links at most, cautions; the word %-free."""
    visitor.store(switch())
    text = visitor.text()
    assert text.index("Reduce at 12:00, go back at 16:00.") < text.index('class="chart')
    assert "At 19 of 20 sites like yours" in text
    assert text.count('role="img"') == 2
    doors = text[text.index('class="doors"') :].partition("</p>")[0]
    assert doors.count("<a ") == 3
    assert f'href="{SHEET}"' in doors
    assert "Of 2,125 rules tried" in text
    assert "Why this advice" not in text
    assert 'href="#wish"' in doors
    assert not visitor.begun


def test_the_page_keeps_to_its_content_policy(visitor: Visitor) -> None:
    """No inline style or script on page and sheet; no colour in the pictures."""
    visitor.store(switch())
    for path in (PAGE, SHEET):
        text = visitor.client.get(path).text
        assert " style=" not in text
        assert "<style" not in text
        scripts = re.findall(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL)
        assert all(' src="/static/' in attributes and not inside for attributes, inside in scripts)
        assert len(scripts) == (path == SHEET), "the button that prints"
        assert not re.findall(r'(?:fill|stroke)="#', text)


def test_csv_has_a_row_a_rule(visitor: Visitor) -> None:
    """Every rule of the trade-off with its figures, the advised one named; 404 before that."""
    assert visitor.client.get(f"{PAGE}/rules.csv").status_code == 404
    visitor.store(switch())
    answer = visitor.client.get(f"{PAGE}/rules.csv")
    assert f'filename="{SLUG}-2026-07-18-rules.csv"' in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert [row["advised"] for row in rows] == ["no", "no", "yes", "no", "no"]
    assert float(rows[2]["cars leaving damp, share of cars washed"]) == 0.045


def test_what_is_not_computed_is_begun_once(visitor: Visitor) -> None:
    """Opening the page or the sheet begins the day's question under its key."""
    for path in (PAGE, SHEET):
        visitor.begun.clear()
        visitor.text(path)
        (job,) = visitor.begun
        assert (job.kind, job.key, job.day) == ("switch", visitor.view().key, PEAK)
        assert job.days > 2_000 * 16


@pytest.mark.parametrize("path", [PAGE, SHEET])
def test_while_computing_the_page_asks_again(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """Under way, the page says how far it is and looks again by itself; no form is drawn."""
    monkeypatch.setattr(visitor.web.runner, "standing", standing(Progress(1200, 52000)))
    answer = visitor.client.get(path)
    assert asks_again(answer).startswith("2; url=/")
    assert "1 of 10: a first answer from few rules." in answer.text
    assert "<form method" not in answer.text
    assert not visitor.begun


def test_a_failure_is_told_and_begun_again_by_its_button(
    visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What went wrong stands on the page; only the button begins anew."""
    monkeypatch.setattr(visitor.web.runner, "standing", standing(failed="It failed: no room"))
    assert "It failed: no room" in visitor.text()
    assert not visitor.begun
    sent = visitor.send(PAGE)
    assert (sent.status_code, sent.headers["location"]) == (303, PAGE)
    assert len(visitor.begun) == 1


def test_days_without_an_answer_say_why(visitor: Visitor) -> None:
    """A closed day has nothing to switch; a day that is none is not found."""
    for room in ("reduce", "sheet"):
        assert "<b>Closed:</b>" in visitor.text(f"/{SLUG}/{room}/{CLOSED.isoformat()}")
        visitor.text(f"/{SLUG}/{room}/soon", 404)
    assert not visitor.begun


def test_an_address_without_a_day_leads_to_the_busiest(visitor: Visitor) -> None:
    """Without a day the busiest of the coming ones; a typed one; what is no date is told."""
    go = visitor.client.get(f"/{SLUG}/reduce", follow_redirects=False)
    assert go.status_code == 303
    assert go.headers["location"].startswith(f"/{SLUG}/reduce/2026-07")
    go = visitor.client.get(f"/{SLUG}/reduce?day=2026-07-25", follow_redirects=False)
    assert go.headers["location"] == f"/{SLUG}/reduce/2026-07-25"
    text = visitor.text(f"/{SLUG}/reduce?day=soon", 422)
    assert "“soon” is not a date. Write it as 2026-07-18." in text


# ---- the wish ------------------------------------------------------------------------------------


def test_the_wish_is_stored_and_asks_anew(visitor: Visitor) -> None:
    """Another wish is stored for the site and is another question; unchanged it is the same."""
    visitor.store(switch())
    before = visitor.view().key
    sent = visitor.send(f"{PAGE}/wish")
    assert sent.headers["location"] == f"{PAGE}?stored=same"
    sent = visitor.send(f"{PAGE}/wish", reduce_wish="days", allowed_damp_share="3")
    assert sent.headers["location"] == f"{PAGE}?stored=yes"
    view = visitor.view()
    assert view.key != before
    assert (view.asked.posed.wish.kind, view.asked.posed.wish.allowed_damp_share) == ("days", 0.03)
    assert "Stored. Every answer from now on goes by it." in visitor.text(f"{PAGE}?stored=yes")


def test_a_wish_that_cannot_be_read_comes_back(visitor: Visitor) -> None:
    """The problem stands on top and beside its field, what was typed stays, nothing is stored."""
    visitor.store(switch())
    sent = visitor.send(f"{PAGE}/wish", allowed_damp_share="few", most_switches="2")
    assert sent.status_code == 422
    page = page_of(sent)
    assert page.field("allowed_damp_share").value == "few"
    assert page.field("most_switches").value == "2"
    assert "aria-invalid" in page.field("allowed_damp_share").attrs
    said = page.by_id["in-allowed_damp_share-e"].strip()
    assert "few" in said
    assert html.unescape(sent.text).count(said) == 2
    assert visitor.view().asked.posed.wish.most_switches == 4


def test_a_stale_wish_is_not_stored(visitor: Visitor) -> None:
    """Who did not see the present version is told, and keeps what was typed."""
    visitor.store(switch())
    sent = visitor.send(f"{PAGE}/wish", allowed_damp_share="3", version="7")
    assert sent.status_code == 409
    assert "Yours was not stored" in sent.text
    assert page_of(sent).field("allowed_damp_share").value == "3"


# ---- into the plan -------------------------------------------------------------------------------


def test_the_rule_goes_into_the_plan(visitor: Visitor) -> None:
    """One press stores it as one more scenario with the first one's settings; then the button is
    gone, and what was told is told on, as planned, while the question with it is worked out; it
    stands on the sheet at once."""
    visitor.store(switch())
    sent = visitor.send(f"{PAGE}/plan")
    assert (sent.status_code, sent.headers["location"]) == (303, PLAN)
    view = visitor.view()
    assert view.result is not None
    last = view.asked.plan.scenarios[-1]
    assert (last.name, last.rule) == ("Advised", "clock 12:00-16:00")
    assert len(view.asked.plan.scenarios) == 4
    assert view.is_wanting
    assert view.result.as_planned
    assert "Reduce at 12:00, go back at 16:00, as planned." in visitor.text()
    assert "Reduce at 12:00, go back at 16:00." in visitor.text(SHEET)
    assert f'action="{PAGE}/plan"' not in visitor.text()


def test_a_remedy_goes_into_the_plan(visitor: Visitor) -> None:
    """A press puts what would help, with the rule that is best then, into the plan; cars turned
    away are no scenario, and there is no button for them."""
    visitor.store(with_reasons(switch()))
    assert help_line(with_reasons(switch()), "us") == (
        "A dry set at 13:00, 35 min: the day costs $25 less."
    )
    text = visitor.text()
    assert ">A dry set at 13:00, 35 min</button>" in text
    assert "turned away</button>" not in text
    assert visitor.send(f"{PAGE}/remedy/plan", which="1").status_code == 404
    sent = visitor.send(f"{PAGE}/remedy/plan", which="0")
    assert (sent.status_code, sent.headers["location"]) == (303, PLAN)
    last = visitor.view().asked.plan.scenarios[-1]
    assert (last.name, last.rule, last.cloth) == (
        "A dry set at 13:00, 35 min",
        "full",
        "13:00",
    )


def test_a_full_plan_takes_no_more(visitor: Visitor) -> None:
    """With six scenarios nothing is stored, and the page says what to do."""
    six = tuple(Scenario(f"S{i}", "full" if i == 0 else f"band {60 + i}-50") for i in range(6))
    with gate(visitor.web.database, visitor.web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", six, 0, "six")
    visitor.store(switch())
    sent = visitor.send(f"{PAGE}/plan")
    assert sent.status_code == 409
    assert "six scenarios already" in sent.text
    assert visitor.view().asked.plan.scenarios == six


def test_a_name_that_is_taken_is_not_used_again(visitor: Visitor) -> None:
    """Advised a second time the scenario has a number."""
    two = (Scenario("Always full", "full"), Scenario("Advised", "band 60-50"))
    with gate(visitor.web.database, visitor.web.now()) as writes:
        writes.store_plan(visitor.site_id, PEAK, "", two, 0, "two")
    visitor.store(switch())
    visitor.send(f"{PAGE}/plan")
    assert [s.name for s in visitor.view().asked.plan.scenarios][-1] == "Advised 2"


# ---- as far as it is known -----------------------------------------------------------------------


def test_a_first_form_is_told_as_one(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    """What few windows have told is shown with its own chances, beside how far the search is; it
    is called neither firm nor too close, and goes into no plan; the day sheet says that it may
    still change, and has no button to print it."""
    first = replace(switch(), coarse=True, probability=0.87, bound=None)
    visitor.store(first, is_final=False)
    visitor.web.runner.standing = standing(Progress(400, 65_000))
    page = visitor.text()
    assert "Reduce at 12:00, go back at 16:00." in page
    assert "So far:" in page
    assert "17 in 20" in page
    assert "Stop computing" in page
    assert "Firm." not in page
    assert f"{PAGE}/plan" not in page
    assert f"{PAGE}/together" not in page
    assert visitor.client.post(f"{PAGE}/plan", data={}).status_code in (403, 404, 422)
    sheet = visitor.text(SHEET)
    assert "Reduce at 12:00" in sheet
    assert "So far: chosen among a few rules on few simulated days. It may still change" in sheet
    assert "Stop computing" in sheet
    assert 'id="print"' not in sheet
    visitor.web.runner.standing = standing()
    visitor.store(switch())
    whole = visitor.text(SHEET)
    assert "So far" not in whole
    assert 'id="print"' in whole


def test_parts_that_are_not_there_yet_say_so(visitor: Visitor) -> None:
    """Once the search is done the answer is told as it is, and which parts are still being worked
    out; stopped, that they are not; whole, nothing."""
    known = with_reasons(switch())
    visitor.store(replace(known, bound=None), is_final=False)
    visitor.web.runner.standing = standing(Progress(66_000, 90_000))
    page = visitor.text()
    assert "So far:" not in page
    assert (
        "Still being worked out: whether somebody at the exit does better, what perfect foresight "
        "would give and on which days always full is enough." in page
    )
    visitor.web.runner.standing = standing(failed="The computation was stopped.")
    page = visitor.text()
    assert "The computation was stopped. Not worked out: whether" in page
    assert "Work it out" in page
    visitor.web.runner.standing = standing()
    visitor.store(known)
    assert "worked out:" not in visitor.text()
