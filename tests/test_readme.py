"""What the README shows is true: its specification reads, its rule runs, its commands are there."""

from __future__ import annotations

import re
import types
from pathlib import Path

import pytest

import doorlint
from doorlint.cli import doorlint as command
from doorlint.format_rules import FORMAT_RULES

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()


def blocks(language: str) -> list[str]:
    """The code blocks of one language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    title, _, rest = README.partition("\n\n")
    paragraph, _, after = rest.partition("\n\n")
    assert title == "# doorlint"
    assert paragraph.startswith("doorlint reviews") and len(paragraph.split()) > 60
    assert after.startswith("## ")


def test_the_specification_shown_can_be_read_and_reviewed() -> None:
    (spec,) = [block for block in blocks("yaml") if block.startswith("doorlint: 1\nproject:")]
    result = doorlint.review_text(spec)
    assert not result.broken
    assert not [o for o in result.outcomes if o.rule in FORMAT_RULES]
    assert {o.subject for o in result.outcomes if o.waived} == {"114A/lock"}


def test_the_house_standards_shown_are_taken(tmp_path: Path) -> None:
    (house,) = [block for block in blocks("yaml") if "parameters:" in block]
    (tmp_path / "office.yaml").write_text(house)
    (tmp_path / "project.yaml").write_text("doorlint: 1\nproject: {name: Invented, house: office.yaml}\n")
    result = doorlint.review(tmp_path / "project.yaml")
    assert not [o.message for o in result.findings() if o.rule.startswith(("house/", "format/"))]
    assert result.settings is not None


def test_there_are_two_set_up_commands_each_one_line() -> None:
    assert len(re.findall(r"^python3 -m pip install .*$", README, flags=re.MULTILINE)) == 2


def test_every_command_shown_exists() -> None:
    shown = set(re.findall(r"^doorlint (\w+)", "\n".join(blocks("sh")), flags=re.MULTILINE))
    assert shown and shown <= set(command.commands)


@pytest.mark.parametrize("word", ["rules", "schemas", "examples", "tests", "doorlint"])
def test_the_top_level_is_what_it_should_be(word: str) -> None:
    assert (ROOT / word).is_dir()


def test_the_rule_shown_runs() -> None:
    (code,) = [block for block in blocks("python") if "RULE = Rule(" in block]
    module = types.ModuleType("maglock_by_door")
    exec(compile(code, "README.md", "exec"), module.__dict__)
    spec = """\
doorlint: 1
project: {name: Invented}
products:
  magnet: {kind: electromagnetic_lock, fail: safe}
openings:
  "1": {items: {lock: {product: magnet, length: 31 m}}}
  "2": {items: {lock: {product: magnet, length: 30 m}}}
  "3": {items: {lock: {product: magnet}}}
"""
    plugin = types.SimpleNamespace(__name__="ours", doorlint_rules=doorlint.hookimpl(lambda: [module]))
    book = doorlint.collect([plugin])
    result = doorlint.review_text(spec, rulebook=book)
    kinds = {o.subject: o.kind.value for o in result.outcomes if o.rule == module.RULE.id}
    assert kinds == {"1/lock": "fail", "2/lock": "pass", "3/lock": "open"}
