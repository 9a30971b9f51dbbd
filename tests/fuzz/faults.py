"""What went wrong, told so that equal faults are counted once and one input of each is kept."""

from __future__ import annotations

import traceback
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from .inputs import Input


@dataclass(slots=True)
class Tally:
    """Figures of one kind of input."""

    inputs: int = 0
    put: int = 0
    reviewed: int = 0
    whole: int = 0
    outcomes: int = 0
    cures: int = 0
    reports: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    slowest_step: str = ""
    memory: int = 0
    faults: Counter[str] = field(default_factory=Counter)

    def add(self, other: Tally) -> None:
        """Take the figures of another part of the same kind in."""
        for name in ("inputs", "put", "reviewed", "whole", "outcomes", "cures", "reports", "seconds"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        if other.slowest > self.slowest:
            self.slowest, self.slowest_step = other.slowest, other.slowest_step
        self.memory = max(self.memory, other.memory)
        self.faults.update(other.faults)


def signature(error: BaseException) -> str:
    """What broke and where, without what the input says: the innermost frames in doorlint's own code."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "doorlint" in frame.filename
              or "/rules/" in frame.filename or "fuzz" in frame.filename]  # fmt: skip
    where = " < ".join(f"{Path(frame.filename).name}:{frame.lineno}" for frame in reversed(frames[-3:]))
    text = str(error).split("\n")[0][:90] if isinstance(error, AssertionError) else ""
    return f"{type(error).__name__} {text} {where}".replace("  ", " ")


def keep(folder: Path, given: Input, label: str, error: BaseException) -> None:
    """Keep the input of a fault and the full traceback."""
    folder.mkdir(parents=True, exist_ok=True)
    data = given if isinstance(given, bytes) else given.encode("utf-8", "surrogatepass")
    (folder / f"{label}.yaml").write_bytes(data)
    (folder / f"{label}.txt").write_text("".join(traceback.format_exception(error)), encoding="utf-8", errors="replace")


def table(tallies: Iterable[tuple[str, Tally]]) -> str:
    """The figures of all kinds as text."""
    head = (
        "kind, inputs, to the reports, with openings, all rules, outcomes, cures, reports, CPU s, slowest, MiB, faults"
    )
    rows: list[tuple[str, ...]] = [tuple(head.split(", "))]
    whole = Tally()
    for name, tally in tallies:
        rows.append(_row(name, tally))
        whole.add(tally)
    rows.append(_row("all", whole))
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    lines += [f"{count:>6} x {fault}" for fault, count in whole.faults.most_common()]
    return "\n".join(lines)


def _row(name: str, tally: Tally) -> tuple[str, ...]:
    return (
        name, str(tally.inputs), str(tally.put), str(tally.reviewed), str(tally.whole), str(tally.outcomes),
        str(tally.cures), str(tally.reports),
        f"{tally.seconds:.0f}", f"{tally.slowest:.2f} s {tally.slowest_step}", str(tally.memory),
        str(tally.faults.total()),
    )  # fmt: skip
