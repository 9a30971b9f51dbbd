"""A consultant's own table from a review: what to talk about with the owner, one line for each outcome, as CSV.

    python examples/consultant_table.py examples/gull_point_ferry_terminal table.csv --rules office

Rules of an office come in by themselves once its package is installed; `--rules` names the package (by its entry
point) whose outcomes are wanted whole, whatever their level. Of all other rules the table holds the errors alone.
The exit status is that of the review.
"""

from __future__ import annotations

import argparse
import csv
import sys
from pathlib import Path

import doorlint

COLUMNS = ("opening", "item", "kind", "level", "rule", "from", "found", "measured", "limit", "margin", "where")
TO_TALK_ABOUT = (doorlint.Kind.FAIL, doorlint.Kind.OPEN, doorlint.Kind.REVIEW)


def wanted(outcome: doorlint.Outcome, origin: str, office: str) -> bool:
    """Whether an outcome belongs in the table: everything undecided or failed of the office's own rules, and the
    errors of all others that no waiver covers."""
    if origin == office:
        return outcome.kind in TO_TALK_ABOUT
    return outcome.kind is doorlint.Kind.FAIL and outcome.level is doorlint.Level.ERROR and not outcome.waived


def row(result: doorlint.Result, outcome: doorlint.Outcome, origin: str) -> dict[str, str]:
    """One line of the table."""
    opening, _, item = outcome.subject.partition("/")
    line, column = result.documents[outcome.place.file].position(result.region(outcome.place).start)
    cells = (opening, item, outcome.kind, outcome.level, outcome.rule, origin, outcome.message)
    figures = ("" if figure is None else str(figure) for figure in (outcome.measured, outcome.limit, outcome.margin))
    return dict(zip(COLUMNS, (*cells, *figures, f"{outcome.place.file}:{line}:{column}"), strict=True))


def table(result: doorlint.Result, office: str) -> list[dict[str, str]]:
    """The lines of the table, opening by opening."""
    origins = result.rulebook.origins
    rows = []
    for outcome in result.outcomes:
        origin = origins.get(outcome.rule, "doorlint")
        if wanted(outcome, origin, office):
            rows.append(row(result, outcome, origin))
    return sorted(rows, key=lambda cells: (cells["opening"], cells["item"], cells["rule"]))


def main() -> int:
    """Review a spec and write the table."""
    parser = argparse.ArgumentParser(description="Write a consultant's table from the review of a door spec.")
    parser.add_argument("spec", help="the root file of a spec, or its folder")
    parser.add_argument("table", type=Path, help="the CSV file to write")
    parser.add_argument("--rules", default="", metavar="NAME", help="the package whose outcomes are wanted whole")
    given = parser.parse_args()
    try:
        result = doorlint.review(given.spec)
    except doorlint.SpecError as error:
        parser.error(str(error))
    if given.rules and given.rules not in result.rulebook.origins.values():
        parser.error(f"no package of rules is installed under the name {given.rules!r}")
    with given.table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(table(result, given.rules))
    if result.broken:
        print("the review is incomplete: the table does not hold all there is to find", file=sys.stderr)
    return result.status()


if __name__ == "__main__":
    sys.exit(main())
