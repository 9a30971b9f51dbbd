"""The store on disk: what is put comes back whole or not at all, whatever becomes of the folder meanwhile."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorlint.store import folder
from doorlint.store.folder import VARIABLE, Store, at_user

DATA = b"an invented report\n" * 40


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "reviews")


def entry(store: Store) -> Path:
    """The one file of the store."""
    (path,) = store.folder.iterdir()
    return path


@given(data=st.binary(max_size=2000))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_what_is_put_comes_back(store: Store, data: bytes) -> None:
    store.put("a.report", data)
    assert store.get("a.report") == data


def test_what_was_never_put_is_not_there(store: Store) -> None:
    assert store.get("a.report") is None
    assert not store.has("a.report")
    assert not store.folder.exists()


def test_a_fresh_store_gives_nothing_and_takes_what_is_new(store: Store) -> None:
    store.put("a.report", DATA)
    fresh = Store(store.folder, fresh=True)
    assert fresh.get("a.report") is None
    assert not fresh.has("a.report")
    fresh.put("a.report", b"new")
    assert store.get("a.report") == b"new"


def test_folder_and_files_are_the_users_alone(store: Store) -> None:
    store.put("a.report", DATA)
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(entry(store).stat().st_mode) == 0o600


def test_every_flipped_byte_is_noticed(store: Store) -> None:
    store.put("a.report", DATA)
    path = entry(store)
    whole = path.read_bytes()
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x10]) + whole[at + 1 :])
        assert store.get("a.report") is None, at
    path.write_bytes(whole)
    assert store.get("a.report") == DATA


def test_every_cut_is_noticed_and_every_addition(store: Store) -> None:
    store.put("a.report", DATA)
    path = entry(store)
    whole = path.read_bytes()
    for size in range(len(whole)):
        path.write_bytes(whole[:size])
        assert store.get("a.report") is None, size
    path.write_bytes(whole + b"\0")
    assert store.get("a.report") is None


def test_an_entry_under_another_name_is_none(store: Store) -> None:
    store.put("a.report", DATA)
    entry(store).rename(store.folder / "b.report")
    assert store.get("b.report") is None


def test_what_unpacks_to_more_than_an_entry_may_hold_is_none(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    store.put("a.report", bytes(100_000))
    monkeypatch.setattr(folder, "LARGEST", 1000)
    assert store.get("a.report") is None
    store.put("b.report", bytes(1001))
    assert not store.has("b.report")


def test_a_well_formed_entry_of_damaged_content_is_none(store: Store) -> None:
    store.put("a.report", DATA)
    packed = zlib.compress(DATA)[:-3]
    entry(store).write_bytes(folder._MAGIC + folder._digest("a.report", packed) + packed)
    assert store.get("a.report") is None


@pytest.mark.parametrize("mode", [0o755, 0o770, 0o707])
def test_a_folder_open_to_others_is_not_used(store: Store, mode: int) -> None:
    store.put("a.report", DATA)
    store.folder.chmod(mode)
    assert store.get("a.report") is None
    store.put("b.report", DATA)
    assert not store.has("b.report")


def test_what_belongs_to_somebody_else_is_not_used(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    store.put("a.report", DATA)
    other = os.geteuid() + 1
    monkeypatch.setattr(os, "geteuid", lambda: other)
    assert store.get("a.report") is None
    store.put("b.report", DATA)
    assert not store.has("b.report")


def test_links_are_not_followed(store: Store, tmp_path: Path) -> None:
    store.put("a.report", DATA)
    elsewhere = tmp_path / "elsewhere"
    entry(store).rename(elsewhere)
    (store.folder / "a.report").symlink_to(elsewhere)
    assert store.get("a.report") is None
    linked = Store(tmp_path / "linked")
    linked.folder.symlink_to(store.folder)
    linked.put("b.report", DATA)
    assert not store.has("b.report")


def test_what_is_no_file_does_not_stop_anything(store: Store) -> None:
    store.put("a.report", DATA)
    os.mkfifo(store.folder / "b.report")
    (store.folder / "c.report").mkdir()
    assert store.get("b.report") is None
    assert store.get("c.report") is None
    store.put("c.report", DATA)
    assert store.get("a.report") == DATA
    assert [path for path in store.folder.iterdir() if path.suffix == ".part"] == []


def test_a_disk_that_takes_nothing_is_passed_over(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> int:
        raise OSError(30, "Read-only file system")

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", refuse)
        store.put("a.report", DATA)
        assert store.get("a.report") is None
    in_a_file = store.folder.parent / "file"
    in_a_file.write_text("")
    Store(in_a_file / "reviews").put("a.report", DATA)
    assert Store(in_a_file / "reviews").get("a.report") is None


def test_the_oldest_entries_go_first(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder, "MOST_FILES", 3)
    for number in range(5):
        store.put(f"{number}.report", DATA)
        os.utime(store.folder / f"{number}.report", (1000 + number, 1000 + number))
    assert sorted(path.name for path in store.folder.iterdir()) == ["2.report", "3.report", "4.report"]
    assert store.get("2.report") == DATA  # what is used counts as new
    store.put("5.report", DATA)
    assert sorted(path.name for path in store.folder.iterdir()) == ["2.report", "4.report", "5.report"]


def test_the_store_does_not_outgrow_its_limit(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    noise = os.urandom(1000)
    monkeypatch.setattr(folder, "MOST_BYTES", 3500)
    for number in range(6):
        store.put(f"{number}.report", noise)
        os.utime(store.folder / f"{number}.report", (1000 + number, 1000 + number))
    assert sorted(path.name for path in store.folder.iterdir()) == ["3.report", "4.report", "5.report"]


PUTTER = """
import sys
from pathlib import Path
from doorlint.store.folder import Store
store = Store(Path(sys.argv[1]))
for turn in range(60):
    for name in "abc":
        data = (name * 5000).encode()
        store.put(name, data)
        found = store.get(name)
        assert found in (None, data), found
        assert found is not None or not store.has(name), "an entry that is there was not given out"
"""


def test_four_processes_at_once(store: Store) -> None:
    command = [sys.executable, "-c", PUTTER, str(store.folder)]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(4)]
    for each in running:
        _, errors = each.communicate(timeout=60)
        assert each.returncode == 0, errors.decode()
    assert sorted(path.name for path in store.folder.iterdir()) == ["a", "b", "c"]
    assert store.get("b") == b"b" * 5000


KILLED = """
import os, sys
from pathlib import Path
from doorlint.store.folder import Store
store = Store(Path(sys.argv[1]))
store.put("a", b"old")
real = os.fdopen
class Slow:
    def __init__(self, *given): self.file = real(*given)
    def __enter__(self): return self
    def __exit__(self, *about): self.file.close()
    def write(self, data):
        self.file.write(data[: len(data) // 2]); self.file.flush()
        print("halfway", flush=True)
        sys.stdin.read()
os.fdopen = Slow
store.put("a", os.urandom(100_000))
"""


def test_a_run_that_is_killed_halfway_leaves_the_old_entry(store: Store) -> None:
    command = [sys.executable, "-c", KILLED, str(store.folder)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"halfway\n"
        process.send_signal(signal.SIGKILL)
    assert store.get("a") == b"old"
    (left,) = (path for path in store.folder.iterdir() if path.suffix == ".part")
    store.put("b", DATA)
    assert left.exists()  # it may be another run that is still at it
    long_ago = time.time() - 7200
    os.utime(left, (long_ago, long_ago))
    store.put("b", DATA)
    assert not left.exists()


def test_the_variable_names_the_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "cache"))
    assert at_user() == Store(tmp_path / "cache" / "reviews")
    assert at_user(fresh=True) == Store(tmp_path / "cache" / "reviews", fresh=True)


@pytest.mark.parametrize("given", ["", "cache", "/no-such-folder-here/below/cache", "\0"])
def test_a_folder_that_cannot_be_means_no_store(given: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "environ", {**os.environ, VARIABLE: given})
    assert at_user() is None


def test_a_home_that_is_not_there_means_no_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(VARIABLE)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "nobody"))
    assert at_user() is None
    monkeypatch.setenv("HOME", str(tmp_path))
    found = at_user()
    assert found is not None
    assert found.folder == tmp_path / ".cache" / "doorlint" / "reviews"  # XDG Base Directory Specification 0.8
    assert list(tmp_path.iterdir()) == []  # looking makes nothing
    found.put("a.report", DATA)
    assert found.get("a.report") == DATA
