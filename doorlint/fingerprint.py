"""What makes two outcomes of two reviews the same requirement: the rule, the subject and what is measured, never a
line, so that re-ordering or re-formatting a spec does not make old findings look new."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import dataclass

from .outcome import Outcome


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """The two names of an outcome, each 64 hexadecimal digits.

    requirement: shared by the outcomes of one rule for one subject that measure the same.
    outcome: one outcome alone; differs among those by an ordinal.
    """

    requirement: str
    outcome: str
    ordinal: int


def fingerprints(outcomes: Sequence[Outcome]) -> tuple[Fingerprint, ...]:
    """The fingerprint of each outcome of one review, in the order given.

    Equal requirements are numbered from 1 by pointer and message, so the numbers do not hang on the order given.
    """
    groups: defaultdict[tuple[str, str, str, str], list[int]] = defaultdict(list)
    for index, outcome in enumerate(outcomes):
        groups[(outcome.rule, outcome.subject, outcome.what, outcome.relation)].append(index)
    made: dict[int, Fingerprint] = {}
    for identity, members in groups.items():
        requirement = _digest(*identity)
        for ordinal, index in enumerate(sorted(members, key=lambda i: _order(outcomes[i])), 1):
            made[index] = Fingerprint(requirement, _digest(*identity, ordinal), ordinal)
    return tuple(made[index] for index in range(len(outcomes)))


def _order(outcome: Outcome) -> tuple[str, str, str]:
    return outcome.place.pointer, outcome.message, outcome.place.file


def owner(subject: str, known: Container[str]) -> str:
    """The opening that a subject ("114A/lock") belongs to: the longest of the `known` ids that it begins with, ""
    where it is none's."""
    end = len(subject)
    while end > 0:
        if subject[:end] in known:
            return subject[:end]
        end = subject.rfind("/", 0, end)
    return ""


def _digest(*parts: str | int) -> str:
    return hashlib.sha256(json.dumps(parts, ensure_ascii=True).encode()).hexdigest()
