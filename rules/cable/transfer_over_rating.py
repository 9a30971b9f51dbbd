"""The current through the conductors of a power transfer against their rating."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import peak, steady
from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import as_yaml
from doorlint.circuit.voltages import draws_peak
from doorlint.context import Context
from doorlint.outcome import Change, Level, Measure, Practice, Related, Repair, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known
from doorlint.spec.model import Transfer

RULE = Rule(
    "cable/transfer-over-rating",
    title="A conductor of the power transfer carries more than it is rated for",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: feed.item.through_transfer is not None and feed.terminal.supply != "poe",
    scope="devices led through a power transfer and not fed over PoE",
    basis=(
        Practice(
            "each conductor of a power transfer carries at most its rated current steadily and its rated peak for a "
            "moment; where no peak is stated, the steady rating counts",
            physics="thin strands in a hinge heat up and break",
        ),
    ),
    evidence=("current per conductor", "rating", "margin"),
    why="The latch retracts half-way, and after a while strands break inside the hinge.",
    cure="Join conductors in parallel, use a transfer with thicker ones, or a device with a lower peak.",
    limits="Conductors joined in parallel are taken to share the current evenly.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    transfer = _transfer(feed, context)
    rated = known(transfer, "current", Quantity)
    yield _verdict(feed, context, transfer, "current", steady(feed, context.wiring), rated)
    if draws_peak(feed):
        name = "current" if transfer.peak is None else "peak"
        limit = max(known(transfer, name, Quantity), rated, key=lambda rating: rating.value)
        yield _verdict(feed, context, transfer, name, peak(feed, context.wiring), limit, "peak ")


def _transfer(feed: Feed, context: Context) -> Transfer:
    item = feed.item
    through = context.opening(item).items.get(str(item.through_transfer))
    sheet = through.sheet if through is not None else None
    if sheet is None or not isinstance(sheet.transfer, Transfer):
        raise Undecided("through_transfer", item.at("through_transfer"), stated=item.through_transfer is not None)
    return sheet.transfer


def _verdict(
    feed: Feed, context: Context, transfer: Transfer, name: str, current: Fraction, rated: Quantity, kind: str = ""
) -> Verdict:
    item = feed.item
    parallel = known(item, "parallel_conductors", int) if item.parallel_conductors is not None else 1
    each = current / parallel
    field = "peak" if kind else "current"
    terms = (
        Term(f"{kind}current of {item.name}", str(Measure(current, "current")), feed.load.at(field)),
        Term("conductors joined", str(parallel), item.at("parallel_conductors")),
    )
    return at_most(
        f"{kind}current of {item.name} in each conductor of {item.through_transfer}",
        Measure(each, "current"),
        Measure(rated.value, "current"),
        transfer.at(name),
        limit_name="rated peak," if kind and name == "peak" else "rated current,",
        related=(Related(feed.load.at(field), f"{kind}current of {item.name}"),),
        working=(Step(f"{kind}current per conductor", "current / conductors joined", Measure(each, "current"), terms),),
        repairs=tuple(_repairs(item, context, current, rated, name)) if each > rated.value else (),
    )


def _repairs(item: Item, context: Context, current: Fraction, rated: Quantity, name: str) -> Iterator[Repair]:
    through = context.opening(item).items[str(item.through_transfer)]
    for product in context.spec.products.values():
        other = product.transfer
        rating = getattr(other, name) if isinstance(other, Transfer) else None
        if isinstance(rating, Quantity) and rating.value >= current:
            change = Change(through.at("product"), as_yaml(product.id))
            yield Repair(f"use {product.id} for {through.name}", (change,))
    if rated.value > 0:
        joined = str(-(-current // rated.value))
        title = f"join {joined} conductors for each way of {item.name}"
        if item.parallel_conductors is not None:
            yield Repair(title, (Change(item.at("parallel_conductors"), joined),))
        else:
            yield Repair(title, (Change(item.place, joined, key="parallel_conductors"),))
