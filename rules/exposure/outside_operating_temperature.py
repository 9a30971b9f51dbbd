"""The temperature at a device against the one that it works in."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, at_most, not_applicable
from doorlint.quantity import Band
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import UNKNOWN, Item, Product, Site, Undecided, known
from doorlint.spec.model import Exposure

from .ingress_below_need import exposure_of

SUN = Parameter(
    "sun_gain",
    "rise of temperature by the sun in the open",
    "temperature_difference",
    Fraction(15),
    "higher",
    Practice("15 K above the air of the climate data; common practice, no source"),
)

RULE = Rule(
    "exposure/outside-operating-temperature",
    title="The device stands where it is colder or warmer than it works in",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.temperature is not None,
    scope="devices whose operating temperature is stated",
    basis=(
        Practice(
            "a device is used within the temperature that its sheet states; in the open the sun adds 15 K to the air"
        ),
    ),
    evidence=("temperature at the device", "operating temperature", "margin"),
    why="At minus thirty the latch is stiff and the display blank; behind glass in summer the reader shuts down.",
    cure="Use a device for that range, shade it, or heat its box.",
    parameters=(SUN,),
    limits="Indoors only where the opening states its own `ambient`, which is taken as it is; the climate data of the "
    "site are those of the air in the shade. Self-heating in a closed box comes on top.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    if item.side == "remote" and item.exposure in (None, "interior"):
        yield not_applicable(f"{item.name} stands away from the opening, in a room that the spec does not describe")
        return
    word, where = exposure_of(item, context)
    found = _ambient(item, word, context)
    if found is None:
        yield not_applicable(f"{item.name} is indoors at a door to the open, whose one temperature is that outdoors")
        return
    ambient, term, added = found
    takes = known(item.sheet, "temperature", Band)
    fits = Term("operating temperature", takes.text, item.sheet.at("temperature"))
    warmest, coldest = Measure(ambient.high + added, "temperature"), Measure(ambient.low, "temperature")
    related = (Related(item.sheet.at("temperature"), "the range that it works in"), Related(where, "the exposure"))
    sun = f" + {Measure(added, 'temperature_difference')} of sun" if added else ""
    wrong = warmest.value > takes.high or coldest.value < takes.low
    repairs = tuple(other_products(item, context.spec)) if wrong else ()
    yield at_most(
        f"warmest at {item.name}",
        warmest,
        Measure(takes.high, "temperature"),
        item.at("product"),
        limit_name="highest that it works in,",
        related=related,
        working=(Step("warmest", f"highest of the air{sun}", warmest, (term, fits)),),
        repairs=repairs if warmest.value > takes.high else (),
    )
    yield at_least(
        f"coldest at {item.name}",
        coldest,
        Measure(takes.low, "temperature"),
        item.at("product"),
        limit_name="lowest that it works in,",
        related=related,
        working=(Step("coldest", "lowest of the air", coldest, (term, fits)),),
        repairs=repairs if coldest.value < takes.low else (),
    )


def _ambient(item: Item, word: str, context: Context) -> tuple[Band, Term, Fraction] | None:
    """The temperature at an item, where it was read, and what the sun adds; None indoors at a door to the open, for
    what is stated of such an opening is the temperature outdoors. Raises Undecided where it has to be stated."""
    opening, site = context.opening(item), context.spec.project.site
    if opening.ambient is not None:
        band = known(opening, "ambient", Band)
        return band, Term("ambient", band.text, opening.at("ambient")), Fraction(0)
    if word == "interior":
        exposure = opening.exposure
        if isinstance(exposure, Exposure) and exposure.unsecured == exposure.secured == "interior":
            raise Undecided("ambient", opening.at("ambient"), stated=False)
        return None
    if not isinstance(site, Site):
        raise Undecided("ambient", opening.at("ambient"), stated=site is UNKNOWN)
    band, sun = known(site, "ambient", Band), context.parameter(RULE, "sun_gain")
    return band, Term("ambient of the site", band.text, site.at("ambient")), sun if word == "exposed" else Fraction(0)
