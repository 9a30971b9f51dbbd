"""The one-line wiring diagram of an opening: laid out from the wiring as plain shapes, and told in words.

Power runs from left to right: source, cable, device, cable, load; contacts stand in series on the line. A device
with two feeds is drawn at its first; at the second a box refers to it. What the spec does not state is drawn as open.
All lengths are in user units of the drawing, a text line taking 14 of them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..circuit.feeds import ContactUse, Feed, Terminal, Wiring
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN
from ..spec.model import Coil, Input, Item, Opening, PowerSource, Spec
from .text import plain

BOX_WIDTH = 194
BOX_HEIGHT = 76
ROW = 98
SHORTEST_GAP = 158
CONTACT = 118
_LETTERS = 29
_MARGIN = 6
_TURN = 16  # from a box to the upright part of a line that branches
_SIDES = {
    "unsecured": "unsecured side",
    "secured": "secured side",
    "boundary": "in door or frame",
    "remote": "remote from the door",
}
_ACRONYMS = {"poe": "PoE", "ups": "UPS", "dc": "DC", "ac": "AC"}


@dataclass(frozen=True, slots=True)
class Box:
    """A source or device: its text lines, the first its name. `style`: source, device, again (drawn elsewhere) or
    open (not stated). `unsecured`: whether it stands on the unsecured side."""

    x: int
    y: int
    lines: tuple[str, ...]
    style: str
    unsecured: bool = False
    width: int = BOX_WIDTH
    height: int = BOX_HEIGHT


@dataclass(frozen=True, slots=True)
class Line:
    """A cable as a polyline, with what is written above and below its last stretch, centred at `x`."""

    points: str
    x: int
    y: int
    above: str
    below: str
    open: bool = False
    contacts: bool = False


@dataclass(frozen=True, slots=True)
class Symbol:
    """A contact in series, centred at x, y. `form`: no, nc, or open where the spec does not say."""

    x: int
    y: int
    form: str
    label: str


@dataclass(frozen=True, slots=True)
class Diagram:
    """The drawing and the same in words: `sentences` one for each feed, `signals` one for each signal line, `loose`
    the items that have neither. `shown` is False where there is nothing to draw."""

    width: int
    height: int
    boxes: tuple[Box, ...]
    lines: tuple[Line, ...]
    symbols: tuple[Symbol, ...]
    sentences: tuple[str, ...]
    signals: tuple[str, ...]
    loose: tuple[str, ...]

    @property
    def shown(self) -> bool:
        """Whether there is anything to draw."""
        return bool(self.boxes)


@dataclass
class _Node:
    """A box to be placed, with the feed that leads to it."""

    lines: tuple[str, ...]
    style: str
    unsecured: bool = False
    feed: Feed | None = None
    children: list[_Node] = field(default_factory=list)
    row: int = 0


def draw(opening: Opening, spec: Spec, wiring: Wiring) -> Diagram:
    """The diagram of an opening."""
    unfed = {item.name for item in wiring.unfed if item.opening == opening.id}
    roots = list(_trees(opening, spec, wiring, unfed))
    rows = 0
    for root in roots:
        rows = _rows(root, rows)
    columns = _columns(roots)
    boxes: list[Box] = []
    lines: list[Line] = []
    symbols: list[Symbol] = []
    for root in roots:
        _place(root, 0, columns, boxes, lines, symbols)
    powered = {feed.item.name for item in opening.items.values() for feed in wiring.by_item.get(item.identity, ())}
    signals = [item for item in opening.items.values() if item.signals is not None]
    loose = [
        f"{item.name} ({_kind(item)}, {_stands(item)})"
        for item in opening.items.values()
        if item.name not in powered | unfed and item.signals is None
    ]
    return Diagram(
        width=(columns[-1] + BOX_WIDTH if columns else 0) + 2 * _MARGIN,
        height=rows * ROW - (ROW - BOX_HEIGHT) + 2 * _MARGIN if rows else 0,
        boxes=tuple(boxes),
        lines=tuple(lines),
        symbols=tuple(symbols),
        sentences=tuple(_sentences(roots, spec)),
        signals=tuple(_signal(item) for item in signals),
        loose=tuple(loose),
    )


# --- what is drawn ---


def _trees(opening: Opening, spec: Spec, wiring: Wiring, unfed: Collection[str]) -> Iterator[_Node]:
    feeds = [feed for item in opening.items.values() for feed in wiring.by_item.get(item.identity, ())]
    roots: dict[str, list[Feed]] = {}
    below: dict[str, list[Feed]] = {}
    for feed in feeds:
        owner = feed.terminal.owner
        group = below if isinstance(owner, Item) else roots
        group.setdefault(owner.identity if isinstance(owner, Item) else feed.terminal.identity, []).append(feed)
    drawn: set[str] = set()
    for fed in roots.values():
        root = _Node(_source_lines(fed[0].terminal, spec), "source")
        root.children = [_node(feed, below, drawn) for feed in fed]
        yield root
    for item in opening.items.values():
        if item.identity in drawn or not (item.name in unfed or item.identity in below):
            continue
        root = _Node(("feed open", "the spec does not state", "what feeds this device"), "open")
        root.children = [_device(item, None, below, drawn)]
        yield root


def _node(feed: Feed, below: Mapping[str, list[Feed]], drawn: set[str]) -> _Node:
    if feed.item.identity in drawn:
        lines = (feed.item.name, "second feed", _load_text(feed.load, feed.supply))
        return _Node(lines, "again", feed.item.side == "unsecured", feed)
    return _device(feed.item, feed, below, drawn)


def _device(item: Item, feed: Feed | None, below: Mapping[str, list[Feed]], drawn: set[str]) -> _Node:
    drawn.add(item.identity)
    load = _load_text(feed.load, feed.supply) if feed is not None else ""
    lines = (item.name, _kind(item), load, _stands(item))
    node = _Node(lines, "device", item.side == "unsecured", feed)
    node.children = [_node(other, below, drawn) for other in below.get(item.identity, ())]
    return node


def _source_lines(terminal: Terminal, spec: Spec) -> tuple[str, ...]:
    owner = terminal.owner
    if isinstance(owner, Item):  # a source by its place in the tree, as its own feed is not stated
        return (terminal.label, _kind(owner), "", side_of(owner))
    voltage = shown(terminal.voltage) if terminal.supply != "poe" else ""
    behind = " < ".join(_behind(owner, spec))
    return (terminal.label, words(owner.kind, "kind open"), voltage, f"fed from {behind}" if behind else "")


def _behind(source: PowerSource, spec: Spec) -> list[str]:
    """The sources behind a source, the nearest first."""
    way: list[str] = []
    here: PowerSource | None = source
    while here is not None and isinstance(here.fed_from, str):
        name = here.fed_from.partition(".")[0]
        if name in way or name == source.id:
            break
        way.append(name)
        here = spec.power.get(name)
    return way


def words(value: object, otherwise: str = "open") -> str:
    """A word of the format for people: `electric_strike` reads "electric strike"."""
    if not isinstance(value, str):
        return otherwise
    return " ".join(_ACRONYMS.get(part, part) for part in value.split("_"))


def shown(value: object) -> str:
    """A magnitude as it was written; "open" where it is not stated."""
    return value.text if isinstance(value, Quantity | Band) else "open"


def side_of(item: Item) -> str:
    """On which side of the door an item stands."""
    return _SIDES.get(item.side, item.side) if isinstance(item.side, str) else "side open"


def _kind(item: Item) -> str:
    if item.sheet is None:
        return "product open"
    return words(item.sheet.kind, "kind open")


def _stands(item: Item) -> str:
    """The side that an item stands on, and what it does without power where it is a lock."""
    fail = item.fail if item.fail is not None or item.sheet is None else item.sheet.fail
    return f"{side_of(item)}, fail {fail}" if isinstance(fail, str) and fail in ("safe", "secure") else side_of(item)


def _load_text(load: Coil | Input, supply: str) -> str:
    if supply == "poe" and isinstance(load, Input):
        return f"PoE class {load.poe_class}" if isinstance(load.poe_class, int) else "PoE class open"
    draw = getattr(load, "current", None)
    power = getattr(load, "power", None)
    taken = shown(power) if draw is None and power is not None else shown(draw)
    return f"{shown(load.voltage)}, {taken}"


# --- the layout ---


def _rows(node: _Node, row: int) -> int:
    """Give each leaf a row of its own, a node the row of its first child; the first row left free."""
    node.row = row
    for child in node.children:
        row = _rows(child, row)
    return max(row, node.row + 1)


def _columns(roots: Iterable[_Node]) -> list[int]:
    """The left edge of each column: the gaps are as wide as the contacts in them need."""
    gaps: list[int] = []

    def measure(node: _Node, depth: int) -> None:
        for child in node.children:
            while len(gaps) <= depth:
                gaps.append(SHORTEST_GAP)
            contacts = len(child.feed.contacts) if child.feed is not None else 0
            gaps[depth] = max(gaps[depth], contacts * CONTACT + 2 * _TURN + 8)
            measure(child, depth + 1)

    found = False
    for root in roots:
        found = True
        measure(root, 0)
    columns = [_MARGIN]
    for gap in gaps:
        columns.append(columns[-1] + BOX_WIDTH + gap)
    return columns if found else []


def _place(
    node: _Node, depth: int, columns: list[int], boxes: list[Box], lines: list[Line], symbols: list[Symbol]
) -> None:
    x, y = columns[depth], _MARGIN + node.row * ROW
    size = _LETTERS
    boxes.append(Box(x, y, tuple(fit(line, size) for line in node.lines), node.style, node.unsecured))
    for child in node.children:
        start, end = x + BOX_WIDTH, columns[depth + 1]
        from_y = y + BOX_HEIGHT // 2
        to_y = _MARGIN + child.row * ROW + BOX_HEIGHT // 2
        points = [(start, from_y), (end, to_y)]
        if from_y != to_y:
            points = [(start, from_y), (start + _TURN, from_y), (start + _TURN, to_y), (end, to_y)]
        feed = child.feed
        middle = (start + _TURN + end) // 2
        letters = (end - start - _TURN) // 7
        lines.append(
            Line(
                points=" ".join(f"{a},{b}" for a, b in points),
                x=middle,
                y=to_y,
                above=fit(_cable(feed.item), letters) if feed is not None else "",
                below=fit(_beside(feed.item), letters) if feed is not None else "",
                open=feed is None,
                contacts=feed is not None and bool(feed.contacts),
            )
        )
        contacts = feed.contacts if feed is not None else ()
        for index, use in enumerate(contacts):
            offset = (2 * index - len(contacts) + 1) * CONTACT // 2
            symbols.append(Symbol(middle + offset, to_y, form_of(use), fit(_contact_label(use), CONTACT // 7)))
        _place(child, depth + 1, columns, boxes, lines, symbols)


def fit(text: str, letters: int) -> str:
    """`text` as it is shown, cut to a width in letters (wide characters count twice)."""
    safe = plain(text)
    if sum(map(_width, safe)) <= letters:
        return safe
    taken, width = "", 0
    for char in safe:
        width += _width(char)
        if width > letters - 1:
            break
        taken += char
    return taken.rstrip() + "…"


def _width(char: str) -> int:
    return 1 if char.isascii() else 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1


# --- what is written at a line ---


def _cable(item: Item) -> str:
    cable = item.cable if isinstance(item.cable, str) else ""
    if not cable and item.length is None:
        return "cable open"
    return f"{shown(item.length)} {cable}" if item.length is not None else f"{cable}, length open"


def _beside(item: Item) -> str:
    return f"through {item.through_transfer}" if isinstance(item.through_transfer, str) else ""


def form_of(use: ContactUse) -> str:
    """no or nc: the terminal that is wired, else the form of a contact that has only one; open otherwise."""
    form = use.terminal or use.contact.form
    return form if isinstance(form, str) and form in ("no", "nc") else "open"


def _contact_label(use: ContactUse) -> str:
    owner = use.owner.name if isinstance(use.owner, Item) else use.owner.id
    return f"{owner}.{use.name}"


_FORMS = {"no": "normally open", "nc": "normally closed", "open": "terminal open"}


def _sentences(roots: Iterable[_Node], spec: Spec) -> Iterator[str]:
    for root in roots:
        for node in _walk(root):
            if node is root:
                continue
            if node.feed is None:
                yield f"{_described(node)}: what feeds it is open"
            else:
                yield _told(node.feed, node, spec)


def _walk(node: _Node) -> Iterator[_Node]:
    yield node
    for child in node.children:
        yield from _walk(child)


def _described(node: _Node) -> str:
    """A box in words: its name, then the rest in brackets."""
    rest = ", ".join(line for line in node.lines[1:] if line)
    return f"{node.lines[0]} ({rest})" if rest else node.lines[0]


def _told(feed: Feed, node: _Node, spec: Spec) -> str:
    terminal = feed.terminal
    if isinstance(terminal.owner, Item):
        start = terminal.label
    else:
        start = _described(_Node(_source_lines(terminal, spec), "source"))
    item = feed.item
    parts = [f"from {start}", _cable_told(item)]
    if isinstance(item.through_transfer, str):
        parts.append(f"through the power transfer {item.through_transfer}")
    if isinstance(item.shares_return_with, str) and item.shares_return_with != "none":
        parts.append(f"sharing its return with {item.shares_return_with}")
    for use in feed.contacts:
        why = "released by" if use.why == "released_by" else "switched by"
        parts.append(f"{why} {_contact_label(use)} ({_FORMS[form_of(use)]})")
    suppression = _suppression(item) if isinstance(feed.load, Coil) else ""
    return ", ".join(parts) + f", to {_described(node)}" + (f"; {suppression}" if suppression else "")


def _cable_told(item: Item) -> str:
    cable = f"of {item.cable}" if isinstance(item.cable, str) else "of a cable that is open"
    length = item.length.text if isinstance(item.length, Quantity) else "an open length"
    return f"{length} {cable}"


def _suppression(item: Item) -> str:
    if item.suppression_unknown:
        return "suppression open"
    fitted = [f"{one.product} {words(one.location, 'at an open place')}" for one in item.suppression]
    coil: Any = item.sheet.coil if item.sheet is not None else None
    built_in = getattr(coil, "built_in_suppression", None)
    if isinstance(built_in, str) and built_in != "none":
        fitted.append(f"{words(built_in)} built in")
    if fitted:
        return "suppression: " + ", ".join(fitted)
    return "no suppression" if item.no_suppression else "suppression open"


def _signal(item: Item) -> str:
    target = "open" if item.signals is UNKNOWN or item.signals == "unknown" else str(item.signals).replace(".", ", ", 1)
    return f"{item.name} ({_kind(item)}, {_stands(item)}) signals to {words(target)}"
