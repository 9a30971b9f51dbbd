"""Rules applied to their subjects, with what house standards change; a rule that breaks gives one finding."""

from __future__ import annotations

import traceback
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from .context import Context
from .format_rules import finding
from .house import Settings
from .outcome import Kind, Level, Outcome, Place, Related
from .rulebook import RuleModule, apply
from .spec.files import Files


@dataclass(frozen=True, slots=True)
class Judge:
    """One rule as the house standards of a spec set it. files: where the places of outcomes are looked up."""

    module: RuleModule
    files: Files | None
    level: Level
    notes: tuple[Related, ...] = ()

    def outcomes(self, subject: Any, context: Context) -> Iterator[Outcome]:
        """What becomes of the rule for a subject. Errors of the rule are not caught here."""
        for outcome in apply(self.module, subject, context):
            yield self._as_set(outcome)

    def _as_set(self, outcome: Outcome) -> Outcome:
        """An outcome at the level of its rule, a failure with the places of the figures that house standards set."""
        if outcome.kind is Kind.FAIL and self.notes:
            return replace(outcome, level=self.level, related=(*outcome.related, *self.notes))
        return outcome if outcome.level is self.level else replace(outcome, level=self.level)

    def all(self, subjects: Iterable[Any], context: Context) -> list[Outcome]:
        """The outcomes for all the subjects. A rule that breaks gives one finding and stops there."""
        outcomes: list[Outcome] = []
        for subject in subjects:
            try:
                for outcome in self.outcomes(subject, context):
                    if self.files is not None:
                        check_places(outcome, self.files)
                    outcomes.append(outcome)
            except (Exception, SystemExit) as error:  # one broken rule must not hide the others
                outcomes.append(self._broke(subject, error))
                break
        return outcomes

    def _broke(self, subject: Any, error: BaseException) -> Outcome:
        where = traceback.extract_tb(error.__traceback__)[-1]
        rule = self.module.RULE.id
        root = Place(self.files.root if self.files is not None else "", "")
        text = (
            f"rule {rule} broke on {getattr(subject, 'identity', subject)}: {type(error).__name__}: {error} "
            f"(line {where.lineno} of {Path(where.filename).name})"
        )
        return finding("rulebook/rule-broke", text, getattr(subject, "place", root), rule)


def judge(module: RuleModule, files: Files, house: Settings) -> Judge:
    """A rule at the level, and with the notes, that house standards give it."""
    return Judge(module, files, house.level(module.RULE), house.notes(module.RULE))


def over_nothing(module: RuleModule, context: Context, root: str) -> Outcome | None:
    """The finding about a rule that is declared over something that doorlint does not know; None for a known one."""
    rule = module.RULE
    if rule.over is not None and rule.over in context.subjects:
        return None
    kind = getattr(rule.over, "__name__", rule.over)
    text = f"rule {rule.id} is over {kind}, which is no subject that doorlint knows"
    return finding("rulebook/rule-broke", text, Place(root, ""), rule.id)


def places(outcome: Outcome) -> Iterator[Place]:
    """Every place that an outcome points at."""
    yield outcome.place
    for related in outcome.related:
        yield related.place
    for step in outcome.working:
        for term in step.terms:
            if term.place is not None:
                yield term.place


def check_places(outcome: Outcome, files: Files) -> None:
    """Raise ValueError where an outcome points at a place that no document holds: no report could show it."""
    for place in places(outcome):
        document = files.documents.get(place.file)
        try:
            if document is None:
                raise KeyError(place.file)
            if place.span is None:
                document.region(place.pointer, place.part if place.pointer else "value")
        except KeyError as error:
            raise ValueError(f"it points at {place} ({place.part}), which is not in the spec") from error
