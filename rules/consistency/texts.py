"""What titles, notes and sequences say about an opening in plain words, to be held against its data. No rule here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from doorlint.context import Context
from doorlint.outcome import Place
from doorlint.spec.model import HardwareSet, Opening


@dataclass(frozen=True, slots=True)
class Claim:
    """A statement found in a text: `match` with the words, and the place of the whole text."""

    match: re.Match[str]
    place: Place

    @property
    def words(self) -> str:
        """The words as they stand."""
        return self.match.group().strip()


def set_of(opening: Opening, context: Context) -> HardwareSet | None:
    """The hardware set of an opening, None where it has none."""
    return context.spec.sets.get(opening.set) if isinstance(opening.set, str) else None


def claims(opening: Opening, context: Context, pattern: re.Pattern[str]) -> tuple[Claim, ...]:
    """What matches a pattern in title, note and sequence of an opening and of its set."""
    found = _claims(opening, lambda name: context.matches(opening, name, pattern))
    shared = set_of(opening, context)
    if shared is not None:
        found += _claims(shared, lambda name: _matches(pattern, getattr(shared, name)))
    return tuple(found)


def _claims(part: Opening | HardwareSet, matches: Callable[[str], Iterable[re.Match[str]]]) -> list[Claim]:
    return [Claim(match, part.at(name)) for name in ("title", "note", "sequence") for match in matches(name)]


@lru_cache(maxsize=4096)
def _matches(pattern: re.Pattern[str], text: object) -> tuple[re.Match[str], ...]:
    """The matches in a text that many openings share."""
    return tuple(pattern.finditer(text)) if isinstance(text, str) else ()
