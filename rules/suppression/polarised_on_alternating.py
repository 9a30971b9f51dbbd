"""A part that conducts one way only, on a coil whose polarity changes."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.coils import SUPPRESSOR_KINDS, SuppressorKind
from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Product, Undecided, known
from doorlint.spec.model import Suppression, Suppressor

RULE = Rule(
    "suppression/polarised-on-ac",
    title="A suppressor that conducts one way is fitted on AC",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and bool(feed.item.suppression),
    scope="coils with a fitted suppressor",
    basis=(
        Practice(
            "on AC, or where polarity may be reversed, only bidirectional parts are used",
            physics="a diode across AC is a short circuit in every other half cycle",
        ),
    ),
    evidence=("kind of supply", "kind of suppressor"),
    why="The diode shorts the transformer in every other half cycle: one of the two burns.",
    cure="Fit a varistor or a bidirectional TVS.",
    limits="Looks at the kind of supply that the spec states. Wires that are swapped on site make AC of no "
    "supply, but reverse a diode: that is a rule of its own.",
)


def kind_of(suppressor: Suppressor) -> tuple[SuppressorKind, str]:
    """The kind of a suppressor and the words for it. Raises Undecided where it is not known."""
    word = known(suppressor, "type", str)
    return SUPPRESSOR_KINDS[word], word.replace("_", " ")


def suppressor_of(fitted: Suppression) -> Suppressor:
    """The data of a fitted suppressor. Raises Undecided where they are not known."""
    if not isinstance(fitted.fitted, Product):
        raise Undecided("product", fitted.at("product"), stated=fitted.product is not None)
    return known(fitted.fitted, "suppressor", Suppressor)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    supply = feed.terminal.supply
    if not isinstance(supply, str):
        raise Undecided("supply", feed.terminal.output.at("supply"), stated=supply is not None)
    if supply != "ac":
        yield not_applicable(f"{feed.item.name} is fed with DC")
        return
    for fitted in feed.item.suppression:
        suppressor = suppressor_of(fitted)
        kind, words = kind_of(suppressor)
        related = (
            Related(suppressor.at("type"), f"{fitted.product} is a {words}"),
            Related(feed.terminal.output.at("supply"), f"{feed.terminal.label} gives AC"),
        )
        if kind.suits_ac:
            yield ok(f"{fitted.product} at {feed.item.name} suits AC", fitted.at("product"), related=related)
        else:
            what = f"{fitted.product} at {feed.item.name} is a {words}, which conducts one way"
            yield failed(f"{what}, and {feed.terminal.label} gives AC", fitted.at("product"), related=related)
