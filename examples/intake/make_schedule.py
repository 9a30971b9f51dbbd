"""Write the example schedule: python3 examples/intake/make_schedule.py [FOLDER]

Harbour Annex is an invented building. The schedule is as untidy as real ones: title rows, a header in two rows, merged
cells, mixed units, words for ratings, a second sheet in millimetres, and some cells that nobody can read.
"""

from __future__ import annotations

import csv
import datetime
import sys
from pathlib import Path

import openpyxl

HEADER = (
    ("Door", "Location", "", "Leaf", "", "", "Frame", "Fire", "Hdw", "Hand", "Occ.", "Stair", "Remarks"),
    ("No.", "From room", "To room", "Size", "Leaves", "Mat'l", "Type", "Label", "Set", "", "load", "door", ""),
)
GROUND = (
    ("101", "Lobby", "Exterior", "PR 3'-0\" x 7'-0\"", "pair", "alum/glass", "AL-1", "-", "HW-01", "RHRA", 120, "no",
     "main way in"),
    ("102", "Corridor", "Office", "3'-0\" x 7'-0\" x 1 3/4\"", "single", "WD", "HM-1", 20, "HW-02", "LH", 4, "N", ""),
    ("103", "Corridor", "Records", "36\" x 84\"", "single", "HM", "HM-1", "45 min", "HW-03", "RHR", "TBD", "N",
     "=SUM(of nothing), a text that looks like a formula"),
    ("104", "Stair 1", "Corridor", "3'-0\" x 7'-0\"", 1, "H.M.", "HM-2", "1 1/2 HR", "HW-04", "LHR", 60, "YES", ""),
    ("LEVEL 2", "", "", "", "", "", "", "", "", "", "", "", ""),
    ("201", "Corridor", "Server room", "3070", "single", "HM", "HM-1", "3/4 HR", "HW-03", "RH", 2, "",
     "size as a code"),
    ("202", "Corridor", "Store", "3'-0\" x 7'-0\"", "single", "bamboo", "HM-1", "C label", "", "left", "some", "maybe",
     "nobody knows"),
    ("203", "Corridor", "Roof", "3'-0\" x 7'-0\"", "single", "HM", "HM-2", "none", "HW-04", "LHR", 0, "N", ""),
)  # fmt: skip
ANNEX_HEADER = (
    "Door Number",
    "Width (mm)",
    "Height (mm)",
    "Material",
    "Fire rating (min)",
    "Hardware set",
    "From",
    "To",
)
ANNEX = (
    ("A1", 915, 2135, "Steel", 60, "HW-03", "Yard", "Pump room"),
    ("A2", 1015, 2135, "Timber", "", "HW-02", "Pump room", "Store"),
    ("A3", 9150, 2135, "Timber", "none", "HW-02", "Store", "Yard"),
)
NOTE = "An invented building: no data of any real project."


def workbook() -> openpyxl.Workbook:
    """The schedule with its three sheets."""
    book = openpyxl.Workbook()
    # a fixed date, so that the same script writes the same workbook
    book.properties.created = book.properties.modified = datetime.datetime(2026, 1, 1)
    doors = book.worksheets[0]
    doors.title = "Doors"
    doors.append(("HARBOUR ANNEX - DOOR SCHEDULE",))
    doors.append((NOTE,))
    doors.append(())
    for row in (*HEADER, *GROUND):
        doors.append([None if cell == "" else cell for cell in row])
    doors["M8"].data_type = "s"  # a text, no formula
    for area in ("A1:M1", "B4:C4", "D4:F4", "A10:M10", "B6:B6", "B12:B13"):
        if area.split(":")[0] != area.split(":")[1]:
            doors.merge_cells(area)
    annex = book.create_sheet("Annex")
    for line in (("Annex, metric",), ANNEX_HEADER, *ANNEX):
        annex.append([None if cell == "" else cell for cell in line])
    sets = book.create_sheet("Hardware")
    sets.append(("Set", "Qty", "Item"))
    sets.append(("HW-01", 2, "electric strike"))
    return book


def main(folder: Path) -> None:
    """Write the workbook, and its first sheet as CSV."""
    workbook().save(folder / "harbour_annex.xlsx")
    with (folder / "harbour_annex.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["HARBOUR ANNEX - DOOR SCHEDULE"])
        writer.writerow([NOTE])
        writer.writerow([])
        writer.writerows([*HEADER, *GROUND])


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
