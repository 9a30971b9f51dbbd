"""Door or frame of a fire door cut on site: the label is void."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint import codes
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Kind, Level, Measure, Related, Step, Term, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Opening

from .doors import CAUTION, grounds, unrated

CUT_IN = (
    "electric_strike",
    "electrified_mortise_lock",
    "motor_lock",
    "electric_bolt",
    "power_transfer",
    "shear_lock",
)
"""What takes a pocket in door or frame, not only round holes."""

RULE = Rule(
    "fire/cut-on-site",
    title="A fire door or its frame is cut on site",
    level=Level.ERROR,
    over=Opening,
    basis=(Cited("NFPA 80", "2010 to 2022", "4.1.3", "job-site preparation of door assemblies"),),
    evidence=("preparation", "hole", "limit"),
    why="The pocket for the strike is cut with a grinder, the inspector sees it, and door and frame are replaced.",
    cure="Order door and frame prepared at the factory, or have the label service cut and relabel them.",
    limits="Holes for cylinders may have any size and are not counted. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    pockets = [item for item in opening.items.values() if kind_of(item) in CUT_IN]
    drilled = [item for item in opening.items.values() if item.through_transfer is not None]
    if unrated(opening) or not (pockets or drilled or opening.job_site_hole is not None):
        yield not_applicable("the opening is not fire-rated" if unrated(opening) else "nothing here is cut in")
        return
    known(opening, "fire_rating", str)
    basis = grounds(context.spec.project, "fire_door/strike_cut_on_site")
    if known(opening, "preparation", str) != "job_site":
        yield ok(f"cut by {opening.preparation}", opening.at("preparation"), basis=basis)
        return
    for item in pockets:
        yield _pocket(item, opening, basis)
    if opening.job_site_hole is not None or not pockets:
        yield _hole(opening, context)


def _pocket(item: Item, opening: Opening, basis: tuple[Cited, ...]) -> Verdict:
    related = (Related(item.place.key, "it takes a pocket"), Related(opening.at("fire_rating"), "the rating"))
    text = f"the pocket for {item.name} is cut on site in a door rated {opening.fire_rating}"
    return failed(text, opening.at("preparation"), related=related, basis=basis)


def _hole(opening: Opening, context: Context) -> Verdict:
    hole = known(opening, "job_site_hole", Quantity)
    limit = codes.lookup(context.spec.project, "fire_doors", "fire_door/job_site_hole")
    at = opening.at("job_site_hole")
    step = Step("hole", "as stated", Measure(hole.value, "length"), (Term("job_site_hole", hole.text, at),))
    verdict = limit.verdict("hole drilled on site", hole, at, working=(step,))
    if verdict.kind is Kind.REVIEW:
        return replace(verdict, measured=None, limit=None, relation="")
    return verdict
