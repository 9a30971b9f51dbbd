"""The voltage in words against the voltages of the devices."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Band
from doorlint.rulebook import Rule
from doorlint.spec import Undecided
from doorlint.spec.model import Inputs, Item, Opening
from doorlint.spec.read import chosen_coil

from ..failure.doors import has_lock, locks_of
from .texts import claims

VOLTAGE = re.compile(r"\b(?P<volts>12|24|48)\s?(V|volts?|VDC|VAC)\b", re.IGNORECASE)

RULE = Rule(
    "consistency/voltage-against-text",
    title="What the text says about the voltage is not so in the data",
    level=Level.WARNING,
    over=Opening,
    applies=has_lock,
    scope="openings with an electric lock",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The riser says 12 V, the sheet 24 V; the supply is ordered by the riser.",
    cure="Ask which of the two is meant, and correct the other.",
    limits="Only plain English words in titles, notes and sequences are understood.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = claims(opening, context, VOLTAGE)
    if not found:
        yield not_applicable("no text speaks of a voltage")
        return
    bands = [(item, band) for item in opening.items.values() for band in _voltages(item)]
    if not bands:
        lock = locks_of(opening)[0]
        raise Undecided("voltage", lock.at("product"), stated=False)
    related = tuple(Related(item.at("product"), f"{item.name}: {band.text}") for item, band in bands[:3])
    for claim in found:
        if any(band.low <= int(claim.match["volts"]) <= band.high for _, band in bands):
            yield ok(f"{claim.words}: a device of {opening.id} takes it", claim.place, related=related)
        else:
            text = f"the text says {claim.words}, and no device of {opening.id} takes or gives it"
            yield failed(text, claim.place, related=related)


def _voltages(item: Item) -> Iterator[Band]:
    sheet = item.sheet
    if sheet is None:
        return
    inputs = sheet.inputs if isinstance(sheet.inputs, Inputs) else None
    parts = (chosen_coil(item), *(getattr(inputs, name, None) for name in ("dc", "ac")), *sheet.outputs.values())
    yield from (band for part in parts if isinstance(band := getattr(part, "voltage", None), Band))
