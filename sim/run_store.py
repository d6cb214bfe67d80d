"""The run store: finished blocks of a long run, kept beside the output until the run is done."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from sim import __version__
from sim.blocks import Block
from sim.errors import Refused
from sim.scenario import Scenario
from sim.tally import Tally
from sim.wording import counted, joined

_IDENTITY: Final = "run.json"
_BLOCKS: Final = "block-*.tally"
_PARTIAL: Final = "*.partial"
_OURS: Final = (_BLOCKS, _IDENTITY, _PARTIAL)
_SEAL: Final = hashlib.sha256().digest_size
_IN_WORDS: Final = {
    "program": "program",
    "version": "version of reachshare",
    "numpy": "version of numpy",
    "seed": "seed",
    "scenario": "settings of the scenario",
}


class StoreError(Refused):
    """Why a run store cannot be used, and what to do."""


def store_folder(out: Path) -> Path:
    """Where the store of a run into ``out`` stands: beside it."""
    out = out.resolve()
    return out.with_name(f"{out.name}.unfinished")


class RunStore:
    """A folder with a file for every finished block and one that says which run they belong to.

    Files are written whole or not at all, so that a run killed at any moment loses no more than the
    blocks being played. Each begins with a seal over the run and the rest of the file; one whose
    seal does not fit is played again.
    """

    def __init__(self, folder: Path, scenario: Scenario) -> None:
        self.folder = folder
        self.identity = _identity_of(scenario)
        self.unreadable: list[str] = []

    def open(self, *, resume: bool, force: bool = False) -> int:
        """Make the store ready; returns how many blocks an earlier run has left in it.

        Raises `StoreError` where blocks were left and neither ``resume`` nor ``force`` (which
        throws them away) is asked for, where they belong to another run, and where the folder
        cannot be written to.
        """
        kept = self.check(resume=resume, force=force)
        with self._told():
            if not kept:
                self._clear()
            self.folder.mkdir(parents=True, exist_ok=True)
            text = json.dumps(self.identity, indent=2) + "\n"
            _write_whole(self.folder / _IDENTITY, text.encode())
        return kept

    def check(self, *, resume: bool, force: bool = False) -> int:
        """How many blocks are left to go on with; refuses as `open` does, and writes nothing."""
        with self._told():
            if os.path.lexists(self.folder) and not self.folder.is_dir():
                what = "a link to nowhere" if self.folder.is_symlink() else "a file"
                raise StoreError(f"{self.folder}: is {what}; move it away or choose another --out")
            kept = len(list(self.folder.glob(_BLOCKS)))
            if kept and not resume and not force:
                blocks = counted(kept, "finished block")
                raise StoreError(
                    f"{self.folder}: holds {blocks} of an interrupted run; add --resume to go on "
                    "from there, or --force to throw them away"
                )
            if not resume:
                return 0
            if kept:
                self._check_identity()
            return kept

    def read(self, block: Block) -> Tally | None:
        """A block kept earlier, or nothing."""
        path = self._path(block)
        if not os.path.lexists(path):
            return None
        data = _content(path)
        seal, content = data[:_SEAL], data[_SEAL:]
        if seal != self._seal(content):
            self.unreadable.append(path.name)
            return None
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            if arrays["block"].tolist() != [block.number, block.shots]:
                return None
            return Tally(**{name: arrays[name] for name in Tally.__dataclass_fields__})

    def keep(self, block: Block, tally: Tally) -> None:
        """Keep a finished block. Raises `StoreError` when it cannot be written."""
        buffer = io.BytesIO()
        np.savez_compressed(buffer, block=[block.number, block.shots], **vars(tally))
        content = buffer.getvalue()
        with self._told():
            _write_whole(self._path(block), self._seal(content) + content)

    def remove(self) -> None:
        """Clear up after the run is done, as far as that can be done."""
        with contextlib.suppress(OSError):
            self._clear()
            self.folder.rmdir()

    def leave(self) -> None:
        """Leave only what an interrupted run can go on with: whole blocks, or nothing at all."""
        with contextlib.suppress(OSError):
            if not any(self.folder.glob(_BLOCKS)):
                self.remove()
            for path in self.folder.glob(_PARTIAL):
                path.unlink()

    def _clear(self) -> None:
        """Remove what a store is made of; whatever else stands in the folder is not ours."""
        for pattern in _OURS:
            for path in self.folder.glob(pattern):
                path.unlink()

    def _path(self, block: Block) -> Path:
        return self.folder / f"block-{block.number:06}.tally"

    def _seal(self, content: bytes) -> bytes:
        run = json.dumps(self.identity, sort_keys=True).encode()
        return hashlib.sha256(run + content).digest()

    def _check_identity(self) -> None:
        try:
            found = json.loads(_content(self.folder / _IDENTITY))
            differing = [key for key in self.identity if found.get(key) != self.identity[key]]
        except (ValueError, AttributeError, RecursionError):
            raise StoreError(
                f"{self.folder}: does not say which run it belongs to ({_IDENTITY} is damaged); "
                "leave out --resume and add --force to throw its blocks away"
            ) from None
        if differing:
            words = joined([_IN_WORDS[key] for key in differing])
            raise StoreError(
                f"{self.folder}: belongs to another run (other {words}); choose another --out, or "
                "leave out --resume and add --force to throw its blocks away"
            )

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            name = f" ({Path(error.filename2).name})" if error.filename2 else ""
            raise StoreError(
                f"{self.folder}: cannot be written to: {error.strerror or error}{name}"
            ) from None


def _identity_of(scenario: Scenario) -> dict[str, Any]:
    """What must be the same for the blocks of one run to be those of another."""
    run = scenario.run.model_copy(update={"seed": 0, "shots": 1})
    return {
        "program": "reachshare",
        "version": __version__,
        "numpy": np.__version__,
        "seed": scenario.run.seed,
        "scenario": scenario.model_copy(update={"run": run}).digest(),
    }


def _content(path: Path) -> bytes:
    """What is in a file; nothing if it cannot be read, or is none: a pipe would have no end."""
    try:
        return path.read_bytes() if path.is_file() else b""
    except OSError:
        return b""


def _write_whole(path: Path, data: bytes) -> None:
    """Write a file under another name first, so that it is there whole or not at all."""
    partial = path.with_suffix(f".{os.getpid()}.partial")
    try:
        with partial.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(partial, path)
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
