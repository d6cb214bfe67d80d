"""Beyond one machine: the workers of a Dask cluster give the same bytes as this process."""

from __future__ import annotations

import os
import signal
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import sim
from sim.cli import main
from sim.cluster import Cluster, ClusterError
from sim.comparison import Comparison, Progress
from sim.draws import BLOCK
from sim.scenario import Scenario

distributed = pytest.importorskip("distributed", reason="needs reachshare[cluster]")

POLICIES = [{"name": "halves", "rule": "halves"}, {"name": "follow", "rule": "follow"}]
WORDS = ("--set", 'return_of_serve.directions=["cross"]', "--between", "follow", "halves")


def scenario(shots: int) -> Scenario:
    changes = {"return_of_serve": {"directions": ["cross"]}, "policies": POLICIES}
    return sim.load("club-sixties", changes | {"run": {"shots": shots}})


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *WORDS, *map(str, words)])


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def counts(comparison: Comparison) -> dict[str, bytes]:
    return {name: value.tobytes() for name, value in vars(comparison.tally).items()}


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """Two worker processes on this machine, and their scheduler in this one."""
    # Any free port for its dashboard: another cluster may run on this machine at the same time.
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0"
    ) as running:
        yield running


def worker_ids(cluster: Any) -> set[int]:
    with distributed.Client(cluster, set_as_default=False) as client:
        return set(client.run(os.getpid).values())


def test_cluster_writes_the_same_files(cluster: Any, tmp_path: Path) -> None:
    shots = str(3 * BLOCK + 500)
    for out, more in (("here", ()), ("there", ("--cluster", cluster.scheduler_address))):
        result = run("--shots", shots, "--no-figures", "--out", tmp_path / out, *more)
        assert result.exit_code == 0, result.stderr
    assert contents(tmp_path / "there") == contents(tmp_path / "here")


def test_workers_of_the_cluster_do_the_work(
    cluster: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The run above would pass as well if the blocks were played here."""

    def not_here(*_: Any) -> None:
        raise AssertionError("played in the asker's process")

    monkeypatch.setattr("sim.blocks.play_together", not_here)
    words = ("--precision", "0.01", "--max-shots", str(BLOCK + 9), "--no-figures")
    result = run(*words, "--out", tmp_path / "out", "--cluster", cluster.scheduler_address)
    assert result.exit_code == 3, result.stderr


def test_killed_worker_does_not_change_the_bytes(cluster: Any) -> None:
    asked = scenario(6 * BLOCK)
    victim = min(worker_ids(cluster))
    told: list[Progress] = []

    def kill_at_the_second_block(progress: Progress) -> None:
        told.append(progress)
        if len(told) == 2:
            os.kill(victim, signal.SIGKILL)

    with Cluster(cluster.scheduler_address) as workers:
        shared = sim.compare(asked, workers=workers, progress=kill_at_the_second_block)
    assert victim not in worker_ids(cluster)
    assert [progress.done for progress in told] == list(range(1, 7))
    assert counts(shared) == counts(sim.compare(asked))


def test_other_versions_are_refused(cluster: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim.cluster.__version__", "99.0")
    with pytest.raises(ClusterError, match=r"there has reachshare .* here .* 99\.0"):
        Cluster(cluster.scheduler_address).__enter__()


def test_worker_that_joins_late_with_another_version_is_refused(
    cluster: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Cluster(cluster.scheduler_address) as workers:
        monkeypatch.setattr("sim.cluster.__version__", "99.0")
        with pytest.raises(ClusterError, match="install the same versions"):
            sim.compare(scenario(100), workers=workers)


def test_cluster_has_to_be_entered() -> None:
    with pytest.raises(ClusterError, match="entered"):
        sim.compare(scenario(100), workers=Cluster("tcp://127.0.0.1:8786"))


def _port_where_nobody_listens() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port: int = taken.getsockname()[1]
    return port


@pytest.mark.parametrize(
    "address",
    [
        f"tcp://127.0.0.1:{_port_where_nobody_listens()}",
        "tcp://127.0.0.1:99999",
        "127.0.0.1",
        "carrier-pigeon://loft:1",
        "",
    ],
)
def test_no_scheduler_is_told(address: str, tmp_path: Path) -> None:
    words = ("--precision", "5", "--no-figures", "--cluster", address)
    result = run(*words, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert f"--cluster {address}: no scheduler answers there" in result.stderr
    assert "tcp://127.0.0.1:8786" in result.stderr
    assert not (tmp_path / "out").exists()


def test_something_else_than_a_scheduler_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Such as the scheduler's own dashboard, which waits to be spoken to."""
    monkeypatch.setattr("sim.cluster._PATIENCE", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as mute:
        address = f"tcp://127.0.0.1:{mute.getsockname()[1]}"
        result = run("--shots", "64", "--out", tmp_path / "out", "--cluster", address)
    assert result.exit_code == 2
    assert "no scheduler answers there" in result.stderr


def test_missing_package_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    result = run("--shots", "64", "--out", tmp_path / "out", "--cluster", "tcp://127.0.0.1:8786")
    assert result.exit_code == 2
    assert 'pip install "reachshare[cluster]"' in result.stderr
