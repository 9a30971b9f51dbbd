"""The differences between a spec and its building model, as GNU message lines and as JSON."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from .. import __version__
from ..outcome import Cited, Kind, Level
from .text import CAUTIONS, SHOWN, marked, plain, where

if TYPE_CHECKING:
    from ..intake.differences import Difference, ModelPlace
    from ..intake.models import Model
    from ..reviewing import Result

FORMAT = 1
"""The version of the JSON; it grows when a reader of the old one would be misled."""
_KINDS = (Kind.FAIL, Kind.OPEN, Kind.PASS)
_INCOMPLETE = "The spec could not be read whole; what is missing was not compared."
NEITHER = "Neither side is taken as right: a difference is a question to the designer."


def failing(found: Sequence[Difference], level: Level) -> bool:
    """Whether there is a difference at or above a level."""
    return any(one.outcome.kind is Kind.FAIL and one.outcome.level.rank >= level.rank for one in found)


def render(result: Result, model: Model, found: Sequence[Difference], shown: Collection[str] = SHOWN) -> str:
    """The differences as text. `shown`: the kinds listed besides differences."""
    return "".join(f"{plain(line)}\n" for line in _lines(result, model, found, shown))


def _lines(result: Result, model: Model, found: Sequence[Difference], shown: Collection[str]) -> Iterator[str]:
    for one in found:
        outcome = one.outcome
        if outcome.kind is not Kind.FAIL and outcome.kind.value not in shown:
            continue
        word = outcome.level.value if outcome.kind is Kind.FAIL else outcome.kind.value
        spot = where(result, outcome.place)
        line, column = (spot.line, spot.column) if spot and outcome.place.pointer else (1, 1)
        yield f"{outcome.place.file}:{line}:{column}: {word}: {outcome.subject}: {outcome.message} [{outcome.rule}]"
        if spot is not None and outcome.place.pointer:
            yield from (f"    {source}" for source in marked(spot))
        if one.model is not None:
            yield f"    {one.model.file}:{one.model.line}:1: note: {_named(one.model)}"
    for note in model.notes:
        yield f"{model.path}: note: {note}"
    for door in model.doors:
        for lack in door.unreadable:
            yield f"{model.path}:{door.line}:1: note: {lack.place}: {lack.text!r}: {lack.why}"
    kinds = Counter(one.outcome.kind for one in found)
    levels = Counter(one.outcome.level for one in found if one.outcome.kind is Kind.FAIL)
    counted = ", ".join(f"{levels[level]} {level.value}" for level in reversed(Level))
    yield (
        f"Total: {kinds[Kind.FAIL]} different ({counted}), {kinds[Kind.OPEN]} open, {kinds[Kind.PASS]} the same; "
        f"{len(result.spec.openings) if result.spec else 0} openings, {len(model.doors)} doors in the model."
    )
    for rule_id, stand in sorted(result.settings.models_off.items()):
        yield f"Not compared, by the house standards: {rule_id} ({stand.reason})"
    if result.broken:
        yield _INCOMPLETE
    yield NEITHER
    yield CAUTIONS[0]


def _named(place: ModelPlace) -> str:
    return f"{place} of the door {place.global_id}" if place.global_id else str(place)


def render_json(result: Result, model: Model, found: Sequence[Difference]) -> str:
    """All that was compared as JSON, in pure ASCII, with the places on both sides."""
    kinds = Counter(one.outcome.kind for one in found)
    data = {
        "format": FORMAT,
        "tool": {"name": "doorlint", "version": __version__},
        "cautions": [NEITHER, *CAUTIONS],
        "spec": result.root,
        "complete": not result.broken,
        "model": {"file": model.path, "schema": model.schema, "doors": len(model.doors), "notes": list(model.notes)},
        "not_understood": [
            {"place": one.place, "text": one.text, "why": one.why} for door in model.doors for one in door.unreadable
        ],
        "counts": {kind.value: kinds[kind] for kind in _KINDS},
        "off": {rule_id: stand.reason for rule_id, stand in sorted(result.settings.models_off.items())},
        "compared": [_as_json(result, one) for one in found],
    }
    return json.dumps(data, ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def _as_json(result: Result, one: Difference) -> dict[str, Any]:
    outcome = one.outcome
    spot = where(result, outcome.place)
    place: dict[str, Any] = {"file": outcome.place.file, "pointer": outcome.place.pointer, "part": outcome.place.part}
    if spot is not None and outcome.place.pointer:
        place |= {
            "start": {"line": spot.line, "column": spot.column, "offset": spot.start},
            "end": {"line": spot.end_line, "column": spot.end_column, "offset": spot.end},
        }
    model = None
    if one.model is not None:
        model = {
            "file": one.model.file,
            "line": one.model.line,
            "instance": one.model.instance,
            "global_id": one.model.global_id,
            "name": one.model.name,
        }
    return {
        "rule": outcome.rule,
        "kind": outcome.kind.value,
        "level": outcome.level.value,
        "subject": outcome.subject,
        "message": outcome.message,
        "spec_says": one.spec_says,
        "model_says": one.model_says,
        "place": place,
        "model": model,
        "basis": [
            {"kind": "cited" if isinstance(basis, Cited) else "practice", "text": str(basis)}
            for basis in outcome.basis
        ],
    }
