"""What npm installs for these tests is fixed, and the lock names no place that it comes from."""

from __future__ import annotations

import json
import re

from npm_programs import LOCK, MANIFEST


def test_every_program_is_locked_to_one_version_and_checked_by_its_hash() -> None:
    """After a change of package.json: `npm install --omit-lockfile-registry-resolved`, and no `funding` in the lock."""
    asked = json.loads(MANIFEST.read_text(encoding="utf-8"))["dependencies"]
    packages = json.loads(LOCK.read_text(encoding="utf-8"))["packages"]
    assert packages.pop("")["dependencies"] == asked
    assert asked
    for name, version in asked.items():
        assert re.fullmatch(r"\d+\.\d+\.\d+", version), name
        assert packages[f"node_modules/{name}"]["version"] == version
    assert all(package["integrity"].startswith("sha512-") for package in packages.values())
    assert "://" not in LOCK.read_text(encoding="utf-8")
