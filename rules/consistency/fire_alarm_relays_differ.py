"""The relays that the fire alarm contractor provides against those that the doors use."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import FIRE, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Project

RULE = Rule(
    "consistency/fire-alarm-relays-differ",
    title="The doors use another number of fire alarm relays than is provided",
    level=Level.WARNING,
    over=Project,
    applies=lambda project: project.fire_alarm_relays is not None,
    scope="projects that state how many relays are provided",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="Three relays are in the fire alarm bid, five doors need one each.",
    cure="Settle the list of relays with the fire alarm contractor.",
    limits="Relays in the feeds of devices count, each once; relays that feed a controller's input only are not seen.",
    incomplete=uncounted.devices_of_all,
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    provided, at = known(project, "fire_alarm_relays", int), project.at("fire_alarm_relays")
    feeds = context.wiring.feeds
    used = {use.identity: use for feed in feeds for use in feed.contacts if kind_of(use.owner) in FIRE}
    related = tuple(Related(use.place, name) for name, use in sorted(used.items())[:3])
    text = f"{provided} relays are provided, and the doors use {len(used)}"
    if len(used) < provided and (gaps := uncounted.devices_of_all(project, context)):
        raise gaps[0]
    yield (ok if provided == len(used) else failed)(text, at, related=related)
