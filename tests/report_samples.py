"""A small invented spec and rules of our own for it, so that the tests of reports do not hang on the built-in ones.

The rules give every kind of outcome: a failure that a verified repair cures, one that touches life safety, and what is
open, for review, passed and not applicable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from doorlint.outcome import (
    Change,
    Cited,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Verdict,
    at_most,
    failed,
    not_applicable,
    ok,
    to_authority,
)
from doorlint.quantity import Quantity
from doorlint.repair import with_cures
from doorlint.reviewing import Result, review
from doorlint.rulebook import Rule, Rulebook
from doorlint.spec.fields import known
from doorlint.spec.model import Coil, Item, Opening, Product

ROOT = """\
doorlint: 1
# invented for the tests
project: {name: Invented Boathouse}
include: [parts/*.yaml]
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V, current: 4 A, furnished_by: electrician}
openings:
  "114A": {title: Grüße 👋, items: {lock: {product: strike, fed_from: psu}}}
  "115": {items: {lock: {product: strike, fed_from: psu, furnished_by: integrator}, reader: {product: reader}}}
waivers:
  - {rule: coil/current-high, opening: "115", reason: "measured at the [bench](1) {x}", approved_by: P. Invented,
     until: 2099-01-01}
"""
PRODUCTS = """\
doorlint: 1
products:
  strike:
    kind: electric_strike
    furnished_by: hardware supplier
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 900 mA, inductance: unknown, built_in_suppression: none}
  reader: {kind: reader, inputs: {dc: {voltage: 12 V, current: 100 mA}}}
"""

CURRENT_CLAUSE = Cited("IEC 60947-5-1", "2016", "utilization categories", "Invented title", from_memory=True)
LIMIT = Measure(Fraction(3, 4), "current")


def current_high(item: Item, _: Any) -> Iterator[Verdict]:
    sheet = item.sheet
    coil = sheet.coil if isinstance(sheet, Product) else None
    if not isinstance(coil, Coil):
        yield not_applicable("it has no coil")
        return
    current = known(coil, "current", Quantity)
    place = coil.at("current")
    yield at_most(
        "coil current",
        Measure(current.value, "current"),
        LIMIT,
        place,
        related=(Related(item.place.key, "the item {0} [here](1)"),),
        repairs=(
            Repair("a coil of 800 mA", (Change(place, "800 mA"),)),
            Repair("a coil of 700 mA", (Change(place, "700 mA"), Change(coil.place, "3 s", "longest_on"))),
            Repair("another coil", (Change(coil.place, "{supply: dc, voltage: 12 V, current: 0.7 A}"),)),
        ),
    )


def unsafe(opening: Opening, _: Any) -> Iterator[Verdict]:
    if opening.id == "114A" and opening.title != "safe":
        at = opening.at("title")
        yield failed("it does not say safe", at, repairs=(Repair("say safe", (Change(at, "safe"),)),))
    else:
        yield ok("nothing to find")
    yield to_authority("the authority decides", opening.place.key, basis=(Cited("IBC", "2021", "1010.2.13"),))


def energy(item: Item, _: Any) -> Iterator[Verdict]:
    sheet = item.sheet
    coil = sheet.coil if isinstance(sheet, Product) else None
    if not isinstance(coil, Coil):
        yield not_applicable("it has no coil")
        return
    known(coil, "inductance", Quantity)
    known(item, "length", Quantity)
    yield ok("both are known")


def length(item: Item, _: Any) -> Iterator[Verdict]:
    known(item, "length", Quantity)
    yield ok("the length is known")


def module(rule: Rule, check: Callable[[Any, Any], Iterator[Verdict]]) -> Any:
    return SimpleNamespace(RULE=rule, check=check)


PRACTICE = Practice("common practice, no source", physics="contact heating")
RULES = (
    module(
        Rule("coil/current-high", "The coil draws {too} *much*", Level.ERROR, Item, (CURRENT_CLAUSE, PRACTICE),
             why="It gets hot", cure="Another coil", limits="Does not know its age"),
        current_high,
    ),
    module(
        Rule("opening/unsafe", "The opening is not safe", Level.WARNING, Opening, (PRACTICE,), life_safety=True), unsafe
    ),
    module(Rule("coil/energy-unknown", "The coil holds much energy", Level.WARNING, Item, (PRACTICE,)), energy),
    module(Rule("cable/length-unknown", "The cable is long", Level.NOTE, Item, (PRACTICE,)), length),
)  # fmt: skip


def write(folder: Path, root: str = ROOT, products: str = PRODUCTS) -> Path:
    """Lay the spec down in a folder; gives its root file."""
    (folder / "parts").mkdir(parents=True, exist_ok=True)
    (folder / "parts" / "products.yaml").write_text(products, encoding="utf-8")
    (folder / "project.yaml").write_text(root, encoding="utf-8")
    return folder / "project.yaml"


def reviewed(path: Path, modules: tuple[Any, ...] = RULES) -> Result:
    """The review of a spec by the rules above, with its cures verified."""
    return with_cures(review(path, rulebook=Rulebook(tuple(sorted(modules, key=lambda m: str(m.RULE.id))))))
