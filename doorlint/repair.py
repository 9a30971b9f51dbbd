"""Repairs: each proposal of a rule is applied to a copy of the texts and reviewed; only what cures is offered.

A repair cures when the failure is gone, nothing that could be decided before is open now, and no error is new.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from .circuit.voltages import Problems
from .context import Context
from .outcome import Change, Kind, Level, Outcome, Repair
from .reviewing import Kept, Overlay, Progress, Reading, Result, read_root, review_reading
from .rulebook import Rulebook
from .spec.model import PowerSource, Spec
from .spec.read import Scope, set_nodes
from .typical.listing import with_kind

MOST_OFFERED = 3
"""Verified repairs shown for one finding: the smallest, and up to two of another sort."""

FEW, MANY = 60, 400
"""Of a spec with at most FEW openings every trial judges all; of a larger one those that a repair may touch, if they
are at most MANY."""

NOTHING = Scope(frozenset(), frozenset())

_WORD = re.compile(r"[\w.-]+")
_Worry = tuple[str, str, str]


def with_cures(result: Result, most_findings: int | None = None, progress: Progress | None = None) -> Result:
    """The result with each failure's repairs verified, and those that do not cure left out.

    At most `most_findings` failures are tried, in the order of the report; the others offer no repair. Without it: 60
    of a spec of few openings, 20 of a larger one, where a trial takes longer.
    """
    if most_findings is None:
        most_findings = 60 if result.spec is None or len(result.spec.openings) <= FEW else 20
    failures = result.of_kinds(Kind.FAIL)
    trials = Trials(result)
    tried = 0
    of = min(most_findings, sum(1 for o in failures if o.repairs and not o.waived))
    outcomes = []
    for outcome in failures:
        if outcome.repairs and not outcome.waived and tried < most_findings:
            if progress is not None:
                progress("trying cures", tried, of)
            tried += 1
            outcomes.append(replace(outcome, repairs=trials.cures(outcome)))
        else:
            outcomes.append(replace(outcome, repairs=()) if outcome.repairs else outcome)
    return replace(result, outcomes=with_kind(result.outcomes, Kind.FAIL, outcomes))


def cures(result: Result, outcome: Outcome) -> tuple[Repair, ...]:
    """The repairs proposed for a failure that verifiably cure it: of each sort (what is changed) the first."""
    return Trials(result).cures(outcome)


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


@dataclass
class Trials:
    """Repairs of the findings of one result, tried on copies. What trials have in common is worked out once."""

    result: Result
    _kept: Kept = field(default_factory=Kept)
    _worries: dict[Scope | None, Counter[_Worry]] = field(default_factory=dict)
    _before: dict[Scope | None, Reading] = field(default_factory=dict)
    _harmless: dict[tuple[Change, ...], bool] = field(default_factory=dict)
    _problems: Problems = field(default_factory=Problems)

    def __post_init__(self) -> None:
        # a trial meets the same few openings again, in worlds that no later run will meet
        self._kept = replace(self.result.kept or Kept(), least=1, store=None)

    def cures(self, outcome: Outcome) -> tuple[Repair, ...]:
        """The repairs proposed for a failure that verifiably cure it: of each sort (what is changed) the first."""
        offered: list[Repair] = []
        sorts: set[tuple[str, ...]] = set()
        for repair in outcome.repairs:
            sort = tuple(f"{change.place.pointer.rpartition('/')[2]}{change.key}" for change in repair.changes)
            if sort in sorts or len(offered) >= MOST_OFFERED:
                continue
            if self._is_cured(outcome, repair):
                sorts.add(sort)
                life_safety = repair.life_safety or self.result.rulebook.rule(outcome.rule).life_safety
                offered.append(replace(repair, verified=True, life_safety=life_safety))
        return tuple(offered)

    def _is_cured(self, outcome: Outcome, repair: Repair) -> bool:
        """Whether the failure is gone after a repair, and nothing that the repair touches is worse."""
        only = touched(self.result, repair)
        if only is not None and not only.openings:
            return False
        before, after = self._as_it_is(only), self._reading(apply(self.result, repair), only)
        if not _gone(self._same(before, outcome), self._same(after, outcome), outcome):
            return False
        if repair.changes not in self._harmless:  # one change may cure several failures
            self._harmless[repair.changes] = self._harms_nothing(before, after, only)
        return self._harmless[repair.changes]

    def _harms_nothing(self, before: Reading, after: Reading, only: Scope | None) -> bool:
        """Whether nothing is worse after a repair, of what it touches."""
        if only not in self._worries:
            self._worries[only] = _worries(self.result if only is None else self._judged(before))
        whole = self._judged(after, _same_as_before(self.result, after) if only is None else frozenset())
        return (self.result.broken or not whole.broken) and not (_worries(whole) - self._worries[only])

    def _as_it_is(self, only: Scope | None) -> Reading:
        """The spec as it is, or a part of it. Most repairs of one finding ask for the same part, or for the whole."""
        if only not in self._before:
            self._before = {part: read for part, read in self._before.items() if part is None}
            self._before[only] = self._reading({}, only)
        return self._before[only]

    def _reading(self, texts: Mapping[Path, str], only: Scope | None) -> Reading:
        """The spec, or a part of it, with these texts."""
        result = self.result
        assert result.files is not None
        known = {path: result.documents[name] for name, path in result.files.paths.items() if path not in texts}
        root, overlay = Path(result.root), Overlay(texts, known)
        read = read_root(root, result.rulebook, overlay, house=result.settings, kept=self._kept, only=only)
        return replace(read, problems=self._problems)  # a circuit is its numbers, whichever copy it is of

    def _judged(self, read: Reading, but: frozenset[str] = frozenset()) -> Result:
        # what it finds of another set or product is of no use to the trials that change an opening
        kept = replace(self._kept) if but else self._kept
        return review_reading(read, self.result.rulebook, kept=kept, but=but)

    def _same(self, read: Reading, outcome: Outcome) -> list[Outcome]:
        """The outcomes of the rule and subject of one: several where the rule judges a list of items."""
        modules = tuple(m for m in self.result.rulebook.modules if m.RULE.id == outcome.rule)
        result = review_reading(read, Rulebook(modules), _of_subject(outcome.subject), kept=self._kept)
        return [o for o in result.outcomes if (o.rule, o.subject) == (outcome.rule, outcome.subject)]


def touched(result: Result, repair: Repair) -> Scope | None:
    """The openings in which a repair may change something: those it edits, and those that share a power source with
    them, before or after. None for the whole spec; empty where these are more than a trial can judge in time."""
    spec, context = result.spec, result.context
    if spec is None or context is None or len(spec.openings) <= FEW:
        return None
    edited: set[str] = set()
    named: set[str] = set()
    for change in repair.changes:
        section, _, rest = change.place.pointer.removeprefix("/").partition("/")
        name = rest.partition("/")[0].replace("~1", "/").replace("~0", "~") or change.key
        if section == "openings" and name in spec.openings:
            edited.add(name)
        elif section == "power":
            named.add(name)
        else:
            return None if len(spec.openings) <= MANY else NOTHING
        named.update(word.partition(".")[0] for word in _WORD.findall(change.text))
    drawing = _drawing(result)
    sources = {source for name in edited for source in drawing.get(name, ())}
    sources.update(each.id for name in named if name in spec.power for each in _upward(name, context))
    partners = {other for name in edited for other in _partners(spec, name)}
    found = {name for name, on in drawing.items() if not sources.isdisjoint(on)} | edited | partners
    if len(found) > MANY:
        return NOTHING
    of_sets = _sources_of_sets(result)
    power = {source for name in found for source in drawing.get(name, ())} | sources | of_sets
    return Scope(frozenset(found), frozenset(power))


def _upward(name: str, context: Context) -> Iterator[PowerSource]:
    """A source and all that feeds it."""
    yield context.spec.power[name]
    yield from context.supplies.feeders(context.spec.power[name])


def _sources_of_sets(result: Result) -> frozenset[str]:
    """The sources that hardware sets speak of, with all that feeds them."""
    assert result.context is not None and result.files is not None
    context, files = result.context, result.files

    def found() -> frozenset[str]:
        words = {
            word.partition(".")[0]
            for node in set_nodes(files).values()
            for word in _WORD.findall(str(node.value))
        }
        return frozenset(each.id for word in words if word in context.spec.power for each in _upward(word, context))

    kept: frozenset[str] = context.once("sources of sets", found)
    return kept


def _drawing(result: Result) -> Mapping[str, frozenset[str]]:
    """For each opening the power sources that it draws on, through other sources too."""
    assert result.context is not None
    context = result.context

    def drawing() -> Mapping[str, frozenset[str]]:
        found: dict[str, set[str]] = {}
        for feed in context.wiring.feeds:
            for source in feed.sources:
                chain = (source, *context.supplies.feeders(source))
                found.setdefault(feed.item.opening, set()).update(each.id for each in chain)
        return {name: frozenset(sources) for name, sources in found.items()}

    kept: Mapping[str, frozenset[str]] = context.once("sources by opening", drawing)
    return kept


def _partners(spec: Spec, name: str) -> Iterator[str]:
    """The openings that are interlocked with one, whichever of the two says so."""
    own = spec.openings[name].interlocked_with
    yield from (other for other in (own if isinstance(own, tuple) else ()) if other in spec.openings)
    for other, opening in spec.openings.items():
        if isinstance(opening.interlocked_with, tuple) and name in opening.interlocked_with:
            yield other


def _of_subject(identity: str) -> Callable[[Context, Any], bool]:
    return lambda _, subject: str(subject.identity) == identity


def _gone(before: list[Outcome], after: list[Outcome], outcome: Outcome) -> bool:
    """Whether one failure less is left, this one is not among them, and nothing more is open."""

    def count(outcomes: list[Outcome], kind: Kind) -> int:
        return sum(o.kind is kind for o in outcomes)

    repeated = any(o.kind is Kind.FAIL and o.message == outcome.message for o in after)
    fewer = count(after, Kind.FAIL) < count(before, Kind.FAIL) and count(after, Kind.OPEN) <= count(before, Kind.OPEN)
    return fewer and not repeated and count(after, Kind.PASS) > 0


def _same_as_before(result: Result, read: Reading) -> frozenset[str]:
    """The openings that a changed copy reads as they were, with all their sheets; none where a source has changed,
    as what it feeds may be judged otherwise."""
    before, now = result.spec, read.spec
    if before is None or now is None or before.power != now.power:
        return frozenset()
    return frozenset(name for name, opening in now.openings.items() if opening == before.openings.get(name))


def _worries(result: Result) -> Counter[_Worry]:
    """What a repair must not add to: errors, and what is open."""
    return Counter(
        (o.rule, o.subject, o.kind.value)
        for o in result.of_kinds(Kind.FAIL, Kind.OPEN)
        if o.kind is Kind.OPEN or o.level is Level.ERROR
    )
