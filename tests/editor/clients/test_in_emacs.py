"""doorlint in a real Emacs with eglot: the lines that `examples/editors/emacs.el` gives to users, without a screen."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from client_room import PATIENCE, SETTINGS, copy_of_the_example, environment

EMACS = shutil.which("emacs")
SESSION = Path(__file__).parent / "emacs_session.el"
KNOWS = "(progn (require 'package) (package-initialize) (require 'eglot) (require 'yaml-mode))"
FAULTS = {
    (35, "none"), (109, "at_panel"), (138, "to_negative"), (155, "psu-24.14"), (177, "rc.lock"), (207, "rc.lock"),
}  # fmt: skip


def _knows_eglot() -> bool:
    if EMACS is None:
        return False
    return subprocess.run([EMACS, "--batch", "--eval", KNOWS], capture_output=True, check=False).returncode == 0


pytestmark = pytest.mark.skipif(
    not _knows_eglot(), reason="needs Emacs with eglot and yaml-mode (emacs-nox, elpa-eglot, elpa-yaml-mode)"
)


@dataclass(frozen=True)
class Session:
    """What Emacs showed, and the file before and after."""

    shown: dict[str, Any]
    before: str
    after: str


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    folder = tmp_path_factory.mktemp("emacs")
    file = copy_of_the_example(folder) / "openings" / "operations.yaml"
    before = file.read_text(encoding="utf-8")
    given = {
        "DOORLINT_FILE": str(file),
        "DOORLINT_SETTINGS": str(SETTINGS / "emacs.el"),
        "DOORLINT_ANSWER": str(folder / "answer.json"),
        "DOORLINT_PATIENCE": str(PATIENCE),
    }
    assert EMACS is not None
    done = subprocess.run(
        [EMACS, "--batch", "--no-site-file", "--no-init-file", "--load", str(SESSION)],
        env={**environment(folder / "home"), **given}, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, encoding="utf-8", check=False, timeout=4 * PATIENCE,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    shown = json.loads((folder / "answer.json").read_text(encoding="utf-8"))
    return Session(shown, before, file.read_text(encoding="utf-8"))


def test_flymake_shows_each_finding_once_at_its_text(session: Session) -> None:
    shown = [(found["line"], found["text"]) for found in session.shown["findings"]]
    assert set(shown) >= FAULTS
    assert len([found for found in shown if found in FAULTS]) == len(FAULTS)


def test_completion_goes_on_from_what_is_typed(session: Session) -> None:
    assert {"psu-24.1", "psu-24.14"} <= set(session.shown["completed"])


def test_a_chosen_action_mends_the_file_and_nothing_else(session: Session) -> None:
    assert any("turn the suppressor round" in title for title in session.shown["offered"])
    assert session.after == session.before.replace("cathode: to_negative", "cathode: to_positive")
    left = {(found["line"], found["text"]) for found in session.shown["after"]}
    assert left & FAULTS == FAULTS - {(138, "to_negative")}
    assert (138, "to_positive") not in left
