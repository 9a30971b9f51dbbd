"""Which space is the unsecured one, which way the leaf swings seen from there, and so the hand."""

from __future__ import annotations

from typing import Final

from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Egress, Leaf, Opening

_OTHER: Final = {"from": "to", "to": "from"}
_INTO: Final = {"in": "from", "out": "to"}


def unsecured_space(opening: Opening) -> str:
    """`from` or `to`: as stated, else the space that people leave into. Raises Undecided where neither tells."""
    if opening.unsecured_side in ("from", "to"):
        return str(opening.unsecured_side)
    egress = opening.egress
    if opening.unsecured_side is None and isinstance(egress, Egress) and egress.side in _OTHER:
        return _OTHER[str(egress.side)]
    stated = opening.unsecured_side is not None
    raise Undecided("unsecured_side", opening.at("unsecured_side"), stated)


def leaf_of(opening: Opening) -> Leaf:
    """The leaf of an opening. Raises Undecided where the spec says nothing of it."""
    if not isinstance(opening.leaf, Leaf):
        raise Undecided("leaf", opening.at("leaf"), stated=opening.leaf is UNKNOWN)
    return opening.leaf


def swings_into(opening: Opening, side: str) -> bool:
    """Whether the leaf swings into the space on `side` (unsecured or secured). A leaf that swings both ways does."""
    swing = known(leaf_of(opening), "swing", str)
    if swing == "both":
        return True
    unsecured = unsecured_space(opening)
    return _INTO[swing] == (unsecured if side == "unsecured" else _OTHER[unsecured])


def hand_code(hinges: str, towards: bool) -> str:
    """The hand in trade words, judged from the unsecured side: lh, rh, or reverse (`towards` the viewer) lhr, rhr.

    hinges: left or right, seen from there. ValueError for another word. Common practice, no source.
    """
    if hinges not in ("left", "right"):
        raise ValueError(f"hinges at the {hinges}: left or right is expected")
    return f"{hinges[0]}h" + ("r" if towards else "")
