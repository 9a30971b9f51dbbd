"""The power budget of a spec as text: the schedule of every PoE source, then those of supplies and batteries.

`render` gives the whole page, `poe_lines` the part over PoE. Nothing is judged here: the rules do that. What is not
known is written as open, with the field that is missing, and never as a number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from textwrap import wrap
from typing import Literal

from ..circuit.poe import chain_autonomy
from ..circuit.poe_links import PoeLink, PoeSource
from ..context import Context
from ..outcome import Measure
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Item, PowerSource
from .text import CAUTIONS, plain

_WIDTH = 100
_NONE = "-"
_KINDS = {"poe_switch": "PoE switch", "poe_injector": "PoE injector"}


def render(result: Result) -> str:
    """The whole budget of a spec: heading, cautions, PoE, supplies and batteries. Safe to print."""
    from .budget_supplies import supply_lines

    lines = [f"Power budget of {_title(result)}", "", *wrap(CAUTIONS[0], _WIDTH), *wrap(CAUTIONS[1], _WIDTH)]
    if result.context is None:
        lines += ["", "The spec could not be read: there is nothing to compute from."]
    else:
        parts = [part for part in (poe_lines(result), supply_lines(result)) if part]
        for part in parts:
            lines += ["", *part]
        if not parts:
            lines += ["", "The spec has no power source."]
    return "".join(f"{plain(line)}".rstrip() + "\n" for line in lines)


def _title(result: Result) -> str:
    name = result.spec.project.name if result.spec is not None else None
    return f"{name} ({result.root})" if isinstance(name, str) else result.root


@dataclass(frozen=True, slots=True)
class Row:
    """One device on a PoE source, as text: `cells` by column, and what is open about it."""

    cells: tuple[str, ...]
    open: tuple[str, ...] = ()


COLUMNS = ("device", "asks", "gets", "channel", "set aside", "available", "drawn", "margin", "peak")
"""The columns of a PoE schedule: classes asked for and granted, length and resistance, power set aside at the port,
power at the end of the channel, steady power drawn there, what is left, highest power and for how long."""


def poe_lines(result: Result) -> list[str]:
    """The schedule of every PoE source, and how long each opening with PoE runs without mains. Empty without PoE."""
    context = result.context
    if context is None or not context.poe.sources:
        return []
    lines = ["POWER OVER ETHERNET"]
    for poe in context.poe.sources:
        lines += ["", *_source_lines(poe, context)]
    standby = list(_standby_lines(context))
    if standby:
        lines += ["", "Time without mains, by opening: that of the source that stops first", *standby]
    return lines


def _source_lines(poe: PoeSource, context: Context) -> Iterator[str]:
    source = poe.source
    yield _heading(source)
    ports = f" of {source.ports}" if isinstance(source.ports, int) else ""
    yield f"  {len(poe.links)}{ports} ports in use; {_set_aside(poe, context)}"
    yield f"  without mains: {_time(source, context)}; required: {_quantity(source, 'required_backup')}"
    rows = [_row(link, context) for link in context.poe.links if link.source is source]
    if rows:
        yield from (f"  {line}" for line in _table(COLUMNS, [row.cells for row in rows]))
        yield from (f"  open: {text}" for row in rows for text in row.open)
        for link in context.poe.links:
            if link.source is source and (detail := _drawn_by(link, context)):
                yield f"  {detail}"


def _heading(source: PowerSource) -> str:
    kind = (
        "PoE injector" if source.kind == "poe_injector" else "PoE switch" if source.kind == "poe_switch" else "source"
    )
    parts = [kind]
    if isinstance(source.standard, str):
        parts.append(source.standard)
    if isinstance(source.port_class, int):
        parts.append(f"ports of class {source.port_class}")
    if isinstance(source.fed_from, str):
        parts.append(f"fed from {source.fed_from}")
    return f"{source.id}: {', '.join(parts)}"


def _set_aside(poe: PoeSource, context: Context) -> str:
    budget = poe.source.budget
    try:
        allotment, how = context.poe.set_aside(poe)
    except Undecided as gap:
        return f"set aside: open ({_missing(gap)})"
    least = "" if allotment.total_w is not None else "at least "
    text = f"set aside {how} {least}{_watt(allotment.least_w)}"
    if not isinstance(budget, Quantity):
        return f"{text}, budget: {_quantity(poe.source, 'budget')}"
    left = budget.value - allotment.least_w
    share = f"{float(100 * allotment.least_w / budget.value):.0f} %" if budget.value > 0 else "more than all"
    spare = f"{_watt(left)} left" if left >= 0 else f"{_watt(-left)} too much"
    return f"{text} of {budget.text} ({share}), {spare}"


def _row(link: PoeLink, context: Context) -> Row:
    poe = context.poe
    gaps: dict[str, None] = {}

    def cell(read: Callable[[], str]) -> str:
        try:
            return read()
        except Undecided as gap:
            gaps[f"{link.identity}: {_missing(gap)}"] = None
            return "open"

    def channel() -> str:
        found = poe.channel(link, 1 if link.passive else None)
        return f"{Measure(found.length_m, 'length')} {found.ohm:.2f} ohm"

    def drawn() -> Fraction:
        demand = poe.demand(link)
        if demand.total_w is None:
            raise demand.gaps[0]
        return demand.total_w

    name = link.identity if link.upstream is None else f"{link.identity} behind {link.upstream.item.name}"
    if link.passive:
        blank = (_NONE,) * 3
        cells = (name, _NONE, "passive", cell(channel), *blank[:2], cell(lambda: _watt(drawn())), *blank[:2])
        return Row(cells, tuple(gaps))
    by_use = link.source is not None and link.source.allocation == "by_use"
    mode: Literal["by_class", "by_use"] = "by_use" if by_use else "by_class"
    cells = (
        name,
        cell(lambda: str(poe.grant(link).asked)),
        cell(lambda: _class(link, context)),
        cell(channel),
        cell(lambda: _watt(poe.allotted_to(link, mode)) if link.upstream is None else _NONE),
        cell(lambda: _watt(poe.available(link).power_w)),
        cell(lambda: _watt(drawn())),
        cell(lambda: _watt(poe.available(link).power_w - drawn())),
        cell(lambda: _peak(link, context)),
    )
    return Row(cells, tuple(gaps))


def _class(link: PoeLink, context: Context) -> str:
    granted = context.poe.grant(link).granted
    return "none" if granted is None else str(granted.number)


def _peak(link: PoeLink, context: Context) -> str:
    peak = context.poe.peak(link)
    if peak.gaps:
        raise peak.gaps[0]
    if not peak.rises:
        return _NONE
    longest = max((rise.duration_s for rise in peak.rises if rise.duration_s is not None), default=None)
    return _watt(peak.top_w) + (f" {Measure(longest, 'time')}" if longest is not None else " for a time not stated")


def _drawn_by(link: PoeLink, context: Context) -> str:
    """What a device's power is made of; empty where it feeds nothing."""
    demand = context.poe.demand(link)
    if not demand.carried:
        return ""
    own = "open" if demand.own_w is None else _watt(demand.own_w)
    unknown = {gap.place for gap in demand.gaps}
    parts = [
        f"{each.feed.item.name} {'open' if each.feed.load.at('current') in unknown else _watt(each.power_w)}"
        for each in demand.carried
    ]
    converted = any(each.converted for each in demand.carried)
    share = "efficiency open" if demand.efficiency is None else f"at {float(demand.efficiency * 100):g} % efficiency"
    return f"{link.identity} = itself {own} + {' + '.join(parts)}" + (f", {share}" if converted else "")


def _standby_lines(context: Context) -> Iterator[str]:
    served = dict.fromkeys(link.item.opening for link in context.poe.links)
    for name in served:
        times: dict[str, float | None] = {}
        for item in context.spec.openings[name].items.values():
            for source in _sources(item, context):
                times.setdefault(source.id, _autonomy(source, context))
        found = chain_autonomy(times)
        if found.total_s is None:
            least = "" if found.known_s is None else f"at most {_seconds(found.known_s)}; "
            yield f"  {name}: {least}open for {', '.join(found.unknown)}"
        else:
            yield f"  {name}: {_seconds(found.total_s)} ({', '.join(found.weakest)})"


def _sources(item: Item, context: Context) -> tuple[PowerSource, ...]:
    """The source that decides over a device: of several feeds the one that lasts longest; all where that is open."""
    found = {s.id: s for feed in context.wiring.by_item.get(item.identity, ()) for s in feed.sources}
    times = {source.id: _autonomy(source, context) for source in found.values()}
    if len(found) < 2 or None in times.values():
        return tuple(found.values())
    return (max(found.values(), key=lambda source: times[source.id] or 0),)


def _autonomy(source: PowerSource, context: Context) -> float | None:
    try:
        return float(context.supplies.autonomy(source).time_s)
    except Undecided:
        return None


def _time(source: PowerSource, context: Context) -> str:
    try:
        found = context.supplies.autonomy(source)
    except Undecided as gap:
        return f"open ({_missing(gap)})"
    return f"{Measure(found.time_s, 'time')} ({found.why})"


def _seconds(value: float) -> str:
    return str(Measure(Fraction(value), "time"))


def _quantity(source: PowerSource, name: str) -> str:
    value = getattr(source, name)
    return "open" if value is UNKNOWN else "not stated" if value is None else str(value.text)


def _watt(value: Fraction | float) -> str:
    return str(Measure(value, "power"))


def _missing(gap: Undecided) -> str:
    return f"{gap.name} {'is not known' if gap.stated else 'is not stated'}"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows with their columns aligned: the first to the left, the others to the right."""
    sizes = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]
    for row in (heads, *rows):
        cells = [row[0].ljust(sizes[0]), *(text.rjust(size) for text, size in zip(row[1:], sizes[1:], strict=True))]
        yield "  ".join(cells).rstrip()
