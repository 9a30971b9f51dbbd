"""Doors of a building model: IFC2x3, IFC4 and IFC4.3 (ISO 16739-1), read with ifcopenshell (the extra `ifc`).

Property and attribute names are those of the standard. Nothing is measured from geometry: what a door says of itself,
what its type says (the door's own word comes first), its storey, and the spaces that it bounds.
"""

from __future__ import annotations

import importlib
import math
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from .ratings import Rating, read_rating
from .records import Cell, Intake, IntakeProblem, NotUnderstood, Record, Value

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
LARGEST_MODEL = 1024 * 1024 * 1024
"""In bytes. A model takes several times its size in memory."""
PROPERTY_SET = "Pset_DoorCommon"
FLAGS = ("IsExternal", "FireExit", "HandicapAccessible", "SmokeStop", "SelfClosing", "HasDrive")
LABELS = (
    "Reference",
    "Status",
    "FireRating",
    "AcousticRating",
    "SecurityRating",
    "DurabilityRating",
    "HygrothermalRating",
    "WaterTightnessRating",
    "MechanicalLoadRating",
    "WindLoadRating",
)
NUMBERS = ("Infiltration", "ThermalTransmittance", "GlazingAreaFraction")
QUANTITIES = ("Qto_DoorBaseQuantities", "BaseQuantities")
EXTERIOR = "exterior"

_INCH = Fraction(254, 10_000)
_LEAST, _MOST = Fraction(1, 10), Fraction(30)  # m: no door is smaller or larger; beyond it the unit is wrong
_THINNEST, _THICKEST = Fraction(8, 1000), Fraction(300, 1000)  # m, of a leaf
_END = b"END-ISO-10303-21;"
_LONGEST = 200  # characters of a text of the model that are carried along
_UNSTATED = ("", "UNSET", "NOTKNOWN", "NOTDEFINED", "UNKNOWN")
_YES, _NO = frozenset({"true", ".t.", "t", "yes", "1"}), frozenset({"false", ".f.", "f", "no", "0"})

# Number of leaves, side of the hinges seen along the door's positive y axis (which is the way that a single-acting
# leaf opens), and whether leaves swing both ways: IfcDoorTypeOperationEnum of ISO 16739-1, IfcDoorStyleOperationEnum of
# IFC2x3. None: the word does not tell.
OPERATIONS: Mapping[str, tuple[int | None, str | None, bool | None]] = {
    "SINGLE_SWING_LEFT": (1, "left", False),
    "SINGLE_SWING_RIGHT": (1, "right", False),
    "DOUBLE_SWING_LEFT": (1, "left", True),
    "DOUBLE_SWING_RIGHT": (1, "right", True),
    "DOUBLE_DOOR_SINGLE_SWING": (2, None, False),
    "DOUBLE_DOOR_DOUBLE_SWING": (2, None, True),
    "DOUBLE_DOOR_SINGLE_SWING_OPPOSITE_LEFT": (2, None, None),
    "DOUBLE_DOOR_SINGLE_SWING_OPPOSITE_RIGHT": (2, None, None),
    "SLIDING_TO_LEFT": (1, None, None),
    "SLIDING_TO_RIGHT": (1, None, None),
    "DOUBLE_DOOR_SLIDING": (2, None, None),
}


@dataclass(frozen=True, slots=True)
class Stated:
    """One thing that a door of the model says. `text`: as it stands there. `instance`: the number of the instance that
    says it (`#123`), 0 where it is not known. `own`: by the door itself, not by its type."""

    name: str
    text: str
    instance: int
    own: bool = True

    def __str__(self) -> str:
        return f"#{self.instance} {self.name}" if self.instance else self.name


@dataclass(frozen=True, slots=True)
class Door:
    """One IfcDoor. Lengths in metres, None where the model states none that can be used. `line`: of the file, counted
    from 1. `unreadable`: what of it could not be understood, with the reason."""

    opening: str
    global_id: str
    instance: int
    line: int
    tag: str = ""
    name: str = ""
    width: Fraction | None = None
    height: Fraction | None = None
    thickness: Fraction | None = None
    lining: Fraction | None = None
    operation: Stated | None = None
    properties: Mapping[str, Stated] = field(default_factory=dict)
    spaces: tuple[str, ...] = ()
    storey: str = ""
    type_name: str = ""
    unreadable: tuple[NotUnderstood, ...] = ()

    @property
    def place(self) -> str:
        """Where the door stands in its model."""
        called = ", ".join(dict.fromkeys(filter(None, (self.opening, self.global_id))))
        return f"#{self.instance} ({called})"

    @property
    def ways(self) -> tuple[int | None, str | None, bool | None]:
        """Leaves, hinge side along the positive y axis, double-acting; None each where the model does not tell."""
        return (None, None, None) if self.operation is None else OPERATIONS.get(self.operation.text, (None, None, None))

    def flag(self, name: str) -> bool | None:
        """A yes-or-no property of the door; None where it is not stated or not understood."""
        said = self.properties.get(name)
        word = "" if said is None else said.text.casefold()
        return True if word in _YES else False if word in _NO else None

    def rating(self) -> Rating | None:
        """The fire rating that the label tells; None where there is no label."""
        said = self.properties.get("FireRating")
        return None if said is None else read_rating(said.text)


@dataclass(frozen=True, slots=True)
class Model:
    """The doors of one file, in its order. `schema`: as the file names it. `imperial`: its lengths are feet or inches.
    `notes`: what the user should know of how it was read."""

    path: str
    schema: str
    doors: tuple[Door, ...]
    title: str = ""
    imperial: bool = False
    notes: tuple[str, ...] = ()


def read_model(path: str | Path, progress: Callable[[str, int, int], None] | None = None) -> Intake:
    """What the doors of an IFC file say, as records for a spec. Raises IntakeProblem when the file cannot be read."""
    model = read_doors(path, progress)
    taken = [_record(door, model.imperial) for door in model.doors]
    unclear = tuple(one for _, lacking in taken for one in lacking)
    return Intake(tuple(record for record, _ in taken), unclear, (*model.notes, *_reading_notes(model)), model.title)


def read_doors(path: str | Path, progress: Callable[[str, int, int], None] | None = None) -> Model:
    """The doors of an IFC file. Raises IntakeProblem, in one line, when it cannot be read as a whole: half a model
    would read like a building with fewer doors. What one door lacks is told at the door."""
    source = Path(path)
    _told(progress, "reading the model", 0, 1)
    data = _checked(source)
    file, faults = _opened(source)
    notes = list(faults)
    scale, imperial, unit_note = _length_unit(file)
    notes += [unit_note] if unit_note else []
    lines = _lines(data, {entity.id() for entity in file.by_type("IfcDoor")})
    del data
    doors: list[Door] = []
    entities = sorted(file.by_type("IfcDoor"), key=lambda entity: int(entity.id()))
    for number, entity in enumerate(entities):
        if number % 200 == 0:
            _told(progress, "reading the doors", number, len(entities))
        doors.append(_door(entity, scale, lines))
    if not doors:
        notes.append("the model holds no door (IfcDoor)")
    named, doubled = _distinct(doors)
    notes += doubled
    projects = file.by_type("IfcProject")
    title = "" if not projects else _text(getattr(projects[0], "LongName", None)) or _text(projects[0].Name)
    return Model(str(path), str(file.schema_identifier), tuple(named), title, imperial, tuple(notes))


def _told(progress: Callable[[str, int, int], None] | None, what: str, done: int, of: int) -> None:
    if progress is not None:
        progress(what, done, of)


# -- the file --------------------------------------------------------------------------------------


def _checked(source: Path) -> bytes:
    """The bytes of the file, which begins and ends as an exchange file of ISO 10303-21 does."""
    try:
        if source.is_dir():
            raise IntakeProblem(f"{source}: is a folder; a file in IFC is expected")
        size = source.stat().st_size
        if size > LARGEST_MODEL:
            limit = LARGEST_MODEL // 1024**2
            raise IntakeProblem(
                f"{source}: is larger than {limit} MiB; export the doors, their storeys and spaces alone"
            )
        if not source.is_file():
            raise IntakeProblem(f"{source}: is no regular file; a file in IFC is expected")
        data = source.read_bytes()
    except FileNotFoundError:
        raise IntakeProblem(f"{source}: does not exist") from None
    except PermissionError:
        raise IntakeProblem(f"{source}: may not be read (permission)") from None
    except OSError as error:
        raise IntakeProblem(f"{source}: cannot be read ({(error.strerror or str(error)).lower()})") from None
    except ValueError:
        raise IntakeProblem(f"{str(source)!r}: is no file name") from None
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"PK"):
        raise IntakeProblem(f"{source}: is a packed file; unpack it first, the model inside ends in .ifc")
    if head.startswith(b"<"):
        raise IntakeProblem(f"{source}: is XML; save the model as a plain IFC file (ISO 10303-21), which ends in .ifc")
    if not head.startswith(b"ISO-10303-21"):
        raise IntakeProblem(f"{source}: is no IFC file: it does not begin with ISO-10303-21")
    if _END not in data[-4096:].replace(b" ", b""):
        raise IntakeProblem(
            f"{source}: ends in the middle: the closing {_END.decode()} is missing, so doors may be; "
            "save or transfer it again"
        )
    return data


def _opened(source: Path) -> tuple[Any, list[str]]:
    """The file as ifcopenshell gives it, and what the library could not read of it."""
    try:
        ifcopenshell = _library()
    except ModuleNotFoundError as error:
        if error.name != "ifcopenshell":
            raise
        raise IntakeProblem(
            f"{source}: reading IFC needs ifcopenshell, which is not installed: pip install 'doorlint[ifc]'"
        ) from None
    ifcopenshell.get_log()  # what an earlier file left there
    try:
        file: Any = ifcopenshell.open(str(source))
    except ifcopenshell.SchemaError:
        named = _schema_named(source)
        raise IntakeProblem(f"{source}: its schema {named} is not known; IFC2x3, IFC4 or IFC4.3 is expected") from None
    except Exception as error:  # the library's own errors share no base
        raise IntakeProblem(f"{source}: cannot be read as IFC ({_text(str(error)) or type(error).__name__})") from None
    if not hasattr(file, "by_type"):
        raise IntakeProblem(f"{source}: cannot be read as IFC at once; it is too large")
    if file.schema not in SCHEMAS:
        raise IntakeProblem(f"{source}: its schema {file.schema} is not read; IFC2x3, IFC4 or IFC4.3 is expected")
    log = [re.sub(r"^(\[[^\]]*\] ?)+", "", line) for line in str(ifcopenshell.get_log()).splitlines()]
    faults = [f"the model is not sound: {_text(line)}" for line in log if line.strip()]
    more = len(faults) - 10
    return file, [*faults[:10], f"the model is not sound: {more} further faults"] if more > 0 else faults


def _library(part: str = "") -> Any:
    """The library, imported when first needed; it is an extra and heavy, and its types do not tell what files hold."""
    return importlib.import_module(f"ifcopenshell{part}")


def _schema_named(source: Path) -> str:
    with source.open("rb") as opened:
        found = re.search(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']{0,40})'", opened.read(65536))
    return _text(found[1].decode("latin-1")) if found else "(none named)"


def _lines(data: bytes, wanted: set[int]) -> dict[int, int]:
    """The line of the file on which each instance wanted begins."""
    found: dict[int, int] = {}
    line, reached = 1, 0
    for match in re.finditer(rb"(?:^|[;\n])[ \t\r\n]*#(\d{1,18})[ \t]*=", data):
        instance = int(match[1])
        if instance not in wanted or instance in found:
            continue
        start = match.start(1)
        line += data.count(b"\n", reached, start)
        reached = start
        found[instance] = line
    return found


def _length_unit(file: Any) -> tuple[Fraction | None, bool, str]:
    """Metres in one unit of length of the project, whether it is feet or inches, and a note where there is none."""
    units = _library(".util.unit")
    try:
        unit = units.get_project_unit(file, "LENGTHUNIT")
        scale = None if unit is None else Fraction(str(units.get_unit_scale(unit)))
        named = "" if unit is None else _text(getattr(unit, "Name", ""))
    except Exception:
        unit, scale, named = None, None, ""
    if scale is None or scale <= 0:
        return None, False, "the model declares no unit of length, so no size was taken from it"
    return scale, unit.is_a("IfcConversionBasedUnit") and named.casefold() in ("foot", "inch", "feet", "inches"), ""


# -- one door --------------------------------------------------------------------------------------


def _door(entity: Any, scale: Fraction | None, lines: Mapping[int, int]) -> Door:
    instance = int(entity.id())
    unclear: list[NotUnderstood] = []
    global_id = _text(_asked(entity, "GlobalId"))
    tag, name = _text(_asked(entity, "Tag")), _text(_asked(entity, "Name"))
    door = Door(_identity(tag, name, global_id, instance), global_id, instance, lines.get(instance, 1), tag, name)

    def part(what: str, read: Callable[[], Any], otherwise: Any) -> Any:
        """One part of the door; a model that is broken there costs that part, never the door."""
        try:
            return read()
        except (Exception, RecursionError) as error:
            why = _text(str(error)) or type(error).__name__
            unclear.append(NotUnderstood(f"{door.place} {what}", why, "the model is broken there; nothing was taken"))
            return otherwise

    kind = part("type", lambda: _type(entity), None)
    properties = part(PROPERTY_SET, lambda: _properties(entity, kind), {})
    stated = {one: said for one, said in properties.items() if one in (*FLAGS, *LABELS, *NUMBERS)}

    def size(attribute: str, quantity: str) -> Fraction | None:
        return _size(entity, door, attribute, properties.get(quantity), scale, unclear)

    for flag in FLAGS:
        said = stated.get(flag)
        if said is not None and replace(door, properties=stated).flag(flag) is None:
            unclear.append(NotUnderstood(f"{door.place} {said}", said.text, "true or false is expected"))
    read = replace(
        door,
        width=part("OverallWidth", lambda: size("OverallWidth", "Width"), None),
        height=part("OverallHeight", lambda: size("OverallHeight", "Height"), None),
        thickness=part("IfcDoorPanelProperties", lambda: _thickness(entity, kind, scale), None),
        lining=part("IfcDoorLiningProperties", lambda: _lining(entity, kind, scale), None),
        operation=part("OperationType", lambda: _operation(entity, kind), None),
        properties=stated,
        spaces=part("IfcRelSpaceBoundary", lambda: _spaces(entity), ()),
        storey=part("storey", lambda: _storey(entity), ""),
        type_name="" if kind is None else part("type", lambda: _text(kind.Name), ""),
    )
    return replace(read, unreadable=tuple(unclear))


def _asked(entity: Any, name: str) -> Any:
    try:
        return getattr(entity, name, None)
    except Exception:
        return None


def _identity(tag: str, name: str, global_id: str, instance: int) -> str:
    """By what the door is called: its tag, else its name. Authoring programs that have no mark put a globally unique id
    into the tag, which nobody calls a door."""
    unique = re.compile(r"\{?[0-9A-Fa-f]{8}(-?[0-9A-Fa-f]{2}){12}\}?")  # 32 digits, grouped in one way or another
    usable = [
        one
        for one in (tag, name)
        if one and one.casefold() not in ("unknown", "none") and one != global_id and not unique.fullmatch(one)
    ]
    return usable[0] if usable else (global_id or f"door #{instance}")


def _distinct(doors: list[Door]) -> tuple[list[Door], list[str]]:
    """The doors with ids that differ, and a note for each that was shared or made up."""
    count = Counter(door.opening for door in doors)
    taken = set(count)
    seen: set[str] = set()
    named, notes = [], []
    for door in doors:
        if door.opening in (door.global_id, f"door #{door.instance}"):
            notes.append(f"{door.place}: the door has neither a tag nor a name of its own; it is called {door.opening}")
        if door.opening not in seen:
            seen.add(door.opening)
            named.append(door)
            continue
        own = f"{door.opening} ({door.global_id or f'#{door.instance}'})"
        while own in taken:
            own += "'"
        taken.add(own)
        notes.append(
            f"{door.place}: {count[door.opening]} doors of the model are called {door.opening}; "
            f"this one is taken as {own}"
        )
        named.append(replace(door, opening=own))
    return named, notes


def _type(entity: Any) -> Any:
    found = _library(".util.element").get_type(entity)
    return None if found is None or found == entity else found


def _properties(entity: Any, kind: Any) -> dict[str, Stated]:
    """Pset_DoorCommon and the base quantities by name; the type's where the door itself says nothing."""
    get_psets = _library(".util.element").get_psets
    found: dict[str, Stated] = {}
    for owner in (kind, entity):
        if owner is None:
            continue
        sets = get_psets(owner, should_inherit=False, verbose=True)
        for name in (*QUANTITIES, PROPERTY_SET):
            for key, entry in (sets.get(name) or {}).items():
                if not isinstance(entry, dict):
                    continue
                text = _said(entry.get("value"))
                if text.upper() not in _UNSTATED:
                    found[key] = Stated(key, text, int(entry.get("id") or 0), own=owner is entity)
    return found


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return ", ".join(filter(None, map(_said, value)))
    return "" if value is None else _text(value)


def _size(
    entity: Any,
    door: Door,
    attribute: str,
    quantity: Stated | None,
    scale: Fraction | None,
    unclear: list[NotUnderstood],
) -> Fraction | None:
    """A size in metres: the door's attribute, else its base quantity."""
    raw = getattr(entity, attribute, None)
    where = f"{door.place} {attribute}"
    if raw is None and quantity is not None:
        raw, where = quantity.text, f"{door.place} {quantity}"
    if raw is None or scale is None:
        if raw is not None:
            unclear.append(NotUnderstood(where, _text(raw), "the model declares no unit of length"))
        return None
    try:
        number = float(raw)
        metres = Fraction(str(number)) * scale if math.isfinite(number) else Fraction(0)
    except ValueError:
        metres = Fraction(0)
    if _LEAST <= metres <= _MOST:
        return metres
    unclear.append(
        NotUnderstood(where, _text(raw), "no size of a door in the model's unit of length; the unit may be wrong")
    )
    return None


def _lining(entity: Any, kind: Any, scale: Fraction | None) -> Fraction | None:
    """How thick the lining (the frame) is, where IfcDoorLiningProperties say so."""
    told = [one.LiningThickness for one in _sets(entity, kind) if one.is_a("IfcDoorLiningProperties")]
    return next((Fraction(str(float(one))) * scale for one in told if one and scale is not None), None)


def _thickness(entity: Any, kind: Any, scale: Fraction | None) -> Fraction | None:
    """How thick the leaf is, where the IfcDoorPanelProperties of all leaves say the same (PanelDepth: across the plane
    of the leaf)."""
    told = {one.PanelDepth for one in _sets(entity, kind) if one.is_a("IfcDoorPanelProperties")}
    if scale is None or len(told) != 1 or not (depth := told.pop()):
        return None
    metres = Fraction(str(float(depth))) * scale
    return metres if _THINNEST <= metres <= _THICKEST else None


def _sets(entity: Any, kind: Any) -> list[Any]:
    """The property sets and predefined properties of a type and of the door itself."""
    sets = [] if kind is None else list(kind.HasPropertySets or ())
    return sets + [
        rel.RelatingPropertyDefinition for rel in entity.IsDefinedBy if rel.is_a("IfcRelDefinesByProperties")
    ]


def _operation(entity: Any, kind: Any) -> Stated | None:
    """How the door opens, by itself or by its type (IFC2x3 knows it at the type only)."""
    for owner in (entity, kind):
        word = None if owner is None else getattr(owner, "OperationType", None)
        if word == "USERDEFINED":
            word = _text(getattr(owner, "UserDefinedOperationType", None)) or word
        if word and word not in _UNSTATED:
            return Stated("OperationType", str(word), int(owner.id()), own=owner is entity)
    return None


def _spaces(entity: Any) -> tuple[str, ...]:
    """The spaces that the door bounds, by the model's order, the outside last."""
    bounded = [entity, *(rel.RelatingOpeningElement for rel in entity.FillsVoids if rel.RelatingOpeningElement)]
    relations = [rel for one in bounded for rel in getattr(one, "ProvidesBoundaries", None) or ()]
    inside: dict[int, str] = {}
    outside = False
    for relation in sorted(relations, key=lambda one: int(one.id())):
        space = relation.RelatingSpace
        outside = outside or relation.InternalOrExternalBoundary in ("EXTERNAL", "EXTERNAL_EARTH")
        if space is None or not space.is_a("IfcSpace"):
            outside = outside or space is not None
            continue
        long_name, name = _text(space.LongName), _text(space.Name)
        inside[int(space.id())] = " ".join(filter(None, (long_name, name))) or f"space #{space.id()}"
    return (*dict.fromkeys(inside.values()), *([EXTERIOR] if outside and len(inside) < 2 else []))


def _storey(entity: Any) -> str:
    """The name of the storey, walking up from the door; a model that loops is walked once round."""
    seen: set[int] = set()
    current = entity
    while current is not None and int(current.id()) not in seen:
        seen.add(int(current.id()))
        if current.is_a("IfcBuildingStorey"):
            return _text(current.Name) or _text(current.LongName)
        above = [rel.RelatingStructure for rel in getattr(current, "ContainedInStructure", None) or ()]
        above += [rel.RelatingObject for rel in getattr(current, "Decomposes", None) or ()]
        above += [rel.RelatingOpeningElement for rel in getattr(current, "FillsVoids", None) or ()]
        above += [rel.RelatingBuildingElement for rel in getattr(current, "VoidsElements", None) or ()]
        current = next((one for one in above if one is not None), None)
    return ""


def _text(value: object) -> str:
    """A text of the model on one line, without what would steer a terminal or break a file."""
    raw = "" if value is None else str(value)[: 4 * _LONGEST]
    kept = "".join(" " if unicodedata.category(char) in ("Cc", "Cf", "Cs", "Zl", "Zp") else char for char in raw)
    text = " ".join(kept.split())
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 4]} ..."


# -- a door as a record ----------------------------------------------------------------------------


def length(metres: Fraction, imperial: bool) -> str:
    """A length as it is written in a spec: inches where the model is in feet or inches and the length falls on a
    sixteenth, else millimetres."""
    inches = metres / _INCH
    near = Fraction(round(inches * 16), 16)
    if imperial and abs(inches - near) * _INCH < Fraction(1, 20_000):
        whole, rest = divmod(near, 1)
        return f"{whole} in" if not rest else f"{whole} {rest} in"
    tenths = round(metres * 10_000)
    return f"{tenths // 10}.{tenths % 10} mm" if tenths % 10 else f"{tenths // 10} mm"


_UNMAPPED = (*LABELS, *NUMBERS, "SelfClosing", "HasDrive", "FireExit", "IsExternal")
_SECURITY = ("none", "low", "medium", "high")


def _record(door: Door, imperial: bool) -> tuple[Record, list[NotUnderstood]]:
    fields: dict[str, Cell] = {}
    unclear = list(door.unreadable)

    def put(path: str, text: str, value: Value | None, source: str, why: str = "") -> None:
        place = f"{door.place} {source}"
        fields[path] = Cell(text, value, place)
        if value is None:
            unclear.append(NotUnderstood(place, text, why))

    if door.name and door.name != door.opening:
        put("title", door.name, door.name, "Name")
    _put_spaces(door, put)
    _put_fire(door, put)
    for name, path in (("HandicapAccessible", "accessible_route"), ("SmokeStop", "smoke_control")):
        said, flag = door.properties.get(name), door.flag(name)
        if said is not None and flag is not None:
            put(path, said.text, flag, str(said))
    security = door.properties.get("SecurityRating")
    if security is not None:
        word = security.text.casefold()
        why = f"the spec says {', '.join(_SECURITY)}; a class of a standard is not turned into one of them"
        put("security", security.text, word if word in _SECURITY else None, str(security), why)
    if door.flag("IsExternal") is not None:
        said = door.properties["IsExternal"]
        why = "the model tells that one side is outside, not which, nor whether it is sheltered or exposed"
        put("exposure", said.text, None if door.flag("IsExternal") else "interior", str(said), why)
    if door.flag("FireExit"):
        said = door.properties["FireExit"]
        put("egress.side", said.text, None, str(said), "the model tells that people leave here, not out of which space")
    _put_leaf(door, imperial, put)
    note = _note(door)
    if note:
        put("note", note, note, PROPERTY_SET)
    return Record(door.opening, fields, door.place), [replace(one, opening=door.opening) for one in unclear]


_Put = Callable[..., None]


def _put_spaces(door: Door, put: _Put) -> None:
    if len(door.spaces) > 2:
        put("from", "; ".join(door.spaces), None, "IfcRelSpaceBoundary", "the door bounds more than two spaces")
        return
    for path, space in zip(("from", "to"), door.spaces, strict=False):
        put(path, space, space, "IfcRelSpaceBoundary")
    if len(door.spaces) < 2 and EXTERIOR not in door.spaces and door.flag("IsExternal"):
        # by the standard such a door faces the outside of the building
        said = door.properties["IsExternal"]
        put("to", said.text, EXTERIOR, str(said))


def _put_fire(door: Door, put: _Put) -> None:
    said, rating = door.properties.get("FireRating"), door.rating()
    if said is None or rating is None:
        return
    why = "no fire rating that can be told apart from a number of another kind; write it as 90 min"
    put("fire_rating", said.text, rating.written, str(said), why)


def _put_leaf(door: Door, imperial: bool, put: _Put) -> None:
    leaves, hinges, double_acting = door.ways
    if door.operation is not None:
        text, source = door.operation.text, str(door.operation)
        put("leaf.count", text, leaves, source, "how many leaves open is not told by the way the door operates")
        if double_acting:
            put("leaf.swing", text, "both", source)
        elif double_acting is False:
            put("leaf.swing", text, None, source, "into which of the two spaces the leaf swings is not told")
        if hinges is not None:
            why = f"hinges {hinges} seen along the door's y axis; which side is the unsecured one is not told"
            put("leaf.hand", text, None, source, why)
    if door.width is not None:
        why = "the width of the whole door; how it is shared among the leaves is not told"
        value = length(door.width, imperial) if leaves == 1 else None
        put("leaf.width", length(door.width, imperial), value, "OverallWidth", why)
    if door.height is not None:
        size = length(door.height, imperial)
        put("leaf.height", size, size, "OverallHeight")
    if door.thickness is not None:
        size = length(door.thickness, imperial)
        put("leaf.thickness", size, size, "IfcDoorPanelProperties.PanelDepth")


def _note(door: Door) -> str:
    """What the model says that has no key of its own in a spec, so that nothing of it is lost."""
    said = [f"storey {door.storey}"] if door.storey else []
    said += [f"type {door.type_name}"] if door.type_name else []
    if door.operation is not None:
        said.append(f"OperationType {door.operation.text}")
    said += [f"{name} {door.properties[name].text}" for name in _UNMAPPED if name in door.properties]
    return f"Model: {', '.join(said)}" if said else ""


def _reading_notes(model: Model) -> Iterator[str]:
    if any(door.width is not None or door.height is not None for door in model.doors):
        yield (
            "sizes are OverallWidth and OverallHeight of the model; whether these are the leaf or leaf and frame is "
            "not told there, so check them against the schedule"
        )
    if any(door.flag("IsExternal") is False for door in model.doors):
        yield "IsExternal false was written as exposure interior; where it is damp inside, write sheltered"
    numbered = sum(door.opening == door.tag and door.name.endswith(f":{door.tag}") for door in model.doors)
    if numbered:
        yield (
            f"{numbered} doors are called by a number that the authoring program gave (their name ends with it); write "
            "the door numbers into the tags and export again, if the schedule has others"
        )
    if any(len(door.spaces) == 2 for door in model.doors):
        yield "which of the two spaces is `from` follows the order of the model; the unsecured side is not told there"


__all__ = ["Door", "Model", "Stated", "length", "read_doors", "read_model"]
