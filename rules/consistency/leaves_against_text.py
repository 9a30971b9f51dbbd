"""The number of leaves in words against the data."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Leaf, Opening

from .texts import claims

LEAVES = re.compile(
    r"\b(?P<two>pair of doors|pair|double doors?|both leaves)\b|\b(single leaf|single door)\b", re.IGNORECASE
)

RULE = Rule(
    "consistency/leaves-against-text",
    title="What the text says about the leaves is not so in the data",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="A set for a pair on a single door: half of it goes back.",
    cure="Ask which of the two is meant, and correct the other.",
    limits="Only plain English words in titles, notes and sequences are understood.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = claims(opening, context, LEAVES)
    if not found:
        yield not_applicable("no text speaks of the number of leaves")
        return
    leaf = known(opening, "leaf", Leaf)
    count = known(leaf, "count", int)
    related = (Related(leaf.at("count"), f"count {count}"),)
    for claim in found:
        if (claim.match["two"] is not None) == (count == 2):
            yield ok(f"{claim.words}: so is the count", claim.place, related=related)
        else:
            yield failed(f"the text says {claim.words}, and {opening.id} has {count}", claim.place, related=related)
