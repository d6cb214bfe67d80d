"""Blocks played by the workers of an existing Dask cluster."""

from __future__ import annotations

from collections.abc import Iterator
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

import numpy as np

from sim import __version__
from sim.blocks import Block, play_block
from sim.errors import Refused
from sim.scenario import Scenario
from sim.tally import Tally

if TYPE_CHECKING:
    from distributed import Client

_PATIENCE: Final = "15s"


class ClusterError(Refused):
    """Why a cluster cannot be used, and what to do."""


class Cluster:
    """Plays blocks on the workers of the Dask scheduler at ``address``; use as a context manager.

    The workers need the same versions of reachshare and numpy. A block whose worker dies is played
    by another. Raises `ClusterError`.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._client: Client | None = None

    def __enter__(self) -> Self:
        try:
            from distributed import Client
        except ImportError:
            raise ClusterError(
                '--cluster: needs the package "distributed"; pip install "reachshare[cluster]"'
            ) from None
        try:
            self._client = Client(self.address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            reason = str(error).splitlines()[0]
            raise ClusterError(
                f"--cluster {self.address}: no scheduler answers there ({reason}); give the "
                "address that it printed when it started, such as tcp://127.0.0.1:8786"
            ) from None
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        if self._client is not None:
            self._client.close()

    def play(self, scenario: Scenario, blocks: list[Block]) -> Iterator[tuple[Block, Tally]]:
        """Play the blocks and give each back as soon as it is done."""
        from distributed import CancelledError, KilledWorker, as_completed

        if self._client is None:
            raise ClusterError("a cluster has to be entered before it plays")
        here = _versions()
        futures = {
            self._client.submit(_play_there, here, scenario, block, pure=False): block
            for block in blocks
        }
        try:
            for future in as_completed(futures):
                yield futures[future], future.result()
        except (KilledWorker, CancelledError) as error:
            raise ClusterError(
                f"--cluster {self.address}: gave a block up ({type(error).__name__}); finished "
                "blocks are kept, add --resume to go on"
            ) from None
        except ModuleNotFoundError as error:
            raise ClusterError(
                f"--cluster {self.address}: its workers lack the module {error.name}; install "
                f"reachshare {__version__} there"
            ) from None
        finally:
            self._client.cancel(list(futures))


def _versions() -> dict[str, str]:
    return {"reachshare": __version__, "numpy": np.__version__}


def _play_there(expected: dict[str, str], scenario: Scenario, block: Block) -> Tally:
    """On a worker: play a block, if its bytes will be those that the asker would get."""
    found: dict[str, Any] = _versions()
    if found != expected:
        raise ClusterError(f"--cluster: its workers have {found}, and here it is {expected}")
    return play_block(scenario, block)
