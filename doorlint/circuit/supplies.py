"""What each power source carries, and how long its battery carries what is on at rest.

Currents are exact, in A at the output of the source, with the loads that devices pass on. Where the spec leaves room
(a sheet without idle power, a battery whose temperature is not stated) the figures come as a bound from either side,
so that a rule asks for the missing value only where it decides.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final, TypeVar

from ..outcome import Measure, Place, Practice, Step, Term
from ..quantity import Band, Quantity, show
from ..rulebook import Parameter
from ..spec.fields import UNKNOWN, Maybe, Undecided, known
from ..spec.frozen import SetOnce
from ..spec.model import Battery, Coil, Input, PowerSource, Product, Spec
from .demand import added, nominal, outputs_of, own_current, source_voltage, steady
from .feeds import Feed, LoadedOutput, Terminal, Wiring
from .rest import (
    Rest,
    above_zero,
    fail_mode,
    is_lock,
    peak_of,
    rest_of,
    scheduled,
    voltage_of,
    volts_at,
)
from .standby import Bound, Doubt, Need, Profile, Time, need_for

POE_KINDS: Final = ("poe_switch", "poe_injector")
FEEDERS: Final = ("power_supply", "ups")

LOAD_SHARE: Final = Parameter(
    "supply_load_share",
    "share of its rating that a supply is loaded with steadily, where the designer states none",
    "ratio",
    Fraction(8, 10),
    "lower",
    Practice("75 to 80 percent; common practice, no source"),
)

USUAL_SUPPLY_CURRENTS_A: Final = (1, Fraction(5, 2), 4, 6, 10, 16, 20)
"""Rated currents of supplies that the trade stocks. Common practice, no source."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Total:
    """A sum of currents, A, with its working."""

    value: Fraction
    step: Step


@dataclass(frozen=True, slots=True)
class Group:
    """Locks that act at once: `name` in words, the feeds, and by how much they exceed their steady current, A.

    longest: the feed whose peak lasts longest, None where none has a peak.
    """

    name: str
    feeds: tuple[Feed, ...]
    extra: Fraction
    longest: Feed | None = None


@dataclass(frozen=True, slots=True)
class Autonomy:
    """How long a source goes on without its feeder, s, and by what."""

    time_s: Fraction
    why: str
    place: Place

    @property
    def step(self) -> Step:
        """The line of a calculation that gives it."""
        terms = (Term(self.why, str(Measure(self.time_s, "time")), self.place),)
        formula = "longest of what the source states, its battery, and what feeds it"
        return Step("time without mains", formula, Measure(self.time_s, "time"), terms)


def full_load_current(source: PowerSource) -> Total:
    """The steady current that a source may give at its ambient temperature, A."""
    rated = known(source, "current", Quantity).value
    terms = [Term("rated current", _current(rated), source.at("current"))]
    if source.derating_from is None and source.derating_per_kelvin is None:
        return Total(rated, Step("current available", "rated current", Measure(rated, "current"), tuple(terms)))
    start = known(source, "derating_from", Band).high
    per_kelvin = known(source, "derating_per_kelvin", Quantity).value
    ambient, place = ambient_of(source)
    share = max(Fraction(0), 1 - per_kelvin * max(Fraction(0), ambient.high - start))
    terms += [
        Term("derating per kelvin", f"{float(per_kelvin) * 100:g} %", source.at("derating_per_kelvin")),
        Term("derating from", _temperature(start), source.at("derating_from")),
        Term("warmest ambient", _temperature(ambient.high), place),
    ]
    formula = "rated current x (1 - derating per kelvin x (warmest ambient - derating from))"
    return Total(rated * share, Step("current available", formula, Measure(rated * share, "current"), tuple(terms)))


def ambient_of(source: PowerSource) -> tuple[Band, Place]:
    """The temperature around a source: as stated, else where its battery stands. Raises Undecided without both."""
    if source.ambient is None and isinstance(source.battery, Battery) and isinstance(source.battery.temperature, Band):
        return source.battery.temperature, source.battery.at("temperature")
    return known(source, "ambient", Band), source.at("ambient")


@dataclass(frozen=True, slots=True, eq=False)
class Alike:
    """Feeds of one load and sheet, with one fail mode and one voltage at the terminal: what was found out of one holds
    for all. It holds the parts themselves, so that no other comes to have their id."""

    load: Coil | Input
    sheet: Product | None
    found: dict[object, Any] = field(default_factory=dict)


@dataclass
class Supplies(SetOnce):
    """The loads of every power source of a spec, each figure computed when asked for."""

    spec: Spec
    wiring: Wiring
    _outputs: dict[str, tuple[LoadedOutput, ...]] = field(default_factory=dict)
    _feeds: dict[str, tuple[Feed, ...]] = field(default_factory=dict)
    _kept: dict[tuple[str, str], Any] = field(default_factory=dict)
    _reached: dict[str, tuple[Feed, ...]] = field(default_factory=dict)
    _fed: dict[str, list[PowerSource]] | None = None
    _alike: dict[tuple[object, ...], Alike] = field(default_factory=dict)
    _alike_with: dict[int, tuple[Alike | None, Feed]] = field(default_factory=dict)
    _volts: dict[int, tuple[tuple[int, int] | None, Band]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        found: dict[str, list[LoadedOutput]] = {}
        for output in self.wiring.outputs:
            if isinstance(output.terminal.owner, PowerSource):
                found.setdefault(output.terminal.owner.id, []).append(output)
        self._outputs = {name: tuple(outputs) for name, outputs in found.items()}
        self._feeds = {name: tuple(f for output in outputs for f in output.feeds) for name, outputs in found.items()}

    def outputs(self, source: PowerSource) -> tuple[LoadedOutput, ...]:
        """The loaded outputs of a source."""
        return self._outputs.get(source.id, ())

    def feeds(self, source: PowerSource) -> tuple[Feed, ...]:
        """What hangs on the source's outputs themselves."""
        return self._feeds.get(source.id, ())

    def reached(self, source: PowerSource) -> tuple[Feed, ...]:
        """What draws on the source, through other devices and sources too."""
        if not self._reached:
            self._reached.update(self._all_reached())
        return self._reached.get(source.id, ())

    def _all_reached(self) -> dict[str, tuple[Feed, ...]]:
        """For each source the feeds that draw on it, in the order of the spec."""
        above = {s.id: (s.id, *(each.id for each in self.feeders(s))) for s in self.spec.power.values()}
        found: dict[str, list[Feed]] = {name: [] for name in above}
        for feed in self.wiring.feeds:
            for name in {name for source in feed.sources for name in above[source.id]}:
                found[name].append(feed)
        return {name: tuple(feeds) for name, feeds in found.items()}

    def fed_sources(self, source: PowerSource) -> tuple[PowerSource, ...]:
        """The sources that this source feeds."""
        if self._fed is None:
            self._fed = {}
            for each in self.spec.power.values():
                feeder = self.feeder(each)
                if feeder is not None:
                    self._fed.setdefault(feeder.id, []).append(each)
        return tuple(self._fed.get(source.id, ()))

    def feeder(self, source: PowerSource) -> PowerSource | None:
        """What feeds a source."""
        return self.spec.power.get(source.fed_from.partition(".")[0]) if isinstance(source.fed_from, str) else None

    def feeders(self, source: PowerSource) -> tuple[PowerSource, ...]:
        """The chain of what feeds a source, from the next one on; a circle is followed once."""
        chain: list[PowerSource] = []
        while (following := self.feeder(chain[-1] if chain else source)) is not None:
            if following in chain or following is source:
                break
            chain.append(following)
        return tuple(chain)

    def _in_circle(self, source: PowerSource) -> bool:
        """Whether a source feeds itself through others."""
        chain = self.feeders(source)
        return self.feeder(chain[-1] if chain else source) is source

    def carries(self, source: PowerSource) -> bool:
        """Whether anything hangs on a source."""
        return bool(self.outputs(source) or self.fed_sources(source))

    # currents

    def steady(self, source: PowerSource) -> Total:
        """Every load on at once, at its holding current. Raises Undecided where a current is not known."""
        return self._keep("steady", source, self._steady)

    def _keep(self, what: str, source: PowerSource, compute: Callable[[PowerSource], T]) -> T:
        """What `compute` gives or raises for a source, worked out once."""
        key = (what, source.id)
        if key not in self._kept:
            try:
                self._kept[key] = compute(source)
            except Undecided as gap:
                self._kept[key] = gap
        found = self._kept[key]
        if isinstance(found, Undecided):
            raise found
        return found  # type: ignore[no-any-return]

    def _shared(self, what: str, feed: Feed, compute: Callable[[Feed], T], more: object = None) -> T:
        """What `compute` reads from a feed's load and sheet, its fail mode, the voltage at its terminal, and `more`;
        worked out once for all feeds of the spec that are alike in these. What it raises names a place of the feed
        itself, and is not kept."""
        known_of = self._alike_with.get(id(feed)) or self._met(feed)
        if known_of[0] is None:
            return compute(feed)
        found, key = known_of[0].found, (what, more)
        if key not in found:
            found[key] = compute(feed)
        return found[key]  # type: ignore[no-any-return]

    def _met(self, feed: Feed) -> tuple[Alike | None, Feed]:
        """The feeds that a feed is alike with; None where the voltage at its terminal is not stated."""
        load, sheet, volts = feed.load, feed.item.sheet, self._nominal(feed.terminal)
        alike = None
        if volts is not None:
            key = (id(load), id(sheet), feed.item.fail, volts)
            alike = self._alike.get(key) or self._alike.setdefault(key, Alike(load, sheet))
        self._alike_with[id(feed)] = alike, feed
        return alike, feed

    def _nominal(self, terminal: Terminal) -> tuple[int, int] | None:
        """The nominal voltage that a terminal states, V, as a ratio of whole numbers; None where it states none, or one
        that reaches down to 0."""
        band = terminal.voltage
        if not isinstance(band, Band):
            return None
        found = self._volts.get(id(band))
        if found is None:
            found = self._volts[id(band)] = (nominal(band).as_integer_ratio() if band.low > 0 else None, band)
        return found[0]

    def _steady(self, source: PowerSource) -> Total:
        drawn = [(feed, *self._drawn(feed)) for feed in self.feeds(source)]
        terms = [Term(label(feed), text, place) for feed, _, text, place in drawn]
        total = added(current for _, current, _, _ in drawn)
        for fed in self.fed_sources(source):
            current = self.taken_current(fed, source)
            total += current
            terms.append(Term(fed.id, _current(current), fed.at("input_power")))
        formula = "sum of the steady currents of all loads"
        return Total(total, Step("steady load", formula, Measure(total, "current"), tuple(terms)))

    def _drawn(self, feed: Feed) -> tuple[Fraction, str, Place]:
        """The steady current of a feed, A, its text and its place; that of a device with nothing on its outputs is its
        own."""
        if isinstance(feed.load, Input) and outputs_of(feed.item, self.wiring):
            return _with_text(steady(feed, self.wiring), feed)
        return self._shared("own", feed, _own)

    def _place(self, feed: Feed) -> Place:
        """Where the current of a load stands."""
        return self._shared("place", feed, lambda each: each.load.at("current"))

    def taken_power(self, source: PowerSource) -> Fraction:
        """The power that a source takes from its feeder, W: as stated, or from its load, charging and efficiency.

        Raises Undecided where that is not known, and for sources that feed each other in a circle.
        """
        if self._in_circle(source):
            raise Undecided("fed_from", source.at("fed_from"), stated=True)
        if source.input_power is not None or source.efficiency is None or source.kind in POE_KINDS:
            return known(source, "input_power", Quantity).value
        current = self.steady(source).value
        if isinstance(source.battery, Battery) and source.battery.charge_current is not None:
            current += known(source.battery, "charge_current", Quantity).value
        power = current * voltage_of(source)
        return power / above_zero(source, "efficiency")

    def taken_current(self, fed: PowerSource, source: PowerSource) -> Fraction:
        """What `fed` takes from `source`, which feeds it, A."""
        return self.taken_power(fed) / voltage_of(source)

    def groups(self, source: PowerSource) -> tuple[Group, ...]:
        """The locks of a source that act at once: those of a release group, those unlocked by schedule, and for the
        rest those of one opening. What is energised to unlock and what is energised to lock peak at different
        moments. Raises Undecided where a peak or a fail mode is not known.
        """
        named: dict[str, list[Feed]] = {}
        for feed in self._below(source):
            if not is_lock(feed):
                continue
            item = feed.item
            if isinstance(item.release_group, str):
                named.setdefault(f"release group {item.release_group}", []).append(feed)
            elif item.release_group is None:
                named.setdefault(f"opening {item.opening}", []).append(feed)
            else:
                known(item, "release_group", str)
            if isinstance(item.unlock_schedule, Quantity):
                named.setdefault("locks unlocked by schedule", []).append(feed)
        found: list[Group] = []
        for name, feeds in named.items():
            moments = ("at release", "at locking")
            together = [[f for f in feeds if _acts(f, moment)] for moment in moments] if len(feeds) > 1 else [feeds]
            found += [self._group(source, name, acting) for acting in together if acting]
        return tuple(found)

    def _group(self, source: PowerSource, name: str, feeds: Sequence[Feed]) -> Group:
        extras = [self._surge(source, feed) for feed in feeds]
        peaking = [feed for feed, extra in zip(feeds, extras, strict=True) if extra]
        longest = max(peaking, key=lambda feed: _seconds(feed.load.peak_duration), default=None)
        return Group(name, tuple(feeds), added(extras), longest)

    def worst_group(self, source: PowerSource) -> Group | None:
        """The group with the highest peak above its steady current; None without locks."""
        # of equal groups always the same one, in whatever order the spec has them
        return min(self.groups(source), key=lambda group: (-group.extra, group.name), default=None)

    def all_at_once(self, source: PowerSource) -> Total:
        """Every load of a source at its peak at the same time, as when power returns after an outage."""
        total = self.steady(source)
        surges = [(feed, peak_of(feed) - own_current(feed)) for feed in self.feeds(source)]
        extra = sum((surge for _, surge in surges), Fraction(0))
        terms = tuple(Term(f"{f.item.name} above steady", _current(s), f.load.at("peak")) for f, s in surges)
        value = total.value + extra
        step = Step("all at once", "steady load + all peaks above it", Measure(value, "current"), terms)
        return Total(value, step)

    def _below(self, source: PowerSource) -> tuple[Feed, ...]:
        """All feeds of a source down to the ends, along feeds that are no PoE."""
        return self._keep("below", source, lambda each: tuple(self._walked(each)))

    def _walked(self, source: PowerSource) -> Iterator[Feed]:
        waiting = deque(self.feeds(source))
        passed: set[tuple[str, str]] = set()
        while waiting:
            feed = waiting.popleft()
            key = feed.identity, feed.supply
            if key in passed:
                continue
            passed.add(key)
            yield feed
            for output in self.passed_on_outputs(feed):
                waiting.extend(output.feeds)

    def passed_on_outputs(self, feed: Feed) -> tuple[LoadedOutput, ...]:
        """The loaded outputs of a device that draw their power through this feed."""
        outputs = outputs_of(feed.item, self.wiring) if isinstance(feed.load, Input) else ()
        return tuple([output for output in outputs if _carried_by(output, feed)]) if outputs else ()

    def _surge(self, source: PowerSource, feed: Feed) -> Fraction:
        """By how much the peak of a load exceeds its steady current, A at the source."""
        extra = self._shared("above steady", feed, lambda each: peak_of(each) - own_current(each))
        here = feed
        while here.terminal.owner is not source and here.terminal.upstream:
            upstream = here.terminal.passes_on or here.terminal.upstream[0]
            if here.terminal.passes_on is None:
                extra = self._converted(extra, here.terminal, upstream)
            here = upstream
        return extra

    def _converted(self, current: Fraction, terminal: Terminal, upstream: Feed) -> Fraction:
        sheet = upstream.item.sheet
        assert sheet is not None
        power = current * nominal(source_voltage(terminal))
        return power / (above_zero(sheet, "efficiency") * volts_at(upstream.terminal))

    # at rest

    def at_rest(self, feed: Feed, bound: Bound, elapsed_s: Fraction = Fraction(0)) -> Fraction:
        """What a feed takes while nobody comes and goes, A at its terminal, some time into an outage.

        Raises Undecided where a current, a fail mode or an efficiency is not known.
        """
        currents = [self._rest(feed, elapsed_s).at(bound)]
        for output in self.passed_on_outputs(feed):
            drawn = added(self.at_rest(load, bound, elapsed_s) for load in output.feeds)
            if output.terminal.passes_on is None and drawn:
                drawn = self._converted(drawn, output.terminal, feed)
            currents.append(drawn)
        return added(currents)

    def _rest(self, feed: Feed, elapsed_s: Fraction = Fraction(0)) -> Rest:
        return self._shared("rest", feed, lambda each: rest_of(each, elapsed_s), scheduled(feed, elapsed_s))

    def profile(self, source: PowerSource, bound: Bound = "most") -> Profile:
        """What a source gives at rest. Raises Undecided where a load is not known."""
        if bound == "most" and self._keep("exact", source, self._exact):
            return self.profile(source, "least")
        return self._keep(f"profile {bound}", source, lambda each: self._profile(each, bound))

    def _exact(self, source: PowerSource) -> bool:
        """Whether it is known what all below a source draw at rest, so that both bounds are one."""
        try:
            return not self.rest_doubts(source)
        except Undecided:
            return False

    def _profile(self, source: PowerSource, bound: Bound) -> Profile:
        feeds = self.feeds(source)
        schedules = [feed.item.unlock_schedule for feed in self._below(source)]
        ends = sorted({each.value for each in schedules if isinstance(each, Quantity) and each.value > 0})
        fed = [(s, self.taken_current(s, source)) for s in self.fed_sources(source)]
        constant = added(current for _, current in fed)
        drawn = [[self.at_rest(feed, bound, start) for feed in feeds] for start in (Fraction(0), *ends)]
        levels = [constant + added(currents) for currents in drawn]
        more = tuple((end, levels[i] - levels[i + 1]) for i, end in enumerate(ends) if levels[i] != levels[i + 1])
        base = levels[-1]
        terms = [
            Term(f"{label(feed)} ({self._rest(feed).why})", _current(current), self._place(feed))
            for feed, current in zip(feeds, drawn[0], strict=True)
        ]
        terms += [Term(s.id, _current(current), s.at("input_power")) for s, current in fed]
        counted = "sum of what is on at rest; fail-safe locks count, fail-secure locks do not"
        counted += "".join(f"; {_current(a)} of it for {Measure(t, 'time')} by schedule" for t, a in more)
        step = Step("current at rest", counted, Measure(levels[0], "current"), tuple(terms))
        return Profile(base, more, step)

    def rest_doubts(self, source: PowerSource) -> tuple[Doubt, ...]:
        """Sheets below a source that state no current at rest, so that it is only known from either side: from the
        start, or once no schedule keeps the lock unlocked any more."""
        return self._keep("doubts", source, self._rest_doubts)

    def _rest_doubts(self, source: PowerSource) -> tuple[Doubt, ...]:
        found = []
        for feed in self._below(source):
            schedule = feed.item.unlock_schedule
            sure = self._rest(feed).sure
            if not sure or (isinstance(schedule, Quantity) and not self._rest(feed, schedule.value).sure):
                why = f"its sheet does not say what {feed.item.name} draws at rest"
                found.append(Doubt("idle_power", feed.load.at("idle_power"), why))
        return tuple(found)

    # battery

    def standby(self, source: PowerSource) -> Time:
        """The time that a source must go on, s, as demanded, else as it states itself."""
        name = "backup" if source.required_backup is None and source.backup is not None else "required_backup"
        duration = known(source, name, Quantity).value
        if duration < 0:
            raise Undecided(name, source.at(name), stated=True)
        return duration, source.at(name)

    def need(self, source: PowerSource, duration_s: Fraction, at: Place | None = None) -> Need:
        """The capacity that a source's battery needs to go on for a time, which stands `at` in the spec.

        Raises Undecided where a load is unknown.
        """
        profiles = self.profile(source, "least"), self.profile(source, "most")
        return need_for(source, profiles, (duration_s, at), self.spec.practice, self.rest_doubts(source))

    def autonomy(self, source: PowerSource) -> Autonomy:
        """How long a source goes on after the mains have failed; worked out once for each source."""
        return self._keep("autonomy", source, self._autonomy)

    def _autonomy(self, source: PowerSource) -> Autonomy:
        """How long a source goes on after the mains have failed: the longest of what it states, its own battery and
        what feeds it. The mains themselves go on for no time. Raises Undecided where that is not known.
        """
        found: list[Autonomy] = []
        gap: Undecided | None = None
        for one in (source, *self.feeders(source)):
            if one.kind == "mains":
                found.append(Autonomy(Fraction(0), f"{one.id} has failed", one.place.key))
            try:
                own = self.own_autonomy(one)
            except Undecided as undecided:
                gap = gap or undecided
                continue
            if own is not None:
                found.append(own)
        last = (source, *self.feeders(source))[-1]
        if gap is not None:
            raise gap
        if last.kind not in ("mains", "generator") and not any(a.time_s for a in found):
            known(last, "fed_from", str)
        return max(found, key=lambda a: a.time_s, default=Autonomy(Fraction(0), "nothing goes on", source.place.key))

    def own_autonomy(self, source: PowerSource) -> Autonomy | None:
        """How long a source goes on by what it states or by its battery; None where it has neither."""
        if source.backup is not None:
            time = known(source, "backup", Quantity).value
            return Autonomy(time, f"{source.id} states {Measure(time, 'time')}", source.at("backup"))
        if source.battery is UNKNOWN:
            raise Undecided("battery", source.at("battery"), stated=True)
        if not isinstance(source.battery, Battery):
            if source.kind == "ups":
                known(source, "backup", Quantity)
            return None
        time = self.computed_autonomy(source)
        return Autonomy(time, f"the battery of {source.id}", source.battery.at("capacity"))

    def computed_autonomy(self, source: PowerSource, bound: Bound = "most") -> Fraction:
        """The time that the battery of a source carries what is on at rest, s, to whole minutes below.

        `most` draws the most that is possible, for the shortest time; `least` the least. Raises Undecided where a
        figure is not known or a discharge table is needed.
        """
        battery = source.battery
        assert isinstance(battery, Battery)
        capacity = known(battery, "capacity", Quantity).value

        def fits(minutes: int) -> bool:
            need = self.need(source, Fraction(minutes * 60))
            needed = need.most if bound == "most" else need.least
            if needed is None:
                doubt = need.doubts[0]
                raise Undecided(doubt.name, doubt.place, stated=False)
            return needed <= capacity

        low, high = 30, 60 * 24 * 365
        if not fits(low):
            return Fraction(0)
        if fits(high):
            return Fraction(high * 60)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if fits(middle) else (low, middle)
        return Fraction(low * 60)


def _acts(feed: Feed, moment: str) -> bool:
    return (fail_mode(feed.item) == "safe") == (moment == "at locking")


def _carried_by(output: LoadedOutput, feed: Feed) -> bool:
    """Whether an output of the feed's device draws its power through this feed."""
    terminal = output.terminal
    if terminal.passes_on is not None:
        return terminal.passes_on.supply == feed.supply
    return bool(terminal.upstream) and terminal.upstream[0].supply == feed.supply and feed.supply != "poe"


def _seconds(value: Maybe[Quantity]) -> Fraction:
    return value.value if isinstance(value, Quantity) else Fraction(0)


def _own(feed: Feed) -> tuple[Fraction, str, Place]:
    return _with_text(own_current(feed), feed)


def _with_text(current: Fraction, feed: Feed) -> tuple[Fraction, str, Place]:
    return current, _current(current), feed.load.at("current")


def label(feed: Feed) -> str:
    """`114A/lock`, the name of a load in a schedule."""
    return feed.identity


def _current(value: Fraction) -> str:
    return show(value, "current")


def _temperature(value: Fraction) -> str:
    return show(value, "temperature")


def ptc_share(temperature_c: float) -> Fraction | None:
    """Share of its holding current that a resettable fuse still holds: 1 up to 23 degC, 0.75 at 50 degC, 0.6 at
    70 degC, on straight lines; None above 85 degC. Common practice, no source."""
    if temperature_c > 85:
        return None
    if temperature_c <= 23:
        return Fraction(1)
    low, high = ((23, 1.0), (50, 0.75)) if temperature_c <= 50 else ((50, 0.75), (70, 0.6))
    share = low[1] + (high[1] - low[1]) * (temperature_c - low[0]) / (high[0] - low[0])
    return Fraction(share).limit_denominator(10**6)


def next_supply_current(needed_a: Fraction) -> Fraction | None:
    """The smallest usual rated current of at least `needed_a`; None above the largest."""
    return next((Fraction(size) for size in USUAL_SUPPLY_CURRENTS_A if size >= needed_a), None)
