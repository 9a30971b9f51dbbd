"""A suppressor that sits at the panel and not at the coil."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, known

WORDS = {"at_panel": "at the panel", "at_junction": "in the junction box"}

RULE = Rule(
    "suppression/away-from-coil",
    title="The only suppressor sits away from the coil",
    level=Level.WARNING,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and bool(feed.item.suppression),
    scope="coils with a fitted suppressor",
    basis=(Practice("the suppressor sits at the coil, within about 0.3 m; one at the panel is at most a second one"),),
    evidence=("location of each suppressor",),
    why="The whole cable between panel and lock carries the kick and couples it into reader and data lines beside it.",
    cure="Fit it at the lock's own terminals.",
    limits="Knows lock and panel, not the distance in between; where the spec names a product alone, it is "
    "taken to sit at the lock.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, coil = feed.item, feed.coil
    assert coil is not None
    if isinstance(coil.built_in_suppression, str) and coil.built_in_suppression != "none":
        yield ok(f"{item.name} has suppression built in, at the coil", coil.at("built_in_suppression"))
        return
    away = [(one, place) for one in item.suppression if (place := known(one, "location", str)) != "at_lock"]
    if len(away) < len(item.suppression):
        yield ok(f"{item.name} has a suppressor at the lock", item.at("suppression"))
        return
    known(coil, "built_in_suppression", str)
    one, place = away[0]
    text = f"{one.product} is the only suppressor of {item.name}, and it sits {WORDS[place]}, not at the coil"
    repair = Repair(f"fit {one.product} at the lock", (Change(one.at("location"), "at_lock"),))
    yield failed(text, one.at("location"), repairs=(repair,))
