"""What a review costs, beside libyaml's bare events and a general checker of schemas, in one run.

    python -m tests.bench --openings 10000 --times 10 --rounds 5

Every round takes all steps once, each in a process of its own; a ratio is that of two figures of one round, and what is
printed is the median of the rounds. CPU is that of a step and of all processes that it started. Wall time says
something on an otherwise idle machine alone. A step leaves out its imports, a command has them in.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from .steps import COLLECTS

ROOT = Path(__file__).parents[2]
SCHEMA = ROOT / "schemas" / "spec.schema.json"
COLD = 15
"""Runs of one door in a round: it takes so little that one says nothing."""


@dataclass(frozen=True)
class Figure:
    """cpu, wall: seconds. peak: MB of the largest process. count: what the step counted, or the exit status."""

    cpu: float
    wall: float
    peak: float
    count: int


@dataclass
class Bench:
    """The rounds: the figures of each step by name, one for each round."""

    scratch: Path
    openings: int
    sets: int
    times: int
    figures: dict[str, list[Figure]]

    def step(self, name: str, step: str, root: Path, workers: int = 1) -> None:
        """Run a step in a process of its own."""
        words = [sys.executable, "-m", "tests.bench.steps", step, str(root), "--workers", str(workers)]
        whole, text = self._run(words)
        if whole.count:
            raise RuntimeError(f"{' '.join(words)}: exit status {whole.count}\n{text}")
        told = json.loads(text.splitlines()[-1])
        found = Figure(told["cpu"], told["wall"], whole.peak, int(told["count"]))
        self.figures.setdefault(name, []).append(found)

    def command(self, name: str, words: Sequence[str], statuses: tuple[int, ...] = (0,)) -> None:
        """Run a command. Raises RuntimeError for another exit status than those expected."""
        found, told = self._run(words)
        if found.count not in statuses:
            raise RuntimeError(f"{' '.join(words)}: exit status {found.count}\n{told}")
        self.figures.setdefault(name, []).append(found)

    def _run(self, words: Sequence[str]) -> tuple[Figure, str]:
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(self.scratch / "compiled")}
        environment["DOORLINT_CACHE"] = str(self.scratch / "cache")
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        (self.scratch / "cache").mkdir(mode=0o700, exist_ok=True)
        started = time.perf_counter()
        with (self.scratch / "said").open("w+b") as said:
            process = subprocess.Popen(words, cwd=ROOT, env=environment, stdout=said, stderr=subprocess.STDOUT)
            _, status, used = os.wait4(process.pid, 0)
            wall = time.perf_counter() - started
            process.returncode = os.waitstatus_to_exitcode(status)
            said.seek(0)
            text = said.read().decode("utf-8", "replace")
        return Figure(used.ru_utime + used.ru_stime, wall, used.ru_maxrss / 1024, process.returncode), text

    def make(self, name: str, openings: int, files: int, *more: str) -> None:
        """Make a portfolio, in a process of its own: the memory of this one counts for those that it starts."""
        numbers = ["--openings", str(openings), "--sets", str(self.sets), "--files", str(files)]
        words = [sys.executable, "-m", "tests.bench.portfolio", str(self.scratch / name), *numbers, *more]
        found, told = self._run(words)
        if found.count:
            raise RuntimeError(f"{' '.join(words)}: exit status {found.count}\n{told}")

    def warm(self) -> None:
        """Let Python compile what it will import, so that no round pays for it."""
        self._run([_script("doorlint"), "review", str(one_door(self.scratch))])
        self._run([_script("check-jsonschema"), "--schemafile", str(SCHEMA), str(one_door(self.scratch))])

    def round(self, number: int) -> None:
        """All steps once."""
        root = self.scratch / "portfolio" / "project.yaml"
        many = self.scratch / "portfolio-times" / "project.yaml"
        self.step("events", "events", root)
        self.step("reading", "reading", root)
        self.step("review", "review", root)
        self.step("review, 2 processes", "review", root, 2)
        self.step("review, cluster of 2", "cluster", root, 2)
        report = str(self.scratch / f"report-{number}.txt")
        review = [_script("doorlint"), "review", str(root), "--output", report, "--workers", "1"]
        shutil.rmtree(self.scratch / "cache", ignore_errors=True)
        self.command("command", review, (0, 1))
        self.command("command again", review, (0, 1))
        whole = str(self.scratch / "whole.yaml")
        self.command("check-jsonschema", [_script("check-jsonschema"), "--schemafile", str(SCHEMA), whole])
        if self.times > 1:
            self.step("events, more", "events", many)
            self.step("review, more", "review", many)
        door = str(one_door(self.scratch))
        for _ in range(COLD):
            self.command("interpreter", [sys.executable, "-c", ""])
            self.command("imports", [sys.executable, "-c", _importing(self._loaded(door))])
            self.command("one door", [_script("doorlint"), "review", door], (0, 1))

    def _loaded(self, door: str) -> list[str]:
        """The modules that the review of one door imports, in their order."""
        told = self.scratch / "loaded.json"
        if not told.exists():
            code = (
                "import contextlib, io, json, pathlib, sys; from doorlint.cli import run\n"
                f"with contextlib.redirect_stdout(io.StringIO()): run(['review', {door!r}])\n"
                f"pathlib.Path({str(told)!r}).write_text(json.dumps([*sys.modules]))"
            )
            self._run([sys.executable, "-c", code])
        return [name for name in json.loads(told.read_text()) if name != "__main__"]

    # -- what is told ----------------------------------------------------------------------------------

    def median(self, name: str, what: str = "cpu") -> float:
        """The median of a figure."""
        return statistics.median(float(getattr(figure, what)) for figure in self.figures[name])

    def ratio(self, over: str, under: str, what: str = "cpu") -> float:
        """The median of the ratio of two figures of one round."""
        pairs = zip(self.figures[over], self.figures[under], strict=True)
        return statistics.median(float(getattr(one, what) / getattr(other, what)) for one, other in pairs)

    def lines(self) -> list[str]:
        """The table."""
        size, more = f"{self.openings:,}", f"{self.openings * self.times:,}"
        labels = {
            "events": f"libyaml's events of {size} openings ({int(self.median('events', 'count')):,} events)",
            "reading": "reading them, with places",
            "review": f"complete review ({int(self.median('review', 'count')):,} outcomes)",
            "review, 2 processes": "complete review, 2 more processes",
            "review, cluster of 2": "complete review, a cluster of 2 workers, started and ended",
            "command": "doorlint review, report written",
            "command again": "doorlint review, nothing changed",
            "check-jsonschema": "check-jsonschema, all in one file",
            "events, more": f"libyaml's events of {more} openings",
            "review, more": f"complete review of {more} openings",
            "interpreter": "Python alone",
            "imports": "the imports of one door's review",
            "one door": "doorlint review of one door",
        }
        told = [f"{'':<64}{'CPU s':>9}{'wall s':>9}{'peak MB':>9}"]
        for name, label in labels.items():
            if name in self.figures:
                cpu, wall, peak = (self.median(name, what) for what in ("cpu", "wall", "peak"))
                told.append(f"{label:<64}{cpu:>9.3f}{wall:>9.3f}{peak:>9.0f}")
        told += ["", f"{'goal of this size of machine, by CPU':<64}{'found':>9}{'asked':>9}"]
        for label, found, asked in self.goals():
            told.append(f"{label:<64}{found:>9}{asked:>9}")
        return told

    def goals(self) -> list[tuple[str, str, str]]:
        """Each goal: what, found, asked; that is meant for 10,000 openings after 40 sets, and 10 times as many."""
        door, interpreter, imports = (self.median(name) for name in ("one door", "interpreter", "imports"))
        two, cluster = "review, 2 processes", "review, cluster of 2"
        told = [
            ("review / events", f"{self.ratio('review', 'events'):.2f}x", "4x"),
            ("reading / events", f"{self.ratio('reading', 'events'):.2f}x", ""),
            ("command / events", f"{self.ratio('command', 'events'):.2f}x", ""),
            ("check-jsonschema / review", f"{self.ratio('check-jsonschema', 'review'):.1f}x", "10x"),
            ("check-jsonschema / command", f"{self.ratio('check-jsonschema', 'command'):.1f}x", ""),
            ("peak memory of the review", f"{self.median('review', 'peak'):.0f} MB", "400 MB"),
            ("second command / first, nothing changed", f"{self.ratio('command again', 'command'):.2f}x", "0.5x"),
            ("one door", f"{door:.3f} s", "0.35 s"),
            ("  of it Python itself", f"{interpreter:.3f} s", ""),
            ("  of it imports", f"{imports - interpreter:.3f} s", ""),
            ("work with 2 processes / alone, all processes together", f"{self.ratio(two, 'review'):.2f}x", ""),
            ("speed with 2 processes / 2 (by wall)", f"{self.ratio('review', two, 'wall') / 2:.2f}", ""),
            ("work with a cluster / alone, all processes together", f"{self.ratio(cluster, 'review'):.2f}x", ""),
        ]
        if self.times > 1:
            growth = self.ratio("review, more", "review")
            memory = self.ratio("review, more", "review", "peak")
            told.insert(4, (f"review of {self.times}x as many / review", f"{growth:.2f}x", f"{1.05 * self.times:.4g}x"))
            told.insert(7, ("  of as many more / of these", f"{memory:.2f}x", f"{self.times}x"))
        return told


def _importing(names: list[str]) -> str:
    return (
        f"import contextlib, gc, importlib\ngc.set_threshold(*{COLLECTS})\nfor name in {names!r}:\n"
        "    with contextlib.suppress(ImportError): importlib.import_module(name)\n"
        "gc.freeze()"
    )


def _script(name: str) -> str:
    found = shutil.which(name, path=sysconfig.get_path("scripts"))
    if found is None:
        raise RuntimeError(f"{name} is not installed beside this Python; the extra `test` brings it")
    return found


def one_door(folder: Path) -> Path:
    """The door of the README, as a spec in one file."""
    path = folder / "door.yaml"
    if not path.exists():
        found = re.search(r"```yaml\n(doorlint: 1\nproject:.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
        if found is None:
            raise RuntimeError("README.md shows no spec of one door")
        path.write_text(found[1], "utf-8")
    return path


def measure(openings: int, sets: int, times: int, rounds: int, files: int, scratch: Path) -> Bench:
    """Make the portfolios and take the rounds."""
    bench = Bench(scratch, openings, sets, times, {})
    bench.make("portfolio", openings, files, "--one-file", str(scratch / "whole.yaml"))
    if times > 1:
        bench.make("portfolio-times", openings * times, files * times)
    bench.warm()
    for number in range(rounds):
        bench.round(number)
        print(f"round {number + 1} of {rounds} done", file=sys.stderr)
    return bench


def main(arguments: Sequence[str] | None = None) -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--openings", type=int, default=10_000)
    parser.add_argument("--sets", type=int, default=40)
    parser.add_argument("--files", type=int, default=20, help="files that hold openings")
    parser.add_argument("--times", type=int, default=10, help="how many times as many; 1: leave that out")
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="doorlint-bench-") as scratch:
        bench = measure(given.openings, given.sets, given.times, given.rounds, given.files, Path(scratch))
        print("\n".join(bench.lines()))


if __name__ == "__main__":
    main()
