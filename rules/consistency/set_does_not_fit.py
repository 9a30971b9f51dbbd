"""A hardware set used at an opening that it was not made for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Place, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import AppliesTo, Exposure, Leaf, Opening

from ..fire.doors import rating
from .texts import set_of

LEVELS = ("none", "low", "medium", "high")
SEVERITY = ("interior", "sheltered", "exposed", "wash_down")
WORDS = {
    "leaves": "openings with {} leaves",
    "fire_rating": "ratings up to {}",
    "security": "security up to {}",
    "exposure": "exposure up to {}",
}

RULE = Rule(
    "consistency/set-does-not-fit",
    title="The hardware set is used where it does not fit",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("a hardware set is used at the openings that it was made for"),),
    why="The set of the office doors goes to a stair: no label, no closer, no strike that may be there.",
    cure="Use a set for such openings, or split this one.",
    limits="Judged only where the set says what it is for.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = set_of(opening, context)
    if found is None or found.applies_to is None:
        yield not_applicable("the opening has no set, or the set does not say what it is for")
        return
    limits = known(found, "applies_to", AppliesTo)
    stated = {field: fits for field, fits in CHECKS.items() if getattr(limits, field) is not None}
    if not stated:
        yield not_applicable("the set does not say what it is for")
    for field, fits in stated.items():
        allowed = known(limits, field, int if field == "leaves" else str)
        there, at = fits(opening, limits)
        text = f"set {found.id} is for {WORDS[field].format(allowed)}; {opening.id} has {there or allowed}"
        related = (Related(limits.at(field), f"what {found.id} is for"), Related(opening.at("set"), "the set"))
        yield (failed if there else ok)(text, at, related=related)


def _leaves(opening: Opening, limits: AppliesTo) -> tuple[str, Place]:
    leaf = known(opening, "leaf", Leaf)
    count = known(leaf, "count", int)
    return ("" if count == limits.leaves else str(count)), leaf.at("count")


def _rating(opening: Opening, limits: AppliesTo) -> tuple[str, Place]:
    over = rating(opening) > rating(limits)
    return (known(opening, "fire_rating", str) if over else ""), opening.at("fire_rating")


def _security(opening: Opening, limits: AppliesTo) -> tuple[str, Place]:
    word = known(opening, "security", str)
    over = LEVELS.index(word) > LEVELS.index(known(limits, "security", str))
    return (word if over else ""), opening.at("security")


def _exposure(opening: Opening, limits: AppliesTo) -> tuple[str, Place]:
    exposure = known(opening, "exposure", Exposure)
    sides = {side: known(exposure, side, str) for side in ("unsecured", "secured")}
    worst = max(sides, key=lambda side: SEVERITY.index(sides[side]))
    over = SEVERITY.index(sides[worst]) > SEVERITY.index(known(limits, "exposure", str))
    return (sides[worst] if over else ""), exposure.at(worst)


CHECKS = {"leaves": _leaves, "fire_rating": _rating, "security": _security, "exposure": _exposure}
