"""Reading building models.

Published sources: the property set templates and the schemas of IFC2x3, IFC4 and IFC4.3 (ISO 16739-1), as buildingSMART
publishes them and as the package ifcopenshell carries them (ifcopenshell/util/schema); the syntax samples of the
buildingSMART validation service that it carries too (ifcopenshell/simple_spf/fixtures); and the doors of two public
example models that packages of a registry carry (public/SOURCES.md). The other doors come from models made with
ifcopenshell's own interface (examples/intake/make_model.py) and from instances written out by hand (model_samples.py).
"""

from __future__ import annotations

import random
import runpy
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.util.schema
import ifcopenshell.util.unit
import pytest
from hypothesis import given
from hypothesis import settings as limits
from hypothesis import strategies as st
from model_samples import door, model, properties

from doorlint import cli
from doorlint.intake import models
from doorlint.intake.models import FLAGS, LABELS, NUMBERS, OPERATIONS, length, read_doors, read_model
from doorlint.intake.ratings import read_rating
from doorlint.intake.records import IntakeProblem
from doorlint.outcome import Kind
from doorlint.quantity import parse_quantity
from doorlint.reviewing import review

EXAMPLES = Path(__file__).parent.parent.parent / "examples" / "intake"
PUBLIC = Path(__file__).parent / "public"
TEMPLATES = Path(ifcopenshell.util.schema.__file__).parent / "schema"
FIXTURES = Path(ifcopenshell.__file__).parent / "simple_spf" / "fixtures"


# -- against what is published ---------------------------------------------------------------------


def _published(name: str) -> dict[str, str]:
    file = ifcopenshell.open(str(TEMPLATES / f"{name}.ifc"))
    found = next(one for one in file.by_type("IfcPropertySetTemplate") if one.Name == "Pset_DoorCommon")
    return {one.Name: one.PrimaryMeasureType for one in found.HasPropertyTemplates}


def test_the_properties_are_those_of_the_published_templates() -> None:
    for name in ("Pset_IFC4_ADD2", "Pset_IFC4X3"):
        published = _published(name)
        assert set(published) == {*FLAGS, *LABELS, *NUMBERS}
        assert {one for one, kind in published.items() if kind == "IfcBoolean"} == set(FLAGS)
    assert set(_published("Pset_IFC2X3")) < {*FLAGS, *LABELS, *NUMBERS}


@pytest.mark.parametrize(
    ("schema", "enumeration"),
    [
        ("IFC2X3", "IfcDoorStyleOperationEnum"),
        ("IFC4", "IfcDoorTypeOperationEnum"),
        ("IFC4X3_ADD2", "IfcDoorTypeOperationEnum"),
    ],
)
def test_the_operations_are_those_of_the_published_schemas(schema: str, enumeration: str) -> None:
    declared: Any = ifcopenshell.schema_by_name(schema).declaration_by_name(enumeration)
    words = set(declared.enumeration_items())
    assert set(OPERATIONS) <= words
    # every swinging door of the schema is known, but for those with a fixed part, which do not tell what opens
    assert {one for one in words if "SWING" in one and "FIXED" not in one} <= set(OPERATIONS)


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*.ifc")), ids=lambda path: path.stem)
def test_published_samples_are_read_or_refused_in_one_line(path: Path) -> None:
    try:
        found = read_doors(path)
    except IntakeProblem as problem:
        assert str(problem).startswith(str(path))
        assert "\n" not in str(problem)
        assert not path.stem.startswith("pass")
    else:
        assert found.doors == ()
        assert found.notes[-1] == "the model holds no door (IfcDoor)"


def test_the_samples_are_there() -> None:
    assert len(list(FIXTURES.glob("pass*.ifc"))) >= 2


@pytest.mark.parametrize("unit", ["FOOT", "INCH", "YARD", "MILLI", "CENTI", None])
def test_sizes_follow_the_units_as_the_library_converts_them(unit: str | None, tmp_path: Path) -> None:
    file = ifcopenshell.file(schema="IFC4")
    if unit in ("MILLI", "CENTI", None):
        made = file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Prefix=unit, Name="METRE")
    else:
        factor = ifcopenshell.util.unit.si_conversions[unit.lower()]
        metre = file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
        size = file.create_entity("IfcMeasureWithUnit", file.create_entity("IfcLengthMeasure", factor), metre)
        exponents = file.create_entity("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
        made = file.create_entity("IfcConversionBasedUnit", exponents, "LENGTHUNIT", unit, size)
    units = file.create_entity("IfcUnitAssignment", [made])
    file.create_entity("IfcProject", GlobalId=ifcopenshell.guid.new(), Name="p", UnitsInContext=units)
    scale = ifcopenshell.util.unit.calculate_unit_scale(file)
    file.create_entity("IfcDoor", GlobalId=ifcopenshell.guid.new(), Tag="D1", OverallWidth=0.9144 / scale)
    file.write(str(tmp_path / "m.ifc"))
    found = read_doors(tmp_path / "m.ifc").doors[0].width
    assert found is not None
    assert abs(found - Fraction(9144, 10000)) < Fraction(1, 10**9)
    written = read_model(tmp_path / "m.ifc").records[0]
    # a door that does not tell how many leaves it has keeps its width out of `leaf.width`, and says so
    assert "leaf.width" in written.fields
    assert written.fields["leaf.width"].value is None
    assert written.fields["leaf.width"].text == ("36 in" if unit in ("FOOT", "INCH") else "914.4 mm")


# -- what a door says ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["terminal_ifc4.ifc", "terminal_ifc2x3.ifc"])
def test_the_examples_are_what_their_script_makes(name: str, tmp_path: Path) -> None:
    runpy.run_path(str(EXAMPLES / "make_model.py"))["main"](tmp_path)

    def instances(path: Path) -> str:
        return path.read_text().partition("DATA;")[2]  # the header names the version of the library

    assert instances(tmp_path / name) == instances(EXAMPLES / name)


def test_the_example_in_ifc4() -> None:
    found = {record.opening: record for record in read_model(EXAMPLES / "terminal_ifc4.ifc").records}
    assert list(found) == ["L01", "L03", "L04", "O01", "O02", "O03", "X01"]
    stair = {path: cell.value for path, cell in found["L03"].fields.items()}
    assert (stair["from"], stair["to"]) == ("concourse", "stair 2")
    assert stair["fire_rating"] == "60 min"
    assert stair["smoke_control"] is True
    assert stair["leaf.count"] == 1
    assert stair["leaf.width"] == "914.4 mm"
    assert stair["egress.side"] is None
    assert found["L01"].fields["to"].value == "exterior"
    assert found["L01"].fields["leaf.count"].value == 2
    assert found["O01"].fields["fire_rating"].text == "1 h"
    assert found["O01"].fields["fire_rating"].value == "60 min"
    # what has no key of its own is kept
    assert "AcousticRating 30 dB" in str(found["O01"].fields["note"].value)
    assert "storey Level 1" in str(found["O01"].fields["note"].value)


def test_the_example_in_ifc2x3_has_its_operation_and_properties_from_the_style() -> None:
    found = read_doors(EXAMPLES / "terminal_ifc2x3.ifc")
    assert found.schema == "IFC2X3"
    assert found.imperial
    last = found.doors[-1]
    assert last.operation is not None
    assert (last.operation.text, last.operation.own) == ("SINGLE_SWING_RIGHT", False)
    assert (last.flag("SmokeStop"), last.properties["SmokeStop"].own) == (False, False)
    assert found.doors[0].flag("SmokeStop") is True  # the door's own word comes before that of its style


def test_ifc4x3(tmp_path: Path) -> None:
    path = model(tmp_path / "m.ifc", door(), properties(FireRating="IFCLABEL('EI2 30-C5')"), schema="IFC4X3_ADD2")
    cell = read_model(path).records[0].fields["fire_rating"]
    assert (cell.text, cell.value) == ("EI2 30-C5", "EI2 30-C5")


def test_every_unclear_cell_is_listed_and_every_cell_has_its_place() -> None:
    taken = read_model(EXAMPLES / "terminal_ifc4.ifc")
    listed = {(one.place, one.text) for one in taken.not_understood}
    cells = [cell for record in taken.records for cell in record.fields.values()]
    assert all(cell.place.startswith("#") for cell in cells)
    unclear = {(cell.place, cell.text) for cell in cells if cell.value is None}
    assert unclear
    assert unclear <= listed


def test_the_line_is_that_of_the_door(tmp_path: Path) -> None:
    path = model(tmp_path / "m.ifc", "/* a comment */", door(10), door(11, "'D2'"))
    lines = path.read_text().splitlines()
    for one in read_doors(path).doors:
        assert lines[one.line - 1].startswith(f"#{one.instance}=IFCDOOR")


def test_tags_that_are_no_marks_give_way_to_the_name(tmp_path: Path) -> None:
    unique = "'2C9A8F10-1111-4222-8333-0123456789AB'"
    path = model(tmp_path / "m.ifc", door(10, unique, name="'114A'"), door(11, "'none'", name="'115'"), door(12, "''"))
    found = read_doors(path)
    assert [one.opening for one in found.doors] == ["114A", "115", f"{12:022d}"]
    assert any("neither a tag nor a name" in note for note in found.notes)


def test_doors_called_alike_are_all_kept(tmp_path: Path) -> None:
    path = model(tmp_path / "m.ifc", door(10), door(11), door(12))
    taken = read_model(path)
    assert len({record.opening for record in taken.records}) == 3
    assert sum("3 doors of the model are called D1" in note for note in taken.notes) == 2


def test_texts_are_decoded_and_cannot_steer_a_terminal(tmp_path: Path) -> None:
    path = model(tmp_path / "m.ifc", door(10, "'T\\X2\\00FC\\X0\\r'", name="'a\\X\\1B[31m\\X2\\202E\\X0\\b'"))
    found = read_doors(path).doors[0]
    assert found.tag == "Tür"
    assert found.name.isprintable()


@pytest.mark.parametrize(
    ("value", "expected"),
    [("IFCBOOLEAN(.T.)", True), ("IFCBOOLEAN(.F.)", False), ("IFCLABEL('Yes')", True), ("IFCLOGICAL(.U.)", None),
     ("IFCLABEL('perhaps')", None), ("$", None)],
)
def test_flags(value: str, expected: bool | None, tmp_path: Path) -> None:
    path = model(tmp_path / "m.ifc", door(), properties(HandicapAccessible=value))
    assert read_doors(path).doors[0].flag("HandicapAccessible") is expected
    taken = read_model(path)
    assert any(one.text == "perhaps" for one in taken.not_understood) == ("perhaps" in value)


# -- public example models -------------------------------------------------------------------------


def test_the_public_duplex_apartment() -> None:
    """Expected values as the model's own instances state them; its drawings show 14 doors."""
    taken = read_model(PUBLIC / "duplex_doors.ifc")
    found = {one.opening: {path: cell.value for path, cell in one.fields.items()} for one in taken.records}
    assert len(found) == 14
    entry = found["146596"]
    assert (entry["from"], entry["to"], entry["leaf.width"], entry["leaf.height"]) == (
        "Foyer A101", "exterior", "1250 mm", "2010 mm",
    )  # fmt: skip
    assert entry["leaf.count"] == 1
    assert entry["exposure"] is None  # outside, but nothing says how exposed
    assert entry["fire_rating"] is None  # the label holds the words "Fire Rating" in place of one
    assert sum(one["exposure"] == "interior" for one in found.values()) == 10
    assert {one["leaf.width"] for one in found.values()} == {"1250 mm", "762 mm", "864 mm", "813 mm"}
    assert found["204034"]["from"] is None  # it bounds three spaces
    assert any("14 doors are called by a number that the authoring program gave" in note for note in taken.notes)


def test_the_public_fzk_haus() -> None:
    """Expected values as the model's own instances state them."""
    taken = read_model(PUBLIC / "fzk_haus_doors.ifc")
    found = {one.opening: {path: cell.value for path, cell in one.fields.items()} for one in taken.records}
    # the tags are globally unique ids in a grouping of their own, so the names serve
    assert list(found) == ["Haustuer", "Terrassentuer", "Innentuer-2", "Innentuer-3", "Innentuer-1"]
    assert (found["Haustuer"]["from"], found["Haustuer"]["to"]) == ("Flur 1", "exterior")
    assert (found["Innentuer-2"]["from"], found["Innentuer-2"]["to"]) == ("Flur 1", "Bad 3")
    assert {one["leaf.thickness"] for one in found.values()} == {"40 mm"}
    assert found["Innentuer-1"]["leaf.width"] == "885 mm"
    assert taken.not_understood and all(one.opening in found for one in taken.not_understood)


@pytest.mark.parametrize("name", ["duplex_doors.ifc", "fzk_haus_doors.ifc"])
def test_public_models_come_to_a_review_and_do_not_differ_from_it(name: str, tmp_path: Path) -> None:
    cli.run(["intake", str(PUBLIC / name), "--into", str(tmp_path / "spec")])
    result = review(tmp_path / "spec")
    assert not result.broken
    assert not [one for one in result.findings() if one.rule.startswith(("format/", "document/", "reference/"))]
    assert cli.run(["model", str(tmp_path / "spec"), str(PUBLIC / name), "--failing-level", "note"]) == 0


def test_an_outside_door_faces_the_exterior(tmp_path: Path) -> None:
    """IsExternal: the element faces the outside of the building (Pset_DoorCommon, by its published definition)."""
    space = (
        "#30=IFCSPACE('0000000000000000000030',$,'101',$,$,$,$,'Hall',.ELEMENT.,.INTERNAL.,$);",
        "#31=IFCRELSPACEBOUNDARY('0000000000000000000031',$,$,$,#30,#10,$,.PHYSICAL.,.NOTDEFINED.);",
    )
    outside = properties(IsExternal="IFCBOOLEAN(.T.)")
    for lines, expected in (
        ((*space, outside), ("Hall 101", "exterior")),
        ((outside,), (None, "exterior")),
        ((*space, properties(IsExternal="IFCBOOLEAN(.F.)")), ("Hall 101", None)),
        (space, ("Hall 101", None)),
    ):
        fields = read_model(model(tmp_path / "m.ifc", door(), *lines)).records[0].fields
        sides = [fields[path].value if path in fields else None for path in ("from", "to")]
        assert tuple(sides) == expected


@pytest.mark.parametrize(
    ("operation", "count", "swing"),
    [(".SINGLE_SWING_LEFT.", 1, None), (".DOUBLE_SWING_RIGHT.", 1, "both"), (".DOUBLE_DOOR_SINGLE_SWING.", 2, None),
     (".DOUBLE_DOOR_DOUBLE_SWING.", 2, "both"), (".SLIDING_TO_LEFT.", 1, None)],
)  # fmt: skip
def test_what_the_operation_tells_is_taken_and_the_rest_is_unknown(
    operation: str, count: int, swing: str | None, tmp_path: Path
) -> None:
    """By IfcDoorTypeOperationEnum of ISO 16739-1. The hand is told along the door's y axis; which side is the unsecured
    one is not, so the spec's hand stays unknown, and the review asks."""
    fields = read_model(model(tmp_path / "m.ifc", door(operation=operation))).records[0].fields
    assert fields["leaf.count"].value == count
    assert (fields["leaf.swing"].value if "leaf.swing" in fields else None) == swing
    assert "leaf.hand" not in fields or fields["leaf.hand"].value is None
    assert f"OperationType {operation.strip('.')}" in str(fields["note"].value)


# -- models that are broken ------------------------------------------------------------------------


def _refused(path: Path) -> str:
    with pytest.raises(IntakeProblem) as caught:
        read_model(path)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(str(path))
    return str(caught.value)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is no IFC file"),
        (b"door,width\n114A,915\n", "is no IFC file"),
        (b"PK\x03\x04 packed", "is a packed file"),
        (b"\xef\xbb\xbf<?xml version='1.0'?><ifcXML/>", "is XML"),
        (b"ISO-10303-21;\nHEADER;\n", "ends in the middle"),
        (b"ISO-10303-21;\nrubbish\nEND-ISO-10303-21;\n", "cannot be read as IFC"),
    ],
)
def test_what_is_no_model_is_refused(content: bytes, told: str, tmp_path: Path) -> None:
    (tmp_path / "m.ifc").write_bytes(content)
    assert told in _refused(tmp_path / "m.ifc")


def test_a_model_cut_off_is_refused(tmp_path: Path) -> None:
    whole = (EXAMPLES / "terminal_ifc4.ifc").read_bytes()
    path = tmp_path / "m.ifc"
    for size in range(200, len(whole) - 30, 900):
        path.write_bytes(whole[:size])
        assert "ends in the middle" in _refused(path)


def test_an_unknown_schema_is_refused(tmp_path: Path) -> None:
    assert "IFC9" in _refused(model(tmp_path / "m.ifc", door(), schema="IFC9"))


def test_a_missing_file_a_folder_and_a_huge_file_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "does not exist" in _refused(tmp_path / "m.ifc")
    assert "is a folder" in _refused(tmp_path)
    path = model(tmp_path / "m.ifc", door())
    monkeypatch.setattr(models, "LARGEST_MODEL", 100)
    assert "is larger than" in _refused(path)


def test_without_the_library_the_extra_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = model(tmp_path / "m.ifc", door())
    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    assert "doorlint[ifc]" in _refused(path)


def test_a_model_without_unit_gives_no_size(tmp_path: Path) -> None:
    taken = read_model(model(tmp_path / "m.ifc", door(), unit="#2=IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.);"))
    assert not {"leaf.width", "leaf.height"} & set(taken.records[0].fields)
    assert any("no unit of length" in note for note in taken.notes)
    assert {one.text for one in taken.not_understood} >= {"914.4", "2133.6"}


@pytest.mark.parametrize("width", ["0.9144", "914400.", "-914.4", "0.", "1.E300", "'wide'"])
def test_a_size_that_is_none_is_told_at_the_door(width: str, tmp_path: Path) -> None:
    found = read_doors(model(tmp_path / "m.ifc", door(width=width))).doors[0]
    assert found.width is None
    assert found.height == Fraction(21336, 10000)
    assert any("OverallWidth" in one.place for one in found.unreadable)


def test_what_loops_is_walked_once(tmp_path: Path) -> None:
    path = model(
        tmp_path / "m.ifc",
        door(placement="#30"),
        "#30=IFCLOCALPLACEMENT(#31,$);\n#31=IFCLOCALPLACEMENT(#30,$);",
        "#40=IFCBUILDING('0000000000000000000040',$,'B',$,$,$,$,$,.ELEMENT.,$,$,$);",
        "#41=IFCSITE('0000000000000000000041',$,'S',$,$,$,$,$,.ELEMENT.,$,$,$,$,$);",
        "#42=IFCRELAGGREGATES('0000000000000000000042',$,$,$,#40,(#41));",
        "#43=IFCRELAGGREGATES('0000000000000000000043',$,$,$,#41,(#40));",
        "#44=IFCRELCONTAINEDINSPATIALSTRUCTURE('0000000000000000000044',$,$,$,(#10),#40);",
        properties(FireRating="IFCLABEL('90')"),
        "#50=IFCPROPERTYSET('0000000000000000000050',$,'other',$,(#52));",
        "#51=IFCRELDEFINESBYPROPERTIES('0000000000000000000051',$,$,$,(#10),#50);",
        "#52=IFCCOMPLEXPROPERTY('c',$,'c',(#52));",
    )
    found = read_doors(path).doors[0]
    assert found.opening == "D1"
    assert found.storey == ""
    assert found.width is not None
    # the loop among the properties costs the properties, and is told
    assert [one.place for one in found.unreadable] == [f"{found.place} Pset_DoorCommon"]


def test_what_the_library_could_not_read_is_told(tmp_path: Path) -> None:
    found = read_doors(model(tmp_path / "m.ifc", door(operation=".SIDEWAYS."), "#60=IFCNOTHING(1);"))
    assert sum("is not sound" in note for note in found.notes) == 2
    assert found.doors[0].operation is None


def test_random_damage_never_breaks_the_reader(tmp_path: Path) -> None:
    whole = (EXAMPLES / "terminal_ifc4.ifc").read_bytes()
    first = whole.index(b"DATA;")
    chance = random.Random(16739)
    read = 0
    for _ in range(150):
        damaged = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(first, len(damaged) - 40)
            put = bytes(chance.choices(b"#()',;.$*0123456789\\", k=chance.randint(0, 4)))
            damaged[at : at + chance.randint(0, 8)] = put
        (tmp_path / "m.ifc").write_bytes(damaged)
        try:
            read_model(tmp_path / "m.ifc")
            read += 1
        except IntakeProblem as problem:
            assert "\n" not in str(problem)
    assert read > 10


# -- from a model to a review ----------------------------------------------------------------------


def test_intake_review_and_intake_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    into = tmp_path / "spec"
    asked = ["intake", str(EXAMPLES / "terminal_ifc4.ifc"), "--into", str(into)]
    assert cli.run(asked) == 1  # something in it is not told by the model, and is listed
    assert "IsExternal" in capsys.readouterr().out
    result = review(into)
    assert not result.broken
    assert result.spec is not None
    assert set(result.spec.openings) == {"L01", "L03", "L04", "O01", "O02", "O03", "X01"}
    # valid: nothing in it is refused by the format
    assert not [one for one in result.findings() if one.rule.startswith(("format/", "document/", "reference/"))]
    assert any(one.kind is Kind.OPEN for one in result.outcomes)
    before = {path.name: path.read_text() for path in into.iterdir()}
    cli.run(asked)
    assert {path.name: path.read_text() for path in into.iterdir()} == before
    # what was taken from a model does not differ from it
    assert cli.run(["model", str(into), str(EXAMPLES / "terminal_ifc4.ifc"), "--failing-level", "note"]) == 0


@pytest.mark.parametrize("content", ["nothing", "ISO-10303-21;\n"])
def test_a_bad_model_leaves_nothing_behind(content: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "m.ifc").write_text(content)
    assert cli.run(["intake", str(tmp_path / "m.ifc"), "--into", str(tmp_path / "spec")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not (tmp_path / "spec").exists()


# -- ratings and lengths ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "written"),
    [("90", "90 min"), ("90 min", "90 min"), ("1 1/2 h", "90 min"), ("1.5 HR", "90 min"), ("3/4 HR", "45 min"),
     ("EI2 30", "EI2 30"), ("EI230", "EI230"), ("EI120", None), ("EI 120", "EI 120"), ("REI120", "REI120"),
     ("20-MIN", "20 min"), ("-", "none"), ("NR", "none"), ("EI2 30-C5", "EI2 30-C5"), ("2", None), ("1/0 h", None),
     ("fire", None), ("", None), ("7.5", None)],
)
def test_ratings(text: str, written: str | None) -> None:
    assert read_rating(text).written == written


@pytest.mark.parametrize(
    ("text", "minutes", "more"),
    [("EI230", 30, "EI2"), ("EI160", 60, "EI1"), ("EI90", 90, "EI"), ("EI2 120", 120, "EI2"), ("EI 120", 120, "EI"),
     ("EI1120", 120, "EI1"), ("REI120", 120, "REI"), ("E 30", 30, "E"), ("EW30", 30, "EW"), ("EI240", 240, "EI")],
)  # fmt: skip
def test_classes_and_their_minutes(text: str, minutes: int, more: str) -> None:
    """EN 13501-2 (from memory): E, EW, EI1 and EI2 with 15, 20, 30, 45, 60, 90, 120, 180 or 240 minutes."""
    found = read_rating(text)
    assert found.minutes == minutes
    assert found.more == more


@limits(max_examples=150, deadline=None)
@given(st.text(max_size=30))
def test_no_label_breaks_the_reading(text: str) -> None:
    found = read_rating(text)
    assert (found.minutes is None) == (found.written is None)


@limits(max_examples=150, deadline=None)
@given(st.fractions(min_value=Fraction(1, 10), max_value=30), st.booleans())
def test_a_length_reads_back_to_a_tenth_of_a_millimetre(metres: Fraction, imperial: bool) -> None:
    assert abs(parse_quantity(length(metres, imperial), "length").value - metres) <= Fraction(1, 20_000)
