"""The fire rating in words against the data."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..fire.doors import rating
from .texts import claims

RATING = re.compile(
    r"\b(?P<before>[0-9]{2,3})[- ]?min(utes?)?[- ](fire|rated)|"
    r"(fire|rated|rating)[^.;0-9]{0,14}(?P<after>[0-9]{2,3})[- ]?min|"
    r"\b(?P<none>non-rated|unrated|not rated)\b",
    re.IGNORECASE,
)

RULE = Rule(
    "consistency/rating-against-text",
    title="What the text says about the fire rating is not so in the data",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="Sixty minutes on the plan, ninety in the schedule: the wrong door is built.",
    cure="Ask which of the two is meant, and correct the other.",
    limits="Only plain English words in titles, notes and sequences are understood.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = claims(opening, context, RATING)
    if not found:
        yield not_applicable("no text speaks of a fire rating")
        return
    seconds, at = rating(opening), opening.at("fire_rating")
    related = (Related(at, f"fire rating {opening.fire_rating}"),)
    for claim in found:
        minutes = 0 if claim.match["none"] else int(claim.match["before"] or claim.match["after"])
        if minutes * 60 == seconds:
            yield ok(f"{claim.words}: so is the rating", claim.place, related=related)
        else:
            text = f"the text says {claim.words}, and {opening.id} is rated {opening.fire_rating}"
            yield failed(text, claim.place, related=related)
