"""A space that is outdoors by its name and interior by its exposure."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Exposure, Opening

OUTDOORS = re.compile(
    r"\b(exterior|outside|outdoors?|street|yard|car park|parking lot|roof|forecourt|garden|slipway|quay)\b", re.I
)

RULE = Rule(
    "consistency/outdoors-called-interior",
    title="A space with an outdoor name is given as interior",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="Indoor readers are chosen for the street side.",
    cure="State the exposure of the side that is outdoors.",
    limits="Only plain English names of outdoor spaces are understood.",
)
ENDS = {"from": "from_", "to": "to"}
"""The two ends of an opening, and the field that names the space there."""


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    outdoors = [end for end, name in ENDS.items() if context.matches(opening, name, OUTDOORS)]
    if not outdoors and opening.exposure is not None:
        for end, name in ENDS.items():
            if context.given_as_unknown(opening, name):
                raise Undecided(end, opening.place.child(end), stated=True)
    if not outdoors or opening.exposure is None:
        yield not_applicable("no space has an outdoor name, or no exposure is stated")
        return
    exposure = known(opening, "exposure", Exposure)
    for end in outdoors:
        side = "secured"
        if exposure.unsecured != exposure.secured:
            towards = known(opening, "unsecured_side", str)
            side = "unsecured" if towards in (end, "both") else "secured"
        word, at = known(exposure, side, str), exposure.at(side)
        related = (Related(opening.place.child(end), "the space"),)
        text = f"{getattr(opening, ENDS[end])!r} is outdoors, and its side is given as {word}"
        yield (failed if word == "interior" else ok)(text, at, related=related)
