"""The door of a room with large electrical equipment: it opens outward with panic or fire exit hardware."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes, uncounted
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import ElectricalRoom, Leaf, Opening

from .lists import CAUTION, case_of
from .panic import LABELS, panic_devices

OTHER_LOCKS = ("mechanical_lock", "electric_bolt", "electromagnetic_lock", "shear_lock", "motor_lock")

RULE = Rule(
    "egress/electrical-room-door",
    title="The door of an electrical room swings in or has no panic hardware",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: opening.electrical_room is not None,
    scope="openings of electrical rooms",
    basis=(
        Cited("NFPA 70", "2011 to 2023", "110.26(C)(3)", "personnel doors"),
        Cited("International Building Code", "2015 to 2024", "panic and fire exit hardware", "clause by edition"),
    ),
    evidence=("rated current", "distance to the working space", "swing", "exit hardware"),
    why="After an arc flash people are burned and blind: they push, and the door has to open away from them.",
    cure="Hang the leaf to swing out and fit listed panic hardware, fire exit hardware where the door is rated.",
    limits="The width of the equipment, rooms above 1000 V, vaults and battery rooms have clauses of their own. "
    + CAUTION,
    life_safety=True,
    incomplete=uncounted.devices,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    room = known(opening, "electrical_room", ElectricalRoom)
    case = case_of(opening, context)
    current = known(room, "current", Quantity)
    triggers, gaps = codes.settings(case.project, "electrical_room/current")
    hit = [setting for setting in triggers if setting.triggers(current)]
    if not hit:
        if gaps:
            raise gaps[0]
        layers = " and ".join(setting.layer for setting in triggers)
        yield not_applicable(f"{current.text} brings nothing on by {layers}", room.at("current"))
        return
    if "electrical" in case.project.codes:
        near = codes.lookup(case.project, "electrical", "electrical_room/distance")
        distance = known(room, "distance", Quantity)
        if all(setting.edition == near.edition for setting in hit) and not near.triggers(distance):
            yield not_applicable(f"the door is {distance.text} from the working space", room.at("distance"))
            return
    basis = tuple(setting.basis for setting in hit)
    cause = Related(room.at("current"), f"{current.text} of rated current")
    leaf = known(opening, "leaf", Leaf)
    swing = known(leaf, "swing", str)
    if swing == "out":
        yield ok("the leaf swings out", leaf.at("swing"), basis=basis)
    else:
        yield failed(
            f"the leaf swings {swing}, out of the room is required", leaf.at("swing"), related=(cause,), basis=basis
        )
    devices = panic_devices(case)
    labelled = [item for item in devices if item.sheet is not None and known(item.sheet, "label", str) in LABELS]
    if labelled:
        yield ok(f"{labelled[0].name} is listed exit hardware", labelled[0].at("product"), basis=basis)
        for other in case.of_kind(*OTHER_LOCKS):
            text = f"{other.name} locks the leaf beside {labelled[0].name}: the bar alone no longer opens it"
            yield failed(text, other.place.key, related=(cause,), basis=basis)
    else:
        case.insist_on_devices()
        at = devices[0].at("product") if devices else opening.place.key
        yield failed("no listed panic or fire exit hardware", at, related=(cause,), basis=basis)
