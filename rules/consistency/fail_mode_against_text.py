"""The fail mode in words against the fail mode of the locks."""

from __future__ import annotations

import re
from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..failure.doors import has_lock
from .texts import claims

FAIL_MODE = re.compile(r"\bfail[- ]?(?P<mode>safe|secure)\b", re.IGNORECASE)

RULE = Rule(
    "consistency/fail-mode-against-text",
    title="What the text says about the fail mode is not so in the data",
    level=Level.WARNING,
    over=Opening,
    applies=has_lock,
    scope="openings with an electric lock",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The set says fail-safe, the strike is fail-secure, and the fitter follows the set.",
    cure="Ask which of the two is meant, and correct the other.",
    limits="Only plain English words in titles, notes and sequences are understood.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    found = claims(opening, context, FAIL_MODE)
    if not found:
        yield not_applicable("no text speaks of a fail mode")
        return
    door = context.door(opening)
    modes = {lock.name: door.fail_mode(lock) for lock in door.locks}
    related = tuple(
        Related(lock.place.key, f"{lock.name}: {modes[lock.name] or 'not known'}") for lock in door.locks[:3]
    )
    for claim in found:
        meant = claim.match["mode"].lower()
        if meant in modes.values():
            yield ok(f"{claim.words}: so is the lock", claim.place, related=related)
        elif None in modes.values():
            raise door.fail_gap(next(lock for lock in door.locks if modes[lock.name] is None))
        else:
            yield failed(f"the text says {claim.words}, and no lock of {opening.id} is", claim.place, related=related)
