"""How far a long intake is: shown on a terminal on standard error, and nowhere else."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import openpyxl
import pytest
from model_samples import door, model

from doorlint import cli
from doorlint.report import terminal

ROWS = 1200


class Tty(io.StringIO):
    """A stream that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(params=["csv", "xlsx", "ifc"])
def source(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / f"s.{request.param}"
    if request.param == "ifc":
        return model(path, *(door(number, f"'D{number}'") for number in range(100, 700)))
    rows = [("Door No", "Set"), *((f"{number}", "A") for number in range(ROWS))]
    if request.param == "csv":
        path.write_text("".join(f"{','.join(row)}\n" for row in rows))
    else:
        book = openpyxl.Workbook()
        for row in rows:
            book.worksheets[0].append(row)
        book.save(path)
    return path


def test_a_terminal_shows_how_far_it_is(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(terminal, "LONG_S", 0.0)
    monkeypatch.setattr(terminal, "_REFRESH_S", 0.0)
    shown = Tty()
    monkeypatch.setattr(sys, "stderr", shown)
    assert cli.run(["intake", str(source), "--into", str(tmp_path / "spec")]) in (0, 1)
    for what in ("reading", "writing") if source.suffix == ".ifc" else ("reading", "understanding", "writing"):
        assert what in shown.getvalue()
    assert "writing" not in capsys.readouterr().out


def test_a_pipe_shows_nothing(source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal, "LONG_S", 0.0)
    piped = io.StringIO()
    monkeypatch.setattr(sys, "stderr", piped)
    assert cli.run(["intake", str(source), "--into", str(tmp_path / "spec")]) in (0, 1)
    assert piped.getvalue() == ""
