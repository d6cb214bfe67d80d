"""A hidden folder beside an output, in which a run makes its results until they are whole."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Final

from sim.stopping import undisturbed

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# Longer than any name that is made from the output's later on: one that is too long fails first.
_ENDING: Final = ".reachshare-working"
# One run's workplace is cleared away just as another one's is made: then again.
_TRIES: Final = 10
# Of this process; the lock of a file does not keep it from itself.
_taken: dict[Path, Workplace] = {}


class OccupiedError(Exception):
    """Another run that lives works into the same folder."""


class Workplace:
    """Where the results for ``folder``, a resolved path, are made.

    ``lock`` is held by the run that lives, and let go by the system however that run ends: whoever
    gets it may clear up after the dead. ``new`` are the results as they are written, ``old`` those
    of an earlier run while they are replaced, and ``moving`` names the new ones until all are in
    place. ``reads`` are files that the run must leave where they are.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.reads: list[Path] = []
        self.at = folder.with_name(f".{folder.name}{_ENDING}")
        self.new, self._old = self.at / "new", self.at / "old"
        self._lock, self._moving = self.at / "lock", self.at / "moving"

    def empty(self) -> Path:
        """The folder for the new files, with none in it."""
        shutil.rmtree(self.new, ignore_errors=True)
        self.new.mkdir()
        return self.new

    def move(self, last: str, replaced: Iterable[str]) -> None:
        """Move all new files into the folder; on any failure what stood there is put back.

        A folder that is not there yet appears at once, in one step. Else the file named ``last``
        is the first to go and the last to come. Files that are ``replaced`` go, and no others but
        those of the same names.
        """
        with undisturbed():
            if not self.folder.exists():
                os.replace(self.new, self.folder)
                return
            coming = _in_order(self.new, last)
            gone = dict.fromkeys([last, *coming, *replaced])
            self._old.mkdir()
            self._note(coming)
            try:
                for name in gone:
                    # Links as such; a folder is not of our making.
                    if (path := self.folder / name).is_symlink() or path.is_file():
                        os.replace(path, self._old / name)
                for name in coming:
                    os.replace(self.new / name, self.folder / name)
                self._moving.unlink()
            except OSError:
                self._put_back()
                raise

    def _note(self, coming: list[str]) -> None:
        """Say what is going to be moved; a note is there whole or not at all."""
        partial = self.at / "moving.partial"
        partial.write_text(json.dumps(coming), encoding="utf-8")
        os.replace(partial, self._moving)

    def _noted(self) -> list[str]:
        try:
            names = json.loads(self._moving.read_text(encoding="utf-8"))
            if names and all(name == Path(name).name for name in names):
                return list(names)
        except (ValueError, TypeError, RecursionError):
            pass
        raise OSError(f"{self._moving} is damaged; what was to be replaced stands beside it")

    def _put_back(self) -> None:
        """Undo a move that was not finished; may itself be broken off and done again."""
        if not self._moving.exists():
            return
        coming = self._noted()
        for name in reversed(coming):
            if not (self.new / name).exists() and os.path.lexists(self.folder / name):
                os.replace(self.folder / name, self.new / name)
        for name in _in_order(self._old, coming[-1]):
            os.replace(self._old / name, self.folder / name)
        self._moving.unlink()

    def _clear(self) -> None:
        """Leave nothing, unless there is still something to put back."""
        if not self._moving.exists():
            for part in (self.new, self._old):
                shutil.rmtree(part, ignore_errors=True)
            (self.at / "moving.partial").unlink(missing_ok=True)


@contextmanager
def workplace(folder: Path) -> Iterator[Workplace]:
    """The workplace of ``folder``, for this run alone; nothing is left of it at the end.

    What a run that was killed has left behind is put right first. Raises `OccupiedError`, and
    `OSError` where nothing can be written. Within, asking again gives the same workplace.
    """
    if folder in _taken:
        yield _taken[folder]
        return
    place = Workplace(folder)
    missing = [parent for parent in folder.parents if not parent.exists()]
    try:
        with _locked(place):
            place._put_back()
            place._clear()
            _taken[folder] = place
            try:
                yield place
            finally:
                del _taken[folder]
                with undisturbed():
                    place._clear()
    finally:
        # Only those that are empty again.
        with contextlib.suppress(OSError):
            for parent in missing:
                parent.rmdir()


@contextmanager
def _locked(place: Workplace) -> Iterator[None]:
    file = None
    try:
        with undisturbed():
            file = _lock_of(place)
        yield
    finally:
        with undisturbed():
            if file:
                _let_go(file, place._lock)
            # Unless another run is in it, or something is left to put back.
            with contextlib.suppress(OSError):
                place.at.rmdir()


def _let_go(file: IO[bytes], path: Path) -> None:
    if sys.platform == "win32":
        # No file is removed there while it is open.
        file.close()
    with contextlib.suppress(OSError):
        path.unlink()
    file.close()


def _lock_of(place: Workplace) -> IO[bytes]:
    """The lock, held until it is closed."""
    for attempt in range(_TRIES):
        try:
            place.at.mkdir(parents=True, exist_ok=True)
            if place.at.is_symlink():
                raise NotADirectoryError(f"{place.at.name} beside it is a link")
            file = place._lock.open("ab")
        except FileNotFoundError:
            if attempt == _TRIES - 1:
                raise
            continue
        if not _is_free(file):
            file.close()
            raise OccupiedError
        with contextlib.suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(file.fileno()), place._lock.stat()):
                return file
        file.close()
    raise OccupiedError


def _is_free(file: IO[bytes]) -> bool:
    """Whether the lock was to be had, and is ours now.

    Where a file system knows no locks, it always is: two runs at once are then not told apart.
    """
    try:
        if sys.platform == "win32":
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            # Of the process, not of the open file: workers that were forked do not hold it.
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


def _in_order(folder: Path, last: str) -> list[str]:
    return sorted((path.name for path in folder.iterdir()), key=lambda name: (name == last, name))
