"""The hardware schedule: every item of every opening and set, and how many of each product the project takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..context import Context
from ..reviewing import Result
from ..spec.model import Item, Opening, Product
from .tables import NONE, Cell, Column, Table, optional, text

OPENINGS = tuple(map(Column, ("opening", "title", "set", "from", "to", "leaves", "fire rating", "egress by", "items")))
ITEMS = tuple(
    map(Column, ("set", "opening", "item", "product", "kind", "title", "fail", "side", "leaf", "fed from", "quantity"))
)
PRODUCTS = tuple(map(Column, ("product", "kind", "title", "data sheet", "listings", "quantity", "openings")))


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """Openings, their items ordered by set and opening, and the quantities of each product."""
    openings = context.spec.openings
    by_set = sorted(openings.values(), key=lambda one: (str(one.set) if one.set is not None else "", one.id))
    return (
        Table("openings", "Openings", OPENINGS, tuple(_opening(one) for one in openings.values())),
        Table(
            "items",
            "Items by hardware set and opening",
            ITEMS,
            tuple(_item(item, one) for one in by_set for item in one.items.values()),
            notes=("An opening without a set lists its items itself.",),
        ),
        Table(
            "products",
            "Quantities of each product",
            PRODUCTS,
            tuple(_products(context)),
            notes=(
                "Counted over the openings; suppressors are counted where they are fitted. Supplies, switches, "
                "batteries and cables stand in schedules of their own.",
            ),
        ),
    )


def _opening(one: Opening) -> tuple[Cell, ...]:
    leaf, egress = one.leaf, one.egress
    return (
        text(one.id, "id"),
        optional(one.title),
        optional(one.set),
        text(one.from_, "from"),
        text(one.to, "to"),
        text(getattr(leaf, "count", None), "leaf.count"),
        text(one.fire_rating, "fire_rating"),
        text(getattr(egress, "by", None), "egress.by"),
        len(one.items),
    )


def _item(item: Item, one: Opening) -> tuple[Cell, ...]:
    sheet = item.sheet
    return (
        optional(one.set),
        text(one.id, "id"),
        text(item.name, "name"),
        text(item.product, "product"),
        text(sheet.kind if sheet is not None else None, "kind"),
        optional(sheet.title) if sheet is not None else text(None, "product"),
        optional(item.fail if item.fail is not None or sheet is None else sheet.fail),
        text(item.side, "side"),
        optional(item.leaf),
        optional(item.fed_from),
        1,
    )


def _products(context: Context) -> Iterator[tuple[Cell, ...]]:
    count: Counter[str] = Counter()
    where: dict[str, dict[str, None]] = {}
    for one in context.spec.openings.values():
        for item in one.items.values():
            for name in (item.product, *(fitted.product for fitted in item.suppression)):
                key = name if isinstance(name, str) else ""
                count[key] += 1
                where.setdefault(key, {})[one.id] = None
    for name in sorted(count):
        product = context.spec.products.get(name)
        listed = text(tuple(where[name]), "openings")
        yield (text(name or None, "product"), *_sheet(product), count[name], listed)


def _sheet(product: Product | None) -> tuple[Cell, ...]:
    if product is None:
        return tuple(text(None, "product") for _ in range(4))
    listings = product.listings
    return (
        text(product.kind, "kind"),
        optional(product.title),
        optional(product.data_sheet),
        NONE if listings == () else text(listings, "listings"),
    )
