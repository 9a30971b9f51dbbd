"""The commit hook timed as a consumer meets it: the first run, which installs doorlint, and repeated ones.

    python -m tests.bench.hook --repeats 5

A clone of the last commit of this checkout is the hook's repository, the clean ferry terminal is the consumer's. Beside
the hook stand the floors of the same run: pre-commit with nothing to check, and the bare command. A measurement, not a
test: it fails only where a run fails.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]
PART = "terminal/openings/operations.yaml"


def environment(home: Path) -> dict[str, str]:
    """The environment without what would lead git or pre-commit elsewhere."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("GIT_", "PRE_COMMIT", "PYTHON"))}
    kept.pop("SKIP", None)
    kept.pop("VIRTUAL_ENV", None)
    return {**kept, "PRE_COMMIT_HOME": str(home), "PYTHONUTF8": "1"}


def timed(command: Sequence[str], folder: Path, env: Mapping[str, str]) -> float:
    """Seconds that a command takes. Leaves with what it said where it fails."""
    started = time.perf_counter()
    done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)
    took = time.perf_counter() - started
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return took


def consumer(folder: Path, env: Mapping[str, str]) -> Path:
    """A repository with the clean example, hooked to a clone of this one."""
    origin, made = folder / "origin", folder / "consumer"
    timed(["git", "clone", "--quiet", str(ROOT), str(origin)], folder, env)
    revision = subprocess.run(
        ["git", "rev-parse", "HEAD"], cwd=origin, env=env, capture_output=True, text=True, check=True
    ).stdout.strip()
    shutil.copytree(ROOT / "examples" / "gull_point_ferry_terminal_clean", made / "terminal")
    (made / "notes.txt").write_text("no door spec\n", encoding="utf-8")
    (made / ".pre-commit-config.yaml").write_text(
        f"repos: [{{repo: {origin}, rev: {revision}, hooks: [{{id: doorlint}}]}}]\n", encoding="utf-8"
    )
    timed(["git", "init", "--quiet"], made, env)
    timed(["git", "add", "--all"], made, env)
    return made


def run(folder: Path, repeats: int) -> Iterator[str]:
    """The rows of the table."""
    env = environment(folder / "home")
    made = consumer(folder, env)
    every = sorted(path.relative_to(made).as_posix() for path in (made / "terminal").rglob("*.yaml"))
    hook = [sys.executable, "-m", "pre_commit", "run", "--files"]

    def median(command: Sequence[str]) -> float:
        return statistics.median(timed(command, made, env) for _ in range(repeats))

    yield f"{'first run, installs doorlint':<52} {timed([*hook, PART], made, env):8.2f} s"
    yield f"{'repeated run, one changed part':<52} {median([*hook, PART]):8.2f} s"
    yield f"{'repeated run, every part changed':<52} {median([*hook, *every]):8.2f} s"
    yield f"{'floor: pre-commit with no file for the hook':<52} {median([*hook, 'notes.txt']):8.2f} s"
    review = [sys.executable, "-m", "doorlint", "review", "terminal"]
    yield f"{'floor: the command alone, of this environment':<52} {median(review):8.2f} s"


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5, help="runs of which the median is shown")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for row in run(Path(folder), given.repeats):
            print(row, flush=True)


if __name__ == "__main__":
    main()
