"""A fail-safe lock whose holding power comes from PoE alone: what opens it, and what cures it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Change, Level, Place, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Item, PowerSource, Undecided, known

POE_SOURCES = ("poe_switch", "poe_injector")
HOLDERS = (
    "electric_strike",
    "electromagnetic_lock",
    "shear_lock",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "electrified_exit_trim",
    "electric_bolt",
    "motor_lock",
    "gate_lock",
)

RULE = Rule(
    "release/fail-safe-held-by-poe-alone",
    title="A fail-safe lock is held by PoE alone and opens when it drops",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and (feed.item.sheet is None or feed.item.sheet.kind in HOLDERS),
    scope="the coils of locks",
    basis=(
        Practice(
            "a fail-safe lock needs holding power that does not end with a network port: a switch restarts, a patch "
            "cord is pulled, a port is re-configured",
            physics="a fail-safe lock is released by the loss of its current",
        ),
    ),
    evidence=("fail mode", "chain from lock to source", "what opens it"),
    why="Every door of the closet opens when the switch restarts for an update.",
    cure="Feed the lock from a supply with standby, or use a fail-secure lock where people get out without power. "
    "Where the adopted code wants the door to release on loss of power, that still holds: decide with the authority.",
    limits="A second feed counts as a cure only on the way from the lock to its source, not elsewhere in the building.",
    life_safety=True,
)


def fail_mode(item: Item) -> str:
    """How the lock of an item fails: safe, secure or as_is. Raises Undecided where it is not known."""
    if item.sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    mode = known(item.sheet, "fail", str) if item.fail is None else known(item, "fail", str)
    if mode == "selectable":
        raise Undecided("fail", item.at("fail"), stated=False)
    return mode


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item = feed.item
    mode = fail_mode(item)
    assert item.sheet is not None
    if mode != "safe":
        yield ok(
            f"{item.name} is fail-{mode.replace('_', '-')}: it does not open when its power drops", item.at("fail")
        )
        return
    kinds = {known(source, "kind", str) for source in feed.sources}
    if not kinds:
        raise Undecided("fed_from", feed.place, stated=True)
    if not kinds <= set(POE_SOURCES):
        names = ", ".join(s.id for s in feed.sources if s.kind not in POE_SOURCES)
        yield ok(f"{item.name} is fail-safe and is also held from {names}, which is no PoE source", feed.place)
        return
    opens = _what_opens(feed)
    fail_at = item.at("fail") if item.fail is not None else item.sheet.at("fail")
    related = (Related(fail_at, f"{item.name} is fail-safe here"), *_chain(feed))
    text = f"{item.name} is fail-safe and holds on PoE alone; it opens with the loss of {_listed(opens)}"
    yield failed(text, feed.place, related=related, repairs=tuple(_repairs(feed, context)))


def _what_opens(feed: Feed) -> list[str]:
    """The single losses that take the holding power away, from the lock outwards."""
    opens: list[str] = []
    if feed.item.cable is not None:
        opens.append(f"its own cable from {feed.terminal.label}")
    here: Feed = feed
    while here.terminal.upstream:
        owner = here.terminal.owner
        assert isinstance(owner, Item)
        opens.append(f"{owner.name} ({_kind(owner)})")
        upstream = here.terminal.upstream
        if len(upstream) > 1:  # two feeds: neither alone opens the lock
            opens.append("both feeds of " + owner.name)
            return opens
        here = upstream[0]
        source = here.terminal.owner
        label = source.id if isinstance(source, PowerSource) else source.name
        opens.append(f"the cable between {owner.name} and {label}")
    source = here.terminal.owner
    assert isinstance(source, PowerSource)
    port = "its port, the switch" if source.kind == "poe_switch" else "the injector"
    opens.append(f"{port} {source.id} (restart, update, mains)")
    return opens


def _kind(item: Item) -> str:
    kind = item.sheet.kind if item.sheet is not None else None
    return kind.replace("_", "-") if isinstance(kind, str) else "device"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} or {parts[-1]}"


def _chain(feed: Feed) -> Iterator[Related]:
    for terminal in feed.chain:
        place: Place = terminal.owner.place.key
        yield Related(place, f"fed through {terminal.label}")


def _repairs(feed: Feed, context: Context) -> Iterator[Repair]:
    """Every supply of the spec with standby, of which the review keeps those that cure without another finding; then
    fail-secure where the lock can be set so."""
    for source in context.spec.power.values():
        if source.kind == "power_supply" and (source.battery is not None or source.backup is not None):
            yield Repair(
                f"feed {feed.item.name} from {source.id}, which has standby",
                (Change(feed.place, source.id),),
                life_safety=True,
            )
    if feed.item.sheet is not None and feed.item.sheet.fail == "selectable":
        yield Repair(
            f"set {feed.item.name} to fail-secure, if people get out without power",
            (Change(feed.item.at("fail"), "secure"),),
            life_safety=True,
        )
