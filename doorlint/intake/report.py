"""What an intake did, as text for people: what was written, what conflicts, what was not understood."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator

from ..report.text import plain
from .records import Conflict, Intake, NotUnderstood, Value, Written

_LISTED = 40
_WIDTH = 110


def render(source: str, intake: Intake, written: Written, folder: str, mapping: str, listed: str) -> str:
    """The report. Every conflict is shown, and every text that was not understood once for each reason; of the places
    and of the changes the first ones. `mapping`: the mapping file written or used, "" for none. `listed`: the file
    that holds all that was not understood, "" for none."""
    lines = [f"{plain(source)}: {_many(len(intake.records), 'opening')} read"]
    lines += [f"  {plain(note)}" for note in intake.notes]
    if mapping:
        lines.append(f"  columns: {plain(mapping)}")
    if written.source != source:
        lines.append(f"  taken as an issue of the source {plain(written.source)!r}")
    if written.left_out:
        lines.append(f"  {_many(written.left_out, 'opening')} left out of the spec, as was settled")
    if written.files:
        lines.append(f"Written in {plain(folder)}: {plain(', '.join(written.files))}")
    else:
        lines.append(f"Nothing written in {plain(folder)}: the spec says all that already")
    if written.changes and not written.new:
        lines += ["", f"Taken over from the source: {_many(len(written.changes), 'change')}"]
        for change in written.changes[:_LISTED]:
            what = change.path or "opening"
            before = "" if change.before is None else f"{_shown(change.before)} -> "
            after = _shown(change.after) if change.path else "added"
            lines.append(f"  {plain(f'{change.place}: {change.opening}: {what}:')} {before}{after}")
        if len(written.changes) > _LISTED:
            lines.append(f"  ... and {len(written.changes) - _LISTED} more")
    if written.conflicts:
        lines += ["", f"Conflicts, left as they are in the spec: {len(written.conflicts)}"]
        lines += [f"  {_conflict(conflict)}" for conflict in written.conflicts]
        lines.append("  Correct the spec or the source, or run the intake with --settled where the spec is right.")
    if intake.not_understood:
        lines += ["", f"Not understood, so `unknown` in the spec or left out of it: {len(intake.not_understood)}"]
        lines += [f"  {line}" for line in _not_understood(intake.not_understood)]
        lines.append(f"  Each with its place: {plain(listed)}")
    if written.new:
        to = plain(folder)
        lines += ["", f"Next: `doorlint questions {to}` lists what is missing, `doorlint review {to}` what is wrong."]
    return "\n".join(lines) + "\n"


def _not_understood(missed: Iterable[NotUnderstood]) -> Iterator[str]:
    """A line for a text that stands in one place; two for one that is found again and again."""
    places: dict[tuple[str, str], list[str]] = {}
    for one in missed:
        places.setdefault((one.text, one.why), []).append(plain(one.place))
    for (text, why), where in places.items():
        if len(where) == 1:
            yield f"{where[0]}: {_shown(text)}: {plain(why)}"
            continue
        yield f"{_many(len(where), 'place')}: {_shown(text)}: {plain(why)}"
        sizes = itertools.accumulate(len(one) + 2 for one in where)
        shown = max(1, sum(1 for _ in itertools.takewhile(lambda size: size <= _WIDTH, sizes)))
        more = f" and {len(where) - shown} more" if len(where) > shown else ""
        yield f"    {', '.join(where[:shown])}{more}"


def _conflict(conflict: Conflict) -> str:
    where = f"{conflict.place}: " if conflict.place else ""
    head = f"{where}{conflict.opening}: {conflict.path + ': ' if conflict.path else ''}{conflict.why}"
    if not conflict.path:
        return plain(head)
    said: Iterable[tuple[str, Value | None]] = (
        ("spec", conflict.spec), ("source", conflict.source), ("source before", conflict.last),
    )  # fmt: skip
    return plain(head) + " (" + ", ".join(f"{who}: {_shown(value)}" for who, value in said) + ")"


def _shown(value: Value | None) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    return plain(repr(value) if isinstance(value, str) else str(value))


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
