"""The battery schedule: what each battery must give and gives, and how long each opening goes on without mains."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..circuit.poe import Autonomy, chain_autonomy
from ..circuit.standby import charge_current
from ..circuit.supplies import FEEDERS, Supplies
from ..context import Context
from ..outcome import Measure
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Battery, Opening, PowerSource
from .tables import NONE, Cell, Column, Open, Table, computed, found, number, stated, text

BATTERIES = (
    Column("source"), Column("chemistry"), Column("voltage", "V"), Column("capacity", "Ah"),
    Column("standby asked for", "h"), Column("capacity needed", "Ah"), Column("enough"),
    Column("goes on without mains", "h"), Column("by"), Column("ends at", "V"), Column("coldest and warmest"),
    Column("share left at end of life", "%"), Column("charging current", "A"), Column("for 80 % in 24 h", "A"),
)  # fmt: skip
OPENINGS = (Column("opening"), Column("goes on without mains", "h"), Column("source that stops first"))


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each source with standby, and one for each opening that needs power."""
    sources = [
        source
        for source in context.spec.power.values()
        if source.battery is not None or source.backup is not None or source.required_backup is not None
    ]
    return (
        Table(
            "batteries",
            "Batteries and standby",
            BATTERIES,
            tuple(_battery(source, context.supplies) for source in sources),
            notes=(
                "Capacity needed: at rest for the time asked for, with ageing, cold, rate and end voltage; the figure "
                "of the worst case.",
            ),
        ),
        Table(
            "openings",
            "Time without mains, by opening",
            OPENINGS,
            tuple(_openings(context)),
            notes=("The time of the source that stops first among those that the opening's devices live on.",),
        ),
    )


def _battery(source: PowerSource, supplies: Supplies) -> tuple[Cell, ...]:
    battery = source.battery
    part = battery if isinstance(battery, Battery) else None
    lacking: Cell = Open(("battery",)) if battery is UNKNOWN else NONE

    def of(name: str, dimension: str, unit: str) -> Cell:
        return lacking if part is None else stated(part, name, dimension, unit)

    return (
        text(source.id, "id"),
        lacking if part is None else text(part.chemistry, "chemistry"),
        of("voltage", "voltage", "V"),
        of("capacity", "charge", "Ah"),
        found(lambda: number(supplies.standby(source)[0], "time", "h")) if part is not None else _asked(source),
        lacking if part is None else _needed(source, supplies),
        found(lambda: _enough(source, supplies)),
        computed(lambda: _lasts(source, supplies), "time", "h"),
        found(lambda: text(supplies.autonomy(source).why, "backup")),
        of("end_voltage", "voltage", "V"),
        lacking if part is None else text(part.temperature, "temperature"),
        lacking if part is None else NONE if part.ageing is None else stated(part, "ageing", "ratio", "%"),
        of("charge_current", "current", "A"),
        lacking if part is None else computed(lambda: charge_current(part)[0], "current", "A"),
    )


def _asked(source: PowerSource) -> Cell:
    return NONE if source.required_backup is None else stated(source, "required_backup", "time", "h")


def _computes(source: PowerSource) -> bool:
    """Whether the capacity is computed from the loads: a UPS or switch without efficiency states its time itself."""
    return source.kind in FEEDERS and (source.kind == "power_supply" or source.efficiency is not None)


def _needed(source: PowerSource, supplies: Supplies) -> Cell:
    if not _computes(source):
        return "not computed: the time that it states counts"
    if not supplies.carries(source):
        return "nothing is fed from it"

    def most() -> Fraction:
        duration, at = supplies.standby(source)
        need = supplies.need(source, duration, at)
        if need.most is None:
            raise Undecided(need.doubts[0].name, need.doubts[0].place, stated=False)
        return need.most

    return computed(most, "charge", "Ah")


def _enough(source: PowerSource, supplies: Supplies) -> Cell:
    """Whether it goes on for the time asked for."""
    battery = source.battery
    if battery is UNKNOWN:
        return Open(("battery",))
    if not isinstance(battery, Battery) or not _computes(source) or not supplies.carries(source):
        if source.required_backup is None:
            return "no time is asked for"
        if not isinstance(source.required_backup, Quantity):
            return Open(("required_backup",))
        asked = source.required_backup.value
        return "yes" if supplies.autonomy(source).time_s >= asked else "no"
    duration, at = supplies.standby(source)
    need = supplies.need(source, duration, at)
    covered = need.covered_by(known(battery, "capacity", Quantity).value)
    if covered is None:
        return Open(tuple(dict.fromkeys(doubt.name for doubt in need.doubts)))
    return "yes" if covered else "no"


def _lasts(source: PowerSource, supplies: Supplies) -> Fraction:
    return supplies.autonomy(source).time_s


def _openings(context: Context) -> Iterator[tuple[Cell, ...]]:
    for opening in context.spec.openings.values():
        standby = opening_standby(opening, context)
        if standby is None:
            continue
        if standby.total_s is None:
            least = "" if standby.known_s is None else f", at most {Measure(Fraction(standby.known_s), 'time')}"
            time: Cell = Open((f"backup of {', '.join(standby.unknown)}{least}",))
            yield text(opening.id, "id"), time, text(", ".join(standby.unknown), "source")
        else:
            hours = number(standby.total_s, "time", "h")
            yield text(opening.id, "id"), hours, text(", ".join(standby.weakest), "source")


def opening_standby(opening: Opening, context: Context) -> Autonomy | None:
    """How long an opening's devices go on without mains: the chain of the sources they live on, of several feeds of
    one device that which lasts longest. None where nothing of the opening is fed."""
    times: dict[str, float | None] = {}
    for item in opening.items.values():
        sources = {s.id: s for feed in context.wiring.by_item.get(item.identity, ()) for s in feed.sources}
        own = {name: _time(source, context) for name, source in sources.items()}
        lasting = [time for time in own.values() if time is not None]
        if len(own) > 1 and len(lasting) == len(own):
            best = max(own, key=lambda name: own[name] or 0.0)
            own = {best: own[best]}
        times.update(own)
    return chain_autonomy(times) if times else None


def _time(source: PowerSource, context: Context) -> float | None:
    try:
        return float(context.supplies.autonomy(source).time_s)
    except Undecided:
        return None
