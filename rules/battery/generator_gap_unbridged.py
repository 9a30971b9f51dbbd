"""The gap until a generator has taken over, and what keeps fail-safe locks locked meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.rest import fail_mode, is_lock
from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import (
    Level,
    Measure,
    Practice,
    Related,
    Step,
    Term,
    Verdict,
    at_least,
    failed,
    not_applicable,
    ok,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Battery, PowerSource, known

BRIDGED_S = Fraction(30)

RULE = Rule(
    "battery/generator-gap-unbridged",
    title="Fail-safe locks drop while the generator takes over",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(
        Practice(
            "a battery or UPS of at least 30 s bridges the time until a generator has taken over",
            physics="a fail-safe lock is released by the loss of its current, and a generator needs time to start",
        ),
    ),
    evidence=("fail-safe locks", "generator", "what bridges the gap"),
    why="Every magnet in the building lets go at each test of the generator.",
    cure="Fit a small battery or a UPS between generator and locks.",
    limits="Where doors are to unlock on loss of power, the gap is wanted: decide with the authority.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    chain = supplies.feeders(source)
    generator = next((s for s in chain if s.kind == "generator"), None)
    if generator is None:
        for one in (source, *chain):
            if one.fed_from is UNKNOWN:
                known(one, "fed_from", str)
        yield not_applicable(f"no generator stands behind {source.id}")
        return
    locks = [feed for feed in supplies.feeds(source) if is_lock(feed) and fail_mode(feed.item) == "safe"]
    if not locks:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no fail-safe lock hangs on the outputs of {source.id}")
        return
    between = (source, *chain[: chain.index(generator)])
    stated = [s for s in between if isinstance(s.backup, Quantity)]
    if not stated and (unknown := next((s for s in between if s.backup is UNKNOWN), None)) is not None:
        known(unknown, "backup", Quantity)
    if stated:
        longest = max(stated, key=lambda s: known(s, "backup", Quantity).value)
        transfer = generator.transfer_time.value if isinstance(generator.transfer_time, Quantity) else Fraction(0)
        if generator.transfer_time is UNKNOWN and known(longest, "backup", Quantity).value >= BRIDGED_S:
            known(generator, "transfer_time", Quantity)
        limit = Measure(max(BRIDGED_S, transfer), "time")
        term = Term("transfer time", str(Measure(transfer, "time")), generator.at("transfer_time"))
        yield at_least(
            f"time that {longest.id} bridges",
            Measure(known(longest, "backup", Quantity).value, "time"),
            limit,
            longest.at("backup"),
            limit_name=f"time until {generator.id} has surely taken over",
            working=(Step("time to bridge", "transfer time, 30 s at least", limit, (term,), "practice"),),
        )
        return
    backed = [s for s in between if s.kind == "ups" or isinstance(s.battery, Battery)]
    related = tuple(Related(feed.place, f"{feed.identity} is fail-safe") for feed in locks[:3])
    if backed:
        yield ok(f"the battery of {backed[0].id} bridges the gap of {generator.id}", backed[0].place.key)
        return
    text = f"{locks[0].identity} drops while {generator.id} takes over: no battery stands between it and {source.id}"
    yield failed(text, source.at("fed_from"), related=related)
