"""The review: from paths to one list of outcomes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .circuit.voltages import Problems
from .context import Context, analyse
from .document import Document, Region
from .facts import Facts
from .format_rules import FORMAT_RULES, finding
from .house import NONE, Settings, settings
from .judging import Judge, judge, over_nothing
from .keeping import Kept
from .outcome import Kind, Level, Outcome, Place, Related
from .rulebook import Rulebook, collect
from .schema import check
from .spec.files import Files, Overlay, SpecError, find_roots, read_files
from .spec.model import Spec, Waiver
from .spec.read import Scope, read_spec
from .today import today
from .typical.listing import Told, counts, listing, of_kinds
from .typical.share import OPENING_SUBJECTS, Shared, Sharing, Subjects, sharing
from .typical.signs import Signs
from .typical.tasks import Workplace
from .typical.world import world

if TYPE_CHECKING:
    from .store.folder import Store

__all__ = ["Kept", "Overlay", "Result", "SpecError", "review", "review_all", "review_root", "review_text"]

_NOTHING = Rulebook()

Progress = Callable[[str, int, int], None]
"""Told how far a long review is: what is being done, how many parts of it are done, and of how many."""


@dataclass(frozen=True)
class Result:
    """The outcome of one review.

    root: the spec's root file as shown. outcomes: sorted by file, place, rule and subject. broken: part of the
    input could not be read, or a rule or package of rules broke, so the review is not complete. settings: what the
    house standards change; the rules that they switch off were not applied. kept: what the next review may go on from.
    """

    root: str
    outcomes: Sequence[Outcome]
    documents: Mapping[str, Document]
    rulebook: Rulebook = _NOTHING
    spec: Spec | None = None
    context: Context | None = field(default=None, repr=False)
    files: Files | None = field(default=None, repr=False)
    broken: bool = False
    settings: Settings = NONE
    kept: Kept | None = field(default=None, repr=False, compare=False)

    def region(self, place: Place) -> Region:
        """The region of a place in its document."""
        if place.span is not None:
            return Region(*place.span)
        document = self.documents[place.file]
        return document.region(place.pointer, place.part if place.pointer else "value")

    def counts(self) -> Mapping[str, Mapping[Kind, int]]:
        """For each rule, how many outcomes of each of the five kinds; a rule that judged nothing is there too, one that
        is off is not."""
        listed = (rule.id for rule in self.rulebook.rules if rule.id not in self.settings.off)
        counted: dict[str, Counter[Kind]] = {rule_id: Counter() for rule_id in listed}
        for (rule, kind), count in counts(self.outcomes).items():
            counted.setdefault(rule, Counter())[kind] += count
        return {rule: {kind: counted[rule][kind] for kind in Kind} for rule in sorted(counted)}

    def of_kinds(self, *kinds: Kind) -> Sequence[Outcome]:
        """The outcomes of some kinds, in order. Of a large spec it costs far less than all outcomes."""
        return of_kinds(self.outcomes, kinds)

    def findings(self, at_least: Level = Level.NOTE) -> tuple[Outcome, ...]:
        """The failures at or above a level that no waiver covers."""
        return tuple(o for o in self.of_kinds(Kind.FAIL) if not o.waived and o.level.rank >= at_least.rank)

    def status(self, failing: Level = Level.WARNING) -> int:
        """The exit status: 2 when the review is not complete, else 1 with findings at or above `failing`, else 0."""
        if self.broken:
            return 2
        return 1 if self.findings(failing) else 0


@dataclass(frozen=True)
class Reading:
    """A spec as it was read, to which rules may be applied more than once.

    outcomes: what was found on the way. faults: those of them that are against the format. spec: with the figures of
    its house standards; None where the root has no content. facts: of the spec. problems: the circuits solved.
    """

    files: Files
    outcomes: tuple[Outcome, ...]
    faults: tuple[Outcome, ...]
    house: Settings
    spec: Spec | None
    facts: Facts
    problems: Problems = field(default_factory=Problems)

    @cached_property
    def context(self) -> Context | None:
        """The analyses of the spec, run when they are first asked for."""
        return None if self.spec is None else analyse(self.spec, self.facts, self.problems)


def review(path: str | Path, *, rulebook: Rulebook | None = None, overlay: Overlay | None = None) -> Result:
    """Review the spec that `path` belongs to: its root file, a folder that holds one, or a part of one.

    Raises SpecError when there is no spec to review, or the path belongs to more than one.
    """
    roots = find_roots(Path(path))
    if len(roots) > 1:
        listed = ", ".join(str(root) for root in roots)
        raise SpecError(f"{path}: belongs to several specs ({listed}); review them with review_all, or name one")
    return review_root(roots[0], rulebook or collect(), overlay)


def review_all(
    paths: Iterable[str | Path],
    *,
    rulebook: Rulebook | None = None,
    progress: Progress | None = None,
    store: Store | None = None,
    executor: Workplace | None = None,
    workers: int = 1,
) -> tuple[Result, ...]:
    """Review every spec that the paths belong to, each once, in the order first met. `store`: where what earlier
    reviews found out of like openings is kept. `executor`: where families of like openings are worked out, with so many
    `workers`; the outcome is the same with any."""
    roots: dict[Path, Path] = {}
    for path in paths:
        for root in find_roots(Path(path)):
            roots.setdefault(root.resolve(), root)
    book = rulebook or collect()
    return tuple(
        review_root(root, book, progress=progress, kept=Kept(store=store), executor=executor, workers=workers)
        for root in roots.values()
    )


def review_text(text: str, name: str = "spec.yaml", *, rulebook: Rulebook | None = None) -> Result:
    """Review a whole spec given as text (no includes from disk are read unless `name` is a path to stand in for)."""
    path = Path(name).resolve()
    return review_root(Path(name), rulebook or collect(), Overlay({path: text}))


def review_root(
    root: Path,
    rulebook: Rulebook,
    overlay: Overlay | None = None,
    judged: Callable[[Context, Any], bool] | None = None,
    progress: Progress | None = None,
    house: Settings | None = None,
    kept: Kept | None = None,
    executor: Workplace | None = None,
    workers: int = 1,
) -> Result:
    """Review the spec with this root file, texts of the overlay standing in for files on disk.

    `judged(context, subject)` may leave subjects out, for a review of part of a spec. `house`: settings to take as
    they are, in place of the spec's house standards, where only some of the rules are applied. `kept`: what an
    earlier review of the same spec has left, so that only what has changed is worked out again. `executor`: where
    families of like openings are worked out, with so many `workers`; the outcome is the same with any.
    """
    kept = kept or Kept()
    read = read_root(root, rulebook, overlay, progress, house, kept)
    return review_reading(read, rulebook, judged, progress, kept, executor, workers)


def read_root(
    root: Path,
    rulebook: Rulebook,
    overlay: Overlay | None = None,
    progress: Progress | None = None,
    house: Settings | None = None,
    kept: Kept | None = None,
    only: Scope | None = None,
) -> Reading:
    """Read the spec with this root file; the arguments are those of `review_root`. `only`: the part of the
    spec to read, as if it had no other openings and sources."""
    tell = progress if progress is not None else _quiet
    tell("reading", 0, 1)
    kept = kept or Kept()
    files = read_files(root, kept.overlay(overlay))
    faults = _schema_findings(files, kept)
    outcomes = [*files.findings, *faults]
    spec, found = read_spec(files, frozenset(fault.place for fault in faults), only)
    outcomes.extend(found)
    if house is None:
        house, faults_of_house = settings(files, rulebook)
        outcomes.extend(faults_of_house)
    if spec is not None:
        spec = replace(spec, practice=house.practice)
    return Reading(files, tuple(outcomes), tuple(faults), house, spec, Facts(spec))


def review_reading(
    read: Reading,
    rulebook: Rulebook,
    judged: Callable[[Context, Any], bool] | None = None,
    progress: Progress | None = None,
    kept: Kept | None = None,
    executor: Workplace | None = None,
    workers: int = 1,
    but: frozenset[str] = frozenset(),
) -> Result:
    """Apply the rules to a spec that was read; the arguments are those of `review_root`. `but`: openings to which none
    is applied."""
    tell = progress if progress is not None else _quiet
    kept = kept or Kept()
    files, house, spec = read.files, read.house, read.spec
    outcomes = list(read.outcomes)
    broken = files.unreadable
    for trouble in rulebook.troubles:
        broken = True
        outcomes.append(finding("rulebook/package-broke", trouble.message, Place(files.root, ""), trouble.source))
    told: tuple[Told, ...] = ()
    context = None
    if spec is not None:
        on = [module for module in rulebook.modules if module.RULE.id not in house.off]
        judges = [judge(module, files, house, rulebook, len(spec.openings)) for module in on]
        work = None
        if judged is None:
            work = _sharing(read, spec, judges, kept, but)
            work.begin(executor, workers)
        tell("tracing", 0, 1)
        context = read.context
        assert context is not None  # there is a spec
        outcomes.extend(context.wiring.findings)
        subjects = Subjects(context, but)
        shared = Shared() if work is None else work.of_sources(context)
        told += shared.told
        waiting = []
        for number, each in enumerate(judges):
            tell("judging", number, len(judges))
            nothing = over_nothing(each, context, files.root)
            if nothing is not None:
                outcomes.append(nothing)
            elif each.foreign or (work is not None and each.module.RULE.over in OPENING_SUBJECTS):
                waiting.append(each)
            else:
                left = subjects.left(each.module.RULE, shared)
                outcomes += each.all((s for s in left if judged is None or judged(context, s)), context)
        if work is not None:
            shared = work.of_openings(context, tell)
            told += shared.told
            kept.sharing = work
        for each in sorted(waiting, key=lambda each: each.foreign):  # so that they can disturb no rule of ours
            left = subjects.left(each.module.RULE, Shared() if each.foreign else shared)
            outcomes += each.all((s for s in left if judged is None or judged(context, s)), context)
        broken = broken or any(outcome.rule == "rulebook/rule-broke" for outcome in outcomes)
        outcomes = _waived(outcomes, spec.waivers, today())
    return Result(
        files.root,
        listing(outcomes, told, files.documents),
        files.documents,
        rulebook,
        spec,
        context,
        files,
        broken,
        house,
        kept,
    )


def _sharing(read: Reading, spec: Spec, judges: Sequence[Judge], kept: Kept, but: frozenset[str]) -> Sharing:
    """The sharing between like openings. Openings with waivers are judged by themselves."""
    faulty = frozenset(fault.place for fault in read.faults)
    owners = {(parts[1], parts[2]) for place in faulty if len(parts := place.pointer.split("/")) > 2}
    owners |= {(section, str(waiver.opening)) for waiver in spec.waivers for section in ("openings", "power")}
    signs = Signs(read.files, spec, frozenset(owners))
    around = world(read.files, spec, signs, faulty, read.facts, read.problems)
    families = kept.families(around, judges)
    return sharing(families, signs, judges, around, kept.least, but)


def _quiet(what: str, done: int, of: int) -> None:
    """Nobody is told."""


def _schema_findings(files: Files, kept: Kept) -> list[Outcome]:
    def faults(name: str, document: Document) -> Iterator[Outcome]:
        if document.tree is None and document.problems:
            return
        for fault in check(document, "house" if name in files.house else "spec"):
            place = Place(name, fault.pointer, fault.part)
            yield finding(fault.rule, fault.message, place, _owner(fault.pointer) or name)

    return kept.faults(files, faults)


def _owner(pointer: str) -> str:
    """The id of the entry that a pointer leads into ("/openings/114A/set" -> "114A")."""
    parts = pointer.split("/")
    return parts[2].replace("~1", "/").replace("~0", "~") if len(parts) > 2 else ""


def _waived(outcomes: list[Outcome], waivers: tuple[Waiver, ...], today: date) -> list[Outcome]:
    """Mark the failures that a usable waiver covers; report the waivers that are of no use."""
    extra: list[Outcome] = []
    for waiver in waivers:
        subject = f"{waiver.opening}/{waiver.item}" if isinstance(waiver.item, str) else str(waiver.opening)
        problem = _unusable(waiver, today)
        covered = [i for i, o in enumerate(outcomes) if o.kind is Kind.FAIL and _covers(waiver, subject, o)]
        if not problem and not covered:
            problem = "covers no finding"
        if problem:
            text = f"waiver of {waiver.rule} for {subject} {problem}"
            related = tuple(Related(outcomes[i].place, "the finding it is meant for") for i in covered[:1])
            extra.append(finding("waiver/not-usable", text, waiver.place, subject, related))
        else:
            for index in covered:
                outcomes[index] = replace(outcomes[index], waived=str(waiver.reason))
    return [*outcomes, *extra]


def _unusable(waiver: Waiver, today: date) -> str:
    if not isinstance(waiver.reason, str) or not waiver.reason.strip():
        return "gives no reason, so the finding counts"
    if waiver.until is None:
        return ""
    if not isinstance(waiver.until, str):
        return "has no date that can be read, so the finding counts"
    try:
        until = date.fromisoformat(waiver.until)
    except ValueError:
        return f"is to end on {waiver.until}, and there is no such day; write it as 2027-06-30"
    return f"expired on {waiver.until}" if until < today else ""


def _covers(waiver: Waiver, subject: str, outcome: Outcome) -> bool:
    if outcome.rule != waiver.rule or outcome.rule in FORMAT_RULES:
        return False
    return outcome.subject == subject or outcome.subject.startswith((f"{subject}/", f"{subject}."))
