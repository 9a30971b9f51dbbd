"""What a leaf is pressed shut with, as the spec states it: its closers, its seals, and the air."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..outcome import Measure, Place, Step, Term
from ..quantity import Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Exposure, Item, Leaf, Opening, Product
from .forces import CLOSER_SIZES, pressure_moment_nm
from .sides import leaf_of


@dataclass(frozen=True, slots=True)
class Moments:
    """The least and the greatest moment of a closer, N m, with where they are read from. `stated`: it is one figure."""

    low_nm: Fraction
    high_nm: Fraction
    term: Term
    stated: bool


@dataclass(frozen=True, slots=True)
class Pressing:
    """What presses a leaf shut besides its closer: moment about the hinges, N m, and its working."""

    moment_nm: Fraction
    step: Step


def closers(opening: Opening) -> tuple[Item, ...]:
    """The closers of an opening."""
    return tuple(i for i in opening.items.values() if isinstance(i.sheet, Product) and i.sheet.kind == "closer")


def described(closer: Item, moment: str) -> bool:
    """Whether the sheet of a closer says anything of its moment (`opening_moment` or `closing_moment`)."""
    assert isinstance(closer.sheet, Product)
    return closer.sheet.closer_size is not None or getattr(closer.sheet, moment) is not None


def moments(closer: Item, moment: str) -> Moments:
    """The moment of a closer as set, `opening_moment` or `closing_moment`; else the range of its size.

    To open takes at least the least closing moment of the size. Raises Undecided where the sheet states neither.
    """
    sheet = closer.sheet
    assert isinstance(sheet, Product)
    if getattr(sheet, moment) is None and sheet.closer_size is not None:
        size, at = known(sheet, "closer_size", int), sheet.at("closer_size")
        if size not in CLOSER_SIZES:
            raise Undecided(f"{moment} (there is no size {size})", at, stated=False)
        row = CLOSER_SIZES[size]
        low, high = row.closing_nm
        greatest = row.opening_nm if moment == "opening_moment" else high
        return Moments(Fraction(low), Fraction(greatest), Term(f"size of {closer.name}", str(size), at), stated=False)
    value = known(sheet, moment, Quantity)
    term = Term(f"{moment.replace('_', ' ')} of {closer.name}", value.text, sheet.at(moment))
    return Moments(value.value, value.value, term, stated=True)


def is_pressed(opening: Opening) -> bool:
    """Whether the spec says anything of air pressure or seals."""
    seals = opening.leaf.seal_force if isinstance(opening.leaf, Leaf) else None
    return opening.pressure_difference is not None or seals is not None


def pressing(opening: Opening) -> Pressing:
    """The moment of pressure difference and seals; what is not stated counts as none, what is unknown raises."""
    leaf = leaf_of(opening)
    width = known(leaf, "width", Quantity)
    moment, terms = Fraction(0), [Term("width", width.text, leaf.at("width"))]
    if opening.pressure_difference is not None:
        pressure, height = known(opening, "pressure_difference", Quantity), known(leaf, "height", Quantity)
        moment += pressure_moment_nm(pressure.value, width.value, height.value)
        terms += [
            Term("pressure difference", pressure.text, opening.at("pressure_difference")),
            Term("height", height.text, leaf.at("height")),
        ]
    if leaf.seal_force is not None:
        seals = known(leaf, "seal_force", Quantity)
        moment += seals.value * width.value
        terms.append(Term("force of the seals", seals.text, leaf.at("seal_force")))
    formula = "pressure x width^2 x height / 2 + force of the seals x width"
    return Pressing(moment, Step("moment of pressure and seals", formula, Measure(moment, "torque"), tuple(terms)))


def is_inside(opening: Opening) -> bool:
    """Whether both sides of an opening are interior. Raises Undecided where the spec does not say."""
    exposure = opening.exposure
    if not isinstance(exposure, Exposure):
        raise Undecided("exposure", opening.at("exposure"), stated=exposure is UNKNOWN)
    stated = {name: getattr(exposure, name) for name in ("unsecured", "secured")}
    if any(isinstance(word, str) and word != "interior" for word in stated.values()):
        return False
    return all(known(exposure, name, str) == "interior" for name in stated)


def frame_place(opening: Opening) -> Place:
    """Where the leaf stands in the spec, or the opening where it does not."""
    return opening.leaf.place.key if isinstance(opening.leaf, Leaf) else opening.place.key
