"""The open points as a list to send: for each party its questions, with what each answer would decide."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from ..questions import Question, questions
from .text import CAUTIONS, plain, where

if TYPE_CHECKING:
    from ..reviewing import Result

FORMAT = 1
_WIDTH = 96
_SUBJECTS_SHOWN = 12
_HEADINGS = ("number", "party", "question", "field", "about", "example", "place", "level", "decides", "subjects")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def render(result: Result) -> str:
    """The list as text."""
    return "".join(f"{plain(line)}".rstrip() + "\n" for line in _lines(result, questions(result)))


def _lines(result: Result, asked: Sequence[Question]) -> Iterator[str]:
    count = len({(o.rule, o.subject, o.message) for o in result.outcomes if o.kind.value == "open"})
    if not asked:
        yield f"{result.root}: no outcome is open, so there is nothing to ask."
    else:
        ask = "question" if len(asked) == 1 else "questions"
        wait = "requirement waits" if count == 1 else "requirements wait"
        yield f"{result.root}: {len(asked)} {ask}; {count} {wait} for the answers."
    number = 0
    for party, group in groupby(asked, key=lambda question: question.party):
        yield ""
        yield f"To: {party}" if party else "To: (nobody is named; say who furnishes it with `furnished_by`)"
        for question in group:
            number += 1
            yield ""
            yield from textwrap.wrap(f"{number}. {question.text}", _WIDTH, subsequent_indent="   ")
            yield from _wrapped(question.meaning)
            if question.example:
                yield f"   Write it as `{question.name}: {question.example}` at {_position(result, question)}."
            else:
                yield f"   It belongs at {_position(result, question)}."
            for one in question.decides:
                shown = ", ".join(one.subjects[:_SUBJECTS_SHOWN])
                more = len(one.subjects) - _SUBJECTS_SHOWN
                shown += f" and {more} more" if more > 0 else ""
                yield from _wrapped(f"Decides ({one.level.value}) [{one.rule}] {one.title}: {shown}")
    yield ""
    yield from CAUTIONS


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent="   ", subsequent_indent="     ")


def _position(result: Result, question: Question) -> str:
    found = where(result, question.place)
    return f"{question.place.file}:{found.line}:{found.column}" if found else question.place.file


def render_json(result: Result) -> str:
    """The list as JSON, pure ASCII: format, spec, complete, and questions in the order of the text."""
    data = {
        "format": FORMAT,
        "spec": result.root,
        "complete": not result.broken,
        "cautions": list(CAUTIONS),
        "questions": [_data(result, number, question) for number, question in enumerate(questions(result), 1)],
    }
    return json.dumps(data, ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def _data(result: Result, number: int, question: Question) -> dict[str, Any]:
    at = question.place
    place: dict[str, Any] = {"file": at.file, "pointer": at.pointer, "part": at.part}
    found = where(result, at)
    if found is not None:
        place |= {"line": found.line, "column": found.column}
    return {
        "number": number,
        "party": question.party or None,
        "question": question.text,
        "field": question.name,
        "about": question.about,
        "meaning": question.meaning,
        "example": question.example,
        "place": place,
        "subjects": list(question.subjects),
        "decides": [
            {"rule": one.rule, "title": one.title, "level": one.level.value, "subjects": list(one.subjects)}
            for one in question.decides
        ],
    }


def render_csv(result: Result) -> str:
    """The list as CSV (RFC 4180: CR LF, quotes doubled), one question a row, with a heading row.

    A cell that a spreadsheet would take for a formula begins with an apostrophe.
    """
    into = io.StringIO()
    writer = csv.writer(into)
    writer.writerow(_HEADINGS)
    for number, question in enumerate(questions(result), 1):
        cells = (
            str(number),
            question.party,
            question.text,
            question.name,
            question.about,
            question.example,
            _position(result, question),
            question.level.value,
            "; ".join(f"{one.title} [{one.rule}]" for one in question.decides),
            ", ".join(question.subjects),
        )
        writer.writerow([_cell(cell) for cell in cells])
    return into.getvalue()


def _cell(text: str) -> str:
    safe = plain(text)
    return f"'{safe}" if safe.startswith(_FORMULA) else safe
