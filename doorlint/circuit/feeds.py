"""How power reaches each device: which output feeds which input, through which contacts, back to which source.

The result is plain data that the other analyses and the rules stand on. Wiring that contradicts itself becomes
findings naming both places; the rest of the spec is still judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches

from ..format_rules import finding
from ..outcome import Outcome, Place, Related
from ..quantity import Band
from ..spec.fields import UNKNOWN, Maybe
from ..spec.frozen import frozen
from ..spec.model import Coil, Contact, Input, Inputs, Item, Opening, Output, PowerSource, Product, Spec
from ..spec.read import chosen_coil

Owner = Item | PowerSource

LONGEST_CHAIN = 40
"""Devices in series from load to source that are followed; a real door has at most a handful."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """One powered output that devices are fed from.

    `supply` and `voltage` are what it offers, after following outputs that pass an input's voltage on
    (`passes_on` is then the feed of that input).
    """

    owner: Owner
    name: str
    output: Output
    supply: Maybe[str]
    voltage: Maybe[Band]
    upstream: tuple[Feed, ...] = ()
    passes_on: Feed | None = None

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
    """A contact in series with a feed. `terminal` is no, nc or empty where the spec does not say."""

    owner: Owner
    name: str
    contact: Contact
    terminal: str
    place: Place
    why: str  # "switched_by" or "released_by"

    @property
    def identity(self) -> str:
        """`114A/rc.relay`."""
        owner = self.owner.identity if isinstance(self.owner, Item) else self.owner.id
        return f"{owner}.{self.name}"


@dataclass(frozen=True, slots=True)
class Feed:
    """How one input (or the coil) of one item is fed.

    `load` is the coil or input, `supply` its name (poe, dc, ac or coil); `terminal` is what feeds it, by the entry
    at `place`; `contacts` are in series, from the source on.
    """

    item: Item
    load: Coil | Input
    supply: str
    terminal: Terminal
    place: Place
    contacts: tuple[ContactUse, ...] = ()

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
    mains = _sources_terminals(spec)
    inputs = _InputsOf()
    for opening in spec.openings.values():
        tracing = _Tracing(spec, opening, mains, findings, inputs)
        for item in opening.items.values():
            found = tracing.feeds_of(item.name)
            feeds.extend(found)
            if not found and _ports(item, inputs):
                unfed.append(item)
    by_item: dict[str, list[Feed]] = {}
    outputs: dict[str, list[Feed]] = {}
    terminals: dict[str, Terminal] = {}
    contacts: dict[str, list[Feed]] = {}
    uses: dict[str, ContactUse] = {}
    for feed in feeds:
        by_item.setdefault(feed.identity, []).append(feed)
        terminal = feed.terminal.identity
        outputs.setdefault(terminal, []).append(feed)
        terminals.setdefault(terminal, feed.terminal)
        for use in feed.contacts:
            contact = use.identity
            contacts.setdefault(contact, []).append(feed)
            uses.setdefault(contact, use)
    findings.extend(_source_findings(spec))
    unique = {(f.rule, f.place, f.message): f for f in findings}
    loaded = tuple(LoadedOutput(terminals[name], tuple(fed)) for name, fed in outputs.items())
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
        by_item=frozen({name: tuple(fed) for name, fed in by_item.items()}),
        outputs_of=frozen({name: tuple(found) for name, found in outputs_of.items()}),
    )


def ports(item: Item) -> dict[str, Coil | Input]:
    """The power inputs of an item by name: coil, poe, dc, ac."""
    return _ports(item, _InputsOf())


class _InputsOf(dict[int, dict[str, Input]]):
    """The inputs of each sheet by its id, looked up once for all items that have it."""

    def of(self, sheet: Product) -> dict[str, Input]:
        found = self.get(id(sheet))
        if found is None:
            found = self[id(sheet)] = _inputs(sheet)
        return found


def _ports(item: Item, inputs: _InputsOf) -> dict[str, Coil | Input]:
    if item.sheet is None:
        return {}
    coil = chosen_coil(item)
    of_sheet = inputs.of(item.sheet)
    return {**of_sheet} if coil is None else {"coil": coil, **of_sheet}


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


def _main_output(source: PowerSource) -> Output:
    """The output that stands for a whole source, with the source's own figures."""
    shared = {f.name for f in fields(Output) if "read" in f.metadata} & {f.name for f in fields(PowerSource)}
    figures = {name: getattr(source, name) for name in shared}
    elsewhere = {}
    if source.kind in ("poe_switch", "poe_injector"):
        figures.update(supply="poe", poe_class=source.port_class)
        elsewhere = {"supply": source.at("kind"), "poe_class": source.at("port_class")}
    if source.kind in ("mains", "generator") and source.supply is None:
        figures.update(supply="ac")
        elsewhere = {"supply": source.at("kind")}
    return Output(place=source.place, elsewhere=frozen(elsewhere), **figures)


def _sources_terminals(spec: Spec) -> dict[str, dict[str, Terminal]]:
    """For each power source its terminals by output name; the main output is ''."""
    found: dict[str, dict[str, Terminal]] = {}
    for source in spec.power.values():
        main = _main_output(source)
        terminals = {"": Terminal(source, "", main, main.supply, main.voltage)}
        for name, output in source.outputs.items():
            supply = main.supply if output.supply is None else output.supply
            voltage = main.voltage if output.voltage is None else output.voltage
            terminals[name] = Terminal(source, name, output, supply, voltage)
        found[source.id] = terminals
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
    """Resolves the feeds of one opening, each item once."""

    spec: Spec
    opening: Opening
    sources: Mapping[str, Mapping[str, Terminal]]
    findings: list[Outcome]
    inputs: _InputsOf
    done: dict[str, tuple[Feed, ...]] = field(default_factory=dict)
    under_way: list[str] = field(default_factory=list)

    def feeds_of(self, name: str) -> tuple[Feed, ...]:
        """The feeds of the item with this name."""
        if name in self.done:
            return self.done[name]
        item = self.opening.items[name]
        self.under_way.append(name)
        feeds: dict[str, Feed] = {}
        listed = item.fed_from if isinstance(item.fed_from, tuple) else ()
        for index, written in enumerate(listed):
            place = item.at("fed_from")
            if len(listed) > 1:
                place = place.child(index)
            feed = self._feed(item, written, place)
            if feed is None:
                continue
            if feed.supply in feeds:
                other = feeds[feed.supply]
                text = f"{name}: its {_port_name(feed)} is fed twice, from {other.terminal.label} and from {written}"
                related = (Related(other.place, f"the first feed, from {other.terminal.label}"),)
                self.findings.append(finding("wiring/two-feeds", text, place, item.identity, related))
            else:
                feeds[feed.supply] = feed
        self.under_way.pop()
        self.done[name] = tuple(feeds.values())
        return self.done[name]

    def _feed(self, item: Item, written: str, place: Place) -> Feed | None:
        terminal = self._terminal(item, written, place)
        if terminal is None:
            return None
        found = self._load(item, terminal, place)
        return None if found is None else Feed(item, found[1], found[0], terminal, place, self._contacts(item))

    def _terminal(self, item: Item, written: str, place: Place) -> Terminal | None:
        if written == "unknown":
            return None
        owner_name, _, output_name = written.partition(".")
        owner = self.opening.items.get(owner_name)
        if owner is not None:
            return self._item_terminal(item, owner, output_name, written, place)
        if owner_name in self.sources:
            return self._source_terminal(item, owner_name, output_name, written, place)
        choices = [*self.opening.items, *self.sources]
        near = get_close_matches(owner_name, choices, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        related: tuple[Related, ...] = ()
        if near:
            known = self.opening.items.get(near[0]) or self.spec.power[near[0]]
            related = (Related(known.place.key, f"{near[0]} stands here"),)
        text = f"fed_from {written!r}: this opening has no item and the spec no power source {owner_name!r}{hint}"
        self.findings.append(finding("reference/unknown-id", text, place, item.identity, related))
        return None

    def _source_terminal(self, item: Item, source: str, output: str, written: str, place: Place) -> Terminal | None:
        terminals = self.sources[source]
        if output in terminals:
            return terminals[output]
        self._no_output(item, written, [n for n in terminals if n], place, self.spec.power[source].place)
        return None

    def _no_output(self, item: Item, written: str, outputs: list[str], place: Place, owner: Place) -> None:
        listed = f"its outputs are {', '.join(outputs)}" if outputs else "it has no outputs"
        text = f"fed_from {written!r}: there is no such output; {listed}"
        related = (Related(owner.key, "what should feed it"),)
        self.findings.append(finding("reference/unknown-id", text, place, item.identity, related))

    def _item_terminal(self, item: Item, owner: Item, output: str, written: str, place: Place) -> Terminal | None:
        sheet = owner.sheet
        if sheet is None:
            return None
        if owner.name in self.under_way:
            circle = " -> ".join([*self.under_way[self.under_way.index(owner.name) :], owner.name])
            text = f"{circle}: these devices feed each other in a circle"
            related = (Related(owner.at("fed_from"), f"{owner.name} is fed from here"),)
            self.findings.append(finding("wiring/feed-loop", text, place, item.identity, related))
            return None
        if not output and len(sheet.outputs) == 1:
            output = next(iter(sheet.outputs))
        found = sheet.outputs.get(output)
        if found is None and not output and len(sheet.outputs) > 1:
            listed = ", ".join(sheet.outputs)
            text = f"fed_from {written!r}: {owner.name} has several outputs, {listed}; name one of them"
            related = (Related(sheet.place.key, "the outputs of its product"),)
            self.findings.append(finding("reference/unclear-output", text, place, item.identity, related))
            return None
        if found is None:
            self._no_output(item, written, list(sheet.outputs), place, sheet.place)
            return None
        if len(self.under_way) >= LONGEST_CHAIN:
            text = f"{item.name} is fed through more than {LONGEST_CHAIN} devices in series; the rest is not followed"
            related = (Related(owner.place.key, f"{owner.name} stands here"),)
            self.findings.append(finding("document/over-limit", text, place, item.identity, related))
            return None
        upstream = self.feeds_of(owner.name)
        passed = None
        supply, voltage = found.supply, found.voltage
        if isinstance(found.through, str):
            through = found.through
            passed = next((feed for feed in upstream if _is_input(feed, through)), None)
            supply = passed.terminal.supply if passed else None
            voltage = passed.terminal.voltage if passed else None
            if found.voltage is not None and found.voltage is not UNKNOWN and voltage is None:
                voltage = found.voltage
        return Terminal(owner, output, found, supply, voltage, upstream, passed)

    def _load(self, item: Item, terminal: Terminal, place: Place) -> tuple[str, Coil | Input] | None:
        found = _ports(item, self.inputs)
        if not found:
            return None  # no data on its inputs: the rule on unfed or undescribed devices tells
        if isinstance(item.input, str) and item.input in found:
            return item.input, found[item.input]
        if len(found) == 1:
            return next(iter(found.items()))
        supply = terminal.supply
        wanted = {"poe": ["poe"], "ac": ["ac"], "dc": ["dc", "coil"], "dc_filtered": ["dc", "coil"]}
        fitting = [name for name in wanted.get(supply if isinstance(supply, str) else "", []) if name in found]
        if len(fitting) == 1:
            return fitting[0], found[fitting[0]]
        text = f"{item.name} has the inputs {', '.join(found)}; say with `input` which one {terminal.label} feeds"
        related = (Related(terminal.place.key, f"{terminal.label} stands here"),)
        self.findings.append(finding("reference/unclear-output", text, place, item.identity, related))
        return None

    def _contacts(self, item: Item) -> tuple[ContactUse, ...]:
        uses = []
        for why in ("released_by", "switched_by"):
            listed = getattr(item, why)
            for index, written in enumerate(listed if isinstance(listed, tuple) else ()):
                place = item.at(why)
                if len(listed) > 1:
                    place = place.child(index)
                use = self._contact(item, written, place, why)
                if use is not None:
                    uses.append(use)
        return tuple(uses)

    def _contact(self, item: Item, written: str, place: Place, why: str) -> ContactUse | None:
        if written == "unknown":
            return None
        names = written.split(".")
        terminal = names.pop() if len(names) > 1 and names[-1] in ("no", "nc") else ""
        owner: Owner | None = self.opening.items.get(names[0]) or self.spec.power.get(names[0])
        if owner is None:
            choices = {**self.spec.power, **self.opening.items}
            near = get_close_matches(names[0], choices, n=1, cutoff=0.6)
            hint = f"; did you mean {near[0]}?" if near else ""
            related = (Related(choices[near[0]].place.key, f"{near[0]} stands here"),) if near else ()
            text = f"{why} {written!r}: this opening has no item {names[0]!r}{hint}"
            self.findings.append(finding("reference/unknown-id", text, place, item.identity, related))
            return None
        contacts = owner.contacts if isinstance(owner, PowerSource) else (owner.sheet.contacts if owner.sheet else {})
        if isinstance(owner, Item) and owner.sheet is None:
            return None
        name = names[1] if len(names) > 1 else (next(iter(contacts)) if len(contacts) == 1 else "")
        contact = contacts.get(name)
        if contact is None:
            listed = f"its contacts are {', '.join(contacts)}" if contacts else "it has no contacts"
            text = f"{why} {written!r}: {names[0]} has no such contact; {listed}"
            sheet = owner.sheet.place if isinstance(owner, Item) and owner.sheet else owner.place
            related = (Related(sheet.key, "where its contacts are described"),)
            self.findings.append(finding("reference/unknown-id", text, place, item.identity, related))
            return None
        return ContactUse(owner, name, contact, terminal, place, why)


def _is_input(feed: Feed, name: str) -> bool:
    return isinstance(feed.load, Input) and feed.supply == name


def _port_name(feed: Feed) -> str:
    return "coil" if isinstance(feed.load, Coil) else f"{feed.supply} input"
