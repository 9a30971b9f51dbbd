"""Two openings with one title."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

RULE = Rule(
    "consistency/title-used-twice",
    title="Two openings have the same title",
    level=Level.NOTE,
    over=Opening,
    applies=lambda opening: opening.title is not None,
    scope="openings with a title",
    basis=(Practice("an alarm names its door; names that people hear are unique"),),
    why="The guard runs to the wrong door.",
    cure="Give each opening a title of its own.",
    limits="Titles that differ in case or spaces only count as the same.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    title = known(opening, "title", str)
    called = context.once("openings by title", lambda: _by_title(context))
    same = [other for other in called[_plain(title)] if other is not opening]
    if same:
        related = tuple(Related(o.at("title"), o.id) for o in same[:3])
        yield failed(f"{opening.id} and {same[0].id} are both called {title!r}", opening.at("title"), related=related)
    else:
        yield ok("no other opening has this title", opening.at("title"))


def _by_title(context: Context) -> dict[str | None, list[Opening]]:
    found: dict[str | None, list[Opening]] = {}
    for opening in context.spec.openings.values():
        found.setdefault(_plain(opening.title), []).append(opening)
    return found


def _plain(title: object) -> str | None:
    return " ".join(title.split()).casefold() if isinstance(title, str) else None
