"""Who does the work of a command: processes on this computer, or a cluster.

It must not know the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from mediacheck.names import Depth
    from mediacheck.repair.batch import Crew

Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Send the work on each file to a running Dask cluster, such as tcp://127.0.0.1:8786, whose "
        "workers reach the same files at the same paths.",
        show_default=False,
    ),
]


@contextmanager
def inspectors(
    jobs: int | None, depth: Depth, address: str | None, read: Sequence[Path]
) -> Iterator[tuple[Executor, int]]:
    """A pool for inspections of files on these cards, and how many it does at once.

    On this computer, one process gets ready at once. ClusterError: the cluster cannot do this work.
    """
    from mediacheck import early
    from mediacheck.cli.options import jobs_or_cores
    from mediacheck.inspection import time_limit_s

    if address is None:
        with early.workers(jobs_or_cores(jobs), time_limit_s, depth) as workers:
            yield workers, jobs_or_cores(jobs)
        return
    from mediacheck.cluster.reach import Needs
    from mediacheck.cluster.workers import cluster_workers

    require_no_jobs(jobs)
    with cluster_workers(address, time_limit_s, Needs(tuple(read))) as cluster:
        yield cluster, cluster.threads


@contextmanager
def crew_for(address: str | None, source: Path, out: Path | None) -> Iterator[Crew | None]:
    """The same for a repair of `source` into `out`; None: it has processes of its own on this computer."""
    if address is None:
        yield None
        return
    from mediacheck.cluster.reach import Needs
    from mediacheck.cluster.workers import cluster_workers
    from mediacheck.repair.batch import limit_s
    from mediacheck.repair.places import require_apart

    if out is not None:
        require_apart(out, source)  # the workers try whether they can write beside it
    with cluster_workers(address, limit_s, Needs((source,), out and out.absolute().parent)) as cluster:
        yield lambda _: cluster


@contextmanager
def pool_for(jobs: int | None, address: str | None, *read: Path) -> Iterator[Executor]:
    """The same for loops that are looked at to know them again."""
    from mediacheck.cli.options import jobs_or_cores
    from mediacheck.identify.looking import looking_limit_s

    if address is None:
        from mediacheck.workers import FileWorkers

        with FileWorkers(jobs_or_cores(jobs), looking_limit_s) as workers:
            yield workers
        return
    from mediacheck.cluster.reach import Needs
    from mediacheck.cluster.workers import cluster_workers

    require_no_jobs(jobs)
    with cluster_workers(address, looking_limit_s, Needs(read)) as cluster:
        yield cluster


def require_no_jobs(jobs: int | None) -> None:
    """WrongUse: a cluster has its own number of files at once."""
    from mediacheck.errors import WrongUse

    if jobs is not None:
        raise WrongUse(
            "With --cluster, the cluster says how many files are looked at at once: leave --jobs out."
        )
