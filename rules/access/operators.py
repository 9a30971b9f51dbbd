"""What the rules on door operators share. No rule stands here."""

from __future__ import annotations

from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS, Leaf, kind_of
from doorlint.spec import Item

OPERATORS = ("swing_operator", "sliding_operator")


def is_operator(item: Item) -> bool:
    """Whether an item is a machine that moves the leaf."""
    return kind_of(item) in OPERATORS


def operators(item: Item, context: Context) -> tuple[Item, ...]:
    """The door operators at the opening of an item."""
    return tuple(one for one in context.opening(item).items.values() if is_operator(one))


def leaves_of(item: Item, context: Context) -> tuple[Leaf, ...]:
    """The leaves that an operator drives: its own, or all where it names none."""
    leaves = context.door(context.opening(item)).leaves
    own = tuple(leaf for leaf in leaves if leaf.name == item.leaf)
    return own or leaves


def bears_lock(item: Item, context: Context) -> bool:
    """Whether something electric locks the opening of an item."""
    return any(kind_of(one) in LOCK_KINDS for one in context.opening(item).items.values())
