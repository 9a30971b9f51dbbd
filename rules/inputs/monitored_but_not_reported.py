"""A monitor that is bought and never set up to report."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item

RULE = Rule(
    "inputs/monitored-but-not-reported",
    title="What the device monitors is not set up to be reported",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.reports is not None,
    scope="devices of which the spec states what is reported",
    basis=(Practice("what is monitored is wired, set up and answered"),),
    why="The latch monitor is in the lock, on no input, and nobody is told.",
    cure="Wire it to an input and set up its report, or take the plain product.",
    limits="Judged only where the spec states what is reported. Faults of supplies have a rule of their own.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    if sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    reports, at = set(known(item, "reports", tuple)), item.at("reports")
    lost = [word for word in known(sheet, "monitors", tuple) if word not in reports]
    related = (Related(sheet.at("monitors"), f"what {sheet.id} monitors"),)
    if lost:
        yield failed(f"{item.name} monitors {' and '.join(lost)}, and it is not reported", at, related=related)
    else:
        yield ok(f"all that {item.name} monitors is reported", at, related=related)
