"""Work done by the workers of an existing Dask cluster."""

from __future__ import annotations

import contextlib
import logging
import socket
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final, Self

import numpy as np

from sim import __version__
from sim.blocks import Result
from sim.errors import Refused
from sim.wording import joined

if TYPE_CHECKING:
    from distributed import Client

_PATIENCE: Final = 10.0
# They write tracebacks of a connection that breaks; what that means is told here.
_WORDY_LOGGERS: Final = ("distributed", "distributed.client")


class ClusterError(Refused):
    """Why a cluster cannot be used, and what to do."""


class ClusterLostError(ClusterError):
    """The scheduler or its workers are gone in the middle of the work."""

    exit_code = 1


class Cluster:
    """Does work on the workers of the Dask scheduler at ``address``; use as a context manager.

    The workers need the same versions of reachshare and numpy. What a worker leaves undone
    when it dies another does. Raises `ClusterError`.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._client: Client | None = None
        self._levels: dict[str, int] = {}

    def __enter__(self) -> Self:
        try:
            from distributed import Client
        except ImportError:
            raise ClusterError(
                '--cluster: needs the package "distributed"; pip install "reachshare[cluster]"'
            ) from None
        self._hush()
        try:
            _knock(self.address)
            self._client = Client(self.address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError, OverflowError) as error:
            self._speak()
            raise ClusterError(
                f"--cluster {self.address}: no scheduler answers there ({error}); give the "
                "address that it printed when it started, such as tcp://127.0.0.1:8786"
            ) from None
        try:
            self._check_versions(self._client)
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        if self._client is not None:
            self._client.close()
        self._speak()

    def _hush(self) -> None:
        for name in _WORDY_LOGGERS:
            logger = logging.getLogger(name)
            self._levels[name] = logger.level
            logger.setLevel(logging.CRITICAL + 1)

    def _speak(self) -> None:
        for name, level in self._levels.items():
            logging.getLogger(name).setLevel(level)

    def run(
        self, work: Callable[..., Result], tasks: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Result]]:
        """See `Workers`. Raises `ClusterError`, and whatever ``work`` raises."""
        from distributed import as_completed

        if self._client is None:
            raise ClusterError("a cluster has to be entered before it works")
        with self._told():
            futures = {
                self._client.submit(_work_there, _versions(), work, task, pure=False): number
                for number, task in enumerate(tasks)
            }
            try:
                for future in as_completed(futures, self._client.loop):
                    # Taken out, so that the cluster need not keep it any longer.
                    yield futures.pop(future), future.result()
            finally:
                # A courtesy; a scheduler that is gone cannot be told, by whatever error it shows.
                with contextlib.suppress(Exception):
                    self._client.cancel(list(futures))

    def _check_versions(self, client: Client) -> None:
        """Ask beforehand: a worker that cannot read a task dies of it without a word."""
        with self._told():
            # The scheduler reads them as well, though it does none.
            client.run_on_scheduler(_versions)
            client.run(_refuse_other_versions, _versions())

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        from distributed import CancelledError, KilledWorker

        try:
            yield
        except (KilledWorker, CancelledError, OSError) as error:
            raise self._lost(error) from None
        except Exception as error:
            # From some places it comes as it is, from others wrapped in a plain exception.
            if "No module named" not in str(error):
                if self._client is None or self._client.status != "running":
                    raise self._lost(error) from None
                raise
            raise ClusterError(
                f"--cluster {self.address}: reachshare cannot be loaded there ({error}); install "
                f"version {__version__} for the scheduler and the workers"
            ) from None

    def _lost(self, error: BaseException) -> ClusterLostError:
        return ClusterLostError(
            f"--cluster {self.address}: gave the work up ({type(error).__name__}); a long run "
            "has kept its finished blocks: add --resume to go on"
        )


def _knock(address: str) -> None:
    """Fail soon where no scheduler listens; the client would try for long, or wait for ever."""
    from distributed.comm.addressing import get_address_host_port, parse_address

    scheme, _ = parse_address(address)
    with socket.create_connection(get_address_host_port(address), _PATIENCE) as line:
        # On a plain line the scheduler speaks first; its dashboard, for one, would not.
        if scheme == "tcp" and not line.recv(1):
            raise ConnectionError("it hung up")


def _versions() -> dict[str, str]:
    return {"reachshare": __version__, "numpy": np.__version__}


def _refuse_other_versions(expected: dict[str, str]) -> None:
    """On a worker: refuse to play what would not be, to the byte, what the asker would get."""
    found = _versions()
    if found != expected:
        raise ClusterError(
            f"--cluster: a worker there has {_in_words(found)}, and here it is "
            f"{_in_words(expected)}; install the same versions"
        )


def _in_words(versions: dict[str, str]) -> str:
    return joined([f"{name} {version}" for name, version in versions.items()])


def _work_there(
    expected: dict[str, str], work: Callable[..., Result], task: tuple[Any, ...]
) -> Result:
    """On a worker, which may have joined late: do a task."""
    _refuse_other_versions(expected)
    return work(*task)
