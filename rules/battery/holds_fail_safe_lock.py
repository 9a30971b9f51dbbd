"""A battery that keeps fail-safe locks locked when the mains fail: whether the code allows it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.rest import fail_mode, is_lock
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Related, Verdict, at_most, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, PowerSource, known

LONGEST_HELD_S = Fraction(10 * 60)

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
    evidence=("fail-safe locks on the supply", "time that they are held without mains", "10 minutes", "margin"),
    why="Where a code lets people rely on 'unlocks on loss of power', a battery takes that way away for hours.",
    cure="Record with the authority whether the locks may stay locked on battery, and how they release meanwhile.",
    limits="Whether a door is an egress door under such an arrangement is decided by the code adopted. A supply of the "
    "locks themselves passes here; the codes of the egress arrangement are rules of their own.",
    life_safety=True,
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    locks = [feed for feed in supplies.feeds(source) if is_lock(feed) and fail_mode(feed.item) == "safe"]
    if not locks:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no fail-safe lock hangs on the outputs of {source.id}")
        return
    backed = [
        s for s in (source, *supplies.feeders(source)) if s.battery not in (None, UNKNOWN) or s.backup is not None
    ]
    if not backed:
        yield not_applicable(f"nothing keeps {source.id} going when the mains fail: the locks open")
        return
    owner = next((s for s in (source, *supplies.feeders(source)) if s.fire_alarm_system is not None), None)
    related = tuple(Related(feed.place, f"{feed.identity} is fail-safe") for feed in locks[:3])
    place = backed[0].at("battery" if backed[0].battery is not None else "backup")
    if owner is not None and known(owner, "fire_alarm_system", bool):
        found = supplies.autonomy(source)
        yield at_most(
            f"time that {owner.id} of the fire alarm system holds {locks[0].identity} locked without mains",
            Measure(found.time_s, "time"),
            Measure(LONGEST_HELD_S, "time"),
            place,
            limit_name="time that it may",
            related=related,
            working=(found.step,),
        )
        return
    if owner is not None:
        text = (
            f"{backed[0].id} is no supply of the fire alarm system, so the limit for its batteries does not concern it"
        )
        yield ok(text, owner.at("fire_alarm_system"), related=related)
        return
    more = f" and {len(locks) - 1} more" if len(locks) > 1 else ""
    text = (
        f"{backed[0].id} keeps {locks[0].identity}{more} locked without mains: whether that may be, and for how long, "
        "is for the authority having jurisdiction"
    )
    yield to_authority(text, place, related=related)
