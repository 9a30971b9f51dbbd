"""Door schedules into specs: what is understood, what is refused, and what a second intake does to an author's work."""

from __future__ import annotations

import io
import re
import runpy
import sys
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import doorlint
from doorlint.cli import run
from doorlint.document import parse
from doorlint.format_rules import FORMAT_RULES
from doorlint.intake.cells import HINGES_PULLED, SWING_TOWARDS, Unread, read
from doorlint.intake.columns import LEAST, meaning
from doorlint.intake.records import Cell, IntakeProblem, Record
from doorlint.intake.run import take_in
from doorlint.intake.tables import read_table
from doorlint.intake.write import write_spec

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
EXAMPLES = Path(__file__).parents[2] / "examples" / "intake"


def _book(path: Path, *rows: tuple[Any, ...]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.worksheets[0].append(row)
    book.save(path)
    return path


def _openings(folder: Path) -> Any:
    return parse((folder / "openings.yaml").read_text(encoding="utf-8")).tree["openings"]


@pytest.mark.parametrize(
    ("path", "raw", "unit", "said"),
    [
        ("leaf.width", "3'-0\"", "", {"leaf.width": "3 ft"}),
        ("leaf.width", "3′ 6 1/2″", "", {"leaf.width": "3 ft 6 1/2 in"}),
        ("leaf.width", 915, "mm", {"leaf.width": "915 mm"}),
        ("leaf.width", 36.0, "in", {"leaf.width": "36 in"}),
        ("size", "PR 3'-0\" x 7'-0\"", "", {"leaf.count": 2, "leaf.width": "3 ft", "leaf.height": "7 ft"}),
        ("size", "915 x 2135 mm", "", {"leaf.width": "915 mm", "leaf.height": "2135 mm"}),
        ("fire_rating", 20, "", {"fire_rating": "20 min"}),
        ("fire_rating", "3/4 HR", "", {"fire_rating": "45 min"}),
        ("fire_rating", "45 min", "", {"fire_rating": "45 min"}),
        ("fire_rating", "1 1/2", "h", {"fire_rating": "90 min"}),
        ("fire_rating", "-", "", {"fire_rating": "none"}),
        ("fire_rating", "1½ HR", "", {"fire_rating": "90 min"}),
        ("fire_rating", "¾ hr label", "", {"fire_rating": "45 min"}),
        ("fire_rating", "1-1/2 HR", "", {"fire_rating": "90 min"}),
        ("fire_rating", "EI2 30", "", {"fire_rating": "EI2 30"}),
        ("fire_rating", "EI₂ 30-C5", "", {"fire_rating": "EI2 30-C5"}),
        ("fire_rating", "REI120", "", {"fire_rating": "REI120"}),
        ("fire_rating", "FD30S", "", {"fire_rating": "30 min", "smoke_control": True}),
        ("leaf.width", "3'-6½\"", "", {"leaf.width": "3 ft 6 1/2 in"}),
        ("size", "3070", "ft-in", {"leaf.width": "3 ft", "leaf.height": "7 ft"}),
        ("size", "2868 x 1 3/4\"", "ft-in",
         {"leaf.width": "2 ft 8 in", "leaf.height": "6 ft 8 in", "leaf.thickness": "1 3/4 in"}),
        ("size", "PR 3070", "ft-in", {"leaf.count": 2, "leaf.width": "3 ft", "leaf.height": "7 ft"}),
        ("handing", "LHR", "", {"leaf.hand": "left", SWING_TOWARDS: "unsecured"}),
        ("handing", "RHRB", "", {"leaf.hand": "right", SWING_TOWARDS: "unsecured"}),
        ("handing", "Left Hand Reverse", "", {"leaf.hand": "left", SWING_TOWARDS: "unsecured"}),
        ("handing", "RH", "", {"leaf.hand": "right", SWING_TOWARDS: "secured"}),
        ("handing", "RHR active", "", {"leaf.hand": "right", SWING_TOWARDS: "unsecured"}),
        ("handing", "DIN links", "", {HINGES_PULLED: "left"}),
        ("leaf.hand", "L", "", {"leaf.hand": "left"}),
        ("leaf.hand", "Right", "", {"leaf.hand": "right"}),
        ("stair", "✓", "", {"stair": True}),
        ("stair", "N", "", {"stair": False}),
        ("set", "-", "", {}),
        ("occupancy.load", "TBD", "", {"occupancy.load": None}),
    ],
)
def test_cells_are_understood(path: str, raw: Any, unit: str, said: dict[str, Any]) -> None:
    assert read(path, raw, unit) == said


@pytest.mark.parametrize(
    ("path", "raw"),
    [("leaf.width", 915), ("leaf.width", "9150 mm"), ("size", "3070"), ("fire_rating", 2), ("fire_rating", "C label"),
     ("handing", "left"), ("handing", "R"), ("handing", "LHB"), ("stair", "maybe"), ("set", "#REF!"),
     ("leaf.material", "AL"), ("fire_rating", "EI120"), ("fire_rating", "EI3 0"), ("size", "1021"), ("size", "30100"),
     ("leaf.hand", "LHR")],
)  # fmt: skip
def test_what_could_mean_two_things_is_refused(path: str, raw: Any) -> None:
    with pytest.raises(Unread, match=r"\w+ \w+"):
        read(path, raw)


def test_a_size_run_together_asks_for_the_unit_and_no_impossible_one_is_taken() -> None:
    with pytest.raises(Unread, match=r"perhaps 3'-0\" x 7'-0\" run together; if so, say `unit: ft-in`"):
        read("size", "3070")
    for code in ("1021", "3020", "0570"):  # 1021: 10 x 21 decimetres elsewhere
        with pytest.raises(Unread, match="would be no door"):
            read("size", code, "ft-in")


@pytest.mark.parametrize("unsecured", ["from", "to"])
@pytest.mark.parametrize("towards", ["from", "to"])
@pytest.mark.parametrize("pulled", ["L", "R"])
def test_a_hand_seen_from_the_opening_side_against_geometry(
    unsecured: str, towards: str, pulled: str, tmp_path: Path
) -> None:
    """DIN 107 (from memory): a DIN left door has its hinges at the left for whom it opens towards."""
    side = {"from": -1.0, "to": 1.0}  # the plan: the wall along x, `from` at y < 0, `to` at y > 0

    def left_of(observer: float) -> float:  # the x that lies at the left of somebody who looks at the wall
        return 1.0 if observer > 0 else -1.0

    hinge = left_of(side[towards]) if pulled == "L" else -left_of(side[towards])
    expected = "left" if hinge == left_of(side[unsecured]) else "right"
    source = tmp_path / "s.csv"
    swing = "in" if towards == "from" else "out"  # the spec: `in` is into the space named by `from`
    source.write_text(f"Door No,Hand,Swing in or out,Unsecured side\n1,DIN {pulled},{swing},{unsecured}\n")
    take_in(str(source), str(tmp_path / "spec"))
    mapping = tmp_path / "spec" / "s.columns.yml"
    assert _openings(tmp_path / "spec")["1"]["leaf"] == {"hand": "unknown"}  # the swing is not known yet
    mapping.write_text(re.sub('means: skip, proposed: leaf.swing', "means: leaf.swing", mapping.read_text()))
    take_in(str(source), str(tmp_path / "spec"))
    assert _openings(tmp_path / "spec")["1"]["leaf"] == {"hand": expected, "swing": swing}


def test_a_code_is_understood_once_the_mapping_says_so(tmp_path: Path) -> None:
    source, into = tmp_path / "s.csv", tmp_path / "spec"
    source.write_text("Door No,Size,Hand\n1,3070,left\n2,3068,right\n")
    report, clear = take_in(str(source), str(into))
    assert not clear and _openings(into)["1"]["leaf"] == {"width": "unknown", "height": "unknown", "hand": "unknown"}
    mapping = into / "s.columns.yml"
    text = mapping.read_text().replace("means: size,", "means: size, unit: ft-in,")
    mapping.write_text(text.replace("means: handing", "means: leaf.hand"))
    report, clear = take_in(str(source), str(into))
    assert clear, report
    assert _openings(into)["2"]["leaf"] == {"width": "3 ft", "height": "6 ft 8 in", "hand": "right"}


def test_the_example_is_mended_as_the_readme_says(tmp_path: Path) -> None:
    into = tmp_path / "harbour_annex"
    source = str(EXAMPLES / "harbour_annex.xlsx")
    report, _ = take_in(source, str(into))
    assert f"Next: `doorlint questions {into}`" in report
    mapping = into / "harbour_annex.columns.yml"
    mapping.write_text(mapping.read_text().replace("means: size,", "means: size, unit: ft-in,"))
    report, _ = take_in(source, str(into))
    assert "201: leaf.width: 'unknown' -> '3 ft'" in report and "3070" not in report
    assert "3070" not in (into / "harbour_annex.not-understood.yml").read_text()
    assert _openings(into)["201"]["leaf"]["height"] == "7 ft"


def test_the_same_text_in_many_places_is_told_once(tmp_path: Path) -> None:
    source = tmp_path / "s.csv"
    source.write_text("Door No,Fire rating\n" + "".join(f"{number},soon\n" for number in range(60)))
    report, _ = take_in(str(source), str(tmp_path / "spec"))
    assert report.count("soon") == 1
    assert "60 places: 'soon'" in report and "s!B2, s!B3" in report and re.search(r" and \d+ more\n", report)
    assert (tmp_path / "spec" / "s.not-understood.yml").read_text().count("text: soon") == 60


def test_an_unsure_title_is_proposed_but_not_used() -> None:
    assert meaning("Door No.") == ("opening", 1.0)
    for title in ("Location", "Hardware remarks by others", "Swing"):
        path, certainty = meaning(title)
        assert path and 0 < certainty < LEAST
    assert meaning("Frame material") == ("", 0.0)


def test_the_example_gives_a_valid_spec_and_lists_what_it_did_not_understand(tmp_path: Path) -> None:
    text, clear = take_in(str(EXAMPLES / "harbour_annex.xlsx"), str(tmp_path / "spec"))
    assert not clear
    for place in ("Doors!D11: '3070'", "Doors!L12: 'maybe'", "Annex!B5: '9150'"):
        assert place in text
    result = doorlint.review(tmp_path / "spec")
    assert not result.broken
    assert not [o for o in result.outcomes if o.rule in FORMAT_RULES]
    openings = _openings(tmp_path / "spec")
    assert openings["101"]["leaf"]["count"] == 2 and openings["203"]["from"] == "Corridor"  # merged over two rows
    assert openings["103"]["note"].startswith("=SUM")
    assert openings["201"]["leaf"]["width"] == openings["102"]["unsecured_side"] == "unknown"
    asked = {o.subject for o in result.outcomes if o.kind == "open"}
    assert set(openings) <= asked


def test_the_csv_and_a_newly_made_workbook_say_the_same(tmp_path: Path) -> None:
    runpy.run_path(str(EXAMPLES / "make_schedule.py"))["main"](tmp_path)
    assert (tmp_path / "harbour_annex.csv").read_bytes() == (EXAMPLES / "harbour_annex.csv").read_bytes()
    take_in(str(tmp_path / "harbour_annex.xlsx"), str(tmp_path / "a"))
    take_in(str(EXAMPLES / "harbour_annex.xlsx"), str(tmp_path / "b"))
    assert (tmp_path / "a" / "openings.yaml").read_bytes() == (tmp_path / "b" / "openings.yaml").read_bytes()
    take_in(str(EXAMPLES / "harbour_annex.csv"), str(tmp_path / "c"))
    assert _openings(tmp_path / "c")["104"] == _openings(tmp_path / "a")["104"]


def test_a_second_intake_merges(tmp_path: Path) -> None:
    head = ("Door No", "Set", "To", "Width (in)", "Fire rating")
    source, into = tmp_path / "s.xlsx", tmp_path / "spec"
    _book(source, head, ("1", "A", "office", 36, 20), ("2", "A", "store", 36, 20), ("3", "A", "yard", 36, 20))
    take_in(str(source), str(into))
    file = into / "openings.yaml"
    text = file.read_text().replace("to: office", "to: head office  # our word")
    text = text.replace('  "2":\n', '  "2":\n    # the closer is ours\n    items: {closer: {product: unknown}}\n')
    file.write_text(text.replace("    to: yard\n", "    to: garden\n"))
    _book(source, (*head, "Height (in)"), ("1", "A", "lab", 42, 20, 84), ("2", "B", "store", 36, 45, 84), ("3", "A", "yard", 36, 20, 84), ("4", "A", "x", 36, 20, 84))  # noqa: E501
    (into / "s.columns.yml").unlink()
    report, clear = take_in(str(source), str(into))
    openings, text = _openings(into), file.read_text()
    assert openings["1"]["to"] == "head office" and openings["3"]["to"] == "garden"
    assert openings["1"]["leaf"] == {"width": "42 in", "height": "84 in"}
    assert openings["2"]["set"] == "B" and openings["2"]["fire_rating"] == "45 min"
    assert openings["2"]["items"] == {"closer": {"product": "unknown"}}
    assert "# our word" in text and "# the closer is ours" in text
    assert openings["4"]["to"] == "x" and "B" in (into / "sets.yaml").read_text()
    assert not clear and "spec: 'head office', source: 'lab', source before: 'office'" in report
    assert "garden" not in report  # the source said nothing new there
    before = {path.name: path.read_bytes() for path in into.iterdir()}
    assert "head office" in take_in(str(source), str(into))[0]  # shown until it is settled
    assert {path.name: path.read_bytes() for path in into.iterdir()} == before


_TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12)
_FIELDS = st.dictionaries(st.sampled_from(["to", "note", "leaf.width", "occupancy.group"]), _TEXT, max_size=4)


@settings(max_examples=25, deadline=None)
@given(st.dictionaries(_TEXT.filter(lambda text: text not in ("unknown", "none")), _FIELDS, min_size=1, max_size=4))
def test_a_second_intake_without_change_writes_the_same_bytes(tmp_path_factory: Any, doors: Any) -> None:
    into = tmp_path_factory.mktemp("same") / "spec"
    records = [
        Record(door, {path: Cell(text, text, "S!A1") for path, text in fields.items()}, "S!A1")
        for door, fields in doors.items()
    ]
    write_spec(records, "invented", into)
    tree = parse((into / "openings.yaml").read_text(encoding="utf-8")).tree["openings"]
    for door, fields in doors.items():
        for path, text in fields.items():
            value = tree[door]
            for name in path.split("."):
                value = value[name]
            assert value == text
    before = {path.name: path.read_bytes() for path in into.iterdir()}
    again = write_spec(records, "invented", into)
    assert not again.changes and not again.conflicts
    assert {path.name: path.read_bytes() for path in into.iterdir()} == before


def test_a_mapping_uses_what_was_not_sure_and_a_shifted_column_is_refused(tmp_path: Path) -> None:
    source, into = tmp_path / "s.csv", tmp_path / "spec"
    source.write_text("Door No,Set,Location\n1,A,north\n")
    report, _ = take_in(str(source), str(into))
    assert "column 'Location' is not used (perhaps title" in report and "title" not in _openings(into)["1"]
    mapping = into / "s.columns.yml"
    mapping.write_text(mapping.read_text().replace("means: skip, proposed: title", "means: title"))
    take_in(str(source), str(into))
    assert _openings(into)["1"]["title"] == "north"
    source.write_text("Door No,Location,Set\n1,north,A\n")
    with pytest.raises(IntakeProblem, match="column B has 'Location' in row 1, not 'Set'"):
        take_in(str(source), str(into))


def _bomb() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/workbook.xml", "w") as part:
        for _ in range(410):
            part.write(bytes(1_000_000))
    return held.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.xlsx", b"", "is empty"),
        ("a.xlsx", b"PK\x03\x04 no more", "damaged"),
        ("a.xlsx", _OLE + "EncryptedPackage".encode("utf-16-le"), "protected with a password"),
        ("a.csv", "Door No,Set\n1,caf\xe9\n".encode("cp1252"), "line 2: byte 0xe9 is not utf-8.*cp1252"),
        ("a.csv", "Door No,Set\n".encode("utf-16-le"), "utf-16-le"),
        ("a.csv", b"Door No,Set\n", "no door stands below the header"),
        ("a.csv", b"nothing,of use\n1,2\n", "no door schedule found"),
        ("a.pdf", b"x", "kind of file is not read"),
        ("a.xlsx", _bomb(), "would unpack to 410 MB"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_one_line_and_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, data: bytes, said: str
) -> None:
    (tmp_path / name).write_bytes(data)
    assert run(["intake", str(tmp_path / name), "--into", str(tmp_path / "spec")]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert re.search(said, error)
    assert not (tmp_path / "spec").exists()


def test_encodings_that_are_marked_or_named_are_read(tmp_path: Path) -> None:
    text = "Door No;Set\n1;café\n"
    for name, data, encoding in (
        ("a", text.encode("utf-16"), None),
        ("b", text.encode("cp1252"), "cp1252"),
        ("c", text.encode("utf-8-sig"), None),
    ):  # fmt: skip
        (tmp_path / f"{name}.csv").write_bytes(data)
        assert read_table(tmp_path / f"{name}.csv", encoding).sheets[0].rows[1] == ("1", "café")


def test_a_formula_that_was_never_computed_is_listed(tmp_path: Path) -> None:
    source = _book(tmp_path / "s.xlsx", ("Door No", "Occupant load"), ("1", "=2+3"))
    report, clear = take_in(str(source), str(tmp_path / "spec"))
    assert not clear and "Sheet!B2" in report and "never computed" in report
    assert _openings(tmp_path / "spec")["1"]["occupancy"] == {"load": "unknown"}


def test_numbers_shown_with_leading_zeros_stay_as_shown(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(("Door No", "Set"))
    sheet.append((7, "A"))
    sheet["A2"].number_format = "000"
    book.save(tmp_path / "s.xlsx")
    take_in(str(tmp_path / "s.xlsx"), str(tmp_path / "spec"))
    assert list(_openings(tmp_path / "spec")) == ["007"]


@pytest.mark.parametrize(
    ("library", "name"),
    [("openpyxl", "harbour_annex.xlsx"), ("ruamel.yaml", "harbour_annex.csv")],
)
def test_a_missing_library_is_told_with_the_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, library: str, name: str
) -> None:
    into = tmp_path / "spec"
    take_in(str(EXAMPLES / "harbour_annex.xlsx"), str(into))
    text = (into / "openings.yaml").read_text().replace("    to: Exterior\n", "")
    (into / "openings.yaml").write_text(text)
    (into / "intake-state.json").unlink()  # so that the second intake has something to add
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(IntakeProblem, match=rf"{library}, which is not installed: pip install 'doorlint\[intake\]'"):
        take_in(str(EXAMPLES / name), str(into), columns=None)
    assert (into / "openings.yaml").read_text() == text


def test_without_the_library_for_open_document_the_extra_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with zipfile.ZipFile(tmp_path / "s.ods", "w") as archive:
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
    monkeypatch.setitem(sys.modules, "python_calamine", None)
    with pytest.raises(IntakeProblem, match=r"needs python-calamine.*: pip install 'doorlint\[intake\]'"):
        read_table(tmp_path / "s.ods")


def test_open_document_sheets_are_read(tmp_path: Path) -> None:
    # a minimal OpenDocument spreadsheet, written by hand after OpenDocument 1.3 part 3 (from memory)
    names = " ".join(f'xmlns:{p}="urn:oasis:names:tc:opendocument:xmlns:{p}:1.0"' for p in ("office", "table", "text"))
    rows = (("Door No", "Set"), ("1", "A"))
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    body = "".join(f"<table:table-row>{''.join(map(cell.format, row))}</table:table-row>" for row in rows)
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    path = tmp_path / "s.ods"

    def save(body: str) -> None:
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("mimetype", kind)
            archive.writestr("META-INF/manifest.xml", "<manifest/>")
            archive.writestr(
                "content.xml",
                f'<office:document-content {names}><office:body><office:spreadsheet><table:table table:name="Doors">'
                f"{body}</table:table></office:spreadsheet></office:body></office:document-content>",
            )

    save(body)
    take_in(str(path), str(tmp_path / "spec"))
    assert _openings(tmp_path / "spec")["1"]["set"] == "A"
    save(body.replace("<table:table-row>", '<table:table-row table:number-rows-repeated="900000">'))
    with pytest.raises(IntakeProblem, match="larger than"):
        read_table(path)
