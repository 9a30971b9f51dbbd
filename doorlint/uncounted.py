"""What may come on top of what a rule counts: devices whose wiring or product the author gives as `unknown`.

A sum of loads, or a statement that an opening has no device of some kind, holds only if every device that might belong
to it is known. The functions here give the fields that keep it from holding, for `Rule.incomplete`: where there are
any, a pass becomes *open*. What is not stated at all is judged by the rules on unfed and undescribed devices.

All of it is asked of the context in a way that costs nothing where the spec has no such device.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from typing import Any, Final

from .circuit.feeds import Feed, LoadedContact, LoadedOutput, Terminal, ports
from .circuit.poe_links import PoeLink, PoeSource
from .context import Context
from .egress import undescribed
from .spec.fields import UNKNOWN, Part, Undecided, each_once
from .spec.model import Item, Opening, PowerSource, Project, Spec

Gaps = Sequence[Undecided]
Incomplete = Callable[[Any, Context], Gaps]
"""As `Rule.incomplete` takes it."""

Outputs = tuple[Item | PowerSource, str | None]
"""One output of a device or source; without a name, all of its outputs."""


def loads(counted: LoadedOutput | PowerSource | PoeSource | PoeLink | Item, context: Context) -> Gaps:
    """The devices that may draw on an output, or on any output of a device or source, besides those known to."""
    owner, name = _outputs(counted)
    if isinstance(owner, Item):
        return [gap for item in _obscure(context.opening(owner)) for gap in _on(item, [(owner, name)], context)]
    found = [gap for item in _anywhere(context) for gap in _on(item, [(owner, name)], context)]
    return [*found, *_sources_on(owner, context)] if isinstance(counted, PowerSource) else found


def through(loaded: LoadedContact, context: Context) -> Gaps:
    """The devices whose current may run through a contact besides those that are known to."""
    use = loaded.use
    if isinstance(use.owner, Item):
        near: Iterable[Item] = context.opening(use.owner).items.values()
    else:
        near = _anywhere(context)
    gaps = []
    for item in near:
        if not _may_draw(item):
            continue
        for field in ("switched_by", "released_by"):
            if _unknown(item, field):
                gaps.append(_gap(item, field))
            elif any(_names(written, use.owner, use.name) for written in _stated(item, field)):
                gaps += [_gap(item, other) for other in ("product", "fed_from") if _unknown(item, other)]
    return gaps


def in_feed(item: Item, context: Context, depth: int = 0) -> Gaps:
    """What may stand in the feed of an item besides the contacts that are known to: contacts of devices of which it is
    not known what they are, and contacts that are given as unknown. depth: how many relays are looked through."""
    others, gaps = context.opening(item).items, []
    for field in ("released_by", "switched_by"):
        if _unknown(item, field):
            gaps.append(_gap(item, field))
        for name in dict.fromkeys(written.partition(".")[0] for written in _stated(item, field)):
            owner = others.get(name)
            if owner is None:
                continue
            gaps += [gap for gap in devices(item, context) if _about(owner, gap)]
            if depth and owner is not item:
                gaps += [_gap(owner, "fed_from")] if _unknown(owner, "fed_from") else []
                gaps += in_feed(owner, context, depth - 1)
    return gaps


def sharing(feed: Feed, context: Context) -> Gaps:
    """The devices of an opening that may draw their current through conductors of a feed."""
    shared = [(feed.item, None), *((one.owner, None) for one in feed.chain if isinstance(one.owner, Item))]
    opening = context.opening(feed.item)
    return [gap for item in _obscure(opening) if item is not feed.item for gap in _on(item, shared, context)]


def devices(subject: Opening | Item | Feed | Any, context: Context) -> Gaps:
    """The entries of an opening of which it is not known what device they are."""
    return list(undescribed(_opening(subject, context)))


def devices_of_all(_: Project, context: Context) -> Gaps:
    """The entries of all openings of which it is not known what device they are, or how they are wired."""
    def found() -> tuple[Undecided, ...]:
        gaps = [gap for opening in context.spec.openings.values() for gap in undescribed(opening)]
        for item in _anywhere(context):
            fields = ("fed_from", "switched_by", "released_by") if _may_draw(item) else ()
            gaps += [_gap(item, field) for field in fields if _unknown(item, field)]
        return tuple(gaps)

    gaps: Gaps = context.once("entries that may be any device, or wired anywhere", found)
    return gaps


def where_unknown(*paths: str) -> Incomplete:
    """The fields at these paths that say `unknown`. A path goes from the subject by attributes, through every entry of
    a list or mapping; one that begins with `opening.`, `items.` or `project.` goes from the subject's opening, from
    each of its entries, or from the project."""

    def found(subject: Any, context: Context) -> Gaps:
        starts: Mapping[str, Callable[[], Any]] = {
            "opening": lambda: _opening(subject, context),
            "items": lambda: _opening(subject, context).items,
            "project": lambda: context.spec.project,
        }
        gaps: list[Undecided] = []
        for path in paths:
            first, _, rest = path.partition(".")
            here = starts[first]() if first in starts else subject
            gaps += _along(here, (rest if first in starts else path).split("."))
        return list({gap.place: gap for gap in gaps}.values())

    return found


def insist(gaps: Gaps) -> None:
    """Raise the first gap, if there is one. For a finding that rests on there being no such device, or no other: where
    there may be one, nothing is found yet."""
    for gap in gaps:
        raise gap


def together(*each: Incomplete) -> Incomplete:
    """What any of these gives."""
    return lambda subject, context: [gap for one in each for gap in one(subject, context)]


def _along(here: Any, path: Sequence[str]) -> Iterator[Undecided]:
    if isinstance(here, Mapping | tuple):
        for one in here.values() if isinstance(here, Mapping) else here:
            yield from _along(one, path)
        return
    if here is None or here is UNKNOWN:
        return
    if isinstance(here, Part) and _unknown(here, path[0]):
        yield Undecided(path[0], here.at(path[0]), stated=True)
    elif len(path) > 1:
        yield from _along(getattr(here, path[0], None), path[1:])


def returns(feed: Feed, context: Context) -> Gaps:
    """The devices that may send their current back through the conductor of a feed."""
    gaps: list[Undecided] = []
    for item in context.opening(feed.item).items.values():
        if item.shares_return_with is not None and item is not feed.item:
            fields = ("shares_return_with", "product", "fed_from")
            gaps += [_gap(item, field) for field in fields if _unknown(item, field)]
    return gaps


def schedules(source: PowerSource, context: Context) -> Gaps:
    """The loads of a source of which it is not known how long a schedule unlocks them."""
    items = [feed.item for feed in context.supplies.feeds(source)]
    return [_gap(item, "unlock_schedule") for item in items if _unknown(item, "unlock_schedule")]


def warmth(subject: Any, context: Context) -> Gaps:
    """What keeps the temperature around an opening from being known, where it is given as unknown."""
    opening = _opening(subject, context)
    return where_unknown("opening.ambient" if opening.ambient is not None else "project.site.ambient")(subject, context)


def on_buses(_: Project, context: Context) -> Gaps:
    """The devices of which it is not known on which data bus they are."""
    items = (item for opening in context.spec.openings.values() for item in opening.items.values())
    return [_gap(item, "bus") for item in items if _unknown(item, "bus")]


def _about(item: Item, gap: Undecided) -> bool:
    """Whether a gap is about what device an item is."""
    return gap.place in (item.at("product"), item.sheet.at("kind") if item.sheet is not None else None)


def _outputs(counted: LoadedOutput | PowerSource | PoeSource | PoeLink | Item) -> Outputs:
    """The outputs of which the loads are counted."""
    if isinstance(counted, LoadedOutput):
        return counted.terminal.owner, counted.terminal.name
    if isinstance(counted, PoeSource):
        return counted.source, None
    return (counted.feed.item if isinstance(counted, PoeLink) else counted), None


def _opening(subject: Any, context: Context) -> Opening:
    if isinstance(subject, Opening):
        return subject
    item = subject if isinstance(subject, Item) else getattr(subject, "item", None) or subject.feed.item
    return context.opening(item)


def _obscure(opening: Opening) -> Iterator[Item]:
    """The entries that may draw power and do not say from what, or of which it is not known what they are."""
    for item in opening.items.values():
        if _unknown(item, "product") or (_unknown(item, "fed_from") and _may_draw(item)):
            yield item


def _anywhere(context: Context) -> Sequence[Item]:
    """The entries of the whole spec whose wiring is not known. Nothing is listed where the spec has none."""

    def any_there(spec: Spec) -> bool:
        items = (item for opening in spec.openings.values() for item in opening.items.values())
        return any(map(_unwired, each_once(items)))

    if not context.fact("an entry whose wiring is not known", any_there):
        return ()
    found: Sequence[Item] = context.once(
        "entries whose wiring is not known",
        lambda: tuple(i for o in context.spec.openings.values() for i in o.items.values() if _unwired(i)),
    )
    return found


_WIRING: Final = attrgetter("product", "fed_from", "switched_by", "released_by")


def _unwired(item: Item) -> bool:
    return any(map(_is_unknown, _WIRING(item)))


def _on(item: Item, terminals: Iterable[Outputs], context: Context) -> Iterator[Undecided]:
    """What is not known of an entry that may hang on one of these outputs (None: on any output of the owner)."""
    if _unknown(item, "fed_from"):
        if _may_draw(item):
            yield _gap(item, "fed_from")
    elif _unknown(item, "product"):
        feeds = _stated(item, "fed_from")
        if any(_leads(written, item, owner, name, context) for written in feeds for owner, name in terminals):
            yield _gap(item, "product")


def _leads(written: str, item: Item, owner: Item | PowerSource, name: str | None, context: Context) -> bool:
    """Whether an entry of `fed_from` leads to an output, directly or through devices."""
    if isinstance(owner, Item) and owner.opening != item.opening:
        return False
    if _names(written, owner, name):
        return True
    between = context.opening(item).items.get(written.partition(".")[0])
    feeds = context.wiring.by_item.get(between.identity, ()) if between is not None else ()
    return any(_is(terminal, owner, name) for feed in feeds for terminal in feed.chain)


def _is(terminal: Terminal, owner: Item | PowerSource, name: str | None) -> bool:
    return terminal.owner is owner and name in (None, terminal.name)


def _names(written: str, owner: Item | PowerSource, name: str | None) -> bool:
    """Whether a reference such as `psu.ch1` or `rc.relay.no` names an output or contact of an owner; a bare name may
    mean its only one."""
    parts = written.split(".")
    own = owner.name if isinstance(owner, Item) else owner.id
    return parts[0] == own and (name is None or len(parts) == 1 or parts[1] in (name, "no", "nc"))


def _sources_on(source: PowerSource, context: Context) -> Iterator[Undecided]:
    """The sources that may be fed from this one."""
    unfed: Sequence[PowerSource] = context.once(
        "sources of which it is not known what feeds them",
        lambda: tuple(s for s in context.spec.power.values() if s.fed_from is UNKNOWN),
    )
    for other in unfed:
        if other is not source:
            yield Undecided("fed_from", other.at("fed_from"), stated=True)


def _may_draw(item: Item) -> bool:
    sheet = item.sheet
    return _unknown(item, "product") or (sheet is not None and (sheet.kind is UNKNOWN or bool(ports(item))))


def _unknown(part: Part, field: str) -> bool:
    return _is_unknown(getattr(part, field, None))


def _is_unknown(value: object) -> bool:
    return value is UNKNOWN or (isinstance(value, tuple) and "unknown" in value)


def _stated(item: Item, field: str) -> Sequence[str]:
    value = getattr(item, field)
    return value if isinstance(value, tuple) else ()


def _gap(item: Item, field: str) -> Undecided:
    return Undecided(field, item.at(field), stated=True)
