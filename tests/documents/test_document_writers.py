"""Markdown, CSV and XLSX read back by readers of other people: the same cells, and hostile text stays text."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from spec_of_documents import NAMES, SPEC, document, reviewed

import doorlint.documents.csv as csv_writer
from doorlint.documents import build, files, markdown, xlsx
from doorlint.documents.tables import BLANK, NONE, Cell, Column, Document, Heading, Open, Table, shown, words
from doorlint.files import FileProblem

HEADING = Heading("P | Q", "A", "2026-01-15", "door.yaml", "fail 0", ("Mind | the gap.",))
COLUMNS = (Column("text"), Column("volts", "V"), Column("found", fill=True))

HOSTILE = (
    "=1+1", "+1", "-1", "@x", "\t=1", '=HYPERLINK("http://a.example","x")', " =1", "a|b", "a\nb", "a\\|b",
    "<b>x</b>", "[x](javascript:alert)", "![x](y)", "**x**", "_x_", "__x__", "`x`", "# x", "1. x", "- x", "&amp;",
    "&lt;", "~~x~~", 'say "x", please', "a\r\nb", "\u202egnp.exe", "\ud800", "\x00", "\x1b[31mred", "_x0041_",
    "http://a.example", "https://a.example/x_y_z", "<https://a.example>", "$x$", "x" * 40_000, "'quoted", "\uff1d1+1",
    "| --- | --- |", "> x", "\u00a0=1", "{{7*7}}", "<!-- x -->", "&#124;",
)  # fmt: skip


def made(cells: tuple[Cell, ...]) -> Document:
    rows = tuple((cell, Decimal("1.5"), BLANK) for cell in cells)
    return Document("sample", "Sample", HEADING, (Table("t", "T", COLUMNS, rows, notes=("= note",)),))


ANY_TEXT = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=40)).map(words)


# --- CSV ---


def csv_rows(document: Document, table: Table) -> list[list[str]]:
    text = csv_writer.render(document, table)
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


@given(st.lists(ANY_TEXT, min_size=1, max_size=5))
@settings(max_examples=80, deadline=None)
def test_csv_gives_back_the_text_and_no_formula(texts: list[str]) -> None:
    document = made(tuple(texts))
    head, *rows = csv_rows(document, document.tables[0])
    assert head == ["text", "volts (V)", "found", *csv_writer.TRAILING]
    assert {len(row) for row in rows} == {len(head)}
    for text, row in zip(texts, rows, strict=True):
        assert row[0].removeprefix("'") == text.removeprefix("'")
        assert not row[0].lstrip().startswith(("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20"))
        assert row[1:3] == ["1.5", ""]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "\u00a0=1", "\uff1d1", "\t=1", "\r=1"])
def test_csv_guards_formulas(text: str) -> None:
    assert csv_writer.guarded(text) == f"'{text}"


def test_csv_leaves_other_text_and_numbers() -> None:
    assert csv_writer.guarded("a = b") == "a = b"
    document = Document("s", "S", HEADING, (Table("t", "T", (Column("left", "W"),), ((Decimal("-1.5"),),)),))
    assert csv_rows(document, document.tables[0])[1][0] == "-1.5"


def test_csv_is_rfc_4180() -> None:
    document = made(('say "x", please', "a\nb"))
    text = csv_writer.render(document, document.tables[0])
    lines = text.split("\r\n")
    assert lines[1].startswith('"say ""x"", please",1.5,,')  # section 2, rules 6 and 7: quotes doubled
    assert lines[-1] == "" and "\n" not in lines[1]  # rule 1: records end in CR LF
    assert '"a\nb"' in text


# --- Markdown ---


def markdown_tables(text: str) -> list[list[list[str]]]:
    """The tables as CommonMark with the table extension reads them: of each cell its text alone. AssertionError where
    a cell holds anything but text and line breaks."""
    found: list[list[list[str]]] = []
    inside = False
    tokens = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"]).parse(text)
    for token in tokens:
        if token.type in ("table_open", "table_close"):
            inside = token.type == "table_open"
            found += [[]] if inside else []
        elif token.type == "tr_open":
            found[-1].append([])
        elif token.type == "inline" and inside:
            found[-1][-1].append("".join(map(_content, token.children or [])))
        elif token.type == "html_block":
            raise AssertionError(token.content)
    return found


def _content(token: Any) -> str:
    if token.type in ("text", "text_special"):
        return str(token.content)
    if token.type in ("softbreak", "hardbreak") or (token.type == "html_inline" and token.content == "<br>"):
        return "\n"
    raise AssertionError(f"{token.type} {token.content!r} in a cell")


def _squeezed(text: str) -> str:
    return re.sub(r"[ \u00a0]+", " ", text).strip()


@given(st.lists(ANY_TEXT, min_size=1, max_size=5))
@settings(max_examples=80, deadline=None)
def test_markdown_gives_back_the_text_and_nothing_else(texts: list[str]) -> None:
    (table,) = markdown_tables(markdown.render(made(tuple(texts))))
    head, *rows = table
    assert head == ["text", "volts (V)", "found"]
    assert [_squeezed(row[0]) for row in rows] == [_squeezed(shown(text)) for text in texts]
    assert all(row[1:] == ["1.5", ""] for row in rows)


@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_heading_stays_text(text: str) -> None:
    heading = Heading(words(text).replace("\n", " "), "A", "", "door.yaml", "", (words(text),))
    rendered = markdown.render(Document("s", "S", heading, made(("x",)).tables))
    kinds = {token.type for token in MarkdownIt("commonmark").parse(rendered)}
    assert not kinds & {"html_block", "fence", "code_block", "ordered_list_open", "hr"}
    children = [c for t in MarkdownIt("commonmark").parse(rendered) for c in t.children or []]
    assert {c.type for c in children} <= {"text", "text_special", "softbreak", "html_inline"}
    assert {c.content for c in children if c.type == "html_inline"} <= {"<br>"}
    assert sum(token.type == "heading_open" for token in MarkdownIt("commonmark").parse(rendered)) == 2


# --- XLSX ---


def workbook(document: Document) -> Any:
    return openpyxl.load_workbook(io.BytesIO(xlsx.render(document)))


@given(st.lists(ANY_TEXT, min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_xlsx_text_is_text_and_numbers_are_numbers(texts: list[str]) -> None:
    (sheet,) = workbook(made(tuple(texts)))
    for row, text in enumerate(texts, xlsx.HEAD_ROW + 2):
        cell = sheet.cell(row, 1)
        assert cell.data_type == "s"
        expected = shown(text)
        assert cell.value == expected or (len(expected) > 32_767 and str(cell.value).endswith(" ... cut"))
        assert cell.hyperlink is None
        assert (sheet.cell(row, 2).value, sheet.cell(row, 2).data_type) == (1.5, "n")
        assert sheet.cell(row, 3).value is None


def test_xlsx_is_laid_out_for_print() -> None:
    document = made(("x", "y"))
    (sheet,) = workbook(document)
    head = xlsx.HEAD_ROW + 1
    assert sheet.freeze_panes == f"B{head + 1}"
    assert sheet.print_title_rows == f"${head}:${head}"
    assert sheet.page_setup.orientation == "landscape"
    # absent means 1; 0 means as many pages as it takes
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.auto_filter.ref == f"A{head}:C{head + 2}"
    assert [cell.value for cell in sheet[head]] == ["text", "volts (V)", "found"]
    assert all(sheet.column_dimensions[letter].width >= 8 for letter in "ABC")
    assert "P | Q" in sheet.cell(2, 1).value and "2026-01-15" in sheet.cell(2, 1).value
    assert sheet.cell(3, 1).value == "Mind | the gap."
    assert sheet.cell(head + 4, 1).value == "= note"


def test_xlsx_says_which_extra_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    with pytest.raises(FileProblem, match=r"doorlint\[xlsx\]") as caught:
        xlsx.render(made(("x",)))
    assert "\n" not in str(caught.value)


# --- all of them ---


@pytest.mark.parametrize("name", NAMES)
def test_all_formats_hold_the_same_cells(name: str) -> None:
    sample = document(name)
    tables = markdown_tables(markdown.render(sample))
    book = workbook(sample)
    assert len(tables) == len(sample.tables) == len(book.sheetnames)
    for table, marked, sheet in zip(sample.tables, tables, book, strict=True):
        plain_rows = csv_rows(sample, table)
        assert len(marked) == len(plain_rows) == 1 + len(table.shown_rows)
        for index, row in enumerate(table.shown_rows):
            sheet_row = [cell.value for cell in sheet[xlsx.HEAD_ROW + 2 + index]][: len(row)]
            for column, cell in enumerate(row):
                assert _squeezed(marked[index + 1][column]) == _squeezed(str(cell))
                assert plain_rows[index + 1][column].removeprefix("'") == str(cell)
                if isinstance(cell, Decimal | int):
                    assert sheet_row[column] == pytest.approx(float(cell))
                else:
                    assert (sheet_row[column] or "") == str(cell)


@pytest.mark.parametrize("name", NAMES)
def test_every_file_carries_heading_and_cautions(name: str) -> None:
    sample = document(name)
    rendered = markdown.render(sample)
    for caution in sample.cautions:
        assert caution.split(".")[0] in rendered
    for table, sheet in zip(sample.tables, workbook(sample), strict=True):
        _, first, *_ = csv_rows(sample, table)
        said = dict(zip(csv_rows(sample, table)[0], first, strict=True))
        assert (said["project"], said["revision"], said["date"]) == ("Invented Works", "B", "2026-01-15")
        for caution in (*sample.heading.cautions, *table.cautions):
            assert caution in said["cautions and notes"]
            assert caution in sheet.cell(3, 1).value


def test_an_empty_table_says_none() -> None:
    sample = Document("s", "S", HEADING, (Table("t", "T", COLUMNS, ()),))
    assert csv_rows(sample, sample.tables[0])[1][:3] == [NONE, NONE, ""]
    assert markdown_tables(markdown.render(sample))[0][1] == [NONE, NONE, ""]


@pytest.mark.parametrize(
    "row",
    [("", Decimal(1), BLANK), ("  ", Decimal(1), BLANK), ("x", BLANK, BLANK), ("x", Decimal(1), "filled"),
     ("x", Decimal(1)), (Decimal(1), Decimal(1), BLANK)],
)  # fmt: skip
def test_a_table_refuses_what_could_be_misread(row: tuple[Cell, ...]) -> None:
    with pytest.raises(ValueError, match="t: "):
        Table("t", "T", COLUMNS, (row,))


def test_open_names_its_fields() -> None:
    assert str(Open(("length", "cable"))) == "open: length, cable"
    assert str(Open()) == "open"


SCRIPT = """
import hashlib, sys
from doorlint.documents import DOCUMENTS, build, files
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
result = review_text(sys.stdin.read(), rulebook=Rulebook())
made = [build(name, result, "2026-01-15") for name in DOCUMENTS]
for form in ("markdown", "csv", "xlsx"):
    for name, data in files(made, form).items():
        print(name, hashlib.sha256(data).hexdigest())
"""


def test_the_same_spec_gives_the_same_bytes() -> None:
    listed = []
    for seed, zone in (("1", "UTC"), ("2", "Pacific/Auckland")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}
        done = subprocess.run(
            [sys.executable, "-c", SCRIPT], input=SPEC, capture_output=True, text=True, check=True, env=environment
        )
        listed.append(done.stdout)
    assert listed[0] == listed[1]
    assert len(listed[0].splitlines()) >= 3 * len(NAMES)


def test_no_clock_in_a_workbook() -> None:
    (data,) = files([build("ports", reviewed())], "xlsx").values()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    properties = openpyxl.load_workbook(io.BytesIO(data)).properties
    assert properties.created == xlsx.CREATED.replace(tzinfo=None)
    assert properties.modified == xlsx.CREATED.replace(tzinfo=None)
