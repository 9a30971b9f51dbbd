"""Rules applied to their subjects, with what house standards change; a rule that breaks gives one finding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from . import verdicts
from .context import Context
from .foreign import MEMORY, Box, frames_of, told
from .format_rules import finding
from .house import Settings
from .outcome import Kind, Level, Outcome, Place, Related
from .rulebook import PATIENCE_S, Rulebook, RuleError, RuleModule, apply, built_in
from .spec.files import Files

OPENINGS_IN_PATIENCE: Final = 500
OPENINGS_IN_MEMORY: Final = 5000
"""So many openings double the time and the memory that a foreign rule may take: it may be the first to ask what all of
them need. Measured: 9 ms and 90 KiB an opening for a rule that asks for all events and faults of each."""
MOST_VERDICTS: Final = 10_000
"""Verdicts that a foreign rule may yield for one subject: more is taken for a generator without an end."""


@dataclass(frozen=True, slots=True)
class Judge:
    """One rule as the house standards of a spec set it. files: where the places of outcomes are looked up.

    package: where the rule comes from. A rule that is not built in is stopped where it takes longer than `patience`
    seconds or `memory` bytes for one subject, and what it yields is looked at before anything else is done with it.
    """

    module: RuleModule
    files: Files | None
    level: Level
    notes: tuple[Related, ...] = ()
    package: str = ""
    patience: float = PATIENCE_S
    memory: int = MEMORY
    _box: Box | None = field(init=False, repr=False, compare=False)
    _declared: bool = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_box", None if built_in(self.module) else Box(self.patience, self.memory))
        # whether every outcome stays as the rule gives it
        object.__setattr__(self, "_declared", self.level is self.module.RULE.level and not self.notes)

    @property
    def foreign(self) -> bool:
        """Whether the rule is not built in. Such a rule is judged after all others, each subject by itself."""
        return self._box is not None

    def outcomes(self, subject: Any, context: Context) -> Iterable[Outcome]:
        """What becomes of the rule for a subject. Errors of the rule are not caught here."""
        if self._box is None:
            found = apply(self.module, subject, context)
            return found if self._declared else map(self._as_set, found)
        return [self._as_set(outcome) for outcome in self._box.run(lambda: self._foreign(subject, context))]

    def all(self, subjects: Iterable[Any], context: Context) -> list[Outcome]:
        """The outcomes for all the subjects. A rule that breaks gives one finding and stops there."""
        outcomes: list[Outcome] = []
        there: set[tuple[str, str, str]] = set()
        for subject in subjects:
            try:
                for outcome in self.outcomes(subject, context):
                    if self.files is not None:
                        check_places(outcome, self.files, there, repairs=self.foreign)
                    outcomes.append(outcome)
            except (Exception, SystemExit) as error:  # one broken rule must not hide the others
                outcomes.append(self._broke(subject, error))
                break
        return outcomes

    def _foreign(self, subject: Any, context: Context) -> list[Outcome]:
        found: list[Outcome] = []
        for outcome in apply(self.module, subject, context, verdicts.check):
            verdicts.check(outcome)  # what it left undecided is no verdict of its own
            found.append(outcome)
            if len(found) > MOST_VERDICTS:
                raise RuleError(f"check yielded more than {MOST_VERDICTS} verdicts for one subject")
        return found

    def _as_set(self, outcome: Outcome) -> Outcome:
        """An outcome at the level of its rule, a failure with the places of the figures that house standards set."""
        if outcome.kind is Kind.FAIL and self.notes:
            return replace(outcome, level=self.level, related=(*outcome.related, *self.notes))
        return outcome if outcome.level is self.level else replace(outcome, level=self.level)

    def _broke(self, subject: Any, error: BaseException) -> Outcome:
        root = Place(self.files.root if self.files is not None else "", "")
        rule = self.module.RULE.id
        where = getattr(subject, "identity", subject)
        text = f"{_named(rule, self.package)} broke on {where}: {told(error)}{self._at(frames_of(error))}"
        return finding("rulebook/rule-broke", text, getattr(subject, "place", root), rule)

    def _at(self, frames: Sequence[tuple[str, int]]) -> str:
        """Where something broke: the line of the rule, and the line that it called in the end."""
        own = getattr(getattr(self.module.check, "__code__", None), "co_filename", None)
        shown = dict.fromkeys([*[frame for frame in frames if frame[0] == own][-1:], *frames[-1:]])
        lines = [f"line {line} of {Path(file).name}" for file, line in shown]
        return f" ({', at '.join(lines)})" if lines else ""


def judge(module: RuleModule, files: Files, house: Settings, book: Rulebook, openings: int) -> Judge:
    """A rule at the level, and with the notes, that house standards give it. openings: how many the spec has; what a
    rule asks of the whole spec takes longer in a large one."""
    rule = module.RULE
    package = "" if built_in(module) else book.origins.get(rule.id) or module_package(module)
    patience = book.patience * (1 + openings / OPENINGS_IN_PATIENCE)
    memory = int(MEMORY * (1 + openings / OPENINGS_IN_MEMORY))
    return Judge(module, files, house.level(rule), house.notes(rule), package, patience, memory)


def module_package(module: object) -> str:
    """The package that a rule module lies in; empty for an object without a name."""
    name = getattr(module, "__name__", "")
    return name.partition(".")[0] if isinstance(name, str) else ""


def _named(rule: str, package: str) -> str:
    return f"rule {rule} of package {package!r}" if package else f"rule {rule}"


def over_nothing(judge: Judge, context: Context, root: str) -> Outcome | None:
    """The finding about a rule that is declared over something that doorlint does not know; None for a known one."""
    rule = judge.module.RULE
    if rule.over is not None and rule.over in context.subjects:
        return None
    kind = getattr(rule.over, "__name__", rule.over)
    text = f"{_named(rule.id, judge.package)} is over {kind}, which is no subject that doorlint knows"
    return finding("rulebook/rule-broke", text, Place(root, ""), rule.id)


def places(outcome: Outcome) -> list[Place]:
    """Every place that an outcome points at."""
    found = [outcome.place]
    for related in outcome.related:
        found.append(related.place)
    for step in outcome.working:
        for term in step.terms:
            if term.place is not None:
                found.append(term.place)
    return found


def check_places(
    outcome: Outcome, files: Files, there: set[tuple[str, str, str]], *, repairs: bool = False
) -> None:
    """Raise ValueError where an outcome points at a place that no document holds: no report could show it. there: the
    file, pointer and part of places that are known to be held; added to. repairs: look at the places too that its
    repairs change."""
    for place in (*places(outcome), *(verdicts.changed(outcome) if repairs else ())):
        looked = (place.file, place.pointer, place.part)
        if looked in there:
            continue
        document = files.documents.get(place.file)
        if place.span is not None and document is not None:
            continue
        if document is None or not document.has(place.pointer, place.part if place.pointer else "value"):
            raise ValueError(f"it points at {place} ({place.part}), which is not in the spec")
        there.add(looked)
