"""The report as JSON, by `schemas/findings.schema.json`: every outcome with places, figures and ground."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from .. import __version__
from ..outcome import Basis, Change, Cited, Kind, Level, Measure, Outcome, Place, Repair, Step, Term
from .earlier import Record, Revision, Standing, standing
from .text import CAUTIONS, figure, where

if TYPE_CHECKING:
    from ..reviewing import Result

FORMAT = 1
"""The version of the report's format; it grows when a reader of the old one would be misled."""
LONGEST_TEXT = 200
"""How much of the text that a place covers is carried along, in code points."""


def render(results: Sequence[Result], earlier: Sequence[Revision] | None = None) -> str:
    """The report as text, pure ASCII: what could steer a terminal or break an encoding is escaped. With `earlier`,
    each outcome says how it stands to that revision."""
    return json.dumps(report(results, earlier), ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def report(results: Sequence[Result], earlier: Sequence[Revision] | None = None) -> dict[str, Any]:
    """The report as plain data (dicts, lists, texts, numbers), in a fixed order."""
    return {
        "format": FORMAT,
        "tool": {"name": "doorlint", "version": __version__},
        "cautions": list(CAUTIONS),
        "reviews": [
            _review(result, standing(result, earlier, alone=len(results) == 1)) for result in results
        ],
    }


def _review(result: Result, against: Standing | None) -> dict[str, Any]:
    counts = result.counts()
    rules = {rule.id: rule for rule in result.rulebook.rules}
    settings = result.settings
    titles = {
        rule_id: {"title": rule.title, "level": settings.level(rule).value, "off": rule_id in settings.off}
        for rule_id, rule in rules.items()
    }
    outcomes = [_outcome(result, outcome) for outcome in result.outcomes]
    data = {
        "spec": result.root,
        "complete": not result.broken,
        "summary": {**_summary(result.outcomes), "off": len(settings.off)},
        "rules": [
            {"rule": rule_id, **titles.get(rule_id, {}), "counts": _kinds(counts.get(rule_id, {}))}
            for rule_id in sorted({*counts, *rules})
        ],
        "off": [
            {"rule": rule_id, "reason": stand.reason, "place": _place(result, stand.place)}
            for rule_id, stand in sorted(settings.off.items())
        ],
        "outcomes": outcomes,
    }
    if against is not None:
        for outcome, state in zip(outcomes, against.states, strict=True):
            outcome["baselineState"] = state
        data["absent"] = [_absent(record) for record in against.absent]
    return data


def _absent(record: Record) -> dict[str, Any]:
    return {
        "rule": record.rule,
        "kind": record.kind.value,
        "level": record.level.value,
        "subject": record.subject,
        "message": record.message,
    }


def _kinds(counts: Mapping[Kind, int]) -> dict[str, int]:
    return {kind.value: counts.get(kind, 0) for kind in Kind}


def _summary(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    standing = [outcome.level for outcome in outcomes if outcome.kind is Kind.FAIL and not outcome.waived]
    kinds = [outcome.kind for outcome in outcomes]
    return {
        "counts": {kind.value: kinds.count(kind) for kind in Kind},
        "failures": {level.value: standing.count(level) for level in Level},
        "waived": sum(1 for outcome in outcomes if outcome.kind is Kind.FAIL and outcome.waived),
    }


def _outcome(result: Result, outcome: Outcome) -> dict[str, Any]:
    data: dict[str, Any] = {
        "rule": outcome.rule,
        "kind": outcome.kind.value,
        "level": outcome.level.value,
        "subject": outcome.subject,
        "message": outcome.message,
        "place": _place(result, outcome.place),
        "related": [{"caption": one.caption, "place": _place(result, one.place)} for one in outcome.related],
        "working": [_step(result, step) for step in outcome.working],
        "missing": list(outcome.missing),
        "basis": [_basis(basis) for basis in outcome.basis],
        "repairs": [_repair(result, repair) for repair in outcome.repairs],
    }
    measures = {"measured": outcome.measured, "limit": outcome.limit, "margin": outcome.margin}
    for name, measure in measures.items():
        if measure is not None:
            data[name] = _measure(measure)
    for name, text in (("what", outcome.what), ("relation", outcome.relation), ("waived", outcome.waived)):
        if text:
            data[name] = text
    return data


def _place(result: Result, place: Place) -> dict[str, Any]:
    data: dict[str, Any] = {"file": place.file, "pointer": place.pointer, "part": place.part}
    found = where(result, place)
    if found is not None:
        data["start"] = {"line": found.line, "column": found.column, "offset": found.start}
        data["end"] = {"line": found.end_line, "column": found.end_column, "offset": found.end}
        data["text"] = found.document.text[found.start : min(found.end, found.start + LONGEST_TEXT)]
    return data


def _measure(measure: Measure) -> dict[str, Any]:
    from ..quantity import DIMENSIONS

    dimension = DIMENSIONS.get(measure.dimension)
    return {
        "value": _number(measure.value),
        "unit": dimension.si if dimension else "",
        "dimension": measure.dimension,
        "text": figure(measure),
    }


def _number(value: Fraction | float) -> float | None:
    """A JSON number, or None for what JSON has no number for."""
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def _step(result: Result, step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": step.name,
        "formula": step.formula,
        "terms": [_term(result, term) for term in step.terms],
        "result": _measure(step.result) if isinstance(step.result, Measure) else {"text": step.result},
    }
    if step.ground:
        data["ground"] = step.ground
    return data


def _term(result: Result, term: Term) -> dict[str, Any]:
    data: dict[str, Any] = {"name": term.name, "text": term.text}
    if term.place is not None:
        data["place"] = _place(result, term.place)
    return data


def _basis(basis: Basis) -> dict[str, Any]:
    if isinstance(basis, Cited):
        return {
            "kind": "cited",
            "document": basis.document,
            "edition": basis.edition,
            "clause": basis.clause,
            "title": basis.title,
            "from_memory": basis.from_memory,
        }
    return {
        "kind": "practice",
        "reason": basis.reason,
        "physics": basis.physics,
        "from_memory": basis.from_memory,
    }


def _repair(result: Result, repair: Repair) -> dict[str, Any]:
    return {
        "title": repair.title,
        "verified": repair.verified,
        "life_safety": repair.life_safety,
        "changes": [_change(result, change) for change in repair.changes],
    }


def _change(result: Result, change: Change) -> dict[str, Any]:
    data: dict[str, Any] = {"place": _place(result, change.place), "text": change.text}
    if change.key:
        data["key"] = change.key
    return data
