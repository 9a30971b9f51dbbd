"""A length or time of an opening that is off by its unit."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.fields import Part
from doorlint.spec.model import Leaf, Opening

from .plausible import judge

RULE = Rule(
    "consistency/dimension-implausible",
    title="A dimension of the opening is far outside what openings have",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("figures of door hardware lie within a few powers of ten; common practice, no source"),),
    why="A leaf of 36 m: feet, inches and metres were mixed.",
    cure="Look at the unit.",
    limits="The ranges are wide: a value wrong by less than a factor of ten or so passes. The ranges "
    "stand in a file beside the rule.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    parts: list[tuple[str, Part]] = [("item", item) for item in opening.items.values()]
    if isinstance(opening.leaf, Leaf):
        parts.append(("leaf", opening.leaf))
    yield from judge("opening", opening.id, opening.place.key, iter(parts), context)
