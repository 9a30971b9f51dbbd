"""The power schedule: what each supply, UPS and transformer carries, load by load and in all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from ..circuit.demand import own_current, steady
from ..circuit.feeds import Feed
from ..circuit.rest import peak_of, rest_of
from ..circuit.supplies import FEEDERS, LOAD_SHARE, Supplies, full_load_current
from ..context import Context
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.model import PowerSource
from .tables import NONE, Cell, Column, Table, computed, found, number, optional, stated, text

SOURCES = (
    Column("source"), Column("title"), Column("kind"), Column("fed from"), Column("voltage"),
    Column("rated", "A"), Column("available at its ambient", "A"), Column("steady load", "A"),
    Column("share used", "%"), Column("share meant for use", "%"), Column("at rest", "A"),
    Column("locks that act at once"), Column("peak with them", "A"), Column("all loads peak at once", "A"),
    Column("rated peak", "A"),
)  # fmt: skip
LOADS = (
    Column("source"), Column("output"), Column("load"), Column("voltage"), Column("with what it passes on to"),
    Column("steady", "A"), Column("peak", "A"), Column("at rest", "A"), Column("at rest it is"),
)  # fmt: skip


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each source that feeds by voltage, and one for each load on it. PoE has a list of its own."""
    sources = [source for source in context.spec.power.values() if source.kind in FEEDERS]
    return (
        Table(
            "sources",
            "Supplies, UPS and transformers",
            SOURCES,
            tuple(_source(source, context.supplies) for source in sources),
            notes=(
                "Steady: every load of the source on. The highest peak is that of the locks that act at once, above "
                "the steady load of all.",
            ),
        ),
        Table("loads", "Loads of each source", LOADS, tuple(_loads(sources, context.supplies)), notes=(
            "At rest: secured hours, nothing happening; what the standby time is computed with.",
        )),
    )  # fmt: skip


def _amps(value: Callable[[], Fraction | None]) -> Cell:
    return computed(value, "current", "A")


def _source(source: PowerSource, supplies: Supplies) -> tuple[Cell, ...]:
    head = (
        text(source.id, "id"),
        optional(source.title),
        text(source.kind, "kind"),
        optional(source.fed_from),
        text(source.voltage, "voltage"),
        stated(source, "current", "current", "A"),
    )
    meant = LOAD_SHARE.value(supplies.spec.practice)
    if isinstance(source.load_share, Quantity):
        meant = source.load_share.value
    if not supplies.carries(source):
        rated_peak = stated(source, "peak", "current", "A")
        return (*head, _available(source), NONE, NONE, number(meant, "ratio", "%"), *(NONE,) * 4, rated_peak)

    def share() -> Fraction | None:
        available = full_load_current(source).value
        return supplies.steady(source).value / available if available else None

    return (
        *head,
        _available(source),
        _amps(lambda: supplies.steady(source).value),
        computed(share, "ratio", "%"),
        number(meant, "ratio", "%"),
        _amps(lambda: _at_rest(supplies, source)),
        found(lambda: _group(supplies, source)),
        _amps(lambda: _group_peak(supplies, source)),
        _amps(lambda: supplies.all_at_once(source).value),
        stated(source, "peak", "current", "A"),
    )


def _available(source: PowerSource) -> Cell:
    return _amps(lambda: full_load_current(source).value)


def _at_rest(supplies: Supplies, source: PowerSource) -> Fraction:
    profile = supplies.profile(source)
    return profile.base + sum((current for _, current in profile.more), Fraction(0))


def _group(supplies: Supplies, source: PowerSource) -> Cell:
    group = supplies.worst_group(source)
    return NONE if group is None else text(f"{group.name}: {', '.join(f.identity for f in group.feeds)}", "group")


def _group_peak(supplies: Supplies, source: PowerSource) -> Fraction | None:
    group = supplies.worst_group(source)
    return None if group is None else supplies.steady(source).value + group.extra


def _loads(sources: list[PowerSource], supplies: Supplies) -> Iterator[tuple[Cell, ...]]:
    for source in sources:
        for output in supplies.outputs(source):
            for feed in output.feeds:
                yield _load(source, output.terminal.name, feed, supplies)
        for fed in supplies.fed_sources(source):
            taken = _amps(lambda fed=fed, source=source: supplies.taken_current(fed, source))  # type: ignore[misc]
            yield (text(source.id, "id"), NONE, text(fed.id, "id"), text(source.voltage, "voltage"), NONE, taken, taken,
                   taken, "always on")  # fmt: skip


def _load(source: PowerSource, output: str, feed: Feed, supplies: Supplies) -> tuple[Cell, ...]:
    passed = [fed.item.name for below in supplies.passed_on_outputs(feed) for fed in below.feeds]
    return (
        text(source.id, "id"),
        text(output or "main", "output"),
        text(feed.identity, "item"),
        text(feed.terminal.voltage, "voltage"),
        text(", ".join(passed), "item") if passed else NONE,
        _amps(lambda: steady(feed, supplies.wiring)),
        _amps(lambda: steady(feed, supplies.wiring) + peak_of(feed) - own_current(feed)),
        _amps(lambda: supplies.at_rest(feed, "most")),
        found(lambda: text(rest_of(feed).why, "rest")),
    )
