"""Handover documents as XLSX workbooks: one sheet for each table, to be read, filtered and printed.

Text is written as text, never as formula or link; numbers as numbers, their unit in the head of the column. The same
document gives the same bytes: the times inside the file are fixed.
"""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from ..files import FileProblem
from .tables import Blank, Cell, Document, Open, Table, shown

if TYPE_CHECKING:
    from collections.abc import Iterable

CREATED = datetime(2000, 1, 1, tzinfo=UTC)
"""The time that every workbook says it was made at: the clock has no part in a document."""

HEAD_ROW = 3
"""Number of the row, from 0, that holds the column heads: title, heading and cautions stand above."""

_LONGEST_CELL = 32_767
_MOST_ROWS = 1_048_576
_WIDEST, _NARROWEST = 44, 8
_SHEET_NAME = 31


def render(document: Document) -> bytes:
    """The document as a workbook. FileProblem where XlsxWriter is not installed or a table is longer than a sheet."""
    try:
        import xlsxwriter
    except ImportError as error:
        raise FileProblem("XLSX needs a library that is not installed: pip install 'doorlint[xlsx]'") from error
    target = io.BytesIO()
    book = xlsxwriter.Workbook(
        target,
        {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False},
    )
    said = dict(document.heading.lines)
    book.set_properties({"title": document.title, "subject": said["project"], "created": CREATED.replace(tzinfo=None)})
    formats = _formats(book)
    for name, table in zip(_sheet_names(document.tables), document.tables, strict=True):
        _sheet(book.add_worksheet(name), document, table, formats)
    book.close()
    return target.getvalue()


def _formats(book: Any) -> dict[str, Any]:
    grid = {"border": 1, "border_color": "#999999", "valign": "top"}
    return {
        "title": book.add_format({"bold": True, "font_size": 14}),
        "small": book.add_format({"text_wrap": True, "valign": "top", "font_size": 9}),
        "head": book.add_format({**grid, "bold": True, "text_wrap": True, "bottom": 2}),
        "text": book.add_format({**grid, "text_wrap": True, "num_format": "@"}),
        "number": book.add_format({**grid, "num_format": "General"}),
        "whole": book.add_format({**grid, "num_format": "0"}),
        "open": book.add_format({**grid, "text_wrap": True, "italic": True, "num_format": "@"}),
        "fill": book.add_format({**grid, "locked": False}),
    }


def _sheet_names(tables: Iterable[Table]) -> list[str]:
    names: list[str] = []
    for table in tables:
        name = re.sub(r"[\[\]:*?/\\']", " ", table.key.replace("-", " "))[:_SHEET_NAME]
        names.append(name if name.lower() not in [n.lower() for n in names] else f"{name[:28]} {len(names)}")
    return names


def _sheet(sheet: Any, document: Document, table: Table, formats: dict[str, Any]) -> None:
    rows = table.shown_rows
    if HEAD_ROW + 2 + len(rows) + len(table.notes) > _MOST_ROWS:
        raise FileProblem(f"{document.name}: {len(rows)} rows do not fit a sheet; write CSV or Markdown instead")
    last = len(table.columns) - 1
    widths = _widths(table)
    _write_text(sheet, 0, 0, f"{document.title}: {table.title}" if len(document.tables) > 1 else document.title,
                formats["title"])
    lines = [". ".join(f"{name}: {text}" for name, text in document.heading.lines),
             " ".join((*document.heading.cautions, *table.cautions))]
    for row, line in enumerate(lines, 1):
        _across(sheet, row, last, sum(widths), line, formats["small"])
    for index, (column, width) in enumerate(zip(table.columns, widths, strict=True)):
        sheet.set_column(index, index, width)
        _write_text(sheet, HEAD_ROW, index, column.head, formats["head"])
    for number, row_cells in enumerate(rows, HEAD_ROW + 1):
        for index, cell in enumerate(row_cells):
            _write(sheet, number, index, cell, formats)
    for number, note in enumerate(table.notes, HEAD_ROW + 2 + len(rows)):
        _across(sheet, number, last, sum(widths), note, formats["small"])
    sheet.freeze_panes(HEAD_ROW + 1, 1)
    sheet.autofilter(HEAD_ROW, 0, HEAD_ROW + len(rows), last)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(HEAD_ROW)
    said = dict(document.heading.lines)
    project = f"{shown(said['project'])[:80]}, revision {said['revision'][:30]}, {said['date'][:30]}".replace("&", "&&")
    sheet.set_header(f"&L{document.title}&R{project}")
    sheet.set_footer("&CPage &P of &N")


def _across(sheet: Any, row: int, last: int, width: int, text: str, form: Any) -> None:
    """A line of text over the whole width of the table, as high as it needs."""
    room = max(width, 40)
    sheet.set_row(row, 12.5 * max(1, -(-len(text) // room) + text.count("\n")))
    if last > 0:
        sheet.merge_range(row, 0, row, last, "", form)
    _write_text(sheet, row, 0, text, form)


def _write(sheet: Any, row: int, column: int, cell: Cell, formats: dict[str, Any]) -> None:
    if isinstance(cell, Blank):
        sheet.write_blank(row, column, None, formats["fill"])
    elif isinstance(cell, Decimal):
        sheet.write_number(row, column, float(cell), formats["number"])
    elif isinstance(cell, int):
        sheet.write_number(row, column, cell, formats["whole"])
    else:
        _write_text(sheet, row, column, str(cell), formats["open" if isinstance(cell, Open) else "text"])


def _write_text(sheet: Any, row: int, column: int, text: str, form: Any) -> None:
    text = shown(text)
    if len(text) > _LONGEST_CELL:
        text = f"{text[: _LONGEST_CELL - 8]} ... cut"
    sheet.write_string(row, column, text, form)


def _widths(table: Table) -> list[int]:
    """Column widths in characters: wide enough for most of what stands there, narrow enough to see the next."""
    widths = []
    for index, column in enumerate(table.columns):
        longest = max((max(map(len, str(row[index]).split("\n"))) for row in table.rows), default=0)
        word = max(map(len, column.head.split()))
        widths.append(min(_WIDEST, max(_NARROWEST, 14 if column.fill else 0, word + 2, longest + 1)))
    return widths
