"""Programs from npm that only these tests use, in the versions of `package-lock.json`, kept in pytest's cache."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent
MANIFEST, LOCK = HERE / "package.json", HERE / "package-lock.json"


def installed(config: pytest.Config) -> Path:
    """The folder `node_modules` with every program, installed anew only when the lock changes.

    The test is skipped where node or npm are absent, or npm reaches no registry.
    """
    if shutil.which("npm") is None or shutil.which("node") is None:
        pytest.skip("needs node and npm")
    if getattr(config, "cache", None) is None:
        pytest.skip("needs pytest's cache, where the programs from npm are kept")
    key = hashlib.sha256(MANIFEST.read_bytes() + LOCK.read_bytes()).hexdigest()[:16]
    assert config.cache is not None
    folder = config.cache.mkdir(f"doorlint-clients-{key}")
    done = folder / "complete"
    if not done.exists():
        for file in (MANIFEST, LOCK):
            shutil.copy(file, folder)
        command = ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
        ran = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
        if ran.returncode != 0:
            pytest.skip(f"npm could not install what the lock names: {ran.stderr.strip()[-300:]}")
        done.touch()
    return folder / "node_modules"


def bundle(modules: Path, script: Path) -> str:
    """A script with all that it imports, as one script that a page can run."""
    command = [
        str(modules / ".bin" / "esbuild"), str(script), "--bundle", "--format=iife", "--log-level=warning",
    ]  # fmt: skip
    environment = {"NODE_PATH": str(modules)}
    ran = subprocess.run(
        command, env={**_path(), **environment}, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def _path() -> dict[str, str]:
    node = shutil.which("node")
    assert node is not None
    return {"PATH": str(Path(node).parent)}
