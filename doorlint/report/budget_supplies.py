"""The power and battery schedules of the supplies, as plain aligned lines with where each number stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import PurePath

from ..circuit.demand import own_current, steady
from ..circuit.feeds import Feed
from ..circuit.rest import peak_of, rest_of
from ..circuit.standby import charge_current
from ..circuit.supplies import FEEDERS, LOAD_SHARE, Supplies, full_load_current
from ..outcome import Measure, Place, Step
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Battery, PowerSource

HEAD = ("load", "output", "steady", "peak", "at rest", "at rest it is", "figures from")


def supply_lines(result: Result) -> list[str]:
    """The power schedule and the battery schedule of every supply and UPS; no lines for a spec without any.

    A figure that the spec does not give is shown as `open` with the field that is missing; a total then is open too.
    """
    if result.spec is None or result.context is None:
        return []
    supplies = result.context.supplies
    lines: list[str] = []
    for source in result.spec.power.values():
        if source.kind in FEEDERS:
            lines += _power(result, supplies, source)
            if source.battery is not None or source.backup is not None or source.required_backup is not None:
                lines += ["", *_battery(result, supplies, source)]
            lines.append("")
    return lines[:-1]


def _power(result: Result, supplies: Supplies, source: PowerSource) -> Iterator[str]:
    yield f"Power schedule of {source.id}{_title(source)}"
    if not supplies.carries(source):
        yield "  nothing is fed from it"
        return
    rows = [HEAD, *_rows(result, supplies, source)]
    rows.append(
        (
            "all together",
            "",
            _or_open(lambda: supplies.steady(source).value),
            _or_open(lambda: supplies.all_at_once(source).value),
            _or_open(lambda: _at_rest(supplies, source)),
            "",
            "",
        )
    )
    yield from _aligned(rows)
    yield from _shares(result, supplies, source)


def _rows(result: Result, supplies: Supplies, source: PowerSource) -> Iterator[tuple[str, ...]]:
    for output in supplies.outputs(source):
        for feed in output.feeds:
            passed = [fed.item.name for below in supplies.passed_on_outputs(feed) for fed in below.feeds]
            more = f" with {', '.join(passed)}" if passed else ""
            yield (
                f"{feed.identity}{more}",
                output.terminal.name,
                _or_open(lambda feed=feed: steady(feed, supplies.wiring)),  # type: ignore[misc]
                _or_open(lambda feed=feed: _peak(supplies, feed)),  # type: ignore[misc]
                _or_open(lambda feed=feed: supplies.at_rest(feed, "most")),  # type: ignore[misc]
                _why(feed),
                where(result, feed.load.at("current")),
            )
    for fed in supplies.fed_sources(source):
        taken = _or_open(lambda fed=fed: supplies.taken_current(fed, source))  # type: ignore[misc]
        yield fed.id, "", taken, taken, taken, "always on", where(result, fed.at("input_power"))


def _peak(supplies: Supplies, feed: Feed) -> Fraction:
    return steady(feed, supplies.wiring) + peak_of(feed) - own_current(feed)


def _at_rest(supplies: Supplies, source: PowerSource) -> Fraction:
    profile = supplies.profile(source)
    return profile.base + sum((current for _, current in profile.more), Fraction(0))


def _why(feed: Feed) -> str:
    try:
        return rest_of(feed).why
    except Undecided as gap:
        return f"open: {gap.name}"


def _shares(result: Result, supplies: Supplies, source: PowerSource) -> Iterator[str]:
    """Rating, share used, worst group."""
    try:
        load, available = supplies.steady(source).value, full_load_current(source)
    except Undecided as gap:
        yield f"  share of the rating: open, {gap.name} is missing at {where(result, gap.place)}"
    else:
        rated = Measure(known(source, "current", Quantity).value, "current")
        share = f"{float(load / available.value) * 100:.1f} %" if available.value else "all"
        derated = "" if available.value == rated.value else f", {Measure(available.value, 'current')} at its ambient"
        usual = LOAD_SHARE.value(supplies.spec.practice)
        meant = source.load_share.value if isinstance(source.load_share, Quantity) else usual
        ground = where(result, source.at("load_share")) if isinstance(source.load_share, Quantity) else "practice"
        yield (
            f"  rated {rated} ({where(result, source.at('current'))}){derated}: {share} used, "
            f"{float(meant) * 100:g} % meant for use ({ground})"
        )
    try:
        group = supplies.worst_group(source)
        if group is not None:
            peak = Measure(supplies.steady(source).value + group.extra, "current")
            locks = ", ".join(feed.identity for feed in group.feeds)
            yield f"  highest peak of locks that act at once: {peak} ({group.name}: {locks})"
    except Undecided as gap:
        yield f"  highest peak of locks that act at once: open, {gap.name} is missing at {where(result, gap.place)}"


def _battery(result: Result, supplies: Supplies, source: PowerSource) -> Iterator[str]:
    yield f"Battery and standby of {source.id}"
    try:
        yield from _standby(result, supplies, source)
    except Undecided as gap:
        yield f"  open: {gap.name} is missing at {where(result, gap.place)}"
    battery = source.battery
    if isinstance(battery, Battery):
        try:
            needed, _ = charge_current(battery)
            given = known(battery, "charge_current", Quantity)
        except Undecided as gap:
            yield f"  recharge: open, {gap.name} is missing at {where(result, gap.place)}"
        else:
            hours = Measure(24 * 3600 * needed / given.value, "time") if given.value > 0 else "never"
            place = where(result, battery.at("charge_current"))
            yield f"  recharge to 80 %: {hours} at {given.text} ({place}); {Measure(needed, 'current')} do it in 24 h"


def _standby(result: Result, supplies: Supplies, source: PowerSource) -> Iterator[str]:
    battery = source.battery
    computed = isinstance(battery, Battery) and (source.kind == "power_supply" or source.efficiency is not None)
    if battery is UNKNOWN:
        known(source, "battery", Battery)
    if not computed or not isinstance(battery, Battery):
        found = supplies.autonomy(source)
        yield f"  goes on without mains for {Measure(found.time_s, 'time')}: {found.why} ({where(result, found.place)})"
    elif supplies.carries(source):
        duration, at = supplies.standby(source)
        need = supplies.need(source, duration, at)
        yield from _aligned([_step_row(result, step) for step in need.working_most])
        capacity = known(battery, "capacity", Quantity)
        needed = "open: " + need.doubts[0].why if need.most is None else str(Measure(need.most, "charge"))
        words = {True: "enough", False: "too small", None: "open"}[need.covered_by(capacity.value)]
        yield f"  capacity {capacity.text} ({where(result, battery.at('capacity'))}), needed {needed}: {words}"
        if need.most is not None and need.most > 0:
            yield f"  lasts {_lasts(supplies, source)} at the end of the battery's life"
    if isinstance(source.required_backup, Quantity):
        yield f"  demanded: {source.required_backup.text} ({where(result, source.at('required_backup'))})"


def _lasts(supplies: Supplies, source: PowerSource) -> str:
    time = supplies.computed_autonomy(source)
    return str(Measure(time, "time")) if time else "less than half an hour"


def _step_row(result: Result, step: Step) -> tuple[str, ...]:
    places = list(dict.fromkeys(where(result, term.place) for term in step.terms if term.place is not None))
    more = f" and {len(places) - 2} more" if len(places) > 2 else ""
    return step.name, str(step.result), step.formula, ", ".join(places[:2]) + more


def _or_open(value: Callable[[], Fraction]) -> str:
    try:
        return str(Measure(value(), "current"))
    except Undecided as gap:
        return f"open: {gap.name}"


def where(result: Result, place: Place) -> str:
    """`power.yaml:72`, the line of a place in a file of the spec, seen from its root."""
    line, _ = result.documents[place.file].position(result.region(place).start)
    file, folder = PurePath(place.file), PurePath(result.root).parent
    shown = file.relative_to(folder) if file.is_relative_to(folder) else file
    return f"{shown.as_posix()}:{line}"


def _title(source: PowerSource) -> str:
    return f": {source.title}" if isinstance(source.title, str) else ""


def _aligned(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        yield ("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))).rstrip()
