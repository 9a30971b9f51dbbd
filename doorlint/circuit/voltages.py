"""The voltage at each load: the circuit of its supply solved at the worst corner of each state.

A *unit* is what shares conductors: the loads of one output that have any line, pass-through device or return in
common. Loads on lines of their own from the same output do not meet, as the output holds its voltage. A unit is
solved as one network; a missing datum makes the loads of its unit open, and no others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from ..outcome import Measure, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Battery, Coil, Input, PowerSource, Spec
from .demand import nominal, source_voltage
from .feeds import Feed, Terminal, Wiring
from .lines import Line, line_of, warm_conductor_c
from .network import (
    Branch,
    ConstantCurrentLoad,
    ConstantPowerLoad,
    Invalid,
    Load,
    Network,
    ResistiveLoad,
    Solution,
    Source,
    Worst,
    worst_case,
)

SOURCE = "source voltage"
TEMPERATURE = "conductor temperature"
AGE = "age of contacts and splices"


@dataclass(frozen=True, slots=True)
class LoadVoltage:
    """The voltage at one load in one state of its circuit.

    worst_v: at the worst corner; None when the circuit has no operating point there (`collapse` says why).
    nominal_v: at nominal source, 20 degC and new contacts. source_v: the lowest source voltage of the state.
    dominating: what costs most between the two.
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
    """Feeds that share conductors, all fed from one terminal that holds its voltage."""

    root: Terminal
    feeds: tuple[Feed, ...]


def root_of(terminal: Terminal) -> Terminal:
    """The terminal that holds the voltage, behind all outputs that pass an input's voltage on."""
    while terminal.passes_on is not None:
        terminal = terminal.passes_on.terminal
    return terminal


def _first(feed: Feed) -> Feed:
    while feed.terminal.passes_on is not None:
        feed = feed.terminal.passes_on
    return feed


def key_of(feed: Feed) -> str:
    """A name for one feed that is unique in the spec."""
    return f"{feed.identity}:{feed.supply}"


def units(wiring: Wiring) -> tuple[Unit, ...]:
    """All units of a spec, feeds over PoE apart (they are judged by power, not by voltage)."""
    groups: dict[str, list[Feed]] = {}
    name_of: dict[str, str] = {}
    for feed in wiring.feeds:
        if feed.terminal.supply != "poe":
            first = key_of(_first(feed))
            groups.setdefault(first, []).append(feed)
            name_of[key_of(feed)] = first
    for feed in wiring.feeds:  # a shared return joins two groups
        other = _partner(feed, wiring)
        if other is not None and key_of(feed) in name_of and key_of(other) in name_of:
            one, two = name_of[key_of(feed)], name_of[key_of(other)]
            if one != two and root_of(feed.terminal).identity == root_of(other.terminal).identity:
                for member in groups.pop(two):
                    groups[one].append(member)
                    name_of[key_of(member)] = one
    return tuple(Unit(root_of(feeds[0].terminal), tuple(feeds)) for feeds in groups.values())


def _partner(feed: Feed, wiring: Wiring) -> Feed | None:
    shared = feed.item.shares_return_with
    if not isinstance(shared, str):
        return None
    return next(iter(wiring.by_item.get(f"{feed.item.opening}/{shared}", ())), None)


@dataclass
class Voltages:
    """The voltages of a spec, each unit and state solved when first asked for and then kept."""

    spec: Spec
    wiring: Wiring
    _units: dict[str, Unit] = field(default_factory=dict)
    _lines: dict[str, Line | Undecided] = field(default_factory=dict)
    _solved: dict[tuple[str, str], LoadVoltage | Undecided] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for unit in units(self.wiring):
            for feed in unit.feeds:
                self._units[key_of(feed)] = unit

    def unit(self, feed: Feed) -> Unit:
        """The unit that a feed belongs to. KeyError for a feed over PoE."""
        return self._units[key_of(feed)]

    def line(self, feed: Feed) -> Line:
        """The line of a feed. Raises Undecided where it is not known."""
        key = key_of(feed)
        if key not in self._lines:
            try:
                self._lines[key] = line_of(feed, self.spec.openings[feed.item.opening])
            except Undecided as gap:
                self._lines[key] = gap
        found = self._lines[key]
        if isinstance(found, Undecided):
            raise found
        return found

    def steady(self, feed: Feed) -> LoadVoltage:
        """With every load of the unit on, the source at the lowest voltage it holds on mains."""
        return self._kept(feed, "steady", lambda: self._solve(feed, "steady", source_voltage(self.unit(feed).root), ()))

    def on_battery(self, feed: Feed) -> LoadVoltage | None:
        """At the end of the battery's discharge; None where the source has no battery or keeps its voltage on it.

        Raises Undecided where the end voltage is not declared.
        """
        band = battery_end(self.unit(feed).root)
        if band is None:
            return None
        return self._kept(feed, "on battery", lambda: self._solve(feed, "at the end of the battery", band, ()))

    def firing(self, feed: Feed, fired: tuple[Feed, ...]) -> LoadVoltage:
        """While the loads `fired` draw their peak and the others their steady current."""
        name = "while " + ", ".join(sorted(f.item.name for f in fired)) + " at peak"
        band = source_voltage(self.unit(feed).root)
        return self._kept(feed, name, lambda: self._solve(feed, name, band, fired))

    def _kept(self, feed: Feed, state: str, solve: object) -> LoadVoltage:
        key = (key_of(feed), state)
        if key not in self._solved:
            try:
                self._solved[key] = solve()  # type: ignore[operator]
            except Undecided as gap:
                self._solved[key] = gap
        found = self._solved[key]
        if isinstance(found, Undecided):
            raise found
        return found

    def _solve(self, feed: Feed, state: str, source: Band, fired: tuple[Feed, ...]) -> LoadVoltage:
        unit = self.unit(feed)
        lines = {key_of(member): self.line(member) for member in unit.feeds}
        loads = {key_of(member): load_of(member, member in fired) for member in unit.feeds}
        warm = max(warm_conductor_c(self.spec, self.spec.openings[m.item.opening]) for m in unit.feeds)
        middle = float(nominal(source))
        low, high = float(source.low), float(source.high)
        parameters = {SOURCE: (low, high), TEMPERATURE: (20.0, warm), AGE: (0.0, 1.0)}
        name = key_of(feed)

        def build(values: Mapping[str, float]) -> Network:
            return _network(unit, lines, loads, values, self.wiring)

        worst = worst_case(
            build,
            parameters,
            lambda solution: solution.load_voltages_v[name],
            nominal={SOURCE: min(max(middle, low), high), TEMPERATURE: 20.0, AGE: 0.0},
        )
        if isinstance(worst, Invalid):
            raise Undecided(worst.reason, feed.place, stated=True)
        return _load_voltage(feed, state, source, worst, lines[name])


def battery_end(root: Terminal) -> Band | None:
    """The source voltage at the end of discharge; None without a battery, or where the supply keeps its voltage."""
    owner = root.owner
    if not isinstance(owner, PowerSource) or not isinstance(owner.battery, Battery):
        return None
    battery = owner.battery
    if battery.regulated is True:
        return None
    if battery.end_voltage is None and battery.cut_off_voltage is not None:
        end = known(battery, "cut_off_voltage", Quantity).value
    else:
        end = known(battery, "end_voltage", Quantity).value
        if battery.cut_off_voltage is not None:
            end = max(end, known(battery, "cut_off_voltage", Quantity).value)
    drop = known(battery, "diode_drop", Quantity).value if battery.diode_drop is not None else Fraction(0)
    at_end = end - drop
    return Band(at_end, at_end, at_end, "voltage", str(Measure(at_end, "voltage")))


def load_of(feed: Feed, at_peak: bool) -> tuple[str, float]:
    """How a load draws: ("resistive", ohm), ("current", A) or ("power", W). Raises Undecided where not known.

    A coil is a resistance, from its sheet or from rated voltage and current; at its peak, from the peak current.
    Electronics draw constant power where the sheet states power, else constant current.
    """
    load = feed.load
    if isinstance(load, Coil):
        if load.resistance is not None and not at_peak:
            return "resistive", _above_zero(load, "resistance")
        current = _above_zero(load, "peak" if at_peak else "current")
        if at_peak:
            current = max(current, _above_zero(load, "current"))
        return "resistive", float(nominal(known(load, "voltage", Band))) / current
    if at_peak:
        return "current", _above_zero(load, "peak")
    if load.power is not None:
        return "power", _above_zero(load, "power")
    return "current", _above_zero(load, "current")


def _above_zero(load: Coil | Input, name: str) -> float:
    value = known(load, name, Quantity).value
    if value <= 0:
        raise Undecided(name, load.at(name), stated=True)
    return float(value)


def _network(
    unit: Unit,
    lines: Mapping[str, Line],
    loads: Mapping[str, tuple[str, float]],
    values: Mapping[str, float],
    wiring: Wiring,
) -> Network:
    """The network of a unit at one corner. Nodes are named after feeds; a pass-through device lends its own."""
    temperature, age = values[TEMPERATURE], values[AGE]
    branches: list[Branch] = []
    elements: list[Load] = []
    for feed in unit.feeds:
        name = key_of(feed)
        upstream = feed.terminal.passes_on
        start = key_of(upstream) if upstream is not None else "source"
        line = lines[name]
        branches.append(Branch(f"{start}+", f"{name}+", line.ohm("plus", temperature, age), f"{name} out"))
        partner = _partner(feed, wiring)
        if partner is not None and key_of(partner) in lines:
            branches.append(
                Branch(f"{name}-", f"{key_of(partner)}-", line.ohm("minus", temperature, age), f"{name} back")
            )
        else:
            branches.append(Branch(f"{name}-", f"{start}-", line.ohm("minus", temperature, age), f"{name} back"))
        kind, value = loads[name]
        plus, minus = f"{name}+", f"{name}-"
        if kind == "resistive":
            elements.append(ResistiveLoad(name, plus, minus, value))
        elif kind == "current":
            elements.append(ConstantCurrentLoad(name, plus, minus, value))
        else:
            elements.append(ConstantPowerLoad(name, plus, minus, value))
    source = Source("source+", "source-", values[SOURCE], name="source")
    return Network(tuple(branches), (source,), tuple(elements))


def _load_voltage(feed: Feed, state: str, source: Band, worst: Worst, line: Line) -> LoadVoltage:
    corner = worst.corner
    loop = line.loop_ohm(corner[TEMPERATURE], corner[AGE])
    solved = worst.outcome
    name = key_of(feed)
    current = solved.load_currents_a[name] if isinstance(solved, Solution) else 0.0
    collapse = "" if isinstance(solved, Solution) else solved.reason
    source_v = corner[SOURCE]
    steps = tuple(_working(feed, state, source, line, corner, loop, current, worst))
    return LoadVoltage(
        feed, state, worst.value, worst.nominal_value, source_v, loop, current, corner[TEMPERATURE],
        worst.dominating, collapse, steps,
    )  # fmt: skip


def _working(
    feed: Feed,
    state: str,
    source: Band,
    line: Line,
    corner: Mapping[str, float],
    loop: float,
    current: float,
    worst: Worst,
) -> Iterator[Step]:
    root = root_of(feed.terminal)
    yield Step(
        f"source voltage, {state}",
        f"lowest of {root.label}",
        Measure(corner[SOURCE], "voltage"),
        (Term(root.label, source.text, root.output.at("voltage")),),
    )
    yield Step(
        "loop resistance",
        f"conductors at {corner[TEMPERATURE]:.0f} degC + contacts, splices and transfer, aged",
        Measure(loop, "resistance"),
        tuple(element.term for element in line.elements),
        "R = R20 x (1 + alpha x (T - 20 degC))",
    )
    load = feed.load
    terms = [Term(f"voltage of {feed.item.name}", _text(load.voltage), load.at("voltage"))]
    if isinstance(load, Coil) and load.resistance is not None:
        terms.append(Term("coil resistance", _text(load.resistance), load.at("resistance")))
    else:
        name = "power" if isinstance(load, Input) and load.power is not None else "current"
        terms.append(Term(f"{name} of {feed.item.name}", _text(getattr(load, name)), load.at(name)))
    yield Step(
        "current in the line to it",
        "solution of the circuit of all loads that share conductors",
        Measure(current, "current"),
        tuple(terms),
        "Kirchhoff's laws",
    )
    if worst.value is not None:
        yield Step(
            f"voltage at {feed.item.name}",
            "source voltage - voltage lost on the way, solved as one circuit",
            Measure(worst.value, "voltage"),
            (),
            f"most is lost to: {worst.dominating}",
        )


def _text(value: object) -> str:
    return "unknown" if value is None or value is UNKNOWN else str(getattr(value, "text", value))
