"""Cuts a building model down to what doorlint reads of its doors: python cut_model.py SOURCE TARGET

Kept, with their names, values and global ids: the project and its unit of length, storeys, doors, their types, property
sets of doors, and the spaces that doors bound. Left out: geometry, other elements, and who made the model with what.
"""

from __future__ import annotations

import sys
from typing import Any

import ifcopenshell

_SETS = ("Pset_DoorCommon", "Qto_DoorBaseQuantities", "BaseQuantities")
_PROPERTIES = ("IfcDoorLiningProperties", "IfcDoorPanelProperties")


class _Cut:
    """The model while it is cut. Each instance of the source is taken once."""

    def __init__(self, source: Any) -> None:
        self.source = source
        self.target: Any = ifcopenshell.file(schema=source.schema)
        self.taken: dict[int, Any] = {}
        self.owner = self._owner() if source.schema == "IFC2X3" else None

    def _owner(self) -> Any:
        create = self.target.create_entity
        nobody = create("IfcPersonAndOrganization", create("IfcPerson", FamilyName="unnamed"),
                        create("IfcOrganization", Name="unnamed"))  # fmt: skip
        program = create("IfcApplication", nobody[1], "1", "cut_model.py", "cut_model")
        return create("IfcOwnerHistory", nobody, program, ChangeAction="NOCHANGE", CreationDate=0)

    def take(self, entity: Any) -> Any:
        """An instance with what it holds, but for its owner, place and shape."""
        if entity.id() and entity.id() in self.taken:
            return self.taken[entity.id()]
        skipped = ("OwnerHistory", "ObjectPlacement", "Representation", "RepresentationMaps", "ConnectionGeometry",
                   "RepresentationContexts", "Description")  # fmt: skip
        values = {}
        for name, value in entity.get_info(include_identifier=False, recursive=False).items():
            if name == "OwnerHistory":
                values[name] = self.owner
            elif name == "RepresentationContexts" and self.owner is not None:
                origin = self.target.create_entity("IfcCartesianPoint", (0.0, 0.0, 0.0))
                axes = self.target.create_entity("IfcAxis2Placement3D", origin)
                context = ("IfcGeometricRepresentationContext", None, "Model", 3, 1e-5, axes)
                values[name] = [self.target.create_entity(*context)]
            elif name == "Units":
                values[name] = [self.take(one) for one in value if getattr(one, "UnitType", "") == "LENGTHUNIT"]
            elif name == "HasPropertySets" and value:
                values[name] = [self.take(one) for one in value if self.wanted(one)] or None
            elif name != "type" and name not in skipped:
                values[name] = self.value(value)
        made = self.target.create_entity(entity.is_a(), **values)
        if entity.id():
            self.taken[entity.id()] = made
        return made

    def value(self, value: Any) -> Any:
        if isinstance(value, ifcopenshell.entity_instance):
            held: Any = value
            return self.take(held) if held.id() else self.target.create_entity(held.is_a(), held.wrappedValue)
        return [self.value(one) for one in value] if isinstance(value, tuple) else value

    @staticmethod
    def wanted(one: Any) -> bool:
        kind = one.is_a()
        return kind in _PROPERTIES or (kind in ("IfcPropertySet", "IfcElementQuantity") and one.Name in _SETS)

    def relate(self, relation: Any, **ends: Any) -> None:
        made = self.target.create_entity(relation.is_a(), GlobalId=relation.GlobalId, OwnerHistory=self.owner)
        for name, value in ends.items():
            setattr(made, name, value)


def cut(source: Any) -> Any:
    """The doors of a model as a model of their own."""
    made = _Cut(source)
    made.take(source.by_type("IfcProject")[0])
    doors = {door.id(): made.take(door) for door in source.by_type("IfcDoor")}
    for relation in source.by_type("IfcRelContainedInSpatialStructure"):
        held = [doors[one.id()] for one in relation.RelatedElements if one.id() in doors]
        if held:
            made.relate(relation, RelatedElements=held, RelatingStructure=made.take(relation.RelatingStructure))
    for relation in source.by_type("IfcRelDefinesByType"):
        held = [doors[one.id()] for one in relation.RelatedObjects if one.id() in doors]
        if held:
            made.relate(relation, RelatedObjects=held, RelatingType=made.take(relation.RelatingType))
    for relation in source.by_type("IfcRelDefinesByProperties"):
        held = [doors[one.id()] for one in relation.RelatedObjects if one.id() in doors]
        definition = relation.RelatingPropertyDefinition
        if held and made.wanted(definition):
            made.relate(relation, RelatedObjects=held, RelatingPropertyDefinition=made.take(definition))
    for relation in source.by_type("IfcRelSpaceBoundary"):
        element = relation.RelatedBuildingElement
        if element is not None and element.id() in doors:
            made.relate(
                relation,
                RelatingSpace=made.take(relation.RelatingSpace),
                RelatedBuildingElement=doors[element.id()],
                PhysicalOrVirtualBoundary=relation.PhysicalOrVirtualBoundary,
                InternalOrExternalBoundary=relation.InternalOrExternalBoundary,
            )
    return made.target


if __name__ == "__main__":
    result = cut(ifcopenshell.open(sys.argv[1]))
    result.header.file_name.name = ""
    result.header.file_name.time_stamp = ""
    result.write(sys.argv[2])
