"""The whole of an intake: read, map, write, report."""

from __future__ import annotations

from pathlib import Path

from ..files import write_text
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
) -> tuple[str, bool]:
    """Take a file into the spec in `folder`; the report, and whether all was understood without conflict.

    Raises IntakeProblem or FileProblem; the spec is as it was then.
    """
    path = Path(file)
    into = Path(folder) if folder is not None else path.with_suffix("")
    if into == path:
        raise IntakeProblem(f"{file}: name the folder of the spec with --into")
    if path.suffix.lower() in MODELS:
        if columns is not None or encoding is not None:
            raise IntakeProblem(f"{file}: --columns and --encoding are for door schedules, not for building models")
        from .models import read_model

        intake = read_model(path, progress)
        source, note = "model", ""
    else:
        intake, note, proposal = _schedule(path, into, columns, encoding, progress)
        source = "schedule"
    written = write_spec(intake.records, name or intake.title or path.stem, into, source=source, origin=path.name)
    if source == "schedule" and proposal:
        write_text(into / mappings.NAME, proposal)
    report = render(path.name, intake, written, str(into), note)
    return report, not (written.conflicts or intake.not_understood)


def _schedule(
    path: Path, into: Path, columns: str | None, encoding: str | None, progress: Progress | None
) -> tuple[Intake, str, str]:
    """The schedule, a note on its mapping, and the text of a mapping to be written, "" where there is one."""
    kept = into / mappings.NAME
    used = Path(columns) if columns is not None else kept if kept.exists() else None
    mapping = mappings.read_mapping(used) if used is not None else None
    read = read_schedule(path, mapping, encoding=encoding, progress=progress)
    if used is not None:
        return read.intake, f"by {used}", ""
    proposal = mappings.render(path.name, LEAST, read.headers, read.intake.not_understood)
    return read.intake, f"as proposed in {kept}; edit it and run the intake again", proposal
