"""The kind of lock in words against the locks that are listed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import BOLTS, MAGNETS, RETRACTION, STRIKE, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..failure.doors import has_lock, locks_of
from .texts import claims

KINDS = {
    "strike": frozenset({STRIKE}),
    "maglock": MAGNETS,
    "magnet": MAGNETS,
    "electric bolt": BOLTS,
    "latch retraction": frozenset({RETRACTION}),
}
NAMED = re.compile(
    r"(?<!without )(?<!no )\b(?P<kind>strike|maglock|magnet|electric bolt|latch retraction)s?\b", re.IGNORECASE
)

RULE = Rule(
    "consistency/lock-against-text",
    title="The text names a kind of lock that the opening does not have",
    level=Level.WARNING,
    over=Opening,
    applies=has_lock,
    scope="openings with an electric lock",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The set was written for a strike; the opening has a magnet and keeps the set's title and wiring.",
    cure="Ask which of the two is meant, and correct the other.",
    limits="Only plain English words in titles, notes and sequences are understood.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = claims(opening, context, NAMED)
    if not found:
        yield not_applicable("no text names a kind of lock")
        return
    locks = locks_of(opening)
    related = tuple(Related(lock.at("product"), f"{lock.name}: {kind_of(lock)}") for lock in locks[:3])
    for claim in found:
        if any(kind_of(lock) in KINDS[claim.match["kind"].lower()] for lock in locks):
            yield ok(f"{claim.words} is listed", claim.place, related=related)
        else:
            yield failed(f"the text names a {claim.words}, and {opening.id} has none", claim.place, related=related)
