"""The report as text: GNU message lines, the source beneath with the exact text marked, and the counts.

The lines are for people at a desk and for programs that read `file:line:column: level: message [rule]`.
Columns count code points from 1.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..outcome import Kind, Level, Measure, Outcome, Place, Related, Repair

if TYPE_CHECKING:
    from ..document import Document
    from ..reviewing import Result

CAUTIONS = (
    "This is a design check by computation. It does not replace the adopted codes, the authority having "
    "jurisdiction or a licensed professional.",
    "Its results hold only for the data given; what is open or for review has not been found in order.",
)
INCOMPLETE = "The review is incomplete: input could not be read or a rule broke. Nothing counts as in order."
WAIVED = "waived"
"""The word that asks for waived failures beside the kinds of outcome."""
SHOWN = frozenset({Kind.OPEN.value, Kind.REVIEW.value})
"""What is listed besides failures when nothing else is asked for."""

_INDENT = "    "
_TAB = 4
_NAMES_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Where:
    """A place found in its document: offsets and 1-based code-point columns; `end` is just behind the last
    character."""

    document: Document
    start: int
    end: int
    line: int
    column: int
    end_line: int
    end_column: int

    @property
    def text(self) -> str:
        """The text that the place covers."""
        return self.document.text[self.start : self.end]


def where(result: Result, place: Place) -> Where | None:
    """Where `place` stands; None for a file that could not be read, or a pointer that leads nowhere."""
    document = result.documents.get(place.file)
    if document is None:
        return None
    try:
        region = result.region(place)
        line, column = document.position(region.start)
        end_line, end_column = document.position(region.end)
    except LookupError:
        return None
    return Where(document, region.start, region.end, line, column, end_line, end_column)


def render(results: Sequence[Result], *, shown: Collection[str] = SHOWN, width: int = 100) -> str:
    """The whole report, for one spec or several. `shown` names what is listed besides failures: kinds of
    outcome, and `waived`. Source lines are cut to `width` columns around the place."""
    return "".join(f"{line}\n" for line in lines(results, shown=shown, width=width))


def lines(results: Sequence[Result], *, shown: Collection[str] = SHOWN, width: int = 100) -> Iterator[str]:
    """The lines of the report, without line ends, safe to print: what would steer a terminal is escaped."""
    for result in results:
        if len(results) > 1:
            yield plain(f"Spec {result.root}")
            yield ""
        for group in _groups(outcome for outcome in result.of_kinds(*_kinds(shown)) if _listed(outcome, shown)):
            yield from map(plain, _entry(result, group, width))
            yield ""
    yield from map(plain, _summary(results, shown))


def plain(text: str) -> str:
    """`text` with every control, format and surrogate character written as its code point, so that it cannot
    steer the terminal or reverse what is read."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown_as(char) for char in text)


def _shown_as(char: str) -> str:
    category = unicodedata.category(char)
    # Two format characters stay: scripts need them inside words, and they reverse nothing.
    if category in ("Cc", "Cs", "Zl", "Zp") or (category == "Cf" and char not in "\u200c\u200d"):
        return f"<U+{ord(char):04X}>"
    return char


def _kinds(shown: Collection[str]) -> list[Kind]:
    """The kinds of which anything may be listed; the others need not even be told."""
    return [kind for kind in Kind if kind is Kind.FAIL or kind.value in shown]


def _listed(outcome: Outcome, shown: Collection[str]) -> bool:
    if outcome.kind is Kind.FAIL:
        return not outcome.waived or WAIVED in shown
    return outcome.kind.value in shown


def _groups(outcomes: Iterable[Outcome]) -> Iterable[list[Outcome]]:
    """Outcomes that say the same at the same place, in the order of their first: a fault in a hardware set
    that forty openings use is read once."""
    groups: dict[tuple[object, ...], list[Outcome]] = {}
    for outcome in outcomes:
        key = (outcome.place, outcome.rule, outcome.kind, outcome.level, outcome.message, outcome.waived)
        groups.setdefault(key, []).append(outcome)
    return groups.values()


def _entry(result: Result, group: list[Outcome], width: int) -> Iterator[str]:
    first = group[0]
    found = where(result, first.place)
    position = f"{found.line}:{found.column}" if found else "1:1"
    word = WAIVED if first.waived else first.level.value if first.kind is Kind.FAIL else first.kind.value
    subject = "" if first.subject in ("", first.place.file) else f"{first.subject}: "
    yield f"{first.place.file}:{position}: {word}: {subject}{first.message} [{first.rule}]"
    if found is not None:
        yield from (_INDENT + line for line in marked(found, width - len(_INDENT)))
    elif first.place.file in result.documents and first.place.pointer:
        yield f"{_INDENT}the place {first.place.pointer} is not in this file"
    if len(group) > 1:
        yield _INDENT + _others(group)
    for related in _related(group):
        beside = where(result, related.place)
        position = f"{beside.line}:{beside.column}" if beside else "1:1"
        yield f"{_INDENT}{related.place.file}:{position}: {related.caption}"
    if all(_figures(outcome) == _figures(first) for outcome in group) and _figures(first):
        yield _INDENT + _figures(first)
    for repair in _repairs(group):
        care = " (touches life safety: decide with the authority)" if repair.life_safety else ""
        yield f"{_INDENT}cure: {repair.title}{care}"
    if first.waived:
        yield f"{_INDENT}waived: {first.waived}"


def _others(group: list[Outcome]) -> str:
    """The subjects of a group besides the first; as openings where all are the same item of each."""
    subjects = list(dict.fromkeys(outcome.subject for outcome in group))[1:]
    if not subjects:
        return f"found {len(group)} times"
    openings = [subject.partition("/")[0] for subject in subjects]
    tails = {outcome.subject.partition("/")[2] for outcome in group}
    names, unit = (openings, "opening") if len(tails) == 1 else (subjects, "subject")
    plural = "" if len(names) == 1 else "s"
    rest = len(names) - _NAMES_SHOWN
    listed = ", ".join(names[:_NAMES_SHOWN]) + (f" and {rest} others" if rest > 0 else "")
    return f"and {len(names)} more {unit}{plural}: {listed}"


def _related(group: list[Outcome]) -> list[Related]:
    return [related for related in group[0].related if all(related in outcome.related for outcome in group)]


def _repairs(group: list[Outcome]) -> list[Repair]:
    return [
        repair
        for repair in group[0].repairs
        if repair.verified and all(repair in outcome.repairs for outcome in group)
    ]


def _figures(outcome: Outcome) -> str:
    if outcome.measured is None:
        return ""
    parts = [f"{outcome.what or 'measured'} {figure(outcome.measured)}"]
    if outcome.limit is not None:
        parts.append(f"allowed {outcome.relation}".rstrip() + f" {figure(outcome.limit)}")
    if outcome.margin is not None:
        parts.append(f"margin {figure(outcome.margin)}")
    return "; ".join(parts)


def figure(measure: Measure) -> str:
    """A measure as text; in words where it is no finite number or its dimension is not known to doorlint."""
    try:
        return str(measure)
    except ValueError:
        return "not a finite number"
    except KeyError:
        return f"{float(measure.value):g} ({measure.dimension})"


# --- the source line and its mark ---


def marked(found: Where, width: int = 96) -> tuple[str, ...]:
    """The source line that the place begins on, and a line that marks the text covered, cut to `width`.

    Tabs are shown as spaces to stops of four and wide characters count twice, so that the mark stands under
    its text in any terminal. A place that runs over several lines is marked to the end of its first, and the
    mark says how far it goes on. Empty where the line is blank.
    """
    first = found.column - 1
    # A line may be megabytes long: only the neighbourhood that can be shown is taken from it.
    source = found.document.line_text(found.line).rstrip("\r\n")
    if not source.strip():
        return ()
    last = found.end_column - 1 if found.end_line == found.line else len(source.rstrip())
    last = max(min(last, len(source)), first)
    begin = max(0, first - width)
    cells = _cells(source[begin : min(last, first + width) + width])
    first, last = first - begin, min(last, first + width) - begin
    left, right = _window(cells, first, last, width - 8)
    before = "... " if left > 0 or begin > 0 else ""
    after = " ..." if right < len(cells) or begin + len(cells) < len(source) else ""
    text = before + "".join(cell for cell, _ in cells[left:right]) + after
    gap = len(before) + sum(size for _, size in cells[left:first])
    size = max(1, sum(size for _, size in cells[first : min(last, right)]))
    on = f"  to line {found.end_line}" if found.end_line > found.line else ""
    return text.rstrip(), " " * gap + "=" * size + on


def _window(cells: list[tuple[str, int]], first: int, last: int, width: int) -> tuple[int, int]:
    """The part of `cells` to show: the region first, then as much around it as fits, evenly."""
    left = right = min(first, len(cells))
    room = width
    while right < min(last, len(cells)) and cells[right][1] <= room:
        room -= cells[right][1]
        right += 1
    moved = True
    while moved:
        moved = False
        if right < len(cells) and cells[right][1] <= room:
            room -= cells[right][1]
            right, moved = right + 1, True
        if left > 0 and cells[left - 1][1] <= room:
            room -= cells[left - 1][1]
            left, moved = left - 1, True
    return left, right


def _cells(text: str) -> list[tuple[str, int]]:
    """Each character as shown, with the columns that it takes."""
    cells = []
    column = 0
    for char in text:
        if char == "\t":
            cell, size = " " * (_TAB - column % _TAB), _TAB - column % _TAB
        else:
            cell = _shown_as(char)
            size = len(cell) if cell != char else _columns(char)
        cells.append((cell, size))
        column += size
    return cells


def _columns(char: str) -> int:
    if char.isascii():
        return 1
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1


# --- the end of the report ---

_KINDS = (Kind.FAIL, Kind.OPEN, Kind.REVIEW, Kind.PASS, Kind.NOT_APPLICABLE)


def totals(results: Sequence[Result]) -> str:
    """The totals of a review in one sentence."""
    return _totals(results, _counts(results))


def _counts(results: Sequence[Result]) -> dict[str, Counter[Kind]]:
    """For each rule, how many outcomes of each kind over all specs."""
    counts: dict[str, Counter[Kind]] = {}
    for result in results:
        for rule_id, kinds in result.counts().items():
            counts.setdefault(rule_id, Counter()).update(kinds)
    return counts


def _summary(results: Sequence[Result], shown: Collection[str]) -> Iterator[str]:
    counts = _counts(results)
    everything = Kind.PASS.value in shown or Kind.NOT_APPLICABLE.value in shown
    told = (Kind.FAIL, Kind.OPEN, Kind.REVIEW)
    rows = sorted(row for row, kinds in counts.items() if everything or any(kinds[kind] for kind in told))
    if rows:
        size = max(len("rule"), *(len(rule) for rule in rows))
        yield f"{'rule':<{size}}  {'fail':>6} {'open':>6} {'review':>6} {'pass':>6} {'not applicable':>14}"
        for row in rows:
            fail, open_, review, passed, idle = (counts[row][kind] for kind in _KINDS)
            yield f"{row:<{size}}  {fail:>6} {open_:>6} {review:>6} {passed:>6} {idle:>14}"
    left = [kinds for row, kinds in counts.items() if row not in rows]
    met = sum(1 for kinds in left if kinds[Kind.PASS])
    if left:
        yield (
            f"{len(left)} {'further ' if rows else ''}{_plural('rule', len(left))}: "
            f"{met} with passes only, {len(left) - met} with nothing to judge"
        )
    yield ""
    yield _totals(results, counts)
    for result in results:
        yield from _off(result)
    if any(result.broken for result in results):
        yield INCOMPLETE
    yield from CAUTIONS


def _totals(results: Sequence[Result], counts: dict[str, Counter[Kind]]) -> str:
    failures = [outcome for result in results for outcome in result.of_kinds(Kind.FAIL)]
    standing = Counter(outcome.level for outcome in failures if not outcome.waived)
    waived = len(failures) - standing.total()
    total: Counter[Kind] = sum(counts.values(), Counter())
    levels = ", ".join(f"{standing[level]} {_plural(level.value, standing[level])}" for level in Level)
    return (
        f"Total: fail {total[Kind.FAIL]} ({levels}, {waived} waived), open {total[Kind.OPEN]}, "
        f"review {total[Kind.REVIEW]}, pass {total[Kind.PASS]}, not applicable {total[Kind.NOT_APPLICABLE]}."
    )


def _off(result: Result) -> Iterator[str]:
    """The rules that house standards switch off, each with its reason: what is silent is seen to be silent."""
    off = result.settings.off
    if off:
        yield f"{len(off)} {_plural('rule', len(off))} switched off by house standards, not applied to {result.root}:"
    for rule_id, stand in sorted(off.items()):
        found = where(result, stand.place)
        position = f"{found.line}:{found.column}" if found else "1:1"
        yield f"{_INDENT}{stand.place.file}:{position}: {rule_id}: {stand.reason}"


def _plural(word: str, count: int) -> str:
    return word if count == 1 else f"{word}s"
