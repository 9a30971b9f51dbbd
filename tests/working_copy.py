"""A copy of this checkout as a commit of it would be: for tests that build or install doorlint the way others do."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).parent.parent


def copy_into(target: Path) -> Path:
    """Copy every file that git tracks or would add, changes included. `target` is made."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.split("\0")  # fmt: skip
    for name in filter(None, listed):
        source = ROOT / name
        if source.is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(source.read_bytes())
    return target


def repository(folder: Path) -> Path:
    """Make a folder a git repository of its own with everything committed; no setting of the user counts."""
    git(folder, "init", "--quiet", "--initial-branch=main")
    git(folder, "config", "user.name", "Invented Consultant")
    git(folder, "config", "user.email", "consultant@doorlint.invalid")
    git(folder, "config", "commit.gpgsign", "false")
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--no-verify", "--message", "as it stands")
    return folder


def git(folder: Path, *arguments: str, env: Mapping[str, str] | None = None) -> str:
    """Run git in a folder and return what it wrote. The variables by which git finds a repository are not passed on:
    the tests themselves may run from a commit hook."""
    done = subprocess.run(
        ["git", *arguments], cwd=folder, env=clean_environment(env or {}), capture_output=True, text=True, check=True
    )
    return done.stdout


def clean_environment(more: Mapping[str, str]) -> dict[str, str]:
    """The environment without what would lead git, Python or pre-commit elsewhere, and with `more`."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("GIT_", "PRE_COMMIT", "PYTHON")) and name not in ("SKIP", "VIRTUAL_ENV")
    }
    return {**kept, "PIP_DISABLE_PIP_VERSION_CHECK": "1", **more}
