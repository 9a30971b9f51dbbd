"""How long an intake takes, beside the reading library's own time for the bare cells, in one run.

    python -m tests.bench.intake --rows 5000 --rounds 5

Of each kind of source: the library alone, then a first intake, the same again, again with a tenth of the rows changed,
and again with a column more. Times are medians in seconds; the ratio is to the library's own time.
"""

from __future__ import annotations

import argparse
import csv
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from doorlint.intake.run import take_in

HEADER = (
    "Door No", "From", "To", "Size", "Material", "Fire rating", "Hardware set", "Hand", "Occupant load", "Remarks",
)  # fmt: skip
RATINGS = (20, "45 min", "-", "1 1/2 HR")
STEPS = ("the library alone", "first intake", "the same again", "a tenth changed", "a column more")


def rows(count: int, *, changed: bool = False, more: bool = False) -> Iterator[tuple[Any, ...]]:
    """An invented schedule, the same at each call."""
    yield HEADER + (("Smoke control",) if more else ())
    for number in range(count):
        revised = " (revised)" if changed and number % 10 == 0 else ""
        row = (
            f"{number // 100 + 1}{number % 100:02}.{number}", "Corridor", f"Room {number}{revised}", "3'-0\" x 7'-0\"",
            "HM", RATINGS[number % 4], f"HW-{number % 40:02}", "RHR", number % 50, f"note {number}",
        )  # fmt: skip
        yield row + (("Y" if number % 3 else "N",) if more else ())


def write_csv(path: Path, table: Iterator[tuple[Any, ...]]) -> None:
    """The table as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(table)


def read_csv(path: Path) -> int:
    """How many cells the standard library finds."""
    with path.open(encoding="utf-8", newline="") as file:
        return sum(len(row) for row in csv.reader(file))


def write_xlsx(path: Path, table: Iterator[tuple[Any, ...]]) -> None:
    """The table as a workbook."""
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Doors")
    for row in table:
        sheet.append(row)
    book.save(path)


def read_xlsx(path: Path) -> int:
    """How many cells openpyxl finds, read row by row, values alone."""
    import openpyxl

    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    return sum(len(row) for sheet in book.worksheets for row in sheet.iter_rows(values_only=True))


def write_ods(path: Path, table: Iterator[tuple[Any, ...]]) -> None:
    """The table as an OpenDocument spreadsheet."""
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    sheet = Table(name="Doors")
    document.spreadsheet.addElement(sheet)
    for row in table:
        made = TableRow()
        for value in row:
            number = isinstance(value, int)
            cell = TableCell(valuetype="float", value=value) if number else TableCell(valuetype="string")
            cell.addElement(P(text=str(value)))
            made.addElement(cell)
        sheet.addElement(made)
    document.save(path)


def read_ods(path: Path) -> int:
    """How many cells python-calamine finds."""
    import python_calamine

    book = python_calamine.load_workbook(path)
    return sum(len(row) for name in book.sheet_names for row in book.get_sheet_by_name(name).to_python())


def write_ifc(path: Path, table: Iterator[tuple[Any, ...]]) -> None:
    """The doors of the table as a model, written out; a column more is a property more."""
    next(table)
    lines = [
        "#1=IFCPROJECT('0000000000000000000001',$,'Invented',$,$,$,$,$,#3);",
        "#2=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);",
        "#3=IFCUNITASSIGNMENT((#2));",
    ]
    for number, row in enumerate(table):
        at = 10 * (number + 1)
        more = f",#{at + 4}" if len(row) > len(HEADER) else ""
        lines += (
            f"#{at}=IFCDOOR('{at:022}',$,'{row[2]}',$,$,$,$,'{row[0]}',2134.,914.,.DOOR.,.SINGLE_SWING_LEFT.,$);",
            f"#{at + 1}=IFCPROPERTYSET('{at + 1:022}',$,'Pset_DoorCommon',$,(#{at + 3}{more}));",
            f"#{at + 2}=IFCRELDEFINESBYPROPERTIES('{at + 2:022}',$,$,$,(#{at}),#{at + 1});",
            f"#{at + 3}=IFCPROPERTYSINGLEVALUE('FireRating',$,IFCLABEL('{row[5]}'),$);",
        )
        if more:
            lines.append(f"#{at + 4}=IFCPROPERTYSINGLEVALUE('SmokeStop',$,IFCBOOLEAN(.T.),$);")
    body = "\n".join(lines)
    path.write_text(
        "ISO-10303-21;\nHEADER;FILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
        f"FILE_SCHEMA(('IFC4'));ENDSEC;\nDATA;\n{body}\nENDSEC;\nEND-ISO-10303-21;\n"
    )


def read_ifc(path: Path) -> int:
    """How many doors ifcopenshell finds, with their property sets."""
    import ifcopenshell
    import ifcopenshell.util.element

    file: Any = ifcopenshell.open(str(path))
    return sum(len(ifcopenshell.util.element.get_psets(door)) for door in file.by_type("IfcDoor"))


KINDS: dict[str, tuple[Callable[[Path, Iterator[tuple[Any, ...]]], None], Callable[[Path], int]]] = {
    "csv": (write_csv, read_csv),
    "xlsx": (write_xlsx, read_xlsx),
    "ods": (write_ods, read_ods),
    "ifc": (write_ifc, read_ifc),
}


def measure(kind: str, count: int, folder: Path) -> dict[str, float]:
    """One round: step -> seconds. Raises AssertionError where an intake did not do what the step is named after."""
    write, read = KINDS[kind]
    source, into = folder / f"doors.{kind}", folder / "spec"
    write(source, rows(count))
    took = {STEPS[0]: _timed(lambda: read(source))[0]}
    took[STEPS[1]], _ = _timed(lambda: take_in(str(source), str(into)))
    took[STEPS[2]], (told, _) = _timed(lambda: take_in(str(source), str(into)))
    assert "Nothing written" in told
    write(source, rows(count, changed=True))
    took[STEPS[3]], (told, _) = _timed(lambda: take_in(str(source), str(into)))
    assert f"{len(range(0, count, 10))} change" in told
    write(source, rows(count, more=True))
    (into / "doors.columns.yml").unlink(missing_ok=True)
    took[STEPS[4]], (told, _) = _timed(lambda: take_in(str(source), str(into)))
    assert f"{count + len(range(0, count, 10))} change" in told
    shutil.rmtree(into)
    return took


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    made = work()
    return time.perf_counter() - begun, made


def main(arguments: list[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=5000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--kinds", nargs="*", choices=sorted(KINDS), default=sorted(KINDS))
    given = parser.parse_args(arguments)
    print(f"{given.rows} openings, median of {given.rounds}; Python {sys.version.split()[0]}")
    print(f"{'source':<6}" + "".join(f"{step:>22}" for step in STEPS))
    with tempfile.TemporaryDirectory() as scratch:
        for kind in given.kinds:
            found = [measure(kind, given.rows, Path(scratch)) for _ in range(given.rounds)]
            medians = [statistics.median(one[step] for one in found) for step in STEPS]
            cells = [f"{median:.2f} s ({median / medians[0]:.1f}x)" for median in medians]
            print(f"{kind:<6}" + "".join(f"{cell:>22}" for cell in cells), flush=True)


if __name__ == "__main__":
    main()
