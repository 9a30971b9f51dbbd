"""Panic or fire exit hardware where the occupancy wants it: on every leaf that latches or locks, and not defeated."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Place, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known
from doorlint.spec.model import Opening

from .lists import CAUTION, SENSORS, Case, case_of, clauses, in_series, kind_of, nobody_leaves, occupancy_of
from .panic import DEVICES, LABELS, panic_devices, wants_panic_hardware, with_latch_or_lock

MAGNETS = ("electromagnetic_lock", "shear_lock")

RULE = Rule(
    "egress/panic-hardware-absent",
    title="Panic hardware is required, and is absent or defeated",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "panic and fire exit hardware", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.7", "panic hardware and fire exit hardware", from_memory=True),
    ),
    evidence=("group", "occupant load", "devices that latch or lock"),
    why="A crowd pushes; a lever in the crowd's belly or a second lock above the bar stays shut.",
    cure="Fit panic hardware (fire exit hardware on a rated door), whose bar releases every other lock of the leaf.",
    limits="Rooms that together reach the limit, balanced doors and the length of the bar are not judged. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.devices,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    case = case_of(opening, context)
    latching = with_latch_or_lock(case)
    if not latching:
        case.insist_on_devices()
        yield not_applicable("no leaf latches or locks: a door to push needs no panic hardware")
        return
    occupancy = occupancy_of(case)
    at = occupancy.at("load")
    group = known(occupancy, "group", str)
    basis = clauses(case.project, "panic_hardware")[0]
    if not wants_panic_hardware(case):
        yield ok(f"group {group} with {occupancy.load} people needs no panic hardware here", at, basis=basis)
        return
    wanted = f"group {group} with {occupancy.load} people needs panic hardware"
    faults = tuple(_faults(case, latching))
    for text, place, related in faults:
        yield failed(f"{wanted}; {text}", place, related=(*related, Related(at, "the occupant load")), basis=basis)
    if not faults:
        yield ok(f"{wanted}, and has it", at, basis=basis)


def _faults(case: Case, latching: tuple[Item, ...]) -> Iterator[tuple[str, Place, tuple[Related, ...]]]:
    devices = panic_devices(case)
    for item in devices:
        if item.sheet is not None and known(item.sheet, "label", str) not in LABELS:
            yield (
                f"{item.name} is not labelled as such",
                item.at("product"),
                (Related(item.sheet.at("label"), "its label"),),
            )
    bars = {item.leaf for item in devices}
    for item in latching:
        kind = kind_of(item)
        if kind in DEVICES or kind == "electrified_exit_trim" or _by_sensor(case, item):
            continue
        if kind in ("electric_strike", "motor_lock", "gate_lock") and devices:
            continue  # the strike holds the bolt of the exit device
        if kind in MAGNETS or kind == "electric_bolt":
            if not in_series(case, item, DEVICES):
                yield f"{item.name} locks the leaf and no exit device releases it", item.place.key, ()
        elif not devices:
            case.insist_on_devices()
            yield f"{item.name} latches the leaf, and there is no exit device", item.place.key, ()
        elif None not in bars and item.leaf is not None and item.leaf not in bars:
            yield f"{item.name} has no exit device on its leaf", item.place.key, ()
        else:
            yield f"{item.name} latches or locks the leaf beside the exit device", item.place.key, ()


def _by_sensor(case: Case, item: Item) -> bool:
    """A magnet that a sensor releases is judged, for panic hardware, by the list of the sensor release."""
    return kind_of(item) in MAGNETS and bool(in_series(case, item, SENSORS))
