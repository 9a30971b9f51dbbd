"""Writes every report and document of a spec into a folder. Run by `test_determinism.py` in environments that differ.

Arguments: the spec, another revision of it, an opening of it, and the folder.
"""

from __future__ import annotations

import contextlib
import io
import sys
from pathlib import Path

from doorlint.cli import run


def main(spec: str, earlier: str, opening: str, folder: str) -> int:
    """Write them; the exit status is the number of commands that could not write."""
    into = Path(folder)
    into.mkdir(parents=True)
    commands = {
        **{f"review.{form}": ["review", spec, "--format", form] for form in ("text", "json", "sarif", "junit", "html")},
        "all.txt": ["review", spec, "--show", "pass", "--show", "notApplicable", "--show", "open"],
        "compare.txt": ["compare", earlier, spec],
        "compare.json": ["compare", earlier, spec, "--format", "json"],
        **{f"questions.{form}": ["questions", spec, "--format", form] for form in ("text", "json", "csv")},
        "house.txt": ["house", spec],
        "budget.txt": ["budget", spec],
        "working.txt": ["working", opening, spec],
        "sequence.txt": ["sequence", opening, spec],
        "rules.json": ["rules", "--format", "json"],
        "rulebook.md": ["rulebook"],
        "basis.txt": ["basis", "supply/voltage-below-minimum"],
        **{form: ["documents", spec, "--into", str(into / form), "--format", form, "--date", "today"]
           for form in ("markdown", "csv", "xlsx")},
    }  # fmt: skip
    broken = 0
    for name, command in commands.items():
        told = io.StringIO()
        with contextlib.redirect_stdout(told):
            broken += run(command) not in (0, 1)
        if command[0] != "documents":
            (into / name).write_text(told.getvalue(), encoding="utf-8")
    return broken


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
