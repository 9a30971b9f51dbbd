"""Which YAML files a commit hook takes for door specs, and which specs a changed file belongs to.

What is at the top level of a YAML text is checked against PyYAML's own loader.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.spec import files
from doorlint.spec.files import SpecError, find_roots, is_root, is_spec_file

WORDS = st.sampled_from(["doorlint", "project", "name", "openings", "doorlint: 1", "# project: x", "x\nproject: y"])
TREES = st.recursive(
    st.one_of(st.integers(0, 9), WORDS, st.none()),
    lambda inner: st.one_of(st.lists(inner, max_size=2), st.dictionaries(WORDS, inner, max_size=3)),
    max_leaves=6,
)
WRITERS: dict[str, Callable[[Any], str]] = {
    "block": lambda tree: str(yaml.safe_dump(tree)),
    "flow": lambda tree: yaml.safe_dump(tree, default_flow_style=True),
    "quoted": lambda tree: yaml.safe_dump(tree, default_style='"', indent=4),
    "started": lambda tree: yaml.safe_dump(tree, explicit_start=True, line_break="\r\n"),
    "json": lambda tree: json.dumps(tree, indent=2),
}
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16")


@settings(max_examples=80, deadline=None)
@given(tree=TREES, how=st.sampled_from(sorted(WRITERS)), encoding=st.sampled_from(ENCODINGS))
def test_a_key_counts_at_the_top_level_alone(
    tree: Any, how: str, encoding: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(WRITERS[how](tree).encode(encoding))
    loaded = yaml.safe_load(path.read_bytes())
    top = loaded if isinstance(loaded, dict) else {}
    assert is_spec_file(path) == ("doorlint" in top)
    assert is_root(path) == ("project" in top)


@pytest.mark.parametrize(
    ("text", "is_spec"),
    [
        ("# a comment\ndoorlint: 1\n", True),
        ("'doorlint': 1\n", True),
        ("  doorlint: 1\n  openings: {}\n", True),
        ("--- {openings: {}, doorlint: 1}\n", True),
        ("doorlint: 1\nopenings: {D1: [\n", True),  # broken YAML that says what it is
        ("project: {name: a web service}\nservices: {}\n", False),
        ("tools:\n  doorlint: 1\n", False),
        ("note: |\n  doorlint: 1\n", False),
        ("# doorlint: 1\n", False),
        ("- doorlint: 1\n", False),
        ("", False),
    ],
)
def test_what_says_that_it_is_a_door_spec(text: str, is_spec: bool, tmp_path: Path) -> None:
    path = tmp_path / "any.yaml"
    path.write_text(text)
    assert is_spec_file(path) is is_spec


def test_what_cannot_be_read_is_not_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.yaml"
    path.write_text("doorlint: 1\n")

    def refuses(self: Path, *given: Any, **more: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuses)  # a file's mode does not stop the administrator
    assert is_spec_file(path)
    assert not is_root(path)


def spec_of(folder: Path, include: str) -> Path:
    (folder / "parts").mkdir(parents=True)
    root = folder / "project.yaml"
    root.write_text(f"doorlint: 1\nproject: {{name: Invented}}\ninclude: {include}\n")
    for name in ("a", "b"):
        (folder / "parts" / f"{name}.yaml").write_text("doorlint: 1\nopenings: {}\n")
    return root


@pytest.mark.parametrize("include", ["parts/a.yaml", "[parts/a.yaml, parts/b.yaml]", '"*/*.yaml"', "'**/*.yaml'"])
def test_a_part_belongs_to_the_root_that_includes_it(include: str, tmp_path: Path) -> None:
    root = spec_of(tmp_path, include)
    assert find_roots(tmp_path / "parts" / "a.yaml") == (root,)


def test_a_part_of_a_part_belongs_to_the_root(tmp_path: Path) -> None:
    root = spec_of(tmp_path, "parts/a.yaml")
    (tmp_path / "parts" / "a.yaml").write_text("doorlint: 1\ninclude: b.yaml\n")
    assert find_roots(tmp_path / "parts" / "b.yaml") == (root,)


def test_a_house_standard_belongs_to_the_root_that_follows_it(tmp_path: Path) -> None:
    root = spec_of(tmp_path, "parts/a.yaml")
    root.write_text("doorlint: 1\nproject: {name: Invented, house: house.yaml}\n")
    (tmp_path / "house.yaml").write_text("doorlint: 1\nname: Invented house\n")
    assert find_roots(tmp_path / "house.yaml") == (root,)


@pytest.mark.parametrize("include", ["parts/b.yaml", "../x/parts/a.yaml", "/parts/a.yaml", "'parts/[a'", "[]"])
def test_a_part_that_no_root_includes_is_told_with_what_to_write(include: str, tmp_path: Path) -> None:
    spec_of(tmp_path / "x", include)
    with pytest.raises(SpecError, match=r"a\.yaml: is part of no spec.*include.*`project: \{name: \.\.\.\}`"):
        find_roots(tmp_path / "x" / "parts" / "a.yaml")


def test_a_part_by_a_link_that_leads_out_is_not_taken_for_its_own(tmp_path: Path) -> None:
    spec_of(tmp_path / "x", "parts/c.yaml")
    outside = tmp_path / "c.yaml"
    outside.write_text("doorlint: 1\nopenings: {}\n")
    (tmp_path / "x" / "parts" / "c.yaml").symlink_to(outside)
    with pytest.raises(SpecError, match="is part of no spec"):
        find_roots(outside)


def test_the_search_ends_at_the_top_of_the_repository(tmp_path: Path) -> None:
    spec_of(tmp_path, "inner/parts/a.yaml")
    spec_of(tmp_path / "inner", "parts/b.yaml")
    (tmp_path / "inner" / ".git").mkdir()
    with pytest.raises(SpecError, match="is part of no spec"):
        find_roots(tmp_path / "inner" / "parts" / "a.yaml")


def test_many_parts_of_one_spec_do_not_read_it_many_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = spec_of(tmp_path, "parts/*.yaml")
    for number in range(20):
        (tmp_path / "parts" / f"{number}.yaml").write_text("doorlint: 1\nopenings: {}\n")
    read: list[Path] = []
    honest = files.read_document

    def counted(path: Path, *more: Any) -> Any:
        read.append(path)
        return honest(path, *more)

    monkeypatch.setattr(files, "read_document", counted)
    parts = sorted((tmp_path / "parts").iterdir())
    assert {find_roots(part) for part in parts} == {(root,)}
    assert set(read) == {root}, "only the root had to be read to tell"
    assert len(read) == len(parts)
