"""What has to unlock the stair side differs from edition to edition: each adopted one is checked by itself."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.events import Event
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, locks_of, row_of
from .demands import CAUTION, building_of, demanding, gives_reentry, no_floor_door, remote_releases, unlocked_in

RULE = Rule(
    "stair/release-of-another-edition",
    title="A stair door is not released as the adopted edition asks",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Cited("International Building Code", "2015 to 2024", "stairway doors", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "re-entry from stair enclosures", "clause by edition"),
    ),
    evidence=("edition", "what unlocks the stair side"),
    why="Designed to the edition of the last job: the command switch is there, the fire alarm is not.",
    cure="Wire every release that the adopted editions name; the strictest counts where there are two.",
    limits="Levels of selected re-entry and doors that unlock together do not show at one opening. " + CAUTION,
    life_safety=True,
)

WORDS = {
    "command_point": "from the command point",
    "fire_alarm": "by the fire alarm",
    "power_loss": "when power is lost",
}


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(opening)
    settled = () if reason else tuple(gives_reentry(opening, context))
    if reason or settled:
        yield from settled or (not_applicable(reason),)
        return
    project = context.spec.project
    asking = demanding(project, "stair_reentry/release")
    if not asking:
        yield not_applicable("no adopted code demands re-entry for a stair of this height")
        return
    for setting in asking:
        yield _judged(setting, opening, context)
    limits, _ = codes.settings(project, "stair_reentry/story_limit") if "building" in project.codes else ((), ())
    for limit in limits:
        if limit.value is not None:
            building = building_of(project)
            stories = known(building, "stories", int)
            yield limit.verdict("stories of the building", stories, building.at("stories"))


def _judged(setting: codes.Setting, opening: Opening, context: Context) -> Verdict:
    wanted = setting.value if isinstance(setting.value, tuple) else ()
    at, related, basis = lock_place(opening), (setting.related,), (setting.basis,)
    if setting.strictness == "any_of":
        if _released("fire_alarm", opening, context):
            return ok(f"{setting.layer}: unlocked by the fire alarm", at, related=related, basis=basis)
        text = f"{setting.layer}: the fire alarm does not unlock it; that is in order only in selected re-entry"
        return to_authority(f"{text}, which shows at the other levels", at, related=related, basis=basis)
    lacking = [word for word in wanted if not _released(word, opening, context)]
    if lacking:
        text = f"{setting.layer} asks that it unlock {' and '.join(WORDS.get(word, word) for word in lacking)}"
        places = tuple(Related(lock.at("released_by"), f"the feed of {lock.name}") for lock in locks_of(opening)[:2])
        return failed(f"{text}, and it does not", at, related=(*related, *places), basis=basis)
    how = ", ".join(WORDS.get(word, word) for word in wanted)
    return ok(f"{setting.layer}: unlocked {how}", at, related=related, basis=basis)


def _released(word: str, opening: Opening, context: Context) -> bool:
    """Whether the stair side is unlocked so. Raises Undecided where it is not known."""
    if word == "command_point":
        building = building_of(context.spec.project)
        return known(building, "command_point", str) != "none" and bool(remote_releases(opening, context))
    events = (Event.STANDBY_EXHAUSTED, Event.LOCK_CABLE_CUT) if word == "power_loss" else (Event.FIRE_ALARM,)
    rows = tuple(row_of(opening, context, event) for event in events)
    unlocked = unlocked_in(rows)
    if unlocked is None:
        gaps = [gap for row in rows for gap in row.open_because]
        raise gaps[0] if gaps else Undecided("wiring", opening.place.key, stated=False)
    return unlocked
