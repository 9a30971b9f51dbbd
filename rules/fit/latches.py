"""What the rules on strikes and latches share. No rule stands here."""

from __future__ import annotations

from doorlint.context import Context
from doorlint.events.door import Leaf
from doorlint.mechanics.strikes import BY_KIND
from doorlint.spec import Item, Product, known


def leaf_with(item: Item, context: Context) -> Leaf | None:
    """The leaf that an item locks or latches; None where the item does neither."""
    leaves = context.door(context.opening(item)).leaves
    found = [leaf for leaf in leaves if item.name in {i.name for i in (*leaf.locks, *leaf.latchers, *leaf.undescribed)}]
    return found[0] if found else None


def latches_at(strike: Item, context: Context) -> tuple[Item, ...]:
    """The locks and exit devices whose latch a strike holds."""
    leaf = leaf_with(strike, context)
    return leaf.latchers if leaf is not None else ()


def lock_type(lock: Item) -> str:
    """How the latch of a lock is built in, by its sheet or else by its kind. Raises Undecided where neither tells."""
    sheet = lock.sheet
    assert isinstance(sheet, Product)
    if sheet.lock_type is None and sheet.kind in BY_KIND:
        return BY_KIND[str(sheet.kind)]
    return known(sheet, "lock_type", str)
