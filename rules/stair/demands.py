"""What the rules on stair doors share. No rule stands here."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.events import Event, Lock, Row
from doorlint.outcome import Verdict, not_applicable, ok
from doorlint.spec import known
from doorlint.spec.fields import UNKNOWN, Undecided
from doorlint.spec.model import Building, Item, Opening, Project

from ..egress.lists import CAUTION
from ..failure.doors import lock_place, open_for, row_of

__all__ = ["CAUTION", "building_of", "demanding", "gives_reentry", "no_floor_door", "remote_releases", "unlocked_in"]


def no_floor_door(opening: Opening) -> str:
    """Why an opening is no door by which people come back from a stair into a floor; empty where it may be one."""
    if opening.stair is False or (opening.stair is None and opening.arrangement != "stair_reentry"):
        return "the opening does not lead into a stair"
    return "this is the door by which the stair is left" if opening.stair_discharge is True else ""


def building_of(project: Project) -> Building:
    """The building. Raises Undecided where nothing is stated of it."""
    return known(project, "building", Building)


def gives_reentry(opening: Opening, context: Context) -> Iterator[Verdict]:
    """The verdict where the stair side is not locked, or where that is not known; nothing where it is locked."""
    normal = row_of(opening, context, Event.NORMAL)
    if normal.lock is Lock.UNLOCKED:
        yield ok("the stair side is not locked", lock_place(opening))
    elif normal.lock is None:
        yield open_for((normal,), opening)


def demanding(project: Project, name: str) -> tuple[codes.Setting, ...]:
    """The settings of `name` in those adopted codes that demand re-entry for a stair of this height.

    Raises Undecided or Gap where no code is adopted, or where the height decides and is not stated.
    """
    triggers, gaps = codes.settings(project, "stair_reentry/stories")
    if not triggers:
        raise gaps[0]
    met = {setting.edition for setting in triggers if _triggers(setting, project)}
    if not met:
        return ()
    found, lacking = codes.settings(project, name)
    asking = tuple(setting for setting in found if setting.edition in met)
    if not asking and lacking:
        raise lacking[0]
    return asking


def _triggers(setting: codes.Setting, project: Project) -> bool:
    if setting.value == 0:
        return True
    return setting.triggers(known(building_of(project), "stories", int))


def unlocked_in(rows: Iterator[Row] | tuple[Row, ...]) -> bool | None:
    """Whether the stair side is unlocked in all these events; None where one is not known and none is locked."""
    states = [row.lock for row in rows]
    if Lock.LOCKED in states:
        return False
    return None if None in states else True


def remote_releases(opening: Opening, context: Context) -> tuple[Item, ...]:
    """The devices at another place whose contacts stand in the feed of a lock: hard-wired release from a distance.

    Raises Undecided where the side of such a device is not stated.
    """
    door = context.door(opening)
    owners = {
        use.owner.name: use.owner
        for lock in door.locks
        for feed in door.feeds(lock)
        for use in feed.contacts
        if use.why == "released_by" and isinstance(use.owner, Item)
    }
    found = tuple(item for item in owners.values() if item.side == "remote")
    unknown = [item for item in owners.values() if item.side in (None, UNKNOWN)]
    if not found and unknown:
        raise Undecided("side", unknown[0].at("side"), stated=unknown[0].side is UNKNOWN)
    return found


def not_a_floor_door(opening: Opening) -> Verdict:
    """The verdict for an opening that these rules do not concern."""
    return not_applicable(no_floor_door(opening))
