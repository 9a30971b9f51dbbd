"""The sequence of operation of one opening: in the trade's prose, as a table of events, and for each finding about
people who are kept in or a door that stands open, the shortest chain of events that shows it.

Everything is read off the computed matrix; nothing is what somebody hopes the door does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap

from ..context import Context
from ..events import Egress, Event, Ingress, Latch, Lock, Matrix, Row
from ..outcome import Kind, Outcome
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.model import Item, Opening
from .text import CAUTIONS, plain

_WIDTH = 100
_LINK = " -> "
_OPEN = "open"
_CELLS = ("lock", "latch", "egress", "ingress_without", "ingress_with")

_EGRESS = {
    Egress.FREE: "people get out freely",
    Egress.DELAYED: "people get out after the delay",
    Egress.STAFF: "people get out only with staff",
    Egress.IMPOSSIBLE: "NOBODY GETS OUT",
}
_WITHOUT = {
    Ingress.NO: "nobody gets in without a credential",
    Ingress.YES: "anybody gets in",
    Ingress.GRANTED: "anybody gets in while the release lasts",
    Ingress.KEY: "a key alone gets in",
}
_WITH = {
    Ingress.NO: "a credential does not open it and there is no key",
    Ingress.YES: "a valid credential opens it",
    Ingress.GRANTED: "a valid credential opens it",
    Ingress.KEY: "only a mechanical key opens it",
}


def render(result: Result, opening: str) -> str:
    """The sequence of one opening of the spec. KeyError when there is no such opening."""
    return "\n".join(plain(line) for line in _lines(result, opening)) + "\n"


def _lines(result: Result, name: str) -> Iterator[str]:
    if result.spec is None or result.context is None:
        raise KeyError(name)
    opening, context = result.spec.openings[name], result.context
    matrix = context.matrix(opening)
    rooms = " to ".join(str(room) for room in (opening.from_, opening.to) if isinstance(room, str))
    title = opening.title if isinstance(opening.title, str) else rooms
    yield f"Sequence of operation, opening {name}" + (f": {title}" if title else "")
    if isinstance(result.spec.project.name, str):
        yield f"Project: {result.spec.project.name}"
    yield ""
    yield from _wrapped(CAUTIONS[0])
    yield ""
    for paragraph in prose(opening, context):
        yield from _wrapped(paragraph, hanging=2)
    yield ""
    yield "Lock, latch and ways in as met from the unsecured side; egress as met from inside."
    yield ""
    yield from table(matrix)
    yield from _chains(result, name)
    yield ""
    yield from _wrapped(CAUTIONS[1])


# the prose


def prose(opening: Opening, context: Context) -> Iterator[str]:
    """The sequence in sentences, one paragraph for each event; events that change nothing are told together."""
    matrix = context.matrix(opening)
    normal = matrix.row(Event.NORMAL)
    arrangement = context.arrangement(opening)
    kind = arrangement.kind.replace("_", " ") if arrangement.kind is not None else "not settled"
    yield f"Arrangement: {kind}; {arrangement.why}."
    locks = ", ".join(map(_described, context.door(opening).locks))
    yield f"Electric locks: {locks}." if locks else "Electric locks: none."
    yield f"Normal operation, secured hours: {_state(normal)}."
    yield from _schedules(opening)
    unchanged: list[Row] = []
    for row in matrix.rows[1:]:
        if row.event is Event.CREDENTIAL:
            yield _entry(row, normal)
        elif row.event is Event.EGRESS_ACTION:
            yield _way_out(row)
        elif _same(row, normal) and not row.alarms:
            unchanged.append(row)
        else:
            yield _told(row, normal)
    if unchanged:
        yield f"No change in these events: {'; '.join(row.event.title for row in unchanged)}."


def _described(item: Item) -> str:
    sheet = item.sheet
    kind = sheet.kind.replace("_", " ") if sheet is not None and isinstance(sheet.kind, str) else "kind not stated"
    mode = item.fail if isinstance(item.fail, str) else sheet.fail if sheet is not None else None
    fails = f", fail-{mode}" if mode in ("safe", "secure") else ", keeps its state" if mode == "as_is" else ""
    return f"{item.name} ({kind}{fails})"


def _schedules(opening: Opening) -> Iterator[str]:
    held = [item for item in opening.items.values() if isinstance(item.unlock_schedule, Quantity)]
    if not held:
        return
    longest = max(
        held, key=lambda item: item.unlock_schedule.value if isinstance(item.unlock_schedule, Quantity) else 0
    )
    hours = longest.unlock_schedule.text if isinstance(longest.unlock_schedule, Quantity) else ""
    begins = {True: ", beginning when the first person has come in", False: ", beginning by the clock"}
    begin = begins[opening.first_person_in] if isinstance(opening.first_person_in, bool) else ""
    yield f"Unlocked hours: {_names(held)} held unlocked by schedule for at most {hours} without a break{begin}."


def _entry(row: Row, normal: Row) -> str:
    if row.lock is None:
        return f"Entry: {_waits(row)}."
    if row.lock is Lock.LOCKED:
        return f"Entry: a valid credential does not unlock the door; {_entries(row)}."
    text = "Entry: a valid credential unlocks the door"
    if row.relock and normal.lock is not Lock.UNLOCKED:
        text += f"; it locks again {row.relock}"
    if normal.latch is Latch.LATCHED:
        stays = "stays engaged until lever or bar is used" if row.latch is Latch.LATCHED else "is let go as well"
        text += f"; the latch {stays}"
    return f"{text}."


def _way_out(row: Row) -> str:
    text = f"Egress: {_waits(row) if row.egress is None else _EGRESS[row.egress]}"
    if row.lock is Lock.UNLOCKED:
        text += "; the way out unlocks the door" + (f", which locks again {row.relock}" if row.relock else "")
    elif row.lock is Lock.LOCKED and row.egress is Egress.FREE:
        text += " while the door stays locked from outside"
    return f"{text}."


def _told(row: Row, normal: Row) -> str:
    """What an event changes, why, what is reported, and how the door locks again."""
    parts = ["no change"] if _same(row, normal) else list(_changes(row, normal))
    if row.because and not _same(row, normal):
        parts.append(f"because {', '.join(row.because)}")
    parts.append(f"reported: {', '.join(row.alarms)}" if row.alarms else "nothing is reported")
    if row.relock:
        parts.append(f"locks again {row.relock}")
    return f"{_sentence(row.event.title, end=':')} {'; '.join(parts)}."


def _changes(row: Row, normal: Row) -> Iterator[str]:
    """What is not as in normal operation, and what stays although one would ask."""
    if row.lock is None:
        yield "whether the door is locked is open"
    elif row.lock is normal.lock:
        yield f"the door stays {row.lock.value}"
    else:
        yield "the door unlocks" if row.lock is Lock.UNLOCKED else "the door locks"
    if row.latch is None:
        yield "whether it latches is open"
    elif row.latch is not normal.latch:
        yield "the latch is let go" if row.latch is Latch.UNLATCHED else "it latches"
    elif row.latch is Latch.LATCHED and row.lock is not normal.lock:
        yield "it stays latched"
    if row.egress is None:
        yield "egress is open"
    else:
        yield _EGRESS[row.egress]
    if row.ingress_without is Ingress.YES:
        yield _WITHOUT[Ingress.YES]
    elif row.ingress_without is None or row.ingress_with is None:
        yield "entry is open"
    elif row.ingress_with is not normal.ingress_with:
        yield _WITH[row.ingress_with]
    if any(getattr(row, cell) is None for cell in _CELLS):
        yield _waits(row)


def _state(row: Row) -> str:
    lock = "lock open" if row.lock is None else row.lock.value
    latch = {Latch.LATCHED: "latched", Latch.UNLATCHED: "not latched", None: "latch open"}[row.latch]
    ways = ["egress open" if row.egress is None else _EGRESS[row.egress], _entries(row)]
    text = f"{lock} and {latch}; {', '.join(ways)}"
    return f"{text} ({_waits(row)})" if any(getattr(row, cell) is None for cell in _CELLS) else text


def _entries(row: Row) -> str:
    if row.ingress_without is Ingress.YES:
        return _WITHOUT[Ingress.YES]
    if row.ingress_without is None or row.ingress_with is None:
        return "entry open"
    return f"{_WITHOUT[row.ingress_without]}, {_WITH[row.ingress_with]}"


def _waits(row: Row) -> str:
    return f"open until stated: {', '.join(row.missing) or 'the wiring'}"


def _same(row: Row, normal: Row) -> bool:
    return all(getattr(row, cell) == getattr(normal, cell) for cell in _CELLS)


# the table


def table(matrix: Matrix) -> Iterator[str]:
    """The matrix, a line for each event."""
    head = ("event", "lock", "latch", "egress", "in without", "in with", "reported", "locks again")
    lines = [head, *(_columns(row) for row in matrix.rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head) - 1)]
    for line in lines:
        cells = [cell.ljust(width) for cell, width in zip(line, widths, strict=False)]
        yield "  ".join([*cells, line[-1]]).rstrip()
    waiting = [row for row in matrix.rows if any(getattr(row, cell) is None for cell in _CELLS)]
    if waiting:
        yield ""
        yield "Open cells wait for:"
        for row in waiting:
            yield from _wrapped(f"{_short(row.event)}: {', '.join(row.missing) or 'the wiring'}", 2)


def _columns(row: Row) -> tuple[str, ...]:
    cells = (getattr(row, cell) for cell in _CELLS)
    words = tuple(_OPEN if cell is None else str(cell.value) for cell in cells)
    return (_short(row.event), *words, "yes" if row.alarms else "-", row.relock or "-")


def _short(event: Event) -> str:
    return event.value.replace("_", " ")


# the chains


def _chains(result: Result, opening: str) -> Iterator[str]:
    found = chains(result, opening)
    if found:
        yield ""
        yield "What keeps people in or lets anybody in, each with the shortest chain of events that shows it"
    for outcome, more in found:
        waived = f", waived: {outcome.waived}" if outcome.waived else ""
        others = f" ({more} longer or equal not shown)" if more else ""
        yield ""
        yield f"  {outcome.rule} [{outcome.level.value}{waived}]{others}"
        yield from _chain(outcome.message.split(_LINK))


def chains(result: Result, opening: str) -> tuple[tuple[Outcome, int], ...]:
    """The findings about an opening that tell a chain of events: of each rule the one with the shortest chain, and
    how many more it has."""
    by_rule: dict[str, list[Outcome]] = {}
    for outcome in result.outcomes:
        if outcome.kind is Kind.FAIL and outcome.subject.split("/")[0] == opening and _LINK in outcome.message:
            by_rule.setdefault(outcome.rule, []).append(outcome)
    shortest = ((min(group, key=_links), len(group) - 1) for group in by_rule.values())
    return tuple(sorted(shortest, key=lambda one: (-one[0].level.rank, one[0].rule)))


def _links(outcome: Outcome) -> tuple[int, str]:
    return outcome.message.count(_LINK), outcome.message


def _chain(links: Iterable[str]) -> Iterator[str]:
    for number, link in enumerate(links):
        lead = "      " if number == 0 else "   -> "
        yield from wrap(
            link,
            _WIDTH,
            initial_indent=lead,
            subsequent_indent="      ",
            break_long_words=False,
            break_on_hyphens=False,
        )


# words


def _names(items: Iterable[Item]) -> str:
    return ", ".join(item.name for item in items)


def _sentence(text: str, end: str = ".") -> str:
    return f"{text[:1].upper()}{text[1:]}{end}" if text else ""


def _wrapped(text: str, indent: int = 0, hanging: int = 0) -> list[str]:
    first, rest = " " * indent, " " * (indent + hanging)
    return wrap(
        text, _WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )


__all__ = ["chains", "prose", "render", "table"]
