"""Repairs of the findings under the cursor: each was tried on a copy of the spec and is known to cure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ..document import parse
from ..outcome import Kind, Outcome, Repair
from ..repair import cures, edit
from ..report.text import plain
from ..schema import check
from .diagnostics import region_now
from .navigation import Target
from .rename import Change
from .view import View

LIFE_SAFETY: Final = "touches life safety: decide with the authority having jurisdiction, then write it yourself"
_MOST: Final = 6
"""Findings under one cursor whose repairs are tried."""


@dataclass(frozen=True, slots=True)
class Action:
    """A repair. `changes` is empty where it is shown only; `refused` then says why. `code`, `start` and `end`: the
    finding that it cures."""

    title: str
    changes: tuple[Change, ...]
    code: str
    start: int
    end: int
    message: str
    refused: str = ""


def actions(view: View, start: int, end: int, keep_on: Callable[[], bool] = lambda: True) -> tuple[Action, ...]:
    """The repairs of the findings that touch a region of the text. `keep_on` is asked before each is tried."""
    found = list(_spellings(view, start, end))
    tried = 0
    for outcome in view.result.of_kinds(Kind.FAIL) if view.result is not None else ():
        if outcome.waived or not outcome.repairs or outcome.place.file != view.name:
            continue
        region = region_now(view.result, view.parts, outcome.place) if view.result is not None else None
        if region is None or region[0] > end or region[1] < start:
            continue
        if tried >= _MOST or not keep_on():
            break
        tried += 1
        found += _of(view, outcome, region)
    return tuple(dict.fromkeys(found))


def _of(view: View, outcome: Outcome, region: tuple[int, int]) -> list[Action]:
    assert view.result is not None
    made = []
    for repair in cures(view.result, outcome):
        title = plain(f"{outcome.subject}: {repair.title}")
        changes = _changes(view, repair)
        if repair.life_safety:
            title += " (touches life safety)"
            made.append(Action(title, (), outcome.rule, *region, outcome.message, LIFE_SAFETY))
        elif changes is not None:
            made.append(Action(title, changes, outcome.rule, *region, outcome.message))
    return made


def _changes(view: View, repair: Repair) -> tuple[Change, ...] | None:
    """The changes of a repair in the texts of now; None where these differ from what was reviewed."""
    assert view.result is not None
    changes = []
    for change in repair.changes:
        name = change.place.file
        part = view.parts.get(name)
        if part is None or part.text != view.result.documents[name].text:
            return None
        start, end, text = edit(view.result, change)
        changes.append(Change(Target(name, start, end), text))
    return tuple(changes)


def _spellings(view: View, start: int, end: int) -> list[Action]:
    """What the format's own check would write instead: verified by checking the text with it."""
    document = view.part.document
    if document.text != view.buffer.text:
        return []
    made = []
    for fault in check(document):
        region = document.region(fault.pointer, fault.part if fault.pointer else "value")
        if not fault.suggestion or region.start > end or region.end < start:
            continue
        if fault.rule == "format/missing-key":
            continue
        changed = f"{document.text[: region.start]}{fault.suggestion}{document.text[region.end :]}"
        after = {(one.rule, one.message) for one in check(parse(changed, document.name))}
        before = {(one.rule, one.message) for one in check(document)}
        if (fault.rule, fault.message) in after or after - before:
            continue
        target = Target(view.name, region.start, region.end)
        title = f"write {plain(fault.suggestion)}"
        change = Change(target, fault.suggestion)
        made.append(Action(title, (change,), fault.rule, region.start, region.end, fault.message))
    return made
