"""The mapping file: which column of which sheet means what. doorlint proposes it, the user edits and reuses it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from ..document import Document, load
from .cells import MEANINGS, UNITS
from .columns import SKIP, Column, Header, header_at
from .records import IntakeProblem
from .tables import Sheet, letters
from .yaml_text import scalar

_HEAD: Final = """\
# How doorlint reads the columns of {source}. Edit `means` and `unit`, then run the intake again.
# means: {meanings}, or `skip`.
#   size: width x height in one cell.  handing: LH, RH, LHR, RHR, seen from the unsecured side.
#   leaf.hand: the side of the hinges alone, left or right, seen from the unsecured side.
# unit: of numbers without one: {units}. ft-in: a size such as 3070 is 3'-0" x 7'-0".
# header: the row, or first and last row, of the titles, from 1.  A sheet with `skip: true` is passed over.
# confidence says how sure doorlint was; below {least} a column is skipped until you say what it means.
"""


@dataclass(frozen=True, slots=True)
class SheetMapping:
    """What the user's mapping says of one sheet. `rows`: the header's, from 0. `columns`: letter -> title, meaning,
    unit."""

    skip: bool
    rows: tuple[int, int]
    columns: Mapping[str, tuple[str, str, str]]


def read_mapping(path: Path) -> dict[str, SheetMapping]:
    """Read a mapping file. Raises IntakeProblem that names the line and what was expected."""
    try:
        document = load(path)
    except (OSError, ValueError) as error:
        raise IntakeProblem(f"{path}: cannot be read: {error}") from error
    for problem in document.problems:
        line, column = document.position(problem.region.start)
        raise IntakeProblem(f"{path}:{line}:{column}: {problem.message}")
    tree = document.tree
    sheets = tree.get("sheets") if isinstance(tree, dict) else None
    if not isinstance(sheets, dict):
        raise IntakeProblem(f"{path}: expected `sheets:` with an entry for each sheet, as doorlint writes it")
    return {name: _sheet(path, document, name, said) for name, said in sheets.items()}


def _wrong(path: Path, document: Document, keys: Iterable[str], what: str) -> IntakeProblem:
    pointer = "".join("/" + key.replace("~", "~0").replace("/", "~1") for key in keys)
    line, column = document.position(document.region(pointer).start)
    return IntakeProblem(f"{path}:{line}:{column}: {what}")


def _sheet(path: Path, document: Document, name: str, said: Any) -> SheetMapping:
    at = ["sheets", name]
    if not isinstance(said, dict):
        raise _wrong(path, document, at, "expected `header` and `columns`, or `skip: true`")
    if said.get("skip") is True:
        return SheetMapping(True, (0, 0), {})
    header = said.get("header")
    rows: list[Any] = header if isinstance(header, list) else [header, header]
    good = len(rows) == 2 and all(type(row) is int and row > 0 for row in rows)
    if not good or not 0 <= rows[1] - rows[0] <= 5:
        where = [*at, "header"] if "header" in said else at
        raise _wrong(path, document, where, "expected `header:` with a row such as 4, or [3, 4]")
    columns = said.get("columns")
    if not isinstance(columns, dict):
        raise _wrong(
            path, document, at, "expected `columns:` with an entry for each column, such as `A: {means: opening}`"
        )
    read: dict[str, tuple[str, str, str]] = {}
    for letter, column in columns.items():
        here = [*at, "columns", letter]
        if not isinstance(column, dict):
            raise _wrong(path, document, here, "expected {means: ...}")
        means, unit = column.get("means", SKIP), column.get("unit", "")
        if means != SKIP and means not in MEANINGS:
            close = (
                f"{means!r} is nothing that a column can mean; expected one of {', '.join(sorted(MEANINGS))} or {SKIP}"
            )
            raise _wrong(path, document, [*here, "means"], close)
        if unit and unit not in UNITS:
            raise _wrong(path, document, [*here, "unit"], f"{unit!r} is no unit; expected one of {', '.join(UNITS)}")
        read[letter] = (str(column.get("title", "")), means, unit)
    for means in {means for _, means, _ in read.values()} - {SKIP}:
        if (again := [letter for letter, column in read.items() if column[1] == means])[1:]:
            raise _wrong(
                path, document, [*at, "columns", again[1], "means"], f"column {again[0]} means {means} already"
            )
    if not any(means == "opening" for _, means, _ in read.values()):
        raise _wrong(path, document, at, "no column means `opening`, the door number")
    return SheetMapping(False, (rows[0] - 1, rows[1] - 1), read)


def applied(path: Path, sheet: Sheet, mapping: SheetMapping) -> tuple[Header, tuple[str, ...]]:
    """The sheet's header as the mapping has it, and notes on columns that it does not name.

    Raises IntakeProblem where a mapped column has another title now: its cells would go to the wrong field.
    """
    found = header_at(sheet, *mapping.rows)
    columns: list[Column] = []
    notes: list[str] = []
    titles = {letters(column.index): column for column in found.columns}
    for letter, (title, means, _) in mapping.columns.items():
        there = titles.get(letter)
        if means != SKIP and (there is None or (title and there.title != title)):
            now = repr(there.title) if there else "no title"
            raise IntakeProblem(
                f"{path}: sheet {sheet.name!r}: column {letter} has {now} in row {mapping.rows[1] + 1}, not {title!r}; "
                f"bring the mapping up to date, or delete it for a new proposal"
            )
    for letter, column in titles.items():
        if letter in mapping.columns:
            _, means, unit = mapping.columns[letter]
            columns.append(replace(column, means=means, unit=unit or column.unit))
        else:
            columns.append(replace(column, means=SKIP))
            notes.append(
                f"{sheet.name}!{letter}{found.last + 1}: the mapping does not name column {column.title!r}, so it is "
                f"not used; to use it, add the line `{letter}: {{title: {_quoted(column.title)}, means: "
                f"{column.proposed or SKIP}}}`"
            )
    return Header(found.first, found.last, tuple(columns)), tuple(notes)


def render(source: str, least: float, headers: Mapping[str, Header | None]) -> str:
    """The proposal as a file for the user to edit."""
    shown = "".join(char if char.isprintable() else " " for char in source)
    text = _HEAD.format(source=shown, meanings=", ".join(sorted(MEANINGS)), units=", ".join(UNITS), least=least)
    text += "sheets:\n" if headers else "sheets: {}\n"
    for name, header in headers.items():
        text += f"  {scalar(name)}:\n"
        if header is None:
            text += "    skip: true  # no header found: no row titles the door number and something else\n"
            continue
        rows = str(header.last + 1) if header.first == header.last else f"[{header.first + 1}, {header.last + 1}]"
        text += f"    header: {rows}\n    columns:\n"
        for column in header.columns:
            unit = f", unit: {column.unit}" if column.unit else ""
            proposed = f", proposed: {column.proposed}" if column.proposed and column.means == SKIP else ""
            text += (
                f"      {letters(column.index)}: {{title: {_quoted(column.title)}, means: {column.means}{unit}"
                f"{proposed}, confidence: {column.confidence}}}\n"
            )
    return text


def _quoted(text: str) -> str:
    made = scalar(text)
    return made if made.startswith('"') else json.dumps(text, ensure_ascii=False)
