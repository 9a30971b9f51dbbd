"""A cluster of machines (dask.distributed) that works out families of like openings; the extra `cluster` brings it.

Tasks and what comes back of them are pickled: whoever can reach a cluster's scheduler can run anything on its workers
and answer in their place. Use one that is your own.
"""

from __future__ import annotations

import platform
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from . import __version__

if TYPE_CHECKING:
    from concurrent.futures import Executor

WAIT = "10 s"


class ClusterProblem(Exception):  # noqa: N818 - told to the user as it stands
    """The cluster cannot be used. The message is one line."""


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """The cluster whose scheduler listens at `address` (`tcp://10.0.0.5:8786`), with the number of its workers.

    Raises ClusterProblem where there is none, or its workers have another doorlint or Python than this machine.
    """
    try:
        from distributed import Client
    except ModuleNotFoundError:
        text = "a cluster needs dask.distributed, which is not installed: pip install 'doorlint[cluster]'"
        raise ClusterProblem(text) from None
    try:
        client: Any = Client(address, timeout=WAIT, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        text = f"{address}: no scheduler of a cluster answers ({str(error) or type(error).__name__})"
        raise ClusterProblem(text) from None
    with client:
        try:
            known = client.run(versions)
        except Exception as error:  # what a worker without doorlint raises is its own
            raise ClusterProblem(f"{address}: its workers do not answer: {type(error).__name__}: {error}") from None
        if not known:
            raise ClusterProblem(f"{address}: the cluster has no workers")
        for worker, found in sorted(known.items()):
            if found != versions():
                raise ClusterProblem(f"{address}: worker {worker} has {found}; {versions()} is needed")
        yield client.get_executor(), len(known)


def versions() -> str:
    """What has to be the same everywhere for the same outcomes."""
    return f"doorlint {__version__} on Python {'.'.join(platform.python_version_tuple()[:2])}"
