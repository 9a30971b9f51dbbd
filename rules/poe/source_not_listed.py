"""Whether a PoE source that powers locks is listed for access control."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_links import PoeSource
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import known

FOR_ACCESS_CONTROL = ("UL 294", "60839-11")

RULE = Rule(
    "poe/source-not-listed",
    title="The PoE source of a lock is not listed for access control",
    level=Level.WARNING,
    over=PoeSource,
    applies=lambda poe: bool(poe.links),
    scope="sources with devices on them",
    basis=(
        Cited("UL 294", "7th edition, 2018", "appendix on power over Ethernet", "from the former UL 294B", True),
        Practice(
            "many arrangements of locked egress ask for listed units, and the authority decides what that takes in"
        ),
    ),
    evidence=("listings of the source", "locks that it powers"),
    why="An office switch behind a listed lock system is refused at the acceptance test.",
    cure="Use a listed switch or injector, or feed the locks from a listed supply; ask the authority early.",
    limits="Whether the arrangement asks for a listed source depends on the adopted code and its authority.",
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source = poe.source
    locks = [feed.identity for feed in poe.coils]
    if not locks:
        yield not_applicable(f"{source.id} powers no lock")
        return
    names = ", ".join(locks[:3]) + (f" and {len(locks) - 3} more" if len(locks) > 3 else "")
    listed = known(source, "listings", tuple)
    fitting = [each for each in listed if any(name in each for name in FOR_ACCESS_CONTROL)]
    at = source.at("listings")
    if fitting:
        yield ok(f"{source.id} powers {names} and is listed to {', '.join(fitting)}", at)
    elif listed in ((), ("none",)):
        yield failed(f"{source.id} powers {names} and has no listing", at)
    else:
        text = f"{source.id} powers {names} and is listed to {', '.join(listed)}, not for access control"
        yield to_authority(f"{text}: whether that is enough is for the authority having jurisdiction", at)
