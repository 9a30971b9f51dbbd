"""Runs the mutation tests and prints what became of the mutants, module by module.

    python -m tests.mutation                        a sample of everything
    python -m tests.mutation --all doorlint/codes   every mutant of a room
    python -m tests.mutation rules/battery --seed 7

Ends with 1 where no mutant ran, a test fails without any mutant, fewer than 90 % of a room are killed, a survivor has
neither a case nor a written reason in `survivors.yaml`, or a reason there speaks of a mutant that is gone or killed.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import hypothesis
import pytest

from .mutants import Mutant
from .population import LEFT_OUT, RECORD, ROOT, TARGETS, TESTS, distance, every, files_of, sample
from .reasons import reasons, stale
from .running import Driver, Fate, Result

LEAST_KILLED = 0.9


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; gives its exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__.partition("\n")[0])
    parser.add_argument("targets", nargs="*", default=TARGETS, help="folders and files; default: all rooms")
    parser.add_argument("--all", action="store_true", help="every mutant, not a sample")
    parser.add_argument("--seed", type=int, default=1, help="settles the sample (default 1)")
    parser.add_argument("--budget", type=float, default=4.0, help="seconds of tests of each distance, for one mutant")
    parser.add_argument(
        "--tests", nargs="+", default=TESTS, help="run only these tests; default: all that hold the rooms"
    )
    parser.add_argument("--only", default="", help="only mutants whose name holds this text")
    given = parser.parse_args(arguments)
    population = every(files_of(given.targets))
    chosen = (
        [one for many in population.values() for one in many] if given.all else list(sample(population, given.seed))
    )
    chosen = [one for one in chosen if given.only in " ".join(one.name)]
    known = reasons()
    started = time.monotonic()
    results, faults = run(chosen, given.budget, ROOT, given.tests, known) if chosen else ([], [])
    print(table(population, results, known))
    print(f"{len(results)} mutants in {(time.monotonic() - started) / 60:.1f} min")
    faults += judged(results, known)
    faults += [f"reason for a mutant that is gone: {' | '.join(name)}" for name in stale(known, population)]
    for fault in faults:
        print(fault, file=sys.stderr)
    return 1 if faults else 0


def run(
    chosen: Sequence[Mutant], budget: float, root: Path, tests: Sequence[str], known: Mapping[tuple[str, str, str], str]
) -> tuple[list[Result], list[str]]:
    """Run the mutants; the results and what went wrong with the run itself."""
    # examples the same in each run, nothing learnt from mutants, no time lost on shrinking
    phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)
    hypothesis.settings.register_profile("mutation", database=None, derandomize=True, deadline=None, phases=phases)
    hypothesis.settings.load_profile("mutation")
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"

    done = Counter[bool]()

    def told(result: Result) -> None:
        done[result.fate.dead] += 1
        if done.total() % 100 == 0:
            print(f"{done.total()} of {len(chosen)} run, {done[True]} killed", file=sys.__stdout__, flush=True)
        if not result.fate.dead and result.mutant.name not in known:
            file, at, change = result.mutant.name
            print(
                f"{result.fate}: {file}:{result.mutant.line} {at} | {change} ({result.by})",
                file=sys.__stdout__,
                flush=True,
            )

    driver = Driver(chosen, root, distance, budget, told)
    left_out = " and ".join(f"not {name}" for name in LEFT_OUT)
    options = [
        "-o",
        "addopts=",
        "-s",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:terminal",
        "-k",
        left_out,
        "--rootdir",
        str(root),
    ]
    pytest.main([*options, *(str(root / test) for test in tests)], plugins=[driver])
    faults = [f"fails without any mutant: {name}" for name in driver.covering.failed]
    return driver.results, faults


def judged(results: Sequence[Result], known: Mapping[tuple[str, str, str], str]) -> list[str]:
    """What is wrong with the results, one line each; empty where all is as it should be."""
    faults = []
    if not results:
        faults.append("no mutant ran")
    for result in results:
        name = " | ".join(result.mutant.name)
        if not result.fate.dead and result.mutant.name not in known:
            faults.append(f"neither killed nor given a reason: {name} ({result.fate})")
        if result.fate.dead and result.mutant.name in known:
            faults.append(f"reason for a mutant that is killed: {name}, by {result.by}")
    for room, counts in _by_room(results).items():
        ran = sum(counts.values())
        if ran and counts["dead"] < LEAST_KILLED * ran:
            faults.append(f"{room}: {counts['dead']} of {ran} killed, {LEAST_KILLED:.0%} are asked")
    return faults


def _by_room(results: Iterable[Result]) -> Mapping[str, Counter[str]]:
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for result in results:
        room = next((target for target in TARGETS if result.mutant.file.startswith(target)), "other")
        found[room]["dead" if result.fate.dead else "alive"] += 1
    return found


def table(
    population: Mapping[str, Sequence[Mutant]],
    results: Sequence[Result],
    known: Mapping[tuple[str, str, str], str],
) -> str:
    """Module by module, the rules by topic: mutants that there are, run, killed, of these by time and by nothing but
    the record of figures, left with a reason."""
    made: Counter[str] = Counter()
    for file, mutants in population.items():
        made[_module(file)] += len(mutants)
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for result in results:
        for module in (_module(result.mutant.file), "all"):
            counts[module]["run"] += 1
            counts[module]["killed"] += result.fate.dead
            counts[module]["by time"] += result.fate is Fate.TIMED_OUT
            counts[module]["record"] += result.fate.dead and RECORD in result.by
            counts[module]["reason"] += not result.fate.dead and result.mutant.name in known
    made["all"] = sum(made.values())
    head = f"{'module':<34}{'mutants':>8}{'run':>6}{'killed':>8}{'by time':>9}{'by record':>11}"
    lines = [f"{head}{'%':>7}{'reason':>8}{'neither':>9}"]
    for module in sorted(made, key=lambda one: (one == "all", one)):
        row = counts[module]
        share = f"{100 * row['killed'] / row['run']:.1f}" if row["run"] else "-"
        neither = row["run"] - row["killed"] - row["reason"]
        lines.append(
            f"{module:<34}{made[module]:>8}{row['run']:>6}{row['killed']:>8}{row['by time']:>9}{row['record']:>11}"
            f"{share:>7}{row['reason']:>8}{neither:>9}"
        )
    return "\n".join(lines)


def _module(file: str) -> str:
    return str(Path(file).parent) if file.startswith("rules/") else file


if __name__ == "__main__":
    sys.exit(main())
