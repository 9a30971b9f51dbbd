"""The record of what every rule gives over its cases: kinds, places, figures, working and repairs, without the wording.

A case says what must be found where; the record says with which figures, so that a change of any of them is seen when
it is made. It was written by the program itself: it shows that nothing changed unnoticed, not that a figure is right;
the cases and `tests/published` are for that. After an intended change:

    python -m tests.rules.record

and read the difference. One file for each topic in `tests/rules/record/`.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from doorlint.cases import cases_path, load_cases, review_case
from doorlint.outcome import Cited, Kind, Measure, Outcome, Place
from doorlint.rulebook import Rule, Rulebook, collect

FOLDER = Path(__file__).with_name("record")
HEAD = "# Written by `python -m tests.rules.record`; see there what it is for.\n"


def rules() -> tuple[Any, ...]:
    """The built-in rule modules."""
    book = collect()
    return tuple(module for module in book.modules if book.origins[module.RULE.id] == "built-in")


def lines_of(module: Any) -> tuple[str, ...]:
    """What a rule gives over its cases, line by line: the rule, the name of each case, under it each outcome."""
    path = cases_path(module)
    assert path is not None
    rule = module.RULE
    found = [f"{rule.id} | {rule.level.value}{' | life safety' if rule.life_safety else ''}"]
    for case in load_cases(path):
        result = review_case(case, Rulebook((module,)))
        assert result is not None
        own = [outcome for outcome in result.outcomes if outcome.rule == module.RULE.id]
        found.append(f"  {case.name}")
        # some rules judge many subjects that do not concern them
        beside = Counter(outcome.subject for outcome in own if outcome.kind is Kind.NOT_APPLICABLE)
        if beside:
            found.append(f"    notApplicable {', '.join(_counted(beside))}")
        found += sorted(f"    {told(outcome, rule)}" for outcome in own if outcome.kind is not Kind.NOT_APPLICABLE)
    return tuple(found)


def _counted(subjects: Mapping[str, int]) -> Iterator[str]:
    for subject, count in sorted(subjects.items()):
        yield subject if count == 1 else f"{subject} ({count})"


def told(outcome: Outcome, rule: Rule) -> str:
    """One outcome of a rule on one line; its grounds where they are not those of the rule."""
    parts = [f"{outcome.kind.value} {outcome.subject}"]
    if _at(outcome.place):
        parts.append(f"at {_at(outcome.place)}")
    if outcome.measured is not None or outcome.limit is not None:
        parts.append(f"{_shown(outcome.measured)} {outcome.relation} {_shown(outcome.limit)}")
    if outcome.missing:
        parts.append(f"missing {', '.join(outcome.missing)}")
    for step in outcome.working:
        terms = ", ".join(f"{term.text}{_at(term.place, ' @')}" for term in step.terms)
        parts.append(f"{step.name} = {_shown(step.result)}" + (f" ({terms})" if terms else ""))
    if outcome.basis != rule.basis:
        cited = [ground for ground in outcome.basis if isinstance(ground, Cited)]
        parts.append("by " + ", ".join(f"{ground.document} {ground.edition} {ground.clause}" for ground in cited))
    if outcome.related:
        parts.append(f"related {', '.join(_at(one.place) for one in outcome.related)}")
    for repair in outcome.repairs:
        changes = (f"{_at(change.place)} {change.key}={change.text}" for change in repair.changes)
        parts.append(f"repair {', '.join(changes)}" + (" !" if repair.life_safety else ""))
    return " | ".join(" ".join(part.split()) for part in parts)


def _at(place: Place | None, before: str = "") -> str:
    return f"{before}{place.pointer}{' (key)' if place.part == 'key' else ''}" if place is not None else ""


def _shown(value: Measure | str | None) -> str:
    if isinstance(value, Measure) and isinstance(value.value, float):
        return f"{value.value:.4g} {value.dimension}"
    return str(value)


def written() -> Mapping[str, str]:
    """The text of each file of the record, by topic."""
    found: dict[str, str] = {}
    for module in rules():
        topic = module.RULE.id.partition("/")[0]
        text = "\n".join(lines_of(module))
        found[topic] = f"{found.get(topic, HEAD)}{text}\n"
    return found


def recorded(topic: str) -> Mapping[str, tuple[str, ...]]:
    """The lines of each rule of a topic as they stand in the record; empty where there is no file."""
    path = FOLDER / f"{topic}.txt"
    found: dict[str, list[str]] = {}
    rule = ""
    for line in path.read_text(encoding="utf-8").splitlines() if path.is_file() else ():
        if line.startswith("#"):
            continue
        if not line.startswith("  "):
            rule = line.partition(" | ")[0]
        found.setdefault(rule, []).append(line)
    return {name: tuple(lines) for name, lines in found.items()}


def main() -> int:
    """Write the record anew."""
    FOLDER.mkdir(exist_ok=True)
    files = written()
    for path in FOLDER.glob("*.txt"):
        if path.stem not in files:
            path.unlink()
    for topic, text in files.items():
        (FOLDER / f"{topic}.txt").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
