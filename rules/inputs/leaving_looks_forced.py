"""Leaving by lever or bar that the controller takes for a break-in."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import RELEASERS, kind_of, signals_to
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Egress, Item, Opening

from ..failure.doors import locks_of

RULE = Rule(
    "inputs/leaving-looks-forced",
    title="Everybody who leaves raises the alarm of a forced door",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "leaving by hardware is reported to the controller by a switch in lever or bar, or by a sensor",
            physics="an opening leaf without a report before it is all that the controller sees",
        ),
    ),
    why="Twenty false alarms a day, and after a week nobody looks at the true one.",
    cure="Report the lever or bar by its switch, or fit a sensor that only holds back the alarm.",
    limits="Whether the report comes early enough, 0.1 s before the leaf moves, is a matter of the test.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if opening.alarms is None and opening.security != "high":
        yield not_applicable("the spec puts no alarm of a forced door to use")
        return
    alarms = known(opening, "alarms", tuple)
    if "forced" not in alarms:
        yield not_applicable("no alarm of a forced door is in use")
    elif opening.egress is not None and known(opening, "egress", Egress).side == "none":
        yield not_applicable("nobody leaves here")
    else:
        items = opening.items.values()
        by = [item for item in items if signals_to(item) and item.side != "unsecured" and _tells(item)]
        if by:
            yield ok(f"{by[0].name} reports who leaves", by[0].at("signals"))
        else:
            uncounted.insist([*uncounted.devices(opening, context), *_telling(opening, context)])
            related = tuple(Related(item.place.key, item.name) for item in locks_of(opening)[:2])
            text = "an alarm of a forced door is in use, and nothing reports who leaves"
            yield failed(text, opening.at("alarms"), related=related)


_telling = uncounted.where_unknown("items.sheet.monitors", "items.signals")
"""What may report who leaves, where that is given as unknown."""


def _tells(item: Item) -> bool:
    monitors = item.sheet.monitors if item.sheet is not None else None
    return kind_of(item) in RELEASERS or (isinstance(monitors, tuple) and "request_to_exit" in monitors)
