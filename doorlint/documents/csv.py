"""Handover documents as CSV by RFC 4180: one file for each table, the column heads in its first record.

Every record has the same number of fields, so project, revision, date and cautions stand in columns at the end: a row
that is copied elsewhere takes them along. Text that a spreadsheet would take for a formula gets an apostrophe in
front.
"""

from __future__ import annotations

import csv
import io

from .tables import Cell, Document, Table, shown

TRAILING = ("project", "revision", "date", "review", "cautions and notes")
"""The columns behind those of the table."""

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\N{FULLWIDTH EQUALS SIGN}", "\N{FULLWIDTH PLUS SIGN}",
                   "\N{FULLWIDTH HYPHEN-MINUS}", "\N{FULLWIDTH COMMERCIAL AT}")  # fmt: skip


def render(document: Document, table: Table) -> str:
    """One table of a document as CSV text, lines ended by CR LF."""
    said = dict(document.heading.lines)
    # one line, so that readers that take a line for a record keep most of the file
    remarks = " ".join((*document.heading.cautions, *table.cautions, *table.notes))
    trailing = [*(said[name] for name in TRAILING[:-1]), remarks]
    target = io.StringIO(newline="")
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow([*(guarded(column.head) for column in table.columns), *TRAILING])
    for row in table.shown_rows:
        writer.writerow([*map(_field, row), *(guarded(shown(each)) for each in trailing)])
    return target.getvalue()


def _field(cell: Cell) -> str:
    return guarded(shown(cell)) if isinstance(cell, str) else str(cell)


def guarded(text: str) -> str:
    """Text with an apostrophe in front where a spreadsheet would compute it."""
    return f"'{text}" if text.lstrip(" \n\u00a0").startswith(_FORMULA_STARTS) or text.startswith(("\t", "\r")) else text
