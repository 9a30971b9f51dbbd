"""Every feed over PoE, solved: the port and the class it grants, the channel, what reaches the device and what it
draws, loads on its outputs included; every PoE source with all its links.

The figures of the standard and the formulas are those of `poe`. Powers that can be exact are Fractions; what a
channel takes is a float.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal, TypeVar

from ..outcome import Measure, Place, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.frozen import frozen
from ..spec.model import Coil, Input, Item, PowerSource, Spec
from .conductors import SPLICE_OHM, resistance_ohm_per_m
from .demand import added, nominal, outputs_of, own_current, own_peak, source_voltage, steady
from .feeds import Feed, LoadedOutput, Terminal, Wiring
from .lines import conductor_of, warm_conductor_c
from .poe import (
    TYPES,
    PoeClass,
    available_pd_power_w,
    channel_ohm,
    granted_class,
    highest_class,
    poe_class,
    power_after_channel_w,
    pse_power_w,
)

POE_KINDS = ("poe_switch", "poe_injector")
PEAKLESS = ("electromagnetic_lock", "shear_lock", "hold_open_magnet")
"""Locks whose current only rises to its holding value: a coil at rest draws no more than that."""

PEAK_ALLOWED_S = Fraction(50, 1000)
"""A PD may exceed its class power for this long at most (IEEE 802.3, T_CUT min)."""


@dataclass(frozen=True, slots=True)
class PoeLink:
    """A feed into the PoE input of a device. `upstream` is the link that feeds the device whose output this is."""

    feed: Feed
    load: Input
    upstream: PoeLink | None = None

    @property
    def identity(self) -> str:
        """The item's identity: a device has one PoE input."""
        return self.feed.identity

    @property
    def place(self) -> Place:
        """Where the spec says what feeds the device."""
        return self.feed.place

    @property
    def item(self) -> Item:
        """The device fed."""
        return self.feed.item

    @property
    def source(self) -> PowerSource | None:
        """The switch or injector at the beginning of the chain, None where the chain begins with none."""
        first = self.first.feed.terminal.owner
        return first if isinstance(first, PowerSource) else None

    @property
    def first(self) -> PoeLink:
        """The link at the beginning of the chain."""
        return self if self.upstream is None else self.upstream.first

    @property
    def carries_poe(self) -> bool:
        """Whether the device is one that passes PoE on (an extender, a switch at the door)."""
        sheet = self.item.sheet
        outputs = sheet.outputs.values() if sheet is not None else ()
        return any(output.supply == "poe" or output.through == "poe" for output in outputs)

    @property
    def passive(self) -> bool:
        """Whether the chain begins with a source that is always on and asks nobody."""
        return self.source is not None and self.source.standard == "passive"


@dataclass(frozen=True, slots=True)
class Grant:
    """What the port has, what the device asks for, and what it gets (None: the port may stay off)."""

    port: int
    port_place: Place
    asked: int
    asked_place: Place
    granted: PoeClass | None


@dataclass(frozen=True, slots=True)
class Channel:
    """The cable of a link for power: `ohm` is for all pair sets together, at `temperature_c`."""

    ohm: float
    length_m: float
    pairsets: int
    temperature_c: float
    step: Step


@dataclass(frozen=True, slots=True)
class Available:
    """Power that the device may count on, W, with the working. 0 where the channel carries nothing stable."""

    power_w: Fraction | float
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Carried:
    """One load on an output of the device: its power at that output, W; `converted` behind the converter."""

    feed: Feed
    power_w: Fraction
    converted: bool


@dataclass(frozen=True, slots=True)
class Demand:
    """Steady power that a device draws at its PoE input, W, loads passed on included.

    least_w: what it draws for certain, with a converter without loss and unknown parts at 0. total_w: None while
    `gaps` (what is not known) remain.
    """

    own_w: Fraction | None
    carried: tuple[Carried, ...]
    efficiency: Fraction | None
    least_w: Fraction
    total_w: Fraction | None
    gaps: tuple[Undecided, ...]
    step: Step


@dataclass(frozen=True, slots=True)
class Rise:
    """Power that one load adds to the steady draw while it is at its peak, W at the PoE input, and for how long
    (None: not known)."""

    feed: Feed
    extra_w: Fraction
    duration_s: Fraction | None


@dataclass(frozen=True, slots=True)
class PeakDemand:
    """All loads fired at once: the steady draw and what each adds for how long. `gaps`: peaks not known."""

    steady_w: Fraction
    rises: tuple[Rise, ...]
    gaps: tuple[Undecided, ...]

    @property
    def top_w(self) -> Fraction:
        """The highest power, W."""
        return self.steady_w + sum((rise.extra_w for rise in self.rises), Fraction(0))

    def beyond(self, duration_s: Fraction) -> Fraction:
        """The highest power still drawn after `duration_s`, W. Raises Undecided where a duration is not known."""
        total = self.steady_w
        for rise in self.rises:
            if _duration(rise) > duration_s:
                total += rise.extra_w
        return total

    def shortfall_j(self, limit_w: Fraction | float) -> Fraction | float:
        """Energy drawn above `limit_w`, J. Raises Undecided where a duration is not known."""
        total: Fraction | float = Fraction(0)
        before = Fraction(0)
        for end in sorted({_duration(rise) for rise in self.rises}):
            power = self.steady_w + sum((r.extra_w for r in self.rises if _duration(r) >= end), Fraction(0))
            total += max(power - limit_w, 0) * (end - before)
            before = end
        return total


def _duration(rise: Rise) -> Fraction:
    if rise.duration_s is None:
        return known(rise.feed.load, "peak_duration", Quantity).value
    return rise.duration_s


@dataclass(frozen=True, slots=True)
class PoeSource:
    """A switch or injector (or whatever feeds PoE links) with all links that begin at it.

    dependents: other power sources of the spec that are fed from it. coils: the coils that draw on it in the end.
    """

    source: PowerSource
    links: tuple[PoeLink, ...]
    dependents: tuple[PowerSource, ...] = ()
    coils: tuple[Feed, ...] = ()

    @property
    def identity(self) -> str:
        """The source's id."""
        return self.source.id

    @property
    def place(self) -> Place:
        """Where the source stands."""
        return self.source.place

    @property
    def openings(self) -> tuple[str, ...]:
        """The openings that have a device on it."""
        return tuple(dict.fromkeys(link.item.opening for link in self.links))


@dataclass(frozen=True, slots=True)
class Allotment:
    """Power set aside at a source for its links, W. least_w counts the unknown links as 0."""

    least_w: Fraction
    total_w: Fraction | None
    gaps: tuple[Undecided, ...]
    terms: tuple[Term, ...]


T = TypeVar("T")


@dataclass(frozen=True)
class PoeLinks:
    """The PoE links and PoE sources of a spec, and what can be asked about them; each answer is worked out once."""

    spec: Spec
    wiring: Wiring
    links: tuple[PoeLink, ...]
    sources: tuple[PoeSource, ...]
    by_item: Mapping[str, PoeLink] = field(default_factory=dict)
    _kept: dict[tuple[str, str], Any] = field(default_factory=dict, repr=False, compare=False)

    def _once(self, what: str, link: PoeLink, solve: Callable[[PoeLink], T]) -> T:
        key = (what, link.identity)
        if key not in self._kept:
            try:
                self._kept[key] = solve(link)
            except Undecided as gap:
                self._kept[key] = gap
        found = self._kept[key]
        if isinstance(found, Undecided):
            raise found
        return found  # type: ignore[no-any-return]

    # --- port and channel ---

    def grant(self, link: PoeLink) -> Grant:
        """The classes of a link. Raises Undecided where port or request is not known, or the port is passive."""
        return self._once("grant", link, self._grant)

    def _grant(self, link: PoeLink) -> Grant:
        asked = known(link.load, "poe_class", int)
        port, place = self._port(link, asked)
        number = granted_class(port, asked)
        granted = None if number is None else poe_class(number)
        return Grant(port, place, asked, link.load.at("poe_class"), granted)

    def _port(self, link: PoeLink, asked: int) -> tuple[int, Place]:
        terminal = link.feed.terminal
        owner, output = terminal.owner, terminal.output
        if isinstance(owner, Item):
            if output.poe_class is None and terminal.passes_on is not None and link.upstream is not None:
                above = self.grant(link.upstream)
                if above.granted is None:
                    raise Undecided("port_class", above.port_place, stated=True)
                return above.granted.number, above.port_place
            return known(output, "poe_class", int), output.at("poe_class")
        return _source_port(owner, terminal, asked)

    def channel(self, link: PoeLink, pairsets: int | None = None) -> Channel:
        """The channel of a link, warm. Raises Undecided where cable or length is not known."""
        if pairsets is None:
            granted = self.grant(link).granted
            pairsets = 1 if granted is None else granted.pairsets
        return self._once(f"channel {pairsets}", link, lambda each: self._channel(each, pairsets))

    def _channel(self, link: PoeLink, pairsets: int) -> Channel:
        item = link.item
        length = known(item, "length", Quantity)
        warm = warm_conductor_c(self.spec, self.spec.openings[item.opening])
        splices = item.splices if isinstance(item.splices, int) else 0
        # the two wires of a pair share the current, so one splice each way counts as one splice in the loop
        extra = splices * SPLICE_OHM[1]
        terms = [Term("length", length.text, item.at("length"))]
        ohm = extra / pairsets
        if length.value > 0:
            if item.cable_sheet is None:
                raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
            per_m = resistance_ohm_per_m(conductor_of(item.cable_sheet), warm)
            ohm = channel_ohm(float(length.value), per_m, pairsets, extra_ohm=extra)
            text = f"{per_m * 1000:.4g} ohm/km at {warm:.0f} degC"
            terms.append(Term(f"one conductor of {item.cable}", text, item.at("cable")))
        formula = "length x resistance of one conductor" + (" / 2 pair sets" if pairsets == 2 else "")
        if splices:
            formula = f"({formula.removesuffix(' / 2 pair sets')} + {splices} splices) / {pairsets} pair sets"
        ground = "IEEE 802.3: the two wires of a pair share the current, out on one pair and back on another"
        step = Step("resistance of the channel", formula, Measure(ohm, "resistance"), tuple(terms), ground)
        return Channel(ohm, float(length.value), pairsets, warm, step)

    def lowest_port_v(self, link: PoeLink, granted: PoeClass) -> float:
        """The lowest voltage at the port, V: as stated, else as the standard has it.

        Behind a device that passes power on it is the lowest that the standard lets reach that device.
        """
        terminal = link.feed.terminal
        stated = terminal.output.voltage
        if isinstance(stated, Band):
            return float(stated.low)
        if link.upstream is not None and terminal.passes_on is not None:
            return TYPES[granted.type_introduced].pd_min_v
        return granted.pse_min_v

    # --- what reaches the device ---

    def available(self, link: PoeLink) -> Available:
        """Power that a device may count on. Raises Undecided where class or channel is not known."""
        return self._once("available", link, self._available)

    def _available(self, link: PoeLink) -> Available:
        grant = self.grant(link)
        granted = grant.granted
        if granted is None:
            return Available(Fraction(0), ())
        channel = self.channel(link)
        voltage = self.lowest_port_v(link, granted)
        promised = exact(granted.pd_w)
        classes = (
            Term("class of the port", str(grant.port), grant.port_place),
            Term("class asked for", str(grant.asked), grant.asked_place),
        )
        first = Step(
            f"class {granted.number} granted", "the lower of port and request", Measure(promised, "power"), classes,
            f"IEEE 802.3: {granted.pse_w:g} W at the port, {granted.pd_w:g} W promised at the end of the channel",
        )  # fmt: skip
        power: Fraction | float
        if link.upstream is not None and (left := self._left_behind(link)) is not None:
            after = power_after_channel_w(float(min(left, exact(granted.pse_w))), voltage, channel.ohm)
            power = Fraction(0) if after is None else promised if after >= promised else after
            formula = f"least of the class and what {_owner(link.feed.terminal)} leaves, less the channel's loss"
        else:
            computed = available_pd_power_w(granted, channel.ohm, voltage)
            power = Fraction(0) if computed is None else promised if computed == granted.pd_w else computed
            formula = "class power of the port P - (P / V)^2 x R, never more than the class promises"
        terms = (
            Term("power of the port", f"{granted.pse_w:g} W"),
            Term("lowest voltage", f"{voltage:g} V", link.feed.terminal.output.at("voltage")),
            Term("channel", f"{channel.ohm:.3g} ohm"),
        )
        last = Step("power at the device", formula, Measure(power, "power"), terms, "IEEE 802.3")
        return Available(power, (first, channel.step, last))

    def _left_behind(self, link: PoeLink) -> Fraction | None:
        """What the device that feeds a link has left for it, W; None where the device has power of its own."""
        above = link.upstream
        assert above is not None
        demand = self.demand(above)
        if demand.own_w is None:
            raise demand.gaps[0]
        others = sum((c.power_w for c in demand.carried if c.feed is not link.feed), Fraction(0))
        left = Fraction(self.available(above).power_w) - demand.own_w
        if link.feed.terminal.passes_on is None:
            left *= self._efficiency(above.item)
        return max(left - others, Fraction(0))

    # --- what the device draws ---

    def demand(self, link: PoeLink) -> Demand:
        """What a device draws at its PoE input, with what is not known listed rather than raised."""
        return self._once("demand", link, self._demand)

    def _demand(self, link: PoeLink) -> Demand:
        gaps: list[Undecided] = []
        own: Fraction | None = None
        try:
            own = own_power_w(link.load)
        except Undecided as gap:
            gaps.append(gap)
        carried: list[Carried] = []
        for loaded in self._outputs(link):
            for load in loaded.feeds:
                try:
                    power = self._power_of(load)
                except Undecided as gap:
                    gaps.append(gap)
                    power = Fraction(0)
                carried.append(Carried(load, power, loaded.terminal.passes_on is None))
        behind = sum((c.power_w for c in carried if c.converted), Fraction(0))
        direct = sum((c.power_w for c in carried if not c.converted), Fraction(0))
        efficiency: Fraction | None = None
        if behind:
            try:
                efficiency = self._efficiency(link.item)
            except Undecided as gap:
                gaps.append(gap)
        least = (own or Fraction(0)) + behind + direct
        total = None if gaps else (own or Fraction(0)) + direct + (behind / efficiency if efficiency else Fraction(0))
        step = _demand_step(link, own, tuple(carried), efficiency, least if total is None else total)
        return Demand(own, tuple(carried), efficiency, least, total, tuple(gaps), step)

    def _outputs(self, link: PoeLink) -> Iterator[LoadedOutput]:
        for loaded in outputs_of(link.item, self.wiring):
            terminal = loaded.terminal
            if terminal.passes_on is not None:
                if terminal.passes_on.supply == "poe":
                    yield loaded
            # a device with two feeds must live on each of them alone
            elif any(feed.supply == "poe" for feed in terminal.upstream):
                yield loaded

    def _power_of(self, load: Feed) -> Fraction:
        """Power that a load takes from the output that feeds it, W."""
        if load.supply == "poe":
            return Fraction(self.port_power(self._link_of(load)))
        return steady(load, self.wiring) * nominal(source_voltage(load.terminal))

    def _link_of(self, load: Feed) -> PoeLink:
        """The link of a device that takes PoE. Raises Undecided where what feeds it gives none."""
        found = self.by_item.get(load.identity)
        if found is None:
            raise Undecided("fed_from", load.place, stated=True)
        return found

    def _efficiency(self, item: Item) -> Fraction:
        sheet = item.sheet
        assert sheet is not None
        value = known(sheet, "efficiency", Quantity).value
        if not 0 < value <= 1:
            raise Undecided("efficiency", sheet.at("efficiency"), stated=True)
        return value

    def port_power(self, link: PoeLink) -> Fraction | float:
        """Power that leaves the port for a link's steady demand, W. Raises Undecided where it is not known.

        Where the channel cannot carry the demand, twice the demand: at the collapse half is lost in the channel.
        """
        granted = self.grant(link).granted
        demand = self.demand(link)
        if demand.total_w is None:
            raise demand.gaps[0]
        if granted is None:
            return demand.total_w
        voltage = self.lowest_port_v(link, granted)
        power = pse_power_w(voltage, self.channel(link).ohm, float(demand.total_w))
        return 2 * demand.total_w if power is None else power

    def peak(self, link: PoeLink) -> PeakDemand:
        """All loads of a device fired at once. Raises Undecided where the steady demand is not known."""
        return self._once("peak", link, self._peak)

    def _peak(self, link: PoeLink) -> PeakDemand:
        demand = self.demand(link)
        if demand.total_w is None:
            raise demand.gaps[0]
        gaps: list[Undecided] = []
        rises = [*self._own_rise(link), *self._rises(link, Fraction(1), gaps)]
        return PeakDemand(demand.total_w, tuple(rises), tuple(gaps))

    def _own_rise(self, link: PoeLink) -> Iterator[Rise]:
        load = link.load
        if isinstance(load.peak, Quantity) and isinstance(load.voltage, Band):
            extra = load.peak.value * nominal(load.voltage) - own_power_w(load)
            if extra > 0:
                yield Rise(link.feed, extra, _stated_duration(link.feed))

    def _rises(self, link: PoeLink, factor: Fraction, gaps: list[Undecided]) -> Iterator[Rise]:
        for loaded in self._outputs(link):
            share = factor
            if loaded.terminal.passes_on is None:
                share /= self._efficiency(link.item) if any(self._power_of(f) for f in loaded.feeds) else 1
            for load in loaded.feeds:
                if load.supply == "poe":
                    far = self._link_of(load)
                    yield from self._own_rise(far)
                    yield from self._rises(far, share, gaps)
                else:
                    volts = nominal(source_voltage(load.terminal))
                    yield from self._load_rises(load, share * volts, gaps)

    def _load_rises(self, load: Feed, watt_per_ampere: Fraction, gaps: list[Undecided]) -> Iterator[Rise]:
        """What a DC load and the loads on its own outputs add, per ampere at its input."""
        try:
            extra = _peak_above_steady(load)
        except Undecided as gap:
            gaps.append(gap)
            extra = Fraction(0)
        if extra > 0:
            yield Rise(load, extra * watt_per_ampere, _stated_duration(load))
        for loaded in outputs_of(load.item, self.wiring):
            terminal = loaded.terminal
            if terminal.passes_on is not None:
                if terminal.passes_on.supply != load.supply:
                    continue
                factor = watt_per_ampere
            elif terminal.upstream and terminal.upstream[0].supply == load.supply:
                volts = nominal(source_voltage(terminal)) / nominal(source_voltage(load.terminal))
                factor = watt_per_ampere * volts / self._efficiency(load.item)
            else:
                continue
            for further in loaded.feeds:
                yield from self._load_rises(further, factor, gaps)

    # --- sources ---

    def allotted(self, poe: PoeSource, allocation: Literal["by_class", "by_use"]) -> Allotment:
        """Power that a source sets aside for its links, counted by class or by use."""
        gaps: list[Undecided] = []
        terms: list[Term] = []
        powers: list[Fraction] = []
        for link in poe.links:
            try:
                power = self.allotted_to(link, allocation)
            except Undecided as gap:
                gaps.append(gap)
                terms.append(Term(link.identity, f"open: {gap.name}", link.place))
                continue
            powers.append(power)
            terms.append(Term(link.identity, str(Measure(power, "power")), link.place))
        for source in poe.dependents:
            gaps.append(Undecided("power", source.at("fed_from"), stated=False))
            terms.append(Term(source.id, "open: power", source.at("fed_from")))
        total = added(powers)
        return Allotment(total, None if gaps else total, tuple(gaps), tuple(terms))

    def set_aside(self, poe: PoeSource) -> tuple[Allotment, str]:
        """What a source sets aside, as its configuration counts, and how that is ("by class" or "by use").

        Where the configuration is not known: by class while that is within the budget, as it is never less than by
        use; else by use if even that is beyond it. Raises Undecided where budget or configuration decides.
        """
        source = poe.source
        if source.allocation in ("by_class", "by_use"):
            mode: Literal["by_class", "by_use"] = "by_class" if source.allocation == "by_class" else "by_use"
            return self.allotted(poe, mode), mode.replace("_", " ")
        budget = known(source, "budget", Quantity).value
        by_class = self.allotted(poe, "by_class")
        if by_class.least_w <= budget:
            return by_class, "by class"
        by_use = self.allotted(poe, "by_use")
        if by_use.least_w > budget:
            return by_use, "by use"
        raise Undecided("allocation", source.at("allocation"), stated=source.allocation is UNKNOWN)

    def allotted_to(self, link: PoeLink, allocation: Literal["by_class", "by_use"]) -> Fraction:
        """Power that a source sets aside for one link, W; never more than its class. Raises Undecided."""
        granted = self.grant(link).granted
        if granted is None:
            return Fraction(0)
        if allocation == "by_class":
            return exact(granted.pse_w)
        return min(exact(granted.pse_w), Fraction(self.port_power(link)))


def rank(number: int) -> int:
    """A class as a number that can be compared: class 0 has the power of class 3."""
    return 3 if number == 0 else number


@lru_cache(maxsize=256)
def exact(watt: float) -> Fraction:
    """A figure of the class table as the decimal number that it stands for: 12.95, not 12.9499999..."""
    return Fraction(str(watt))


def own_power_w(load: Input) -> Fraction:
    """The device's own steady power at its PoE input, W. Raises Undecided where it is not known."""
    if load.power is None and isinstance(load.current, Quantity) and isinstance(load.voltage, Band):
        return load.current.value * nominal(load.voltage)
    return known(load, "power", Quantity).value


def states_output_limit(link: PoeLink) -> bool:
    """Whether the data sheet says how much the outputs may give together while the device is fed over PoE."""
    sheet = link.item.sheet
    return isinstance(link.load.output_limit, Quantity) or (
        sheet is not None and isinstance(sheet.output_limit, Quantity)
    )


def _peak_above_steady(load: Feed) -> Fraction:
    """Current above the steady one at the peak, A. Raises Undecided for a coil whose peak is not stated."""
    if load.load.peak is None:
        sheet = load.item.sheet
        if not isinstance(load.load, Coil) or (sheet is not None and sheet.kind in PEAKLESS):
            return Fraction(0)
    return own_peak(load) - own_current(load)


def _stated_duration(load: Feed) -> Fraction | None:
    value = load.load.peak_duration
    return value.value if isinstance(value, Quantity) else None


def _source_port(source: PowerSource, terminal: Terminal, asked: int) -> tuple[int, Place]:
    """The class that a port of a source has: as stated, and never above what its standard has."""
    part, name = (terminal.output, "poe_class") if terminal.output.poe_class is not None else (source, "port_class")
    if source.standard == "passive":
        raise Undecided("port_class", source.at("standard"), stated=True)
    standard = source.standard if isinstance(source.standard, str) else None
    if getattr(part, name) is not None:
        stated = known(part, name, int)
        most = highest_class(standard, 4 if standard == "802.3bt" else None) if standard else 8
        return (stated, part.at(name)) if stated <= most else (most, source.at("standard"))
    if standard is None:
        raise Undecided("port_class", source.at("port_class"), stated=source.standard is UNKNOWN)
    number = highest_class(standard)
    if standard == "802.3bt" and asked > number:  # Type 3 or Type 4: the standard's name does not tell
        raise Undecided("port_class", source.at("port_class"), stated=False)
    return number, source.at("standard")


def _owner(terminal: Terminal) -> str:
    return terminal.owner.name if isinstance(terminal.owner, Item) else terminal.owner.id


def _demand_step(
    link: PoeLink,
    own: Fraction | None,
    carried: tuple[Carried, ...],
    efficiency: Fraction | None,
    total: Fraction,
) -> Step:
    terms = []
    if own is not None:
        name = "current" if link.load.power is None else "power"
        terms.append(Term(f"{link.item.name} itself", str(Measure(own, "power")), link.load.at(name)))
    for each in carried:
        figure = "power" if isinstance(each.feed.load, Input) and each.feed.load.current is None else "current"
        terms.append(Term(each.feed.item.name, str(Measure(each.power_w, "power")), each.feed.load.at(figure)))
    if efficiency is not None and link.item.sheet is not None:
        text = f"{float(efficiency * 100):g} %"
        terms.append(Term("efficiency", text, link.item.sheet.at("efficiency")))
    converted = [each.feed.item.name for each in carried if each.converted]
    parts = [f"{link.item.name} itself", *(each.feed.item.name for each in carried if not each.converted)]
    if converted:
        together = converted[0] if len(converted) == 1 else f"({' + '.join(converted)})"
        parts.append(f"{together} / efficiency" if efficiency is not None else together)
    return Step("power drawn", " + ".join(parts), Measure(total, "power"), tuple(terms), "conservation of energy")


def poe_links(spec: Spec, wiring: Wiring) -> PoeLinks:
    """Find every PoE link and PoE source of a spec."""
    found: dict[str, PoeLink] = {}
    feeds = {feed.identity: feed for feed in wiring.feeds if _over_poe(feed)}
    for feed in feeds.values():
        _link(feed, feeds, found)
    at_source: dict[str, list[PoeLink]] = {}
    for link in found.values():
        if isinstance(link.feed.terminal.owner, PowerSource):
            at_source.setdefault(link.feed.terminal.owner.id, []).append(link)
    fed: dict[str, list[PowerSource]] = {}
    for source in spec.power.values():
        if isinstance(source.fed_from, str):
            fed.setdefault(source.fed_from.partition(".")[0], []).append(source)
    coils: dict[str, list[Feed]] = {}
    for feed in wiring.feeds:
        for source in feed.sources if isinstance(feed.load, Coil) else ():
            coils.setdefault(source.id, []).append(feed)
    sources = tuple(
        PoeSource(
            source,
            tuple(at_source.get(source.id, ())),
            tuple(fed.get(source.id, ())),
            tuple(coils.get(source.id, ())),
        )
        for source in spec.power.values()
        if source.kind in POE_KINDS or source.id in at_source
    )
    return PoeLinks(spec, wiring, tuple(found.values()), sources, frozen(found))


def _over_poe(feed: Feed) -> bool:
    return feed.supply == "poe" and isinstance(feed.load, Input) and feed.terminal.supply == "poe"


def _link(feed: Feed, feeds: Mapping[str, Feed], found: dict[str, PoeLink]) -> PoeLink:
    """The link of a feed, after the links above it. Feeds form a tree: the wiring refuses circles."""
    if feed.identity not in found:
        owner = feed.terminal.owner
        above = feeds.get(owner.identity) if isinstance(owner, Item) else None
        upstream = _link(above, feeds, found) if above is not None else None
        assert isinstance(feed.load, Input)
        found[feed.identity] = PoeLink(feed, feed.load, upstream)
    return found[feed.identity]
