"""Fuzz doorlint: `python -m tests.fuzz --text 10000 --schema 1000 --real 1000 --drawn 300 --guided 10000`.

Each number says how many inputs of that kind are put through reading, review and the reports. Exit status 1 where one
of them brought a fault; the inputs of faults are kept in the folder given with --into.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from queue import Empty
from typing import Any

from .faults import Tally, table
from .inputs import KINDS
from .working import Work, limit_memory

CHUNK = 1000
STUCK_S = 300.0


def main() -> int:
    """Run the fuzzing that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__.split("\n")[0])
    for kind, what in (("text", "raw text and bytes"), ("schema", "specs made from the schema"),
                       ("real", "real specs, spoilt")):  # fmt: skip
        parser.add_argument(f"--{kind}", type=int, default=0, metavar="N", help=f"this many of {what}, from seeds")
    parser.add_argument("--drawn", type=int, default=0, metavar="N", help="this many of each kind, by hypothesis")
    parser.add_argument("--guided", type=int, default=0, metavar="N", help="this many led by coverage (extra `fuzz`)")
    parser.add_argument("--first", type=int, default=0, metavar="N", help="the first seed")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, metavar="N")
    parser.add_argument("--into", type=Path, default=None, metavar="FOLDER", help="where inputs of faults are kept")
    asked = parser.parse_args()
    folder = asked.into or Path(tempfile.mkdtemp(prefix="fuzz-"))
    folder.mkdir(parents=True, exist_ok=True)
    tallies: dict[str, Tally] = {}
    if asked.guided:
        tallies["guided"] = _guided(asked.guided, folder)
    _workers(_chunks(asked), asked.workers, folder, tallies)
    print(table(sorted(tallies.items())))
    faults = sum(tally.faults.total() for tally in tallies.values())
    if faults:
        print(f"the inputs of faults are in {folder}")
    return 1 if faults else 0


def _chunks(asked: argparse.Namespace) -> list[tuple[str, int, int]]:
    """(kind, first, last) of each share of work; the kinds in turn, so that figures of all come early."""
    shares = []
    for kind in KINDS:
        for name, count in ((kind, getattr(asked, kind)), (f"drawn {kind}", asked.drawn)):
            starts = range(asked.first, asked.first + count, CHUNK)
            shares += [(name, start, min(start + CHUNK, asked.first + count)) for start in starts]
    total = Counter(name for name, _, _ in shares)
    seen: Counter[str] = Counter()
    keyed = []
    for share in shares:
        seen[share[0]] += 1
        keyed.append((seen[share[0]] / total[share[0]], share))
    return [share for _, share in sorted(keyed, reverse=True)]


def _guided(runs: int, folder: Path) -> Tally:
    """Coverage-guided fuzzing, in a process of its own."""
    figures = folder / "guided.json"
    folder.mkdir(parents=True, exist_ok=True)
    figures.unlink(missing_ok=True)
    from .corpus import texts

    seeds = folder / "seeds"
    seeds.mkdir(exist_ok=True)
    for number, text in enumerate(texts()[::4]):
        (seeds / str(number)).write_bytes(b"\0" + text.encode("utf-8"))
    command = [sys.executable, "-m", "tests.fuzz.guided", str(folder), f"-runs={runs}", "-max_len=4096",
               "-len_control=0", "-timeout=60", "-verbosity=0", str(seeds)]  # fmt: skip
    ended = subprocess.run(command, check=False)
    tally = Tally(**json.loads(figures.read_text(encoding="utf-8"))) if figures.exists() else Tally()
    tally.faults = Counter(tally.faults)
    if ended.returncode:
        tally.faults[f"the guided run ended with status {ended.returncode}"] += 1
    return tally


def _work(share: tuple[str, int, int], folder: Path, told: Any, at: Any) -> None:
    limit_memory()
    name, start, stop = share
    work = Work(folder)

    def tell(number: int) -> None:
        at.value = number

    run = work.drawn if name.startswith("drawn ") else work.seeded
    told.put((name, asdict(run(name.removeprefix("drawn "), start, stop, tell))))


def _workers(shares: list[tuple[str, int, int]], workers: int, folder: Path, tallies: dict[str, Tally]) -> None:
    """Run the shares, each in a process of its own: one that dies or hangs takes no other with it."""
    from . import corpus, through

    # what all of them need is made ready once, before the processes divide
    through.put(corpus.texts()[0], 0)
    corpus.trees()
    corpus.values()
    fork = multiprocessing.get_context("fork")
    told: Any = fork.Queue()
    running: list[tuple[Any, Any, tuple[str, int, int], float]] = []
    began = shown = time.monotonic()
    while shares or running:
        while shares and len(running) < workers:
            share = shares.pop()
            at = fork.Value("q", share[1])
            process = fork.Process(target=_work, args=(share, folder, told, at))
            process.start()
            running.append((process, at, share, time.monotonic()))
        time.sleep(0.05)
        _gather(told, tallies)
        for entry in list(running):
            process, at, share, since = entry
            if process.is_alive() and time.monotonic() - since > STUCK_S * 4:
                process.kill()
            if not process.is_alive():
                running.remove(entry)
                _gather(told, tallies)
                if process.exitcode:
                    tally = tallies.setdefault(share[0], Tally())
                    tally.faults[f"a process ended with status {process.exitcode} at {share[0]} {at.value}"] += 1
                    if at.value + 1 < share[2]:
                        shares.append((share[0], at.value + 1, share[2]))
        if time.monotonic() - shown > 60:
            shown = time.monotonic()
            done = sum(tally.inputs for tally in tallies.values())
            faults = sum((tally.faults for tally in tallies.values()), Counter[str]())
            print(f"{shown - began:.0f} s: {done} inputs, {len(faults)} sorts of faults", file=sys.stderr, flush=True)
            (folder / "figures.txt").write_text(table(sorted(tallies.items())) + "\n", encoding="utf-8")
    _gather(told, tallies)


def _gather(told: Any, tallies: dict[str, Tally]) -> None:
    while True:
        try:
            name, figures = told.get(timeout=0.01)
        except Empty:
            return
        figures["faults"] = Counter(figures["faults"])
        tallies.setdefault(name, Tally()).add(Tally(**figures))


if __name__ == "__main__":
    sys.exit(main())
