"""The HTML report in headless Chromium: no error, no request, filter and sort, paper, keyboard, accessibility.

Accessibility is checked by axe-core, which tests the success criteria of WCAG 2.2 that a program can decide.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from doorlint.repair import with_cures
from doorlint.report import html
from doorlint.report.html_data import Limits
from doorlint.reviewing import Result, review, review_text
from doorlint.rulebook import Rulebook, collect

CHROMIUM = shutil.which("chromium")
PDF_TO_TEXT = shutil.which("pdftotext")
EXAMPLE = Path(__file__).parents[2] / "examples" / "gull_point_ferry_terminal"
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
WIDE, NARROW = {"width": 1280, "height": 900}, {"width": 400, "height": 800}
HOSTILE = """\
doorlint: 1
project: {name: "</title><script>window.hit = 1</script>\\u202e<img src=x onerror='window.hit = 2'>"}
products:
  strike: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 1 A}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V}
openings:
  "1":
    title: "<svg onload='window.hit = 3'>"
    note: LONG
    items: {lock: {product: strike, fed_from: psu, note: "&lt;b>"}}
""".replace("LONG", "W" * 3000)

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium (Debian package chromium)")


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS), headless=True)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def result() -> Result:
    return with_cures(review(EXAMPLE))


@pytest.fixture(scope="module")
def report(result: Result, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("report") / "report.html"
    target.write_text(html.render([result]), encoding="utf-8")
    return target


@pytest.fixture(scope="module")
def few_rules() -> Rulebook:
    """Some of the built-in rules, of every outcome: axe-core takes minutes for the tables of all of them."""
    topics = ("suppression", "release")
    return Rulebook(tuple(module for module in collect().modules if module.RULE.id.split("/")[0] in topics))


@pytest.fixture(scope="module")
def short(few_rules: Rulebook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every kind of element a few times."""
    target = tmp_path_factory.mktemp("short") / "report.html"
    made = html.render([with_cures(review(EXAMPLE, rulebook=few_rules))], limits=Limits(sheets=1, margins=5))
    target.write_text(made, encoding="utf-8")
    return target


@pytest.fixture(scope="module")
def hostile(few_rules: Rulebook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("hostile") / "report.html"
    target.write_text(html.render([review_text(HOSTILE, "door.yaml", rulebook=few_rules)]), encoding="utf-8")
    return target


Opener = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opener]:
    """Opens a file in a fresh profile; at the end nothing may have been logged, thrown, asked or fetched."""
    contexts = []
    seen: list[str] = []

    def open_file(path: Path, **options: Any) -> Page:
        context = browser.new_context(**{"viewport": WIDE, **options})
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: seen.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: seen.append(f"error: {error}"))
        page.on("dialog", lambda dialog: seen.append(f"dialog: {dialog.message}"))
        page.on("request", lambda request: seen.append(request.url))
        page.goto(path.as_uri())
        assert seen[-1] == path.as_uri()
        return page

    yield open_file
    for context in contexts:
        context.close()
    assert [entry for entry in seen if not entry.startswith("file:")] == []
    assert len(seen) == len(contexts), "one request for each page: the file itself"


def shown(page: Page, group: str) -> int:
    return page.locator(f'[data-g="{group}"]:visible').count()


def settled(page: Page) -> None:
    """Until a filter that waits for the end of typing has run."""
    page.wait_for_timeout(200)


# --- filter and sort ---


def test_the_filter_by_kind(opened: Opener, report: Path, result: Result) -> None:
    page = opened(report)
    everything = shown(page, "margins")
    page.uncheck('[name=kind][value="pass"]')
    failing = [o for o in result.outcomes if o.margin is not None and o.kind.value == "fail"]
    assert 0 < len(failing) == shown(page, "margins") < everything
    assert f"margins: {len(failing)} of {everything} shown" in (page.text_content("#shown") or "")
    page.click("button[type=reset]")
    settled(page)
    assert shown(page, "margins") == everything


def test_the_filter_by_level_and_kind_together(opened: Opener, report: Path) -> None:
    page = opened(report)
    for kind in ("waived", "open", "review", "pass", "notApplicable"):
        page.uncheck(f'[name=kind][value="{kind}"]')
    page.select_option("[name=level]", "warning")
    levels = {row.split("\t")[2].strip() for row in page.locator('[data-g="findings"]:visible').all_inner_texts()}
    assert levels == {"warning"}
    assert shown(page, "findings") == page.locator('[data-g="findings"][data-f~="fail-warning"]').count() > 0


def test_the_filter_by_text_hides_the_sheets_too(opened: Opener, report: Path) -> None:
    page = opened(report)
    sheets = page.locator("article.sheet:visible").count()
    page.fill("[name=text]", "  BOAT store ")
    settled(page)
    rows = page.locator('[data-g="openings"]:visible').all_inner_texts()
    assert len(rows) == 1
    assert "boat store" in rows[0].lower()
    assert page.locator("article.sheet:visible").count() == sheets - page.locator('[data-g="openings"]').count() + 1
    page.fill("[name=text]", "no door is called so")
    settled(page)
    assert shown(page, "openings") == 0
    assert "openings: 0 of" in (page.text_content("#shown") or "")


def test_calculations_can_be_hidden(opened: Opener, report: Path) -> None:
    page = opened(report)
    assert page.locator(".working:visible").count() > 0
    page.uncheck("[name=working]")
    assert page.locator(".working:visible").count() == 0


def test_a_link_to_what_is_hidden_shows_it(opened: Opener, report: Path) -> None:
    page = opened(report)
    target = page.locator("article.sheet").first.get_attribute("id")
    page.fill("[name=text]", "no door is called so")
    settled(page)
    page.evaluate("id => { window.location.hash = id; }", target)
    settled(page)
    assert page.locator(f"#{target}").is_visible()


def test_sorting_by_number_and_by_text(opened: Opener, report: Path) -> None:
    page = opened(report)
    schedule = page.locator("table.sortable").first
    head = schedule.locator("thead th").nth(9)
    assert head.inner_text() == "pass"
    for order in ("ascending", "descending"):
        head.locator("button").click()
        assert head.get_attribute("aria-sort") == order
        numbers = [int(cell) for cell in schedule.locator("tbody tr td:nth-child(10)").all_inner_texts()]
        assert numbers == sorted(numbers, reverse=order == "descending")
        assert len(set(numbers)) > 5
    name = schedule.locator("thead th").first
    name.locator("button").click()
    marks = schedule.locator("tbody th").all_inner_texts()
    assert marks == sorted(marks)
    assert head.get_attribute("aria-sort") is None
    assert schedule.locator("[aria-sort]").count() == 1


# --- without script, on paper, on a small screen ---


def test_without_script_everything_is_there(opened: Opener, report: Path) -> None:
    page = opened(report, java_script_enabled=False)
    assert not page.locator("#filter").is_visible()
    assert page.locator("button:visible").count() == 0
    assert page.locator("[data-g]").count() == page.locator("[data-g]:visible").count()
    assert page.locator("article.sheet").count() == page.locator("article.sheet:visible").count()


def test_print_holds_what_the_screen_hides(opened: Opener, report: Path) -> None:
    page = opened(report)
    page.fill("[name=text]", "no door is called so")
    page.uncheck("[name=working]")
    settled(page)
    assert page.locator("[data-g]:visible").count() == 0
    page.emulate_media(media="print")
    assert page.locator("[data-g]:visible").count() == page.locator("[data-g]").count()
    assert page.locator("article.sheet:visible").count() == page.locator("article.sheet").count()
    assert page.locator(".working:visible").count() == page.locator(".working").count() > 0
    assert not page.locator("#filter").is_visible()


@pytest.mark.skipif(PDF_TO_TEXT is None, reason="needs pdftotext (Debian package poppler-utils)")
def test_every_opening_begins_a_page_of_paper(opened: Opener, report: Path, result: Result, tmp_path: Path) -> None:
    page = opened(report)
    page.fill("[name=text]", "no door is called so")
    settled(page)
    page.pdf(path=tmp_path / "report.pdf", prefer_css_page_size=True)
    done = subprocess.run(
        [str(PDF_TO_TEXT), "-layout", tmp_path / "report.pdf", "-"], capture_output=True, text=True, check=True
    )
    firsts = [next(filter(str.strip, sheet.splitlines()), "").strip() for sheet in done.stdout.split("\f")]
    assert result.spec is not None
    for name in list(result.spec.openings)[1:]:  # the first follows the heading of all sheets
        assert any(re.match(rf"Opening {name}\b", first) for first in firsts), name
    folded = " ".join(done.stdout.split())
    assert folded.count("does not replace the adopted codes") == 2


def test_a_small_screen_scrolls_only_the_tables(opened: Opener, report: Path, hostile: Path) -> None:
    for path in (report, hostile):
        page = opened(path, viewport=NARROW)
        assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
        page.close()


# --- keyboard and accessibility ---


def test_the_keyboard_reaches_everything(opened: Opener, report: Path) -> None:
    page = opened(report)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.locator(".skip").bounding_box() is not None
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")
    reached = set()
    for _ in range(40):
        reached.add(page.evaluate("document.activeElement.name || document.activeElement.tagName"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", "the focus is visible"
        page.keyboard.press("Tab")
    assert {"kind", "level", "text", "working", "A"} <= reached
    button = page.locator("table.sortable thead button").first
    button.focus()
    page.keyboard.press("Enter")
    assert page.locator("table.sortable thead th").first.get_attribute("aria-sort") == "ascending"
    page.keyboard.press("Space")
    assert page.locator("table.sortable thead th").first.get_attribute("aria-sort") == "descending"


@pytest.mark.parametrize(
    ("which", "viewport"), [("short", WIDE), ("hostile", NARROW)], ids=["wide", "hostile and narrow"]
)
def test_axe_finds_no_violation(
    which: str, viewport: dict[str, int], opened: Opener, request: pytest.FixtureRequest
) -> None:
    page = opened(request.getfixturevalue(which), viewport=viewport)
    page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8") + "\n;null")
    found: dict[str, Any] = page.evaluate("axe.run(document, {resultTypes: ['violations', 'incomplete', 'passes']})")
    told = [(one["id"], len(one["nodes"]), one["nodes"][0]["html"][:120]) for one in found["violations"]]
    assert told == []
    passed = {one["id"] for one in found["passes"]}
    assert {"color-contrast", "heading-order", "landmark-one-main", "svg-img-alt", "label"} <= passed


# --- hostile text ---


def test_hostile_text_does_nothing(opened: Opener, hostile: Path) -> None:
    page = opened(hostile)
    settled(page)
    assert page.evaluate("window.hit") is None
    assert "<script>window.hit = 1</script><U+202E><img" in page.title()
    assert page.locator("img").count() == 0
    assert "<svg onload='window.hit = 3'>" in page.locator("article.sheet h4").first.inner_text()


def test_the_policy_stops_a_script_that_is_not_ours(browser: Browser, report: Path) -> None:
    page = browser.new_page()
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(report.as_uri())
    page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.hit = 4'; document.body.append(s);"
        " const i = document.createElement('img'); i.src = 'https://example.org/x.png'; document.body.append(i); }"
    )
    page.wait_for_timeout(100)
    assert page.evaluate("window.hit") is None
    assert len([text for text in told if "Content Security Policy" in text]) == 2
    page.close()
