"""One step of the bench, in a process of its own: what it costs is told as JSON on standard output.

python -m tests.bench.steps review PATH --workers 2
"""

from __future__ import annotations

import argparse
import gc
import json
import resource
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from yaml.cyaml import CParser  # type: ignore[attr-defined]  # the stubs do not list it

COLLECTS = (1_000_000, 50, 1000)
"""How often the command looks for cycles of dead objects; the steps do as the command does."""


def events(root: Path) -> int:
    """The floor: libyaml's events of all files, and nothing done with them."""
    count = 0
    for path in sorted(root.parent.rglob("*.yaml")):
        parser = CParser(path.read_bytes())
        while parser.get_event() is not None:
            count += 1
    return count


def reading(root: Path) -> int:
    """All files read and included, with the place of every value."""
    from doorlint.spec.files import read_files

    return len(read_files(root).documents)


def review(root: Path, place: object = None, workers: int = 1) -> int:
    """The complete review, every outcome of it counted."""
    from doorlint.reviewing import review_root
    from doorlint.rulebook import collect

    result = review_root(root, collect(), executor=place, workers=workers)  # type: ignore[arg-type]
    return sum(sum(kinds.values()) for kinds in result.counts().values())


@contextmanager
def spent() -> Iterator[dict[str, float]]:
    """CPU of this process and of those that it started and ended, and wall time."""
    found: dict[str, float] = {}
    started, before = time.perf_counter(), _cpu()
    yield found
    found["wall"] = time.perf_counter() - started
    found["cpu"] = _cpu() - before


def _cpu() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def run(step: str, root: Path, workers: int) -> dict[str, float]:
    """What a step costs. What it imports is imported before, so that it is not counted."""
    import doorlint.reviewing  # noqa: F401
    from doorlint.processes import Processes
    from doorlint.rulebook import collect

    collect()
    gc.set_threshold(*COLLECTS)
    with spent() as found:
        if step == "cluster":
            from distributed import Client, LocalCluster

            with (
                LocalCluster(
                    n_workers=workers, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, memory_limit=0
                ) as cluster,
                Client(cluster) as client,
            ):
                found["count"] = review(root, client.get_executor(), workers)
        elif step == "review":
            place = Processes(workers, 0)
            found["count"] = review(root, place, workers)
            place.close(wait=True)
        else:
            found["count"] = {"events": events, "reading": reading}[step](root)
    return found


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("step", choices=["events", "reading", "review", "cluster"])
    parser.add_argument("root", type=Path)
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    print(json.dumps(run(given.step, given.root, given.workers)))


if __name__ == "__main__":
    main()
