"""Computed figures beside the lines that they follow from: voltages at devices, loads of sources, with margins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from ..outcome import Kind, Outcome
from ..report.text import figure, plain
from .judged import computed
from .links import text_of
from .spot import pointer, value_at
from .view import View

AT_DEVICES: Final = (
    "supply/voltage-below-minimum",
    "supply/voltage-sags-at-peak",
    "supply/hot-coil-below-pull-in",
    "poe/draw-above-available-power",
)
AT_SOURCES: Final = (
    "power/load-over-rating",
    "power/load-over-share",
    "poe/budget-exceeded",
    "battery/capacity-too-small",
)
_OPENINGS: Final = 3
"""Openings of a hardware set whose figures are looked at for the worst."""


@dataclass(frozen=True, slots=True)
class Hint:
    """A few words shown at an offset of the text, and what they mean."""

    offset: int
    text: str
    about: str


def hints(view: View, start: int, end: int) -> tuple[Hint, ...]:
    """The figures for the devices and sources between two offsets."""
    if view.result is None or view.result.spec is None or not isinstance(view.part.document.tree, dict):
        return ()
    found = [*_devices(view, start, end), *_sources(view, start, end)]
    return tuple(sorted(found, key=lambda hint: hint.offset))


def _devices(view: View, start: int, end: int) -> Iterator[Hint]:
    assert view.result is not None and view.result.spec is not None
    for section in ("openings", "hardware_sets"):
        for owner, items in _listed(view, section, start, end):
            openings = [owner] if section == "openings" else list(view.ids.users.get(owner, ()))[:_OPENINGS]
            if section == "openings" and owner not in view.result.spec.openings:
                continue
            outcomes = list(computed(view.result, openings, AT_DEVICES))
            for item in items:
                offset = _end(view, (section, owner, "items", item))
                about = [o for o in outcomes if o.subject.partition("/")[2] == item]
                if offset is not None and start <= offset <= end:
                    yield from _hint(offset, about, named=section != "openings")


def _sources(view: View, start: int, end: int) -> Iterator[Hint]:
    assert view.result is not None
    tree = view.part.document.tree
    power = tree.get("power") if isinstance(tree, dict) else None
    for key in power if isinstance(power, dict) else ():
        offset = _end(view, ("power", key))
        if offset is not None and start <= offset <= end:
            found = [o for o in computed(view.result, (key,), AT_SOURCES) if o.subject == key]
            for rule in AT_SOURCES:
                yield from _hint(offset, [o for o in found if o.rule == rule], named=False)


def _listed(view: View, section: str, start: int, end: int) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The openings or sets that reach into a region, with the items that stand in them."""
    document = view.part.document
    entries = document.tree.get(section)
    for key, value in (entries if isinstance(entries, dict) else {}).items():
        region = document.region(pointer((section, key)))
        now = view.part.carry.region(region.start, region.end)
        items = value_at(value, ("items",))
        if isinstance(items, dict) and (now is None or (now[0] <= end and now[1] >= start)):
            yield text_of(key), tuple(items)


def _end(view: View, tokens: tuple[str, ...]) -> int | None:
    """Where a hint about an entry stands: behind its key, or behind its value where that is in brackets."""
    document = view.part.document
    value = document.region(pointer(tokens))
    if document.source(value)[:1] == "{":
        at = value.end
    else:
        at = document.region(pointer(tokens), "key").end
        at += 1 if document.text[at : at + 1] == ":" else 0
    now = view.part.carry.region(at, at)
    return now[0] if now is not None else None


def _hint(offset: int, outcomes: Iterable[Outcome], *, named: bool) -> Iterator[Hint]:
    """The outcome with the least margin for its limit, in a few words."""
    judged = [o for o in outcomes if o.measured is not None and o.margin is not None and o.limit is not None]
    if not judged:
        return
    worst = min(judged, key=_share)
    assert worst.measured is not None and worst.margin is not None
    sign = "" if worst.margin.value < 0 else "+"
    where = f" at {plain(worst.subject.partition('/')[0])}" if named else ""
    mark = " not in order" if worst.kind is Kind.FAIL else ""
    text = f"{figure(worst.measured)}{where}, margin {sign}{figure(worst.margin)}{mark}"
    yield Hint(offset, text, plain(f"{worst.subject}: {worst.message} [{worst.rule}]"))


def _share(outcome: Outcome) -> float:
    """The margin as a share of the limit."""
    assert outcome.margin is not None and outcome.limit is not None
    limit = abs(float(outcome.limit.value))
    return float(outcome.margin.value) / limit if limit else float(outcome.margin.value)
