"""How power reaches each device: which output feeds which input, through which contacts, back to which source.

The result is plain data that the other analyses and the rules stand on. Wiring that contradicts itself becomes
findings naming both places; the rest of the spec is still judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from typing import Any, Final

from ..format_rules import finding
from ..outcome import Outcome, Place, Related
from ..quantity import Band
from ..spec.fields import UNKNOWN, Maybe, read_later
from ..spec.frozen import frozen
from ..spec.model import Coil, Contact, Input, Inputs, Item, Output, PowerSource, Product, Spec
from ..spec.read import chosen_coil

Owner = Item | PowerSource

LONGEST_CHAIN = 40
"""Devices in series from load to source that are followed; a real door has at most a handful."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """One powered output that devices are fed from.

    `upstream` are the feeds of the device whose output it is; `passes_on` is the one whose voltage it passes on.
    """

    owner: Owner
    name: str
    output: Output
    upstream: tuple[Feed, ...] = ()
    passes_on: Feed | None = None

    @property
    def supply(self) -> Maybe[str]:
        """What it offers, after following outputs that pass an input's voltage on."""
        if isinstance(self.output.through, str):
            return None if self.passes_on is None else self.passes_on.terminal.supply
        stated = self.output.supply
        return _main_supply(self.owner) if stated is None and isinstance(self.owner, PowerSource) else stated

    @property
    def voltage(self) -> Maybe[Band]:
        """The voltage that it offers, after following outputs that pass an input's voltage on."""
        stated = self.output.voltage
        if isinstance(self.output.through, str):
            passed = None if self.passes_on is None else self.passes_on.terminal.voltage
            return stated if passed is None and stated is not UNKNOWN else passed
        return self.owner.voltage if stated is None and isinstance(self.owner, PowerSource) else stated

    @property
    def identity(self) -> str:
        """`psu-1.ch2`, `114A/rc.lock`; the bare owner for the only output of a source."""
        owner = self.owner.identity if isinstance(self.owner, Item) else self.owner.id
        return f"{owner}.{self.name}" if self.name else owner

    @property
    def label(self) -> str:
        """How messages call it."""
        owner = self.owner.name if isinstance(self.owner, Item) else self.owner.id
        return f"{owner}.{self.name}" if self.name else owner

    @property
    def place(self) -> Place:
        """Where its figures stand."""
        return self.output.place


@dataclass(frozen=True, slots=True)
class ContactUse:
    """A contact in series with a feed. `terminal` is no, nc or empty where the spec does not say.

    `item` is fed through it; it names the contact in its field `why`, "switched_by" or "released_by", as one of several
    where it is `listed` by a number.
    """

    owner: Owner
    name: str
    contact: Contact
    terminal: str
    item: Item
    why: str
    listed: int | None = None

    @property
    def identity(self) -> str:
        """`114A/rc.relay`."""
        owner = self.owner.identity if isinstance(self.owner, Item) else self.owner.id
        return f"{owner}.{self.name}"

    @property
    def place(self) -> Place:
        """Where the item names it."""
        return _entry_at(self.item, self.why, self.listed)


@dataclass(frozen=True, slots=True)
class Feed:
    """How one input (or the coil) of one item is fed.

    `load` is the coil or input, `supply` its name (poe, dc, ac or coil); `terminal` is what feeds it, one of several
    where it is `listed` by a number; `contacts` are in series, from the source on.
    """

    item: Item
    load: Coil | Input
    supply: str
    terminal: Terminal
    listed: int | None = None
    contacts: tuple[ContactUse, ...] = ()

    @property
    def place(self) -> Place:
        """Where the item names what feeds it."""
        return _entry_at(self.item, "fed_from", self.listed)

    @property
    def identity(self) -> str:
        """The item's identity."""
        return self.item.identity

    @property
    def coil(self) -> Coil | None:
        """The load where it is a coil."""
        return self.load if isinstance(self.load, Coil) else None

    @property
    def chain(self) -> tuple[Terminal, ...]:
        """The terminals from this feed's own back to the source, along the first feed of each device."""
        chain = [self.terminal]
        while chain[-1].upstream:
            chain.append(chain[-1].upstream[0].terminal)
        return tuple(chain)

    @property
    def sources(self) -> tuple[PowerSource, ...]:
        """Every power source that the feed can draw on (more than one where a device on the way has two feeds)."""
        owner = self.terminal.owner
        if isinstance(owner, PowerSource):
            return (owner,)
        return tuple({source.id: source for source in _sources(self.terminal)}.values())


def _entry_at(item: Item, name: str, listed: int | None) -> Place:
    """Where a field of an item stands, or one entry of it."""
    place = item.at(name)
    return place if listed is None else place.child(listed)


def _sources(terminal: Terminal) -> Iterator[PowerSource]:
    """Each device on the way is passed once: where it has two feeds, the ways may meet again behind it."""
    waiting, passed = [terminal], set()
    while waiting:
        here = waiting.pop()
        if here.identity in passed:
            continue
        passed.add(here.identity)
        if isinstance(here.owner, PowerSource):
            yield here.owner
        waiting.extend(feed.terminal for feed in reversed(here.upstream))


@dataclass(frozen=True, slots=True)
class LoadedOutput:
    """A powered output with all that is fed from it."""

    terminal: Terminal
    feeds: tuple[Feed, ...]

    @property
    def identity(self) -> str:
        """The terminal's identity."""
        return self.terminal.identity

    @property
    def place(self) -> Place:
        """Where the output's figures stand."""
        return self.terminal.place

    @property
    def output(self) -> Output:
        """The output's figures."""
        return self.terminal.output


@dataclass(frozen=True, slots=True)
class LoadedContact:
    """A dry contact with all the feeds that run through it."""

    use: ContactUse
    feeds: tuple[Feed, ...]

    @property
    def identity(self) -> str:
        """The contact's identity."""
        return self.use.identity

    @property
    def place(self) -> Place:
        """Where the contact's figures stand."""
        return self.use.contact.place

    @property
    def contact(self) -> Contact:
        """The contact's figures."""
        return self.use.contact


@dataclass(frozen=True)
class Wiring:
    """All feeds of a spec, the outputs and contacts that they load, and what contradicts itself."""

    feeds: tuple[Feed, ...] = ()
    outputs: tuple[LoadedOutput, ...] = ()
    contacts: tuple[LoadedContact, ...] = ()
    unfed: tuple[Item, ...] = ()
    findings: tuple[Outcome, ...] = ()
    by_item: Mapping[str, tuple[Feed, ...]] = field(default_factory=dict)
    outputs_of: Mapping[str, tuple[LoadedOutput, ...]] = field(default_factory=dict)


def trace(spec: Spec) -> Wiring:
    """Resolve every feed and contact of the spec."""
    findings: list[Outcome] = []
    feeds: list[Feed] = []
    unfed: list[Item] = []
    by_item: dict[str, tuple[Feed, ...]] = {}
    sources = _Terminals(spec.power)
    ports_of = _Ports()
    for opening in spec.openings.values():
        tracing = _Tracing(spec, opening.items, sources, findings, ports_of)
        for name, item in opening.items.items():
            found = tracing.feeds_of(name) if isinstance(item.fed_from, tuple) else ()
            if found:
                feeds += found
                by_item[item.identity] = by_item.get(item.identity, ()) + found
            elif ports_of.item(item):
                unfed.append(item)
    outputs: dict[str, list[Feed]] = {}
    contacts: dict[str, list[Feed]] = {}
    uses: dict[str, ContactUse] = {}
    for feed in feeds:
        outputs.setdefault(feed.terminal.identity, []).append(feed)
        for use in feed.contacts:
            contact = use.identity
            contacts.setdefault(contact, []).append(feed)
            uses.setdefault(contact, use)
    findings.extend(_source_findings(spec))
    unique = {(f.rule, f.place, f.message): f for f in findings}
    loaded = tuple(LoadedOutput(fed[0].terminal, tuple(fed)) for fed in outputs.values())
    outputs_of: dict[str, list[LoadedOutput]] = {}
    for output in loaded:
        if isinstance(output.terminal.owner, Item):
            outputs_of.setdefault(output.terminal.owner.identity, []).append(output)
    return Wiring(
        feeds=tuple(feeds),
        outputs=loaded,
        contacts=tuple(LoadedContact(uses[name], tuple(fed)) for name, fed in contacts.items()),
        unfed=tuple(unfed),
        findings=tuple(unique.values()),
        by_item=frozen(by_item),
        outputs_of=frozen({name: tuple(found) for name, found in outputs_of.items()}),
    )


def ports(item: Item) -> Mapping[str, Coil | Input]:
    """The power inputs of an item by name: coil, poe, dc, ac."""
    return _Ports().item(item)


class _Ports(dict[int, Mapping[str, Coil | Input]]):
    """The power inputs of each sheet by its id, looked up once for all items that have it: all of them, but for a coil
    with a setting that is the item's to choose."""

    def item(self, item: Item) -> Mapping[str, Coil | Input]:
        sheet = item.sheet
        if sheet is None:
            return {}
        found = self.get(id(sheet))
        if found is None:
            coil = {"coil": sheet.coil} if isinstance(sheet.coil, Coil) else {}
            found = self[id(sheet)] = {**coil, **_inputs(sheet)}
        if not sheet.coils or "coil" in found:
            return found
        chosen = chosen_coil(item)
        return found if chosen is None else {"coil": chosen, **found}


def _inputs(sheet: Product) -> dict[str, Input]:
    found: dict[str, Input] = {}
    if isinstance(sheet.inputs, Inputs):
        for name in ("poe", "dc", "ac"):
            load = getattr(sheet.inputs, name)
            if isinstance(load, Input):
                # an input that names no supply takes what it is called after
                if load.supply is None:
                    load = replace(load, supply=name, elsewhere=frozen({"supply": load.place.key}))
                found[name] = load
    return found


_OF_OUTPUT: Final = frozenset(f.name for f in fields(Output) if "read" in f.metadata) & {
    f.name for f in fields(PowerSource)
}
"""Figures of an output that a source may state for itself."""


@dataclass(frozen=True, slots=True)
class _OwnFigures:
    """Reads the fields of the output that stands for a whole source: the source's own."""

    source: PowerSource

    def __call__(self, name: str) -> Mapping[str, Any]:
        """One field."""
        return {name: getattr(self.source, name)} if name in _OF_OUTPUT else {}


def _main_output(source: PowerSource) -> Output:
    """The output that stands for a whole source, with the source's own figures."""
    now: dict[str, Any] = {"supply": _main_supply(source)}
    elsewhere = {}
    if source.kind in ("poe_switch", "poe_injector"):
        now["poe_class"] = source.port_class
        elsewhere = {"supply": source.at("kind"), "poe_class": source.at("port_class")}
    elif source.supply is None and now["supply"] is not None:
        elsewhere = {"supply": source.at("kind")}
    return read_later(Output, source.place, _OwnFigures(source), elsewhere=frozen(elsewhere), **now)


def _main_supply(source: PowerSource) -> Maybe[str]:
    """What a source offers at all outputs that say nothing else: as stated, or by its kind."""
    if source.kind in ("poe_switch", "poe_injector"):
        return "poe"
    if source.kind in ("mains", "generator") and source.supply is None:
        return "ac"
    return source.supply


class _Terminals:
    """The terminals of the power sources, each made when something is first fed from it."""

    def __init__(self, power: Mapping[str, PowerSource]) -> None:
        self.power = power
        self.made: dict[tuple[str, str], Terminal] = {}

    def of(self, source: PowerSource, name: str) -> Terminal | None:
        """The terminal for one output, '' for the main one; None where there is none."""
        found = self.made.get((source.id, name))
        if found is None:
            output = source.outputs.get(name)
            if output is None and name:
                return None
            output = _main_output(source) if output is None else output
            found = self.made[source.id, name] = Terminal(source, name, output)
        return found


def _source_findings(spec: Spec) -> Iterator[Outcome]:
    """What contradicts itself in the power sources that feed each other."""
    behind: dict[str, str] = {}
    for source in spec.power.values():
        written = source.fed_from
        if not isinstance(written, str):
            continue
        name = written.partition(".")[0]
        if name in spec.power:
            behind[source.id] = name
            continue
        near = get_close_matches(name, spec.power, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        related = (Related(spec.power[near[0]].place.key, f"{near[0]} stands here"),) if near else ()
        text = f"fed_from {written!r}: the spec has no power source {name!r}{hint}"
        yield finding("reference/unknown-id", text, source.at("fed_from"), source.id, related)
    told: set[str] = set()
    for start in behind:
        way = [start]
        while (following := behind.get(way[-1])) is not None and following not in way:
            way.append(following)
        if following is None or following in told:
            continue
        circle = way[way.index(following) :]
        told.update(circle)
        first, last = spec.power[circle[0]], spec.power[circle[-1]]
        text = f"{' -> '.join([*circle, circle[0]])}: these sources feed each other in a circle"
        related = (Related(last.at("fed_from"), f"{last.id} is fed from here"),)
        yield finding("wiring/feed-loop", text, first.at("fed_from"), first.id, related)


@dataclass
class _Tracing:
    """Resolves the feeds of the items of one opening, each once."""

    spec: Spec
    items: Mapping[str, Item]
    sources: _Terminals
    findings: list[Outcome]
    ports: _Ports
    done: dict[str, tuple[Feed, ...]] = field(default_factory=dict)
    terminals: dict[tuple[str, str], Terminal] = field(default_factory=dict)
    under_way: list[str] = field(default_factory=list)

    def feeds_of(self, name: str) -> tuple[Feed, ...]:
        """The feeds of the item with this name."""
        if name in self.done:
            return self.done[name]
        item = self.items[name]
        entries = item.fed_from if isinstance(item.fed_from, tuple) else ()
        self.under_way.append(name)
        feeds: dict[str, Feed] = {}
        for index, written in enumerate(entries):
            listed = index if len(entries) > 1 else None
            feed = self._feed(item, written, listed)
            if feed is None:
                continue
            if feed.supply in feeds:
                other = feeds[feed.supply]
                text = f"{name}: its {_port_name(feed)} is fed twice, from {other.terminal.label} and from {written}"
                related = (Related(other.place, f"the first feed, from {other.terminal.label}"),)
                self.findings.append(finding("wiring/two-feeds", text, feed.place, item.identity, related))
            else:
                feeds[feed.supply] = feed
        self.under_way.pop()
        self.done[name] = tuple(feeds.values())
        return self.done[name]

    def _feed(self, item: Item, written: str, listed: int | None) -> Feed | None:
        terminal = self._terminal(item, written, listed)
        if terminal is None:
            return None
        found = self._load(item, terminal, listed)
        return None if found is None else Feed(item, found[1], found[0], terminal, listed, self._contacts(item))

    def _terminal(self, item: Item, written: str, listed: int | None) -> Terminal | None:
        if written == "unknown":
            return None
        owner_name, _, output_name = written.partition(".")
        owner = self.items.get(owner_name)
        if owner is not None:
            return self._item_terminal(item, owner, output_name, written, listed)
        source = self.spec.power.get(owner_name)
        if source is not None:
            found = self.sources.of(source, output_name)
            if found is None:
                self._no_output(item, written, [n for n in source.outputs if n], listed, source.place)
            return found
        choices = [*self.items, *self.spec.power]
        near = get_close_matches(owner_name, choices, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        related: tuple[Related, ...] = ()
        if near:
            known = self.items.get(near[0]) or self.spec.power[near[0]]
            related = (Related(known.place.key, f"{near[0]} stands here"),)
        text = f"fed_from {written!r}: this opening has no item and the spec no power source {owner_name!r}{hint}"
        self._tell("reference/unknown-id", text, item, "fed_from", listed, related)
        return None

    def _tell(
        self, rule: str, text: str, item: Item, why: str, listed: int | None, related: tuple[Related, ...]
    ) -> None:
        self.findings.append(finding(rule, text, _entry_at(item, why, listed), item.identity, related))

    def _no_output(self, item: Item, written: str, outputs: list[str], listed: int | None, owner: Place) -> None:
        named = f"its outputs are {', '.join(outputs)}" if outputs else "it has no outputs"
        text = f"fed_from {written!r}: there is no such output; {named}"
        related = (Related(owner.key, "what should feed it"),)
        self._tell("reference/unknown-id", text, item, "fed_from", listed, related)

    def _item_terminal(self, item: Item, owner: Item, output: str, written: str, listed: int | None) -> Terminal | None:
        sheet = owner.sheet
        if sheet is None:
            return None
        if owner.name in self.under_way:
            circle = " -> ".join([*self.under_way[self.under_way.index(owner.name) :], owner.name])
            text = f"{circle}: these devices feed each other in a circle"
            related = (Related(owner.at("fed_from"), f"{owner.name} is fed from here"),)
            self._tell("wiring/feed-loop", text, item, "fed_from", listed, related)
            return None
        if not output and len(sheet.outputs) == 1:
            output = next(iter(sheet.outputs))
        found = sheet.outputs.get(output)
        if found is None and not output and len(sheet.outputs) > 1:
            named = ", ".join(sheet.outputs)
            text = f"fed_from {written!r}: {owner.name} has several outputs, {named}; name one of them"
            related = (Related(sheet.place.key, "the outputs of its product"),)
            self._tell("reference/unclear-output", text, item, "fed_from", listed, related)
            return None
        if found is None:
            self._no_output(item, written, list(sheet.outputs), listed, sheet.place)
            return None
        if len(self.under_way) >= LONGEST_CHAIN:
            text = f"{item.name} is fed through more than {LONGEST_CHAIN} devices in series; the rest is not followed"
            related = (Related(owner.place.key, f"{owner.name} stands here"),)
            self._tell("document/over-limit", text, item, "fed_from", listed, related)
            return None
        if (owner.name, output) in self.terminals:
            return self.terminals[owner.name, output]
        upstream = self.feeds_of(owner.name)
        through = found.through
        passed = next((feed for feed in upstream if _is_input(feed, through)), None) if through is not None else None
        made = self.terminals[owner.name, output] = Terminal(owner, output, found, upstream, passed)
        return made

    def _load(self, item: Item, terminal: Terminal, listed: int | None) -> tuple[str, Coil | Input] | None:
        found = self.ports.item(item)
        if not found:
            return None  # no data on its inputs: the rule on unfed or undescribed devices tells
        if len(found) == 1:
            return next(iter(found.items()))
        if isinstance(item.input, str) and item.input in found:
            return item.input, found[item.input]
        supply = terminal.supply
        wanted = {"poe": ["poe"], "ac": ["ac"], "dc": ["dc", "coil"], "dc_filtered": ["dc", "coil"]}
        fitting = [name for name in wanted.get(supply if isinstance(supply, str) else "", []) if name in found]
        if len(fitting) == 1:
            return fitting[0], found[fitting[0]]
        text = f"{item.name} has the inputs {', '.join(found)}; say with `input` which one {terminal.label} feeds"
        related = (Related(terminal.place.key, f"{terminal.label} stands here"),)
        self._tell("reference/unclear-output", text, item, "fed_from", listed, related)
        return None

    def _contacts(self, item: Item) -> tuple[ContactUse, ...]:
        if item.released_by is None and item.switched_by is None:
            return ()
        uses = []
        for why in ("released_by", "switched_by"):
            entries = getattr(item, why)
            for index, written in enumerate(entries if isinstance(entries, tuple) else ()):
                use = self._contact(item, written, why, index if len(entries) > 1 else None)
                if use is not None:
                    uses.append(use)
        return tuple(uses)

    def _contact(self, item: Item, written: str, why: str, listed: int | None) -> ContactUse | None:
        if written == "unknown":
            return None
        names = written.split(".")
        terminal = names.pop() if len(names) > 1 and names[-1] in ("no", "nc") else ""
        owner: Owner | None = self.items.get(names[0]) or self.spec.power.get(names[0])
        if owner is None:
            choices = {**self.spec.power, **self.items}
            near = get_close_matches(names[0], choices, n=1, cutoff=0.6)
            hint = f"; did you mean {near[0]}?" if near else ""
            related = (Related(choices[near[0]].place.key, f"{near[0]} stands here"),) if near else ()
            text = f"{why} {written!r}: this opening has no item {names[0]!r}{hint}"
            self._tell("reference/unknown-id", text, item, why, listed, related)
            return None
        contacts = owner.contacts if isinstance(owner, PowerSource) else (owner.sheet.contacts if owner.sheet else {})
        if isinstance(owner, Item) and owner.sheet is None:
            return None
        name = names[1] if len(names) > 1 else (next(iter(contacts)) if len(contacts) == 1 else "")
        contact = contacts.get(name)
        if contact is None:
            named = f"its contacts are {', '.join(contacts)}" if contacts else "it has no contacts"
            text = f"{why} {written!r}: {names[0]} has no such contact; {named}"
            sheet = owner.sheet.place if isinstance(owner, Item) and owner.sheet else owner.place
            related = (Related(sheet.key, "where its contacts are described"),)
            self._tell("reference/unknown-id", text, item, why, listed, related)
            return None
        return ContactUse(owner, name, contact, terminal, item, why, listed)


def _is_input(feed: Feed, name: Maybe[str]) -> bool:
    return isinstance(feed.load, Input) and feed.supply == name


def _port_name(feed: Feed) -> str:
    return "coil" if isinstance(feed.load, Coil) else f"{feed.supply} input"
