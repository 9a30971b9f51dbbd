"""Handover documents as Markdown: headings, a list and pipe tables, as CommonMark with the table extension reads them.

Whatever the spec says stays text: marks that would format, link or break a table are escaped.
"""

from __future__ import annotations

import re

from .tables import Cell, Document, Table, shown

_MARKS = re.compile(r"[\\`*\[\]<>|~&$]|(?<![^\W_])_|_(?![^\W_])")
_LINE_START = re.compile(r"^\s*(?:#{1,6}|[+=-]|\d{1,9}[.)])(?=\s|$)")


def render(document: Document) -> str:
    """The document as Markdown text, with a line end at its end."""
    lines = [f"# {_text(document.title)}", ""]
    lines += [f"- {name}: {_text(value)}" for name, value in document.heading.lines]
    for caution in document.cautions:
        lines += ["", f"> {_block(caution)}"]
    for table in document.tables:
        lines += ["", f"## {_text(table.title)}", "", *_table(table)]
        if table.notes:
            lines += ["", *(f"- {_block(note)}" for note in table.notes)]
    return "".join(f"{line}\n" for line in lines)


def _table(table: Table) -> list[str]:
    rows = [[_text(cell) for cell in row] for row in table.shown_rows]
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


def _text(text: Cell) -> str:
    """A text or cell as a single line of Markdown that reads as it stands; `<br>` for a line break."""
    escaped = _MARKS.sub(lambda match: _escape(match.group()), shown(text))
    return escaped.replace("\n", "<br>").replace("://", r":\//")


def _block(text: str) -> str:
    """Text that begins a block: no mark at its start makes a heading or a list of it."""
    return _LINE_START.sub(lambda found: f"{found.group()[:-1]}\\{found.group()[-1]}", _text(text))


def _escape(mark: str) -> str:
    # named, so that no reader of looser habits takes them for markup
    return {"<": "&lt;", ">": "&gt;", "&": "&amp;"}.get(mark, f"\\{mark}")
