"""A project that does not say which codes, and which editions, it follows."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.codes import adopted
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided
from doorlint.spec.model import Project

RULE = Rule(
    "consistency/codes-not-stated",
    title="It is not stated which code, in which edition, is followed",
    level=Level.WARNING,
    over=Project,
    basis=(Practice("a project states its code set and editions; clause numbers and values move between editions"),),
    why="Two parties work to two editions and both are right.",
    cure="State building or life safety code and, for rated doors, the one on fire doors, each with its edition.",
    limits="Which edition the authority has adopted is for the author to find out.",
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    # the rating first, which is a word: a way out is a part of its own, and longer to read
    openings = context.spec.openings.values()
    rated = any(o.fire_rating not in (None, UNKNOWN, "none") and o.egress is not None for o in openings)
    if not rated and not any(opening.egress is not None for opening in openings):
        yield not_applicable("no opening describes how people leave")
        return
    needed: list[tuple[str, ...]] = [("building", "life_safety")]
    if rated:
        needed.append(("fire_doors",))
    for families in needed:
        stated = next((family for family in families if family in project.codes), None)
        if stated is None:
            names = " or ".join(families).replace("_", " ")
            yield failed(f"no edition of a code on {names} is stated", project.place.key)
        else:
            edition = adopted(project, stated)
            yield ok(f"{edition} is followed", edition.place)
    if not rated and "fire_doors" not in project.codes:
        for opening in openings:
            if opening.fire_rating is UNKNOWN and opening.egress is not None:
                raise Undecided("fire_rating", opening.at("fire_rating"), stated=True)
