"""How a supply is joined to the mains: whether somebody can unplug it or switch it off in passing."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

from doorlint import uncounted
from doorlint.circuit.rest import is_lock
from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

CUT_BY = MappingProxyType(
    {
        "plug": "pulling its plug",
        "switched_circuit": "the switch of its circuit",
        "shared_circuit": "a fault of anything else on its circuit",
    }
)

RULE = Rule(
    "power/mains-can-be-cut",
    title="The mains of a lock supply can be cut in passing",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(Practice("the supply of locks is wired in on a circuit of its own with a labelled and locked breaker"),),
    evidence=("connection to the mains", "doors that lose their supply"),
    why="The doors are dead after the cleaners have used the receptacle, or when the lights are switched off.",
    cure="Wire the supply in on a dedicated circuit with a locked, labelled breaker.",
    limits="A battery bridges the gap until it is empty; nobody notices before.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    locks = [feed for feed in context.supplies.reached(source) if is_lock(feed)]
    feeder = context.supplies.feeder(source)
    if not locks:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no lock hangs on {source.id}")
        return
    if feeder is not None and feeder.kind not in ("mains", "generator"):
        yield not_applicable(f"{source.id} is fed from {feeder.id}, not from the mains themselves")
        return
    connection = known(source, "connection", str)
    if connection == "dedicated_circuit":
        yield ok(f"{source.id} is wired in on a circuit of its own", source.at("connection"))
        return
    more = f" and {len(locks) - 1} more" if len(locks) > 1 else ""
    text = f"{source.id} loses its mains by {CUT_BY[connection]}; it feeds {locks[0].identity}{more}"
    related = tuple(Related(feed.place, f"{feed.identity} hangs on it") for feed in locks[:3])
    yield failed(text, source.at("connection"), related=related)
