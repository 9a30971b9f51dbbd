"""The review: from paths to one list of outcomes."""

from __future__ import annotations

import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from .context import Context, analyse
from .document import Document, Region
from .format_rules import FORMAT_RULES, finding
from .house import NONE, Settings, settings
from .outcome import Kind, Level, Outcome, Place, Related
from .rulebook import Rulebook, RuleModule, apply, collect
from .schema import check
from .spec.files import Files, Overlay, SpecError, find_roots, read_files
from .spec.model import Spec, Waiver
from .spec.read import read_spec

__all__ = ["Overlay", "Result", "SpecError", "review", "review_all", "review_root", "review_text"]

_NOTHING = Rulebook()

Progress = Callable[[str, int, int], None]
"""Told how far a long review is: what is being done, how many parts of it are done, and of how many."""


@dataclass(frozen=True)
class Result:
    """The outcome of one review.

    root: the spec's root file as shown. outcomes: sorted by file, place, rule and subject. broken: part of the
    input could not be read, or a rule or package of rules broke, so the review is not complete. settings: what the
    house standards change; the rules that they switch off were not applied.
    """

    root: str
    outcomes: tuple[Outcome, ...]
    documents: Mapping[str, Document]
    rulebook: Rulebook = _NOTHING
    spec: Spec | None = None
    context: Context | None = field(default=None, repr=False)
    files: Files | None = field(default=None, repr=False)
    broken: bool = False
    settings: Settings = NONE

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
        for outcome in self.outcomes:
            counted.setdefault(outcome.rule, Counter())[outcome.kind] += 1
        return {rule: {kind: counted[rule][kind] for kind in Kind} for rule in sorted(counted)}

    def findings(self, at_least: Level = Level.NOTE) -> tuple[Outcome, ...]:
        """The failures at or above a level that no waiver covers."""
        return tuple(o for o in self.outcomes if o.kind is Kind.FAIL and not o.waived and o.level.rank >= at_least.rank)

    def status(self, failing: Level = Level.WARNING) -> int:
        """The exit status: 2 when the review is not complete, else 1 with findings at or above `failing`, else 0."""
        if self.broken:
            return 2
        return 1 if self.findings(failing) else 0


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
    paths: Iterable[str | Path], *, rulebook: Rulebook | None = None, progress: Progress | None = None
) -> tuple[Result, ...]:
    """Review every spec that the paths belong to, each once, in the order first met."""
    roots: dict[Path, Path] = {}
    for path in paths:
        for root in find_roots(Path(path)):
            roots.setdefault(root.resolve(), root)
    book = rulebook or collect()
    return tuple(review_root(root, book, None, progress=progress) for root in roots.values())


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
) -> Result:
    """Review the spec with this root file, texts of the overlay standing in for files on disk.

    `judged(context, subject)` may leave subjects out, for a review of part of a spec. `house`: settings to take as
    they are, in place of the spec's house standards, where only some of the rules are applied.
    """
    tell = progress if progress is not None else _quiet
    tell("reading", 0, 1)
    files = read_files(root, overlay)
    faults = _schema_findings(files)
    outcomes = [*files.findings, *faults]
    spec, reading = read_spec(files, frozenset(fault.place for fault in faults))
    outcomes.extend(reading)
    if house is None:
        house, faults_of_house = settings(files, rulebook)
        outcomes.extend(faults_of_house)
    broken = files.unreadable
    for trouble in rulebook.troubles:
        broken = True
        outcomes.append(finding("rulebook/package-broke", trouble.message, Place(files.root, ""), trouble.source))
    context = None
    if spec is not None:
        tell("tracing", 0, 1)
        spec = replace(spec, practice=house.practice)
        context = analyse(spec)
        outcomes.extend(context.wiring.findings)
        for number, module in enumerate(rulebook.modules):
            tell("judging", number, len(rulebook.modules))
            if module.RULE.id in house.off:
                continue
            for outcome in _run(module, context, files, house, judged):
                outcomes.append(outcome)
                broken = broken or outcome.rule == "rulebook/rule-broke"
        outcomes = _waived(outcomes, spec.waivers, date.today())
    result = Result(files.root, (), files.documents, rulebook, spec, context, files, broken, house)
    return replace(result, outcomes=_sorted(result, outcomes))


def _quiet(what: str, done: int, of: int) -> None:
    """Nobody is told."""


def _schema_findings(files: Files) -> list[Outcome]:
    found = []
    for name, document in files.documents.items():
        if any(p.code == "encoding" for p in document.problems) or (document.tree is None and document.problems):
            continue
        for fault in check(document, "house" if name in files.house else "spec"):
            place = Place(name, fault.pointer, fault.part)
            found.append(finding(fault.rule, fault.message, place, _owner(fault.pointer) or name))
    return found


def _owner(pointer: str) -> str:
    """The id of the entry that a pointer leads into ("/openings/114A/set" -> "114A")."""
    parts = pointer.split("/")
    return parts[2].replace("~1", "/").replace("~0", "~") if len(parts) > 2 else ""


def _run(
    module: RuleModule,
    context: Context,
    files: Files,
    house: Settings,
    judged: Callable[[Context, Any], bool] | None = None,
) -> list[Outcome]:
    """Apply one rule to all its subjects. A rule that breaks gives one finding and stops there; others go on."""
    rule = module.RULE
    level, notes = house.level(rule), house.notes(rule)
    root = files.root
    outcomes: list[Outcome] = []
    if rule.over is None or rule.over not in context.subjects:
        kind = getattr(rule.over, "__name__", rule.over)
        text = f"rule {rule.id} is over {kind}, which is no subject that doorlint knows"
        return [finding("rulebook/rule-broke", text, Place(root, ""), rule.id)]
    for subject in context.subjects[rule.over]:
        if judged is not None and not judged(context, subject):
            continue
        try:
            for outcome in apply(module, subject, context):
                _check_places(outcome, files)
                outcomes.append(_as_set(outcome, level, notes))
        except (Exception, SystemExit) as error:  # one broken rule must not hide the others
            where = traceback.extract_tb(error.__traceback__)[-1]
            text = (
                f"rule {rule.id} broke on {getattr(subject, 'identity', subject)}: {type(error).__name__}: {error} "
                f"(line {where.lineno} of {Path(where.filename).name})"
            )
            outcomes.append(finding("rulebook/rule-broke", text, getattr(subject, "place", Place(root, "")), rule.id))
            break
    return outcomes


def _as_set(outcome: Outcome, level: Level, notes: tuple[Related, ...]) -> Outcome:
    """An outcome at the level that house standards give its rule, a failure with the places of the figures they set."""
    if outcome.kind is Kind.FAIL and notes:
        return replace(outcome, level=level, related=(*outcome.related, *notes))
    return outcome if outcome.level is level else replace(outcome, level=level)


def _check_places(outcome: Outcome, files: Files) -> None:
    """Raise ValueError where an outcome points at a place that no document holds: no report could show it."""
    places = [outcome.place, *(related.place for related in outcome.related)]
    places += [term.place for step in outcome.working for term in step.terms if term.place is not None]
    for place in places:
        document = files.documents.get(place.file)
        try:
            if document is None:
                raise KeyError(place.file)
            if place.span is None:
                document.region(place.pointer, place.part if place.pointer else "value")
        except KeyError as error:
            raise ValueError(f"it points at {place} ({place.part}), which is not in the spec") from error


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
    if not isinstance(waiver.until, str):
        return ""
    try:
        until = date.fromisoformat(waiver.until)
    except ValueError:
        return f"has the date {waiver.until!r}; write it as 2027-06-30"
    return f"expired on {waiver.until}" if until < today else ""


def _covers(waiver: Waiver, subject: str, outcome: Outcome) -> bool:
    if outcome.rule != waiver.rule or outcome.rule in FORMAT_RULES:
        return False
    return outcome.subject == subject or outcome.subject.startswith((f"{subject}/", f"{subject}."))


def _sorted(result: Result, outcomes: list[Outcome]) -> tuple[Outcome, ...]:
    order = {name: index for index, name in enumerate(result.documents)}

    def key(outcome: Outcome) -> tuple[int, int, str, str, str]:
        region = result.region(outcome.place)
        return (order[outcome.place.file], region.start, outcome.rule, outcome.subject, outcome.message)

    return tuple(sorted(outcomes, key=key))
