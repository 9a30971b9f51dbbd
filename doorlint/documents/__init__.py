"""Handover documents from the same analyses as the review: schedules, interface and port lists, the commissioning
sheet and the list of questions, each as plain tables that the writers put into Markdown, CSV or XLSX.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, cast

from ..report.text import CAUTIONS, INCOMPLETE, totals
from .tables import Document, Heading, Table, words

if TYPE_CHECKING:
    from ..context import Context
    from ..reviewing import Result

Build = Callable[["Result", "Context"], tuple[Table, ...]]


@dataclass(frozen=True, slots=True)
class Sort:
    """A sort of document: its title, and the module of this package whose `build` makes its tables."""

    title: str
    module: str

    @property
    def build(self) -> Build:
        """The function that makes its tables; its module is imported when asked for."""
        return cast(Build, import_module(f".{self.module}", __name__).build)


DOCUMENTS: Final[Mapping[str, Sort]] = MappingProxyType(
    {
        "hardware": Sort("Hardware schedule", "hardware"),
        "sequence": Sort("Sequence of operation", "sequence"),
        "power": Sort("Power schedule", "power"),
        "battery": Sort("Battery schedule", "battery"),
        "cables": Sort("Cable schedule", "cables"),
        "fire-alarm": Sort("Fire-alarm interface list", "fire_alarm"),
        "commissioning": Sort("Commissioning sheet", "commissioning"),
        "suppression": Sort("Suppression schedule", "suppression"),
        "ports": Sort("PoE port list", "ports"),
        "questions": Sort("Questions", "questions"),
    }
)
"""The documents by name."""

FORMATS: Final = ("markdown", "csv", "xlsx")
"""What a document can be written as."""


def heading(result: Result, date: str = "") -> Heading:
    """The heading of every document of this review."""
    project = result.spec.project if result.spec is not None else None
    name = project.name if project is not None else None
    revision = project.revision if project is not None else None
    return Heading(
        words(name).replace("\n", " ") if isinstance(name, str) else "",
        words(revision).replace("\n", " ") if isinstance(revision, str) else "",
        date,
        words(result.root),
        totals([result]).removeprefix("Total: ").removesuffix("."),
        (*((INCOMPLETE,) if result.broken else ()), *CAUTIONS),
    )


def build(name: str, result: Result, date: str = "") -> Document:
    """The document of this name (a key of DOCUMENTS) of a review. ValueError where the spec could not be read."""
    if result.context is None:
        raise ValueError("the spec could not be read: there is nothing to make a document of")
    sort = DOCUMENTS[name]
    return Document(name, sort.title, heading(result, date), sort.build(result, result.context))


def files(documents: Sequence[Document], form: str) -> dict[str, bytes]:
    """The documents as files: name to content. `form` is one of FORMATS.

    Markdown and XLSX give one file for each document; CSV one for each table, as a CSV file holds one. FileProblem
    where a format cannot be written.
    """
    written: dict[str, bytes] = {}
    for document in documents:
        if form == "markdown":
            from .markdown import render as markdown

            written[f"{document.name}.md"] = markdown(document).encode()
        elif form == "xlsx":
            from .xlsx import render as xlsx

            written[f"{document.name}.xlsx"] = xlsx(document)
        else:
            from .csv import render as csv

            for table in document.tables:
                part = "" if len(document.tables) == 1 else f"-{table.key}"
                written[f"{document.name}{part}.csv"] = csv(document, table).encode()
    return written
