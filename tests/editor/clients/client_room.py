"""What the tests with real editors share: a copy of the example, the environment of an editor, and waiting."""

from __future__ import annotations

import os
import shutil
import sysconfig
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

EXAMPLES = Path(__file__).parents[3] / "examples"
SETTINGS = EXAMPLES / "editors"
SCRIPTS = sysconfig.get_path("scripts")
"""Where the `doorlint` of this Python is, whatever the path of the user says."""

PATIENCE = 90.0
"""Seconds that anything may take before a test gives up; a busy machine must not make a test fail."""

Found = TypeVar("Found")


def copy_of_the_example(folder: Path) -> Path:
    """The ferry terminal with its seeded mistakes in a folder of its own; the path of that folder."""
    copied: Path = shutil.copytree(EXAMPLES / "gull_point_ferry_terminal", folder / "terminal")
    return copied


def environment(home: Path) -> dict[str, str]:
    """The environment of an editor of which no setting of the user counts. `home` is made."""
    home.mkdir(parents=True, exist_ok=True)
    folders = {f"XDG_{what}_HOME": str(home / what.lower()) for what in ("CONFIG", "DATA", "STATE", "CACHE")}
    path = os.pathsep.join([SCRIPTS, os.environ["PATH"]])
    return {**os.environ, **folders, "HOME": str(home), "PATH": path, "LC_ALL": "C.UTF-8"}


def until(ask: Callable[[], Found], what: str) -> Found:
    """What `ask` gives once it gives anything that counts as true. Raises AssertionError after PATIENCE."""
    end = time.monotonic() + PATIENCE
    while not (found := ask()):
        assert time.monotonic() < end, f"waited {PATIENCE:.0f} s in vain for {what}"
        time.sleep(0.1)
    return found


def place(file: Path, line_with: str, text: str) -> tuple[int, int]:
    """Line and column, from 1, of `text` in the first line of a file that holds `line_with`."""
    lines = file.read_text(encoding="utf-8").splitlines()
    number = next(number for number, line in enumerate(lines) if line_with in line)
    return number + 1, lines[number].index(text) + 1
