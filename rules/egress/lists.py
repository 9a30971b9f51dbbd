"""Lists of requirements: each item of a locking arrangement's list is judged by itself and named in the report.

No rule stands here. `judged` runs a list over one opening; the rest are the judgements that several lists share.
An item whose data are missing is open and the others are still judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from doorlint import codes
from doorlint.circuit.feeds import ContactUse, Feed
from doorlint.context import Context
from doorlint.egress import Arrangement, classify
from doorlint.events import Event, Lock, Row
from doorlint.events import Egress as Way
from doorlint.outcome import Cited, Kind, Measure, Place, Related, Step, Term, Verdict, failed, ok, to_authority, undecided
from doorlint.quantity import Quantity
from doorlint.spec import UNKNOWN, Item, Undecided, known
from doorlint.spec.fields import Part
from doorlint.spec.model import Building, Occupancy, Opening, PowerSource, Project

LISTED = "UL 294"
NONE_PERMITTED = "none permitted"
BY_HAND = ("exit_button", "emergency_release", "key_switch")
SENSORS = ("request_to_exit_sensor",)
ON_LEAF = (
    "touch_bar",
    "exit_device",
    "latch_retraction_exit_device",
    "electrified_exit_trim",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "mechanical_lock",
    "delayed_egress_device",
)
CAUTION = (
    "A computed list helps to prepare a review and replaces neither the adopted text, which local amendments change, "
    "nor the authority having jurisdiction, nor a test of the finished door."
)
FAMILIES = ("building", "life_safety")


@dataclass(frozen=True, slots=True)
class Case:
    """One opening with its classified arrangement, as the judgements of a list see it."""

    opening: Opening
    context: Context
    arrangement: Arrangement

    @property
    def project(self) -> Project:
        """The project, for the codes adopted."""
        return self.context.spec.project

    @property
    def holding(self) -> tuple[Item, ...]:
        """The devices that keep people in electrically."""
        return tuple(self.arrangement.holding)

    def of_kind(self, *kinds: str) -> tuple[Item, ...]:
        """The opening's items of these kinds of product."""
        return tuple(item for item in self.opening.items.values() if kind_of(item) in kinds)


Judge = Callable[[Case], Verdict]


@dataclass(frozen=True, slots=True)
class Requirement:
    """One item of a list: `name` is how the report calls it."""

    name: str
    judge: Judge


def case_of(opening: Opening, context: Context) -> Case:
    """The opening with its arrangement."""
    return Case(opening, context, classify(opening, context))


def kind_of(item: Item) -> str:
    """The kind of an item's product, or an empty text."""
    return item.sheet.kind if item.sheet is not None and isinstance(item.sheet.kind, str) else ""


def follows(case: Case) -> str | None:
    """The arrangement whose list the opening has to meet: what its wiring makes it, else what its author means it to be.

    Raises Undecided where neither is known.
    """
    kind = case.arrangement.kind
    if kind is not None and kind != NONE_PERMITTED:
        return kind
    meant = case.opening.arrangement
    if isinstance(meant, str):
        return meant
    if kind is None:
        gaps = case.arrangement.open_because
        raise gaps[0] if gaps else Undecided("arrangement", case.opening.at("arrangement"), stated=meant is UNKNOWN)
    return kind


def judged(requirements: Sequence[Requirement], case: Case, section: str) -> Iterator[Verdict]:
    """One verdict for each item of a list, resting on `section` of each adopted code that has it.

    Raises Undecided where no code is adopted that has the section; a code that has none while another has it gives
    one open verdict more.
    """
    grounds, gaps = clauses(case.project, section)
    if not grounds:
        raise gaps[0]
    for gap in gaps:
        text = f"cannot be decided: {gap.name} is not known; the list is judged by the other code adopted"
        yield undecided(text, (gap.name,), gap.place, basis=grounds)
    for requirement in requirements:
        yield one(requirement.name, requirement.judge, case, grounds)


def one(name: str, judge: Judge, case: Case, grounds: tuple[Cited, ...]) -> Verdict:
    """The verdict on one item of a list; open where data are missing."""
    try:
        verdict = judge(case)
    except Undecided as gap:
        how = "is given as unknown" if gap.stated else "is not stated"
        text = f"cannot be decided: {gap.name} {how}"
        verdict = undecided(text, (gap.name,), gap.place)
    return replace(verdict, message=f"{name}: {verdict.message}", basis=verdict.basis or grounds)


def clauses(project: Project, section: str) -> tuple[tuple[Cited, ...], tuple[Undecided, ...]]:
    """Where the adopted building and life safety codes have `section`, and what is not known of them."""
    found: list[Cited] = []
    gaps: list[Undecided] = []
    stated = [family for family in FAMILIES if family in project.codes]
    for family in stated or FAMILIES[:1]:
        try:
            found.append(codes.section(project, family, section))
        except Undecided as gap:
            gaps.append(gap)
    return tuple(found), tuple(gaps)


# -- what is stated -----------------------------------------------------------------------------------


def stated(part: Part, name: str, yes: str, no: str) -> Verdict:
    """Pass where the flag is true, fail where it is false, open where it is not stated."""
    return ok(yes, part.at(name)) if known(part, name, bool) else failed(no, part.at(name))


def building_of(case: Case) -> Building:
    """The building. Raises Undecided where nothing is stated of it."""
    return known(case.project, "building", Building)


def group_of(case: Case) -> str:
    """The occupancy group. Raises Undecided."""
    return known(occupancy_of(case), "group", str)


def occupancy_of(case: Case) -> Occupancy:
    """The occupancy. Raises Undecided."""
    return known(case.opening, "occupancy", Occupancy)


def figure(case: Case, value: str, what: str, part: Part, name: str, group: str = "") -> Verdict:
    """A stated quantity against the value of every adopted code that speaks of it."""
    measured = known(part, name, Quantity)
    at = part.at(name)
    step = Step(what, "as stated", Measure(measured.value, measured.dimension), (Term(name, measured.text, at),))
    verdict = codes.judge(case.project, value, what, measured, at, group=group, working=(step,))
    if verdict.kind is Kind.REVIEW:  # beyond the plain limit, yet no failure: the figure would read as one
        return replace(verdict, measured=None, limit=None, relation="")
    return verdict


def permission(case: Case, value: str, what: str) -> Verdict:
    """Whether every adopted code that speaks of `value` permits it for the group of the opening."""
    occupancy = occupancy_of(case)
    group = group_of(case)
    found, gaps = codes.settings(case.project, value, group=group)
    at = occupancy.at("group")
    answers = [(setting, setting.permits) for setting in found]
    related = tuple(setting.related for setting in found)
    basis = tuple(setting.basis for setting in found)
    refused = [setting for setting, answer in answers if answer is codes.Answer.NO]
    if refused and len(refused) == len(answers) and not gaps:
        by = " and ".join(setting.layer for setting in refused)
        return failed(f"{what} is not permitted in group {group} ({by})", at, related=related, basis=basis)
    if refused:
        each = "; ".join(f"{s.layer}: {s.text.replace('_', ' ')}" for s, _ in answers)
        text = f"the adopted codes differ on {what} in group {group} ({each}); the authority decides which governs"
        return to_authority(text, at, related=related, basis=basis)
    if gaps:
        raise gaps[0]
    hanging = [setting for setting, answer in answers if answer is codes.Answer.APPROVAL]
    if hanging:
        conditions = "; ".join(f"{s.layer}: {s.condition}" for s in hanging)
        text = f"{what} in group {group} hangs on a condition ({conditions})"
        return to_authority(text, at, related=related, basis=basis)
    by = " and ".join(setting.layer for setting in found)
    return ok(f"{what} is permitted in group {group} ({by})", at, related=related, basis=basis)


def protection(case: Case) -> Verdict:
    """Sprinklers throughout, or detection throughout."""
    building = building_of(case)
    covered = {name: getattr(building, name) for name in ("sprinkler", "detection")}
    for name, word in covered.items():
        if word == "throughout":
            return ok(f"{name} throughout", building.at(name))
    lacking = [name for name, word in covered.items() if word is None or word is UNKNOWN]
    if lacking:
        raise Undecided(lacking[0], building.at(lacking[0]), stated=covered[lacking[0]] is UNKNOWN)
    text = "neither sprinklers nor automatic detection cover the building throughout"
    return failed(text, building.at("sprinkler"), related=(Related(building.at("detection"), "the detection"),))


def listed(items: Sequence[Item], standard: str = LISTED) -> Verdict:
    """Whether each item's product is listed to a standard."""
    for item in items:
        if item.sheet is None:
            raise Undecided("product", item.at("product"), stated=item.product is not None)
        listings = known(item.sheet, "listings", tuple)
        if not any(words == standard or words.startswith(f"{standard} ") for words in listings):
            text = f"{item.name} is not listed to {standard} ({', '.join(listings) or 'no listings'})"
            return failed(text, item.at("product"), related=(Related(item.sheet.at("listings"), "its listings"),))
    names = " and ".join(item.name for item in items)
    return ok(f"{names} listed to {standard}", items[0].at("product") if items else None)


def system(case: Case, *more: str) -> tuple[Item, ...]:
    """The units of the locking system that an access control listing covers: what holds, and items of more kinds."""
    found = {item.name: item for item in (*case.holding, *case.of_kind(*more))}
    return tuple(found.values())


# -- the wiring -------------------------------------------------------------------------------------


def feeds_of(case: Case, item: Item) -> tuple[Feed, ...]:
    """The feeds of a holding device with known wiring. Raises Undecided where they are not known."""
    feeds = case.context.wiring.by_item.get(item.identity, ())
    if not feeds:
        raise Undecided("fed_from", item.at("fed_from"), stated=item.fed_from is not None)
    for name in ("released_by", "switched_by"):
        written = getattr(item, name)
        if written is UNKNOWN or (isinstance(written, tuple) and "unknown" in written):
            raise Undecided(name, item.at(name), stated=True)
    return feeds


def in_series(case: Case, item: Item, kinds: Sequence[str], side: str = "") -> tuple[ContactUse, ...]:
    """The contacts of devices of these kinds (on this side) that stand in series in the feed of a holding device."""
    return tuple(
        use
        for feed in feeds_of(case, item)
        for use in feed.contacts
        if isinstance(use.owner, Item) and kind_of(use.owner) in kinds and side in ("", use.owner.side)
    )


def breaks_directly(case: Case, kinds: Sequence[str], what: str, side: str = "") -> Verdict:
    """Whether a contact of such a device is in series in the feed of everything that holds."""
    places = []
    for item in case.holding:
        uses = in_series(case, item, kinds, side)
        if not uses:
            return failed(f"no contact of {what} is in series in the feed of {item.name}", *_fed(case, item, kinds))
        places.append((item, uses[0]))
    text = ", ".join(f"{use.owner.name} breaks the feed of {item.name}" for item, use in places if _is_item(use))
    return ok(text or f"{what} breaks every feed", places[0][1].place if places else None)


def _is_item(use: ContactUse) -> bool:
    return isinstance(use.owner, Item)


def _fed(case: Case, item: Item, kinds: Sequence[str]) -> tuple[Place]:
    devices = case.of_kind(*kinds)
    return (devices[0].place.key if devices else item.at("fed_from"),)


def from_fire_alarm(case: Case, item: Item) -> tuple[ContactUse, ...]:
    """The contacts of the fire alarm in series in the feed of a holding device."""
    return tuple(
        use
        for feed in feeds_of(case, item)
        for use in feed.contacts
        if (isinstance(use.owner, PowerSource) and use.owner.kind == "fire_alarm_panel")
        or (isinstance(use.owner, Item) and kind_of(use.owner) == "fire_alarm_relay")
    )


# -- the events -------------------------------------------------------------------------------------


def row_of(case: Case, event: Event) -> Row:
    """What the opening does in an event."""
    return case.context.matrix(case.opening).row(event)


def chain(row: Row, end: str) -> str:
    """The shortest chain of events that shows something: event -> why -> what of it."""
    return " -> ".join((row.event.title, *row.because, end))


def unknown_cell(row: Row) -> Undecided:
    """Why a cell of the matrix is not known."""
    return row.open_because[0] if row.open_because else Undecided("wiring", row.place, stated=False)


def unlocked_in(case: Case, *happening: str) -> Verdict:
    """Whether the lock is unlocked in each of these events."""
    shown = []
    for name in happening:
        row = row_of(case, Event(name))
        if row.lock is None:
            raise unknown_cell(row)
        if row.lock is not Lock("unlocked"):
            return failed(chain(row, "still locked"), row.place)
        shown.append(row)
    return ok(chain(shown[0], "unlocked"), shown[0].place)


def free_in(case: Case, *happening: str) -> Verdict:
    """Whether people get out without delay and without staff in each of these events."""
    shown = []
    for name in happening:
        row = row_of(case, Event(name))
        if row.egress is None:
            raise unknown_cell(row)
        if row.egress is not Way("free"):
            return failed(chain(row, f"egress {row.egress}"), row.place)
        shown.append(row)
    return ok(chain(shown[0], "egress free"), shown[0].place)


def on_fire_alarm(case: Case, judge: Callable[..., Verdict] = unlocked_in) -> Verdict:
    """Release on fire alarm until a manual reset, where the building has a system that can give it."""
    verdict = judge(case, "fire_alarm")
    if verdict.kind is not Kind.PASS:
        building = case.project.building
        has = [getattr(building, name) for name in ("fire_alarm", "sprinkler", "detection")] if building else [None]
        if isinstance(building, Building) and all(word in (False, "none") for word in has):
            return ok("the building has neither fire alarm nor sprinklers nor detection", building.place)
        return verdict
    for item in case.holding:
        for use in from_fire_alarm(case, item):
            if isinstance(use.owner, Item) and known(use.owner, "reset", str) != "manual":
                return failed(f"{use.owner.name} resets by itself, and the lock with it", use.owner.at("reset"))
    return verdict
