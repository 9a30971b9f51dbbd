"""Handover documents as Markdown: headings, a list and pipe tables, as CommonMark with the table extension reads them.

Whatever the spec says stays text: marks that would format, link or break a table are escaped.
"""

from __future__ import annotations

import re

from .tables import Cell, Document, Table

_MARKS = re.compile(r"[\\`*\[\]<>|~&$]|(?<![^\W_])_|_(?![^\W_])")
_LINE_START = re.compile(r"^(\s*)([#+=>-]|\d+[.)])", re.MULTILINE)


def render(document: Document) -> str:
    """The document as Markdown text, with a line end at its end."""
    lines = [f"# {_text(document.title)}", ""]
    lines += [f"- {name}: {_text(value)}" for name, value in document.heading.lines]
    for caution in document.cautions:
        lines += ["", f"> {_text(caution)}"]
    for table in document.tables:
        lines += ["", f"## {_text(table.title)}", "", *_table(table)]
        if table.notes:
            lines += ["", *(f"- {_text(note)}" for note in table.notes)]
    return "".join(f"{line}\n" for line in lines)


def _table(table: Table) -> list[str]:
    rows = [[_cell(cell) for cell in row] for row in table.shown_rows]
    heads = [_text(column.head) for column in table.columns]
    # padded, so that it reads as a table in a plain editor too; a long cell does not stretch its whole column
    sizes = [
        max(3, min(28, max(len(line[i]) for line in (heads, *rows)))) for i in range(len(heads))
    ]
    numeric = [any(not isinstance(row[i], str) and column.unit for row in table.rows)
               for i, column in enumerate(table.columns)]
    rule = ["-" * (size - 1) + ":" if right else "-" * size for size, right in zip(sizes, numeric, strict=True)]

    def line(cells: list[str]) -> str:
        padded = [cell.rjust(size) if right else cell.ljust(size)
                  for cell, size, right in zip(cells, sizes, numeric, strict=True)]
        return f"| {' | '.join(padded)} |"

    return [line(heads), f"| {' | '.join(rule)} |", *(line(row) for row in rows)]


def _cell(cell: Cell) -> str:
    return _text(cell) if isinstance(cell, str) else _text(str(cell))


def _text(text: str) -> str:
    """Text as a single line of Markdown that reads as it stands; `<br>` for a line break."""
    escaped = _MARKS.sub(lambda match: _escape(match.group()), text)
    escaped = _LINE_START.sub(lambda m: f"{m[1]}{_first(m[2])}", escaped)
    return escaped.replace("\n", "<br>").replace("://", r":\//")


def _escape(mark: str) -> str:
    # named, so that no reader of looser habits takes them for markup
    return {"<": "&lt;", ">": "&gt;", "&": "&amp;"}.get(mark, f"\\{mark}")


def _first(mark: str) -> str:
    return f"{mark[:-1]}\\{mark[-1]}"
