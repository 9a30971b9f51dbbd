"""How long a PoE source runs without mains, through the chain that feeds it, against what is required."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.poe_cures import quoted, setting
from doorlint.circuit.poe_links import PoeSource
from doorlint.circuit.supplies import Autonomy
from doorlint.context import Context
from doorlint.outcome import (
    Level,
    Measure,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_least,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, PowerSource, Undecided, known

RULE = Rule(
    "poe/standby-below-requirement",
    title="The PoE source stops before the standby time that is required",
    level=Level.ERROR,
    over=PoeSource,
    applies=lambda poe: bool(poe.links),
    scope="sources with devices on them",
    basis=(
        Practice(
            "network power is backed up for as long as the locks that it feeds or commands; a chain stops with its "
            "first link",
            physics="a source without store stops when what feeds it stops",
        ),
    ),
    evidence=("standby of the chain", "standby required", "margin"),
    why="The locks have their battery and nobody can open them: the controllers hang on a switch without one. "
    "Fail-safe locks on the switch open.",
    cure="Feed the source from an uninterruptible supply of that time, or give the door a source with a battery.",
    limits="Of several stores in a chain the longest counts. Whether a battery gives its stated time is judged at the "
    "supply. Where the source states no requirement, that of its chain or of the other supplies at the same openings "
    "counts.",
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source = poe.source
    required, place, whose = required_standby(poe, context)
    found = context.supplies.autonomy(source)
    short = found.time_s < required
    yield at_least(
        f"standby of {source.id}",
        Measure(found.time_s, "time"),
        Measure(required, "time"),
        source.at("fed_from"),
        limit_name="standby required,",
        related=(Related(found.place, found.why), Related(place, f"required of {whose}")),
        working=(_step(source, found, context),),
        repairs=tuple(_repairs(source, required, context)) if short else (),
    )


def required_standby(poe: PoeSource, context: Context) -> tuple[Fraction, Place, str]:
    """The standby asked of a source: its own, that of its chain, or that of other supplies at the same openings.

    Raises Undecided where none is stated.
    """
    source = poe.source
    if source.required_backup is UNKNOWN:
        known(source, "required_backup", Quantity)
    for group in _asked(poe, context):
        stated = [each for each in group if isinstance(each.required_backup, Quantity)]
        if stated:
            most = max(stated, key=_required)
            return _required(most), most.at("required_backup"), most.id
    raise Undecided("required_backup", source.at("required_backup"), stated=False)


def _asked(poe: PoeSource, context: Context) -> Iterator[tuple[PowerSource, ...]]:
    """The sources that may state a requirement for a PoE source: each group counts where none before states one."""
    yield (poe.source,)
    yield context.supplies.feeders(poe.source)
    items = (item for opening in poe.openings for item in context.spec.openings[opening].items.values())
    feeds = (feed for item in items for feed in context.wiring.by_item.get(item.identity, ()))
    yield tuple({source.id: source for feed in feeds for source in feed.sources}.values())


def _required(source: PowerSource) -> Fraction:
    return known(source, "required_backup", Quantity).value


def _step(source: PowerSource, found: Autonomy, context: Context) -> Step:
    chain = " <- ".join([source.id, *(each.id for each in context.supplies.feeders(source))])
    terms = (Term(found.why, str(Measure(found.time_s, "time")), found.place),)
    ground = "a source without a store of its own stops when what feeds it stops"
    return Step(f"standby of {chain}", "longest store in the chain", Measure(found.time_s, "time"), terms, ground)


def _repairs(source: PowerSource, required: Fraction, context: Context) -> Iterator[Repair]:
    feeders = context.supplies.feeders(source)
    for other in context.spec.power.values():
        if other.kind == "ups" and other not in feeders:
            yield Repair(f"feed {source.id} from {other.id}", (setting(source, "fed_from", quoted(other.id)),))
    text = str(Measure(required, "time"))
    for each in feeders:
        if each.kind == "ups" and each.backup is not None:
            yield Repair(f"size {each.id} for {text}", (setting(each, "backup", text),))
