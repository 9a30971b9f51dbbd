"""The clear width of the opening."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Kind, Level, Measure, Practice, Step, Term, Verdict, not_applicable
from doorlint.quantity import Quantity, show
from doorlint.rulebook import Rule
from doorlint.spec import Leaf, Opening, Project, Undecided, known

STOP_M = Fraction(5, 8) * Fraction(254, 10000)
"""Width of the stop, m: 5/8 in. Common practice, no source."""

RULE = Rule(
    "access/clear-width-small",
    title="The opening is narrower than a wheelchair needs",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: (
        isinstance(opening.leaf, Leaf) and (opening.leaf.clear_width is not None or opening.leaf.width is not None)
    ),
    scope="openings whose leaf width or clear width is stated",
    basis=(
        Cited("ADA Standards for Accessible Design", "2010", "404.2.3", "clear width"),
        Practice(
            "a leaf on butt hinges, opened to 90 degrees, leaves its width less its thickness and the stop of 5/8 in",
            physics="an opened leaf stands in the opening by its own thickness",
        ),
    ),
    evidence=("clear width", "least width"),
    why="The wheelchair does not pass, or only when both leaves are open.",
    cure="Use a wider leaf, or hinges that swing the leaf clear of the opening.",
    limits="An estimate from the leaf can pass and can fail only where the leaf itself is too narrow; projecting "
    "hardware has limits by height that a spec does not give.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if opening.accessible_route is False:
        yield not_applicable("the opening is on no accessible route")
        return
    leaf = opening.leaf
    assert isinstance(leaf, Leaf)
    project, name = context.spec.project, "clear width"
    if leaf.clear_width is not None:
        yield _judged(project, name, known(leaf, "clear_width", Quantity), leaf, "clear_width", "as stated")
        return
    width = known(leaf, "width", Quantity)
    narrow = _judged(project, "clear width, less than the leaf,", width, leaf, "width", "its width")
    if narrow.kind is Kind.FAIL:
        yield narrow
        return
    thickness = known(leaf, "thickness", Quantity)
    value = width.value - thickness.value - STOP_M
    clear = Quantity(value, "length", show(value, "length"))
    found = _judged(project, name, clear, leaf, "width", "width - thickness - 5/8 in")
    if found.kind is Kind.FAIL:
        raise Undecided("clear_width", leaf.at("clear_width"), stated=False)
    yield found


def _judged(project: Project, name: str, value: Quantity, leaf: Leaf, field: str, formula: str) -> Verdict:
    at = leaf.at(field)
    term = Term(field.replace("_", " "), getattr(leaf, field).text, at)
    step = Step("clear width", formula, Measure(value.value, "length"), (term,))
    return codes.judge(project, "door/clear_width", name, value, at, working=(step,))
