"""High security with one kind of proof alone."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

FACTORS = {
    "challenge_response": "has",
    "serial_number": "has",
    "low_frequency_id": "has",
    "mobile": "has",
    "pin": "knows",
    "biometric": "is",
}
"""What each credential proves: something that a person has, knows or is."""

RULE = Rule(
    "reader/one-factor-only",
    title="One kind of proof is enough at an opening of high security",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.security == "high",
    scope="openings of high security",
    basis=(
        Cited("IEC 60839-11-1", "2013", "recognition by grade", "two factors from grade 3", from_memory=True),
        Practice("high security is taken as grade 3"),
    ),
    why="Who finds the card, or watches the code, is in.",
    cure="Ask for two of something that people have, know and are, with readers that take both.",
    limits="Times of day at which one is enough are not in the spec.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    readers = context.door(opening).readers(inside=False)
    if not readers:
        yield not_applicable("no reader is listed")
        return
    asked, at = known(opening, "factors", int), opening.at("factors")
    if asked < 2:
        yield failed(
            "one kind of proof is enough here", at, related=(Related(opening.at("security"), "high security"),)
        )
        return
    kinds: set[str] = set()
    for reader in readers:
        if reader.sheet is not None:
            kinds |= {FACTORS[word] for word in known(reader.sheet, "credentials", tuple) if word in FACTORS}
    related = tuple(Related(reader.at("product"), reader.name) for reader in readers[:3])
    if len(kinds) >= asked:
        yield ok(f"{asked} kinds of proof are asked for, and the readers take {len(kinds)}", at, related=related)
    else:
        yield failed(f"{asked} kinds of proof are asked for, and the readers take {len(kinds)}", at, related=related)
