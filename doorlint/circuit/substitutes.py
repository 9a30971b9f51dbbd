"""Single changes that a spec itself suggests: another product of the same kind, another source, another suppressor.

They are proposals: the review tries each on a copy and offers those that cure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..outcome import Change, Repair
from ..quantity import Band
from ..spec.fields import Undecided
from ..spec.model import Coil, Item, PowerSource, Product, Spec, Suppression, Suppressor
from .feeds import Feed, LoadedContact
from .tolerance import voltage_taken

MOST_TRIED = 6


def as_yaml(name: str) -> str:
    """An id as YAML text that reads as text."""
    plain = name.replace("-", "").replace("_", "").replace(".", "")
    return name if plain.isalnum() and not name[0].isdigit() else f'"{name}"'


def other_products(item: Item, spec: Spec) -> Iterator[Repair]:
    """Other products of the spec of the same kind and fail mode, in the order of their ids."""
    sheet = item.sheet
    if sheet is None:
        return
    same = [p for p in spec.products.values() if p.kind == sheet.kind and p.fail == sheet.fail and p.id != sheet.id]
    for product in sorted(same, key=lambda p: p.id)[:MOST_TRIED]:
        title = f"use {product.id} in place of {sheet.id} for {item.name}"
        yield Repair(title, (Change(item.at("product"), as_yaml(product.id)),))


def other_sources(feed: Feed, spec: Spec, *, life_safety: bool = False) -> Iterator[Repair]:
    """Supplies of the spec whose voltage the load takes."""
    try:
        taken, _ = voltage_taken(feed.load, spec.practice)
    except Undecided:
        return
    found = 0
    for source in spec.power.values():
        for name, voltage in _voltages(source):
            inside = voltage.low >= taken.low and voltage.high <= taken.high
            if inside and name != feed.terminal.label and found < MOST_TRIED:
                found += 1
                yield Repair(f"feed {feed.item.name} from {name}", (Change(feed.place, as_yaml(name)),), life_safety)


def _voltages(source: PowerSource) -> Iterator[tuple[str, Band]]:
    if source.kind != "power_supply":
        return
    if isinstance(source.voltage, Band) and not source.outputs:
        yield source.id, source.voltage
    for name, output in source.outputs.items():
        voltage = output.voltage if isinstance(output.voltage, Band) else source.voltage
        if isinstance(voltage, Band):
            yield f"{source.id}.{name}", voltage


def suppressors(item: Item, spec: Spec) -> Iterator[Repair]:
    """Suppressors of the spec, fitted at the lock: those that conduct both ways first."""
    for part in _parts(spec)[:MOST_TRIED]:
        title = f"fit {part.id} at {item.name}"
        if item.suppression or item.no_suppression:
            yield Repair(title, (Change(item.at("suppression"), as_yaml(part.id)),))
        else:
            yield Repair(title, (Change(item.place, as_yaml(part.id), key="suppression"),))


def _parts(spec: Spec) -> list[Product]:
    """The suppressors of the spec whose ratings are stated; those that conduct one way last."""
    parts = [p for p in spec.products.values() if p.kind == "suppressor" and isinstance(p.suppressor, Suppressor)]
    return sorted(parts, key=_polarised_last)


def _polarised_last(part: Product) -> tuple[bool, str]:
    kind = part.suppressor.type if isinstance(part.suppressor, Suppressor) else None
    return kind in ("diode", "tvs_unidirectional"), part.id


def lighter_loads(feeds: Iterable[Feed], spec: Spec) -> tuple[Repair, ...]:
    """What takes load off an output: another product in place of a load, or a load fed from a supply of the spec."""
    listed = list(feeds)
    swaps = [repair for feed in listed for repair in other_products(feed.item, spec)]
    moves = [repair for feed in listed for repair in other_sources(feed, spec)]
    return (*swaps, *moves)


def contact_repairs(loaded: LoadedContact, spec: Spec) -> tuple[Repair, ...]:
    """What takes load off a contact: a suppressor where a coil has none, another product for load or contact."""
    fitted = [
        repair
        for feed in loaded.feeds
        if isinstance(feed.load, Coil) and not feed.item.suppression
        for repair in suppressors(feed.item, spec)
    ]
    owner = loaded.use.owner
    others = list(other_products(owner, spec)) if isinstance(owner, Item) else []
    return (*fitted, *others, *(repair for feed in loaded.feeds for repair in other_products(feed.item, spec)))


def suppressor_swaps(fitted: Suppression, spec: Spec) -> tuple[Repair, ...]:
    """Other suppressors of the spec in place of a fitted one."""
    others = [part for part in _parts(spec) if part.id != fitted.product][:MOST_TRIED]
    place = fitted.at("product")
    return tuple(Repair(f"fit {p.id} in place of {fitted.product}", (Change(place, as_yaml(p.id)),)) for p in others)
