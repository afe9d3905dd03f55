"""Workers on other machines: a Dask cluster, reached as an executor in the sense of `concurrent.futures`.

Every worker needs Stavewright and an engraver of the same versions as here; which it is asked for with each
batch. A batch whose worker is lost is given to another.

Batches and ink travel as pickled values, which can run any program where they are read. So whoever can reach
the scheduler commands every machine of the cluster, this one too, unless Dask asks for certificates (`tls://`).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from ipaddress import ip_address
from urllib.parse import urlsplit

from .lilypond import EngraverMissing
from .scheduler import RemoteWorkers

_SECONDS = 20
"""How long to wait for an answer of the cluster."""


def is_open(address: str) -> bool:
    """Whether a scheduler is reached without encryption and certificates, on more than this machine."""
    parts = urlsplit(address if "://" in address else f"tcp://{address}")
    if parts.scheme in ("tls", "wss", "inproc") or parts.hostname == "localhost":
        return False
    try:
        return not ip_address(parts.hostname or "").is_loopback
    except ValueError:
        return True


@contextmanager
def cluster(address: str) -> Iterator[RemoteWorkers]:
    """The workers of the Dask scheduler at an address such as `tls://host:8786`.

    With `tls://`, Dask's own settings name the certificates (`docs/trust.md`). Raises EngraverMissing.
    """
    try:
        from distributed import Client
    except ImportError:
        raise EngraverMissing(
            "workers on other machines need Dask here too: pip install 'stavewright[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=_SECONDS, set_as_default=False)
    except TypeError:
        # Dask says it so where it has no certificate for an address that wants one.
        raise EngraverMissing(
            f"{address}: Dask's settings name no certificates; docs/trust.md says how to set them"
        ) from None
    except (OSError, ValueError) as error:
        raise EngraverMissing(f"{address}: no Dask scheduler answers there: {error}") from None
    with client:
        count = sum(client.nthreads().values())
        if not count:
            raise EngraverMissing(f"{address}: the scheduler has no workers; start some with `dask worker`")
        with client.get_executor(pure=False) as executor:
            yield RemoteWorkers(executor, count)
