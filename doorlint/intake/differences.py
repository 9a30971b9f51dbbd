"""A spec compared with its building model: each difference one finding with both places.

Neither side is taken as right. What only one side states is open, never in order; a door that stands on one side only
is a finding. Names of properties are those of ISO 16739-1 (IFC).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from ..house import NONE, Settings
from ..model_rules import MODEL_RULES
from ..outcome import Kind, Outcome, Place
from ..spec.fields import UNKNOWN, Part
from ..spec.model import Opening, Spec
from .models import Door, Model, length
from .ratings import read_rating

_ROUNDING = Fraction(2, 1000)  # m: 36 in is drawn as 914, 914.4 or 915 mm; common practice, no source
_FRAME_WIDTH = Fraction(130, 1000)  # m: both jambs of a usual frame; common practice, no source
_FRAME_HEIGHT = Fraction(90, 1000)  # m: head and gap at the floor; common practice, no source
_CLOSING = frozenset({"closer", "swing_operator", "sliding_operator"})
_OPERATORS = frozenset({"swing_operator", "sliding_operator"})


@dataclass(frozen=True, slots=True)
class ModelPlace:
    """A place in a model: file, line counted from 1, number of the instance (`#123`), and the door's GlobalId.
    `name`: the attribute or property, "" for the door as a whole."""

    file: str
    line: int
    instance: int
    global_id: str
    name: str = ""

    def __str__(self) -> str:
        return f"#{self.instance}" + (f" {self.name}" if self.name else "")


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing compared. `outcome`: kind, message and place in the spec. `model`: the place in the model, None where
    the door is not there. `spec_says`, `model_says`: "" where a side says nothing."""

    outcome: Outcome
    model: ModelPlace | None
    spec_says: str = ""
    model_says: str = ""


def compare(spec: Spec, model: Model, house: Settings = NONE) -> tuple[Difference, ...]:
    """Everything that both sides could say of the same thing: by opening in the spec's order, then the doors that only
    the model has. Each has kind pass, fail or open; what neither side states is left out, and so is what the house
    standards (`house`) switch off."""
    by_opening: dict[str, list[Door]] = {}
    strangers: list[Door] = []
    for door in model.doors:
        called = next((one for one in (door.opening, door.tag, door.name) if one in spec.openings), None)
        if called is None:
            strangers.append(door)
        else:
            by_opening.setdefault(called, []).append(door)
    found: list[Difference] = []
    for opening in spec.openings.values():
        doors = by_opening.get(opening.id, [])
        if not doors:
            message = f"no door of {model.path} has this tag or name"
            found.append(Difference(_outcome("not-in-model", Kind.FAIL, opening, message, opening.place.key), None))
        if len(doors) > 1:
            where = ", ".join(door.place for door in doors)
            message = f"{len(doors)} doors of the model are called so: {where}; each is compared"
            out = _outcome("called-alike", Kind.FAIL, opening, message, opening.place.key)
            found.append(Difference(out, _at(model, doors[1])))
        for door in doors:
            for judge in _JUDGES:
                found.extend(judge(_Pair(opening, door, model)))
    found.extend(_stranger(spec, model, door) for door in strangers)
    return tuple(_by_house(one, house) for one in found if one.outcome.rule not in house.models_off)


def _by_house(one: Difference, house: Settings) -> Difference:
    level = house.level(MODEL_RULES[one.outcome.rule])
    return one if level is one.outcome.level else replace(one, outcome=replace(one.outcome, level=level))


@dataclass(frozen=True, slots=True)
class _Pair:
    opening: Opening
    door: Door
    model: Model

    def said(self, rule: str, kind: Kind, message: str, at: Place, name: str, spec: str, model: str) -> Difference:
        outcome = _outcome(rule, kind, self.opening, message, at)
        return Difference(outcome, _at(self.model, self.door, name), spec, model)

    def flags(
        self, rule: str, name: str, key: str, spec: bool | None, at: Place, told: Mapping[bool, str]
    ) -> Iterator[Difference]:
        """A yes-or-no property on both sides. `told`: how the spec says yes and no."""
        said = self.door.flag(name)
        if spec is None and said is None:
            return
        ours = "" if spec is None else told[spec]
        theirs = "" if said is None else "true" if said else "false"
        if spec is None:
            kind, text = Kind.OPEN, f"the spec does not tell ({key}); the model says {name} {theirs}"
        elif said is None:
            kind, text = Kind.OPEN, f"the spec says {ours}; the model does not state {name}"
        else:
            kind = Kind.PASS if spec is said else Kind.FAIL
            text = f"the spec says {ours}; the model says {name} {theirs}"
        yield self.said(rule, kind, text, at, name, ours, theirs)


def _outcome(rule: str, kind: Kind, opening: Opening, message: str, at: Place) -> Outcome:
    declared = MODEL_RULES[f"model/{rule}"]
    return Outcome(declared.id, kind, declared.level, opening.id, message, at, basis=declared.basis)


def _at(model: Model, door: Door, name: str = "") -> ModelPlace:
    return ModelPlace(model.path, door.line, door.instance, door.global_id, name)


def _stranger(spec: Spec, model: Model, door: Door) -> Difference:
    declared = MODEL_RULES["model/not-in-spec"]
    says = ", ".join(filter(None, (door.name, " / ".join(door.spaces), door.storey)))
    message = f"the door {door.place} of the model is not in the spec" + (f" ({says})" if says else "")
    place = Place(spec.root, "")
    outcome = Outcome(declared.id, Kind.FAIL, declared.level, door.opening, message, place, basis=declared.basis)
    return Difference(outcome, _at(model, door))


def _stated(part: object, name: str) -> object:
    """A field of a part of the spec; None where the part or the field is not stated or `unknown`."""
    value = getattr(part, name) if isinstance(part, Part) else None
    return None if value is UNKNOWN else value


def _leaf_place(opening: Opening, name: str) -> Place:
    return opening.leaf.at(name) if isinstance(opening.leaf, Part) else opening.at("leaf")


# -- what is compared ------------------------------------------------------------------------------


def _fire_rating(pair: _Pair) -> Iterator[Difference]:
    ours, theirs = _stated(pair.opening, "fire_rating"), pair.door.properties.get("FireRating")
    at = pair.opening.at("fire_rating")
    if ours is None and theirs is None:
        return
    spec, model = "" if ours is None else str(ours), "" if theirs is None else theirs.text
    if ours is None:
        kind, text = Kind.OPEN, f"the spec does not state the fire rating; the model says {model}"
    elif theirs is None:
        kind, text = Kind.OPEN, f"the spec says {spec}; the model does not state FireRating"
    else:
        a, b = read_rating(spec), read_rating(model)
        text = f"the spec says {spec}; the model says FireRating {model}"
        if spec.casefold() == model.casefold():
            kind = Kind.PASS
        elif a.minutes is None or b.minutes is None:
            kind, text = Kind.OPEN, f"{text}, and not both can be read as a rating"
        elif a.minutes != b.minutes:
            kind = Kind.FAIL
        elif a.more == b.more:
            kind = Kind.PASS
        elif a.more and b.more:
            kind = Kind.FAIL
        else:
            kind, text = Kind.OPEN, f"{text}: the same minutes, and only one side names a class"
    yield pair.said("fire-rating", kind, text, at, "FireRating", spec, model)


def _size(pair: _Pair) -> Iterator[Difference]:
    count = _stated(pair.opening.leaf, "count")
    leaves = count if isinstance(count, int) else None
    frame = pair.door.lining
    for name, attribute, theirs, usual, linings in (
        ("width", "OverallWidth", pair.door.width, _FRAME_WIDTH, 2),
        ("height", "OverallHeight", pair.door.height, _FRAME_HEIGHT, 1),
    ):
        size = getattr(_stated(pair.opening.leaf, name), "value", None)
        ours = size if isinstance(size, Fraction) else None
        written = str(getattr(_stated(pair.opening.leaf, name), "text", ""))
        at = _leaf_place(pair.opening, name)
        shown = "" if theirs is None else length(theirs, pair.model.imperial)
        if ours is None and theirs is None:
            continue
        if ours is None or theirs is None:
            text = (
                f"the spec does not state the {name} of the leaf; the model says {attribute} {shown}"
                if ours is None
                else f"the spec says {name} {written}; the model does not state {attribute}"
            )
            yield pair.said("size", Kind.OPEN, text, at, attribute, written, shown)
            continue
        told = f"{written} for each of {leaves} leaves" if name == "width" and leaves and leaves > 1 else written
        text = f"the spec says {name} {told}; the model says {attribute} {shown}"
        if name == "width" and leaves is None:
            kind, text = Kind.OPEN, f"{text}, and the spec does not state how many leaves"
        else:
            over = theirs - (ours * leaves if name == "width" and leaves else ours)
            if abs(over) <= _ROUNDING or (frame is not None and abs(over - linings * frame) <= 3 * _ROUNDING):
                kind = Kind.PASS
            elif frame is None and 0 < over <= usual:
                more = length(over, pair.model.imperial)
                kind, text = Kind.OPEN, f"{text}, {more} more, which may be the frame: the model does not tell"
            else:
                kind = Kind.FAIL
        yield pair.said("size", kind, text, at, attribute, written, shown)


def _count(pair: _Pair) -> Iterator[Difference]:
    ours, theirs = _stated(pair.opening.leaf, "count"), pair.door.ways[0]
    if theirs is None or pair.door.operation is None:
        return  # the size tells of a door whose leaves the model does not count
    text = f"the model says {pair.door.operation.text}, {theirs} {'leaf' if theirs == 1 else 'leaves'}"
    kind = Kind.OPEN if ours is None else Kind.PASS if ours == theirs else Kind.FAIL
    spec = "" if ours is None else str(ours)
    text = f"the spec says {spec}; {text}" if spec else f"the spec does not state how many leaves; {text}"
    at = _leaf_place(pair.opening, "count")
    yield pair.said("leaf-count", kind, text, at, "OperationType", spec, pair.door.operation.text)


def _hand(pair: _Pair) -> Iterator[Difference]:
    hand, swing = _stated(pair.opening.leaf, "hand"), _stated(pair.opening.leaf, "swing")
    operation = pair.door.operation
    _, hinges, double_acting = pair.door.ways
    spec = ", ".join(f"{key} {value}" for key, value in (("swing", swing), ("hand", hand)) if value is not None)
    model = "" if operation is None else operation.text
    at = _leaf_place(pair.opening, "swing" if swing is not None and hand is None else "hand")
    if operation is None:
        if spec:
            text = f"the spec says {spec}; the model does not state OperationType"
            yield pair.said("hand", Kind.OPEN, text, at, "OperationType", spec, "")
        return
    text = f"the spec says {spec or 'neither hand nor swing'}; the model says {model}"
    if double_acting is not None and swing is not None and double_acting is not (swing == "both"):
        at = _leaf_place(pair.opening, "swing")
        yield pair.said("hand", Kind.FAIL, text, at, "OperationType", spec, model)
        return
    if hinges is None:
        return  # a pair, a sliding or a folding door has no hand that the model could tell
    wanted, lacking = _seen_along_y(pair.opening, hand, swing)
    if wanted is None:
        kind, text = Kind.OPEN, f"{text}; {lacking}"
    else:
        text = f"{text}; seen from the side that the leaf swings away from, the spec's hinges are {wanted}"
        kind = Kind.PASS if wanted == hinges else Kind.FAIL
    yield pair.said("hand", kind, text, at, "OperationType", spec, model)


def _seen_along_y(opening: Opening, hand: object, swing: object) -> tuple[str | None, str]:
    """On which side the spec's hinges are for somebody whom the leaf swings away from, which is how the model tells it;
    else None and what is lacking.

    The spec tells the hand from the unsecured side. Where the leaf swings into the unsecured space, that is the other
    side, and left is right.
    """
    side = _stated(opening, "unsecured_side")
    if hand not in ("left", "right"):
        return None, "the spec does not state the hand"
    if swing not in ("in", "out"):
        return None, "the hand can be compared only where the spec says into which space the leaf swings"
    if side not in ("from", "to"):
        return None, "the hand can be compared only where the spec says which side is the unsecured one"
    into_unsecured = (swing == "out") == (side == "to")
    if not into_unsecured:
        return str(hand), ""
    return ("right" if hand == "left" else "left"), ""


def _external(pair: _Pair) -> Iterator[Difference]:
    exposure = pair.opening.exposure
    sides = [_stated(exposure, name) for name in ("unsecured", "secured")]
    spaces = {str(_stated(pair.opening, name)).casefold() for name in ("from_", "to")}
    at = exposure.at("unsecured") if isinstance(exposure, Part) else pair.opening.at("exposure")
    external: bool | None = None
    if "exposed" in sides or spaces & {"exterior", "outside", "outdoors"}:
        external = True
    elif sides == ["interior", "interior"]:
        external = False
    elif pair.door.flag("IsExternal") is not None and None not in sides:
        # sheltered and wash-down stand for either: under a roof outside, or damp and washed inside
        said = str(pair.door.flag("IsExternal")).lower()
        told = " and ".join(map(str, dict.fromkeys(sides)))
        text = f"the spec says {told}, which may be inside or outside; the model says IsExternal {said}"
        yield pair.said("external", Kind.OPEN, text, at, "IsExternal", told, said)
        return
    told_as = {True: "that one side is outside", False: "interior on both sides"}
    yield from pair.flags("external", "IsExternal", "exposure", external, at, told_as)


def _fire_exit(pair: _Pair) -> Iterator[Difference]:
    side, by = _stated(pair.opening.egress, "side"), _stated(pair.opening.egress, "by")
    at = pair.opening.egress.at("side") if isinstance(pair.opening.egress, Part) else pair.opening.at("egress")
    said = pair.door.flag("FireExit")
    closed = side == "none" or by == "none"
    exit_door = any(_stated(pair.opening, name) is True for name in ("stair_discharge", "main_entrance"))
    told = {True: f"egress side {side}", False: "that nobody leaves through it"}
    way = None if side is None and not closed else not closed
    if way and said is False and not exit_door:
        # people leave through nearly every door; the model speaks of exits alone
        text = f"the spec says {told[True]}; FireExit false of the model says that it is no exit, not that it is shut"
        yield pair.said("fire-exit", Kind.PASS, text, at, "FireExit", str(side), "false")
        return
    yield from pair.flags("fire-exit", "FireExit", "egress.side", way, at, told)


def _simple(rule: str, name: str, key: str) -> Callable[[_Pair], Iterator[Difference]]:
    def judge(pair: _Pair) -> Iterator[Difference]:
        value = _stated(pair.opening, key)
        spec = value if isinstance(value, bool) else None
        yield from pair.flags(rule, name, key, spec, pair.opening.at(key), {True: f"{key} true", False: f"{key} false"})

    return judge


def _fitted(rule: str, name: str, kinds: frozenset[str], what: str) -> Callable[[_Pair], Iterator[Difference]]:
    def judge(pair: _Pair) -> Iterator[Difference]:
        if pair.door.flag(name) is None:
            return  # an item list is no statement on the model
        items = pair.opening.items.values()
        fitted = [item for item in items if item.sheet is not None and item.sheet.kind in kinds]
        unclear = any(item.sheet is None or item.sheet.kind in (None, UNKNOWN) for item in items)
        spec = True if fitted else None if unclear or not items else False
        at = fitted[0].at("product") if fitted else pair.opening.place.key
        told = {True: f"{what} ({fitted[0].name})" if fitted else what, False: f"no {what}"}
        yield from pair.flags(rule, name, "items", spec, at, told)

    return judge


_JUDGES: tuple[Callable[[_Pair], Iterator[Difference]], ...] = (
    _fire_rating,
    _size,
    _count,
    _hand,
    _external,
    _fire_exit,
    _simple("smoke-control", "SmokeStop", "smoke_control"),
    _simple("accessible-route", "HandicapAccessible", "accessible_route"),
    _fitted("self-closing", "SelfClosing", _CLOSING, "closer"),
    _fitted("operator", "HasDrive", _OPERATORS, "operator"),
)

__all__ = ["Difference", "ModelPlace", "compare"]
