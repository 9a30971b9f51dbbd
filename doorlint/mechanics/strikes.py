"""What a strike takes: the types of latch that it is made for.

Three-valued: None where the data do not tell.
"""

from __future__ import annotations

from typing import Final

LOCK_TYPES: Final = ("cylindrical", "mortise", "rim", "narrow_stile", "vertical_rod", "multipoint")
"""How a latch is built in; a strike is made for one or several of them."""

DEADBOLT: Final = "deadbolt"
"""What a strike says that lets a thrown deadbolt go as well."""

BY_KIND: Final = {"electrified_mortise_lock": "mortise", "electrified_cylindrical_lock": "cylindrical"}
"""The type that follows from the kind of product."""


def takes_latch(suits: tuple[str, ...], lock_type: str) -> bool | None:
    """Whether a strike made for `suits` takes a latch of `lock_type`; None where a word is not one of `LOCK_TYPES`."""
    if lock_type not in LOCK_TYPES or any(word not in (*LOCK_TYPES, DEADBOLT) for word in suits):
        return None
    return lock_type in suits
