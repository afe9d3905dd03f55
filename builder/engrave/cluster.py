"""Workers on other machines: a Dask cluster, reached as an executor in the sense of `concurrent.futures`.

Every worker needs Stavewright and an engraver of the same versions as here; which it is asked for with each
batch. A batch whose worker is lost is given to another.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from .batch import Workers
from .engine import EngraverMissing

_SECONDS = 20
"""How long to wait for an answer of the cluster."""


@contextmanager
def cluster(address: str) -> Iterator[Workers]:
    """The workers of the Dask scheduler at an address such as `tcp://host:8786`. Raises EngraverMissing."""
    try:
        from distributed import Client
    except ImportError:
        raise EngraverMissing(
            "workers on other machines need Dask here too: pip install 'stavewright[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise EngraverMissing(f"{address}: no Dask scheduler answers there: {error}") from None
    with client:
        count = sum(client.nthreads().values())
        if not count:
            raise EngraverMissing(f"{address}: the scheduler has no workers; start some with `dask worker`")
        with client.get_executor(pure=False) as executor:
            yield Workers(executor, count)
