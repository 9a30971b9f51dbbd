"""Which locking arrangement an opening follows, by its devices and their wiring, never by what the author claims."""

from __future__ import annotations

from dataclasses import dataclass, field

from .outcome import Place
from .spec.fields import Undecided
from .spec.model import Item


@dataclass(frozen=True, slots=True)
class Arrangement:
    """kind: a word of `Opening.arrangement`, "none permitted" where egress is held electrically and no arrangement
    is met, or None where the spec leaves it open (`open_because` names the fields). why: the reason in plain words.
    holding: the items that hold the egress side electrically. releasing: the items that release it for an occupant or,
    in controlled egress, for staff."""

    kind: str | None
    why: str
    holding: tuple[Item, ...]
    releasing: tuple[Item, ...]
    place: Place
    open_because: tuple[Undecided, ...] = field(default=(), compare=False)
