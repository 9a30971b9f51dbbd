"""The force to open a leaf against its closer, the seals and a difference of air pressure."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import codes, uncounted
from doorlint.context import Context
from doorlint.mechanics.forces import force_at_hand_n
from doorlint.mechanics.leaves import Moments, closers, described, frame_place, is_inside, is_pressed, moments, pressing
from doorlint.mechanics.sides import leaf_of
from doorlint.outcome import Cited, Kind, Level, Measure, Step, Term, Verdict, not_applicable, undecided
from doorlint.quantity import Quantity, show
from doorlint.rulebook import Rule
from doorlint.spec import Item, Opening, Undecided, known

NO_CLOSER = Moments(Fraction(0), Fraction(0), Term("closer", "none"), stated=True)

RULE = Rule(
    "access/opening-force-high",
    title="The leaf takes more force to open than the codes allow",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "1010.1.3", "door opening force"),
        Cited("ADA Standards for Accessible Design", "2010", "404.2.9", "door and gate opening force"),
        Cited("NFPA 92", "", "door opening force", "moments of closer and pressure", from_memory=True),
        Cited("EN 1154", "1996 with A1:2002", "table 1", "moments by size of closer", from_memory=True),
    ),
    evidence=("moment of the closer", "moment of pressure and seals", "force at the handle", "limit"),
    why="When the smoke fans run, or the closer was set to latch against a stiff seal, weak people cannot get out.",
    cure="Set the closer weaker, relieve the pressure, use softer seals, or drive the leaf by an operator.",
    limits="Friction of the hinges is left out, and so is what the spec does not state of pressure and seals. Of a "
    "closer known only by its size the least and the greatest moment are tried, and what lies between stays open. "
    "Measure the finished door; the adopted codes and the authority having jurisdiction decide.",
    life_safety=True,
    incomplete=uncounted.devices,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = closers(opening)
    told = tuple(closer for closer in found if described(closer, "opening_moment"))
    if not told and not is_pressed(opening) and found:
        sheet = found[0].sheet
        assert sheet is not None
        raise Undecided("closer_size", sheet.at("closer_size"), stated=sheet.closer_size is not None)
    if not told and not is_pressed(opening):
        yield not_applicable("nothing is said to keep the leaf shut: no closer, no seals, no pressure")
        return
    judged: tuple[Item | None, ...] = found if is_pressed(opening) else told
    for closer in judged or (None,):
        yield from _of_leaf(opening, closer, context)


def _of_leaf(opening: Opening, closer: Item | None, context: Context) -> Iterator[Verdict]:
    by = moments(closer, "opening_moment") if closer is not None else NO_CLOSER
    at = closer.at("product") if closer is not None else frame_place(opening)
    rated = known(opening, "fire_rating", str) != "none"
    if not rated and is_inside(opening):
        asked = [("opening_force/interior", "force to open the leaf", True)]
    else:
        asked = [
            ("opening_force/set_in_motion", "force to set the leaf in motion", True),
            ("opening_force/full_open", "force to open the leaf fully", False),
        ]
    if rated and opening.accessible_route is True:
        asked.append(("opening_force/fire_door", "force to open the leaf", True))
    for name, what, shut in asked:
        ends = [_force(opening, by, moment, shut) for moment in (by.low_nm, by.high_nm)]
        low, high = (codes.judge(context.spec.project, name, what, force, at, working=steps) for force, steps in ends)
        if high.kind is not Kind.FAIL or low.kind is Kind.FAIL:
            yield high if high.kind is not Kind.FAIL or by.stated else low
            continue
        assert closer is not None
        assert closer.sheet is not None
        by_size = f"by the size of {closer.name} {low.measured} to {high.measured}, limit {low.limit}"
        text = f"cannot be decided: {what} is {by_size}"
        place = closer.sheet.at("opening_moment")
        yield undecided(text, ("opening_moment",), place, working=(*low.working, *high.working))


def _force(opening: Opening, by: Moments, moment_nm: Fraction, shut: bool) -> tuple[Quantity, tuple[Step, ...]]:
    """The force at the handle; an open leaf has neither pressure nor seals against it."""
    width = known(leaf_of(opening), "width", Quantity)
    pressed = pressing(opening) if shut else None
    total = moment_nm + (pressed.moment_nm if pressed is not None else 0)
    force = force_at_hand_n(total, width.value)
    closer = Step("moment of the closer", "as stated, or by its size", Measure(moment_nm, "torque"), (by.term,))
    term = Term("width", width.text, leaf_of(opening).at("width"))
    last = Step("force at the handle", "moments / (width - 3 in)", Measure(force, "force"), (term,))
    steps = (closer, *((pressed.step,) if pressed is not None else ()), last)
    return Quantity(force, "force", show(force, "force")), steps
