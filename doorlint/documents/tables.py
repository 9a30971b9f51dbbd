"""A handover document as plain data: tables of text and numbers, before any of them is written to a file.

A cell is never empty by accident. What the spec leaves open says so and names the field; what does not apply says
`none`; only a column that is to be filled in on site may be blank, and it is blank in every row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ..quantity import Band, Quantity, WireSize, show
from ..report.text import plain
from ..spec.fields import UNKNOWN, Part, Undecided


@dataclass(frozen=True, slots=True)
class Open:
    """A cell whose value hangs on what the spec does not give: the fields it waits for."""

    fields: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"open: {', '.join(self.fields)}" if self.fields else "open"


@dataclass(frozen=True, slots=True)
class Blank:
    """A cell to be filled in by hand."""

    def __str__(self) -> str:
        return ""


BLANK = Blank()
NONE = "none"
"""What a cell says that does not apply: a word, as a dash reads as a minus in a spreadsheet."""

Cell = str | int | Decimal | Open | Blank


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, the unit of its numbers (empty for text and counts), and whether it is to be filled in."""

    name: str
    unit: str = ""
    fill: bool = False

    @property
    def head(self) -> str:
        """The name with the unit behind it."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Table:
    """One table. `key` tells it from the others of its document in a file name; rows are as long as columns.

    notes: how the figures are meant. cautions: what the reader must not take from them. Raises ValueError for an
    empty cell, a number without unit, a row of another length, or a blank outside a column to be filled in.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"{self.key}: a row of {len(row)} cells under {len(self.columns)} columns: {row}")
            for column, cell in zip(self.columns, row, strict=True):
                if isinstance(cell, Blank) is not column.fill:
                    raise ValueError(f"{self.key}: column {column.name!r} is blank or filled where it must not be")
                if isinstance(cell, str) and not cell.strip():
                    raise ValueError(f"{self.key}: an empty cell under {column.name!r}: say none, or what is open")
                if isinstance(cell, Decimal) and not column.unit:
                    raise ValueError(f"{self.key}: a number without unit under {column.name!r}")

    @property
    def shown_rows(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows; one that says `none` where there are none, so that an empty table reads as meant."""
        if self.rows:
            return self.rows
        return (tuple(BLANK if column.fill else NONE for column in self.columns),)


@dataclass(frozen=True, slots=True)
class Heading:
    """What every document says on top. `date` is what the caller gives, never the clock; empty where not given.

    review: the totals of the review that the figures come from.
    """

    project: str
    revision: str
    date: str
    spec: str
    review: str
    cautions: tuple[str, ...]

    @property
    def lines(self) -> tuple[tuple[str, str], ...]:
        """The heading as pairs of name and text; what is not stated is open."""
        return (
            ("project", self.project or str(Open(("project.name",)))),
            ("revision", self.revision or str(Open(("project.revision",)))),
            ("date", self.date or "open: none given"),
            ("spec", self.spec),
            ("review", self.review),
        )


@dataclass(frozen=True, slots=True)
class Document:
    """A handover document: `name` as the command calls it, its title, the heading and at least one table."""

    name: str
    title: str
    heading: Heading
    tables: tuple[Table, ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions of the heading and of every table, each once."""
        return tuple(dict.fromkeys((*self.heading.cautions, *(c for t in self.tables for c in t.cautions))))


# -- cells from the spec ---------------------------------------------------------------------------


def shown(cell: Cell) -> str:
    """A cell, or any text, as it is written: whatever would steer or hide is spelled out."""
    return "\n".join(map(plain, str(cell).split("\n")))


def text(value: object, field: str) -> Cell:
    """A stated value as a cell: text in its own words, open where it is not known, yes or no for a flag."""
    if value is None or value is UNKNOWN:
        return Open((field,))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return value
    if isinstance(value, Quantity | Band | WireSize):
        return words(value.text)
    if isinstance(value, tuple):
        return words(", ".join(str(each) for each in value)) if value else NONE
    return words(str(value))


def optional(value: object) -> Cell:
    """As `text` for what need not be stated: `none` where it is not, open only where the author says unknown."""
    return NONE if value is None else text(value, "unknown") if value is not UNKNOWN else Open(("given as unknown",))


def words(value: str) -> str:
    """Text of the spec, safe to print: nothing in it steers a terminal or hides. Line breaks stay; empty text reads
    as `empty`."""
    lines = [plain(line.replace("\t", " ")).strip() for line in value.splitlines()]
    return "\n".join(line for line in lines if line) or "empty"


def number(value: Fraction | float, dimension: str, unit: str) -> Decimal:
    """A value in SI as a number of this unit, rounded as everywhere in doorlint: below 1 to three digits, from 1
    upwards to two decimals. Raises ValueError where it is not finite."""
    return Decimal(show(value, dimension, unit).removesuffix(unit).strip())


def stated(part: Part, name: str, dimension: str, unit: str) -> Cell:
    """A quantity of the spec as a number of this unit; open where it is not known."""
    value = getattr(part, name)
    if not isinstance(value, Quantity):
        return Open((name,))
    return number(value.value, dimension, unit)


def computed(value: Callable[[], Fraction | float | None], dimension: str, unit: str) -> Cell:
    """A computed number of this unit: open where the spec lacks a field it needs, `none` where there is none."""
    return found(lambda: NONE if (result := value()) is None else number(result, dimension, unit))


def found(value: Callable[[], Cell]) -> Cell:
    """The cell that `value` gives; open where it meets a field that the spec does not give."""
    try:
        return value()
    except Undecided as gap:
        return Open((gap.name,))


def waiting(gaps: Iterable[Undecided]) -> Open:
    """An open cell that waits for the fields of these gaps."""
    return Open(tuple(dict.fromkeys(gap.name for gap in gaps)))
