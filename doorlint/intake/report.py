"""What an intake did, as text for people: what was written, what conflicts, what was not understood."""

from __future__ import annotations

from collections.abc import Iterable

from ..report.text import plain
from .records import Conflict, Intake, Value, Written

_LISTED = 40


def render(source: str, intake: Intake, written: Written, folder: str, mapping: str) -> str:
    """The report. Everything that was not understood and every conflict is listed; of changes the first ones.
    `mapping`: the mapping file written or used, "" for none."""
    lines = [f"{source}: {_many(len(intake.records), 'opening')} read"]
    lines += [f"  {plain(note)}" for note in intake.notes]
    if mapping:
        lines.append(f"  columns: {mapping}")
    if written.files:
        lines.append(f"Written in {folder}: {', '.join(written.files)}")
    else:
        lines.append(f"Nothing written in {folder}: the spec says all that already")
    merged = [change for change in written.changes if change.before is not None or not change.path]
    if merged:
        lines += ["", f"Taken over from the source: {_many(len(written.changes), 'change')}"]
        for change in written.changes[:_LISTED]:
            what = change.path or "opening"
            before = "" if change.before is None else f"{_shown(change.before)} -> "
            lines.append(f"  {change.place}: {change.opening}: {what}: {before}{_shown(change.after)}")
        if len(written.changes) > _LISTED:
            lines.append(f"  ... and {len(written.changes) - _LISTED} more")
    if written.conflicts:
        lines += ["", f"Conflicts, left as they are in the spec: {len(written.conflicts)}"]
        lines += [f"  {_conflict(conflict)}" for conflict in written.conflicts]
    if intake.not_understood:
        lines += ["", f"Not understood, so `unknown` in the spec or left out of it: {len(intake.not_understood)}"]
        lines += [f"  {plain(one.place)}: {_shown(one.text)}: {plain(one.why)}" for one in intake.not_understood]
    return "\n".join(lines) + "\n"


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
