"""What the tests of the editor share: a session without a wire, reviewed when asked."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

from doorlint.editor.buffers import Edit
from doorlint.editor.diagnostics import Finding
from doorlint.editor.positions import Lines
from doorlint.editor.run import run
from doorlint.editor.session import Session
from doorlint.editor.view import View
from doorlint.rulebook import Rulebook, collect

EXAMPLES = Path(__file__).parents[2] / "examples"

SPEC = """\
doorlint: 1
project: {name: Invented kiosk, site: {ambient: 0..40 degC}}
products:
  strike-12:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 450 mA}
  rc-poe:
    kind: reader_controller
    inputs: {poe: {poe_class: 3, power: 4 W}}
    outputs: {lock: {supply: dc, switch: solid_state, voltage: 12 V, current: 750 mA}}
    contacts: {relay: {form: spdt}, aux: {form: no}}
  diode-1a: {kind: suppressor, suppressor: {type: diode, stand_off: 400 V}}
power:
  sw-1: {kind: poe_switch, title: Switch of the kiosk, standard: 802.3at, port_class: 4, budget: 370 W}
  psu-1:
    kind: power_supply
    outputs: {"1": {current: 2 A}, "2": {current: 2 A}}
cables:
  cat6: {kind: category, category: 6}
  "18/2": {kind: multiconductor, conductor: 18 AWG, conductors: 2}
hardware_sets:
  HW-1:
    items:
      rc: {product: rc-poe, side: unsecured, fed_from: sw-1, cable: cat6}
      lock: {product: strike-12, side: boundary, fed_from: rc.lock, cable: "18/2", suppression: diode-1a}
openings:
  114A:
    set: HW-1
    items: {rc: {length: 62 m}, lock: {length: 9 m}}
  114B:
    set: HW-1
    interlocked_with: [114A]
    items:
      rc: {length: 5 m}
      bell: {product: strike-12, fed_from: psu-1.2, switched_by: rc.relay.no, length: 9}
waivers:
  - {rule: consistency/interlock-one-sided, opening: 114B, reason: both are shown on one drawing}
  - {rule: suppression/missing, opening: 114B, item: bell, reason: it is a bell}
"""
"""An invented spec of one file."""


@cache
def book() -> Rulebook:
    """The rules, collected once."""
    return collect()


def quiet(*_: object) -> None:
    """Nobody is told."""


class Room:
    """Open texts and what a review of them gives, in one thread."""

    def __init__(self) -> None:
        self.session = Session()
        self.troubles: list[tuple[Path, Exception]] = []
        self._changed: set[Path] = set()
        self._moved = False

    def open(self, path: Path, text: str | None = None) -> Room:
        """Open a file, or what shall stand in for it."""
        shown = path.read_bytes().decode() if text is None else text
        buffer = self.session.open(path.as_uri(), 1, shown)
        assert buffer.path is not None
        self._changed.add(buffer.path)
        self._moved = True
        return self

    def write(self, path: Path, *edits: Edit) -> Room:
        """Change an open text."""
        before = self.session.buffer(path.as_uri())
        assert before is not None
        buffer = self.session.change(path.as_uri(), (before.version or 0) + 1, edits)
        assert buffer.path is not None
        self._changed.add(buffer.path)
        return self

    def close(self, path: Path) -> Room:
        """Close a text."""
        buffer = self.session.close(path.as_uri())
        assert buffer is not None and buffer.path is not None
        self._changed.add(buffer.path)
        self._moved = True
        return self

    def settle(self) -> Room:
        """Review what has changed."""
        state = run(
            self.session.state, self.session.files, self._changed, self._moved, book(),
            quiet, lambda root, error: self.troubles.append((root, error)),
        )  # fmt: skip
        self._changed, self._moved = set(), False
        self.session.take(state)
        assert not self.troubles, self.troubles
        return self

    def view(self, path: Path) -> View:
        """The view of an open text."""
        view = self.session.view(path.as_uri())
        assert view is not None
        return view

    def findings(self, path: Path) -> list[Finding]:
        """What is shown of a file."""
        shown = self.session.shown().get(path.as_uri())
        return [finding for _, finding in shown.found] if shown is not None else []

    def shown_text(self, path: Path, finding: Finding) -> str:
        """The text that a finding is shown at."""
        return self.session.shown()[path.as_uri()].text[finding.start : finding.end]


def kiosk(folder: Path, text: str = SPEC) -> tuple[Room, Path]:
    """A room with the invented spec, reviewed."""
    path = (folder / "kiosk.yaml").resolve()
    path.write_bytes(text.encode())
    return Room().open(path).settle(), path


def pieces(folder: Path) -> tuple[Path, Path, Path]:
    """The invented spec as a root, a part with the sheets and one with the doors."""
    base = folder.resolve()
    start, cut = SPEC.index("products:"), SPEC.index("hardware_sets:")
    texts = {
        "project.yaml": f"{SPEC[:start]}include: [sheets.yaml, doors.yaml]\n",
        "sheets.yaml": f"doorlint: 1\n{SPEC[start:cut]}",
        "doors.yaml": f"doorlint: 1\n{SPEC[cut:]}",
    }
    for name, text in texts.items():
        (base / name).write_text(text)
    root, sheets, doors = (base / name for name in texts)
    return root, sheets, doors


def terminal(folder: Path) -> Path:
    """A copy of the example with its seeded mistakes; its folder."""
    copied: Path = shutil.copytree(EXAMPLES / "gull_point_ferry_terminal", folder.resolve() / "terminal")
    return copied


def at(text: str, marked: str) -> int:
    """The offset of the bar in `marked`, a stretch that the text holds once when the bar is taken out."""
    before, after = marked.split("|")
    assert text.count(before + after) == 1, marked
    return text.index(before + after) + len(before)


def between(text: str, marked: str) -> tuple[tuple[int, int], tuple[int, int]]:
    """Line and character, in UTF-16, of the stretch between the two bars in `marked`."""
    before, inside, after = marked.split("|")
    whole = before + inside + after
    assert text.count(whole) == 1, marked
    start = text.index(whole) + len(before)
    lines = Lines(text, "utf-16")
    return lines.position(start), lines.position(start + len(inside))
