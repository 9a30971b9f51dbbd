"""The whole of an intake: read, map, write, report."""

from __future__ import annotations

from pathlib import Path

from . import listing, state
from . import mapping as mappings
from .columns import LEAST
from .records import Intake, IntakeProblem
from .report import render
from .schedule import read_schedule
from .tables import Progress
from .write import write_spec

MODELS = (".ifc", ".ifczip", ".ifcxml")


def take_in(
    file: str,
    folder: str | None = None,
    columns: str | None = None,
    encoding: str | None = None,
    name: str = "",
    progress: Progress | None = None,
    source: str = "",
    settled: bool = False,
) -> tuple[str, bool]:
    """Take a file into the spec in `folder`; the report, and whether all was understood without conflict.

    `source` and `settled`: as in `write.write_spec`. Raises IntakeProblem or FileProblem; the spec is as it was then.
    """
    path = Path(file)
    into = Path(folder) if folder is not None else path.with_suffix("")
    if into == path:
        raise IntakeProblem(f"{file}: name the folder of the spec with --into")
    model = path.suffix.lower() in MODELS
    if model and (columns is not None or encoding is not None):
        raise IntakeProblem(f"{file}: --columns and --encoding are for door schedules, not for building models")
    kind = "model" if model else "schedule"
    _, known = state.named(state.read(into), kind, path.name, source)
    beside: dict[str, str] = {}
    if model:
        from .models import read_model

        intake, note = read_model(path, progress), ""
    else:
        kept = into / f"{known.short}.columns.yml"
        intake, note, proposal = _schedule(path, kept, columns, encoding, progress)
        if proposal:
            beside[kept.name] = proposal
    listed = into / f"{known.short}.not-understood.yml"
    if intake.not_understood or listed.exists():
        beside[listed.name] = listing.render(path.name, intake.not_understood)
    if progress is not None:
        progress("writing", 0, 1)
    written = write_spec(
        intake.records,
        name or intake.title or path.stem,
        into,
        kind=kind,
        origin=path.name,
        source=source,
        settled=settled,
        beside=beside,
    )
    report = render(path.name, intake, written, str(into), note, str(listed) if intake.not_understood else "")
    return report, not (written.conflicts or intake.not_understood)


def _schedule(
    path: Path, kept: Path, columns: str | None, encoding: str | None, progress: Progress | None
) -> tuple[Intake, str, str]:
    """The schedule, a note on its mapping, and the text of a mapping to be written, "" where there is one."""
    used = Path(columns) if columns is not None else kept if kept.exists() else None
    mapping = mappings.read_mapping(used) if used is not None else None
    read = read_schedule(path, mapping, encoding=encoding, progress=progress)
    if used is not None:
        return read.intake, f"by {used}", ""
    proposal = mappings.render(path.name, LEAST, read.headers)
    return read.intake, f"as proposed in {kept}; edit it and run the intake again", proposal
