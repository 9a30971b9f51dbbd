"""The operating point of one direct-current supply net: sources, resistances and loads in any topology.

Feed and return may be different trees, share trunks or form meshes; nothing is assumed to be a ladder. A
net is a `Network` of `Branch`, `Source` and loads between named nodes; `solve` gives a `Solution`, or says
that there is no operating point, or that the description is not a circuit. It never raises for bad numbers
and never returns not-a-number.

Method. Zero-ohm branches and stiff sources join nodes into one class with fixed voltage offsets. What
remains is a symmetric nodal system, eliminated node by node by star-mesh transformation (which only adds
positive conductances, so nothing cancels) with the node of fewest neighbours first; a tree is eliminated in
linear time.

Constant-power loads. With v the voltages at these loads, E the same with the loads taken off, and Z the
transfer resistances between them, v = E - Z (P / v). Facts used:

* The Jacobian of the current balance, G - sum P/v**2 on the loads' ports, is the Hessian of a function
  which is strictly convex where it is positive definite, and that region is convex; so there is at most one
  operating point at which it is positive definite. That is the *upper* one, the one the net reaches when its
  loads grow from nothing.
* If no entry of Z is negative (true for two-core cables fed from one place, and for any feed and return trees
  from one place without resistive loads; otherwise computed), the right side is increasing and concave in v.
  Newton's method started at E then decreases monotonically, stays above every operating point and converges
  to the upper one; if the Jacobian stops being positive definite or a voltage falls to zero on the way, no
  operating point exists at all. For one load this is the closed form v = (E + sqrt(E**2 - 4 P Z)) / 2.
* If some entry of Z is negative (a bridge with several sources), Newton is continued from zero power to full
  power; a collapse is then reported with `proved` false.

Sources: S. Taheri and V. Kekatos, Power Flow Solvers for Direct Current Networks, IEEE Transactions on
Smart Grid, 2019 (monotone mapping and the high-voltage solution); J. M. Ortega and W. C. Rheinboldt,
Iterative Solution of Nonlinear Equations in Several Variables, 1970, section 13.3 (monotone Newton), from
memory; M. Jeeninga, C. De Persis and A. van der Schaft, DC power grids with constant-power loads, part I,
2020 (one stable operating point).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

__all__ = [
    "Branch",
    "ConstantCurrentLoad",
    "ConstantPowerLoad",
    "Invalid",
    "Load",
    "Network",
    "NoOperatingPoint",
    "ResistiveLoad",
    "Solution",
    "Source",
    "Worst",
    "coil_voltage_v",
    "constant_current_voltage_v",
    "constant_power_voltage_v",
    "loading_limit",
    "solve",
    "worst_case",
]

# Below this a resistance is a joint: 1 nano-ohm at 100 A drops 0.1 microvolt, far under anything measured
# at a door.
ZERO_OHM = 1e-9
# Loads, sources and branches outside this range (in ohm, A, W or V) are mistakes of unit, and could overflow.
_LARGEST = 1e9
_SMALLEST = 1e-9
# A pivot this small beside the terms it was summed from is rounding, not a conductance.
_PIVOT = 1e-13
# Newton stops here (relative to the unloaded voltage); convergence is quadratic, so the result is better
# than this.
_STEP = 1e-12
# At the very edge of collapse the Jacobian is singular. A last step this small means a power mismatch of
# its square.
_EDGE_STEP = 1e-6
_MOST_SWITCHED_SOURCES = 6


# --- description ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance in ohm between nodes a and b: zero joins them. Its current counts from a to b."""

    a: str
    b: str
    resistance_ohm: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Source:
    """A voltage source with inner resistance; drop_v is a blocking diode's forward drop and lets no current
    back.

    blocks_reverse: lets no current back without a drop (an ideal diode, a supply whose output cannot sink).
    limit_a: the current in A up to which it is a voltage source. Beyond it a supply may hold the current,
    fold back or cycle; which is not known here, so a source at its limit needs another source that still
    holds the net up.
    """

    plus: str
    minus: str
    voltage_v: float
    resistance_ohm: float = 0.0
    drop_v: float = 0.0
    limit_a: float | None = None
    name: str = ""
    blocks_reverse: bool = False

    @property
    def emf_v(self) -> float:
        """Voltage at its terminals without load, V."""
        return self.voltage_v - self.drop_v

    @property
    def one_way(self) -> bool:
        """True when current cannot flow back into it."""
        return self.blocks_reverse or self.drop_v > 0


@dataclass(frozen=True, slots=True)
class ResistiveLoad:
    """A coil in its steady state, a heater, a lamp: resistance in ohm at its actual temperature."""

    name: str
    plus: str
    minus: str
    resistance_ohm: float


@dataclass(frozen=True, slots=True)
class ConstantCurrentLoad:
    """A load that draws the same current in A whatever its voltage (a linear regulator)."""

    name: str
    plus: str
    minus: str
    current_a: float


@dataclass(frozen=True, slots=True)
class ConstantPowerLoad:
    """A load that draws the same power in W whatever its voltage (a switching converter); minimum_v is
    where it drops out.
    """

    name: str
    plus: str
    minus: str
    power_w: float
    minimum_v: float = 0.0


Load = ResistiveLoad | ConstantCurrentLoad | ConstantPowerLoad


@dataclass(frozen=True, slots=True)
class Network:
    """One supply net. The nodes are those its elements name."""

    branches: tuple[Branch, ...] = ()
    sources: tuple[Source, ...] = ()
    loads: tuple[Load, ...] = ()


# --- outcomes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Solution:
    """The upper operating point, in V and A.

    node_voltages_v counts from the minus terminal of the first source (of each separate part of the net).
    Branch currents stand in the order of the branches. below_minimum names constant-power loads under their
    minimum voltage: they would drop out or restart.
    """

    node_voltages_v: Mapping[str, float]
    branch_currents_a: tuple[float, ...]
    load_voltages_v: Mapping[str, float]
    load_currents_a: Mapping[str, float]
    source_currents_a: Mapping[str, float]
    source_states: Mapping[str, Literal["on", "off", "limited"]]
    below_minimum: tuple[str, ...] = ()

    @property
    def source_current_a(self) -> float:
        """Sum of the source currents, A."""
        return math.fsum(self.source_currents_a.values())

    @property
    def load_power_w(self) -> float:
        """Power taken by all loads, W."""
        return math.fsum(self.load_voltages_v[each] * self.load_currents_a[each] for each in self.load_voltages_v)


@dataclass(frozen=True, slots=True)
class NoOperatingPoint:
    """The net cannot carry its loads. proved: no operating point exists; otherwise none was found.

    kind "collapse": the loads named, most sunken first, pull the voltage down until nothing holds. kind
    "limit": a source would have to give demand_a, more than its limit_a.
    """

    kind: Literal["collapse", "limit"]
    reason: str
    where: tuple[str, ...]
    proved: bool = True
    demand_a: float | None = None
    limit_a: float | None = None


@dataclass(frozen=True, slots=True)
class Invalid:
    """The description is not a circuit that can be solved: why, and at which elements or nodes."""

    reason: str
    where: tuple[str, ...]


# --- two-terminal short cuts ------------------------------------------------------------------------------


def _quantity(name: str, value: float, *, zero: bool = False) -> float:
    if not _is_number(value) or value < 0 or (value == 0 and not zero):
        raise ValueError(f"{name} must be a finite number {'of zero or more' if zero else 'above zero'}, got {value!r}")
    return float(value)


def coil_voltage_v(source_v: float, loop_ohm: float, coil_ohm: float) -> float:
    """Voltage in V at a coil behind a loop: V_s R_c / (R_c + R_loop). Raises ValueError for a meaningless
    number.
    """
    source, loop = _quantity("source_v", source_v), _quantity("loop_ohm", loop_ohm, zero=True)
    coil = _quantity("coil_ohm", coil_ohm)
    return source * (coil / (coil + loop))


def constant_current_voltage_v(source_v: float, loop_ohm: float, current_a: float) -> float | None:
    """Voltage in V at a constant-current load behind a loop: V_s - I R; None when nothing is left."""
    source, loop = _quantity("source_v", source_v), _quantity("loop_ohm", loop_ohm, zero=True)
    left = source - _quantity("current_a", current_a) * loop
    return left if left > 0 else None


def constant_power_voltage_v(source_v: float, loop_ohm: float, power_w: float) -> float | None:
    """Upper voltage in V at a constant-power load behind a loop; None when V_s**2 < 4 P R (no operating
    point).
    """
    source, loop = _quantity("source_v", source_v), _quantity("loop_ohm", loop_ohm, zero=True)
    square = source * source - 4 * _quantity("power_w", power_w) * loop
    return None if square < 0 else (source + math.sqrt(square)) / 2


# --- checks -----------------------------------------------------------------------------------------------


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _in_range(value: object, *, zero: bool) -> bool:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return _SMALLEST <= value <= _LARGEST or (zero and 0 <= value < _SMALLEST)


def _branch_name(network: Network, index: int) -> str:
    branch = network.branches[index]
    return branch.name or f"branch {branch.a} to {branch.b}"


def source_name(network: Network, index: int) -> str:
    """Name of a source, or its place in the order ("source 2") when it has none."""
    return network.sources[index].name or f"source {index + 1}"


def _load_demand(load: Load) -> tuple[str, float]:
    match load:
        case ResistiveLoad():
            return "resistance", load.resistance_ohm
        case ConstantCurrentLoad():
            return "current", load.current_a
        case ConstantPowerLoad():
            return "power", load.power_w


def _wrong_number(network: Network) -> Invalid | None:
    most = f"and at most {_LARGEST:g}"
    for index, branch in enumerate(network.branches):
        at = (_branch_name(network, index),)
        if not _in_range(branch.resistance_ohm, zero=True):
            reason = f"a branch needs a resistance of zero or more {most} ohm, got {branch.resistance_ohm!r}"
            return Invalid(reason, at)
        if branch.a == branch.b:
            return Invalid("both ends of a branch are one node", at)
    for index, source in enumerate(network.sources):
        at = (source_name(network, index),)
        for what, value in (("inner resistance", source.resistance_ohm), ("diode drop", source.drop_v)):
            if not _in_range(value, zero=True):
                return Invalid(f"a source needs a {what} of zero or more {most}, got {value!r}", at)
        if not _in_range(source.voltage_v, zero=False):
            return Invalid(f"a source needs a voltage above zero {most} V, got {source.voltage_v!r}", at)
        if source.emf_v <= 0:
            return Invalid("the diode drop leaves nothing of the source voltage", at)
        if source.limit_a is not None and not _in_range(source.limit_a, zero=False):
            return Invalid(f"a source needs a current limit above zero {most} A, got {source.limit_a!r}", at)
        if source.plus == source.minus:
            return Invalid("both terminals of a source are one node", at)
    for load in network.loads:
        what, value = _load_demand(load)
        if not _in_range(value, zero=False):
            return Invalid(f"a load needs a {what} above zero {most}, got {value!r}", (load.name,))
        if load.plus == load.minus:
            return Invalid("both terminals of a load are one node", (load.name,))
        if isinstance(load, ConstantPowerLoad) and not _in_range(load.minimum_v, zero=True):
            reason = f"a load needs a minimum voltage of zero or more, got {load.minimum_v!r}"
            return Invalid(reason, (load.name,))
    return None


def _twice(names: Sequence[str]) -> str | None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            return name
        seen.add(name)
    return None


def _blocks(edges: Sequence[tuple[int, int]], nodes: int) -> list[int]:
    """Number of the biconnected block of each edge: two edges share one exactly when a closed path runs
    through both.
    """
    touching: list[list[int]] = [[] for _ in range(nodes)]
    for edge, (a, b) in enumerate(edges):
        touching[a].append(edge)
        touching[b].append(edge)
    block = [-1] * len(edges)
    found = [0] * nodes
    low = [0] * nodes
    taken = [False] * len(edges)
    clock, blocks = 0, 0
    for root in range(nodes):
        if found[root]:
            continue
        clock += 1
        found[root] = low[root] = clock
        path: list[int] = []
        stack: list[tuple[int, int, Iterator[int]]] = [(root, -1, iter(touching[root]))]
        while stack:
            node, came_by, waiting = stack[-1]
            for edge in waiting:
                if taken[edge]:
                    continue
                taken[edge] = True
                path.append(edge)
                a, b = edges[edge]
                other = b if a == node else a
                if found[other]:
                    low[node] = min(low[node], found[other])
                else:
                    clock += 1
                    found[other] = low[other] = clock
                    stack.append((other, edge, iter(touching[other])))
                    break
            else:
                stack.pop()
                if not stack:
                    continue
                parent = stack[-1][0]
                low[parent] = min(low[parent], low[node])
                if low[node] >= found[parent]:
                    while True:
                        edge = path.pop()
                        block[edge] = blocks
                        if edge == came_by:
                            break
                    blocks += 1
    return block


def _check(network: Network, number: Mapping[str, int]) -> Invalid | None:
    wrong = _wrong_number(network)
    if wrong is not None:
        return wrong
    if not network.sources:
        return Invalid("a net needs a source", tuple(load.name for load in network.loads))
    twice = _twice([load.name for load in network.loads])
    if twice is None:
        twice = _twice([source_name(network, index) for index in range(len(network.sources))])
    if twice is not None:
        return Invalid("this name is used twice", (twice,))
    edges = [(number[each.plus], number[each.minus]) for each in network.sources]
    edges += [(number[each.a], number[each.b]) for each in network.branches]
    edges += [(number[each.plus], number[each.minus]) for each in network.loads]
    block = _blocks(edges, len(number))
    fed = set(block[: len(network.sources)])
    first_load = len(network.sources) + len(network.branches)
    loose = tuple(load.name for load, its in zip(network.loads, block[first_load:], strict=True) if its not in fed)
    if loose:
        return Invalid("no closed path runs from a source through this load and back", loose)
    return None


# --- linear algebra ---------------------------------------------------------------------------------------


class _Offsets:
    """Nodes joined at fixed voltage differences (weighted union-find)."""

    def __init__(self, nodes: int) -> None:
        self._parent = list(range(nodes))
        self._offset = [0.0] * nodes

    def find(self, node: int) -> tuple[int, float]:
        """The class of a node and the node's voltage above the class's own."""
        offset = 0.0
        while self._parent[node] != node:
            offset += self._offset[node]
            node = self._parent[node]
        return node, offset

    def join(self, a: int, b: int, difference_v: float) -> bool:
        """Fix v_a - v_b; False if it is already fixed at another value."""
        (root_a, offset_a), (root_b, offset_b) = self.find(a), self.find(b)
        if root_a == root_b:
            return abs(offset_a - offset_b - difference_v) <= 1e-9
        self._parent[root_a] = root_b
        self._offset[root_a] = offset_b + difference_v - offset_a
        return True


_Step = tuple[int, float, list[tuple[int, float]]]


class _Conductances:
    """A symmetric conductance network of n nodes and ground: leak to ground, links between nodes."""

    def __init__(self, nodes: int) -> None:
        self.leak = [0.0] * nodes
        self.links: list[dict[int, float]] = [{} for _ in range(nodes)]

    def add(self, a: int, b: int, conductance_s: float) -> None:
        """Between two nodes; a negative node number is ground."""
        if a == b:
            return
        if a < 0 or b < 0:
            self.leak[max(a, b)] += conductance_s
            return
        self.links[a][b] = self.links[a].get(b, 0.0) + conductance_s
        self.links[b][a] = self.links[b].get(a, 0.0) + conductance_s

    def copy(self) -> _Conductances:
        twin = _Conductances(0)
        twin.leak = list(self.leak)
        twin.links = [dict(each) for each in self.links]
        return twin

    def order(self) -> list[int]:
        """Elimination order: always the node with the fewest neighbours left."""
        near = [set(each) for each in self.links]
        heap = [(len(each), node) for node, each in enumerate(near)]
        heapq.heapify(heap)
        done = [False] * len(near)
        result: list[int] = []
        while heap:
            degree, node = heapq.heappop(heap)
            if done[node] or degree != len(near[node]):
                continue
            done[node] = True
            result.append(node)
            mine = near[node]
            for other in mine:
                near[other] |= mine
                near[other] -= {other, node}
                heapq.heappush(heap, (len(near[other]), other))
        return result

    def eliminate(self, order: Sequence[int]) -> list[_Step] | None:
        """Star-mesh elimination in place; None when the matrix is not positive definite."""
        steps: list[_Step] = []
        for node in order:
            star = list(self.links[node].items())
            leak = self.leak[node]
            pivot = leak + math.fsum(g for _, g in star)
            if pivot <= _PIVOT * (abs(leak) + math.fsum(abs(g) for _, g in star)):
                return None
            steps.append((node, pivot, star))
            for index, (a, g_a) in enumerate(star):
                share = g_a / pivot
                links_a = self.links[a]
                del links_a[node]
                self.leak[a] += share * leak
                for b, g_b in star[:index]:
                    mesh = share * g_b
                    links_a[b] = links_a.get(b, 0.0) + mesh
                    links_b = self.links[b]
                    links_b[a] = links_b.get(a, 0.0) + mesh
        return steps


def _substitute(steps: Sequence[_Step], injected_a: Sequence[float]) -> list[float]:
    """Node voltages above ground for currents injected into the nodes."""
    current = list(injected_a)
    for node, pivot, star in steps:
        share = current[node] / pivot
        for other, conductance in star:
            current[other] += share * conductance
    voltage = [0.0] * len(current)
    for node, pivot, star in reversed(steps):
        voltage[node] = current[node] / pivot + math.fsum(g * voltage[other] for other, g in star) / pivot
    return voltage


# --- one state of the sources -----------------------------------------------------------------------------

_State = Literal["on", "off", "limited"]


@dataclass(slots=True)
class _Port:
    """A constant-power load in the reduced net: row numbers of its terminals (-1 is ground) and their fixed
    offset.
    """

    load: ConstantPowerLoad
    plus: int
    minus: int
    offset_v: float

    def voltage(self, row_v: Sequence[float]) -> float:
        plus = row_v[self.plus] if self.plus >= 0 else 0.0
        minus = row_v[self.minus] if self.minus >= 0 else 0.0
        return plus - minus + self.offset_v


@dataclass(slots=True)
class _System:
    """The net reduced to classes of nodes, for one state of its sources."""

    conductances: _Conductances
    injected_a: list[float]
    ports: list[_Port]
    order: list[int]


@dataclass(slots=True)
class _Collapse:
    loads: tuple[str, ...]
    proved: bool


def _inject(row_a: list[float], row: int, current_a: float) -> None:
    if row >= 0:
        row_a[row] += current_a


def _newton_step(system: _System, powers_w: Sequence[float], port_v: Sequence[float]) -> list[float] | None:
    """Row voltages with each constant-power load linearised at its voltage; None when not positive
    definite.
    """
    conductances, injected = system.conductances.copy(), list(system.injected_a)
    for port, power, voltage in zip(system.ports, powers_w, port_v, strict=True):
        slope = power / (voltage * voltage)
        conductances.add(port.plus, port.minus, -slope)
        current = 2 * power / voltage - slope * port.offset_v
        _inject(injected, port.plus, -current)
        _inject(injected, port.minus, current)
    steps = conductances.eliminate(system.order)
    return None if steps is None else _substitute(steps, injected)


def _newton(
    system: _System, powers_w: Sequence[float], start_v: Sequence[float]
) -> tuple[list[float] | None, list[float]]:
    """Row voltages at the upper operating point (None if the iteration breaks) and the last port voltages."""
    scale = max((abs(each) for each in start_v), default=1.0)
    port_v = list(start_v)
    rows: list[float] | None = None
    last = math.inf
    for _ in range(200):
        fresh = _newton_step(system, powers_w, port_v)
        new_v = [] if fresh is None else [port.voltage(fresh) for port in system.ports]
        if fresh is None or min(new_v, default=1.0) <= 0:
            return (rows if last <= _EDGE_STEP * scale else None), new_v or port_v
        last = max((abs(new - old) for new, old in zip(new_v, port_v, strict=True)), default=0.0)
        rows, port_v = fresh, new_v
        if last <= _STEP * scale:
            return rows, port_v
    return (rows if last <= _EDGE_STEP * scale else None), port_v


def _transfer_is_positive(system: _System, steps: Sequence[_Step]) -> bool:
    """Whether a current drawn at any constant-power load lowers the voltage at all of them (no entry of Z
    negative).
    """
    for drawing in system.ports:
        drawn = [0.0] * len(system.injected_a)
        _inject(drawn, drawing.plus, -1.0)
        _inject(drawn, drawing.minus, 1.0)
        rows = _substitute(steps, drawn)
        drops = [port.offset_v - port.voltage(rows) for port in system.ports]
        if min(drops) < -1e-10 * max(drops):
            return False
    return True


def _sunken(system: _System, unloaded_v: Sequence[float], port_v: Sequence[float]) -> tuple[str, ...]:
    """The loads, those that have lost the largest share of their unloaded voltage first."""
    left = sorted(
        (v / e if e > 0 else -math.inf, port.load.name)
        for port, v, e in zip(system.ports, port_v, unloaded_v, strict=True)
    )
    return tuple(name for _, name in left)


def _upper_rows(system: _System) -> list[float] | _Collapse:
    """Row voltages at the upper operating point of the reduced net."""
    steps = system.conductances.copy().eliminate(system.order)
    assert steps is not None, "every row is tied to ground by positive conductances"
    rows = _substitute(steps, system.injected_a)
    if not system.ports:
        return rows
    unloaded = [port.voltage(rows) for port in system.ports]
    if min(unloaded) <= 0:
        dead = tuple(port.load.name for port, v in zip(system.ports, unloaded, strict=True) if v <= 0)
        return _Collapse(dead, _transfer_is_positive(system, steps))
    powers = [port.load.power_w for port in system.ports]
    found, last_v = _newton(system, powers, unloaded)
    if found is not None:
        return found
    if _transfer_is_positive(system, steps):
        return _Collapse(_sunken(system, unloaded, last_v), True)
    share, stride, port_v = 0.0, 0.25, unloaded
    while share < 1:
        attempt = min(1.0, share + stride)
        found, last_v = _newton(system, [attempt * each for each in powers], port_v)
        if found is None:
            stride /= 2
            if stride < 1e-6:
                return _Collapse(_sunken(system, unloaded, port_v), False)
        else:
            share, port_v = attempt, last_v
    assert found is not None
    return found


@dataclass(slots=True)
class _Point:
    node_v: list[float]
    branch_a: list[float]
    source_a: list[float]


def _joint_currents(joints: Sequence[tuple[int, int, int]], net_out_a: Sequence[float], nodes: int) -> dict[int, float]:
    """Current from a to b of each joint (key, a, b), from what the other elements draw out of each node.

    Joints in a ring share as the limit of equal small resistances.
    """
    parent = _Offsets(nodes)
    for _, a, b in joints:
        parent.join(a, b, 0.0)
    row: dict[int, int] = {}
    ground = {parent.find(a)[0] for _, a, _ in joints}
    for _, a, b in joints:
        for node in (a, b):
            if node not in ground and node not in row:
                row[node] = len(row)
    unit = _Conductances(len(row))
    for _, a, b in joints:
        unit.add(row.get(a, -1), row.get(b, -1), 1.0)
    injected = [0.0] * len(row)
    for node, index in row.items():
        injected[index] = -net_out_a[node]
    steps = unit.eliminate(unit.order())
    assert steps is not None, "each joined class has one grounded node"
    level = _substitute(steps, injected)
    return {key: (level[row[a]] if a in row else 0.0) - (level[row[b]] if b in row else 0.0) for key, a, b in joints}


def _solve_state(network: Network, number: Mapping[str, int], states: Sequence[_State]) -> _Point | _Collapse | None:
    """The operating point with every source in the given state; None when the state makes no circuit."""
    nodes = len(number)
    offsets = _Offsets(nodes)
    joints: list[tuple[int, int, int]] = []
    for index, branch in enumerate(network.branches):
        if branch.resistance_ohm < ZERO_OHM:
            a, b = number[branch.a], number[branch.b]
            if not offsets.join(a, b, 0.0):
                return None
            joints.append((index, a, b))
    for index, (source, state) in enumerate(zip(network.sources, states, strict=True)):
        if state == "on" and source.resistance_ohm < ZERO_OHM:
            plus, minus = number[source.plus], number[source.minus]
            if not offsets.join(plus, minus, source.emf_v):
                return None
            # Counted from minus to plus: the way the current runs inside the source.
            joints.append((-1 - index, minus, plus))
    classes = [offsets.find(node) for node in range(nodes)]

    # (node a, node b, conductance, emf): the current from a to b is g (v_a - v_b - emf).
    resistors: list[tuple[int, int, float, float]] = [
        (number[each.a], number[each.b], 1 / each.resistance_ohm, 0.0)
        for each in network.branches
        if each.resistance_ohm >= ZERO_OHM
    ]
    resistors += [
        (number[each.plus], number[each.minus], 1 / each.resistance_ohm, 0.0)
        for each in network.loads
        if isinstance(each, ResistiveLoad)
    ]
    resistors += [
        (number[each.plus], number[each.minus], 1 / each.resistance_ohm, each.emf_v)
        for each, state in zip(network.sources, states, strict=True)
        if state == "on" and each.resistance_ohm >= ZERO_OHM
    ]
    # (node a, node b, current from a to b)
    drains: list[tuple[int, int, float]] = [
        (number[each.plus], number[each.minus], each.current_a)
        for each in network.loads
        if isinstance(each, ConstantCurrentLoad)
    ]
    drains += [
        (number[each.minus], number[each.plus], each.limit_a)
        for each, state in zip(network.sources, states, strict=True)
        if state == "limited" and each.limit_a is not None
    ]
    powers = [each for each in network.loads if isinstance(each, ConstantPowerLoad)]

    parts = _Offsets(nodes)
    for node, (its, _) in enumerate(classes):
        parts.join(node, its, 0.0)
    for a, b, _, _ in resistors:
        parts.join(a, b, 0.0)
    part = [parts.find(node)[0] for node in range(nodes)]
    ends = [(a, b) for a, b, _ in drains] + [(number[each.plus], number[each.minus]) for each in powers]
    if any(part[a] != part[b] for a, b in ends):
        return None
    held = {part[number[s.plus]] for s, state in zip(network.sources, states, strict=True) if state == "on"}
    if any(part[number[each.plus]] not in held for each in network.loads):
        return None

    ground: dict[int, int] = {}
    for source in network.sources:
        minus = number[source.minus]
        ground.setdefault(part[minus], minus)
    for node in range(nodes):
        ground.setdefault(part[node], node)
    grounded = {classes[node][0] for node in ground.values()}
    row: dict[int, int] = {}
    for its, _ in classes:
        if its not in grounded and its not in row:
            row[its] = len(row)
    at = [row.get(its, -1) for its, _ in classes]

    conductances, injected = _Conductances(len(row)), [0.0] * len(row)
    for a, b, conductance, emf in resistors:
        conductances.add(at[a], at[b], conductance)
        pushed = conductance * (emf - classes[a][1] + classes[b][1])
        _inject(injected, at[a], pushed)
        _inject(injected, at[b], -pushed)
    for a, b, current in drains:
        _inject(injected, at[a], -current)
        _inject(injected, at[b], current)
    ports = [
        _Port(each, at[p], at[m], classes[p][1] - classes[m][1])
        for each, p, m in ((each, number[each.plus], number[each.minus]) for each in powers)
    ]
    shape = conductances.copy()
    for port in ports:
        shape.add(port.plus, port.minus, 1.0)
    rows = _upper_rows(_System(conductances, injected, ports, shape.order()))
    if isinstance(rows, _Collapse):
        return rows

    node_v = [(rows[r] if r >= 0 else 0.0) + offset for r, (_, offset) in zip(at, classes, strict=True)]
    zero = {key: node_v[node] for key, node in ground.items()}
    node_v = [v - zero[part[node]] for node, v in enumerate(node_v)]

    # A billionth of the source voltage is rounding of zero: a current sink there is not being fed.
    nothing_v = 1e-9 * max(each.voltage_v for each in network.sources)
    starved = tuple(
        each.name
        for each in network.loads
        if not isinstance(each, ResistiveLoad) and node_v[number[each.plus]] - node_v[number[each.minus]] <= nothing_v
    )
    if starved:
        # Without constant-power loads the net is linear and this point the only one.
        return _Collapse(starved, not powers)
    return _with_currents(network, number, states, node_v, joints)


def _with_currents(
    network: Network,
    number: Mapping[str, int],
    states: Sequence[_State],
    node_v: list[float],
    joints: Sequence[tuple[int, int, int]],
) -> _Point:
    out = [0.0] * len(node_v)

    def draw(a: int, b: int, current_a: float) -> float:
        out[a] += current_a
        out[b] -= current_a
        return current_a

    branch_a = [0.0] * len(network.branches)
    for index, branch in enumerate(network.branches):
        if branch.resistance_ohm >= ZERO_OHM:
            a, b = number[branch.a], number[branch.b]
            branch_a[index] = draw(a, b, (node_v[a] - node_v[b]) / branch.resistance_ohm)
    for load in network.loads:
        plus, minus = number[load.plus], number[load.minus]
        draw(plus, minus, _load_current(load, node_v[plus] - node_v[minus]))
    source_a = [0.0] * len(network.sources)
    for index, (source, state) in enumerate(zip(network.sources, states, strict=True)):
        plus, minus = number[source.plus], number[source.minus]
        if state == "limited" and source.limit_a is not None:
            source_a[index] = draw(minus, plus, source.limit_a)
        elif state == "on" and source.resistance_ohm >= ZERO_OHM:
            given = (source.emf_v - node_v[plus] + node_v[minus]) / source.resistance_ohm
            source_a[index] = draw(minus, plus, given)
    if joints:
        for key, current in _joint_currents(joints, out, len(node_v)).items():
            if key >= 0:
                branch_a[key] = current
            else:
                source_a[-1 - key] = current
    return _Point(node_v, branch_a, source_a)


def _load_current(load: Load, voltage_v: float) -> float:
    match load:
        case ResistiveLoad():
            return voltage_v / load.resistance_ohm
        case ConstantCurrentLoad():
            return load.current_a
        case ConstantPowerLoad():
            return load.power_w / voltage_v


# --- states of the sources --------------------------------------------------------------------------------


def _corrected(network: Network, number: Mapping[str, int], states: Sequence[_State], point: _Point) -> list[_State]:
    """The states with every source moved to the one its own voltage and current ask for."""
    result: list[_State] = list(states)
    for index, source in enumerate(network.sources):
        current = point.source_a[index]
        across = point.node_v[number[source.plus]] - point.node_v[number[source.minus]]
        margin_v = 1e-9 * source.voltage_v
        if states[index] == "on":
            # Rounding of a current that is a difference of volts over a small resistance.
            margin_a = 1e-9 * (1 + abs(current))
            if source.one_way and current < -margin_a:
                result[index] = "off"
            elif source.limit_a is not None and current > source.limit_a + margin_a:
                result[index] = "limited"
            continue
        # Off it would still give a little, limited it would no longer reach its limit: back to a voltage
        # source.
        given_a = source.limit_a or 0.0 if states[index] == "limited" else 0.0
        spare_v = source.emf_v - source.resistance_ohm * given_a - across
        if (spare_v > margin_v) if states[index] == "off" else (spare_v < -margin_v):
            result[index] = "on"
    return result


def _all_on(network: Network) -> tuple[_State, ...]:
    on: _State = "on"
    return (on,) * len(network.sources)


def _choices(source: Source) -> tuple[_State, ...]:
    choices: list[_State] = ["on"]
    if source.limit_a is not None:
        choices.append("limited")
    if source.one_way:
        choices.append("off")
    return tuple(choices)


def _consistent(
    network: Network, number: Mapping[str, int]
) -> tuple[_Point, tuple[_State, ...]] | NoOperatingPoint | Invalid:
    states = _all_on(network)
    tried: dict[tuple[_State, ...], _Point | _Collapse | None] = {}
    overload: NoOperatingPoint | None = None
    while states not in tried:
        outcome = tried[states] = _solve_state(network, number, states)
        if not isinstance(outcome, _Point):
            break
        wanted = tuple(_corrected(network, number, states, outcome))
        if wanted == states:
            return outcome, states
        for index, source in enumerate(network.sources):
            if overload is None and wanted[index] == "limited" and source.limit_a is not None:
                demand = outcome.source_a[index]
                name = source_name(network, index)
                reason = f"{name} would have to give {demand:.4g} A and gives at most {source.limit_a:.4g} A"
                overload = NoOperatingPoint("limit", reason, (name,), True, demand, source.limit_a)
        states = wanted
    choices = [_choices(each) for each in network.sources]
    searched = sum(len(each) > 1 for each in choices) <= _MOST_SWITCHED_SOURCES
    for choice in product(*choices) if searched else ():
        outcome = tried[choice] if choice in tried else _solve_state(network, number, choice)
        tried[choice] = outcome
        if isinstance(outcome, _Point) and tuple(_corrected(network, number, choice, outcome)) == choice:
            return outcome, choice
    collapses = [each for each in tried.values() if isinstance(each, _Collapse)]
    proved = searched and all(each.proved for each in collapses)
    if overload is not None:
        return replace(overload, proved=proved)
    if collapses:
        loads = collapses[0].loads
        reason = "the loads draw more than the wiring can carry at any voltage"
        return NoOperatingPoint("collapse", reason, loads, proved)
    if not any(isinstance(each, _Point) for each in tried.values()):
        names = tuple(source_name(network, index) for index in range(len(network.sources)))
        return Invalid(_why_no_circuit(network, number), names)
    return NoOperatingPoint("collapse", "no state of the sources is consistent", (), False)


def _why_no_circuit(network: Network, number: Mapping[str, int]) -> str:
    offsets = _Offsets(len(number))
    for branch in network.branches:
        if branch.resistance_ohm < ZERO_OHM:
            offsets.join(number[branch.a], number[branch.b], 0.0)
    for source in network.sources:
        if source.resistance_ohm < ZERO_OHM and not offsets.join(
            number[source.plus], number[source.minus], source.emf_v
        ):
            return "a source without inner resistance is shorted, or two such sources in parallel differ in voltage"
    return "a node is reached only through constant-current or constant-power loads, so its voltage is not determined"


def solve(network: Network) -> Solution | NoOperatingPoint | Invalid:
    """The upper operating point of a net, or that there is none, or why it is not a circuit. Never raises.

    Zero-ohm branches are joints. A load of zero (no current, no power) is not a load: leave it out.
    """
    number: dict[str, int] = {}
    for source in network.sources:
        number.setdefault(source.minus, len(number))
        number.setdefault(source.plus, len(number))
    for branch in network.branches:
        number.setdefault(branch.a, len(number))
        number.setdefault(branch.b, len(number))
    for load in network.loads:
        number.setdefault(load.plus, len(number))
        number.setdefault(load.minus, len(number))
    wrong = _check(network, number)
    if wrong is not None:
        return wrong
    shorted = _shorted_load(network, number)
    if shorted is not None:
        return shorted
    found = _consistent(network, number)
    if isinstance(found, NoOperatingPoint | Invalid):
        return found
    point, states = found
    across = {each.name: point.node_v[number[each.plus]] - point.node_v[number[each.minus]] for each in network.loads}
    names = [source_name(network, index) for index in range(len(network.sources))]
    return Solution(
        node_voltages_v={name: point.node_v[index] for name, index in number.items()},
        branch_currents_a=tuple(point.branch_a),
        load_voltages_v=across,
        load_currents_a={each.name: _load_current(each, across[each.name]) for each in network.loads},
        source_currents_a=dict(zip(names, point.source_a, strict=True)),
        source_states=dict(zip(names, states, strict=True)),
        below_minimum=tuple(
            each.name
            for each in network.loads
            if isinstance(each, ConstantPowerLoad) and across[each.name] < each.minimum_v
        ),
    )


def _shorted_load(network: Network, number: Mapping[str, int]) -> Invalid | None:
    joined = _Offsets(len(number))
    for branch in network.branches:
        if branch.resistance_ohm < ZERO_OHM:
            joined.join(number[branch.a], number[branch.b], 0.0)
    for load in network.loads:
        if joined.find(number[load.plus])[0] == joined.find(number[load.minus])[0]:
            return Invalid("the terminals of this load are joined without resistance", (load.name,))
    return None


def loading_limit(network: Network, most: float = 16.0, tolerance: float = 1e-6) -> float | NoOperatingPoint | Invalid:
    """By what factor all constant-power loads may grow together before the operating point vanishes, at
    most `most`.

    Below 1 the net collapses as described. Bisection: with growing powers an operating point, once lost,
    does not come back. NoOperatingPoint or Invalid when the net fails without any constant-power load.
    """

    def scaled(factor: float) -> Solution | NoOperatingPoint | Invalid:
        loads = tuple(
            replace(each, power_w=each.power_w * factor) if isinstance(each, ConstantPowerLoad) else each
            for each in network.loads
        )
        return solve(replace(network, loads=loads))

    full = solve(network)
    if isinstance(full, Invalid):
        return full
    low, high = (1.0, most) if isinstance(full, Solution) else (tolerance / 10, 1.0)
    lowest = full if low == 1.0 else scaled(low)
    if not isinstance(lowest, Solution):
        return lowest
    if low == 1.0 and isinstance(scaled(high), Solution):
        return high
    while high - low > tolerance * high:
        middle = (low + high) / 2
        if isinstance(scaled(middle), Solution):
            low = middle
        else:
            high = middle
    return low


# --- worst case -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst outcome over a box of parameters.

    value: the objective there, or None when a corner has no operating point (outcome says which). corner:
    the parameters there. dominating: the parameter whose move alone from nominal to its worst value costs
    most. sensitivities: that
    move's change of the objective for each parameter, None where the move alone ends every operating point.
    method: "corners" (all evaluated), "directions" (each parameter's direction found and confirmed at the
    end) or "inside" (a point inside the box was worse than every corner: the objective is not monotone).
    """

    value: float | None
    corner: Mapping[str, float]
    dominating: str
    sensitivities: Mapping[str, float | None]
    nominal_value: float | None
    outcome: Solution | NoOperatingPoint
    method: Literal["corners", "directions", "inside"]


class _Unsolvable(Exception):  # noqa: N818 - carries an outcome out of nested evaluation, not an error of ours
    def __init__(self, invalid: Invalid) -> None:
        super().__init__(invalid.reason)
        self.invalid = invalid


class _Evaluation:
    """Cost (higher is worse, infinite without an operating point) of parameter values, each computed once."""

    def __init__(
        self,
        build: Callable[[Mapping[str, float]], Network],
        objective: Callable[[Solution], float],
        sign: float,
    ) -> None:
        self._build, self._objective, self._sign = build, objective, sign
        self._known: dict[tuple[float, ...], tuple[float, Solution | NoOperatingPoint]] = {}

    def __call__(self, values: Mapping[str, float]) -> float:
        return self.outcome(values)[0]

    def outcome(self, values: Mapping[str, float]) -> tuple[float, Solution | NoOperatingPoint]:
        key = tuple(values.values())
        if key not in self._known:
            solved = solve(self._build(values))
            if isinstance(solved, Invalid):
                raise _Unsolvable(solved)
            cost = math.inf
            if isinstance(solved, Solution):
                cost = self._sign * self._objective(solved)
                if not math.isfinite(cost):
                    raise _Unsolvable(Invalid("the objective is not a finite number", ()))
            self._known[key] = cost, solved
        return self._known[key]


def worst_case(
    build: Callable[[Mapping[str, float]], Network],
    parameters: Mapping[str, tuple[float, float]],
    objective: Callable[[Solution], float],
    *,
    nominal: Mapping[str, float] | None = None,
    worst: Literal["lowest", "highest"] = "lowest",
    all_corners_up_to: int = 10,
) -> Worst | Invalid:
    """The worst objective (lowest by default) of the nets that build makes from parameters within (low,
    high).

    In a net without constant-power loads the response to one resistance, source voltage or load current is
    a quotient of two linear functions without a pole, hence monotone in that parameter; a function monotone
    in each parameter by itself takes its extremes at corners of the box. Up to all_corners_up_to parameters
    every corner is evaluated; beyond that, each parameter's direction is taken from one-at-a-time
    differences at nominal and confirmed by flipping each parameter at the corner found, until no flip is
    worse. One parameter in several elements (a temperature) may in principle break the monotony, so points
    inside the box along each edge from the corner and half-way to nominal are tried as well.

    A corner without an operating point is the worst outcome and ends the search. nominal: the mid-point
    unless given. Invalid for an invalid net anywhere, an empty or not finite interval, or an objective that
    is not a number.
    """
    sign = -1.0 if worst == "lowest" else 1.0
    for name, (low, high) in parameters.items():
        if not (_is_number(low) and _is_number(high) and low <= high):
            return Invalid(f"an interval needs two finite numbers, low first, got {low!r} and {high!r}", (name,))
    middle = {name: (low + high) / 2 for name, (low, high) in parameters.items()}
    centre = {name: float((nominal or {}).get(name, middle[name])) for name in parameters}
    outside = tuple(name for name, (low, high) in parameters.items() if not low <= centre[name] <= high)
    if outside:
        return Invalid("the nominal value lies outside its interval", outside)
    cost = _Evaluation(build, objective, sign)
    try:
        return _search(cost, parameters, centre, sign, all_corners_up_to)
    except _Unsolvable as stop:
        return stop.invalid


def _search(
    cost: _Evaluation,
    parameters: Mapping[str, tuple[float, float]],
    centre: Mapping[str, float],
    sign: float,
    all_corners_up_to: int,
) -> Worst:
    at_centre = cost(centre)
    free = [name for name, (low, high) in parameters.items() if low < high]
    method: Literal["corners", "directions", "inside"]
    if len(free) <= all_corners_up_to:
        method = "corners"
        corner = _all_corners(cost, parameters, free)
    else:
        method = "directions"
        corner = _by_directions(cost, parameters, centre, free)
    inside = _inside(cost, parameters, centre, corner, free)
    if inside is not None:
        method, corner = "inside", inside
    value, outcome = cost.outcome(corner)
    changes: dict[str, float | None] = {}
    losses: dict[str, float] = {}
    for name in parameters:
        moved = cost({**centre, name: corner[name]})
        losses[name] = moved - at_centre if math.isfinite(at_centre) else 0.0
        changes[name] = sign * losses[name] if math.isfinite(moved) and math.isfinite(at_centre) else None
    return Worst(
        value=sign * value if math.isfinite(value) else None,
        corner=corner,
        dominating=max(losses, key=lambda name: losses[name], default=""),
        sensitivities=changes,
        nominal_value=sign * at_centre if math.isfinite(at_centre) else None,
        outcome=outcome,
        method=method,
    )


def _all_corners(
    cost: _Evaluation, parameters: Mapping[str, tuple[float, float]], free: Sequence[str]
) -> dict[str, float]:
    fixed = {name: float(low) for name, (low, _) in parameters.items()}
    best, best_cost = fixed, -math.inf
    for choice in product(*(parameters[name] for name in free)):
        corner = {**fixed, **dict(zip(free, map(float, choice), strict=True))}
        its = cost(corner)
        if its > best_cost:
            best, best_cost = corner, its
            if its == math.inf:
                break
    return best


def _by_directions(
    cost: _Evaluation,
    parameters: Mapping[str, tuple[float, float]],
    centre: Mapping[str, float],
    free: Sequence[str],
) -> dict[str, float]:
    corner = {name: float(low) for name, (low, _) in parameters.items()}
    for name in free:
        low, high = parameters[name]
        if cost({**centre, name: float(high)}) > cost({**centre, name: float(low)}):
            corner[name] = float(high)
    settled = False
    while not settled:
        settled = True
        for name in free:
            low, high = parameters[name]
            flipped = {**corner, name: float(low if corner[name] == high else high)}
            if cost(flipped) > cost(corner):
                corner, settled = flipped, False
    return corner


def _inside(
    cost: _Evaluation,
    parameters: Mapping[str, tuple[float, float]],
    centre: Mapping[str, float],
    corner: Mapping[str, float],
    free: Sequence[str],
) -> dict[str, float] | None:
    """A point inside the box that is worse than the corner, improved by coordinate search; None if there is
    none.
    """
    best, best_cost = dict(corner), cost(corner)
    if best_cost == math.inf:
        return None
    allowance = 1e-9 * (1 + abs(best_cost))
    tries = [{name: (corner[name] + centre[name]) / 2 for name in corner}, dict(centre)]
    for name in free:
        low, high = parameters[name]
        tries += [{**corner, name: low + share * (high - low)} for share in (0.25, 0.5, 0.75)]
    worst = max(tries, key=cost)
    if cost(worst) <= best_cost + allowance:
        return None
    best, best_cost = worst, cost(worst)
    width = 0.25
    while width > 1e-6 and best_cost < math.inf:
        moves = []
        for name in free:
            low, high = parameters[name]
            for step in (-width, width):
                moves.append({**best, name: min(high, max(low, best[name] + step * (high - low)))})
        candidate = max(moves, key=cost)
        if cost(candidate) > best_cost:
            best, best_cost = candidate, cost(candidate)
        else:
            width /= 2
    return best
