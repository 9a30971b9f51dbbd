"""Two kinds of card with numbers in common."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import CardFormat, Credentials, Project

RULE = Rule(
    "reader/card-numbers-collide",
    title="Two kinds of card share numbers",
    level=Level.ERROR,
    over=Project,
    basis=(
        Practice(
            "no two cards in use send the same number",
            physics="a controller that reads equal bits cannot tell two cards apart",
        ),
    ),
    why="A guest card carries the number of a member of staff, and opens what that person may open.",
    cure="Give each kind a site code or a range of numbers of its own, and have the controller check all bits.",
    limits="Cards of other sites with the same format are not known here.",
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    credentials = project.credentials
    formats = list(credentials.formats.items()) if isinstance(credentials, Credentials) else []
    if len(formats) < 2:
        yield not_applicable("fewer than two kinds of card are stated")
        return
    formats.sort(key=lambda entry: entry[0])
    for index, (name, one) in enumerate(formats):
        for other_name, other in formats[:index]:
            yield _pair(name, one, other_name, other)


def _pair(name: str, one: CardFormat, other_name: str, other: CardFormat) -> Verdict:
    related = (Related(other.place.key, other_name),)
    for field in ("bits", "site_code"):
        if known(one, field, int) != known(other, field, int):
            return ok(f"{name} and {other_name} differ in {field.replace('_', ' ')}", one.place.key, related=related)
    if (one.issue or 1) != (other.issue or 1):
        return ok(f"{name} and {other_name} differ in issue", one.place.key, related=related)
    low = max(known(one, "first", int), known(other, "first", int))
    high = min(known(one, "last", int), known(other, "last", int))
    if low > high:
        return ok(f"{name} and {other_name} have no number in common", one.place.key, related=related)
    return failed(f"{name} and {other_name} have numbers {low} to {high} in common", one.place.key, related=related)
