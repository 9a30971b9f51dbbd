"""Repairs: each proposal of a rule is applied to a copy of the texts and reviewed; only what cures is offered.

A repair cures when the failure is gone, nothing that could be decided before is open now, and no error is new.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from .context import Context
from .outcome import Change, Kind, Level, Outcome, Repair
from .reviewing import Overlay, Progress, Result, review_root
from .rulebook import Rulebook

MOST_OFFERED = 3
"""Verified repairs shown for one finding: the smallest, and up to two of another sort."""


def with_cures(result: Result, most_findings: int = 60, progress: Progress | None = None) -> Result:
    """The result with each failure's repairs verified, and those that do not cure left out.

    At most `most_findings` failures are tried, in the order of the report; the others offer no repair.
    """
    tried = 0
    of = min(most_findings, sum(1 for o in result.findings() if o.repairs))
    outcomes = []
    for outcome in result.outcomes:
        if outcome.repairs and outcome.kind is Kind.FAIL and not outcome.waived and tried < most_findings:
            if progress is not None:
                progress("trying cures", tried, of)
            tried += 1
            outcomes.append(replace(outcome, repairs=cures(result, outcome)))
        else:
            outcomes.append(replace(outcome, repairs=()) if outcome.repairs else outcome)
    return replace(result, outcomes=tuple(outcomes))


def cures(result: Result, outcome: Outcome) -> tuple[Repair, ...]:
    """The repairs proposed for a failure that verifiably cure it: of each sort (what is changed) the first."""
    offered: list[Repair] = []
    sorts: set[tuple[str, ...]] = set()
    for repair in outcome.repairs:
        sort = tuple(f"{change.place.pointer.rpartition('/')[2]}{change.key}" for change in repair.changes)
        if sort in sorts or len(offered) >= MOST_OFFERED:
            continue
        if _is_cured(result, outcome, repair):
            sorts.add(sort)
            life_safety = repair.life_safety or result.rulebook.rule(outcome.rule).life_safety
            offered.append(replace(repair, verified=True, life_safety=life_safety))
    return tuple(offered)


def apply(result: Result, repair: Repair) -> dict[Path, str]:
    """The texts of the files that a repair changes, as they are after it. Nothing is written."""
    if result.files is None:
        raise ValueError("this result was not read from files")
    by_file: dict[str, list[Change]] = {}
    for change in repair.changes:
        by_file.setdefault(change.place.file, []).append(change)
    texts = {}
    for name, changes in by_file.items():
        document = result.documents[name]
        text = document.text
        edits = sorted((edit(result, change) for change in changes), reverse=True)
        for start, end, new in edits:
            text = text[:start] + new + text[end:]
        texts[result.files.paths[name]] = text
    return texts


def edit(result: Result, change: Change) -> tuple[int, int, str]:
    """(start, end, new text) of one change, as offsets in its document."""
    document = result.documents[change.place.file]
    region = document.region(change.place.pointer, "value")
    if not change.key:
        return region.start, region.end, change.text
    entry = f"{change.key}: {change.text}"
    source = document.source(region)
    if source.startswith("{"):
        inner = source[1:-1].strip()
        return region.start + 1, region.start + 1, f"{entry}, " if inner else entry
    column = document.position(region.start)[1] - 1
    return region.start, region.start, f"{entry}\n{' ' * column}"


def _is_cured(result: Result, outcome: Outcome, repair: Repair) -> bool:
    """Whether the failure is gone after a repair, and nothing that the repair touches is worse."""
    assert result.files is not None
    known = {path: result.documents[name] for name, path in result.files.paths.items()}
    overlay = Overlay(apply(result, repair), known)
    module = next(m for m in result.rulebook.modules if m.RULE.id == outcome.rule)
    alone = review_root(
        Path(result.root),
        Rulebook((module,)),
        overlay,
        lambda _, subject: subject.identity == outcome.subject,
        house=result.settings,
    )
    if not _gone(_of_same(result, outcome), _of_same(alone, outcome), outcome):
        return False
    after = review_root(Path(result.root), result.rulebook, overlay, _touched_by(result), house=result.settings)
    return (result.broken or not after.broken) and not (_worries(after) - _worries(result))


def _of_same(result: Result, outcome: Outcome) -> list[Outcome]:
    """The outcomes of the same rule for the same subject: several where the rule judges a list of items."""
    return [o for o in result.outcomes if (o.rule, o.subject) == (outcome.rule, outcome.subject)]


def _gone(before: list[Outcome], after: list[Outcome], outcome: Outcome) -> bool:
    """Whether one failure less is left, this one is not among them, and nothing more is open."""

    def count(outcomes: list[Outcome], kind: Kind) -> int:
        return sum(o.kind is kind for o in outcomes)

    repeated = any(o.kind is Kind.FAIL and o.message == outcome.message for o in after)
    fewer = count(after, Kind.FAIL) < count(before, Kind.FAIL) and count(after, Kind.OPEN) <= count(before, Kind.OPEN)
    return fewer and not repeated and count(after, Kind.PASS) > 0


def _touched_by(result: Result) -> Callable[[Context, Any], bool]:
    """Whether a subject may be judged otherwise than before: its opening reads otherwise now, or it is no opening's."""
    same: set[str] | None = None

    def touched(now: Context, subject: Any) -> bool:
        nonlocal same
        if same is None:
            before = result.spec
            kept = before is not None and before.power == now.spec.power
            openings = now.spec.openings.items() if before is not None and kept else ()
            same = {name for name, opening in openings if before is not None and opening == before.openings.get(name)}
        return str(subject.identity).split("/")[0] not in same

    return touched


def _worries(result: Result) -> set[tuple[str, str, str]]:
    """What a repair must not add to: errors, and what is open."""
    return {
        (o.rule, o.subject, o.kind.value)
        for o in result.outcomes
        if (o.kind is Kind.FAIL and o.level is Level.ERROR) or o.kind is Kind.OPEN
    }
