"""The commissioning sheet: what is to be measured at each lock and seen in each event, with room for what is found.

Every expected figure comes from the same calculation as the review; what the spec leaves open is open here too, and
then there is nothing to compare a measurement with.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from ..circuit.arrival import volts
from ..circuit.feeds import Feed, ports
from ..circuit.releases import SwitchedCoil
from ..circuit.tolerance import voltage_taken
from ..circuit.voltages import LoadVoltage
from ..context import Context
from ..events.door import LOCK_KINDS, kind_of
from ..outcome import Kind, Outcome
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.fields import UNKNOWN
from ..spec.model import Egress, Item, Opening
from ..spec.read import chosen_coil
from .sequence import states
from .suppression import lets_go
from .tables import BLANK, NONE, Cell, Column, Open, Table, computed, found, number, optional, stated, text, words

LOCKS = (
    Column("opening"), Column("item"), Column("fed by"), Column("expected at new contacts, 20 degC", "V"),
    Column("least expected on mains", "V"), Column("least expected at the end of the battery", "V"),
    Column("takes at least", "V"), Column("voltage enough as computed"), Column("failures in the review"),
    Column("measured on mains", fill=True), Column("measured on battery", fill=True),
    Column("expected to let go after", "s"), Column("measured release", fill=True), Column("holding force", "N"),
    Column("measured force", fill=True), Column("date and signature", fill=True),
)  # fmt: skip
ELECTRONICS = "by its own electronics: see its data sheet"
"""What stands for the release time of a lock that is no plain coil."""

EVENTS = (
    Column("opening"), Column("event"), Column("lock"), Column("latch"), Column("egress"),
    Column("entry without credential"), Column("entry with credential"), Column("reported"),
    Column("found", fill=True), Column("date and signature", fill=True),
)  # fmt: skip
EGRESS = (
    Column("opening"), Column("delay", "s"), Column("measured delay", fill=True), Column("initiation", "s"),
    Column("measured initiation", fill=True), Column("force", "N"), Column("measured force", fill=True),
    Column("armed again"), Column("date and signature", fill=True),
)  # fmt: skip


LONGEST_S = 120
"""A time up to this is one to stop with a watch at the door; longer ones are standby times and fire ratings."""


def _measured(unit: str) -> tuple[Column, ...]:
    return (
        Column("opening"), Column("subject"), Column("what"), Column("expected", unit), Column("must be"),
        Column("limit", unit), Column("verdict"), Column("ground"), Column("rule"), Column("measured", fill=True),
        Column("date and signature", fill=True),
    )  # fmt: skip


def build(result: Result, context: Context) -> tuple[Table, ...]:
    """Voltages, release times and forces of each lock; each opening in each event; forces, torques and times that
    the review compared with a limit; delays of the egress side."""
    openings = tuple(context.spec.openings.values())
    coils = {coil.identity: coil for coil in context.subjects[SwitchedCoil]}
    failures = _failures(result)
    return (
        Table(
            "locks",
            "Voltage, release and force at each lock",
            LOCKS,
            tuple(row for one in openings for row in _locks(one, coils, failures, context)),
            notes=(
                "Measure the voltage at the lock's own terminals with every load of its circuit on, meter range DC "
                "unless its supply is AC.",
                "Least expected: source at its lowest, conductors warm, contacts and splices aged. A new and cold "
                "installation lies above it; below it something is not as specified.",
                "Let go after: the electrical part alone, from the opening contact on. What stays in the iron and the "
                "moving parts come on top.",
                "Force: as the data sheet states it. An opening without electric lock or magnet is not in this table.",
            ),
            cautions=("Measure with people who know how to get the door open again at hand.",),
        ),
        Table(
            "events",
            "Each opening in each event",
            EVENTS,
            tuple(row for one in openings for row in _events(one, context)),
            notes=("Bring about each event at each opening and note what the door did. Lock, latch and entry as met "
                   "from the unsecured side; egress as met from inside.",),
            cautions=("An expected state is what the wiring does, in order or not: read it beside the findings of the "
                      "review.",),
        ),
        _limits(result, "forces", "Forces at the door", "force", "N"),
        _limits(result, "torques", "Torques at the door", "torque", "N m"),
        _limits(result, "times", "Times at the door", "time", "s"),
        Table(
            "egress",
            "Delays and forces on the egress side",
            EGRESS,
            tuple(row for one in openings for row in _egress(one)),
            notes=("Openings whose egress is delayed or held by force, as the spec states it.",),
        ),
    )  # fmt: skip


def _failures(result: Result) -> dict[str, str]:
    """For each item that a failure is about, waived or not, the rules that fail."""
    rules: dict[str, dict[str, None]] = {}
    for outcome in result.outcomes:
        if outcome.kind is Kind.FAIL:
            opening, slash, rest = outcome.subject.partition("/")
            item = f"{opening}/{rest.partition('/')[0].partition('.')[0]}" if slash else opening
            rules.setdefault(item, {})[outcome.rule + (" (waived)" if outcome.waived else "")] = None
    return {subject: ", ".join(found) for subject, found in rules.items()}


def _locks(
    one: Opening, coils: Mapping[str, SwitchedCoil], failures: Mapping[str, str], context: Context
) -> Iterator[tuple[Cell, ...]]:
    """One row for each feed of what locks or holds: coils, and locks with electronics of their own."""
    for item in one.items.values():
        feeds = context.wiring.by_item.get(item.identity, ())
        locks = kind_of(item) in LOCK_KINDS
        failed = failures.get(item.identity, NONE)
        for feed in feeds:
            over_poe = "poe" in (feed.supply, feed.terminal.supply)  # a coil at a port is judged by power too
            if over_poe and locks:
                yield _without_line(item, words(feed.terminal.identity), "fed over PoE: see the port list", failed)
            elif not over_poe and (feed.coil is not None or locks):
                coil = coils.get(item.identity) if feed.coil is not None else None
                yield _lock(feed, coil, failed, context)
        if not feeds and ports(item) and (locks or chosen_coil(item) is not None):
            gap = Open(("fed_from",))
            yield _without_line(item, gap, gap, failed)


def _without_line(item: Item, origin: Cell, said: Cell, failed: str) -> tuple[Cell, ...]:
    """The row of a lock whose voltage cannot be computed, with what is said in place of it."""
    return (
        text(item.opening, "opening"), text(item.name, "item"), origin, said, said, said, said, said, failed, BLANK,
        BLANK,         said if isinstance(said, Open) else ELECTRONICS, BLANK, _force(item), BLANK, BLANK,
    )  # fmt: skip


def _lock(feed: Feed, coil: SwitchedCoil | None, failed: str, context: Context) -> tuple[Cell, ...]:
    item = feed.item
    voltages = context.voltages
    return (
        text(item.opening, "opening"),
        text(item.name, "item"),
        words(feed.terminal.identity),
        _volts(lambda: voltages.steady(feed), lambda at: at.nominal_v),
        _volts(lambda: voltages.steady(feed), lambda at: at.worst_v),
        _volts(lambda: voltages.on_battery(feed), lambda at: at.worst_v),
        computed(lambda: _taken(feed, context), "voltage", "V"),
        found(lambda: _enough(feed, context)),
        failed,
        BLANK,
        BLANK,
        lets_go(coil) if coil is not None else ELECTRONICS,
        BLANK,
        _force(item),
        BLANK,
        BLANK,
    )


def _volts(solved: Callable[[], LoadVoltage | None], of: Callable[[LoadVoltage], float | None]) -> Cell:
    """A voltage of a solved circuit: `none` where the state does not exist, in words where nothing holds."""

    def cell() -> Cell:
        state = solved()
        if state is None:
            return NONE
        value = of(state)
        return "no voltage holds" if value is None else number(value, "voltage", "V")

    return found(cell)


def _taken(feed: Feed, context: Context) -> float:
    return float(voltage_taken(feed.load, context.spec.practice)[0].low)


def _enough(feed: Feed, context: Context) -> Cell:
    """Whether what is least expected, on mains and at the end of the battery, is what the lock takes at least."""
    taken = voltage_taken(feed.load, context.spec.practice)[0].low
    states = (context.voltages.steady(feed), context.voltages.on_battery(feed))
    least = [state.worst_v for state in states if state is not None]
    # rounded as the rule that judges it does
    return "yes" if all(volt is not None and volts(volt).value >= taken for volt in least) else "NO: see the review"


def _force(item: Item) -> Cell:
    """The holding force; asked for where the item holds by a magnet alone."""
    sheet = item.sheet
    if sheet is None:
        return Open(("product",))
    magnet = sheet.kind in ("electromagnetic_lock", "shear_lock", "hold_open_magnet") or sheet.mechanism == "magnet"
    if sheet.holding_force is None and not magnet:
        return NONE
    return stated(sheet, "holding_force", "force", "N")


def _limits(result: Result, key: str, title: str, dimension: str, unit: str) -> Table:
    """What the review compared with a limit and can be measured at a door; open where it could not."""
    order = {name: index for index, name in enumerate(_openings(result))}
    judged = [o for o in result.outcomes if o.subject.partition("/")[0] in order]
    judged.sort(key=lambda o: order[o.subject.partition("/")[0]])
    rules = {o.rule for o in judged if _is_measured(o, dimension)}
    rows = []
    for outcome in judged:
        opening = outcome.subject.partition("/")[0]
        if _is_measured(outcome, dimension) and outcome.measured is not None and outcome.limit is not None:
            figures: tuple[Cell, ...] = (
                number(outcome.measured.value, dimension, unit), outcome.relation or "as",
                number(outcome.limit.value, dimension, unit),
            )  # fmt: skip
            what = outcome.what.rstrip(",") or outcome.message
        elif outcome.kind is Kind.OPEN and outcome.rule in rules:
            figures = (Open(outcome.missing), "see the rule", "see the rule")
            what = outcome.message
        else:
            continue
        ground = "; ".join(map(str, outcome.basis)) or "see the rule"
        rows.append(
            (words(opening), words(outcome.subject), words(what), *figures,
             f"{outcome.kind.value}{' (waived)' if outcome.waived else ''}", words(ground), outcome.rule, BLANK, BLANK)
        )  # fmt: skip
    return Table(
        key,
        title,
        _measured(unit),
        tuple(dict.fromkeys(rows)),
        notes=("What the review computed and compared with a limit. What it did not compute is not listed: the adopted "
               "codes may ask for more.",),
    )  # fmt: skip


def _openings(result: Result) -> Mapping[str, Opening]:
    return result.spec.openings if result.spec is not None else {}


def _is_measured(outcome: Outcome, dimension: str) -> bool:
    measured, limit = outcome.measured, outcome.limit
    if measured is None or limit is None or measured.dimension != dimension or limit.dimension != dimension:
        return False
    return dimension != "time" or limit.value <= LONGEST_S


def _events(one: Opening, context: Context) -> Iterator[tuple[Cell, ...]]:
    for row in context.matrix(one).rows:
        reported = words("; ".join(row.alarms)) if row.alarms else "nothing"
        yield text(one.id, "id"), row.event.title, *states(row), reported, BLANK, BLANK


def _egress(one: Opening) -> Iterator[tuple[Cell, ...]]:
    egress = one.egress
    if egress is UNKNOWN:
        gap = Open(("egress",))
        yield text(one.id, "id"), gap, BLANK, gap, BLANK, gap, BLANK, gap, BLANK
        return
    if not isinstance(egress, Egress):
        return
    if egress.delay is None and egress.initiation is None and egress.force is None:
        return

    def of(name: str, dimension: str, unit: str) -> Cell:
        # a delay takes an initiation time and a force to be commissioned; alone each may be meant alone
        lacks = getattr(egress, name) is None and not isinstance(egress.delay, Quantity)
        return NONE if lacks else stated(egress, name, dimension, unit)

    yield (
        text(one.id, "id"),
        of("delay", "time", "s"),
        BLANK,
        of("initiation", "time", "s"),
        BLANK,
        of("force", "force", "N"),
        BLANK,
        optional(egress.rearm),
        BLANK,
    )
