"""What doorlint stands on: few packages, each bounded on both sides, each with its licence in the contributor guide."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution, packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
EXTRAS: dict[str, list[str]] = PROJECT["project"]["optional-dependencies"]
OURS = ("test", "fuzz")
"""Extras of those who work on doorlint."""
OF_USERS = {extra: [Requirement(text) for text in texts] for extra, texts in EXTRAS.items() if extra not in OURS}
ALWAYS = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
BUILD = [Requirement(text) for text in PROJECT["build-system"]["requires"]]
DIRECT = [*ALWAYS, *(requirement for several in OF_USERS.values() for requirement in several)]

FAMILIES = ("MIT", "BSD", "Apache", "PSF", "LGPL", "MPL", "0BSD", "Zlib", "CC0")
"""Families of licences, by the word that names them. The ones that a program of any licence may stand on."""


def known_licences(name: str) -> set[str]:
    """The families that a package's own metadata name."""
    metadata = distribution(name).metadata
    told = [text.partition("\n")[0] for key in ("License-Expression", "License") for text in metadata.get_all(key, [])]
    told += [entry.rpartition(" :: ")[2] for entry in metadata.get_all("Classifier", []) if entry.startswith("License")]
    words = {word for text in told for word in re.findall(r"[A-Za-z0-9]+", text)}
    return {family for family in FAMILIES if any(word.startswith(family) for word in words)}


def brought_along() -> set[str]:
    """Every package that the direct ones need here, themselves left out."""
    waiting, seen = [requirement.name for requirement in DIRECT], set[str]()
    while waiting:
        name: str = canonicalize_name(waiting.pop())
        if name in seen:
            continue
        seen.add(name)
        for text in distribution(name).requires or ():
            needed = Requirement(text)
            if needed.marker is None or needed.marker.evaluate({"extra": ""}):
                waiting.append(needed.name)
    return seen - {canonicalize_name(requirement.name) for requirement in DIRECT}


def guide() -> str:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    start = text.index("\n## What doorlint stands on")
    return text[start : text.index("\n## ", start + 1)]


@pytest.mark.parametrize("requirement", [*DIRECT, *BUILD], ids=str)
def test_a_dependency_is_bounded_on_both_sides(requirement: Requirement) -> None:
    operators = {one.operator for one in requirement.specifier}
    assert operators == {">=", "<"}


def test_the_newest_that_is_allowed_is_what_the_tests_run_with() -> None:
    for requirement in DIRECT:
        assert requirement.specifier.contains(distribution(requirement.name).version, prereleases=True), requirement


def test_there_are_few() -> None:
    assert len(ALWAYS) <= 4
    assert len(DIRECT) <= 13
    assert {Version(PROJECT["project"]["requires-python"].removeprefix(">="))} == {Version("3.11")}


@pytest.mark.parametrize("requirement", DIRECT, ids=lambda requirement: requirement.name)
def test_the_guide_tells_the_licence_of_each(requirement: Requirement) -> None:
    row = re.search(rf"^\| {re.escape(requirement.name)} \|(.+)\|$", guide(), re.MULTILINE)
    assert row is not None
    extra, licence, purpose = (cell.strip() for cell in row[1].split("|"))
    assert extra == next((name for name, several in OF_USERS.items() if requirement in several), "always")
    assert known_licences(requirement.name) == {family for family in FAMILIES if re.search(rf"\b{family}", licence)}
    assert purpose


def test_the_guide_tells_what_they_bring_along() -> None:
    told = dict(re.findall(r"`([a-z0-9-]+)`\s+\(([^)]+)\)", guide()))
    for name in brought_along():
        assert name in told, f"{name} is brought along, and the guide does not tell its licence"
        assert known_licences(name) <= {family for family in FAMILIES if re.search(rf"\b{family}", told[name])}, name
    for name in told:
        try:
            distribution(name)
        except PackageNotFoundError:
            continue  # brought along by an older release, or on another system
        assert known_licences(name), name


def imported(path: Path) -> set[str]:
    """The top-level names of what a module imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
            found.add(node.module.partition(".")[0])
        elif isinstance(node, ast.Call) and ast.unparse(node.func) == "importlib.import_module":
            found.add(re.split(r"[.{]", ast.unparse(node.args[0]).strip("f'\""))[0])
    return found


def test_every_import_is_of_a_declared_dependency_and_every_dependency_is_imported() -> None:
    modules = packages_distributions()
    declared = {canonicalize_name(requirement.name) for requirement in DIRECT}
    used: set[str] = set()
    for folder in ("doorlint", "rules", "schemas"):
        for path in (ROOT / folder).rglob("*.py"):
            names = imported(path) - set(sys.stdlib_module_names) - {"doorlint"}
            used |= {canonicalize_name(name) for module in names for name in modules.get(module, [module])}
    allowed = declared | {"markupsafe", "lsprotocol"}  # parts of Jinja2's and pygls' own interface
    assert used <= allowed
    assert declared <= used
