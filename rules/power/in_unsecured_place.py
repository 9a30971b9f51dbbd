"""Where a source stands: whether somebody outside can reach it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "power/in-unsecured-place",
    title="A source of the doors stands where anybody can reach it",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind not in ("mains", "generator"),
    scope="supplies, UPS, PoE switches and injectors",
    basis=(
        Practice("what feeds the doors of a secured area stands inside it, locked, and can be reached for service"),
    ),
    evidence=("location",),
    why="Who pulls the plug above the ceiling tile of a public corridor opens every fail-safe door on it.",
    cure="Move it to a locked room or cabinet on the secured side.",
    limits="Whether it can be reached for service is not in the spec.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    fed = context.supplies.reached(source)
    if not fed:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"nothing is fed from {source.id}")
        return
    if known(source, "location", str) == "secured":
        yield ok(f"{source.id} stands in a secured place", source.at("location"))
        return
    related = tuple(Related(feed.place, f"{feed.identity} hangs on it") for feed in fed[:3])
    text = f"{source.id} stands in an unsecured place and feeds {_named(fed[0].identity, len(fed))}"
    yield failed(text, source.at("location"), related=related)


def _named(first: str, count: int) -> str:
    return first if count == 1 else f"{first} and {count - 1} more"
