"""One opening in place of all that are alike, which notes what is asked of it beyond what they have in common.

Whatever is computed from a stand-in holds for another opening of the same likeness if the two agree in the own fields
that were asked for, and if nothing was asked that concerns the spec as a whole (`WIDE`): other openings, the other
loads of a source, or what a list of all sources would hold.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from functools import cached_property
from typing import Any, Final, TypeVar

from ..circuit.demand import key_of
from ..circuit.feeds import Feed, LoadedContact, LoadedOutput, Wiring, trace
from ..circuit.lines import Line
from ..circuit.poe_links import PoeLink, PoeLinks, poe_links
from ..circuit.releases import SwitchedCoil, switched_coils
from ..circuit.supplies import Supplies
from ..circuit.voltages import LoadVoltage, Unit, Voltages, units
from ..context import Context
from ..facts import Fact
from ..outcome import Place
from ..spec.fields import Part, ReadLater, Undecided, read_again
from ..spec.frozen import FrozenDict, frozen, nothing
from ..spec.model import Item, Opening, PowerSource, Spec
from ..spec.read import read_source
from .own import OWN_FIELDS, UNREAD, Asked, bounded, searched
from .signs import OPENING, OPENING_PLACE, Drawn, Signed, file_sign
from .world import World

WIDE: Final[Asked] = ("*", "")
"""Asked for something that the likeness of one opening does not tell."""

T = TypeVar("T")
L = TypeVar("L", bound=ReadLater)


class Asking:
    """Notes what is asked, and to what each kept answer owes itself."""

    def __init__(self) -> None:
        self._open: list[set[Asked]] = [set()]
        self.of_sources: set[str] = set()
        """The fields of power sources that anything asked for, as they stand in an entry."""

    def note(self, asked: Asked) -> None:
        """Something was asked for."""
        self._open[-1].add(asked)

    def begin(self) -> None:
        """From here to `end` what is asked for is noted by itself."""
        self._open.append(set())

    def end(self, *, forget: bool = False) -> set[Asked]:
        """What was asked for since `begin`; unless it is to be forgotten, it counts for what is outside too."""
        inner = self._open.pop()
        if inner and not forget:
            self._open[-1] |= inner
        return inner

    @contextmanager
    def forgotten(self) -> Iterator[None]:
        """What is asked for inside does not count."""
        self.begin()
        try:
            yield
        finally:
            self.end(forget=True)

    def once(self, kept: dict[Any, Any], key: object, compute: Callable[[], T]) -> T:
        """What `compute` gives, kept with what it asked for."""
        if key in kept:
            value, asked = kept[key]
            self._open[-1] |= asked
            return value  # type: ignore[no-any-return]
        self.begin()
        try:
            value = compute()
        finally:
            asked = self.end()
        kept[key] = (value, asked)
        return value


def _watching(base: type[Any], names: Mapping[str, Callable[[Any], None]]) -> type[Any]:
    """A subclass of a part that notes when one of its fields `names` is asked for."""

    def read(name: str, note: Callable[[Any], None]) -> property:
        slot = getattr(base, name)

        def get(self: Any) -> Any:
            note(self)
            return slot.__get__(self)

        return property(get)

    body: dict[str, Any] = {name: read(name, note) for name, note in names.items()}
    body["__slots__"] = ("asking",)
    return type(base.__name__, (base,), body)


def _own(key: str) -> Callable[[Any], None]:
    return lambda part: part.asking.note(("", key))


def _length(item: Any) -> None:
    item.asking.note((item.name, "length"))


def _of_source(key: str) -> Callable[[Any], None]:
    return lambda source: source.asking.of_sources.add(key)


_OF_SOURCES: Final = tuple(
    each.name for each in fields(PowerSource) if "read" in each.metadata and each.name not in ("fed_from", "outputs")
)
"""What a source says by itself: what feeds it, and its outputs, are told by signs. It is noted for the whole opening:
what is kept of an answer does not tell which rule it owes itself to."""

_WatchedItem = _watching(Item, {"length": _length})
_WatchedOpening = _watching(Opening, {name: _own(key) for key, name in OWN_FIELDS.items()})
_WatchedSource = _watching(PowerSource, {name: _of_source(name.rstrip("_")) for name in _OF_SOURCES})
_WatchedSourceAlone = _watching(_WatchedSource, {"title": _own("title")})


def _watch(part: L, watched: type[L], asking: Asking, **now: Any) -> L:
    made = read_again(part, watched, **now)
    watched.asking.__set__(made, asking)  # type: ignore[attr-defined]
    return made


class _Listed(FrozenDict[str, Any]):
    """A mapping of which a stand-in holds a part only: asking for one entry is fine, for all of them is WIDE."""

    asking: Asking | None = None

    def _wide(self) -> None:
        if self.asking is not None:
            self.asking.note(WIDE)

    def __missing__(self, key: str) -> Any:
        self._wide()
        raise KeyError(key)

    def __contains__(self, key: object) -> bool:
        found = super().__contains__(key)
        if not found:
            self._wide()
        return found

    def get(self, key: str, default: Any = None) -> Any:
        if not super().__contains__(key):
            self._wide()
        return super().get(key, default)

    def __iter__(self) -> Iterator[str]:
        self._wide()
        return super().__iter__()

    def __len__(self) -> int:
        self._wide()
        return super().__len__()

    def keys(self) -> Any:
        self._wide()
        return super().keys()

    def values(self) -> Any:
        self._wide()
        return super().values()

    def items(self) -> Any:
        self._wide()
        return super().items()


class _LocalWiring(Wiring):
    """The wiring of a stand-in: what hangs on its own devices is all there, what hangs on sources is not."""

    def __getattribute__(self, name: str) -> Any:
        if name in ("feeds", "outputs", "contacts", "unfed"):
            asking = super().__getattribute__("__dict__").get("asking")
            if asking is not None:
                asking.note(WIDE)
        return super().__getattribute__(name)


class _LocalVoltages(Voltages):
    """The voltages of a stand-in. A unit's voltages depend on the lengths of all that shares its conductors."""

    asking: Asking

    @cached_property
    def _units(self) -> dict[str, Unit]:
        """Of the feeds that are here; what shares their conductors is of the same opening."""
        with self.asking.forgotten():
            return {key_of(feed): unit for unit in units(self.wiring) for feed in unit.feeds}

    def line(self, feed: Feed) -> Line:
        """The line of a feed."""
        self.asking.note((feed.item.name, "length"))
        return super().line(feed)

    def at_length(self, found: LoadVoltage, length_m: float) -> float | None:
        """The voltage with another length of the feed's own cable."""
        self._note_unit(found.feed)
        return super().at_length(found, length_m)

    def _kept(self, feed: Feed, state: Any) -> LoadVoltage:
        self._note_unit(feed)
        return super()._kept(feed, state)

    def _note_unit(self, feed: Feed) -> None:
        for member in self.unit(feed).feeds:
            self.asking.note((member.item.name, "length"))


class _LocalPoe(PoeLinks):
    """The PoE links of a stand-in: an answer that is kept still owes itself to what was asked for it."""

    def _once(self, what: str, link: PoeLink, solve: Callable[[PoeLink], T]) -> T:
        def tried() -> T | Undecided:
            try:
                return solve(link)
            except Undecided as gap:
                return gap

        asking: Asking = self.__dict__["asking"]
        found = asking.once(self._kept, (what, link.identity), tried)
        if isinstance(found, Undecided):
            raise found
        return found


class StandIn(Context):
    """The context of one stand-in. `subjects_here` are the subjects that belong to the opening, by type."""

    asking: Asking
    world: World
    subjects_here: Mapping[type[Any], Sequence[Any]]
    asked_facts: dict[str, Fact]

    def __getattribute__(self, name: str) -> Any:
        if name == "subjects":
            super().__getattribute__("asking").note(WIDE)
        return super().__getattribute__(name)

    @property
    def supplies(self) -> Supplies:
        """Asked for the loads of whole sources."""
        self.asking.note(WIDE)
        return Supplies(self.spec, self.wiring)

    def once(self, what: str, compute: Callable[[], Any]) -> Any:
        """An index of the whole spec, which a stand-in cannot have."""
        self.asking.note(WIDE)
        return super().once(what, compute)

    def fact(self, what: str, compute: Fact) -> bool:
        """As the real spec has it."""
        self.asked_facts[what] = compute
        return self.world.facts.fact(what, compute)

    def matches(self, opening: Opening, field_name: str, pattern: re.Pattern[str]) -> tuple[re.Match[str], ...]:
        """Where nothing matches, this holds for all openings in whose texts nothing does."""
        self.asking.note(("", searched(field_name.rstrip("_"), pattern)))
        with self.asking.forgotten():
            found = super().matches(opening, field_name, pattern)
        return super().matches(opening, field_name, pattern) if found else found

    def lies_in(self, part: Part, field_name: str, band: str) -> bool | None:
        """So it is then for all openings whose length of that item lies in the band, or does not."""
        if not isinstance(part, _WatchedItem) or field_name != "length":
            return super().lies_in(part, field_name, band)
        self.asking.note((part.name, bounded(field_name, band)))
        with self.asking.forgotten():
            return super().lies_in(part, field_name, band)

    def given_as_unknown(self, opening: Opening, field_name: str) -> bool:
        """So it is then for all openings of which it is."""
        self.asking.note(("", f"{field_name.rstrip('_')}{UNREAD}"))
        with self.asking.forgotten():
            return super().given_as_unknown(opening, field_name)

    def _once(self, what: str, opening: Opening, compute: Callable[[], Any]) -> Any:
        return self.asking.once(self._kept, (what, opening.id), compute)


class SourceStandIn(StandIn):
    """The context of one power source by itself, of which nothing is known but what it states."""

    def __getattribute__(self, name: str) -> Any:
        if name in _BEYOND_A_SOURCE:
            raise Unfit(f"it asks for the {name}")
        return super().__getattribute__(name)


_BEYOND_A_SOURCE: Final = frozenset({"wiring", "voltages", "poe", "supplies", "once"})


class Unfit(Exception):  # noqa: N818 - it says that an opening is judged by itself
    """An opening that cannot be stood in for."""


def stand_in(drawn: Drawn, whole: frozenset[str], world: World) -> StandIn:
    """The context of a stand-in for an opening. Raises Unfit where reading or wiring it gives a finding of its own."""
    asking = Asking()
    if drawn.entry is None:
        return _source_alone(drawn.power[0], asking, world)
    power = _Listed(
        {name: world.spec.power[name] for name in drawn.kept}
        | {each.sign: _source(each, asking) for each in drawn.power}
    )
    opening, findings = world.reader.read(OPENING, drawn.entry, OPENING_PLACE, world.faulty)
    if findings:
        raise Unfit("it has a finding")
    items = {
        name: _watch(item, _WatchedItem, asking, name=name, opening=item.opening)
        for name, item in opening.items.items()
    }
    watched = _watch(opening, _WatchedOpening, asking, id=opening.id, items=frozen(items))
    openings = _Listed({OPENING: watched})
    small = replace(world.spec, power=power, openings=openings, waivers=())
    wiring = trace(small)
    if wiring.findings:
        raise Unfit("its wiring has a finding")
    made = _context(small, watched, wiring, asking, world, whole)
    power.asking = openings.asking = asking
    return made


def _source_alone(signed: Signed, asking: Asking, world: World) -> StandIn:
    read = _source(signed, asking)
    source: PowerSource = _watch(read, _WatchedSourceAlone, asking, id=read.id, outputs=read.outputs)
    power, openings = _Listed({source.id: source}), _Listed()
    power.asking = openings.asking = asking
    made = object.__new__(SourceStandIn)
    made.__dict__.update(
        spec=replace(world.spec, power=power, openings=openings, waivers=()),
        subjects=nothing(),
        asking=asking,
        world=world,
        asked_facts={},
        subjects_here=frozen({PowerSource: (source,)}),
    )
    return made


def _source(signed: Signed, asking: Asking) -> PowerSource:
    source, findings = read_source(signed.sign, signed.entry, Place(file_sign(signed.sign), f"/power/{signed.sign}"))
    if findings:
        raise Unfit("a source of it has a finding")
    now: dict[str, Any] = {"id": source.id}
    if "outputs" in signed.entry:
        now["outputs"] = outputs = _Listed(source.outputs)
        outputs.asking = asking
    watched: PowerSource = _watch(source, _WatchedSource, asking, **now)
    return watched


def _context(
    small: Spec, opening: Opening, wiring: Wiring, asking: Asking, world: World, whole: frozenset[str]
) -> StandIn:
    local = _LocalWiring(**{name: getattr(wiring, name) for name in wiring.__dataclass_fields__})
    local.__dict__["asking"] = asking
    links = poe_links(small, wiring)
    poe = _LocalPoe(small, local, links.links, links.sources, links.by_item)
    poe.__dict__["asking"] = asking
    voltages = _LocalVoltages(small, local, _problems=world.problems)
    voltages.asking = asking
    here: dict[type[Any], Sequence[Any]] = {
        Opening: (opening,),
        Item: tuple(opening.items.values()),
        Feed: wiring.feeds,
        LoadedOutput: tuple(
            o for o in wiring.outputs if not isinstance(o.terminal.owner, PowerSource) or o.identity in whole
        ),
        LoadedContact: tuple(c for c in wiring.contacts if not isinstance(c.use.owner, PowerSource)),
        SwitchedCoil: switched_coils(wiring),
        PoeLink: poe.links,
    }
    made = object.__new__(StandIn)
    state = made.__dict__
    state.update(
        spec=small,
        wiring=local,
        voltages=voltages,
        poe=poe,
        subjects=nothing(),
        asking=asking,
        world=world,
        asked_facts={},
        subjects_here=frozen(here),
    )
    return made
