"""Whether the supply of locks carries a listing that an inspector looks for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.rest import is_lock
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

FOR_ACCESS_CONTROL = ("UL 294", "60839-11")

RULE = Rule(
    "power/supply-not-listed",
    title="The supply of locks is not listed for access control",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind == "power_supply",
    scope="power supplies",
    basis=(
        Cited("UL 294", "edition 6 and later", "scope", "access control system units", from_memory=True),
        Practice("an inspector expects a supply with a listing for its use, not a plug-top adapter"),
    ),
    evidence=("listings of the supply",),
    why="The inspector rejects the supply, and every door on it has to be re-wired.",
    cure="Use a supply listed for access control, or agree another listing with the authority having jurisdiction.",
    limits="Which listing an egress arrangement asks for depends on the code adopted: another one is put to review.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    locks = [feed for feed in context.supplies.reached(source) if is_lock(feed)]
    if not locks:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no lock hangs on {source.id}")
        return
    if source.listings is not None and known(source, "listings", tuple) in ((), ("none",)):
        yield failed(f"{source.id} feeds {locks[0].identity} and has no listing", source.at("listings"))
        return
    listings = known(source, "listings", tuple)
    fitting = [text for text in listings if any(name in text for name in FOR_ACCESS_CONTROL)]
    if fitting:
        yield ok(f"{source.id} is listed to {', '.join(fitting)}", source.at("listings"))
        return
    text = f"{source.id} feeds {locks[0].identity} and is listed to {', '.join(listings)}, not for access control"
    yield to_authority(
        text + ": whether that is enough is for the authority having jurisdiction", source.at("listings")
    )
