"""Mutations of the worked openings: one change to a sound door, and the findings that it must bring.

The rows stand in `tests/events/mutations.yaml`, so that a rule's author adds a row and no code. The report of the
tests ends with the table of all rows (see `conftest.py`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from doorlint.events import EVENTS
from doorlint.outcome import Kind, Outcome
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook, collect

FOLDER = Path(__file__).parent / "events"
DATA: Mapping[str, Any] = yaml.safe_load((FOLDER / "mutations.yaml").read_text(encoding="utf-8"))["openings"]
ROWS = [(opening, row) for opening, entry in DATA.items() for row in entry["mutations"]]
NAMED = {wanted["rule"] for _, row in ROWS for wanted in row["finds"]}
QUIET = {topic for entry in DATA.values() for topic in entry["quiet"]}
BOOK = Rulebook(tuple(m for m in collect().modules if m.RULE.id in NAMED or m.RULE.id.partition("/")[0] in QUIET))
SHORT = ("E0", "E1", "E2", "E3", "E4", "E5", "E6", "E7a", "E7b", "E7c", "E8", "E9", "E10", "E11", "E12", "E13", "E14")
LETTERS = {
    "locked": "L", "unlocked": "U", "latched": "T", "unlatched": "N",
    "free": "F", "delayed": "D", "staff": "S", "impossible": "X",
    "no": "n", "yes": "y", "granted": "t", "key": "k",
}  # fmt: skip


def changed(text: str, changes: list[Mapping[str, str]]) -> str:
    """The text with each change made; every `from` must be there."""
    for change in changes:
        assert change["from"] in text, f"{change['from']!r} is not in the spec"
        text = text.replace(change["from"], change["to"])
    return text


def repeated(text: str, times: int) -> str:
    """The text with its one opening, which stands last, given `times` over."""
    head, _, opening = text.partition("openings:\n")
    name = re.match(r"  ([\w-]+):\n", opening)
    assert name is not None
    more = "".join(opening.replace(f"  {name[1]}:", f"  {name[1]}{number}:", 1) for number in range(2, times + 1))
    return f"{head}openings:\n{opening.rstrip()}\n{more}"


@cache
def base(opening: str) -> str:
    """A worked spec, completed for the rules."""
    text = (FOLDER / "specs" / f"{opening}.yaml").read_text(encoding="utf-8")
    return changed(text, DATA[opening].get("base", []))


@cache
def reviewed(text: str) -> Result:
    """The review of a text by the rules that the rows name, and those of the quiet topics."""
    result = review_text(text, rulebook=BOOK)
    assert not result.broken, [o.message for o in result.outcomes if o.rule.startswith("rulebook/")]
    odd = [o.message for o in result.outcomes if o.rule.partition("/")[0] in ("format", "reference", "wiring")]
    assert not odd, odd
    return result


def hits(result: Result, wanted: Mapping[str, str]) -> list[Outcome]:
    """The outcomes that a row's `finds` speaks of."""
    kind = Kind(wanted.get("kind", "fail"))
    return [
        o for o in result.outcomes if o.rule == wanted["rule"] and o.kind is kind and str(wanted["text"]) in o.message
    ]


def letters(result: Result, short: str) -> str:
    """One row of the first opening's matrix in letters."""
    assert result.spec is not None
    assert result.context is not None
    opening = next(iter(result.spec.openings.values()))
    row = result.context.matrix(opening).row(EVENTS[SHORT.index(short)])
    cells = (row.lock, row.latch, row.egress, row.ingress_without, row.ingress_with)
    return " ".join("?" if cell is None else LETTERS[cell.value] for cell in cells)


@pytest.mark.parametrize("opening", DATA)
def test_the_sound_door_has_no_finding_of_these_topics(opening: str) -> None:
    entry = DATA[opening]
    result = reviewed(base(opening))
    failures = [o for o in result.outcomes if o.kind is Kind.FAIL and o.rule.partition("/")[0] in entry["quiet"]]
    expected = [o for wanted in entry.get("found", []) for o in hits(result, wanted)]
    assert len(expected) == len(entry.get("found", []))
    assert [o.message for o in failures if o not in expected] == []


@pytest.mark.parametrize(("opening", "row"), ROWS, ids=[f"{opening}: {row['name']}" for opening, row in ROWS])
def test_the_mutation_brings_its_findings(
    opening: str, row: Mapping[str, Any], record_property: Callable[[str, object], None]
) -> None:
    before = reviewed(base(opening))
    text = changed(base(opening), row["change"])
    after = reviewed(repeated(text, row["repeat"]) if "repeat" in row else text)
    found = []
    for wanted in row["finds"]:
        assert not hits(before, wanted), f"{wanted['rule']} is there without the mutation"
        assert hits(after, wanted), [o.message for o in after.outcomes if o.rule == wanted["rule"]]
        found.append(wanted["rule"] if wanted.get("kind", "fail") == "fail" else f"{wanted['rule']} ({wanted['kind']})")
    for short, cells in row.get("cells", {}).items():
        computed = letters(after, short)
        pattern = re.escape(cells).replace(r"\*", "[A-Za-z?]").replace(r"\ ", " ")
        assert re.fullmatch(pattern, computed), f"{short} is {computed}, {cells} is expected"
        found.append(f"{short}: {computed}")
    record_property("mutation", (opening, row["name"], tuple(dict.fromkeys(found))))


def test_every_worked_opening_is_mutated_and_every_rule_named_is_there() -> None:
    assert {module.RULE.id for module in BOOK.modules} >= NAMED
    assert {path.stem for path in (FOLDER / "specs").glob("*.yaml")} == set(DATA)
