"""The rating of a cable's jacket against the spaces that it runs through."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.circuit.substitutes import as_yaml
from doorlint.context import Context
from doorlint.outcome import Change, Cited, Level, Practice, Related, Repair, Verdict, failed, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import Cable, Item, Undecided, known

RULE = Rule(
    "cable/jacket-unsuitable",
    title="The cable's jacket is not rated for a space that it runs through",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.runs_through not in (None, ()) and item.cable is not None,
    scope="items whose cable runs through a space that the spec names",
    basis=(
        Cited(
            "NFPA 70",
            "2023",
            "articles 722, 760 and 800",
            "cables in plenums and risers, and their substitution",
            from_memory=True,
        ),
        Practice("a jacket for dry rooms lets water in, and one without protection from light turns brittle outdoors"),
    ),
    evidence=("space", "ratings of the jacket"),
    why="The inspector has it pulled out again; in a fire it carries smoke through the plenum.",
    cure="Lay a cable that is rated for the space, or keep it out of the space.",
    limits="Knows the North American type markings and the words wet, outdoor, sunlight and burial. Ratings of other "
    "systems, such as reaction-to-fire classes, are for the authority.",
)

_PLENUM = re.compile(r"(CM|CL2|CL3|FPL|MP|NPLF|OFN)P\b|plenum", re.IGNORECASE)
_RISER = re.compile(r"(CM|CL2|CL3|FPL|MP|NPLF|OFN)R\b|riser", re.IGNORECASE)
_WET = re.compile(r"\bwet|outdoor|burial|gel", re.IGNORECASE)
_OUTDOOR = re.compile(r"outdoor|sun(light)?\b|\buv\b|burial", re.IGNORECASE)
_KNOWN = re.compile(r"^(CM|CL2|CL3|FPL|MP|NPLF|OFN)[PRXG]?\b|plenum|riser|wet|outdoor|sun|uv|burial|gel", re.IGNORECASE)

_SUITS = {"plenum": (_PLENUM,), "riser": (_RISER, _PLENUM), "wet": (_WET,), "outdoor": (_OUTDOOR,)}


def check(item: Item, context: Context) -> Iterator[Verdict]:
    name = known(item, "cable", str)
    cable = item.cable_sheet
    if cable is None:  # the finding on an id that nothing has tells of it
        raise Undecided(f"cable {name}", item.at("cable"), stated=True)
    jacket = known(cable, "jacket", tuple)
    place = item.at("cable")
    for space in known(item, "runs_through", tuple):
        if space not in _SUITS:
            raise Undecided(f"runs_through as {', '.join(_SUITS)}", item.at("runs_through"), stated=False)
        listed = ", ".join(jacket) or "no rating"
        related = (
            Related(item.at("runs_through"), f"it runs through: {space}"),
            Related(cable.at("jacket"), f"jacket of {cable.id}"),
        )
        text = f"the cable to {item.name} runs through a space of kind {space}; its jacket is marked {listed}"
        if _suits(cable, space):
            yield ok(text, place)
        elif space in ("plenum", "riser") and jacket and not any(_KNOWN.search(word) for word in jacket):
            yield to_authority(f"{text}: whether that is enough is for the authority", place, related=related)
        else:
            yield failed(text, place, related=related, repairs=tuple(_repairs(item, cable, context)))


def _suits(cable: Cable, space: str) -> bool:
    jacket = cable.jacket if isinstance(cable.jacket, tuple) else ()
    return any(pattern.search(word) for pattern in _SUITS[space] for word in jacket)


def _repairs(item: Item, own: Cable, context: Context) -> Iterator[Repair]:
    """Cables of the spec that suit every space on the way, those with the same conductors first."""
    spaces = [space for space in known(item, "runs_through", tuple) if space in _SUITS]
    fitting = [
        cable
        for cable in context.spec.cables.values()
        if cable.kind == own.kind and cable.id != own.id and all(_suits(cable, space) for space in spaces)
    ]
    for cable in sorted(fitting, key=lambda cable: (cable.conductor != own.conductor, cable.id)):
        yield Repair(f"lay {cable.id} to {item.name}", (Change(item.at("cable"), as_yaml(cable.id)),))
