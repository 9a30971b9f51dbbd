"""doorlint in CodeMirror 6 with its LSP client, in headless Chromium over a web socket on the loopback interface.

CodeMirror is a client of the Language Server Protocol 3.17 that only takes pushed diagnostics and answers no request
of the server.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from client_room import PATIENCE, SCRIPTS, copy_of_the_example, environment, place
from loopback_bridge import bridge
from npm_programs import bundle, installed
from playwright.sync_api import Browser, Page, expect, sync_playwright

CHROMIUM = shutil.which("chromium")
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium (Debian package chromium)")


@pytest.fixture(scope="module")
def script(pytestconfig: pytest.Config) -> str:
    return bundle(installed(pytestconfig), Path(__file__).parent / "browser_editor.js")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS), headless=True)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a socket that starts `doorlint editor` for each page."""
    home = tmp_path_factory.mktemp("home")
    with bridge([str(Path(SCRIPTS) / "doorlint"), "editor"], environment(home)) as address:
        yield address


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """One part of the example, in a copy."""
    return copy_of_the_example(tmp_path) / "openings" / "operations.yaml"


@pytest.fixture
def page(browser: Browser, script: str, server: str, file: Path) -> Iterator[Page]:
    """A page that shows the part and its findings. Nothing may go wrong on it, and it asks for nothing else."""
    opened = browser.new_page(viewport={"width": 1200, "height": 700})
    wrong: list[str] = []
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda told: wrong.append(told.text) if told.type == "error" else None)
    opened.on("request", lambda request: wrong.append(request.url))
    opened.set_default_timeout(PATIENCE * 1000)
    expect.set_options(timeout=PATIENCE * 1000)
    opened.add_script_tag(content=script)
    opened.evaluate("given => open(...given)", [server, file.as_uri(), file.read_text(encoding="utf-8")])
    yield opened
    opened.close()
    assert wrong == []


def go(page: Page, file: Path, line_with: str, text: str) -> tuple[float, float]:
    """Put the cursor before a text of the file; where it is on the screen."""
    found = page.evaluate("place => at(...place)", list(place(file, line_with, text)))
    return found["x"], found["y"]


def marked(page: Page) -> list[str]:
    """The texts under which an error is marked on the screen."""
    return page.locator(".cm-lintRange-error").all_inner_texts()


def test_a_finding_is_marked_at_its_text_and_told_on_hover(page: Page, file: Path) -> None:
    x, y = go(page, file, "cathode: to_negative", "to_negative")
    expect(page.locator(".cm-lintRange-error", has_text="to_negative")).to_be_visible()
    assert "to_negative" in marked(page)
    assert page.locator(".cm-lint-marker-error").count() >= 1, "beside the line"
    page.mouse.move(x, y)
    expect(page.locator(".cm-tooltip-lint .cm-diagnostic-error")).to_contain_text("cathode of diode-1a")


def test_hover_shows_the_data_of_the_product_under_the_pointer(page: Page, file: Path) -> None:
    x, y = go(page, file, "product: cylindrical-24", "cylindrical-24")
    expect(page.locator(".cm-lintRange-error").first).to_be_visible()
    page.mouse.move(x, y)
    told = page.locator(".cm-lsp-hover-tooltip")
    expect(told).to_contain_text("cylindrical-24")
    expect(told).to_contain_text("24 V")


def test_completion_offers_sources_and_the_chosen_one_cures_the_finding(page: Page, file: Path) -> None:
    go(page, file, "fed_from: psu-24.14", "psu-24.14")
    fault = page.locator(".cm-lintRange-error", has_text="psu-24.14")
    expect(fault).to_be_visible()
    page.keyboard.press("Shift+End")
    page.keyboard.type("psu-12")
    page.keyboard.press("Control+Space")
    offered = page.locator(".cm-tooltip-autocomplete li")
    chosen = offered.filter(has_text="psu-12.1").first
    expect(chosen).to_be_visible()
    assert offered.first.inner_text().startswith("psu-12.")
    chosen.click()
    text = page.evaluate("editor.state.doc.toString()")
    changed = text.splitlines()[154].strip()
    assert changed.startswith("fed_from: psu-12."), "the id is replaced whole, not appended to what was typed"
    assert changed.count("psu-12") == 1
    expect(page.locator(".cm-line", has_text=changed).locator(".cm-lintRange-error")).to_have_count(0)
    expect(fault).to_have_count(0)


def test_findings_follow_the_text_that_is_typed(page: Page, file: Path) -> None:
    go(page, file, "cathode: to_negative", "to_negative")
    expect(page.locator(".cm-lintRange-error", has_text="to_negative")).to_be_visible()
    page.keyboard.press("Shift+End")
    page.keyboard.type("to_positive")
    page.keyboard.press("Escape")
    expect(page.locator(".cm-lintRange-error", has_text="to_")).to_have_count(0)
    page.keyboard.press("Shift+Home")
    page.keyboard.type("cathode: [")
    expect(page.locator(".cm-lintRange-error").first).to_be_visible()


def test_text_beyond_the_first_plane_of_unicode_does_not_move_the_marks(page: Page, file: Path) -> None:
    """The protocol counts in UTF-16 by default: one such character counts as two."""
    go(page, file, "transfer: {product: transfer-10", "transfer-10")
    expect(page.locator(".cm-lintRange-error").first).to_be_visible()
    page.keyboard.press("Shift+End")
    page.keyboard.insert_text('transfer-10, note: "\U0001f6aa\U0001f6aa e\u0301 \t", side: nowhere, leaf: single}')
    expect(page.locator(".cm-lintRange-error", has_text="nowhere")).to_be_visible()
    assert "nowhere" in marked(page), "the text of the fault, no character more or less"
