"""The rules of the comparison of a spec with a building model: declared here, applied by `intake.differences`.

They stand apart from the rule modules, as they judge two documents against each other and not the spec.
"""

from __future__ import annotations

from collections.abc import Mapping

from .outcome import Cited, Level, Practice
from .rulebook import Rule

_IFC = "ISO 16739-1 (IFC)"


def _property(name: str) -> Cited:
    return Cited(_IFC, "2024", f"Pset_DoorCommon.{name}", "property set of doors")


_HAND = Cited(
    _IFC,
    "2024",
    "IfcDoorTypeOperationEnum",
    "left and right are seen along the door's positive y axis, into which the leaf opens",
)
_SIZE = Cited(_IFC, "2024", "IfcDoor", "OverallWidth and OverallHeight: of the whole door", from_memory=True)
_BOTH = Practice("two documents that tell different doors are both built from, each by somebody else")


def _rule(
    name: str,
    title: str,
    basis: Cited,
    why: str,
    cure: str,
    level: Level = Level.WARNING,
    *,
    life_safety: bool = False,
) -> Rule:
    return Rule(
        f"model/{name}",
        title=title,
        level=level,
        over=None,
        basis=(basis, _BOTH),
        why=why,
        cure=cure,
        life_safety=life_safety,
    )


_ASK = "Ask who is right, and correct the other."
MODEL_RULES: Mapping[str, Rule] = {
    rule.id: rule
    for rule in (
        Rule(
            "model/not-in-model",
            title="The opening has no door in the model",
            level=Level.WARNING,
            over=None,
            basis=(_BOTH,),
            why="The door is specified and not drawn, or it is called differently.",
            cure="Give the door of the model the opening's id as its tag or name, or take the opening out of the spec.",
        ),
        Rule(
            "model/not-in-spec",
            title="The door of the model is not in the spec",
            level=Level.NOTE,
            over=None,
            basis=(_BOTH,),
            why="The door is drawn and not specified; a door without access control may be left out on purpose.",
            cure="Add the opening, or leave it where the door has no access control.",
        ),
        Rule(
            "model/called-alike",
            title="Several doors of the model are called alike",
            level=Level.WARNING,
            over=None,
            basis=(_BOTH,),
            why="Nobody can tell which of the doors the spec means.",
            cure="Give each door of the model a tag of its own.",
        ),
        _rule(
            "fire-rating",
            "Spec and model rate the opening differently",
            _property("FireRating"),
            "Door, frame and hardware are bought by the rating; with the wrong one the opening is not listed.",
            _ASK,
            Level.ERROR,
            life_safety=True,
        ),
        _rule(
            "size",
            "Spec and model give the door different sizes",
            _SIZE,
            "Leaf, frame and hardware are made to size.",
            _ASK,
        ),
        _rule(
            "leaf-count",
            "Spec and model give the door different numbers of leaves",
            _HAND,
            "Locks, transfers and contacts are counted by the leaf.",
            _ASK,
        ),
        _rule(
            "hand",
            "Spec and model hang the leaf differently",
            _HAND,
            "Handed hardware comes for the wrong side, and cables end at the wrong jamb.",
            _ASK,
        ),
        _rule(
            "external",
            "Spec and model disagree on whether the door is an outside door",
            _property("IsExternal"),
            "Protection against weather and attack is chosen by it.",
            _ASK,
        ),
        _rule(
            "fire-exit",
            "Spec and model disagree on whether people leave through the door",
            _property("FireExit"),
            "A door on the way out has to open from within without knowledge or key.",
            "Ask the designer of the ways out, and correct the other; the authority having jurisdiction decides.",
            Level.ERROR,
            life_safety=True,
        ),
        _rule(
            "smoke-control",
            "Spec and model disagree on whether the door holds smoke",
            _property("SmokeStop"),
            "Seals, closing and release are chosen by it.",
            _ASK,
            life_safety=True,
        ),
        _rule(
            "accessible-route",
            "Spec and model disagree on whether the door lies on an accessible route",
            _property("HandicapAccessible"),
            "Forces, heights and clear widths follow from it.",
            _ASK,
        ),
        _rule(
            "self-closing",
            "Spec and model disagree on whether the door closes itself",
            _property("SelfClosing"),
            "A door that is meant to be shut stays open without a closer.",
            _ASK,
            life_safety=True,
        ),
        _rule(
            "operator",
            "Spec and model disagree on whether the door has an operator",
            _property("HasDrive"),
            "An operator needs power, release and its own signals.",
            _ASK,
        ),
    )
}
