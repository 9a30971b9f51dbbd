"""A polarised suppressor fitted the wrong way round."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, known

from .polarised_on_alternating import kind_of, suppressor_of

RULE = Rule(
    "suppression/reversed",
    title="A suppressor that conducts one way is fitted the wrong way round",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and bool(feed.item.suppression),
    scope="coils with a fitted suppressor",
    basis=(
        Practice(
            "the cathode, the end with the band, goes to the positive wire",
            physics="a diode from plus to minus is a short circuit",
        ),
    ),
    evidence=("kind of suppressor", "where the cathode goes"),
    why="The supply is shorted through the diode as soon as the lock is switched on: fuse or output fail.",
    cure="Turn it round: the banded end to the positive wire.",
    limits="Only where the spec says which way round the part is fitted; on site a look at the band tells.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    for fitted in feed.item.suppression:
        suppressor = suppressor_of(fitted)
        kind, words = kind_of(suppressor)
        if not kind.polarised:
            yield not_applicable(f"{fitted.product} conducts both ways alike")
            continue
        if fitted.cathode is None and fitted.shorthand:
            yield not_applicable(f"the spec leaves the polarity of {fitted.product} to the installer")
            continue
        if known(fitted, "cathode", str) == "to_positive":
            yield ok(f"the cathode of {fitted.product} goes to the positive wire", fitted.at("cathode"))
            continue
        related = (Related(suppressor.at("type"), f"{fitted.product} is a {words}"),)
        repair = Repair("turn the suppressor round", (Change(fitted.at("cathode"), "to_positive"),))
        text = f"the cathode of {fitted.product} goes to the negative wire: it shorts the supply of {feed.item.name}"
        yield failed(text, fitted.at("cathode"), related=related, repairs=(repair,))
