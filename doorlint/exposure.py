"""What can be reached from the unsecured side of an opening, and what it opens.

Each conductor and terminal is labelled by whether somebody on the unsecured side reaches it (the terminals of a
device there, the conductors that end there, and what runs in one cable with them); each one reached is shorted, opened
and fed, and the state model of `doorlint.events` tells whether the door unlocks. A lock switched inside a device
outside is the textbook case; a relay module on the secured side whose link is authenticated cures it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .events import reach
from .events.reach import Conductor, Exposed
from .spec.model import Opening

if TYPE_CHECKING:
    from .context import Context

__all__ = ["Conductor", "Exposed", "exposed"]


def exposed(opening: Opening, context: Context) -> tuple[Exposed, ...]:
    """Every conductor of an opening that bears on its locks, with what becomes of the door when it is attacked.

    Those out of reach are listed too, with `unlocks` no. Use `context.exposed`, which keeps the result.
    """
    return reach.exposed(context.door(opening))
