"""The voltage at each load: the circuit of its supply solved at the worst corner of each state.

A *unit* is what shares conductors: loads of one supply that have a pass-through device, a contact or a return in
common. Loads on lines of their own from the same output do not meet, as the output holds its voltage. A unit is
solved as one network; a missing datum makes the loads of its unit open, and no others.

Units that are alike in every number are solved once, however many openings they stand in.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import inf

from ..outcome import Measure, Place, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.frozen import SetOnce
from ..spec.model import Battery, Coil, Input, PowerSource, Spec
from .coils import hot_current_fraction
from .demand import above_zero, converted_power, key_of, nominal, own_current, own_peak, peaking, source_voltage
from .feeds import ContactUse, Feed, Terminal, Wiring
from .lines import CABLE_BACK, CABLE_OUT, Element, Line, line_of, warm_conductor_c
from .network import (
    Branch,
    ConstantCurrentLoad,
    ConstantPowerLoad,
    Invalid,
    Load,
    Network,
    NoOperatingPoint,
    ResistiveLoad,
    Solution,
    Source,
    solve,
)
from .rest import LOCKS, MAGNETS

SOURCE = "source voltage"
TEMPERATURE = "conductor temperature"
AGE = "age of contacts and splices"
COLD_C = 20.0

HELD_ELECTRONICALLY = 1.5
"""A coil whose winding alone would draw this many times its settled current has electronics that hold the current
down after pull-in; its settled current counts then, not its winding. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class LoadVoltage:
    """The voltage at one load in one state of its circuit.

    worst_v: at the worst corner; None when the circuit has no operating point there (`collapse` says why).
    nominal_v: at nominal source, 20 degC and new contacts. source_v: the source voltage at the worst corner.
    dominating: the parameter (source, temperature, age) whose move from nominal to worst costs most.
    """

    feed: Feed
    state: str
    worst_v: float | None
    nominal_v: float | None
    source_v: float
    loop_ohm: float
    current_a: float
    temperature_c: float
    dominating: str
    collapse: str = ""
    working: tuple[Step, ...] = ()


@dataclass(frozen=True)
class Unit:
    """Feeds that share conductors, all fed from terminals of one owner that hold their voltage."""

    root: Terminal
    feeds: tuple[Feed, ...]


def root_of(terminal: Terminal) -> Terminal:
    """The terminal that holds the voltage, behind all outputs that pass an input's voltage on."""
    while terminal.passes_on is not None:
        terminal = terminal.passes_on.terminal
    return terminal


def owner_of(terminal: Terminal) -> str:
    """The device or source that holds the voltage of a terminal: all its outputs have their 0 V in common."""
    owner = root_of(terminal).owner
    return owner.id if isinstance(owner, PowerSource) else owner.identity


def units(wiring: Wiring, among: Iterable[Feed] | None = None) -> tuple[Unit, ...]:
    """All units of a spec, or of some feeds that share conductors with no others; feeds over PoE apart (they are judged
    by power, not by voltage)."""
    listed = wiring.feeds if among is None else among
    feeds = {key_of(feed): feed for feed in listed if feed.terminal.supply != "poe"}
    above = {key: key for key in feeds}

    def top(key: str) -> str:
        while above[key] != key:
            above[key] = above[above[key]]
            key = above[key]
        return key

    behind_contact: dict[tuple[str, str], str] = {}
    for key, feed in feeds.items():
        upstream = feed.terminal.passes_on
        if upstream is not None and key_of(upstream) in feeds:
            above[top(key)] = top(key_of(upstream))
        try:
            partner = return_partner(feed, wiring)
        except Undecided:
            partner = None  # the unit is open then: `line` says so
        if partner is not None:
            above[top(key)] = top(key_of(partner))
        if feed.contacts:
            first = behind_contact.setdefault((_start(feed), _contact_key(feed.contacts[0])), key)
            above[top(key)] = top(first)
    groups: dict[str, list[Feed]] = {}
    for key, feed in feeds.items():
        groups.setdefault(top(key), []).append(feed)
    return tuple(Unit(root_of(members[0].terminal), tuple(members)) for members in groups.values())


def _start(feed: Feed) -> str:
    """Where the line of a feed begins: the device that passes its voltage on, or the terminal that holds it."""
    upstream = feed.terminal.passes_on
    return key_of(upstream) if upstream is not None else f"{root_of(feed.terminal).identity} "


def _contact_key(use: ContactUse) -> str:
    return f"{use.identity} {use.terminal}"


def return_partner(feed: Feed, wiring: Wiring) -> Feed | None:
    """The feed in whose conductor the current of this one flows back; None where it has a conductor of its own.

    Where two items name each other, the first of them is taken to own the conductor. Raises Undecided where the item
    named is not fed from the same supply: current finds no way back through it.
    """
    following = _named_partner(feed, wiring)
    if following is None:
        return None
    circle = [key_of(feed)]
    here: Feed | None = following
    while here is not None and key_of(here) not in circle:
        circle.append(key_of(here))
        here = _named_partner(here, wiring)
    if here is not None and key_of(here) == circle[0] and circle[0] == min(circle):
        return None
    return following


def _named_partner(feed: Feed, wiring: Wiring) -> Feed | None:
    shared = feed.item.shares_return_with
    if shared is None or shared == "none":
        return None
    if isinstance(shared, str):
        owner = owner_of(feed.terminal)
        for other in wiring.by_item.get(f"{feed.item.opening}/{shared}", ()):
            if other.terminal.supply != "poe" and owner_of(other.terminal) == owner and key_of(other) != key_of(feed):
                return other
    raise Undecided("shares_return_with", feed.item.at("shares_return_with"), stated=True)


# -- what a unit comes down to ---------------------------------------------------------------------

_Ohms = tuple[tuple[float, float, float], ...]
"""Resistances in series: (new, aged, temperature coefficient) of each."""


@dataclass(frozen=True, slots=True)
class Problem:
    """A unit in one state as numbers alone: equal units of different openings are equal.

    branches: (node, node, resistances in series). sources: (plus, minus, low V, nominal V, high V). loads: (feed's
    number, plus, minus, kind, value), kind one of resistive (ohm), current (A), power (W).
    """

    branches: tuple[tuple[str, str, _Ohms], ...]
    sources: tuple[tuple[str, str, float, float, float], ...]
    loads: tuple[tuple[int, str, str, str, float], ...]
    warm_c: float

    def network(self, values: tuple[float, ...]) -> Network:
        """The circuit at source voltages, conductor temperature (degC) and age (0 to 1)."""
        *volts, temperature, age = values
        branches = tuple(
            Branch(a, b, sum(_ohm(*each, temperature, age) for each in ohms)) for a, b, ohms in self.branches
        )
        sources = tuple(
            Source(plus, minus, volt, name=plus) for (plus, minus, *_), volt in zip(self.sources, volts, strict=True)
        )
        return Network(branches, sources, tuple(_load(index, load) for index, load in enumerate(self.loads)))

    @property
    def bounds(self) -> tuple[tuple[float, float], ...]:
        """Lowest and highest of each parameter, in the order of `network`."""
        return (*((low, high) for _, _, low, _, high in self.sources), (COLD_C, self.warm_c), (0.0, 1.0))

    @property
    def centre(self) -> tuple[float, ...]:
        """The parameters at nominal source, 20 degC and new contacts."""
        return (*(middle for _, _, _, middle, _ in self.sources), COLD_C, 0.0)


def _ohm(new: float, aged: float, alpha: float, temperature_c: float, age: float) -> float:
    return (new + (aged - new) * age) * (1 + alpha * (temperature_c - COLD_C))


def _load(index: int, load: tuple[int, str, str, str, float]) -> Load:
    number, plus, minus, kind, value = load
    name = f"{number}.{index}"
    if kind == "resistive":
        return ResistiveLoad(name, plus, minus, value)
    if kind == "current":
        return ConstantCurrentLoad(name, plus, minus, value)
    return ConstantPowerLoad(name, plus, minus, value)


@dataclass(frozen=True, slots=True)
class WorstLoad:
    """One load of a problem at its worst: voltage in V and current in its line in A, both None and 0 where nothing
    holds; `sunken` then numbers the loads that pull the circuit down."""

    value_v: float | None
    nominal_v: float | None
    corner: tuple[float, ...]
    dominating: int
    current_a: float
    sunken: tuple[int, ...] = ()


def worst_loads(problem: Problem, count: int) -> tuple[WorstLoad, ...] | Invalid:
    """The worst of each of the `count` feeds of a problem.

    For a load alone on its line the worst corner is plain: lowest source, warm, aged. Where several loads meet, every
    corner is solved, and points inside the box besides, as one temperature in several conductors may break monotony.
    """
    memo: dict[tuple[float, ...], Solution | NoOperatingPoint] = {}
    for point in _points(problem, count):
        solved = solve(problem.network(point))
        if isinstance(solved, Invalid):
            return solved
        memo[point] = solved
        if isinstance(solved, NoOperatingPoint):
            break
    name_of: dict[int, str] = {}
    for index, load in enumerate(problem.loads):
        name_of.setdefault(load[0], f"{load[0]}.{index}")

    def volts(point: tuple[float, ...], name: str) -> float:
        if point not in memo:
            found = solve(problem.network(point))
            assert not isinstance(found, Invalid)  # the same circuit was valid with other numbers
            memo[point] = found
        solved = memo[point]
        return solved.load_voltages_v[name] if isinstance(solved, Solution) else -inf

    loads = []
    for number in range(count):
        name = name_of[number]
        corner = min(memo, key=lambda point: volts(point, name))
        value, middle = volts(corner, name), volts(problem.centre, name)
        moved = [
            volts((*problem.centre[:i], corner[i], *problem.centre[i + 1 :]), name) for i in range(len(problem.centre))
        ]
        solved = memo[corner]
        current, sunken = 0.0, tuple[int, ...]()
        if isinstance(solved, Solution):
            owned = [f"{n}.{i}" for i, (n, *_) in enumerate(problem.loads) if n == number]
            current = sum(solved.load_currents_a[each] for each in owned)
        else:
            sunken = tuple(dict.fromkeys(int(each.partition(".")[0]) for each in solved.where if each[:1].isdigit()))
        loads.append(
            WorstLoad(
                value if value > -inf else None,
                middle if middle > -inf else None,
                corner,
                min(range(len(moved)), key=moved.__getitem__),
                current,
                sunken,
            )
        )
    return tuple(loads)


def _points(problem: Problem, count: int) -> Iterator[tuple[float, ...]]:
    bounds, centre = problem.bounds, problem.centre
    plain = (*(low for low, _ in bounds[:-2]), bounds[-2][1], bounds[-1][1])
    yield plain
    if count == 1:
        return
    yield from dict.fromkeys(product(*(dict.fromkeys(pair) for pair in bounds)))
    yield centre
    yield tuple((a + b) / 2 for a, b in zip(plain, centre, strict=True))
    for index, (low, high) in enumerate(bounds):
        if low < high:
            for share in (0.25, 0.5, 0.75):
                yield (*plain[:index], low + share * (high - low), *plain[index + 1 :])


# -- the voltages of a spec ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _State:
    """A state of a unit: its name in messages, a source voltage in place of the usual one, the feeds that peak, and the
    factor on the resistance of one warm coil."""

    name: str
    source: Band | None = None
    fired: tuple[str, ...] = ()
    hot: tuple[str, float] = ("", 1.0)


STEADY = _State("steady")


Problems = dict[Problem, tuple[WorstLoad, ...] | Invalid]
"""Circuits as numbers alone, with their solutions."""


@dataclass
class Voltages(SetOnce):
    """The voltages of a spec, each unit and state solved when first asked for and then kept."""

    spec: Spec
    wiring: Wiring
    _lines: dict[str, Line | Undecided] = field(default_factory=dict)
    _solved: dict[tuple[str, _State], LoadVoltage | Undecided] = field(default_factory=dict)
    _problems: Problems = field(default_factory=dict)
    _posed: dict[tuple[str, _State], Problem] = field(default_factory=dict)
    _states: dict[tuple[str, str], _State] = field(default_factory=dict)
    _in_openings: dict[str, dict[str, Unit]] = field(default_factory=dict)

    @cached_property
    def _units(self) -> dict[str, Unit]:
        """The unit of each feed."""
        return {key_of(feed): unit for unit in units(self.wiring) for feed in unit.feeds}

    def unit(self, feed: Feed) -> Unit:
        """The unit that a feed belongs to. KeyError for a feed over PoE."""
        opening = self.spec.openings[feed.item.opening]
        if opening.id not in self._in_openings:
            feeds = [each for item in opening.items.values() for each in self.wiring.by_item.get(item.identity, ())]
            # what a contact of a power source switches may be in other openings too
            shared = any(isinstance(use.owner, PowerSource) for each in feeds for use in each.contacts)
            found = units(self.wiring, feeds) if not shared else ()
            self._in_openings[opening.id] = {key_of(each): unit for unit in found for each in unit.feeds}
        return (self._in_openings[opening.id] or self._units)[key_of(feed)]

    def line(self, feed: Feed) -> Line:
        """The line of a feed. Raises Undecided where it is not known."""
        key = key_of(feed)
        if key not in self._lines:
            try:
                own = return_partner(feed, self.wiring) is None
                self._lines[key] = line_of(feed, self.spec.openings[feed.item.opening], own_return=own)
            except Undecided as gap:
                self._lines[key] = gap
        found = self._lines[key]
        if isinstance(found, Undecided):
            raise found
        return found

    def steady(self, feed: Feed) -> LoadVoltage:
        """With every load of the unit on, the source at the lowest voltage it holds on mains."""
        return self._kept(feed, STEADY)

    def on_battery(self, feed: Feed) -> LoadVoltage | None:
        """At the end of the battery's discharge; None where the source has no battery or keeps its voltage on it.

        Raises Undecided where the end voltage is not declared.
        """
        band = battery_end(self.unit(feed).root)
        return None if band is None else self._kept(feed, _State("at the end of the battery", band))

    def firing(self, feed: Feed, fired: tuple[Feed, ...], on_battery: bool = False) -> LoadVoltage | None:
        """While the loads `fired` draw their peak and the others their steady current, on mains or at the end of the
        battery; None on battery where there is none. Loads behind a converter count through its power."""
        band = battery_end(self.unit(feed).root) if on_battery else None
        if on_battery and band is None:
            return None
        names = sorted({f.item.name if f.item.opening == feed.item.opening else f.identity for f in fired})
        listed = " and ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        state = f"while {listed} {'draw their' if len(names) > 1 else 'draws its'} peak"
        if on_battery:
            state = f"at the end of the battery, {state}"
        return self._kept(feed, _State(state, band, tuple(sorted(key_of(f) for f in fired))))

    def hot(self, feed: Feed, on_battery: bool = False) -> LoadVoltage | None:
        """With this coil warm from continuous duty, all others cold; None on battery where there is nothing to judge.

        Raises Undecided where the temperature rise is not known.
        """
        rise = float(known(feed.load, "temperature_rise", Quantity).value)
        band = battery_end(self.unit(feed).root) if on_battery else None
        if on_battery and band is None:
            return None
        state = f"{'at the end of the battery' if on_battery else 'steady'}, its winding {rise:g} K warmer"
        return self._kept(feed, _State(state, band, (), (key_of(feed), 1 / hot_current_fraction(rise))))

    def at_length(self, found: LoadVoltage, length_m: float) -> float | None:
        """What the worst voltage of `found` would be with another length of its own cable, V; None for none."""
        line = self.line(found.feed)
        if line.length_m <= 0:
            return found.worst_v
        factor = length_m / line.length_m
        scaled = tuple(
            replace(each, new_ohm=each.new_ohm * factor, aged_ohm=each.aged_ohm * factor)
            if each.name in (CABLE_OUT, CABLE_BACK)
            else each
            for each in line.elements
        )
        worst = self._worst(
            found.feed, self._states[key_of(found.feed), found.state], replace(line, elements=scaled, length_m=length_m)
        )
        return worst.value_v

    def _kept(self, feed: Feed, state: _State) -> LoadVoltage:
        key = (key_of(feed), state)
        self._states[key_of(feed), state.name] = state
        if key not in self._solved:
            try:
                self._solved[key] = self._solve(feed, state)
            except Undecided as gap:
                self._solved[key] = gap
        found = self._solved[key]
        if isinstance(found, Undecided):
            raise found
        return found

    def _solve(self, feed: Feed, state: _State) -> LoadVoltage:
        worst = self._worst(feed, state)
        unit, line = self.unit(feed), self.line(feed)
        *_, temperature, age = worst.corner
        source_v = worst.corner[self._roots(unit).index(root_of(feed.terminal).identity)]
        loop = line.loop_ohm(temperature, age)
        collapse = ""
        if worst.value_v is None:
            names = " and ".join(unit.feeds[number].item.name for number in worst.sunken) or "its loads"
            collapse = f"no voltage holds under what {names} draw{'s' if len(worst.sunken) == 1 else ''} over its line"
        parameters = [*([SOURCE] * (len(worst.corner) - 2)), TEMPERATURE, AGE]
        found = LoadVoltage(
            feed, state.name, worst.value_v, worst.nominal_v, source_v, loop, worst.current_a, temperature,
            parameters[worst.dominating], collapse,
        )  # fmt: skip
        return replace(found, working=tuple(_working(found, line, state.source is not None)))

    def _worst(self, feed: Feed, state: _State, line: Line | None = None) -> WorstLoad:
        unit = self.unit(feed)
        number = next(i for i, member in enumerate(unit.feeds) if key_of(member) == key_of(feed))
        if line is not None:
            lines = [self.line(member) for member in unit.feeds]
            lines[number] = line
            problem = self._problem(unit, lines, state)
        else:
            key = (key_of(unit.feeds[0]), state)
            if key not in self._posed:
                self._posed[key] = self._problem(unit, [self.line(member) for member in unit.feeds], state)
            problem = self._posed[key]
        if problem not in self._problems:
            self._problems[problem] = worst_loads(problem, len(unit.feeds))
        worst = self._problems[problem]
        if isinstance(worst, Invalid):
            raise Undecided(f"a circuit that can be solved ({worst.reason})", feed.place, stated=False)
        return worst[number]

    def _roots(self, unit: Unit) -> list[str]:
        return list(dict.fromkeys(root_of(member.terminal).identity for member in unit.feeds))

    def _problem(self, unit: Unit, lines: list[Line], state: _State) -> Problem:
        """The numbers of a unit. Nodes are numbered after the feeds; a pass-through device lends its own."""
        numbers = {key_of(member): number for number, member in enumerate(unit.feeds)}
        roots = self._roots(unit)
        branches: list[tuple[str, str, _Ohms]] = []
        loads: list[tuple[int, str, str, str, float]] = []
        contact_nodes: dict[tuple[str, ...], str] = {}
        sources = []
        for index, identity in enumerate(roots):
            root = next(t for m in unit.feeds if (t := root_of(m.terminal)).identity == identity)
            band = state.source if state.source is not None else source_voltage(root)
            low, high = float(band.low), float(band.high)
            sources.append((f"s{index}+", "s-", low, min(max(float(nominal(band)), low), high), high))
        for number, (member, line) in enumerate(zip(unit.feeds, lines, strict=True)):
            upstream = member.terminal.passes_on
            root_number = roots.index(root_of(member.terminal).identity)
            start = f"s{root_number}" if upstream is None else f"{numbers[key_of(upstream)]}"
            here = f"{start}+"
            path = [start]
            for use, element in zip(member.contacts, line.elements, strict=False):
                path.append(_contact_key(use))
                known_node = contact_nodes.get(tuple(path))
                if known_node is None:
                    known_node = f"c{len(contact_nodes)}"
                    contact_nodes[tuple(path)] = known_node
                    branches.append((here, known_node, _ohms((element,))))
                here = known_node
            branches.append((here, f"{number}+", _ohms(e for e in line.behind_contacts if e.leg == "plus")))
            partner = return_partner(member, self.wiring)
            back = "s-" if upstream is None else f"{start}-"
            if partner is not None:
                back = f"{numbers[key_of(partner)]}-"
            branches.append((f"{number}-", back, _ohms(e for e in line.elements if e.leg == "minus")))
            for kind, value in self._loads(member, state):
                loads.append((number, f"{number}+", f"{number}-", kind, value))
        warm = max(warm_conductor_c(self.spec, self.spec.openings[m.item.opening]) for m in unit.feeds)
        return Problem(tuple(branches), tuple(sources), tuple(loads), warm)

    def _loads(self, feed: Feed, state: _State) -> Iterator[tuple[str, float]]:
        """The device's own load, and the power that its converters take in for the loads behind them."""
        kind, value = load_of(feed, key_of(feed) in state.fired)
        yield kind, value * state.hot[1] if state.hot[0] == key_of(feed) and kind == "resistive" else value
        if isinstance(feed.load, Input):
            converted = float(converted_power(feed, self.wiring, peaking(state.fired)))
            if converted > 0:
                yield "power", converted


def _ohms(elements: Collection[Element] | Iterator[Element]) -> _Ohms:
    return tuple((each.new_ohm, each.aged_ohm, each.alpha) for each in elements)


def own_battery(root: Terminal) -> Battery | None:
    """The battery that lies across a terminal's supply, so that loads see its voltage; None where there is none.

    A UPS makes its output voltage anew, and so does a supply that regulates its output on battery. Raises Undecided
    where the spec gives either as unknown.
    """
    owner = root.owner
    if not isinstance(owner, PowerSource) or owner.kind == "ups" or root.supply in ("ac", "poe"):
        return None
    if owner.battery is UNKNOWN:
        raise Undecided("battery", owner.at("battery"), stated=True)
    if not isinstance(owner.battery, Battery) or owner.battery.regulated is True:
        return None
    if owner.battery.regulated is UNKNOWN:
        raise Undecided("regulated", owner.battery.at("regulated"), stated=True)
    return owner.battery


def battery_end(root: Terminal) -> Band | None:
    """The source voltage at the end of discharge; None without a battery, or where the supply keeps its voltage."""
    battery = own_battery(root)
    if battery is None:
        return None
    if battery.end_voltage is None and battery.cut_off_voltage is not None:
        end = above_zero(battery, "cut_off_voltage")
    else:
        end = above_zero(battery, "end_voltage")
        if battery.cut_off_voltage is not None:
            end = max(end, above_zero(battery, "cut_off_voltage"))
    drop = known(battery, "diode_drop", Quantity).value if battery.diode_drop is not None else Fraction(0)
    at_end = end - drop
    if at_end <= 0:
        raise Undecided("diode_drop below the end voltage", battery.at("diode_drop"), stated=False)
    return Band(at_end, at_end, at_end, "voltage", str(Measure(at_end, "voltage")))


def load_of(feed: Feed, at_peak: bool) -> tuple[str, float]:
    """How a load draws: ("resistive", ohm), ("current", A) or ("power", W). Raises Undecided where not known.

    A coil is a resistance: that of its winding, else from rated voltage and current; at its peak, from the peak
    current. On AC its impedance counts, which only voltage and current give. Electronics draw constant power where
    the sheet states power, else constant current.
    """
    load = feed.load
    if isinstance(load, Coil):
        rated = nominal(known(load, "voltage", Band))
        if rated <= 0:
            raise Undecided("voltage above zero", load.at("voltage"), stated=False)
        if at_peak:
            above_zero(load, "current")
            return "resistive", float(rated / own_peak(feed))
        if load.resistance is not None and feed.terminal.supply != "ac":
            winding = above_zero(load, "resistance")
            settled = load.current.value if isinstance(load.current, Quantity) else None
            if settled is None or rated <= HELD_ELECTRONICALLY * float(settled * winding):
                return "resistive", float(winding)
        return "resistive", float(rated / above_zero(load, "current"))
    if at_peak:
        above_zero(load, "peak")
        return "current", float(own_peak(feed))
    if load.power is not None:
        return "power", float(above_zero(load, "power"))
    return "current", float(above_zero(load, "current"))


def _working(found: LoadVoltage, line: Line, on_battery: bool) -> Iterator[Step]:
    feed, load = found.feed, found.feed.load
    root = root_of(feed.terminal)
    yield Step(
        f"source voltage, {found.state}",
        f"lowest of {root.label}" if not on_battery else "end of discharge less the drop of its diode",
        Measure(found.source_v, "voltage"),
        tuple(_source_terms(root, on_battery)),
    )
    yield Step(
        "loop resistance",
        f"conductors at {found.temperature_c:.0f} degC + contacts, splices and transfer, aged",
        Measure(found.loop_ohm, "resistance"),
        tuple(element.term for element in line.elements),
        "R = R20 x (1 + alpha x (T - 20 degC))",
    )
    terms = [Term(f"voltage of {feed.item.name}", _text(load.voltage), load.at("voltage"))]
    terms += [
        Term(f"{name} of {feed.item.name}", _text(getattr(load, name)), load.at(name))
        for name in ("resistance", "power", "current", "peak")
        if getattr(load, name, None) is not None
    ]
    yield Step(
        f"current into {feed.item.name}",
        "solution of the circuit of all loads that share conductors",
        Measure(found.current_a, "current"),
        tuple(terms),
        "Kirchhoff's laws",
    )
    if found.worst_v is not None:
        yield Step(
            f"voltage at {feed.item.name}",
            "source voltage - voltage lost on the way, solved as one circuit",
            Measure(found.worst_v, "voltage"),
            (),
            f"counts most beside nominal conditions: {found.dominating}",
        )


def _source_terms(root: Terminal, on_battery: bool) -> Iterator[Term]:
    owner = root.owner
    if on_battery and isinstance(owner, PowerSource) and isinstance(owner.battery, Battery):
        for name in ("end_voltage", "cut_off_voltage", "diode_drop"):
            if getattr(owner.battery, name) is not None:
                yield Term(name.replace("_", " "), _text(getattr(owner.battery, name)), owner.battery.at(name))
        return
    yield Term(root.label, source_voltage(root).text, voltage_place(root))


def voltage_place(root: Terminal) -> Place:
    """Where the voltage of a terminal stands: with its output, else with the source that it belongs to."""
    if root.output.voltage is None and isinstance(root.owner, PowerSource):
        return root.owner.at("voltage")
    return root.output.at("voltage")


def draws_peak(feed: Feed) -> bool:
    """Whether a load draws more for a moment than steadily. Raises Undecided where it is not known.

    Where no peak is stated: a magnet without moving core has none, and that of electronics is within their stated
    highest current; a lock that moves something must state it.
    """
    kind = feed.item.sheet.kind if feed.item.sheet is not None else None
    if feed.load.peak is None and (kind in MAGNETS or (isinstance(feed.load, Input) and kind not in LOCKS)):
        return False
    return own_peak(feed) > own_current(feed)


def _text(value: object) -> str:
    return "unknown" if value is None or value is UNKNOWN else str(getattr(value, "text", value))


__all__ = [
    "AGE",
    "SOURCE",
    "TEMPERATURE",
    "LoadVoltage",
    "Problem",
    "Unit",
    "Voltages",
    "WorstLoad",
    "battery_end",
    "draws_peak",
    "key_of",
    "load_of",
    "own_battery",
    "owner_of",
    "return_partner",
    "root_of",
    "units",
    "voltage_place",
    "worst_loads",
]
