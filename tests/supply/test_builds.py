"""The archives that are released, and what they run with: the same bytes from every build, the same reports with the
lowest versions that are allowed and with the newest.

The convention of SOURCE_DATE_EPOCH is that of reproducible-builds.org.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tarfile
import tomllib
import venv
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "conformance")]
from test_determinism import MOMENT, SPEC, lay_out, written  # noqa: E402
from working_copy import clean_environment, copy_into  # noqa: E402

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
ALWAYS = [Requirement(text) for text in PROJECT["dependencies"]]
IN_LARGE = {"ifcopenshell", "distributed"}
"""Not installed again here for what they weigh; their own tests run with the versions that are installed."""
EXTRAS = [
    requirement
    for extra, texts in PROJECT["optional-dependencies"].items()
    for requirement in map(Requirement, texts)
    if extra not in ("test", "fuzz") and requirement.name not in IN_LARGE
]
EVERY_REPORT = ROOT / "tests" / "conformance" / "every_report.py"


def build(folder: Path, target: Path, umask: int, environment: Mapping[str, str]) -> dict[str, bytes]:
    """Build the sdist and, from it, the wheel; as a user whose new files have these rights."""
    command = [sys.executable, "-m", "build", "--outdir", str(target), str(folder)]
    whole = clean_environment({"SOURCE_DATE_EPOCH": "1700000000", **environment})
    subprocess.run(command, env=whole, umask=umask, check=True, capture_output=True)
    return written(target)


@pytest.fixture(scope="module")
def builds(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes], dict[str, bytes]]:
    """The folder of the first build, and the archives of both."""
    here, there = tmp_path_factory.mktemp("here"), tmp_path_factory.mktemp("a-folder-of-another-name")
    copy_into(here / "doorlint")
    # the same files with other times and other rights, written in another order
    for path in sorted((here / "doorlint").rglob("*"), reverse=True):
        if path.is_file():
            copied = there / "clone" / path.relative_to(here / "doorlint")
            copied.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, copied)
            copied.chmod(0o600)
            os.utime(copied, (0, 1_000_000_000))
    first = build(here / "doorlint", here / "built", 0o022, {"TZ": "UTC", "PYTHONHASHSEED": "0"})
    second = build(there / "clone", there / "built", 0o077, {"TZ": "Asia/Tokyo", "PYTHONHASHSEED": "7", "LC_ALL": "C"})
    return here / "built", first, second


def test_two_builds_give_the_same_bytes(builds: tuple[Path, dict[str, bytes], dict[str, bytes]]) -> None:
    _, first, second = builds
    assert sorted(first) == sorted(second)
    assert len(first) == 2
    assert [name for name in first if first[name] != second[name]] == []


def test_the_archives_carry_neither_times_nor_owners_of_their_own(
    builds: tuple[Path, dict[str, bytes], dict[str, bytes]],
) -> None:
    folder, _, _ = builds
    (wheel,), (sdist,) = folder.glob("*.whl"), folder.glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(2023, 11, 14, 22, 13, 20)}
        assert {entry.external_attr >> 16 for entry in archive.infolist()} == {0o100644}
        assert archive.namelist()[-1].endswith(".dist-info/RECORD")
    with tarfile.open(sdist) as archive:
        entries = archive.getmembers()
        told = {(e.mtime, e.mode, e.uid, e.gid, e.uname, e.gname) for e in entries}
        assert told == {(1700000000, 0o644, 0, 0, "", "")}
        names = [entry.name.partition("/")[2] for entry in entries]
    assert ".ci/archives.py" in names, "the wheel is built from the sdist by it"
    assert names == sorted(names)


# -- lowest and newest -----------------------------------------------------------------------------


def lowest(requirements: list[Requirement]) -> list[str]:
    """Each requirement at the lowest version that it allows."""
    return [
        f"{requirement.name}=={one.version}"
        for requirement in requirements
        for one in requirement.specifier
        if one.operator == ">="
    ]


class Environment:
    """A virtual environment of its own with the wheel."""

    def __init__(self, folder: Path, wheel: Path) -> None:
        venv.create(folder, with_pip=True)
        self.programs, self.wheel = folder / "bin", wheel

    def install(self, *what: str) -> None:
        """Install by pip, as a user would."""
        self.python("-m", "pip", "install", "--quiet", *what)

    def call(self, *command: str, cwd: Path | None = None, status: int = 0) -> str:
        """Run a command and return what it wrote to standard output, or to standard error where that is all."""
        whole = clean_environment({"SOURCE_DATE_EPOCH": MOMENT})
        done = subprocess.run(command, cwd=cwd, env=whole, capture_output=True, text=True, check=False)
        assert done.returncode == status, done.stderr[-2000:]
        return done.stdout or done.stderr

    def python(self, *arguments: str, cwd: Path | None = None) -> str:
        """Run Python."""
        return self.call(str(self.programs / "python"), *arguments, cwd=cwd)

    def write_reports(self, work: Path, name: str) -> None:
        """Write every report of the spec into a folder of this name."""
        self.python(str(EVERY_REPORT), "spec", "earlier", "114A", name, cwd=work)

    def installed(self) -> dict[str, str]:
        """Names and versions."""
        listed = self.python("-m", "pip", "list", "--format=freeze")
        return dict(line.lower().split("==") for line in listed.splitlines() if "==" in line)


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two revisions of a spec, and every report of it by the versions that are installed here."""
    folder = tmp_path_factory.mktemp("work")
    lay_out(folder / "spec", SPEC, sorted(SPEC))
    lay_out(folder / "earlier", {**SPEC, "root.yaml": SPEC["root.yaml"].replace("40 m", "4 m")}, sorted(SPEC))
    whole = clean_environment({"SOURCE_DATE_EPOCH": MOMENT})
    command = [sys.executable, str(EVERY_REPORT), "spec", "earlier", "114A", "here"]
    subprocess.run(command, cwd=folder, env=whole, check=True, capture_output=True)
    return folder


def same_reports(work: Path, name: str) -> None:
    """The reports of a folder against those of here. How a workbook is packed is its library's own affair."""
    here, there = written(work / "here"), written(work / name)
    assert here.keys() == there.keys()
    assert [path for path in here if not path.endswith(".xlsx") and here[path] != there[path]] == []


def test_the_lowest_versions_that_are_allowed(
    builds: tuple[Path, dict[str, bytes], dict[str, bytes]], work: Path, tmp_path: Path
) -> None:
    (wheel,) = builds[0].glob("*.whl")
    environment = Environment(tmp_path / "lowest", wheel)
    doorlint = str(environment.programs / "doorlint")
    environment.install(str(wheel), *lowest(ALWAYS))
    found = environment.installed()
    assert not {requirement.name.lower() for requirement in EXTRAS} & found.keys()
    for requirement in ALWAYS:
        version = lowest([requirement])[0].partition("==")[2]
        assert found[requirement.name.lower()].startswith(version), requirement
    # without extras: everything but what needs one, and that says in one line what to install
    for form in ("text", "json", "sarif", "junit"):
        told = environment.call(doorlint, "review", "spec", "--format", form, cwd=work, status=1)
        assert told == (work / "here" / f"review.{form}").read_text("utf-8")
    refused = environment.call(doorlint, "review", "spec", "--format", "html", cwd=work, status=2)
    assert refused.count("\n") == 1
    assert "pip install 'doorlint[html]'" in refused
    schedule = str(ROOT / "examples" / "intake" / "harbour_annex.xlsx")
    refused = environment.call(doorlint, "intake", schedule, "--into", str(tmp_path / "none"), status=2)
    assert refused.count("\n") == 1
    assert "doorlint[intake]" in refused
    # with them
    environment.install(*lowest(EXTRAS))
    environment.write_reports(work, "lowest")
    same_reports(work, "lowest")
    environment.call(doorlint, "intake", schedule, "--into", str(tmp_path / "annex"), status=1)
    assert (tmp_path / "annex").is_dir()
    environment.python("-c", "import doorlint.editor.server, doorlint.report.terminal")


def test_the_newest_versions_that_are_allowed(
    builds: tuple[Path, dict[str, bytes], dict[str, bytes]], work: Path, tmp_path: Path
) -> None:
    (wheel,) = builds[0].glob("*.whl")
    environment = Environment(tmp_path / "newest", wheel)
    environment.install("--upgrade", str(wheel), *map(str, EXTRAS))
    environment.write_reports(work, "newest")
    same_reports(work, "newest")
    schedule = str(ROOT / "examples" / "intake" / "harbour_annex.xlsx")
    doorlint = str(environment.programs / "doorlint")
    environment.call(doorlint, "intake", schedule, "--into", str(tmp_path / "annex"), status=1)
