"""A door schedule as records: rows below the header, each cell read by what its column means."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from .cells import HINGES_PULLED, SWING_TOWARDS, Unread, read, text_of
from .columns import SKIP, Column, Header, find_header
from .mapping import SheetMapping, applied
from .records import Cell, Intake, IntakeProblem, NotUnderstood, Record, Value
from .tables import Progress, Sheet, letters, read_table


@dataclass(frozen=True, slots=True)
class Schedule:
    """A schedule taken in. `headers`: sheet -> its header, None where none was found."""

    intake: Intake
    headers: Mapping[str, Header | None]


def read_schedule(
    path: Path,
    mapping: Mapping[str, SheetMapping] | None = None,
    *,
    encoding: str | None = None,
    progress: Progress | None = None,
) -> Schedule:
    """Read a door schedule; without `mapping` by the meanings that the titles propose.

    Raises IntakeProblem where the file cannot be read or holds no schedule.
    """
    table = read_table(path, encoding, progress)
    notes = list(table.notes)
    headers: dict[str, Header | None] = {}
    records: list[Record] = []
    missed: list[NotUnderstood] = []
    for sheet in table.sheets:
        if not any(text_of(cell) for row in sheet.rows for cell in row):
            notes.append(f"{sheet.name}: the sheet is empty")
            continue
        if sheet.hidden:
            notes.append(f"{sheet.name}: the sheet is hidden in the workbook")
        said = (mapping or {}).get(sheet.name)
        if said is not None and said.skip:
            headers[sheet.name] = None
            continue
        if said is None:
            header = find_header(sheet)
        else:
            header, more = applied(path, sheet, said)
            notes += more
        headers[sheet.name] = header
        if header is None:
            notes.append(f"{sheet.name}: not used: no row titles the door number and something else that is known")
            continue
        notes += _unused(sheet, header)
        found, unread = _rows(sheet, header, progress)
        records += found
        missed += unread
    if not headers:
        raise IntakeProblem(f"{path}: holds no cells")
    if not any(headers.values()):
        raise IntakeProblem(
            f"{path}: no door schedule found: no row titles the door number and something else that is known; "
            "name the columns in a mapping file (--columns)"
        )
    if not records:
        raise IntakeProblem(f"{path}: no door stands below the header")
    twice = [opening for opening, count in Counter(record.opening for record in records).items() if count > 1]
    if twice:
        notes.append(f"door numbers that stand twice: {', '.join(twice[:12])}{' ...' if len(twice) > 12 else ''}")
    return Schedule(Intake(tuple(records), tuple(missed), tuple(notes)), headers)


def _unused(sheet: Sheet, header: Header) -> list[str]:
    notes = []
    for column in header.columns:
        if column.means == SKIP:
            perhaps = f" (perhaps {column.proposed}, confidence {column.confidence})" if column.proposed else ""
            notes.append(
                f"{sheet.name}!{letters(column.index)}{header.last + 1}: column {column.title!r} is not used{perhaps}"
            )
    return notes


def _rows(sheet: Sheet, header: Header, progress: Progress | None) -> tuple[list[Record], list[NotUnderstood]]:
    used = [column for column in header.columns if column.means != SKIP]
    key = next(column for column in used if column.means == "opening")
    rest = [column for column in used if column is not key]
    titles = [text_of(sheet.at(header.last, column.index)) for column in used]
    records: list[Record] = []
    missed: list[NotUnderstood] = []
    held: tuple[int, int] | None = None
    for row in range(header.last + 1, len(sheet.rows)):
        if progress is not None and row % 500 == 0:
            progress(f"understanding {sheet.name}", row, len(sheet.rows))
        if not any(text_of(cell) for cell in sheet.rows[row]):
            continue
        texts = [text_of(sheet.at(row, column.index)) for column in used]
        if texts == titles:
            continue  # the header again, at the head of a page
        place = _place(sheet, row, key.index)
        try:
            opening = _opening(sheet, row, key, rest)
        except Unread as error:
            shown = " | ".join(dict.fromkeys(text for text in texts if text)) or _first(sheet, row)
            missed.append(NotUnderstood(place, shown, str(error)))
            held = None
            continue
        unread: list[NotUnderstood] = []
        fields = _fields(sheet, row, rest, unread)
        missed += [replace(one, opening=opening) for one in unread]
        anchor = sheet.merged.get((row, key.index), (row, key.index))
        if anchor == held:
            records[-1] = _continued(records[-1], fields, missed)
        else:
            records.append(Record(opening, fields, place))
        held = anchor
    return records, missed


def _first(sheet: Sheet, row: int) -> str:
    return next(text for cell in sheet.rows[row] if (text := text_of(cell)))


def _place(sheet: Sheet, row: int, column: int) -> str:
    row, column = sheet.merged.get((row, column), (row, column))
    return f"{sheet.name}!{letters(column)}{row + 1}"


def _opening(sheet: Sheet, row: int, key: Column, rest: list[Column]) -> str:
    """The door number of a row. Raises Unread where the row is no door's."""
    if sheet.merged.get((row, key.index), (row, key.index)) in sheet.uncomputed:
        raise Unread("a formula that was never computed; open the file in a spreadsheet program and save it")
    others = [text_of(sheet.at(row, column.index)) for column in rest]
    anchor = sheet.merged.get((row, key.index), (row, key.index))
    spans = any(sheet.merged.get((row, column.index), (row, column.index)) == anchor for column in rest)
    said = read("opening", sheet.at(row, key.index))
    opening = said.get("opening")
    if not isinstance(opening, str):
        raise Unread("a row without door number")
    if spans or (not any(others) and (" " in opening or not any(char.isdigit() for char in opening))):
        raise Unread("a row with a text alone; taken for a heading, not for a door")
    return opening


def _fields(sheet: Sheet, row: int, columns: list[Column], missed: list[NotUnderstood]) -> dict[str, Cell]:
    fields: dict[str, Cell] = {}
    told: dict[str, Cell] = {}
    for column in columns:
        raw = sheet.at(row, column.index)
        text, place = text_of(raw), _place(sheet, row, column.index)
        if sheet.uncomputed and sheet.merged.get((row, column.index), (row, column.index)) in sheet.uncomputed:
            why = "a formula that was never computed; open the file in a spreadsheet program and save it"
            missed.append(NotUnderstood(place, text, why))
            fields.update(_unknown(column.means, text, place))
            continue
        try:
            said = read(column.means, raw, column.unit)
        except Unread as error:
            missed.append(NotUnderstood(place, text, str(error)))
            fields.update(_unknown(column.means, text, place))
            continue
        for path, value in said.items():
            if path in (SWING_TOWARDS, HINGES_PULLED):
                told[path] = Cell(text, value, place)
            elif path not in fields or fields[path].value is None:
                fields[path] = Cell(text, value, place)
            elif fields[path].value != value:
                why = f"{path} is {fields[path].value} by {fields[path].place}, which was used"
                missed.append(NotUnderstood(place, text, why))
    _sides(fields, told, missed)
    return fields


def _unknown(means: str, text: str, place: str) -> dict[str, Cell]:
    """What was not understood is unknown in the spec, so that the review asks; free texts need no such mark."""
    paths = {"size": ("leaf.width", "leaf.height"), "handing": ("leaf.hand",), "note": (), "title": ()}.get(
        means, (means,)
    )
    return {path: Cell(text, None, place) for path in paths}


def _sides(fields: dict[str, Cell], told: Mapping[str, Cell], missed: list[NotUnderstood]) -> None:
    """What a hand tells once it is known which side is the unsecured one: RHR the swing, DIN L the hand."""
    side = fields.get("unsecured_side")
    unsecured = side.value if side is not None and side.value in ("from", "to") else None
    towards = told.get(SWING_TOWARDS)
    if towards is not None and "leaf.swing" not in fields:
        swing: Value | None = None
        if unsecured is not None:
            swing = "in" if (towards.value == "unsecured") == (unsecured == "from") else "out"
        fields["leaf.swing"] = Cell(towards.text, swing, towards.place)
    pulled = told.get(HINGES_PULLED)
    if pulled is None or "leaf.hand" in fields:
        return
    swings = fields.get("leaf.swing")
    hand: Value | None = None
    if unsecured is not None and swings is not None and swings.value in ("in", "out"):
        into_unsecured = (swings.value == "in") == (unsecured == "from")
        hand = pulled.value if into_unsecured else "right" if pulled.value == "left" else "left"
    else:
        why = "seen from the side to which the leaf opens; which that is takes the swing and the unsecured side"
        missed.append(NotUnderstood(pulled.place, pulled.text, why))
    fields["leaf.hand"] = Cell(pulled.text, hand, pulled.place)


def _continued(record: Record, fields: Mapping[str, Cell], missed: list[NotUnderstood]) -> Record:
    """A second row of the same door (its number's cell is merged over both) adds what the first leaves out."""
    merged = dict(record.fields)
    for path, cell in fields.items():
        if path not in merged or merged[path].value is None:
            merged[path] = cell
        elif cell.value is not None and cell.value != merged[path].value:
            why = f"door {record.opening} has two values for {path}; that of {merged[path].place} was used"
            missed.append(NotUnderstood(cell.place, cell.text, why, record.opening))
    return Record(record.opening, merged, record.place)
