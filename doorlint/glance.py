"""What can be told at once of a change in the openings of one file, before the whole spec is reviewed again.

An editor asks after each keystroke. The openings that changed are read and judged by themselves, as stand-ins among
those that the last review has met; all else stays as it was. What this cannot tell (the loads of a source that others
share, two openings of one title) is held as it was until the review comes.
"""

from __future__ import annotations

import marshal
from dataclasses import replace
from typing import Any

from .document import Document
from .format_rules import finding
from .outcome import Kind, Outcome, Place
from .reviewing import Result
from .schema import check
from .spec.read import OpeningReader
from .typical.share import Sharing
from .typical.telling import table, told

SHOWN = (Kind.FAIL, Kind.OPEN, Kind.REVIEW)
_CHECKED = frozenset(
    f"format/{each}"
    for each in ("missing-key", "wrong-type", "wrong-value", "unknown-key", "does-not-belong", "word-not-allowed")
)
_READ = frozenset({"format/not-a-quantity", "reference/unknown-id"})

MOST = 4
"""Openings that a change may touch; a change of more waits for the review."""


def glance(before: Result, document: Document) -> Result | None:
    """The result as far as it can be told at once after one file has become `document`, with the outcomes of the kinds
    in SHOWN alone. None where the change is not within a few openings, or a part of it cannot be read."""
    name = document.name
    old = before.documents.get(name)
    sharing = before.kept.sharing if before.kept is not None else None
    if old is None or sharing is None or before.files is None or before.spec is None or document.problems:
        return None
    changed = _changed(old.tree, document.tree)
    if changed is None or len(changed) > MOST or old.problems or name in before.files.house:
        return None
    openings = before.spec.openings
    waived = {waiver.opening for waiver in before.spec.waivers}
    if any(each not in openings or openings[each].place.file != name or each in waived for each in changed):
        return None
    faults = [_fault(name, fault.rule, fault.message, fault.pointer, fault.part) for fault in check(document, "spec")]
    faulty = {fault.subject for fault in faults}
    outcomes = [outcome for outcome in before.of_kinds(*SHOWN) if not _is_fault(outcome, name)]
    for each in changed:
        then, now = old.tree["openings"][each], document.tree["openings"][each]
        read = _read(sharing, each, Place(name, "/openings").child(each), now)
        outcomes = [o for o in outcomes if not (_is_of(o, each) and o.rule in _READ)] + read
        look = None if read or each in faulty else _judged(sharing, each, name, then, now)
        if look is not None:
            new, held = look
            outcomes = [o for o in outcomes if not _is_of(o, each) or o.rule in held] + new
    documents = {**before.documents, name: document}
    result = replace(before, documents=documents, files=replace(before.files, documents=documents), outcomes=())
    return replace(result, outcomes=_sorted(result, [*outcomes, *faults]))


def _changed(old: Any, new: Any) -> list[str] | None:
    """The openings that two trees of one file write otherwise; None where anything else differs."""
    if not isinstance(old, dict) or not isinstance(new, dict):
        return None
    before, after = old.get("openings"), new.get("openings")
    if not isinstance(before, dict) or not isinstance(after, dict) or before.keys() != after.keys():
        return None
    rest = [{key: value for key, value in tree.items() if key != "openings"} for tree in (old, new)]
    if marshal.dumps(rest[0], 2) != marshal.dumps(rest[1], 2):
        return None
    return [name for name in after if marshal.dumps(before[name], 2) != marshal.dumps(after[name], 2)]


def _read(sharing: Sharing, name: str, place: Place, entry: Any) -> list[Outcome]:
    """What cannot be read of an opening's entry."""
    if not isinstance(entry, dict):
        return []
    world = sharing.world
    reader = OpeningReader(world.spec.products, world.spec.cables, world.sets)
    _, findings = reader.read(name, entry, place, frozenset())
    return [each for each in findings if each.place.file == place.file]


def _judged(
    sharing: Sharing, name: str, file: str, old: Any, new: Any
) -> tuple[list[Outcome], frozenset[str]] | None:
    """The outcomes of a changed opening, and the rules whose former outcomes hold on; None where all of them do."""
    likeness = sharing.signs.changed(name, file, old, new)
    if likeness is None:
        return None
    served = sharing.families.look(likeness, sharing.judges, sharing.world)
    if served is None:
        return None
    names = table(likeness.names)
    outcomes = [told(outcome, names) for bundle in served.bundles for kind in SHOWN for outcome in bundle.of(kind)]
    outcomes += [told(outcome, names) for outcome in served.freely if outcome.kind in SHOWN]
    return outcomes, served.held


def _fault(name: str, rule: str, message: str, pointer: str, part: Any) -> Outcome:
    parts = pointer.split("/")
    owner = parts[2].replace("~1", "/").replace("~0", "~") if len(parts) > 2 else ""
    return finding(rule, message, Place(name, pointer, part), owner or name)


def _is_fault(outcome: Outcome, name: str) -> bool:
    """Whether an outcome is a fault of a file against the format, which is looked for anew."""
    return outcome.place.file == name and outcome.rule in _CHECKED


def _is_of(outcome: Outcome, opening: str) -> bool:
    return outcome.subject == opening or outcome.subject.startswith(f"{opening}/")


def _sorted(result: Result, outcomes: list[Outcome]) -> tuple[Outcome, ...]:
    """In the order of a review; what stood at a place that is gone is left out."""
    order = {name: number for number, name in enumerate(result.documents)}
    found = []
    for outcome in outcomes:
        try:
            start = result.region(outcome.place).start
        except KeyError:
            continue
        found.append(((order[outcome.place.file], start, outcome.rule, outcome.subject, outcome.message), outcome))
    return tuple(outcome for _, outcome in sorted(found, key=lambda pair: pair[0]))
