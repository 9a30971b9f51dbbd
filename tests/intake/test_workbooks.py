"""Spreadsheets as programs write them and as nobody should send them: OpenDocument files from an independent library
(odfpy), workbooks that are really encrypted, and files made to exhaust or mislead the reader.

Published sources: OpenDocument 1.3 part 2 (packages: encryption) and part 3 (spreadsheets), ECMA-376, both from memory;
the Office encryption (MS-OFFCRYPTO) is made by msoffcrypto-tool.
"""

from __future__ import annotations

import hashlib
import io
import secrets
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from cryptography.hazmat.primitives import padding
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
from msoffcrypto.format.ooxml import OOXMLFile
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P

from doorlint.cli import run
from doorlint.document import parse
from doorlint.intake import tables
from doorlint.intake.records import IntakeProblem
from doorlint.intake.run import take_in
from doorlint.intake.tables import read_table

EXAMPLES = Path(__file__).parents[2] / "examples" / "intake"


def _text(text: str, **more: Any) -> Any:
    cell = TableCell(valuetype="string", **more)
    cell.addElement(P(text=text))
    return cell


def _number(value: float, **more: Any) -> Any:
    return TableCell(valuetype="float", value=value, **more)


def _ods(path: Path, *rows: tuple[Any, ...], name: str = "Doors") -> Path:
    document = OpenDocumentSpreadsheet()
    table = Table(name=name)
    document.spreadsheet.addElement(table)
    for row in rows:
        made = TableRow()
        for cell in row:
            made.addElement(_text(cell) if isinstance(cell, str) else _number(cell) if isinstance(cell, int) else cell)
        table.addElement(made)
    document.save(path)
    return path


def _openings(folder: Path) -> Any:
    return parse((folder / "openings.yaml").read_text(encoding="utf-8")).tree["openings"]


# -- OpenDocument ----------------------------------------------------------------------------------


def test_merged_cells_and_uncomputed_formulas_of_open_document(tmp_path: Path) -> None:
    source = _ods(
        tmp_path / "s.ods",
        (_text("Invented schedule", numbercolumnsspanned=4), CoveredTableCell(numbercolumnsrepeated=3)),
        ("Door No", "From", "To", "Occupant load"),
        ("1", _text("Hall", numberrowsspanned=2), "Office", 4),
        ("2", CoveredTableCell(), "Store", TableCell(formula="of:=2+3")),
        ("3", "Yard", "Shed", _number(5, formula="of:=2+3")),
    )
    report, clear = take_in(str(source), str(tmp_path / "spec"))
    openings = _openings(tmp_path / "spec")
    assert openings["2"]["from"] == "Hall"  # merged over two rows
    assert openings["3"]["from"] == "Yard"
    assert openings["2"]["occupancy"] == {"load": "unknown"}
    assert openings["3"]["occupancy"] == {"load": 5}
    assert not clear and "Doors!D4: '': a formula that was never computed" in report


def test_formulas_and_merges_keep_their_places_behind_repeats(tmp_path: Path) -> None:
    source = _ods(
        tmp_path / "s.ods",
        ("Door No", "a", "b", "Occupant load"),
        ("1", _text("x", numbercolumnsrepeated=2), TableCell(formula="of:=[.A1]")),
    )
    sheet = read_table(source).sheets[0]
    assert sheet.rows[1][:3] == ("1", "x", "x")
    assert sheet.uncomputed == {(1, 3)}


def _encrypted_ods(source: Path, target: Path, password: str) -> None:
    """Encrypt every part of the content, as OpenDocument 1.2 part 3, 3.4 and 4.8 say (AES-256-CBC, key by PBKDF2)."""
    entries = []
    with zipfile.ZipFile(source) as plain, zipfile.ZipFile(target, "w") as made:
        made.writestr("mimetype", plain.read("mimetype"))
        for name in ("content.xml", "styles.xml"):
            data = plain.read(name)
            packer = zlib.compressobj(9, zlib.DEFLATED, -15)
            packed = packer.compress(data) + packer.flush()
            salt, start = secrets.token_bytes(16), secrets.token_bytes(16)
            key = hashlib.pbkdf2_hmac("sha1", hashlib.sha256(password.encode()).digest(), salt, 1024, 32)
            pad = padding.PKCS7(128).padder()
            encryptor = Cipher(algorithms.AES(key), modes.CBC(start)).encryptor()
            made.writestr(name, encryptor.update(pad.update(packed) + pad.finalize()) + encryptor.finalize())
            entries.append(
                f'<manifest:file-entry manifest:full-path="{name}" manifest:size="{len(data)}">'
                '<manifest:encryption-data><manifest:algorithm manifest:algorithm-name="aes256-cbc"/>'
                "</manifest:encryption-data></manifest:file-entry>"
            )
        made.writestr(
            "META-INF/manifest.xml",
            '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
            f"{''.join(entries)}</manifest:manifest>",
        )


def _encrypted_xlsx(source: Path, target: Path, password: str) -> None:
    with source.open("rb") as plain, target.open("wb") as made:
        OOXMLFile(plain).encrypt(password, made)


@pytest.mark.parametrize("ending", ["xlsx", "ods"])
def test_files_that_are_really_encrypted_are_told(
    ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    locked = tmp_path / f"locked.{ending}"
    if ending == "xlsx":
        _encrypted_xlsx(EXAMPLES / "harbour_annex.xlsx", locked, "invented")
    else:
        _encrypted_ods(_ods(tmp_path / "s.ods", ("Door No", "Set"), ("1", "A")), locked, "invented")
    assert run(["intake", str(locked), "--into", str(tmp_path / "spec")]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "is protected with a password; save it without one" in error
    assert not (tmp_path / "spec").exists()


# -- files that are too large, or made to be ---------------------------------------------------------


def _rewritten(source: Path, target: Path, change: Callable[[str, bytes], bytes]) -> Path:
    """A copy of a packed file with some of its parts changed."""
    with zipfile.ZipFile(source) as before, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as after:
        for part in before.infolist():
            after.writestr(part.filename, change(part.filename, before.read(part)))
    return target


def test_a_sheet_with_too_many_rows_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [("Door No", "Set"), *((str(number), "A") for number in range(50))]
    book = openpyxl.Workbook()
    for row in rows:
        book.worksheets[0].append(row)
    book.save(tmp_path / "s.xlsx")
    (tmp_path / "s.csv").write_text("".join(f"{','.join(row)}\n" for row in rows))
    _ods(tmp_path / "s.ods", *rows)
    for limit, name in ((51, "MOST_ROWS"), (102, "MOST_CELLS")):
        for ending in ("xlsx", "csv", "ods"):
            with monkeypatch.context() as within:
                within.setattr(tables, name, limit)
                assert len(read_table(tmp_path / f"s.{ending}").sheets[0].rows) == 51
                within.setattr(tables, name, limit - 1)
                with pytest.raises(IntakeProblem, match="is larger than"):
                    read_table(tmp_path / f"s.{ending}")


def test_a_stray_cell_far_below_is_refused_and_not_laid_out(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(("Door No", "Set"))
    sheet["A1048576"] = "stray"
    book.save(tmp_path / "s.xlsx")
    with pytest.raises(IntakeProblem, match="a stray cell far below counts"):
        read_table(tmp_path / "s.xlsx")
    wide = _text("x", numbercolumnsrepeated=16_000)
    source = _ods(tmp_path / "s.ods", ("Door No",), (wide,))
    doubled = _rewritten(
        source,
        tmp_path / "b.ods",
        lambda _, data: data.replace(b"<table:table-row>", b'<table:table-row table:number-rows-repeated="400">'),
    )
    with pytest.raises(IntakeProblem, match="larger than"):
        read_table(doubled)


def test_merged_areas_that_overlap_a_thousandfold_are_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for _ in range(300):
        sheet.append(("x",) * 100)
    sheet["CW300"] = "beyond"
    sheet.merge_cells("A1:CV300")
    book.save(tmp_path / "s.xlsx")
    area = b'<mergeCell ref="A1:CV300"/>'
    _rewritten(tmp_path / "s.xlsx", tmp_path / "b.xlsx", lambda _, data: data.replace(area, area * 1000))
    assert read_table(tmp_path / "s.xlsx").sheets[0].at(299, 99) == "x"
    with pytest.raises(IntakeProblem, match="merged cells cover more than"):
        read_table(tmp_path / "b.xlsx")


@pytest.mark.parametrize("ending", ["xlsx", "ods"])
def test_entities_are_not_read(ending: str, tmp_path: Path) -> None:
    source = EXAMPLES / "harbour_annex.xlsx"
    part = "xl/worksheets/sheet1.xml"
    if ending == "ods":
        source, part = _ods(tmp_path / "s.ods", ("Door No", "Set"), ("1", "A")), "content.xml"
    laughs = b"".join(b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10) for n in range(1, 9))
    # behind a comment, so that a look at the first few thousand bytes would not see it
    doctype = b"<!--" + b" " * 5000 + b'--><!DOCTYPE x [<!ENTITY l0 "ha">' + laughs + b"]>"

    def change(name: str, data: bytes) -> bytes:
        if name != part:
            return data
        head, mark, rest = data.partition(b"?>")
        return head + mark + doctype + rest if mark else doctype + data

    bomb = _rewritten(source, tmp_path / f"b.{ending}", change)
    with pytest.raises(IntakeProblem, match="document type declaration"):
        read_table(bomb)
    wide = _rewritten(
        source,
        tmp_path / f"w.{ending}",
        lambda name, data: data.decode().encode("utf-16") if name == part else data,
    )
    with pytest.raises(IntakeProblem, match="is not in UTF-8"):
        read_table(wide)


def test_a_size_that_the_archive_lies_about_is_no_way_round_the_limit(tmp_path: Path) -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", bytes(50_000_000))
    # the declared size, in the local header and in the directory, is made 100 bytes
    data = held.getvalue().replace((50_000_000).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    (tmp_path / "s.xlsx").write_bytes(data)
    with pytest.raises(IntakeProblem, match="damaged or no spreadsheet"):
        read_table(tmp_path / "s.xlsx")


def test_too_large_a_file_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "s.csv").open("wb") as file:
        file.truncate(tables.MOST_BYTES + 1)
    with pytest.raises(IntakeProblem, match="is larger than 64 MB"):
        read_table(tmp_path / "s.csv")


# -- texts that look like commands --------------------------------------------------------------------

FORMULAS = ("=SUM(A1)", "+1+1", "-1+1", "@SUM(A1)", '=cmd|"/c calc"!A1', "\t=1", "=HYPERLINK(\"x\",\"y\")")


@pytest.mark.parametrize("ending", ["csv", "xlsx", "ods"])
def test_texts_that_look_like_formulas_stay_texts(ending: str, tmp_path: Path) -> None:
    rows = [("Door No", "Remarks"), *((f"D{n}", text) for n, text in enumerate(FORMULAS))]
    source = tmp_path / f"s.{ending}"
    if ending == "ods":
        _ods(source, *rows)
    elif ending == "xlsx":
        book = openpyxl.Workbook()
        for number, row in enumerate(rows, 1):
            for column, text in enumerate(row, 1):
                cell = book.worksheets[0].cell(number, column)
                cell.value, cell.data_type = text, "s"
        book.save(source)
    else:
        quoted = (",".join('"' + text.replace('"', '""') + '"' for text in row) for row in rows)
        source.write_text("".join(f"{line}\n" for line in quoted))
    take_in(str(source), str(tmp_path / "spec"))
    openings = _openings(tmp_path / "spec")
    # nothing computed, nothing dropped; blanks at the ends are no part of a cell's text
    assert [one["note"] for one in openings.values()] == [text.strip() for text in FORMULAS]


def test_a_formula_is_read_by_its_value_and_never_computed(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (("Door No", "Remarks"), ("1", '=HYPERLINK("x","y")')):
        book.worksheets[0].append(row)
    book.save(tmp_path / "s.xlsx")
    _rewritten(
        tmp_path / "s.xlsx",
        tmp_path / "v.xlsx",
        lambda _, data: data.replace(b"</f><v></v>", b"</f><v>7</v>").replace(b"</f><v/>", b"</f><v>7</v>"),
    )
    report, clear = take_in(str(tmp_path / "s.xlsx"), str(tmp_path / "a"))
    assert not clear and "never computed" in report
    take_in(str(tmp_path / "v.xlsx"), str(tmp_path / "b"))
    assert _openings(tmp_path / "b")["1"]["note"] == "7"


@pytest.mark.parametrize(
    ("data", "encoding", "told"),
    [
        (b"Door No,Set\n1,\xff\n", None, "line 2: byte 0xff is not utf-8"),
        (b"Door No,Set\n1,\x81\n", "cp1252", "line 2: byte 0x81 is not cp1252"),
        (b"Door No,Set\n1,A\n", "klingon", "no encoding 'klingon'"),
        (b"Door No,Set\n1,A\n", "rot13", "rot13"),
        (b"\xff\xfeD\x00o", "utf-32", "is not utf-32"),
        ("Door No,Set\n1,ü\n".encode("utf-16-be"), None, "NUL|is not utf-8"),
        (b'Door No,Set\n1,"A\n2,B\n', None, "cannot be read as CSV"),
    ],
)
def test_wrong_encodings_are_one_line(data: bytes, encoding: str | None, told: str, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_bytes(data)
    with pytest.raises(IntakeProblem, match=told) as caught:
        read_table(tmp_path / "s.csv", encoding)
    assert "\n" not in str(caught.value)
