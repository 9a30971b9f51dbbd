"""What carries a coil's current on after its contact has opened, and so how long the lock takes to let go.

Everything that conducts across the coil behind the opening contact counts: a part fitted at the lock, one built
into the lock or the output, a rectifier in front of the coil, the parts of other locks on the same contact, and
plain loads in parallel. Of parts in parallel the one that conducts at the lowest voltage carries the current:
v(i) = min(Vc, i x R), with Vc the lowest clamp voltage and R the parallel resistance of the loads.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from ..outcome import Measure, Place, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Maybe, Undecided, known
from ..spec.model import Battery, Coil, Contact, Item, Output, PowerSource, Product, Suppression, Suppressor
from .coils import BRIDGE_DROP_V, SUPPRESSOR_KINDS, Decay, current_fraction_for_force, stored_energy_j
from .contacts import PRACTICE_DROP_OUT_FRACTION, drop_out_current_a
from .demand import nominal, own_current, source_voltage
from .feeds import ContactUse, Feed, Terminal, Wiring
from .voltages import root_of

MAGNET_KINDS: Final = frozenset({"electromagnetic_lock", "shear_lock"})
"""Products that hold a door by an electromagnet; with `mechanism: magnet` others do too."""

MAGNET_RELEASE_FRACTION: Final = current_fraction_for_force(0.05, 1.0)
"""Share of the holding current at which a magnet has lost 95 percent of its force (force as the square of the
current); common practice, no source, where the sheet gives no `release_fraction`."""

SLOW_CLAMP_V: Final = 2.5
"""Up to this voltage a part counts as a freewheel: diode, bridge, and their spread."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Feeds behind one switch that are alike in product, setting and suppression: one of them, and how many."""

    feed: Feed
    count: int


@dataclass(frozen=True, slots=True)
class Opener:
    """A switch that interrupts the feed of a coil: a contact, or a switched output.

    part: its figures. place: where the item names it. behind: all feeds behind the same switch, the coil's own too.
    use: the contact as the item uses it; None for an output.
    """

    label: str
    identity: str
    part: Output | Contact
    place: Place
    behind: tuple[Alike, ...] = ()
    use: ContactUse | None = None

    @property
    def solid_state(self) -> bool:
        """Whether a semiconductor does the switching."""
        return self.part.switch == "solid_state"


@dataclass(frozen=True, slots=True)
class SwitchedCoil:
    """A coil with its feed, and what of all switches of the spec can interrupt it."""

    feed: Feed
    coil: Coil
    _switches: Switches = field(compare=False, repr=False)

    @property
    def openers(self) -> tuple[Opener, ...]:
        """Every switch that can interrupt it; empty where it is never switched."""
        return self._switches.openers(self.feed)

    @property
    def identity(self) -> str:
        """The item's identity."""
        return self.feed.identity

    @property
    def place(self) -> Place:
        """Where the feed stands."""
        return self.feed.place

    @property
    def item(self) -> Item:
        """The item that the coil is in."""
        return self.feed.item


@dataclass(frozen=True, slots=True)
class Path:
    """One way for the coil's current after the contact has opened.

    kind: a kind of `SUPPRESSOR_KINDS`, or "load". low_v, high_v: clamp voltage, V (None where it has no fixed or no
    known one). ohm: resistance of a resistor or a load, else 0.
    """

    label: str
    kind: str
    place: Place
    low_v: float | None = None
    high_v: float | None = None
    ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class Paths:
    """All ways for the current, and what is not known about further ones."""

    found: tuple[Path, ...]
    gaps: tuple[Undecided, ...] = ()

    @property
    def clamp_v(self) -> float | None:
        """The lowest clamp voltage; None where no part has a fixed one."""
        return min((path.low_v for path in self.found if path.low_v is not None), default=None)

    @property
    def parallel_ohm(self) -> float | None:
        """The loads and resistors in parallel, as one resistance; None where there is none."""
        conductance = sum(1 / path.ohm for path in self.found if path.ohm > 0)
        return 1 / conductance if conductance > 0 else None

    def opposing_v(self, current_a: float) -> float | None:
        """The voltage that opposes the current, min(Vc, i x R); None where nothing carries it on."""
        load = self.parallel_ohm
        ways = [v for v in (self.clamp_v, None if load is None else current_a * load) if v is not None]
        return min(ways, default=None)

    def settled(self, current_a: float) -> tuple[Path, float] | None:
        """The way that takes over at this current, and the voltage that opposes it; None where there is no way.

        Raises the first gap where what is not known could be slower than what is known.
        """
        volts = self.opposing_v(current_a)
        if self.gaps and (volts is None or volts > SLOW_CLAMP_V):
            raise self.gaps[0]
        if volts is None:
            return None
        clamping = [path for path in self.found if path.low_v == volts]
        return (clamping[0] if clamping else min(self._loads(), key=lambda path: path.ohm)), volts

    def _loads(self) -> list[Path]:
        return [path for path in self.found if path.ohm > 0]


def switched_coils(wiring: Wiring) -> tuple[SwitchedCoil, ...]:
    """Every coil of the spec with what can interrupt it."""
    switches = Switches(wiring)
    return tuple(SwitchedCoil(feed, feed.load, switches) for feed in wiring.feeds if isinstance(feed.load, Coil))


class Switches:
    """What can interrupt the coils of a wiring, found out when it is first asked for."""

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        self._behind: dict[str, tuple[Alike, ...]] = {}
        self._openers: dict[int, tuple[Opener, ...]] = {}

    @cached_property
    def _loaded(self) -> dict[str, tuple[Feed, ...]]:
        """The feeds behind each contact and output."""
        found = {contact.identity: contact.feeds for contact in self._wiring.contacts}
        return found | {output.identity: output.feeds for output in self._wiring.outputs}

    def openers(self, feed: Feed) -> tuple[Opener, ...]:
        """Every switch that can interrupt a feed of the wiring."""
        found = self._openers.get(id(feed))
        if found is None:
            found = self._openers[id(feed)] = tuple(self._found(feed))
        return found

    def behind(self, identity: str) -> tuple[Alike, ...]:
        """The loads behind a contact or an output."""
        found = self._behind.get(identity)
        if found is None:
            found = self._behind[identity] = _alike(self._loaded[identity])
        return found

    def _found(self, feed: Feed) -> Iterator[Opener]:
        terminal: Terminal = feed.terminal
        if terminal.output.switch in ("relay", "solid_state"):
            name = terminal.identity
            yield Opener(terminal.label, name, terminal.output, feed.place, self.behind(name))
        for use in feed.contacts:
            owner = use.owner.name if isinstance(use.owner, Item) else use.owner.id
            yield Opener(f"{owner}.{use.name}", use.identity, use.contact, use.place, self.behind(use.identity), use)


def _alike(feeds: Iterable[Feed]) -> tuple[Alike, ...]:
    """Counted, not listed: a contact may serve the locks of a whole building."""
    first: dict[_Likeness, Feed] = {}
    counts: Counter[_Likeness] = Counter()
    for feed in feeds:
        likeness = _likeness(feed)
        first.setdefault(likeness, feed)
        counts[likeness] += 1
    return tuple(Alike(feed, counts[key]) for key, feed in first.items())


_Likeness = tuple[int, str, str, tuple[str, ...]]


def _likeness(feed: Feed) -> _Likeness:
    item = feed.item
    fitted = tuple(str(one.product) for one in item.suppression)
    return id(item.sheet), feed.supply, str(item.coil_setting), fitted


def is_magnet(item: Item) -> bool:
    """Whether the item holds by an electromagnet whose force stays as long as its current."""
    sheet = item.sheet
    return sheet is not None and (sheet.kind in MAGNET_KINDS or sheet.mechanism == "magnet")


def coil_ohm(coil: Coil) -> float:
    """Resistance of the winding. Raises Undecided where neither it nor rated voltage and current are known."""
    if isinstance(coil.resistance, Quantity):
        return _above_zero(coil, "resistance")
    volts = nominal(known(coil, "voltage", Band))
    if volts <= 0:
        raise Undecided("voltage", coil.at("voltage"), stated=True)
    return float(volts) / _above_zero(coil, "current")


def holding_current_a(switched: SwitchedCoil) -> float:
    """The highest current at which the contact may open: highest source voltage over winding resistance.

    On AC, or behind a rectifier fed with AC, the rated current. The line's resistance is left out: it only lowers
    the current.
    """
    if switched.feed.terminal.supply == "ac":
        return _above_zero(switched.coil, "current")
    return highest_source(switched.feed)[0] / coil_ohm(switched.coil)


def highest_source(feed: Feed) -> tuple[float, Term]:
    """The highest voltage of what feeds a coil, V, with where it was read: the top of the source's band, or the
    float voltage of a battery that the loads see. Raises Undecided where it is not known."""
    terminal = root_of(feed.terminal)
    band = source_voltage(terminal)
    highest, term = band.high, Term(terminal.label, band.text, terminal.output.at("voltage"))
    battery = terminal.owner.battery if isinstance(terminal.owner, PowerSource) else None
    if isinstance(battery, Battery) and battery.regulated is not True:
        floating = battery.float_voltage
        if isinstance(floating, Quantity) and floating.value > highest:
            highest = floating.value
            term = Term(f"float voltage of {terminal.label}", floating.text, battery.at("float_voltage"))
    if highest <= 0:
        raise Undecided("voltage", terminal.output.at("voltage"), stated=True)
    return float(highest), term


def drop_out(switched: SwitchedCoil) -> tuple[float, str, Place]:
    """The current below which the armature surely lets go, A; the ground; the place of the figure."""
    coil = switched.coil
    if coil.drop_out_current is not None:
        return _above_zero(coil, "drop_out_current"), "drop-out current of the sheet", coil.at("drop_out_current")
    share = f"{PRACTICE_DROP_OUT_FRACTION:g} of the holding current (common practice)"
    return drop_out_current_a(_above_zero(coil, "current")), share, coil.at("current")


def letting_go(switched: SwitchedCoil) -> tuple[float, str, Place]:
    """The current below which the lock lets a person through, A; the ground; the place of the figure."""
    coil = switched.coil
    if coil.release_fraction is not None:
        fraction = _above_zero(coil, "release_fraction")
        rated = _above_zero(coil, "current")
        return fraction * rated, f"{fraction:.3g} of the holding current by its sheet", coil.at("release_fraction")
    if coil.drop_out_current is not None or not is_magnet(switched.item):
        return drop_out(switched)
    share = f"{MAGNET_RELEASE_FRACTION:.3g} of the holding current, 5 percent of the force (common practice)"
    return MAGNET_RELEASE_FRACTION * _above_zero(coil, "current"), share, coil.at("current")


def _above_zero(coil: Coil, name: str) -> float:
    value = known(coil, name, Quantity).value
    if value <= 0:
        raise Undecided(name, coil.at(name), stated=True)
    return float(value)


def paths(switched: SwitchedCoil, opener: Opener | None = None) -> Paths:
    """Every way for the current after `opener` has opened (None: what is across the coil itself)."""
    highest = _known_source(switched.feed)
    found: list[Path] = []
    gaps: list[Undecided] = []
    _across(switched.feed, highest, found, gaps, own=True)
    if opener is not None:
        _built_in(opener.part, f"built into {opener.label}", highest, found, gaps, needed=False)
        mine = _likeness(switched.feed)
        for alike in opener.behind:
            count = alike.count - (_likeness(alike.feed) == mine)
            if count:
                _across(alike.feed, highest, found, gaps, own=False)
                _as_load(switched, alike.feed, count, found, gaps)
    return Paths(tuple(found), tuple(gaps))


def _known_source(feed: Feed) -> float | None:
    try:
        return highest_source(feed)[0]
    except Undecided:
        return None


def _across(feed: Feed, highest: float | None, found: list[Path], gaps: list[Undecided], *, own: bool) -> None:
    """The suppressors across the coil of a feed, and where it is the coil's own, its rectifier."""
    item, coil = feed.item, feed.coil
    if coil is None:
        return
    if own and coil.rectifier is True:
        bridge = SUPPRESSOR_KINDS["bridge"]
        found.append(
            Path(f"the rectifier in {item.name}", "bridge", coil.at("rectifier"), BRIDGE_DROP_V, bridge.high_v)
        )
    elif own and coil.rectifier is UNKNOWN:
        gaps.append(Undecided("rectifier", coil.at("rectifier"), stated=True))
    if item.suppression_unknown and not item.suppression:
        gaps.append(Undecided("suppression", item.at("suppression"), stated=True))
    for fitted in item.suppression:
        try:
            found.append(_fitted(fitted, item, highest))
        except Undecided as gap:
            gaps.append(gap)
    # a rectifier in another lock lets this coil's current through that lock's coil alone: see _as_load
    if own or not (coil.rectifier is True or coil.built_in_suppression == "bridge"):
        _built_in(coil, f"built into {item.name}", highest, found, gaps, needed=own)


def _fitted(fitted: Suppression, item: Item, highest: float | None) -> Path:
    label = f"{fitted.product} at {item.name}"
    if not isinstance(fitted.fitted, Product):
        raise Undecided("product", fitted.at("product"), stated=fitted.product is not None)
    part = known(fitted.fitted, "suppressor", Suppressor)
    word = known(part, "type", str)
    if word == "resistor":
        ohm = float(known(part, "resistance", Quantity).value)
        if ohm <= 0:
            raise Undecided("resistance", part.at("resistance"), stated=True)
        return Path(label, "resistor", part.at("resistance"), ohm=ohm)
    return _clamping(label, word, part.at("type"), highest, part)


def _built_in(
    part: Coil | Output | Contact,
    label: str,
    highest: float | None,
    found: list[Path],
    gaps: list[Undecided],
    *,
    needed: bool,
) -> None:
    """A built-in suppressor. With `needed`, one that is not described is a gap."""
    word = part.built_in_suppression
    place = part.at("built_in_suppression")
    if word is None or word is UNKNOWN or word == "yes":
        if needed or word is not None:
            gaps.append(Undecided("built_in_suppression", place, stated=word is not None))
    elif word != "none":
        found.append(_clamping(f"the {str(word).replace('_', ' ')} {label}", str(word), place, highest))


def _clamping(label: str, word: str, place: Place, highest: float | None, part: Suppressor | None = None) -> Path:
    """A part with a clamp voltage. Where its voltages are not stated it is taken to stand off just the supply: the
    lowest clamp voltage that can work, so the slowest release; its highest one is then not known."""
    kind = SUPPRESSOR_KINDS[word]
    stand_off, stated = _voltage(part, "stand_off"), _voltage(part, "clamp")
    try:
        clamp = kind.clamp(stand_off, stated)
    except ValueError:
        assert part is not None
        raise Undecided("clamp", part.at("clamp"), stated=True) from None
    if clamp is not None:
        return Path(label, kind.name, place, clamp.low_v, clamp.high_v)
    if kind.needs_stand_off and highest is not None and highest > 0:
        least = kind.clamp(highest)
        return Path(label, kind.name, place, None if least is None else least.low_v)
    return Path(label, kind.name, place)


def _voltage(part: Suppressor | None, name: str) -> float | None:
    value: Maybe[Quantity] = getattr(part, name) if part is not None else None
    return float(value.value) if isinstance(value, Quantity) and value.value > 0 else None


def _as_load(switched: SwitchedCoil, other: Feed, count: int, found: list[Path], gaps: list[Undecided]) -> None:
    """`count` loads in parallel, as the resistance of their rated voltage and current.

    An equal coil is left out: both drive the same current the same way, so neither can feed the other.
    """
    if other.coil is not None and other.coil == switched.coil:
        return
    load = other.load
    place = load.at("current")
    try:
        if isinstance(load, Coil):
            ohm = coil_ohm(load)
        else:
            volts = float(nominal(known(load, "voltage", Band)))
            amperes = float(own_current(other))
            if amperes <= 0:
                return
            ohm = volts / amperes
    except Undecided as gap:
        gaps.append(gap)
        return
    if ohm > 0:
        label = other.item.name if count == 1 else f"{count} loads like {other.item.name}"
        found.append(Path(f"{label} in parallel", "load", place, ohm=ohm / count))


@dataclass(frozen=True, slots=True)
class Release:
    """How a coil lets go after one switch has opened. SI units; times are the electrical part alone.

    path: the way that takes the current at first. electrical_s: until the current has fallen from
    `initial_a` to `threshold_a`. energy_j: in the coil when the switch opens.
    """

    opener: Opener | None
    path: Path
    initial_a: float
    threshold_a: float
    electrical_s: float
    energy_j: float
    working: tuple[Step, ...]


def decay_time_s(
    inductance_h: float,
    resistance_ohm: float,
    initial_a: float,
    threshold_a: float,
    clamp_v: float | None,
    parallel_ohm: float | None,
) -> float:
    """Time until a coil's current has fallen from `initial_a` to `threshold_a` into v(i) = min(Vc, i R).

    `clamp_v` None: no clamp; `parallel_ohm` None: no load in parallel. ValueError where there is neither.
    The clamp carries the current above Vc / R, the load below it; each part has its closed form.
    """
    if clamp_v is None and parallel_ohm is None:
        raise ValueError("nothing carries the current: give a clamp voltage or a parallel resistance")
    if threshold_a >= initial_a:
        return 0.0
    if parallel_ohm is None:
        assert clamp_v is not None
        return Decay(inductance_h, resistance_ohm, initial_a, clamp_v).time_to_fraction_s(threshold_a / initial_a)
    knee = initial_a if clamp_v is None else min(clamp_v / parallel_ohm, initial_a)
    time, here = 0.0, initial_a
    if clamp_v is not None and knee < initial_a:
        here = max(knee, threshold_a)
        time = Decay(inductance_h, resistance_ohm, initial_a, clamp_v).time_to_fraction_s(here / initial_a)
    if here > threshold_a:
        tail = Decay(inductance_h, resistance_ohm, here, 0.0, parallel_ohm)
        time += tail.time_to_fraction_s(threshold_a / here)
    return time


def release(switched: SwitchedCoil, opener: Opener | None) -> Release | None:
    """The release of a coil after `opener` has opened; None where nothing carries the current on.

    Raises Undecided where the inductance, or what could slow the release down, is not known.
    """
    coil = switched.coil
    initial = holding_current_a(switched)
    ways = paths(switched, opener)
    settled = ways.settled(initial)
    if settled is None:
        return None
    path, opposing = settled
    inductance = _above_zero(coil, "inductance")
    winding = coil_ohm(coil)
    threshold, ground, at = letting_go(switched)
    time = decay_time_s(inductance, winding, initial, threshold, ways.clamp_v, ways.parallel_ohm)
    formula = "(L/R) ln((I0 + Vc/R) / (Ir + Vc/R))"
    if path.ohm > 0:
        formula = "(L/(R + Rp)) ln(I0 / Ir), Vc = I0 x Rp at first"
    steps = (
        _current_step(switched, initial),
        Step("current at which it lets go, Ir", ground, Measure(threshold, "current"), (Term("figure", ground, at),)),
        Step(
            "voltage that opposes the current at first, Vc",
            f"lowest of what conducts across the coil: {path.label}",
            Measure(opposing, "voltage"),
            tuple(Term(way.label, _text(way), way.place) for way in ways.found),
            "Kirchhoff's voltage law",
        ),
        Step(
            "time until the current has fallen to Ir",
            formula,
            Measure(time, "time"),
            (
                Term("L", str(Measure(inductance, "inductance")), coil.at("inductance")),
                Term("R", str(Measure(winding, "resistance")), coil.at("resistance" if coil.resistance else "current")),
            ),
            "decay of the current in a coil; what stays in the iron and the moving parts come on top",
        ),
    )
    return Release(opener, path, initial, threshold, time, stored_energy_j(inductance, initial), steps)


def _current_step(switched: SwitchedCoil, initial: float) -> Step:
    terminal, coil = switched.feed.terminal, switched.coil
    terms = [Term("current on the sheet", _stated(coil.current), coil.at("current"))]
    formula = "rated current"
    if terminal.supply != "ac":
        formula = "highest source voltage / resistance of the winding"
        terms.insert(0, highest_source(switched.feed)[1])
    return Step("current when the contact opens, I0", formula, Measure(initial, "current"), tuple(terms))


def _stated(value: Maybe[Quantity]) -> str:
    return value.text if isinstance(value, Quantity) else "unknown"


def _text(path: Path) -> str:
    if path.ohm > 0:
        return str(Measure(path.ohm, "resistance"))
    if path.low_v is None:
        return "no fixed voltage"
    low = str(Measure(path.low_v, "voltage"))
    return low if path.high_v in (None, path.low_v) else f"{low} to {Measure(path.high_v, 'voltage')}"


def slowest_release(switched: SwitchedCoil) -> Release | None:
    """The slowest release over every switch that can interrupt the coil; None where nothing carries the current."""
    found = [release(switched, opener) for opener in switched.openers or (None,)]
    known_ones = [one for one in found if one is not None]
    return max(known_ones, key=lambda one: one.electrical_s, default=None)


def slowest_path(switched: SwitchedCoil) -> tuple[Path, float] | None:
    """The way with the lowest voltage over every switch, and that voltage; None where there is none.

    Needs no inductance. Raises Undecided where something that could be slower is not known.
    """
    initial = holding_current_a(switched)
    found = [paths(switched, opener).settled(initial) for opener in switched.openers or (None,)]
    return min((way for way in found if way is not None), key=lambda way: way[1], default=None)
