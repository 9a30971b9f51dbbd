"""A figure of a product that is off by a factor of a thousand."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.fields import Part
from doorlint.spec.model import Coil, Input, Inputs, Product

from .plausible import judge

RULE = Rule(
    "consistency/data-sheet-value-implausible",
    title="A figure of the data sheet is far outside what such products have",
    level=Level.WARNING,
    over=Product,
    basis=(Practice("figures of door hardware lie within a few powers of ten; common practice, no source"),),
    why="A lock of 450 A: every sum after it is wrong, or the check is switched off.",
    cure="Look at the unit on the data sheet.",
    limits="The ranges are wide: a value wrong by less than a factor of ten or so passes. The ranges "
    "stand in a file beside the rule.",
)


def check(product: Product, context: Context) -> Iterator[Verdict]:
    yield from judge("product", product.id, product.place.key, _parts(product), context)


def _parts(product: Product) -> Iterator[tuple[str, Part]]:
    yield "", product
    coils = [product.coil] if isinstance(product.coil, Coil) else []
    inputs = product.inputs if isinstance(product.inputs, Inputs) else None
    listed = [getattr(inputs, name, None) for name in ("dc", "ac", "poe")]
    yield from (("coil", coil) for coil in (*coils, *product.coils.values()))
    yield from (("input", one) for one in listed if isinstance(one, Input))
    yield from (("output", output) for output in product.outputs.values())
    yield from (("contact", contact) for contact in product.contacts.values())
