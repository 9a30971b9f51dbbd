"""Spreadsheets and CSV files as plain rows, within limits: the libraries read, this module keeps them in bounds.

openpyxl reads .xlsx, row by row. python-calamine reads .ods: of the libraries for it, it is the one that is kept up
and widely used. CSV is read by the standard library.
"""

from __future__ import annotations

import csv
import io
import re
import stat
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, TypeAlias
from xml.etree import ElementTree

from .cells import Raw
from .records import IntakeProblem

Progress: TypeAlias = Callable[[str, int, int], None]

MOST_BYTES: Final = 64_000_000
"""The largest file."""
MOST_UNPACKED: Final = 400_000_000
"""The most that a spreadsheet, which is a ZIP archive, may unpack to."""
MOST_ROWS: Final = 200_000
MOST_CELLS: Final = 5_000_000
_ENCODINGS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_OLE: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet. `rows[0]` is row 1. `merged`: where a merged area covers a cell, the cell that holds its value, both
    as (row, column) from 0. `uncomputed`: formulas that no program has computed yet. `hidden`: the sheet is."""

    name: str
    rows: tuple[tuple[Raw, ...], ...]
    merged: Mapping[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    uncomputed: frozenset[tuple[int, int]] = frozenset()
    hidden: bool = False

    def at(self, row: int, column: int) -> Raw:
        """The value of a cell; that of a merged area holds for all its cells."""
        row, column = self.merged.get((row, column), (row, column))
        cells = self.rows[row] if row < len(self.rows) else ()
        return cells[column] if column < len(cells) else None


@dataclass(frozen=True, slots=True)
class Table:
    """One file. `notes`: how it was read, where that was not plain."""

    sheets: tuple[Sheet, ...]
    notes: tuple[str, ...] = ()


def letters(column: int) -> str:
    """The name of a column, counted from 0: A, B ... Z, AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def read_table(path: Path, encoding: str | None = None, progress: Progress | None = None) -> Table:
    """Read .xlsx, .ods or .csv (also .tsv, .txt). Raises IntakeProblem with one line for the user."""
    try:
        if path.is_dir():
            raise IntakeProblem(f"{path}: is a folder; name a file")
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise IntakeProblem(f"{path}: is no regular file; a door schedule is expected")
        size = status.st_size
        if size > MOST_BYTES:
            raise IntakeProblem(f"{path}: is larger than {MOST_BYTES // 1_000_000} MB; split it")
        data = path.read_bytes()
    except OSError as error:
        raise IntakeProblem(f"{path}: cannot be read: {(error.strerror or str(error)).lower()}") from error
    except ValueError as error:  # a NUL in the name
        raise IntakeProblem(f"{str(path)!r}: is no file name") from error
    ending = path.suffix.lower()
    if ending in (".csv", ".tsv", ".txt"):
        return _csv(path, data, encoding, progress)
    if encoding is not None:
        raise IntakeProblem(f"{path}: --encoding is for CSV files")
    if ending not in (".xlsx", ".xlsm", ".ods"):
        raise IntakeProblem(f"{path}: this kind of file is not read; .xlsx, .ods, .csv are (save it as one of them)")
    archive = _archive(path, data)
    try:
        return Table(tuple(_ods(path, archive, progress) if ending == ".ods" else _xlsx(path, data, archive, progress)))
    except (IntakeProblem, MemoryError, KeyboardInterrupt):
        raise
    except Exception as error:  # the libraries raise whatever a damaged file makes them trip over
        raise _damaged(path, error) from error


def _damaged(path: Path, error: Exception) -> IntakeProblem:
    what = " ".join(str(error).split())[:120] or type(error).__name__
    return IntakeProblem(
        f"{path}: is damaged or no spreadsheet ({what}); open it in a spreadsheet program and save it anew"
    )


def _archive(path: Path, data: bytes) -> zipfile.ZipFile:
    if not data:
        raise IntakeProblem(f"{path}: is empty")
    if data.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise IntakeProblem(f"{path}: is protected with a password; save it without one")
        raise IntakeProblem(f"{path}: is a workbook of the old format; save it as .xlsx")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise _damaged(path, error) from error
    # zipfile hands out no more of a part than the size declared for it, so that the declared sizes are the bound
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_UNPACKED or len(parts) > 10_000:
        raise IntakeProblem(
            f"{path}: would unpack to {unpacked // 1_000_000} MB in {len(parts)} parts; at most "
            f"{MOST_UNPACKED // 1_000_000} MB are read"
        )
    if any(part.flag_bits & 1 for part in parts):
        raise IntakeProblem(f"{path}: is protected with a password; save it without one")
    return archive


def _needs(path: Path, library: str) -> IntakeProblem:
    return IntakeProblem(f"{path}: reading it needs {library}, which is not installed: pip install 'doorlint[intake]'")


def _spread(
    path: Path, areas: Iterable[tuple[int, int, int, int]], rows: int, width: int
) -> dict[tuple[int, int], tuple[int, int]]:
    """Merged areas (first row, first column, last row, last column) as a table from covered cell to holding cell."""
    covered: dict[tuple[int, int], tuple[int, int]] = {}
    visited = 0
    for top, left, lowest, rightmost in areas:
        bottom, right = min(lowest, rows - 1), min(rightmost, width - 1)
        visited += max(0, bottom - top + 1) * max(0, right - left + 1)
        if visited > MOST_CELLS:
            raise IntakeProblem(f"{path}: its merged cells cover more than {MOST_CELLS} cells; undo the merging")
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                if (row, column) != (top, left):
                    covered[row, column] = (top, left)
    return covered


def _within(path: Path, sheet: str, rows: int, cells: int) -> None:
    if rows > MOST_ROWS or cells > MOST_CELLS:
        raise IntakeProblem(
            f"{path}: sheet {sheet!r} is larger than {MOST_ROWS} rows or {MOST_CELLS} cells; delete what is no "
            "schedule (a stray cell far below counts)"
        )


# ----------------------------------------------------------------------------------------------------
# .xlsx


def _xlsx(path: Path, data: bytes, archive: zipfile.ZipFile, progress: Progress | None) -> Iterator[Sheet]:
    try:
        import openpyxl
    except ModuleNotFoundError as error:
        raise _needs(path, "openpyxl") from error
    _no_entities(path, archive)
    marks = _marks(archive)
    # door numbers such as 007 that are numbers shown with leading zeros: looking at each cell's format takes longer
    padded = "xl/styles.xml" in archive.namelist() and _ZEROS.search(archive.read("xl/styles.xml")) is not None
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    try:
        for worksheet in book.worksheets:
            sheet: Any = worksheet
            name = str(sheet.title)
            of = sheet.max_row or 0
            sheet.reset_dimensions()  # some programs state a wrong size, or the whole grid
            rows: list[tuple[Raw, ...]] = []
            cells = width = 0
            for cells_read in sheet.iter_rows(values_only=not padded):
                row = tuple(_as_shown(cell) for cell in cells_read) if padded else cells_read
                rows.append(row)
                cells += len(row)
                width = max(width, len(row))
                _within(path, name, len(rows), cells)
                if progress is not None and len(rows) % 500 == 0:
                    progress(f"reading {name}", len(rows), max(of, len(rows)))
            areas, uncomputed = marks.get(name, ((), frozenset()))
            merged = _spread(path, areas, len(rows), width)
            yield Sheet(name, tuple(rows), merged, uncomputed, sheet.sheet_state != "visible")
    finally:
        book.close()


_ZEROS: Final = re.compile(rb'formatCode="0{2,}"')


def _as_shown(cell: Any) -> Raw:
    """The value of a cell; a whole number that is shown with leading zeros as the text that people see."""
    value: Raw = cell.value
    if type(value) is int and value >= 0 and re.fullmatch("0{2,}", cell.number_format):
        return str(value).zfill(len(cell.number_format))
    return value


def _no_entities(path: Path, archive: zipfile.ZipFile) -> None:
    """No spreadsheet has a document type (Office Open XML forbids it, ECMA-376 part 2, 8.2.5, from memory); entities in
    one are a way to make a small file grow without bound, or to reach for other files."""
    for part in archive.infolist():
        if part.filename.endswith((".xml", ".rels")):
            with archive.open(part) as file:
                head = file.read(_PROLOGUE)
            if b"\0" in head[:4] or head.startswith((b"\xff\xfe", b"\xfe\xff")):
                raise IntakeProblem(f"{path}: its part {part.filename} is not in UTF-8; save it anew")
            first = _FIRST_ELEMENT.search(head)
            if b"<!DOCTYPE" in head[: first.start() if first else None] or (not first and len(head) == _PROLOGUE):
                raise IntakeProblem(f"{path}: holds a document type declaration, which no spreadsheet has; not read")


_PROLOGUE: Final = 65_536
_FIRST_ELEMENT: Final = re.compile(rb"<[A-Za-z_]")
_MERGE: Final = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')
# a formula cell without a computed value: <c r="B2"><f>..</f></c>, or with an empty <v/>
_CELL: Final = re.compile(
    rb'<(?:\w+:)?c\s[^>]*?r="([A-Z]+)(\d+)"[^>/]*>\s*<(?:\w+:)?f(?:\s[^>]*)?(?:/>|>[^<]*</(?:\w+:)?f>)\s*'
    rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_Areas: TypeAlias = tuple[tuple[int, int, int, int], ...]


def _marks(archive: zipfile.ZipFile) -> dict[str, tuple[_Areas, frozenset[tuple[int, int]]]]:
    """Per sheet what openpyxl does not tell while it reads row by row: merged areas and formulas without value."""
    names = _parts(archive)
    found = {}
    for title, part in names.items():
        text = archive.read(part)
        areas = tuple(
            (int(top) - 1, _index(left), int(bottom) - 1, _index(right))
            for left, top, right, bottom in _MERGE.findall(text)
        )
        formulas = _CELL.findall(text) if b"<f" in text or b":f" in text else []
        found[title] = (areas, frozenset((int(row) - 1, _index(column)) for column, row in formulas))
    return found


def _index(letters_: bytes) -> int:
    number = 0
    for letter in letters_:
        number = number * 26 + letter - 64
    return number - 1


def _parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """The name of each sheet and the part of the archive that holds it (ECMA-376 part 1, 18.2.20)."""
    book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    links = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {link.get("Id"): link.get("Target", "") for link in links}
    held = set(archive.namelist())
    parts = {}
    for node in book.iter():
        if node.tag.rpartition("}")[2] == "sheet":
            link = next((value for key, value in node.attrib.items() if key.rpartition("}")[2] == "id"), None)
            target = targets.get(link, "")
            part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            if part in held:
                parts[node.get("name", "")] = part
    return parts


# ----------------------------------------------------------------------------------------------------
# .ods


def _ods(path: Path, archive: zipfile.ZipFile, progress: Progress | None) -> Iterator[Sheet]:
    try:
        import python_calamine
    except ModuleNotFoundError as error:
        raise _needs(path, "python-calamine") from error
    if b"encryption-data" in archive.read("META-INF/manifest.xml"):
        raise IntakeProblem(f"{path}: is protected with a password; save it without one")
    _no_entities(path, archive)
    marks = _ods_marks(path, archive)
    book = python_calamine.load_workbook(path)
    hidden = {one.name for one in book.sheets_metadata if one.visible != python_calamine.SheetVisibleEnum.Visible}
    for number, name in enumerate(book.sheet_names):
        if progress is not None:
            progress(f"reading {name}", number, len(book.sheet_names))
        sheet = book.get_sheet_by_name(name)
        rows = tuple(
            tuple(None if cell == "" else cell for cell in row) for row in sheet.to_python(skip_empty_area=False)
        )
        areas, uncomputed = marks.get(name, ((), frozenset()))
        merged = _spread(path, areas, len(rows), max(map(len, rows), default=0))
        yield Sheet(name, rows, merged, uncomputed, hidden=name in hidden)


def _ods_marks(path: Path, archive: zipfile.ZipFile) -> dict[str, tuple[_Areas, frozenset[tuple[int, int]]]]:
    """Per sheet what the library does not tell, merged areas and formulas without value; and on the way the cells are
    counted that repeats stand for, before the library lays them out (OpenDocument 1.3 part 3, 19.676, 19.678, 19.679,
    19.681, from memory)."""
    found: dict[str, tuple[_Areas, frozenset[tuple[int, int]]]] = {}
    areas: list[tuple[int, int, int, int]] = []
    formulas: list[tuple[int, int]] = []
    row = cells = column = used = 0
    name = ""
    with archive.open("content.xml") as file:
        for event, node in ElementTree.iterparse(file, ("start", "end")):
            tag = node.tag
            if event == "start":
                if tag == f"{_TABLE}table":
                    name = node.get(f"{_TABLE}name", "")
                    areas, formulas, row, column, used = [], [], 0, 0, 0
            elif tag in _CELLS:
                count = _count(node, "number-columns-repeated")
                wide, high = _count(node, "number-columns-spanned"), _count(node, "number-rows-spanned")
                formula = node.get(f"{_TABLE}formula") is not None
                if wide > 1 or high > 1:
                    areas.append((row, column, row + high - 1, column + wide - 1))
                if formula and node.get(f"{_OFFICE}value-type") is None:
                    _within(path, name, row, count)
                    formulas += ((row, column + more) for more in range(count))
                column += count
                if formula or len(node) or node.get(f"{_OFFICE}value-type") is not None:
                    used = column
            elif tag == f"{_TABLE}table-row":
                repeats = _count(node, "number-rows-repeated")
                row += repeats
                if used:
                    cells += repeats * used
                    _within(path, name, row, cells)
                column = used = 0
                node.clear()
            elif tag == f"{_TABLE}table":
                found[name] = (tuple(areas), frozenset(formulas))
    return found


_TABLE: Final = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE: Final = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_CELLS: Final = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")


def _count(node: ElementTree.Element, name: str) -> int:
    return max(1, int(node.get(_TABLE + name, "1")))


# ----------------------------------------------------------------------------------------------------
# CSV


def _csv(path: Path, data: bytes, encoding: str | None, progress: Progress | None) -> Table:
    if not data.strip():
        raise IntakeProblem(f"{path}: is empty")
    text, notes = _decoded(path, data, encoding)
    separator = _separator(text)
    named = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}[separator]
    rows: list[tuple[Raw, ...]] = []
    cells = 0
    lines = text.count("\n") if progress is not None else 0
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            rows.append(tuple(cell or None for cell in row))
            cells += len(row)
            _within(path, path.name, len(rows), cells)
            if progress is not None and len(rows) % 500 == 0:
                progress(f"reading {path.name}", len(rows), max(lines, len(rows)))
    except csv.Error as error:
        raise IntakeProblem(
            f"{path}: row {len(rows) + 1} cannot be read as CSV: {error} (a quotation mark not closed?)"
        ) from error
    return Table((Sheet(path.stem, tuple(rows)),), (*notes, f"read as CSV with {named} between the fields"))


def _decoded(path: Path, data: bytes, encoding: str | None) -> tuple[str, tuple[str, ...]]:
    """The text: by the byte order mark, as UTF-8, or in the encoding that the user names; never by a guess."""
    if encoding is None:
        encoding = next((name for mark, name in _ENCODINGS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except LookupError as error:
        raise IntakeProblem(
            f"{path}: there is no encoding {encoding!r}; utf-8, utf-16 and cp1252 are common ones"
        ) from error
    except UnicodeError as error:
        at = getattr(error, "start", 0)
        line = data.count(b"\n", 0, at) + 1
        what = f"byte 0x{data[at]:02x}" if at < len(data) else "the end"
        advice = "; `--encoding cp1252` if it comes from a Western Windows program" if encoding == "utf-8" else ""
        raise IntakeProblem(
            f"{path}: line {line}: {what} is not {encoding}; name the file's encoding{advice}"
        ) from error
    if "\0" in text:
        raise IntakeProblem(
            f"{path}: holds NUL characters; if it is UTF-16 without a byte order mark: --encoding utf-16-le"
        )
    return text.removeprefix("\ufeff"), () if encoding in ("utf-8", "utf-8-sig") else (f"read as {encoding}",)


def _separator(text: str) -> str:
    """The separator that cuts most of the first lines into equally many fields."""
    head = "".join(line for _, line in zip(range(60), io.StringIO(text, newline=""), strict=False))

    def worth(separator: str) -> tuple[int, int]:
        counts = [len(row) for row in csv.reader(io.StringIO(head, newline=""), delimiter=separator) if any(row)]
        counts = [count for count in counts if count > 1]
        best = max(set(counts), key=lambda count: (counts.count(count), count), default=0)
        return counts.count(best), best

    return max((",", ";", "\t", "|"), key=worth)
