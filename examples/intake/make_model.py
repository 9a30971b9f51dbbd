"""Makes the small building models beside this file, with ifcopenshell's own interface: python make_model.py

Gull Point Ferry Terminal is an invented place; every value is made up. The models hold a few of its doors. In the IFC4
model four things differ from the spec on purpose: the rating of L03, the hand of L04, the size of O02, and O03 is said
to be external. The IFC2x3 model is in feet, as an older program would write it.
"""

from __future__ import annotations

import sys
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import ifcopenshell
import ifcopenshell.guid

INCH = 0.0254
FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class MadeDoor:
    """A door to be made. Sizes in inches."""

    mark: str
    name: str
    spaces: tuple[str, ...]
    width: float
    height: float
    operation: str
    properties: Mapping[str, Any]


_L01 = MadeDoor("L01", "Main entrance", ("ticket hall",), 72, 84, "DOUBLE_DOOR_SINGLE_SWING",
                {"FireRating": "none", "IsExternal": True, "FireExit": True, "HandicapAccessible": True})
_L03 = MadeDoor("L03", "Stair 2", ("concourse", "stair 2"), 36, 84, "SINGLE_SWING_RIGHT",
                {"FireRating": "60", "IsExternal": False, "FireExit": True, "SelfClosing": True, "SmokeStop": True})
_L04 = MadeDoor("L04", "Staff entrance", ("staff lobby",), 36, 84, "SINGLE_SWING_RIGHT",
                {"FireRating": "none", "IsExternal": True, "FireExit": True, "SelfClosing": True})
_O01 = MadeDoor("O01", "Telecom room", ("telecom room", "office corridor"), 36, 84, "SINGLE_SWING_RIGHT",
                {"FireRating": "1 h", "IsExternal": False, "SelfClosing": True, "SecurityRating": "high",
                 "AcousticRating": "30 dB"})
_O02 = MadeDoor("O02", "Electrical room", ("electrical room", "service corridor"), 36, 84, "SINGLE_SWING_LEFT",
                {"FireRating": "90 min", "IsExternal": False, "SelfClosing": True})
_O03 = MadeDoor("O03", "Staff office", ("staff office", "office corridor"), 36, 84, "SINGLE_SWING_LEFT",
                {"FireRating": "none", "IsExternal": True})
_X01 = MadeDoor("X01", "Cleaner's cupboard", ("office corridor", "cupboard"), 30, 84, "SINGLE_SWING_LEFT",
                {"FireRating": "none", "IsExternal": False})


def main(folder: Path = FOLDER) -> None:
    """Write the models into a folder."""
    metric = [_L01, _L03, _L04, _O01, _O02, _O03, _X01]
    _make("IFC4", metric, feet=False).write(str(folder / "terminal_ifc4.ifc"))
    _make("IFC2X3", [_L03, _L04, _O01], feet=True).write(str(folder / "terminal_ifc2x3.ifc"))


def _make(schema: Literal["IFC2X3", "IFC4"], doors: list[MadeDoor], *, feet: bool) -> Any:
    file: Any = ifcopenshell.file(schema=schema)
    file.header.file_name.name = f"terminal_{schema.lower()}.ifc"
    file.header.file_name.time_stamp = "2027-01-01T00:00:00"
    model = _Maker(file, schema, 0.3048 if feet else 0.001)
    model.begin(feet)
    for door in doors:
        model.add(door)
    return file


class _Maker:
    """One model while it is made. Ids follow from names, so that the same script gives the same file."""

    def __init__(self, file: Any, schema: str, unit: float) -> None:
        self.file, self.schema, self.unit = file, schema, unit
        self.spaces: dict[str, Any] = {}
        self.types: dict[str, Any] = {}
        self.owner: Any = None
        self.storey: Any = None

    def id(self, name: str) -> str:
        return ifcopenshell.guid.compress(uuid.uuid5(uuid.NAMESPACE_DNS, f"{self.schema}.{name}.doorlint.invalid").hex)

    def new(self, kind: str, name: str, **values: Any) -> Any:
        return self.file.create_entity(kind, GlobalId=self.id(f"{kind} {name}"), OwnerHistory=self.owner, **values)

    def begin(self, feet: bool) -> None:
        create = self.file.create_entity
        organisation = create("IfcOrganization", Name="invented")
        person = create("IfcPersonAndOrganization", create("IfcPerson", FamilyName="invented"), organisation)
        program = create("IfcApplication", organisation, "1", "make_model.py", "make_model")
        self.owner = create("IfcOwnerHistory", person, program, ChangeAction="ADDED", CreationDate=1798761600)
        metre = create("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
        unit = create("IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE")
        if feet:
            size = create("IfcMeasureWithUnit", create("IfcLengthMeasure", 0.3048), metre)
            nothing = create("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
            unit = create("IfcConversionBasedUnit", nothing, "LENGTHUNIT", "FOOT", size)
        units = create("IfcUnitAssignment", [unit])
        origin = create("IfcAxis2Placement3D", create("IfcCartesianPoint", (0.0, 0.0, 0.0)))
        context = create("IfcGeometricRepresentationContext", None, "Model", 3, 1e-5, origin)
        project = self.new("IfcProject", "", Name="Gull Point Ferry Terminal (invented)",
                           RepresentationContexts=[context], UnitsInContext=units)
        building = self.new("IfcBuilding", "", Name="Terminal", CompositionType="ELEMENT")
        self.storey = self.new("IfcBuildingStorey", "", Name="Level 1", CompositionType="ELEMENT")
        self.new("IfcRelAggregates", "1", RelatingObject=project, RelatedObjects=[building])
        self.new("IfcRelAggregates", "2", RelatingObject=building, RelatedObjects=[self.storey])

    def add(self, made: MadeDoor) -> None:
        own = {} if self.schema == "IFC2X3" else {"OperationType": made.operation}
        door = self.new("IfcDoor", made.mark, Name=made.name, Tag=made.mark, OverallWidth=self.size(made.width),
                        OverallHeight=self.size(made.height), **own)
        self.new("IfcRelContainedInSpatialStructure", made.mark, RelatingStructure=self.storey, RelatedElements=[door])
        # what every door of a type has stands at the type; IFC2x3 says there how the door opens
        kind = self.kind(made)
        self.new("IfcRelDefinesByType", made.mark, RelatedObjects=[door], RelatingType=kind)
        values = [
            self.file.create_entity("IfcPropertySingleValue", name, None, self.value(value))
            for name, value in made.properties.items()
        ]
        properties = self.new("IfcPropertySet", made.mark, Name="Pset_DoorCommon", HasProperties=values)
        self.new("IfcRelDefinesByProperties", made.mark, RelatedObjects=[door], RelatingPropertyDefinition=properties)
        for space in made.spaces:
            external = len(made.spaces) == 1
            self.new("IfcRelSpaceBoundary", f"{made.mark} {space}", RelatingSpace=self.space(space),
                     RelatedBuildingElement=door, PhysicalOrVirtualBoundary="PHYSICAL",
                     InternalOrExternalBoundary="EXTERNAL" if external else "INTERNAL")

    def size(self, inches: float) -> float:
        return round(inches * INCH / self.unit, 6)

    def value(self, value: Any) -> Any:
        return self.file.create_entity("IfcBoolean" if isinstance(value, bool) else "IfcLabel", value)

    def kind(self, made: MadeDoor) -> Any:
        if made.operation not in self.types:
            common: dict[str, Any] = {"Name": made.operation.lower().replace("_", " "), "OperationType": made.operation}
            reference = self.file.create_entity("IfcPropertySingleValue", "HasDrive", None, self.value(False))
            if self.schema == "IFC2X3":  # HasDrive came with IFC4
                reference = self.file.create_entity("IfcPropertySingleValue", "SmokeStop", None, self.value(False))
                common |= {"ConstructionType": "STEEL", "ParameterTakesPrecedence": False, "Sizeable": True}
            else:
                common |= {"PredefinedType": "DOOR"}
            properties = self.new("IfcPropertySet", made.operation, Name="Pset_DoorCommon", HasProperties=[reference])
            kind = "IfcDoorStyle" if self.schema == "IFC2X3" else "IfcDoorType"
            self.types[made.operation] = self.new(kind, made.operation, HasPropertySets=[properties], **common)
        return self.types[made.operation]

    def space(self, name: str) -> Any:
        if name not in self.spaces:
            more = {"InteriorOrExteriorSpace": "INTERNAL"} if self.schema == "IFC2X3" else {}
            space = self.new("IfcSpace", name, Name=name, CompositionType="ELEMENT", **more)
            self.new("IfcRelAggregates", name, RelatingObject=self.storey, RelatedObjects=[space])
            self.spaces[name] = space
        return self.spaces[name]


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
