"""`doorlint documents`: what it writes, and that nothing is half-written whatever goes wrong."""

from __future__ import annotations

import errno
import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from spec_of_documents import NAMES, SPEC, reviewed

from doorlint import cli
from doorlint.documents import build
from doorlint.documents import files as files_of

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    path = tmp_path / "spec.yaml"
    path.write_text(SPEC)
    return path


def run(*arguments: object) -> int:
    return cli.run(["documents", *map(str, arguments)])


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """The one line that the command says, having written nothing to standard output and left with 2."""
    assert run(*arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1 and err.startswith("doorlint: ")
    return err


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_writes_every_document(spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(spec, "--into", tmp_path / "new" / "folder", "--date", "2026-01-15") == 0
    assert capsys.readouterr() == ("", "")
    written = tree(tmp_path / "new" / "folder")
    assert sorted(written) == sorted(f"{name}.md" for name in NAMES)
    assert all(b"2026-01-15" in data and b"Invented Works" in data for data in written.values())


@pytest.mark.parametrize("form", ["markdown", "csv", "xlsx"])
def test_only_what_is_asked_for(form: str, spec: Path, tmp_path: Path) -> None:
    assert run(spec, "--into", tmp_path / "out", "--only", "ports", "--only", "cables", "--format", form) == 0
    assert {name.partition(".")[0].partition("-")[0] for name in tree(tmp_path / "out")} == {"ports", "cables"}


def test_without_date_there_is_no_clock(spec: Path, tmp_path: Path) -> None:
    run(spec, "--into", tmp_path / "a", "--only", "power")
    assert "date: open: none given" in (tmp_path / "a" / "power.md").read_text()


def test_today_is_asked_for(spec: Path, tmp_path: Path) -> None:
    import datetime

    before = datetime.datetime.now(datetime.UTC).date().isoformat()
    run(spec, "--into", tmp_path / "a", "--only", "power", "--date", "today")
    text = (tmp_path / "a" / "power.md").read_text()
    assert any(f"date: {day}" in text for day in (before, datetime.datetime.now(datetime.UTC).date().isoformat()))


def test_wrong_date(spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = refused(capsys, spec, "--into", tmp_path / "a", "--date", "15.1.2026")
    assert "2027-06-30" in said and not (tmp_path / "a").exists()


def test_unknown_document(spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "did you mean 'battery'" in refused(capsys, spec, "--into", tmp_path / "a", "--only", "batery")


def test_a_spec_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "spec.yaml"
    path.write_text("doorlint: 1\nproject: {name: [}\n")
    assert "could not be read whole" in refused(capsys, path, "--into", tmp_path / "a")
    assert not (tmp_path / "a").exists()


def test_incomplete_review_is_told(
    spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cli, "_reviewed", lambda _: replace(reviewed(), broken=True))
    assert run(spec, "--into", tmp_path / "a", "--only", "power") == 2
    assert "a rule broke" in capsys.readouterr().err
    assert "The review is incomplete" in (tmp_path / "a" / "power.md").read_text()


def test_a_file_in_the_way_of_the_folder(spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "plain").write_text("kept")
    for folder in (tmp_path / "plain", tmp_path / "plain" / "below"):
        refused(capsys, spec, "--into", folder)
    assert (tmp_path / "plain").read_text() == "kept"


def test_a_folder_in_the_way_of_a_file(spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "out" / "ports.md").mkdir(parents=True)
    assert "ports.md" in refused(capsys, spec, "--into", tmp_path / "out")
    assert tree(tmp_path / "out") == {}


def test_a_folder_that_may_not_be_written(
    spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever runs the tests may be allowed to write everywhere, so the refusal is made here."""
    shut = tmp_path / "shut"
    shut.mkdir()
    real = os.open

    def refusing(path: str, flags: int, *more: int) -> int:
        if str(path).startswith(str(shut)) and flags & os.O_CREAT:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return real(path, flags, *more)

    monkeypatch.setattr(os, "open", refusing)
    assert "permission" in refused(capsys, spec, "--into", shut)
    assert tree(shut) == {}


@pytest.mark.parametrize("link", [os.link, os.symlink])
def test_a_file_of_the_spec_is_spared(
    link: object, spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").mkdir()
    link(spec, tmp_path / "out" / "ports.md")  # type: ignore[operator]
    assert "file of the spec" in refused(capsys, spec, "--into", tmp_path / "out")
    assert spec.read_text() == SPEC
    assert sorted(tree(tmp_path / "out")) == ["ports.md"]


@pytest.mark.parametrize("nth", [1, 4])
def test_a_full_disk_leaves_everything_as_it_was(
    nth: int, spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    assert run(spec, "--into", out, "--date", "2026-01-15") == 0
    before = tree(tmp_path)
    calls = 0
    real = os.fsync

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == nth:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    assert "no space left" in refused(capsys, spec, "--into", out, "--date", "2026-02-20")
    assert tree(tmp_path) == before
    calls = 0
    refused(capsys, spec, "--into", tmp_path / "fresh" / "one")
    assert not (tmp_path / "fresh").exists()


def test_an_interruption_leaves_nothing_behind(
    spec: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    assert run(spec, "--into", tmp_path / "out") == 130
    assert not (tmp_path / "out").exists()


def test_xlsx_without_its_library(
    spec: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    assert "doorlint[xlsx]" in refused(capsys, spec, "--into", tmp_path / "out", "--format", "xlsx")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["gull_point_ferry_terminal", "gull_point_ferry_terminal_clean"])
def test_the_examples(name: str, tmp_path: Path) -> None:
    assert run(EXAMPLES / name, "--into", tmp_path, "--format", "xlsx", "--date", "2026-01-15") == 0
    assert len(tree(tmp_path)) == len(NAMES)


# --- whatever is missing, every document can be made, and no cell is empty or a guess ---


def _pointers(tree: object, above: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    items = tree.items() if isinstance(tree, dict) else ()
    return [found for key, value in items for found in [(*above, key), *_pointers(value, (*above, key))]]


TREE = yaml.safe_load(SPEC)
POINTERS = [pointer for pointer in _pointers(TREE) if len(pointer) > 1]


@given(st.sets(st.sampled_from(POINTERS), min_size=1, max_size=6), st.booleans())
@settings(max_examples=60, deadline=None)
def test_documents_of_a_spec_with_holes(gone: set[tuple[object, ...]], unknown: bool) -> None:
    holed = yaml.safe_load(SPEC)
    for pointer in sorted(gone, key=len, reverse=True):
        owner = holed
        for key in pointer[:-1]:
            owner = owner.get(key) if isinstance(owner, dict) else None
        if not isinstance(owner, dict):
            continue
        if unknown and len(pointer) > 3 and not isinstance(owner.get(pointer[-1]), dict):
            owner[pointer[-1]] = "unknown"
        else:
            owner.pop(pointer[-1], None)
    result = reviewed(yaml.safe_dump(holed, sort_keys=False))
    made = [build(name, result) for name in NAMES]
    for form in ("markdown", "csv"):
        assert all(files_of(made, form).values())
