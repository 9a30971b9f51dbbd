"""The list of questions: one for each datum that is open, to the party that furnishes what it belongs to."""

from __future__ import annotations

from ..context import Context
from ..questions import Question, questions
from ..report.text import where
from ..reviewing import Result
from .tables import BLANK, NONE, Cell, Column, Open, Table, text, words

QUESTIONS = (
    *map(Column, ("number", "to", "question", "field", "write it as", "place", "level", "decides", "subjects")),
    Column("answer", fill=True),
    Column("answered by, date", fill=True),
)


def build(result: Result, _: Context) -> tuple[Table, ...]:
    """One row for each question, by party and the gravest first, with what the answer decides."""
    rows = tuple(_row(result, number, question) for number, question in enumerate(questions(result), 1))
    return (
        Table(
            "questions",
            "Questions",
            QUESTIONS,
            rows,
            notes=("Level: the gravest of the requirements that wait for the answer.",),
            cautions=("Until a question is answered nothing that waits for it has been found in order.",),
        ),
    )


def _row(result: Result, number: int, question: Question) -> tuple[Cell, ...]:
    found = where(result, question.place)
    place = f"{question.place.file}:{found.line}" if found is not None else question.place.file
    return (
        number,
        words(question.party) if question.party else Open(("furnished_by",)),
        words(question.text),
        words(question.name),
        words(question.example) if question.example else NONE,
        words(place),
        question.level.value,
        words("\n".join(f"{one.title} ({one.rule})" for one in question.decides)),
        text(question.subjects, "subjects"),
        BLANK,
        BLANK,
    )
