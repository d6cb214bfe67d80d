"""Small runs with a store of finished blocks, and stores that such a run has left behind."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from click.testing import CliRunner, Result

import sim
from sim.blocks import Block
from sim.cli import main
from sim.run_store import RunStore, store_folder
from sim.scenario import Scenario
from sim.tally import Tally

POLICIES: Final = '[{name = "halves", rule = "halves"}, {name = "follow", rule = "follow"}]'
CHEAP: Final = {
    "return_of_serve": {"directions": ["cross"]},
    "policies": [{"name": "halves", "rule": "halves"}, {"name": "follow", "rule": "follow"}],
}
CHEAP_WORDS: Final = (
    *("--set", 'return_of_serve.directions=["cross"]'),
    *("--set", f"policies={POLICIES}"),
)
# One small block, and a store, because it is not known beforehand that it will be the only one.
SHORT: Final = (*CHEAP_WORDS, "--no-figures", "--precision", "0.01", "--max-shots", "256")
SMALL: Final = Block(0, 256)


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, words)])


def scenario(**changes: Any) -> Scenario:
    return sim.load("club-sixties", CHEAP | changes)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def same_tally(a: Tally, b: Tally) -> bool:
    return all(
        getattr(a, name).dtype == getattr(b, name).dtype
        and getattr(a, name).tobytes() == getattr(b, name).tobytes()
        for name in vars(a)
    )


def leave(folder: Path, tally: Tally, of: Scenario | None = None) -> Path:
    """A store beside ``folder`` with one finished block; the path of its file."""
    store = RunStore(store_folder(folder), of or scenario())
    store.open(resume=False)
    store.keep(SMALL, tally)
    return store_folder(folder) / "block-000000.tally"


def state(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}
