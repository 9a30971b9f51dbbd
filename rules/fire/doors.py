"""What the rules on fire doors share. No rule stands here."""

from __future__ import annotations

from fractions import Fraction

from doorlint import codes
from doorlint.outcome import Cited
from doorlint.quantity import QuantityError, parse_quantity
from doorlint.spec import known
from doorlint.spec.fields import Part, Undecided
from doorlint.spec.model import Opening, Project

CAUTION = (
    "A computed finding replaces neither the label, the listing and the yearly inspection of the door, nor the adopted "
    "text, nor the authority having jurisdiction."
)


def is_rated(opening: Opening) -> bool:
    """Whether the opening is fire-rated. Raises Undecided where the spec does not say."""
    return known(opening, "fire_rating", str) != "none"


def unrated(opening: Opening) -> bool:
    """Whether the spec says that the opening is not rated; false where it says nothing."""
    return opening.fire_rating == "none"


def rating(part: Part) -> Fraction:
    """The fire rating of an opening or product in seconds, 0 for none. Raises Undecided where it is not stated."""
    text = known(part, "fire_rating", str)
    if text == "none":
        return Fraction(0)
    try:
        return parse_quantity(text, "time").value
    except QuantityError as error:
        raise Undecided("fire_rating", part.at("fire_rating"), stated=False) from error


def grounds(project: Project, *names: str) -> tuple[Cited, ...]:
    """Where the adopted editions make these demands, the first name that any of them has.

    Only for demands that every known edition makes alike: where the project adopts none, the rule's own ground
    stands, and the finding with it.
    """
    for name in names:
        try:
            found, _ = codes.settings(project, name)
        except Undecided:
            continue
        if found:
            return tuple(dict.fromkeys(setting.basis for setting in found))
    return ()
