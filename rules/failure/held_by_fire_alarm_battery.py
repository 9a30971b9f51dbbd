"""A lock that keeps people in, fed by the fire alarm's own supply and so by its battery."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Related, Step, Term, Verdict, not_applicable, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Item, Opening, PowerSource

from ..egress.lists import CAUTION
from .doors import locks_of

RULE = Rule(
    "failure/held-by-fire-alarm-battery",
    title="The battery of the fire alarm keeps people in",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Cited("NFPA 72", "2010 to 2022", "21.9.3", "electrically locked doors", from_memory=True),),
    evidence=("source of the lock", "time without mains", "limit"),
    why="Hours into an outage the alarm's battery still holds the doors, and may be too flat to release them.",
    cure="Feed the lock from a supply of its own that lets go when its power is lost.",
    limits="How soon the panel lets the doors go after loss of mains is taken from its stated standby time. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    door = context.door(opening)
    holding = context.arrangement(opening).holding
    if not holding:
        yield not_applicable("nothing holds people in electrically")
        return
    for lock in holding:
        sources = [source for feed in door.feeds(lock) for source in feed.sources]
        if not sources:
            raise door.feed_gap(lock)
        panel = next((source for source in sources if source.kind == "fire_alarm_panel"), None)
        if panel is None:
            yield ok(f"{lock.name} is fed by {sources[0].id}, not by the fire alarm", lock.at("fed_from"))
            continue
        limit = codes.lookup(context.spec.project, "fire_alarm", "fire_alarm/battery_unlock_time")
        yield _by_panel(lock, panel, limit)


def _by_panel(lock: Item, panel: PowerSource, limit: codes.Setting) -> Verdict:
    related = (Related(panel.place.key, "the fire alarm panel"), limit.related)
    if panel.backup is UNKNOWN:
        known(panel, "backup", Quantity)
    kept = panel.backup
    if not isinstance(kept, Quantity):
        text = f"{lock.name} is fed by {panel.id}: show that it lets go within {limit.text} of the loss of mains"
        return to_authority(f"{text} ({limit.layer})", lock.at("fed_from"), related=related, basis=(limit.basis,))
    terms = (Term("backup", kept.text, panel.at("backup")),)
    step = Step("time locked without mains", "standby time of the panel", Measure(kept.value, "time"), terms)
    what = f"time that {panel.id} keeps {lock.name} locked without mains"
    return limit.verdict(what, kept, lock.at("fed_from"), working=(step,), related=related[:1])
