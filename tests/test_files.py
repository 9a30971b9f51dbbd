"""Writing a file: all of it or none of it, and a plain line where it cannot be done."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from doorlint.files import FileProblem, write_text


def names(folder: Path) -> list[str]:
    """What lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_new_file_has_the_text_and_the_permissions_of_the_umask(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_text(tmp_path / "report.txt", "strike ≤ 750 mA\r\n")
    finally:
        os.umask(before)
    target = tmp_path / "report.txt"
    assert target.read_bytes() == "strike ≤ 750 mA\r\n".encode()
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert names(tmp_path) == ["report.txt"]


def test_existing_file_keeps_its_permissions(tmp_path: Path) -> None:
    target = tmp_path / "report.txt"
    target.write_text("old")
    target.chmod(0o604)
    write_text(str(target), "new")
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o604


def test_link_stays_a_link(tmp_path: Path) -> None:
    real = tmp_path / "real.txt"
    real.write_text("old")
    link = tmp_path / "link.txt"
    link.symlink_to("real.txt")
    write_text(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"


@pytest.mark.parametrize("step", ["fsync", "replace", "fdopen"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_failure_leaves_the_old_text_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, error: BaseException
) -> None:
    target = tmp_path / "report.txt"
    target.write_text("old")

    def fail(*_: object, **__: object) -> None:
        raise error

    if step == "replace":
        monkeypatch.setattr(Path, "replace", fail)
    else:
        monkeypatch.setattr(os, step, fail)
    with pytest.raises(FileProblem if isinstance(error, OSError) else KeyboardInterrupt) as caught:
        write_text(target, "new")
    if isinstance(error, OSError):
        assert str(caught.value) == f"{target}: not written: no space left on device"
    assert target.read_text() == "old"
    assert names(tmp_path) == ["report.txt"]


def test_full_device_is_told(tmp_path: Path) -> None:
    """A real full device where the system has one; a device is never replaced by a file."""
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no full device")
    link = tmp_path / "full"
    link.symlink_to(full)
    with pytest.raises(FileProblem, match="no regular file"):
        write_text(link, "new")
    assert stat.S_ISCHR(full.stat().st_mode)


def test_pipe_is_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(FileProblem, match="no regular file"):
        write_text(pipe, "new")
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        (".", "it is a folder; a file name is expected"),
        ("no/such/report.txt", "its folder does not exist"),
        ("plain/report.txt", "a part of its path is no folder"),
        ("x" * 300, "file name too long"),
        ("a\0b", "this is no file name"),
    ],
)
def test_bad_targets_are_told_in_one_line(tmp_path: Path, name: str, reason: str) -> None:
    (tmp_path / "plain").write_text("a file")
    with pytest.raises(FileProblem) as caught:
        write_text(tmp_path / name, "new")
    assert reason in str(caught.value)
    assert "\n" not in str(caught.value)
    assert names(tmp_path) == ["plain"]


def test_no_permission_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(FileProblem, match="no permission to write there"):
        write_text(tmp_path / "report.txt", "new")


def test_lone_surrogate_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="character 3 is no Unicode"):
        write_text(tmp_path / "report.txt", "ab\ud800")
    assert names(tmp_path) == []
