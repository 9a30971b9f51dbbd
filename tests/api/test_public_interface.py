"""The public interface: small, documented, typed, and imported only where it is used."""

from __future__ import annotations

import inspect
import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

import doorlint

ROOT = Path(__file__).parents[2]
NAMES = [name for name in doorlint.__all__ if name not in ("__version__", "hookimpl")]
HEAVY = ("pint", "jsonschema", "yaml", "pluggy", "click", "numpy", "scipy", "doorlint.rules", "doorlint.reviewing")


def loaded_after(code: str) -> set[str]:
    """The modules that a fresh interpreter holds after running `code`, besides those it starts with."""
    told = "import sys, json; before = set(sys.modules)\n{}\nprint(json.dumps(sorted(set(sys.modules) - before)))"
    done = subprocess.run(
        [sys.executable, "-I", "-c", told.format(code)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def members(public: Any) -> list[tuple[str, Any]]:
    """The public methods and properties that a class of ours defines itself."""
    if not inspect.isclass(public):
        return []
    return [
        (name, member)
        for name, member in vars(public).items()
        if not name.startswith("_") and (inspect.isfunction(member) or isinstance(member, property))
    ]


def test_each_name_is_listed_once_in_order_and_nothing_else_is_public() -> None:
    listed = doorlint.__all__
    assert len(listed) == len(set(listed))
    assert set(listed) <= set(dir(doorlint))
    everything: dict[str, Any] = {}
    exec("from doorlint import *", everything)
    assert set(listed) == set(everything) - {"__builtins__"}
    with pytest.raises(AttributeError, match="no attribute 'reviewed'"):
        getattr(doorlint, "reviewed")  # noqa: B009 - a type checker sees that it is not there
    with pytest.raises(ImportError):
        exec("from doorlint import FORMAT_RULES", {})


@pytest.mark.parametrize("name", doorlint.__all__)
def test_each_name_is_in_the_text_about_the_interface(name: str) -> None:
    assert re.search(rf"`{re.escape(name)}[`(.]", doorlint.__doc__ or ""), name


@pytest.mark.parametrize("name", NAMES)
def test_each_name_is_documented(name: str) -> None:
    public = getattr(doorlint, name)
    text = vars(public).get("__doc__") if inspect.isclass(public) else public.__doc__
    assert text, name
    assert not text.startswith(f"{public.__name__}("), "a dataclass that says nothing shows its own signature"
    for member, what in members(public):
        assert inspect.getdoc(what), f"{name}.{member}"


@pytest.mark.parametrize("name", NAMES)
def test_each_name_is_typed(name: str) -> None:
    public = getattr(doorlint, name)
    functions: list[Any] = [public] if inspect.isfunction(public) else []
    functions += [what.fget if isinstance(what, property) else what for _, what in members(public)]
    for function in functions:
        signature = inspect.signature(function)
        assert signature.return_annotation is not inspect.Signature.empty, function
        bare = [p.name for p in signature.parameters.values() if p.annotation is p.empty and p.name != "self"]
        assert not bare, f"{function.__qualname__}: {bare}"


def test_data_that_is_handed_out_is_frozen() -> None:
    for name in ("Outcome", "Place", "Measure", "Rule", "Rulebook", "Result", "Verdict", "Context", "Repair", "Item"):
        assert getattr(doorlint, name).__dataclass_params__.frozen, name


def test_the_version_is_that_of_the_package_and_semantic() -> None:
    written = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert doorlint.__version__ == written == version("doorlint")
    assert re.fullmatch(r"\d+\.\d+\.\d+", doorlint.__version__)  # https://semver.org, 2.0.0, item 2, without a suffix


def test_importing_loads_nothing_else() -> None:
    found = loaded_after("import doorlint")
    assert {name for name in found if name.startswith("doorlint")} == {"doorlint"}
    assert not found & set(HEAVY)
    assert len(found) < 20, sorted(found)


@pytest.mark.parametrize("name", ["Cited", "Kind", "Level", "Practice", "Verdict", "failed", "at_most"])
def test_a_name_loads_only_what_it_needs(name: str) -> None:
    assert not loaded_after(f"from doorlint import {name}") & set(HEAVY)


def test_writing_a_rule_loads_no_rules_and_no_checker_of_schemas() -> None:
    found = loaded_after("from doorlint import Item, Rule, hookimpl, known, at_most")
    assert not found & {"doorlint.rules", "doorlint.reviewing", "jsonschema"}
