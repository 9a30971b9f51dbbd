"""What titles, notes and sequences say about an opening in plain words, to be held against its data. No rule here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

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


def texts_of(opening: Opening, context: Context) -> Iterator[tuple[str, Place]]:
    """Title, note and sequence of the opening and of its set, each with its place."""
    for part in (opening, set_of(opening, context)):
        for name in ("title", "note", "sequence") if part is not None else ():
            text = getattr(part, name)
            if isinstance(text, str) and part is not None:
                yield text, part.at(name)


def claims(opening: Opening, context: Context, pattern: re.Pattern[str]) -> tuple[Claim, ...]:
    """What the texts of an opening say that matches a pattern."""
    return tuple(Claim(match, place) for text, place in texts_of(opening, context) for match in pattern.finditer(text))
