"""Every page of the product, by name, and the way to each of them in a browser."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from app.pages.guide import list_guides
from tests.browser.served import DEMO, PEAK, REDUCE, SHEET

EMPTY = "/mill-lane"
COUNTS_FILE = """date,hour,cars_arrived
2026-06-01,7,23
2026-06-01,8,41
2026-06-02,7,about 40
2026-06-02,8,3.7
"""


def unfold(page: Page, name: str) -> None:
    """Opens the folded part of that name, and rests the pointer on nothing."""
    page.locator("summary", has=page.get_by_role("heading", name=name, exact=True)).click()
    page.mouse.move(0, 0)


def upload(page: Page, name: str, content: str | bytes, kind: str = "counts") -> None:
    """Brings a file in on the Counts page that is open; what follows shows what is in it."""
    raw = content.encode() if isinstance(content, str) else content
    if not page.get_by_label("What the file holds").is_visible():
        unfold(page, "Bring in a file")
    page.get_by_label("What the file holds").select_option(kind)
    page.get_by_label("File", exact=True).set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": raw}
    )
    page.get_by_role("button", name="Look at the file").click()


def open_all(page: Page) -> None:
    """Opens everything on a page that can be opened."""
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")


def _preview(page: Page) -> None:
    page.goto(f"{EMPTY}/counts")
    upload(page, "counts.csv", COUNTS_FILE)
    expect(page.get_by_role("heading", name="Look at a file")).to_be_visible()


def _refused_file(page: Page) -> None:
    page.goto(f"{EMPTY}/counts")
    page.get_by_role("button", name="Look at the file").click()
    expect(page.get_by_role("alert")).to_be_visible()


def _refused_plan(page: Page) -> None:
    page.goto(PEAK)
    open_all(page)
    page.get_by_label("What you expect instead").fill("warmish")
    page.locator("#scenario-2").get_by_label("Car spacing").fill("1 ft")
    page.get_by_role("button", name="Compute").last.click()
    expect(page.get_by_role("alert")).to_be_visible()


def _six_scenarios(page: Page) -> None:
    page.goto(PEAK)
    for count in (4, 5, 6):
        open_all(page)
        page.get_by_role("button", name="Add a scenario").click()
        expect(page.locator("fieldset.scenario")).to_have_count(count)


def _refused_set_up(page: Page) -> None:
    page.goto(f"{EMPTY}/setup")
    page.get_by_label("Strips on the wheel").fill("-5")
    page.get_by_role("button", name="Store, then the measurements").click()
    expect(page.get_by_role("alert")).to_be_visible()


def _drawn_days(page: Page) -> None:
    page.goto(f"{EMPTY}/days")
    open_all(page)
    page.get_by_label("Cars on a busy day").fill("520")
    page.get_by_role("button", name="Draw the hours from the cars").click()
    expect(page.locator(".by-hand svg").first).to_be_visible()


def _refused_wish(page: Page) -> None:
    page.goto(REDUCE)
    open_all(page)
    page.get_by_label("Cars leaving damp allowed", exact=True).fill("few")
    page.get_by_role("button", name="Store and work it out").click()
    expect(page.get_by_role("alert")).to_be_visible()


def _refused_entry(page: Page) -> None:
    page.goto(f"{DEMO}/cloth")
    open_all(page)
    page.locator("#on").get_by_label("Day").fill("2030-01-01")
    page.locator("#on").get_by_role("button", name="Store it").click()
    expect(page.get_by_role("alert")).to_be_visible()


def _refused_log_entry(page: Page) -> None:
    page.goto(f"{DEMO}/logbook?kind=cars")
    page.locator("#kind-cars").get_by_role("button", name="Store").click()
    expect(page.get_by_role("alert")).to_be_visible()


def _bare_cloth(page: Page) -> None:
    page.goto(f"{EMPTY}/cloth")
    expect(page.get_by_text("When to change cloth can’t be worked out yet.")).to_be_visible()


def _watched_day(page: Page) -> None:
    page.goto(f"{DEMO}/watch/2026-07-18")
    expect(page.locator("#watch[data-at]")).to_be_visible()


def _at(address: str) -> Callable[[Page], None]:
    def go(page: Page) -> None:
        page.goto(address)

    return go


PAGES: dict[str, Callable[[Page], None]] = {
    "today": _at(f"{DEMO}/today"),
    "today, nothing known": _at(f"{EMPTY}/today"),
    "logbook": _at(f"{DEMO}/logbook"),
    "stops and alarms": _at(f"{DEMO}/stops"),
    "phones": _at(f"{EMPTY}/phones"),
    "what happened, a month": _at(f"{DEMO}/happened/2026-07"),
    "logbook, of a day": _at(f"{DEMO}/logbook/2026-07-11"),
    "logbook, refused": _refused_log_entry,
    "days to plan": _at(f"{DEMO}/plan"),
    "days to plan, no such date": _at(f"{DEMO}/plan?day=soon"),
    "plan": _at(PEAK),
    "plan, a change tried": _at(f"{PEAK}?do=try&scenario-tried.conveyor_speed_m_s=55#try"),
    "plan, a change refused": _at(f"{PEAK}?do=try&tried.temp=hot#try"),
    "plan of a closed day": _at(f"{DEMO}/plan/2026-07-29"),
    "plan, nothing known": _at(f"{EMPTY}/plan/2026-07-18"),
    "plan, six scenarios": _six_scenarios,
    "plan, refused": _refused_plan,
    "plan, its versions": _at(f"{PEAK}/versions"),
    "plan, a version": _at(f"{PEAK}/versions/1"),
    "plan, a link": _at(f"{PEAK}/draft?expect=warmish&1=Full&2=Noon&2.rule=clock+12:00-15:30"),
    "when to reduce": _at(REDUCE),
    "when to reduce, refused": _refused_wish,
    "when to reduce, closed day": _at(f"{DEMO}/reduce/2026-07-29"),
    "when to reduce, no such date": _at(f"{DEMO}/reduce?day=soon"),
    "speed and spacing": _at(f"{DEMO}/settings/2026-07-18"),
    "the coming days": _at(f"{DEMO}/coming"),
    "the coming days, nothing known": _at(f"{EMPTY}/coming"),
    "cloth": _at(f"{DEMO}/cloth"),
    "cloth, nothing known": _bare_cloth,
    "cloth, refused": _refused_entry,
    "day sheet": _at(SHEET),
    "watch the day": _watched_day,
    "watch the day, nothing known": _at(f"{EMPTY}/watch/2026-07-18"),
    "day sheet, nothing known": _at(f"{EMPTY}/sheet/2026-07-18"),
    "counts": _at(f"{DEMO}/counts"),
    "counts, empty": _at(f"{EMPTY}/counts"),
    "counts, preview": _preview,
    "counts, refused": _refused_file,
    "measurements": _at(f"{EMPTY}/weighings"),
    "season": _at(f"{DEMO}/cloth/season"),
    "season, nothing known": _at(f"{EMPTY}/cloth/season"),
    "staff": _at(f"{DEMO}/staff/2026-07-18"),
    "staff, no such date": _at(f"{DEMO}/staff?day=soon"),
    "staff, nothing known": _at(f"{EMPTY}/staff/2026-07-18"),
    "roster": _at(f"{DEMO}/roster/2026-07-27"),
    "roster, nobody": _at(f"{EMPTY}/roster/2026-07-27"),
    "studies": _at(f"{DEMO}/studies"),
    "site": _at(f"{DEMO}/site"),
    "sites": _at("/sites"),
    "set-up, days of a new site": _at("/sites/new"),
    "set-up, days drawn": _drawn_days,
    "set-up": _at(f"{EMPTY}/setup"),
    "set-up, refused": _refused_set_up,
    "about": _at("/about"),
    "guides": _at("/guide"),
    "tour, a sentence": _at(f"{SHEET}?tour=6"),
    "tour, in the guide": _at("/guide/tour"),
    **{f"guide, {name}": _at(f"/guide/{name}") for name, _title in sorted(list_guides())},
    "no such page": _at("/nowhere/today"),
}
