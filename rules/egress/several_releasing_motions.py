"""How many motions it takes to get out: one is permitted, in one go."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes, uncounted
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, not_applicable
from doorlint.rulebook import Rule
from doorlint.spec import Item, known
from doorlint.spec.model import Opening

from .lists import BY_HAND, CAUTION, ON_LEAF, SENSORS, Case, case_of, in_series, kind_of, nobody_leaves

OPERATED = (
    "mechanical_lock",
    "exit_device",
    "latch_retraction_exit_device",
    "delayed_egress_device",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "motor_lock",
)

RULE = Rule(
    "egress/several-releasing-motions",
    title="It takes more than one motion to get out",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "unlatching", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.5", "one releasing operation", from_memory=True),
    ),
    evidence=("devices to operate", "permitted motions"),
    why="In smoke and haste people do the one thing they know; the second lock is found by nobody.",
    cure="Use one lock whose lever draws latch and bolt together, or a release that the same motion works.",
    limits="Manual bolts of inactive leaves and dwelling units have exceptions that the spec does not tell apart. "
    + CAUTION,
    life_safety=True,
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.sheet.deadbolt", "items.leaf")),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    case = case_of(opening, context)
    motions = {leaf: tuple(_motions(case, leaf)) for leaf in _leaves(case)}
    leaf, most = max(motions.items(), key=lambda entry: len(entry[1]), default=("", ()))
    if not most:
        case.insist_on_devices()
        yield not_applicable("nothing has to be operated to get out")
        return
    listed = " and ".join(what for what, _ in most)
    of = f" of the {leaf} leaf" if leaf in ("active", "inactive") else ""
    related = tuple(Related(item.place.key, what) for what, item in most[1:])
    yield codes.judge(
        case.project,
        "unlatching/operations",
        f"motions to get out{of} ({listed}):",
        len(most),
        most[0][1].place.key,
        related=related,
    )


def _leaves(case: Case) -> tuple[str, ...]:
    words = [item.leaf for item in case.opening.items.values() if isinstance(item.leaf, str)]
    return tuple(dict.fromkeys(words)) or ("single",)


def _motions(case: Case, leaf: str) -> Iterator[tuple[str, Item]]:
    """What has to be operated on a leaf, each with its item."""
    for item in case.of_kind(*OPERATED):
        if item.leaf not in (None, leaf) or item.sheet is None:
            continue
        yield f"{item.name}", item
        sheet = item.sheet
        if sheet.deadbolt is True and sheet.latch is not False and known(sheet, "egress_side", str) != "free":
            yield f"the deadbolt of {item.name}", item
    for item in case.holding:
        if item.leaf not in (None, leaf) or kind_of(item) in OPERATED:
            continue
        uses = in_series(case, item, (*SENSORS, *ON_LEAF, *BY_HAND), "")
        kinds = {kind_of(use.owner) for use in uses if isinstance(use.owner, Item)}
        if kinds & set(SENSORS) or kinds & set(ON_LEAF):
            continue  # released by approach, or by the motion that is counted already
        yield (f"what releases {item.name}", item)
