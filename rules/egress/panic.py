"""Where panic hardware is required, and which devices are panic hardware. No rule stands here."""

from __future__ import annotations

from doorlint import codes
from doorlint.spec import Item, known

from .lists import Case, group_of, kind_of, occupancy_of

DEVICES = ("exit_device", "latch_retraction_exit_device", "delayed_egress_device")
LABELS = ("panic", "fire_exit")


def wants_panic_hardware(case: Case) -> bool:
    """Whether an adopted code wants panic hardware at this occupancy and load. Raises Undecided."""
    group = group_of(case)
    found, gaps = codes.settings(case.project, "panic_hardware/load", group=group)
    if all(setting.value is None for setting in found):  # the group never brings it on, whatever the load
        if gaps:
            raise gaps[0]
        return False
    load = known(occupancy_of(case), "load", int)
    if any(setting.value is not None and setting.triggers(load) for setting in found):
        return True
    if gaps:
        raise gaps[0]
    return False


def panic_devices(case: Case) -> tuple[Item, ...]:
    """The exit devices of the opening."""
    return case.of_kind(*DEVICES)


def has_panic_hardware(case: Case) -> bool:
    """Whether a device of the opening is labelled as panic or fire exit hardware."""
    return any(item.sheet is not None and item.sheet.label in LABELS for item in panic_devices(case))


def with_latch_or_lock(case: Case) -> tuple[Item, ...]:
    """The devices that latch or lock the leaf."""
    return tuple(item for item in case.opening.items.values() if kind_of(item) in LATCHING)


LATCHING = (
    *DEVICES,
    "mechanical_lock",
    "electric_strike",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "electrified_exit_trim",
    "electric_bolt",
    "motor_lock",
    "gate_lock",
    "electromagnetic_lock",
    "shear_lock",
)
