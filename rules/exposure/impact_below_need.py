"""Resistance of a device outside against blows."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.ingress import IngressError, ik_energy_j, ik_satisfies, parse_ik
from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok, undecided
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from .ingress_below_need import exposure_of

KINDS = READERS | {"intercom", "actuator", "exit_button"}

RULE = Rule(
    "exposure/impact-below-need",
    title="The device outside withstands less of a blow than it will meet",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in KINDS and item.side in ("unsecured", None),
    scope="readers, keypads, intercoms and buttons on the unsecured side",
    basis=(
        Cited("IEC 62262", "2002 with A1:2021", "IK codes", "what each code withstands"),
        Practice("IK08 where the public gets at it outdoors, IK10 where security is high"),
    ),
    evidence=("IK code asked for", "IK code of the device"),
    why="A kick or a stone breaks the reader, and the door stays shut or stands open.",
    cure="Use a device of the class asked for, or a guard.",
    limits="Indoors nothing is asked. A guard that is fitted on site is not seen.",
    incomplete=uncounted.where_unknown("opening.security"),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    word, where = exposure_of(item, context)
    if word == "interior":
        yield not_applicable(f"{item.name} is indoors")
        return
    high = context.opening(item).security == "high"
    need = 10 if high else 8
    at, text = item.at("product"), known(item.sheet, "ik", str)
    try:
        has = parse_ik(text)
    except IngressError as error:
        yield undecided(
            f"cannot be decided: {error.message}; write it like {error.example}", ("ik",), item.sheet.at("ik")
        )
        return
    related = (Related(item.sheet.at("ik"), f"{text} on the data sheet"), Related(where, "the exposure"))
    what = f"{item.name} is outside{' where security is high' if high else ''}, which asks for IK{need:02d}"
    message = f"{what} ({ik_energy_j(need)} J); it has {text}"
    if ik_satisfies(has, need):
        yield ok(message, at, related=related)
    else:
        yield failed(message, at, related=related, repairs=tuple(other_products(item, context.spec)))
