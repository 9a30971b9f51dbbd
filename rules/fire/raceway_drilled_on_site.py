"""The way for the wires through a fire-rated leaf is drilled on site."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .doors import CAUTION, is_rated

RULE = Rule(
    "fire/raceway-drilled-on-site",
    title="The way for wires through a fire-rated leaf is drilled on site",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: any(item.through_transfer is not None for item in opening.items.values()),
    scope="openings with wires in the leaf",
    basis=(Cited("NFPA 80", "2010 to 2022", "job-site preparation of door assemblies", from_memory=True),),
    evidence=("preparation", "device on the leaf"),
    why="A long drill through the core of the leaf is no permitted preparation, and the label is void.",
    cure="Order the leaf with its raceway from the factory.",
    limits="How deep the raceway may be is in the listing of the leaf. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    wired = next(item for item in opening.items.values() if item.through_transfer is not None)
    at = opening.at("preparation")
    if known(opening, "preparation", str) != "job_site":
        yield ok(f"the leaf is prepared by {opening.preparation}", at)
    else:
        related = (Related(wired.at("through_transfer"), f"the wires of {wired.name} run through the leaf"),)
        yield failed(f"the way for the wires of {wired.name} is drilled on site", at, related=related)
