"""Where the 0 V of a DC supply is earthed: at more than one point, stray currents flow through the doors."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.rest import fail_mode, is_lock
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "power/zero-volt-earthed-twice",
    title="The 0 V side of the supply is earthed at more than one point",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: (
        (source.kind == "power_supply" and source.supply != "ac")
        or (source.kind == "ups" and source.supply in ("dc", "dc_filtered"))
    ),
    scope="power supplies and UPS for direct voltage",
    basis=(
        Practice(
            "0 V is joined to earth at one point, or floats with earth-fault detection; lock bodies are isolated",
            physics="Kirchhoff's laws: two earth points are a second way back, past the contact that opens the circuit",
        ),
    ),
    evidence=("earth points of 0 V", "fail-safe locks on the supply"),
    why="A lock that is switched in its 0 V conductor stays energised through earth and does not let go.",
    cure="Isolate all earth points of 0 V but one, and the frames and screens from 0 V.",
    limits="Asked only for supplies of fail-safe locks: there a stray current keeps a door locked. An earth fault of a "
    "floating supply shows only where it is monitored, which the spec does not say.",
    life_safety=True,
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    locks = [feed for feed in context.supplies.reached(source) if is_lock(feed) and fail_mode(feed.item) == "safe"]
    if not locks and source.earthing is None:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no fail-safe lock hangs on {source.id}")
        return
    earthing = known(source, "earthing", str)
    if earthing != "several_points":
        where = "floats" if earthing == "floating" else "is earthed at one point"
        yield ok(f"0 V of {source.id} {where}", source.at("earthing"))
        return
    text = f"0 V of {source.id} is earthed at several points"
    if locks:
        text += f"; a current through earth can hold {locks[0].identity}"
    related = tuple(Related(feed.place, f"{feed.identity} is fail-safe") for feed in locks[:3])
    yield failed(text, source.at("earthing"), related=related)
