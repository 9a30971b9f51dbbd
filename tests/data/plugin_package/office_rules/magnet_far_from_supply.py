"""An office's own rule: the cable to an electromagnetic lock is kept short."""

from collections.abc import Iterator
from fractions import Fraction

from doorlint import Context, Item, Level, Measure, Practice, Quantity, Rule, Verdict, at_most, known

LONGEST = Measure(Fraction(30), "length")

RULE = Rule(
    "office/magnet-far-from-supply",
    title="The electromagnetic lock hangs on more cable than the office allows",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.kind == "electromagnetic_lock",
    scope="electromagnetic locks",
    needs=("length",),
    basis=(Practice("an invented office keeps the supply of a magnet within 30 m of cable"),),
    evidence=("length of the cable", "longest that the office allows", "margin"),
    why="Every metre costs holding force that nobody measures on site.",
    cure="Move the supply nearer to the opening.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    """Compare the length as written with the office's limit."""
    length = known(item, "length", Quantity)
    yield at_most(
        f"cable to {item.name}", Measure(length.value, "length"), LONGEST, item.at("length"), limit_name="office limit"
    )
