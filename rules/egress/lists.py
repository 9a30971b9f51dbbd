"""Lists of requirements: each item of a locking arrangement's list is judged by itself and named in the report.

No rule stands here. `judged` runs a list over one opening; the rest are the judgements that several lists share.
An item whose data are missing is open and the others are still judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from doorlint import codes, uncounted
from doorlint.circuit.feeds import ContactUse, Feed
from doorlint.context import Context
from doorlint.egress import NONE_PERMITTED, Arrangement
from doorlint.events import Egress as Way
from doorlint.events import Event, Lock, Row
from doorlint.outcome import (
    Change,
    Cited,
    Kind,
    Measure,
    Place,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    failed,
    ok,
    to_authority,
    undecided,
)
from doorlint.quantity import Quantity
from doorlint.spec import UNKNOWN, Item, Undecided, known
from doorlint.spec.fields import Part
from doorlint.spec.model import Building, Egress, Occupancy, Opening, PowerSource, Project

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

    def insist_on_devices(self) -> None:
        """Raise Undecided where it is not known of an entry what device it is: it may be what seems to be absent."""
        uncounted.insist(uncounted.devices(self.opening, self.context))


Judge = Callable[[Case], Verdict]


@dataclass(frozen=True, slots=True)
class Requirement:
    """One item of a list.

    name: how the report calls it. value: the value of the codes that demands it (`delayed_egress/sign`); where no
    adopted code has it or it says no, the item is not asked for. Empty: the list's section demands it. judge: the
    judgement, which raises Undecided where data are missing.
    """

    name: str
    value: str
    judge: Judge


def case_of(opening: Opening, context: Context) -> Case:
    """The opening with its arrangement."""
    return Case(opening, context, context.arrangement(opening))


def kind_of(item: Item) -> str:
    """The kind of an item's product, or an empty text."""
    return item.sheet.kind if item.sheet is not None and isinstance(item.sheet.kind, str) else ""


def follows(case: Case) -> str:
    """The arrangement whose list the opening has to meet: what its wiring makes it, else what its author means.

    Empty where nobody leaves through the opening, or where data that are not stated leave both open (a rule of its own
    is open then). Raises Undecided where data that are given as unknown do.
    """
    if nobody_leaves(case.opening):
        return ""
    kind, meant = case.arrangement.kind, case.opening.arrangement
    if kind is not None and kind != NONE_PERMITTED:
        return kind
    if isinstance(meant, str):
        return meant
    if kind is None:
        uncounted.insist([gap for gap in case.arrangement.open_because if gap.stated])
    elif meant is UNKNOWN:
        raise Undecided("arrangement", case.opening.at("arrangement"), stated=True)
    return ""


def nothing_holds(case: Case) -> str:
    """That nothing holds people in electrically, and why. Raises Undecided where it hangs on data given as unknown."""
    if case.arrangement.kind is None:
        uncounted.insist([gap for gap in case.arrangement.open_because if gap.stated])
    return f"nothing holds people in electrically: {case.arrangement.why}"


def nobody_leaves(opening: Opening) -> bool:
    """Whether the spec says that the opening is no way out for anybody."""
    return isinstance(opening.egress, Egress) and opening.egress.side == "none"


def elsewhere(case: Case) -> str:
    """Why a list does not concern an opening."""
    if nobody_leaves(case.opening):
        return "nobody leaves through this opening"
    return f"the opening does not follow this arrangement: {case.arrangement.why}"


def by_practice(requirements: Sequence[Requirement], case: Case) -> Iterator[Verdict]:
    """One verdict for each item of a list that no code has; they rest on the rule's own ground."""
    for requirement in requirements:
        try:
            verdict = requirement.judge(case)
        except Undecided as gap:
            verdict = _open(gap)
        yield replace(verdict, message=f"{requirement.name}: {verdict.message}")


def _open(gap: Undecided) -> Verdict:
    how = "is given as unknown" if gap.stated else "is not stated"
    if isinstance(gap, codes.Gap):
        how = f"is not known ({gap.reason})" if gap.reason else "is not known"
    return undecided(f"cannot be decided: {gap.name} {how}", (gap.name,), gap.place)


def judged(
    requirements: Sequence[Requirement], case: Case, section: str, families: Sequence[str] = FAMILIES
) -> Iterator[Verdict]:
    """One verdict for each item of a list, each resting on the clauses of the adopted codes that demand it.

    Raises Undecided where no code is adopted, or none that is adopted has the section.
    """
    grounds, gaps = clauses(case.project, section, families)
    if not grounds:
        raise gaps[0]
    for requirement in requirements:
        try:
            verdict = _one(requirement, case)
        except Undecided as gap:
            verdict = _open(gap)
        yield replace(verdict, message=f"{requirement.name}: {verdict.message}", basis=verdict.basis or grounds)


def _one(requirement: Requirement, case: Case) -> Verdict:
    """The verdict on one item; raises Undecided where data are missing, or where the codes' own text is not known."""
    if not requirement.value:
        return requirement.judge(case)
    found, gaps = _settings(requirement.value, case)
    asking = [setting for setting in found if setting.value not in (None, False)]
    if not asking:
        if gaps:
            raise gaps[0]
        layers = " and ".join(setting.layer for setting in found) or "the codes adopted"
        return ok(f"not asked for by {layers}", case.opening.place.key, basis=tuple(s.basis for s in found))
    verdict = requirement.judge(case)
    basis = verdict.basis or tuple(dict.fromkeys(setting.basis for setting in asking))
    related = verdict.related or tuple(setting.related for setting in asking[:2])
    return _beside_gaps(replace(verdict, basis=basis, related=related), gaps)


def _settings(value: str, case: Case) -> tuple[tuple[codes.Setting, ...], tuple[codes.Gap, ...]]:
    """What the adopted codes say of a value; nothing where none of those that are adopted speaks of it."""
    try:
        return codes.settings(case.project, value)
    except codes.Gap:
        raise
    except Undecided as gap:
        if gap.name == "group":
            return codes.settings(case.project, value, group=group_of(case))
        if (
            gap.name.startswith("codes.")
            and not gap.stated
            and gap.name.removeprefix("codes.") not in case.project.codes
        ):
            return (), ()
        raise


def _beside_gaps(verdict: Verdict, gaps: Sequence[codes.Gap]) -> Verdict:
    """A pass by one code where another leaves the matter to text that is not known here goes to the authority."""
    if verdict.kind is not Kind.PASS or not gaps:
        return verdict
    left = "; ".join(f"{gap.name} is not known here ({gap.reason or 'no reason given'})" for gap in gaps)
    text = f"{verdict.message}; {left}: read the adopted text"
    return replace(verdict, kind=Kind.REVIEW, message=text, measured=None, limit=None, relation="")


def clauses(
    project: Project, section: str, families: Sequence[str] = FAMILIES
) -> tuple[tuple[Cited, ...], tuple[Undecided, ...]]:
    """Where the adopted codes of these families have `section`, and what is not known of them."""
    found: list[Cited] = []
    gaps: list[Undecided] = []
    adopted = [family for family in families if family in project.codes]
    for family in adopted or families[:1]:
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


def figure(case: Case, value: str, what: str, part: Part, name: str) -> Verdict:
    """A stated quantity against the value of every adopted code that speaks of it."""
    found, _ = codes.settings(case.project, value)
    limits = [setting for setting in found if setting.value is not None]
    if not limits:
        return ok("no adopted code sets a figure", part.at(name))
    measured = known(part, name, Quantity)
    at = part.at(name)
    step = Step(what, "as stated", Measure(measured.value, measured.dimension), (Term(name, measured.text, at),))
    verdicts = [_compared(case, setting, what, measured, at, step) for setting in limits]
    order = {Kind.FAIL: 0, Kind.REVIEW: 1, Kind.PASS: 2}
    chosen = min(verdicts, key=lambda v: (order[v.kind], v.margin.value if v.margin is not None else 0))
    return replace(chosen, basis=tuple(dict.fromkeys(b for v in verdicts if v.kind is chosen.kind for b in v.basis)))


def _compared(case: Case, setting: codes.Setting, what: str, measured: Quantity, at: Place, step: Step) -> Verdict:
    verdict = setting.verdict(what, measured, at, working=(step,))
    if verdict.kind is Kind.FAIL and isinstance(setting.value, Quantity):
        cure = Repair(f"make it {setting.text}", (Change(at, setting.text),), life_safety=True)
        return replace(verdict, repairs=(cure,))
    if verdict.kind is Kind.REVIEW:  # beyond the plain limit, yet no failure: the figure would read as one
        verdict = replace(verdict, measured=None, limit=None, relation="")
        return approved(case, verdict)
    return verdict


def approved(case: Case, verdict: Verdict) -> Verdict:
    """What needs the authority's approval passes where the spec says that it has been given in writing."""
    if verdict.kind is not Kind.REVIEW or case.opening.authority_approval is not True:
        return verdict
    related = (*verdict.related, Related(case.opening.at("authority_approval"), "the approval"))
    return replace(verdict, kind=Kind.PASS, message=f"{verdict.message}; approved in writing", related=related)


def add_contact(item: Item, device: Item) -> tuple[Repair, ...]:
    """Taking the one contact of a device into the feed of a lock, where the spec tells which it is."""
    contacts = device.sheet.contacts if device.sheet is not None else {}
    if len(contacts) != 1 or item.released_by is UNKNOWN:
        return ()
    (name, contact), *_ = contacts.items()
    use = f"{device.name}.{name}"
    if contact.form == "spdt":
        use += ".no" if kind_of(device) in (*SENSORS, "fire_alarm_relay", "touch_bar") else ".nc"
    listed = item.released_by if isinstance(item.released_by, tuple) else ()
    text = f"[{', '.join((*listed, use))}]"
    title = f"take {use} into the feed of {item.name}"
    if item.released_by is None:
        return (Repair(title, (Change(item.place, text, key="released_by"),), life_safety=True),)
    return (Repair(title, (Change(item.at("released_by"), text),), life_safety=True),)


def count(case: Case, value: str, what: str, part: Part, name: str) -> Verdict:
    """A stated number against the value of every adopted code that speaks of it."""
    found, _ = codes.settings(case.project, value, group=group_of(case))
    measured = known(part, name, int)
    verdicts = [setting.verdict(what, measured, part.at(name)) for setting in found]
    return min(verdicts, key=lambda v: (Kind.FAIL, Kind.REVIEW, Kind.PASS).index(v.kind))


def permission(case: Case, value: str, what: str, condition: Callable[[Case], bool | None] | None = None) -> Verdict:
    """Whether every adopted code that speaks of `value` permits it for the group of the opening.

    condition: decides where a permission is conditional; None leaves it to the authority, as no condition does.
    """
    occupancy, group = occupancy_of(case), group_of(case)
    found, gaps = codes.settings(case.project, value, group=group)
    at = occupancy.at("group")
    if not found:
        raise gaps[0]
    answers = {setting: _permits(setting, case, condition) for setting in found}
    related = tuple(setting.related for setting in found)
    basis = tuple(setting.basis for setting in found)
    refused = [setting for setting, answer in answers.items() if answer is codes.Answer.NO]
    if refused and len(refused) == len(found):
        by = " and ".join(setting.layer for setting in refused)
        hangs = "; ".join(dict.fromkeys(setting.condition for setting in refused if setting.condition))
        only = f", only for {hangs}" if hangs else ""
        return failed(f"{what} is not permitted in group {group} by {by}{only}", at, related=related, basis=basis)
    if refused:
        each = "; ".join(f"{s.layer}: {answer}" for s, answer in answers.items())
        text = f"the adopted codes differ on {what} in group {group} ({each}): the authority decides which governs"
        return to_authority(text, at, related=related, basis=basis)
    hanging = [setting for setting, answer in answers.items() if answer is codes.Answer.APPROVAL]
    if hanging:
        conditions = "; ".join(f"{s.layer}: {s.condition}" for s in hanging)
        text = f"{what} in group {group} hangs on a condition ({conditions})"
        return to_authority(text, at, related=related, basis=basis)
    by = " and ".join(setting.layer for setting in found)
    return _beside_gaps(ok(f"{what} is permitted in group {group} by {by}", at, related=related, basis=basis), gaps)


def _permits(setting: codes.Setting, case: Case, condition: Callable[[Case], bool | None] | None) -> codes.Answer:
    answer = setting.permits
    if answer is not codes.Answer.APPROVAL or condition is None:
        return answer
    decided = condition(case)
    return {True: codes.Answer.YES, False: codes.Answer.NO, None: codes.Answer.APPROVAL}[decided]


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


def listed(case: Case, value: str, items: Sequence[Item]) -> Verdict:
    """Whether each item's product has the listings that the adopted codes name."""
    found, _ = codes.settings(case.project, value)
    wanted = tuple(dict.fromkeys(name for s in found if isinstance(s.value, tuple) for name in s.value))
    for item in items:
        if item.sheet is None:
            raise Undecided("product", item.at("product"), stated=item.product is not None)
        listings = known(item.sheet, "listings", tuple)
        for standard in wanted:
            if not any(words == standard or words.startswith(f"{standard} ") for words in listings):
                text = f"{item.name} is not listed to {standard} ({', '.join(listings) or 'no listings'})"
                return failed(text, item.at("product"), related=(Related(item.sheet.at("listings"), "its listings"),))
    if not items:
        raise Undecided("what locks the opening", case.opening.place.key, stated=False)
    names = " and ".join(item.name for item in items)
    return ok(f"{names} listed to {' and '.join(wanted)}", items[0].at("product"))


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
    """The contacts of devices of these kinds (on this side) that stand in series in the feed of a holding device.

    Raises Undecided where there are none, and one may be: by a device of which it is not known what it is, or where.
    """
    used = [use for feed in feeds_of(case, item) for use in feed.contacts if isinstance(use.owner, Item)]
    of_kinds = [use for use in used if isinstance(use.owner, Item) and kind_of(use.owner) in kinds]
    found = tuple(use for use in of_kinds if isinstance(use.owner, Item) and side in ("", use.owner.side))
    if not found:
        uncounted.insist(uncounted.in_feed(item, case.context))
        for use in of_kinds:
            if isinstance(use.owner, Item):
                known(use.owner, "side", str)
    return found


def breaks_directly(case: Case, kinds: Sequence[str], what: str, side: str = "") -> Verdict:
    """Whether a contact of such a device is in series in the feed of everything that holds."""
    if not case.holding:
        raise Undecided("what holds the opening", case.opening.place.key, stated=False)
    shown = []
    for item in case.holding:
        uses = in_series(case, item, kinds, side)
        if not uses:
            devices = [d for d in case.of_kind(*kinds) if side in ("", d.side)] or list(case.of_kind(*kinds))
            at = devices[0].place.key if devices else item.place.key
            related = (Related(item.at("fed_from"), f"the feed of {item.name}"),)
            return failed(f"no contact of {what} is in series in the feed of {item.name}", at, related=related)
        shown.append((item, uses[0]))
    text = ", ".join(f"{owner_name(use)} breaks the feed of {item.name}" for item, use in shown)
    return ok(text, shown[0][1].place)


def owner_name(use: ContactUse) -> str:
    """How the owner of a contact is called."""
    return use.owner.name if isinstance(use.owner, Item) else use.owner.id


def from_fire_alarm(case: Case, item: Item) -> tuple[ContactUse, ...]:
    """The contacts of the fire alarm in series in the feed of a holding device. Raises Undecided where there are none,
    and it is not known of a device in that feed what it is."""
    found = tuple(
        use
        for feed in feeds_of(case, item)
        for use in feed.contacts
        if (isinstance(use.owner, PowerSource) and use.owner.kind == "fire_alarm_panel")
        or (isinstance(use.owner, Item) and kind_of(use.owner) == "fire_alarm_relay")
    )
    if not found:
        uncounted.insist(uncounted.in_feed(item, case.context))
    return found


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
            return failed(chain(row, "still locked"), row.place.key)
        shown.append(row)
    return ok(chain(shown[0], "unlocked"), shown[0].place.key)


def free_in(case: Case, *happening: str) -> Verdict:
    """Whether people get out without delay and without staff in each of these events."""
    shown = []
    for name in happening:
        row = row_of(case, Event(name))
        if row.egress is None:
            raise unknown_cell(row)
        if row.egress is not Way("free"):
            return failed(chain(row, f"egress {row.egress}"), row.place.key)
        shown.append(row)
    return ok(chain(shown[0], "egress free"), shown[0].place.key)


def on_fire_alarm(case: Case, judge: Callable[..., Verdict] = unlocked_in) -> Verdict:
    """Release on fire alarm until a manual reset, where the building has a system that can give it."""
    verdict = judge(case, "fire_alarm")
    if verdict.kind is not Kind.PASS:
        building = case.project.building
        if isinstance(building, Building):
            systems = {name: getattr(building, name) for name in ("fire_alarm", "sprinkler", "detection")}
            if all(value in (False, "none") for value in systems.values()):
                return ok("the building has neither fire alarm nor sprinklers nor detection", building.place)
            if verdict.kind is Kind.FAIL and all(value in (False, "none", UNKNOWN) for value in systems.values()):
                name = next(name for name, value in systems.items() if value is UNKNOWN)
                raise Undecided(name, building.at(name), stated=True)
        return verdict
    for item in case.holding:
        for use in from_fire_alarm(case, item):
            if isinstance(use.owner, Item) and known(use.owner, "reset", str) != "manual":
                return failed(f"{use.owner.name} resets by itself, and the lock with it", use.owner.at("reset"))
    return verdict
