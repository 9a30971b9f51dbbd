"""A battery that keeps fail-safe locks locked when the mains fail: whether the code allows it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.supplies import fail_mode, is_lock
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, not_applicable, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, PowerSource

RULE = Rule(
    "battery/holds-fail-safe-lock",
    title="A battery keeps fail-safe locks locked when the mains fail",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind == "power_supply",
    scope="power supplies",
    basis=(
        Cited(
            "NFPA 72",
            "2007 and 2010",
            "6.16.7.3 and 6.16.7.4 (2007), 21.9.3 (2010)",
            "batteries of a fire alarm system hold egress doors locked for at most 10 minutes after the primary power "
            "is lost; a supply of the locks themselves is another matter",
        ),
    ),
    evidence=("fail-safe locks on the supply", "what goes on without mains"),
    why="Where a code lets people rely on 'unlocks on loss of power', a battery takes that way away for hours.",
    cure="Record with the authority whether the locks may stay locked on battery, and how they release meanwhile.",
    limits="Whether a door is an egress door under such an arrangement is decided by the code adopted.",
    life_safety=True,
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    locks = [feed for feed in supplies.feeds(source) if is_lock(feed) and fail_mode(feed.item) == "safe"]
    if not locks:
        yield not_applicable(f"no fail-safe lock hangs on the outputs of {source.id}")
        return
    backed = [
        s for s in (source, *supplies.feeders(source)) if s.battery not in (None, UNKNOWN) or s.backup is not None
    ]
    if not backed:
        yield not_applicable(f"nothing keeps {source.id} going when the mains fail: the locks open")
        return
    more = f" and {len(locks) - 1} more" if len(locks) > 1 else ""
    text = (
        f"{backed[0].id} keeps {locks[0].identity}{more} locked without mains: whether that may be, and for how long, "
        "is for the authority having jurisdiction"
    )
    related = tuple(Related(feed.place, f"{feed.identity} is fail-safe") for feed in locks[:3])
    place = backed[0].at("battery" if backed[0].battery is not None else "backup")
    yield to_authority(text, place, related=related)
