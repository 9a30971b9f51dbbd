"""Makes what the HTML report shows from the result of a review."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from ..events import EVENTS
from ..outcome import Basis, Kind, Level, Measure, Outcome, Place, Step
from ..questions import questions
from ..spec.fields import UNKNOWN
from ..spec.model import Opening, Waiver
from .diagram import Diagram, draw, shown, words
from .html_data import (
    KIND_WORDS,
    KINDS,
    TOLD,
    Asked,
    Calculation,
    Counted,
    Entry,
    EventRow,
    Excerpt,
    Finding,
    Limits,
    Line,
    Margin,
    Scheduled,
    Sheet,
    SpecView,
    Waived,
)
from .text import Where, figure, where

if TYPE_CHECKING:
    from ..events import Row
    from ..reviewing import Result
    from ..rulebook import Rule


def view(result: Result, prefix: str = "s1", limits: Limits | None = None) -> SpecView:
    """What the report shows of one result; ids made from it begin with `prefix`."""
    return _Maker(result, prefix, limits or Limits()).made()


def kind_of(outcome: Outcome) -> str:
    """The kind of an outcome, waived failures told apart."""
    return "waived" if outcome.kind is Kind.FAIL and outcome.waived else outcome.kind.value


def token_of(outcome: Outcome) -> str:
    """Kind and level as one word for the filter."""
    return f"{kind_of(outcome)}-{outcome.level.value}"


def rank_of(outcome: Outcome) -> int:
    """How grave an outcome is: 0 for an error, higher for less."""
    kind = kind_of(outcome)
    if kind == "fail":
        return 2 - outcome.level.rank
    return 2 + KINDS.index(kind)


def share_of(outcome: Outcome) -> float | None:
    """The margin relative to the limit. None for temperatures, whose zero is arbitrary, for a limit of zero, and
    for numbers that are not finite."""
    if outcome.margin is None or outcome.limit is None or outcome.limit.dimension == "temperature":
        return None
    if not outcome.limit.value:
        return None
    try:
        share = float(Fraction(outcome.margin.value) / abs(Fraction(outcome.limit.value)))
    except (ValueError, OverflowError):
        return None
    return share


def share_text(share: float | None) -> str:
    """A share of the limit in percent, for reading."""
    if share is None:
        return "not defined"
    percent = share * 100
    if abs(percent) >= 1000:
        return f"{percent:.0f} %"
    return f"{percent:.3g} %"


def excerpt(found: Where, at: str, width: int = 110) -> Excerpt:
    """The source line at a place, cut to about `width` characters around what is marked."""
    source = found.document.line_text(found.line)
    first = found.column - 1
    last = found.end_column - 1 if found.end_line == found.line else len(source.rstrip())
    last = max(min(last, len(source)), first)
    left = max(0, min(first, last - width // 2) - width // 3) if len(source) > width else 0
    left = min(left, first)
    cut = min(last, first + width)
    right = min(len(source), max(cut, left + width))
    goes_on = f"to line {found.end_line}" if found.end_line > found.line else ""
    before = ("… " if left else "") + source[left:first].expandtabs(4)
    if not left:
        before = before.lstrip()
    marked = source[first:cut].expandtabs(4) + ("…" if cut < last else "")
    after = "" if cut < last else source[last:right].expandtabs(4) + (" …" if right < len(source) else "")
    return Excerpt(at, found.line, before, marked, after, goes_on)


_EVENT_WORDS = {
    "granted": "for the granted time",
    "key": "with a key only",
    "staff": "with staff only",
    "delayed": "after a delay",
    "impossible": "not possible",
}


def event_row(row: Row) -> EventRow:
    """A row of the matrix as text; open cells are empty."""
    cells = (row.lock, row.latch, row.egress, row.ingress_without, row.ingress_with)
    texts = tuple("" if cell is None else _EVENT_WORDS.get(cell.value, cell.value) for cell in cells)
    return EventRow(row.event.title, texts, row.alarms, row.relock, row.because, row.missing)


class _Maker:
    """Makes the view of one result."""

    def __init__(self, result: Result, prefix: str, limits: Limits) -> None:
        self.result = result
        self.prefix = prefix
        self.limits = limits
        self.rules: dict[str, Rule] = {rule.id: rule for rule in result.rulebook.rules}
        self.base = PurePosixPath(result.root).parent.as_posix().rstrip("/") + "/"
        self.openings: Mapping[str, Opening] = result.spec.openings if result.spec is not None else {}
        self.by_opening: dict[str, list[Outcome]] = {name: [] for name in self.openings}
        self.beyond: list[Outcome] = []
        for outcome in result.outcomes:
            opening = self._opening_of(outcome)
            (self.beyond if opening is None else self.by_opening[opening]).append(outcome)
        self.chosen = self._with_sheets()
        numbered = enumerate(self.openings, 1)
        self.anchors = {name: f"{prefix}-o{index}" for index, name in numbered if name in self.chosen}
        self.numbers: dict[tuple[object, ...], int] = {}

    def _opening_of(self, outcome: Outcome) -> str | None:
        name = outcome.subject
        while name:
            if name in self.openings:
                return name
            name = name.rpartition("/")[0]
        return None

    def _with_sheets(self) -> frozenset[str]:
        """The openings that get a sheet: all of a small spec, else those with something to tell, gravest first."""
        if len(self.openings) <= self.limits.sheets:
            return frozenset(self.openings)
        told = [name for name, outcomes in self.by_opening.items() if any(kind_of(o) in TOLD for o in outcomes)]
        told.sort(key=lambda name: sorted(rank_of(o) for o in self.by_opening[name] if kind_of(o) in TOLD))
        return frozenset(told[: self.limits.sheets])

    def made(self) -> SpecView:
        entries, left = self._entries()
        margins, margins_left = self._margins()
        sheets = tuple(self._sheet(name) for name in self.openings if name in self.chosen)
        told = sum(1 for outcomes in self.by_opening.values() if any(kind_of(o) in TOLD for o in outcomes))
        counts = _counts(self.result.outcomes)
        levels = Counter(o.level.value for o in self.result.outcomes if kind_of(o) == "fail")
        return SpecView(
            prefix=self.prefix,
            name=self._name(),
            facts=tuple(self._facts()),
            complete=not self.result.broken,
            counts=counts,
            levels={level.value: levels[level.value] for level in sorted(Level, key=lambda one: -one.rank)},
            schedule=tuple(self._scheduled(name) for name in self.openings),
            sheets=sheets,
            beyond=self._beyond(),
            entries=entries,
            entries_left=left,
            margins=margins,
            margins_left=margins_left,
            questions=tuple(self._questions()),
            rules=tuple(self._counted()),
            waivers=tuple(self._waivers()),
            only_findings=len(sheets) < len(self.openings),
            sheets_left=max(0, told - len(sheets)) if len(sheets) < len(self.openings) else 0,
        )

    # --- the head ---

    def _name(self) -> str:
        project = self.result.spec.project if self.result.spec is not None else None
        return project.name if project is not None and isinstance(project.name, str) else self.result.root

    def _facts(self) -> Iterator[tuple[str, str]]:
        yield "Specification", self.result.root
        if self.result.spec is None:
            return
        project = self.result.spec.project
        yield "Revision", project.revision if isinstance(project.revision, str) else "not stated"
        yield "Openings", str(len(self.openings))
        codes = "; ".join(f"{words(family)}: {edition}" for family, edition in project.codes.items())
        yield "Adopted codes", codes or "none stated"
        if isinstance(project.amendments, tuple):
            yield "Amendments", "; ".join(project.amendments)
        site = project.site
        if site is not None and site is not UNKNOWN:
            yield "Site", ", ".join([shown(site.ambient), words(site.setting, "setting open")])
        if isinstance(project.note, str):
            yield "Note", project.note

    # --- schedule and register ---

    def _scheduled(self, name: str) -> Scheduled:
        opening, outcomes = self.openings[name], self.by_opening[name]
        shares = [share for outcome in outcomes if (share := share_of(outcome)) is not None]
        thinnest = min(shares, default=None)
        gravest = min(outcomes, key=rank_of, default=None)
        return Scheduled(
            mark=name,
            anchor=self.anchors.get(name, ""),
            title=_title(opening),
            hardware_set=opening.set if isinstance(opening.set, str) else "none",
            fire_rating=opening.fire_rating if isinstance(opening.fire_rating, str) else "open",
            counts=_counts(outcomes),
            worst="nothing judged" if gravest is None else _word(gravest),
            rank=99 if gravest is None else rank_of(gravest),
            tokens=_tokens(outcomes),
            thinnest="none" if thinnest is None else share_text(thinnest),
            thinnest_value=thinnest,
        )

    def _entries(self) -> tuple[tuple[Entry, ...], int]:
        groups: dict[tuple[object, ...], list[Outcome]] = {}
        for outcome in self.result.outcomes:
            if kind_of(outcome) in TOLD:
                groups.setdefault(_same(outcome), []).append(outcome)
        ordered = sorted(groups.items(), key=lambda item: rank_of(item[1][0]))
        for number, (key, _) in enumerate(ordered, 1):
            self.numbers[key] = number
        kept = ordered[: self.limits.findings]
        return tuple(self._entry(self.numbers[key], group) for key, group in kept), len(ordered) - len(kept)

    def _entry(self, number: int, group: Sequence[Outcome]) -> Entry:
        first = group[0]
        subjects = tuple(dict.fromkeys(outcome.subject or "the files" for outcome in group))
        opening = next((found for o in group if (found := self._opening_of(o)) in self.anchors), None)
        anchor = ""
        if opening is not None:
            anchor = f"{self.anchors[opening]}-f{number}"
        elif self._opening_of(first) is None:
            anchor = f"{self.prefix}-beyond-f{number}"
        return Entry(
            number=number,
            tokens=_tokens(group),
            word=KIND_WORDS[kind_of(first)],
            level=first.level.value,
            subjects=subjects[: self.limits.names],
            others=max(0, len(subjects) - self.limits.names),
            message=first.message,
            rule=first.rule,
            at=self._at(first.place),
            anchor=anchor,
            rank=rank_of(first),
        )

    def _at(self, place: Place) -> str:
        found = where(self.result, place)
        file = self._file(place)
        return f"{file}:{found.line}:{found.column}" if found is not None else file

    def _file(self, place: Place) -> str:
        """A file as seen from the folder of the root file, which the head of the report names."""
        return place.file.removeprefix(self.base)

    def _excerpt(self, place: Place) -> Excerpt | None:
        found = where(self.result, place)
        return None if found is None else excerpt(found, self._at(place))

    # --- margins and questions ---

    def _margins(self) -> tuple[tuple[Margin, ...], int]:
        numeric = [outcome for outcome in self.result.outcomes if outcome.margin is not None]
        keyed = sorted(((_thin(outcome), index) for index, outcome in enumerate(numeric)))
        kept = [numeric[index] for _, index in keyed[: self.limits.margins]]
        return tuple(self._margin(outcome) for outcome in kept), len(numeric) - len(kept)

    def _margin(self, outcome: Outcome) -> Margin:
        share = share_of(outcome)
        return Margin(
            subject=outcome.subject,
            what=outcome.what or "measured",
            measured=_figure(outcome.measured),
            limit=f"{outcome.relation} {_figure(outcome.limit)}".strip(),
            margin=_figure(outcome.margin),
            share=share,
            share_text=share_text(share),
            word=_word(outcome),
            rule=outcome.rule,
            tokens=token_of(outcome),
        )

    def _questions(self) -> Iterator[Asked]:
        for question in questions(self.result):
            yield Asked(
                party=question.party or "nobody named",
                text=question.text,
                meaning=question.meaning,
                example=question.example,
                decides=tuple(f"{one.title} [{one.rule}]" for one in question.decides),
                subjects=question.subjects[: self.limits.names],
                others=max(0, len(question.subjects) - self.limits.names),
                at=self._at(question.place),
            )

    # --- sheets ---

    def _sheet(self, name: str) -> Sheet:
        opening, outcomes = self.openings[name], self.by_opening[name]
        context = self.result.context
        title = _title(opening)
        diagram: Diagram | None = None
        events: tuple[EventRow, ...] = ()
        if context is not None:
            diagram = draw(opening, context.spec, context.wiring)
            rows = context.matrix(opening)
            events = tuple(event_row(rows.row(event)) for event in EVENTS)
        return Sheet(
            anchor=self.anchors[name],
            name=name,
            heading=f"Opening {name}" + (f": {title}" if title else ""),
            facts=tuple(self._opening_facts(opening)),
            counts=_counts(outcomes),
            diagram=diagram,
            events=events,
            findings=tuple(self._findings(outcomes)),
            calculations=tuple(self._calculations(outcomes)),
            met=tuple(_met(outcomes)),
        )

    def _beyond(self) -> Sheet | None:
        if not self.beyond:
            return None
        outcomes = self.beyond
        if self.chosen != frozenset(self.openings):  # a large spec has as many sources: only what is to be told
            told = [outcome for outcome in outcomes if kind_of(outcome) in TOLD]
            outcomes = [outcome for outcome in told if self.numbers[_same(outcome)] <= self.limits.findings]
        return Sheet(
            anchor=f"{self.prefix}-beyond",
            name="",
            heading="Power sources, cables and the files themselves",
            facts=(),
            counts=_counts(self.beyond),
            diagram=None,
            events=(),
            findings=tuple(self._findings(outcomes)),
            calculations=tuple(self._calculations(outcomes)),
            met=tuple(_met(outcomes)),
        )

    def _opening_facts(self, opening: Opening) -> Iterator[tuple[str, str]]:
        for label, room in (("From", opening.from_), ("To", opening.to)):
            yield label, room if isinstance(room, str) else "open"
        yield "Hardware set", opening.set if isinstance(opening.set, str) else "none"
        yield "Fire rating", opening.fire_rating if isinstance(opening.fire_rating, str) else "open"
        egress = opening.egress
        if egress is not None and egress is not UNKNOWN:
            yield "Egress", f"side: {words(egress.side)}; by {words(egress.by)}"
        else:
            yield "Egress", "open"
        if self.result.context is not None:
            found = self.result.context.arrangement(opening)
            waits = ", ".join(dict.fromkeys(gap.name for gap in found.open_because))
            kind = words(found.kind) if found.kind is not None else f"open, waits for {waits}"
            yield "Arrangement by wiring", f"{kind} ({found.why})" if found.why else kind
        exposure = opening.exposure
        if exposure is not None and exposure is not UNKNOWN:
            sides = f"unsecured side {words(exposure.unsecured)}, secured side {words(exposure.secured)}"
            yield "Exposure", sides
        occupancy = opening.occupancy
        if occupancy is not None and occupancy is not UNKNOWN:
            load = occupancy.load if isinstance(occupancy.load, int) else "open"
            yield "Occupancy", f"{words(occupancy.group, 'group open')}, occupant load {load}"
        if isinstance(opening.note, str):
            yield "Note", opening.note

    def _findings(self, outcomes: Iterable[Outcome]) -> Iterator[Finding]:
        told = [outcome for outcome in outcomes if kind_of(outcome) in TOLD]
        seen: set[tuple[object, ...]] = set()
        for outcome in sorted(told, key=rank_of):
            key = _same(outcome)
            if key in seen:  # the same said of another item of the opening: the register names all
                continue
            seen.add(key)
            yield Finding(
                number=self.numbers[key],
                token=token_of(outcome),
                word=KIND_WORDS[kind_of(outcome)],
                level=outcome.level.value,
                subject=outcome.subject,
                message=outcome.message,
                rule=outcome.rule,
                title=self._rule_title(outcome.rule),
                excerpt=self._excerpt(outcome.place),
                related=tuple((one.caption, self._excerpt(one.place)) for one in outcome.related),
                figures=_figures(outcome),
                missing=outcome.missing,
                cures=tuple((repair.title, repair.life_safety) for repair in outcome.repairs if repair.verified),
                basis=tuple(str(ground) for ground in outcome.basis),
                waived=outcome.waived,
            )

    def _rule_title(self, rule: str) -> str:
        return self.rules[rule].title if rule in self.rules else rule

    def _calculations(self, outcomes: Iterable[Outcome]) -> Iterator[Calculation]:
        listed = [o for o in outcomes if o.working or o.measured is not None]
        subjects: dict[str, list[Outcome]] = {}
        for outcome in listed:
            subjects.setdefault(outcome.subject, []).append(outcome)
        seen: dict[Step, str] = {}
        grounds: dict[tuple[Basis, ...], str] = {}
        for major, subject in enumerate(sorted(subjects), 1):
            for minor, outcome in enumerate(sorted(subjects[subject], key=lambda o: o.rule), 1):
                number = f"{major}.{minor}"
                lines = tuple(self._line(step, seen, number) for step in outcome.working)
                yield Calculation(
                    number=number,
                    subject=subject,
                    title=self._rule_title(outcome.rule),
                    rule=outcome.rule,
                    lines=lines,
                    figures=_figures(outcome),
                    word=_word(outcome),
                    message=outcome.message,
                    basis=tuple(str(ground) for ground in outcome.basis) if outcome.basis not in grounds else (),
                    basis_in=grounds.setdefault(outcome.basis, number),
                )

    def _line(self, step: Step, seen: dict[Step, str], number: str) -> Line:
        result = step.result if isinstance(step.result, str) else figure(step.result)
        if step in seen:
            return Line(step.name, step.formula, (), "", result, seen[step])
        seen[step] = number
        terms = []
        for term in step.terms:
            found = where(self.result, term.place) if term.place is not None else None
            at = f"{self._file(term.place)}:{found.line}" if found is not None and term.place is not None else ""
            terms.append((term.name, term.text, at))
        return Line(step.name, step.formula, tuple(terms), step.ground, result, "")

    # --- the end ---

    def _counted(self) -> Iterator[Counted]:
        waived = Counter(outcome.rule for outcome in self.result.outcomes if kind_of(outcome) == "waived")
        for rule_id, kinds in self.result.counts().items():
            rule = self.rules.get(rule_id)
            counts = {kind.value: number for kind, number in kinds.items()}
            counts["waived"] = waived[rule_id]
            counts["fail"] -= waived[rule_id]
            yield Counted(
                rule=rule_id,
                title=rule.title if rule is not None else "found while reading",
                level=rule.level.value if rule is not None else "",
                counts=counts,
                basis=tuple(str(ground) for ground in rule.basis) if rule is not None else (),
            )

    def _waivers(self) -> Iterator[Waived]:
        waivers: Sequence[Waiver] = self.result.spec.waivers if self.result.spec is not None else ()
        for waiver in waivers:
            subject = f"{waiver.opening}/{waiver.item}" if isinstance(waiver.item, str) else _stated(waiver.opening)
            yield Waived(
                _stated(waiver.rule),
                subject,
                _stated(waiver.reason),
                _stated(waiver.approved_by),
                _stated(waiver.until),
            )


def _stated(value: object) -> str:
    return value if isinstance(value, str) else "not stated"


def _title(opening: Opening) -> str:
    if isinstance(opening.title, str):
        return opening.title
    return " to ".join(room for room in (opening.from_, opening.to) if isinstance(room, str))


def _counts(outcomes: Iterable[Outcome]) -> Mapping[str, int]:
    counted = Counter(map(kind_of, outcomes))
    return {kind: counted[kind] for kind in KINDS}


def _tokens(outcomes: Iterable[Outcome]) -> str:
    return " ".join(sorted({token_of(outcome) for outcome in outcomes}))


def _word(outcome: Outcome) -> str:
    kind = kind_of(outcome)
    return f"fail, {outcome.level.value}" if kind == "fail" else KIND_WORDS[kind]


def _same(outcome: Outcome) -> tuple[object, ...]:
    return (outcome.place, outcome.rule, outcome.kind, outcome.level, outcome.message, outcome.waived)


def _figure(measure: Measure | None) -> str:
    return "" if measure is None else figure(measure)


def _figures(outcome: Outcome) -> str:
    if outcome.measured is None:
        return ""
    parts = [f"{outcome.what or 'measured'}: {figure(outcome.measured)}"]
    if outcome.limit is not None:
        parts.append(f"{outcome.relation} {figure(outcome.limit)}".strip())
    if outcome.margin is not None:
        parts.append(f"margin {figure(outcome.margin)}")
    return ", ".join(parts)


def _thin(outcome: Outcome) -> tuple[int, float]:
    """The order of margins: by the share of the limit; where that has no meaning failures come first of all and
    the rest last."""
    share = share_of(outcome)
    if share is not None:
        return (1, share)
    return (0, 0.0) if outcome.kind is Kind.FAIL else (2, 0.0)


def _met(outcomes: Iterable[Outcome]) -> Iterator[str]:
    """The rules that were met without a calculation, with how often."""
    counted = Counter(
        o.rule for o in outcomes if o.kind is Kind.PASS and not o.working and o.measured is None
    )
    for rule, count in sorted(counted.items()):
        yield f"{rule} ({count})" if count > 1 else rule
