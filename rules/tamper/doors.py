"""What the rules on tampering share. No rule stands here."""

from __future__ import annotations

from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Leaf, Opening


def is_high(opening: Opening) -> bool:
    """Whether the owner says that the opening is to resist a determined attack. Raises Undecided where the author gives
    it as unknown."""
    if opening.security is UNKNOWN:
        known(opening, "security", str)
    return opening.security == "high"


def leaf_of(opening: Opening) -> Leaf:
    """The leaf of an opening. Raises Undecided where the spec does not describe it."""
    return known(opening, "leaf", Leaf)


def swings_outwards(opening: Opening) -> bool:
    """Whether the leaf swings towards the unsecured side, where its hinges and the tip of its latch are then bare."""
    side, swing = known(opening, "unsecured_side", str), known(leaf_of(opening), "swing", str)
    return swing == "both" or side == "both" or (swing, side) in (("out", "to"), ("in", "from"))
