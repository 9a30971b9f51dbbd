"""Wheel, sdist and editable install carry the same package, rules and schemas, and review from outside the clone."""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SPEC = """\
doorlint: 1
project: {name: Invented}
products:
  strike:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 450 mA, built_in_suppression: none}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 2 A}
openings:
  "1":
    items: {lock: {product: strike, fed_from: psu}}
"""


def _tree() -> set[str]:
    """The files that a package has to carry, as paths inside it."""
    found = set()
    for folder, inside in (("doorlint", "doorlint"), ("rules", "doorlint/rules"), ("schemas", "doorlint/schemas")):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in (".py", ".json", ".yaml", ".md") and "__pycache__" not in path.parts:
                found.add(f"{inside}/{path.relative_to(ROOT / folder).as_posix()}")
    return {*found, "doorlint/py.typed"}


def test_every_package_is_listed() -> None:
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"])
    found = {name.rpartition("/")[0].replace("/", ".") for name in _tree() if name.endswith("/__init__.py")}
    assert listed == found


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with sdist and wheel, built from a copy of what git would check out."""
    target = tmp_path_factory.mktemp("built")
    copy = tmp_path_factory.mktemp("copy") / "doorlint"
    tracked = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.splitlines()  # fmt: skip
    for name in tracked:
        source = ROOT / name
        if source.is_file():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            (copy / name).write_bytes(source.read_bytes())
    subprocess.run([sys.executable, "-m", "build", "--outdir", target, copy], check=True, capture_output=True)
    return target


def test_the_wheel_carries_everything(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    assert _tree() <= names
    assert not [name for name in names if name.startswith(("tests/", "rules/", "schemas/"))]


def test_the_sdist_carries_everything_to_build_the_wheel(built: Path) -> None:
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert {"pyproject.toml", "README.md", "rules/__init__.py", "schemas/spec.schema.json"} <= names


@pytest.mark.parametrize("how", ["wheel", "editable"])
def test_an_install_reviews_from_anywhere(how: str, built: Path, tmp_path: Path) -> None:
    environment = tmp_path / "environment"
    venv.create(environment, with_pip=True)
    python = environment / "bin" / "python"
    (wheel,) = built.glob("*.whl")
    what = [str(wheel)] if how == "wheel" else ["-e", str(ROOT)]
    subprocess.run([python, "-m", "pip", "install", "-q", *what], check=True, capture_output=True)
    spec = tmp_path / "spec.yaml"
    spec.write_text(SPEC)
    command = [str(environment / "bin" / "doorlint"), "review", "spec.yaml"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    assert "supply/voltage-mismatch" in done.stdout
    assert "suppression/missing" in done.stdout
