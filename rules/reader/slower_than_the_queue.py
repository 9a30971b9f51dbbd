"""Readers against the number of people who come at once."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item, Opening

SECONDS = {"challenge_response": 5, "serial_number": 5, "low_frequency_id": 5, "mobile": 5, "pin": 10, "biometric": 6}

RULE = Rule(
    "reader/slower-than-the-queue",
    title="People come faster than the readers let them in",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.peak_flow is not None,
    scope="openings whose peak flow is stated",
    basis=(
        Practice(
            "a card takes up to 5 s, a biometric feature up to 6 s and a code up to 10 s per person, one "
            "after the other; common practice"
        ),
    ),
    evidence=(
        "time per person",
        "time each takes",
    ),
    why="The queue props the door open every morning.",
    cure="Add a lane or a reader, or take a faster kind of proof at that hour.",
    limits="Times per person are practice; people with things in their hands take longer.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    readers = context.door(opening).readers(inside=False)
    if not readers:
        yield not_applicable("no reader is listed")
        return
    flow, place = known(opening, "peak_flow", int), opening.at("peak_flow")
    if flow == 0:
        yield ok("nobody comes", place)
        return
    factors = opening.factors if isinstance(opening.factors, int) else 1
    slowest = max(_time(reader, factors) for reader in readers)
    available = Measure(Fraction(60 * len(readers), flow), "time")
    terms = (Term("peak_flow", f"{flow} a minute", place), Term("readers", str(len(readers))))
    steps = (
        Step("time per person", "60 s * readers / peak flow", available, terms),
        Step("time taken", "card 5 s, biometric 6 s, code 10 s", Measure(Fraction(slowest), "time")),
    )
    related = tuple(Related(reader.at("product"), reader.name) for reader in readers[:3])
    limit = Measure(Fraction(slowest), "time")
    what = "time there is per person"
    yield at_least(what, available, limit, place, limit_name="time each takes,", related=related, working=steps)


def _time(reader: Item, factors: int) -> int:
    """The time that one person takes, in seconds: the slowest of the credentials taken, or the sum of two of them."""
    if reader.sheet is None:
        raise Undecided("product", reader.at("product"), stated=reader.product is not None)
    words = known(reader.sheet, "credentials", tuple)
    times = sorted((SECONDS.get(word, 10) for word in words), reverse=True)
    return sum(times[:factors])
