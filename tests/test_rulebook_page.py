"""The rule book: fresh, whole, the same whenever it is made, and each of its links leads somewhere."""

from __future__ import annotations

import random
import re
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import pytest

from doorlint import codes
from doorlint.cli import run
from doorlint.codes.values import amendment_files, value_file
from doorlint.format_rules import FORMAT_RULES
from doorlint.model_rules import MODEL_RULES
from doorlint.outcome import Kind
from doorlint.quantity import parse_quantity
from doorlint.report.pages import cases_of
from doorlint.report.rulebook_page import asked_values, render, slug
from doorlint.rulebook import Rulebook, collect

README = Path(__file__).resolve().parent.parent / "rules" / "README.md"
COLLECTED = collect()
BOOK = Rulebook(tuple(m for m in COLLECTED.modules if COLLECTED.origins[m.RULE.id] == "built-in"))
"""The built-in rules alone, whatever packages of rules are installed beside them."""
TEXT = render(BOOK)
SECTIONS = {
    heading: body
    for heading, _, body in (part.partition("\n") for part in re.split(r"^### ", TEXT, flags=re.MULTILINE)[1:])
}


def test_the_rule_book_is_fresh() -> None:
    fresh = README.is_file() and README.read_text("utf-8") == TEXT
    assert fresh, "rules/README.md is not what the rules say; run: doorlint rulebook --output rules/README.md"


def test_the_command_writes_the_rule_book(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "book.md"
    status = run(["rulebook", "--output", str(out)])
    assert status == (2 if COLLECTED.troubles else 0)
    assert out.read_text("utf-8") == render(COLLECTED)
    assert capsys.readouterr().out == ""


def test_the_same_rules_give_the_same_text_in_any_order() -> None:
    modules = list(BOOK.modules)
    random.Random(5).shuffle(modules)
    assert modules != list(BOOK.modules)
    assert render(Rulebook(tuple(modules))) == TEXT


@pytest.mark.parametrize("module", BOOK.modules, ids=lambda module: module.RULE.id)
def test_every_rule_has_a_section_that_tells_all(module: ModuleType) -> None:
    rule = module.RULE
    body = SECTIONS[rule.id]
    assert f"**{rule.title}.**" in body
    assert f"- Level: {rule.level.value}" in body
    for part in ("**Why.**", "**Basis.**", "**How to cure it.**", "**Known limits.**"):
        assert part in body, part
    for basis in rule.basis:
        assert str(basis) in body
    for parameter in rule.parameters:
        assert f"`{parameter.name}`" in body
    kinds = {case.kind for case in cases_of(module, rule.id)}
    assert ("**A case that is found:**" in body) == (Kind.FAIL in kinds)
    assert ("**In order, where it differs:**" in body or "**A case that is in order:**" in body) == (Kind.PASS in kinds)
    assert "# expect" not in body
    for name in asked_values(module):
        assert f"(`{name}`)" in body


def test_nearly_every_rule_shows_a_failing_and_a_passing_example() -> None:
    """A rule that only ever gives *review*, or cannot pass, may lack one; more would be neglect."""
    lacking = [heading for heading, body in SECTIONS.items() if "/" in heading and "```" not in body]
    assert lacking == []


def test_every_link_leads_to_a_heading() -> None:
    headings = [slug(line.lstrip("# ")) for line in TEXT.splitlines() if line.startswith("#") and "](" not in line]
    anchors = re.findall(r"\]\(#([^)]*)\)", TEXT)
    assert len(anchors) > len(BOOK.rules)
    assert set(anchors) <= set(headings)
    linked = [slug(rule.id) for rule in BOOK.rules]
    assert len(set(linked)) == len(linked)
    assert all(headings.count(anchor) == 1 for anchor in linked)


def test_the_markdown_is_well_formed() -> None:
    lines = TEXT.splitlines()
    assert sum(line.startswith("```") for line in lines) % 2 == 0
    for before, line in pairwise(lines):
        if before.startswith("|") and line.startswith("|"):
            columns = [len(re.findall(r"(?<!\\)\|", row)) for row in (before, line)]
            assert columns[0] == columns[1], line
    assert not re.search(r"(?<![\w.])/(work|tmp|home|root|usr)/", TEXT)


def test_the_index_lists_every_rule_once_with_its_level() -> None:
    index = TEXT[TEXT.index("## Index") : TEXT.index("Then: ")]
    rows = re.findall(r"^\| \[([a-z0-9/-]+)\]\(#[^)]*\) \| (\w+)(, life safety)? \|", index, flags=re.MULTILINE)
    assert sorted((rule, level, bool(care)) for rule, level, care in rows) == [
        (rule.id, rule.level.value, rule.life_safety) for rule in BOOK.rules
    ]


def test_what_is_from_memory_is_counted_and_listed() -> None:
    part = TEXT[TEXT.index("\n## From memory") :]
    counted = re.search(r"(\d+) grounds of rules, (\d+) figures by edition and (\d+) figures of local", part)
    assert counted is not None
    grounds = {
        (rule.id, str(basis))
        for rule in BOOK.rules
        for basis in [*rule.basis, *(parameter.basis for parameter in rule.parameters)]
        if basis.from_memory
    }
    figures = [entry for name in codes.names() for entry in value_file(name).series.values() if entry["from_memory"]]
    changes = [change for data in amendment_files().values() for change in data["changes"] if change["from_memory"]]
    assert tuple(map(int, counted.groups())) == (len(grounds), len(figures), len(changes))
    assert len(re.findall(r"^- \[", part, flags=re.MULTILINE)) == len(grounds)


def test_the_bibliography_names_every_cited_document_once() -> None:
    part = TEXT[TEXT.index("\n## Bibliography") : TEXT.index("\n## From memory")]
    titles = re.findall(r"^- \*\*(.+?)\*\*", part, flags=re.MULTILINE)
    assert len(set(titles)) == len(titles)
    known = {document.id.replace("-", " "): document.title for document in codes.documents().values()}
    for rule in BOOK.rules:
        for basis in rule.basis:
            document = getattr(basis, "document", "")
            full = known.get(document.replace("-", " "), document)
            assert any(title.endswith(full) for title in titles), document


def test_a_figure_by_edition_is_the_one_that_the_codes_answer() -> None:
    """IBC 1010.1.3 (2018, 2021): 15 lbf to open an exterior or fire-rated door fully; see tests/published for more."""
    body = SECTIONS["access/opening-force-high"]
    line = next(line for line in body.splitlines() if line.startswith("  - IBC ") and "15 lbf" in line)
    years = re.findall(r"20\d\d", line)
    assert {"2018", "2021"} <= set(years)
    for year in years:
        value = codes.published("opening_force/full_open", f"IBC-{year}").value
        assert getattr(value, "value", None) == parse_quantity("15 lbf", "force").value


def test_findings_made_while_reading_are_told() -> None:
    part = TEXT[TEXT.index("\n## Findings made while reading") : TEXT.index("\n## Parameters")]
    assert all(f"| {rule_id} |" in part for rule_id in FORMAT_RULES)


def test_findings_of_the_comparison_with_a_model_are_told_with_their_grounds() -> None:
    part = TEXT[TEXT.index("\n## Findings of the comparison with a building model") : TEXT.index("\n## Parameters")]
    for rule in MODEL_RULES.values():
        row = next(line for line in part.splitlines() if line.startswith(f"| {rule.id} |"))
        assert (", life safety" in row) is rule.life_safety
        assert all(str(basis) in row for basis in rule.basis)
    assert "ISO 16739-1" in TEXT[TEXT.index("\n## Bibliography") :]
