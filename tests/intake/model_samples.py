"""Small models written out by hand in ISO 10303-21, so that each test shows all that its door says."""

from __future__ import annotations

from pathlib import Path

MILLIMETRE = "#2=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);"
FOOT = (
    "#2=IFCCONVERSIONBASEDUNIT(#90,.LENGTHUNIT.,'FOOT',#91);#90=IFCDIMENSIONALEXPONENTS(1,0,0,0,0,0,0);"
    "#91=IFCMEASUREWITHUNIT(IFCLENGTHMEASURE(0.3048),#92);#92=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);"
)
PROJECT = "#1=IFCPROJECT('0000000000000000000001',$,'Gull Point',$,$,$,$,$,#3);\n#3=IFCUNITASSIGNMENT((#2));"


def model(path: Path, *lines: str, schema: str = "IFC4", unit: str = MILLIMETRE) -> Path:
    """Write a model with these instances, after a unit and a project."""
    body = "\n".join((unit, PROJECT, *lines))
    path.write_text(
        "ISO-10303-21;\nHEADER;FILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
        f"FILE_SCHEMA(('{schema}'));ENDSEC;\nDATA;\n{body}\nENDSEC;\nEND-ISO-10303-21;\n"
    )
    return path


def door(instance: int = 10, tag: str = "'D1'", operation: str = ".SINGLE_SWING_LEFT.", **more: str) -> str:
    """One IfcDoor of IFC4."""
    name, width, height = more.get("name", "$"), more.get("width", "914.4"), more.get("height", "2133.6")
    place = more.get("placement", "$")
    unique = f"{instance:022d}"
    return f"#{instance}=IFCDOOR('{unique}',$,{name},$,$,{place},$,{tag},{height},{width},.DOOR.,{operation},$);"


def properties(owner: int = 10, first: int = 20, **values: str) -> str:
    """Pset_DoorCommon of a door; values as they stand in the file, such as IFCBOOLEAN(.T.)."""
    singles = [
        f"#{first + 2 + n}=IFCPROPERTYSINGLEVALUE('{name}',$,{value},$);"
        for n, (name, value) in enumerate(values.items())
    ]
    held = ",".join(f"#{first + 2 + n}" for n in range(len(values)))
    return "\n".join(
        (
            f"#{first}=IFCPROPERTYSET('{first:022d}',$,'Pset_DoorCommon',$,({held}));",
            f"#{first + 1}=IFCRELDEFINESBYPROPERTIES('{first + 1:022d}',$,$,$,(#{owner}),#{first});",
            *singles,
        )
    )
