"""The bench runs and tells every row; how long anything takes is never asserted."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from . import __main__ as bench
from .portfolio import in_one_file, portfolio

ROWS = (
    "libyaml's events of 6 openings",
    "reading them, with places",
    "complete review (",
    "complete review, 2 more processes",
    "complete review, a cluster of 2 workers",
    "doorlint review, report written",
    "doorlint review, nothing changed",
    "check-jsonschema, all in one file",
    "libyaml's events of 12 openings",
    "complete review of 12 openings",
    "Python alone",
    "the imports of one door's review",
    "doorlint review of one door",
)
GOALS = (
    "review / events",
    "check-jsonschema / review",
    "review of 2x as many / review",
    "peak memory of the review",
    "second command / first, nothing changed",
    "one door",
    "  of it imports",
    "speed with 2 processes / 2",
)


def test_every_figure_is_measured(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "COLD", 1)
    bench.main(["--openings", "6", "--sets", "3", "--files", "1", "--times", "2", "--rounds", "1"])
    lines = capsys.readouterr().out.splitlines()
    for row in ROWS:
        (line,) = (line for line in lines if line.startswith(row))
        figures = re.findall(r"(?<= )[0-9.]+", line[64:])
        assert len(figures) == 3, line
        assert all(float(figure) > 0 for figure in figures), line
    for goal in GOALS:
        (line,) = (line for line in lines if line.startswith(f"{goal} ") and len(line) > 73 and "CPU s" not in line)
        assert float(re.findall(r"[0-9.]+", line[64:73])[0]) > 0, line


def test_one_file_holds_what_the_portfolio_holds() -> None:
    files = portfolio(openings=10, sets=4, files=2)
    whole = in_one_file(files)
    assert len(whole["openings"]) == 10
    assert len(whole["power"]) == sum(len(tree.get("power", {})) for tree in files.values())
    assert set(whole) == {key for tree in files.values() for key in tree} - {"include"}


def test_one_door_is_the_spec_of_the_readme(tmp_path: Path) -> None:
    spec = yaml.safe_load(bench.one_door(tmp_path).read_text("utf-8"))
    assert len(spec["openings"]) == 1
