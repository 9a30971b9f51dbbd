"""Coverage-guided fuzzing with atheris (extra `fuzz`): `python -m tests.fuzz.guided FOLDER [libFuzzer options]`.

The first byte says what the others are: a text as it is, or the choices of a generator. A fault is counted and kept
in FOLDER and does not end the run; the figures stand in FOLDER/guided.json.
"""

from __future__ import annotations

import importlib
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any


def main() -> None:
    """Run until libFuzzer has had enough."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["doorlint"]):
        from . import through
        from .inputs import KINDS
        from .sources import Fed
        from .texts import SCRAPS
        from .working import Work, limit_memory

        through.book()
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    limit_memory()
    work = Work(folder)
    kinds = list(KINDS)

    def one(data: bytes) -> None:
        number = work.tally.inputs
        what = data[0] % 8 if data else 0
        try:
            given = data[1:] if what < 5 else KINDS[kinds[what - 5]](Fed(data[1:]))
        except RecursionError:  # a tree put into itself again and again, deeper than it can be written
            return
        work.one(given, number, f"guided-{number}")
        if number % 100 == 99:
            (folder / "guided.json").write_text(json.dumps(asdict(work.tally)), encoding="utf-8")

    words = folder / "words.dict"
    words.write_text("".join(f'"{_escaped(word)}"\n' for word in SCRAPS if word.strip()), encoding="ascii")
    kept = f"-artifact_prefix={folder}/"  # what ends the run is kept there, not in the folder at hand
    atheris.Setup([sys.argv[0], f"-dict={words}", kept, *sys.argv[2:]], one)
    atheris.Fuzz()


def _escaped(word: str) -> str:
    return "".join(
        chr(byte) if 32 <= byte < 127 and byte not in b'"\\' else f"\\x{byte:02x}"
        for byte in word.encode("utf-8", "replace")
    )


if __name__ == "__main__":
    main()
