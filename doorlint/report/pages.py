"""The terminal pages about rules: the list of all, and one rule with its ground and its worked cases."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..outcome import Kind
from ..rulebook import Rule
from .text import plain

_WIDTH = 96
_EXPECTED = r"#\s*expect(?:\s+(open|review))?:\s*{}(?![\w/-])"


@dataclass(frozen=True, slots=True)
class Case:
    """One worked case of a rule: its name, the spec's text, and what the rule makes of it."""

    name: str
    text: str
    kind: Kind


def table(rules: Sequence[Rule]) -> str:
    """All rules, one a line: id, level, title."""
    size = max((len(rule.id) for rule in rules), default=0)
    lines = (f"{rule.id:<{size}}  {rule.level.value:<7}  {rule.title}" for rule in rules)
    return "".join(f"{plain(line)}\n" for line in lines)


def table_json(rules: Sequence[Rule]) -> str:
    """All rules as a JSON list of objects with id, level, title, judges, scope, needs, basis (as texts),
    life_safety and since."""
    listed = [
        {
            "id": rule.id,
            "level": rule.level.value,
            "title": rule.title,
            "judges": judged(rule),
            "scope": rule.scope,
            "needs": list(rule.needs),
            "basis": [str(basis) for basis in rule.basis],
            "life_safety": rule.life_safety,
            "since": rule.since,
        }
        for rule in rules
    ]
    return json.dumps(listed, ensure_ascii=True, indent=1) + "\n"


def page(rule: Rule, cases: Sequence[Case] = ()) -> str:
    """The page of one rule: what is found, why it matters, on what ground, and how a case of it looks."""
    return "".join(f"{plain(line)}".rstrip() + "\n" for line in _page(rule, cases))


def _page(rule: Rule, cases: Sequence[Case]) -> Iterator[str]:
    yield rule.id
    yield rule.title
    yield ""
    yield f"Level    {rule.level.value}" + ("; touches life safety" if rule.life_safety else "")
    yield f"Judges   each {judged(rule)}" if rule.over else "Judges   the spec's files, before any rule"
    if rule.scope:
        yield f"Scope    only {rule.scope}"
    yield f"Since    {rule.since}"
    yield from _section("Why", rule.why)
    yield from _section("Ground", *(f"- {basis}" for basis in rule.basis))
    if rule.needs:
        needs = f"{', '.join(rule.needs)}. Where one is missing, the outcome is open and names it."
        yield from _section("Needs", needs)
    if rule.evidence:
        yield from _section("A finding states", ", ".join(rule.evidence))
    if rule.parameters:
        listed = (f"- {one.name}: the {one.title}; {one.show(one.default)}" for one in rule.parameters)
        yield from _section("Parameters that a house standard may set", *listed)
    for kind, heading in ((Kind.FAIL, "A case that is found"), (Kind.PASS, "A case that is in order")):
        case = next((case for case in cases if case.kind == kind), None)
        if case is not None:
            yield ""
            yield f"{heading}: {case.name}"
            yield from (f"    {line}" for line in spec_lines(case, rule.id))
    yield from _section("Cure", rule.cure)
    yield from _section("Known limits", rule.limits)


def spec_lines(case: Case, rule_id: str) -> Iterator[str]:
    """The lines of a case's spec, with what the rule finds marked in words for a reader."""
    expected = _EXPECTED.format(re.escape(rule_id))
    for line in case.text.splitlines():
        yield re.sub(expected, r"# found here:", line).expandtabs(4).rstrip()


def _section(heading: str, *paragraphs: str) -> Iterator[str]:
    if any(paragraphs):
        yield ""
        yield heading
        for paragraph in paragraphs:
            hang = "    " if paragraph.startswith("- ") else "  "
            yield from textwrap.wrap(paragraph, _WIDTH, initial_indent="  ", subsequent_indent=hang)


def judged(rule: Rule) -> str:
    """The subject's type as words: LockCircuit reads "lock circuit"."""
    return "" if rule.over is None else re.sub(r"(?<=[a-z])(?=[A-Z])", " ", rule.over.__name__).lower()


def cases_of(module: object, rule_id: str) -> tuple[Case, ...]:
    """The cases in the file beside a rule's module (`name.cases.yaml` beside `name.py`), if there is one."""
    source = getattr(module, "__file__", None)
    if not isinstance(source, str):
        return ()
    try:
        text = Path(source).with_suffix(".cases.yaml").read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ()
    return read_cases(text, rule_id)


def read_cases(text: str, rule_id: str) -> tuple[Case, ...]:
    """The cases in the text of a cases file (by `schemas/cases.schema.json`), as far as they can be read: those
    to be shown first."""
    from ..document import parse

    tree: Any = parse(text, "cases").tree
    entries = tree.get("cases") if isinstance(tree, dict) else None
    shown: list[Case] = []
    others: list[Case] = []
    for entry in entries if isinstance(entries, list) else ():
        if isinstance(entry, dict) and isinstance(spec := entry.get("spec"), str):
            case = Case(str(entry.get("name", "")), spec, _kind(entry, spec, rule_id))
            (shown if entry.get("show") is True else others).append(case)
    return (*shown, *others)


def _kind(entry: dict[str, Any], spec: str, rule_id: str) -> Kind:
    """The gravest of what a case expects: a case with a failure shows the failure."""
    counts = entry.get("outcomes")
    counted = counts if isinstance(counts, dict) else {}
    marks = {mark or Kind.FAIL for mark in re.findall(_EXPECTED.format(re.escape(rule_id)), spec)}
    for kind in (Kind.FAIL, Kind.OPEN, Kind.REVIEW, Kind.PASS):
        if kind in marks or counted.get(kind.value):
            return kind
    return Kind.NOT_APPLICABLE
