"""The output folder: written whole or not at all, and never over another run's results."""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import re
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Final

from sim.errors import Refused
from sim.plain_text import shown_key, spelt_out
from sim.shell_words import to_copy
from sim.tables import Row
from sim.wording import joined
from sim.workplaces import OccupiedError, Workplace, workplace

MANIFEST: Final = "manifest.json"
# Of numbers in tables.
DECIMALS: Final = 6
# What spreadsheets take for a formula, spaces and quotation marks before it or not; the wide signs
# are those of East Asian keyboards. A signed number with its unit is none.
_FORMULA: Final = re.compile(r"[\s'\"]*[=+\-@＝＋－＠]")
_QUANTITY: Final = re.compile(r"[+-]?\d+(\.\d*)?(e[+-]?\d+)?( ?[A-Za-z/%]+)?", re.ASCII)
_SAME_RUN: Final = ("program", "version", "scenario_digest", "options", "inputs")
_IN_WORDS: Final = {
    "scenario_digest": "settings of the scenario",
    "options": "options",
    "command": "command",
    "inputs": "input files",
}


class OutputError(Refused):
    """Why results cannot be written where they were asked for, and what to do."""


@contextmanager
def reserved(
    folder: Path, manifest: dict[str, Any], *, force: bool, reads: Iterable[Path] = ()
) -> Iterator[None]:
    """Keep ``folder`` for this run, from before its work until its results are there.

    What a run that was killed has left is put right first; then see `check_folder`. Files that the
    run ``reads`` are never removed or replaced. Raises `OutputError`, also where another run that
    lives is to write there.
    """
    with _workplace(folder) as place:
        place.reads = list(reads)
        check_folder(folder, manifest, force=force)
        _spare_what_is_read(folder, place, _files_named_in(place.folder))
        yield


def check_folder(folder: Path, manifest: dict[str, Any], *, force: bool) -> None:
    """Make sure, before the work, that a run may be written to ``folder``; writes nothing.

    The folder may be missing, empty, or hold the very same run as it was written. Anything else
    needs ``force``.

    Raises `OutputError`.
    """
    settled = _settled(folder)
    try:
        if settled.is_dir() and any(settled.iterdir()) and not force:
            _check_same_run(folder, _manifest_in(settled), manifest)
            _check_unchanged(folder, settled)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be read: {error.strerror}") from None
    standing = settled
    while not standing.exists():
        standing = standing.parent
    if not standing.is_dir() or not os.access(standing, os.W_OK):
        raise OutputError(f"{folder}: cannot be written to; choose another --out")


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A scratch folder whose files all move to ``folder`` at the end, or vanish on any failure.

    A folder that is not there yet appears at once. Into one that is, the manifest moves last, so
    that a folder with a manifest is complete; files of an earlier run that its manifest names and
    this run does not write are removed. Raises `OutputError` instead of replacing a file that the
    run has read. A run that is killed in between leaves its workplace (`sim.workplaces`), from
    which the next one puts back what stood there before.
    """
    with _workplace(folder) as place:
        try:
            yield place.empty()
            _spare_what_is_read(folder, place, [each.name for each in place.new.iterdir()])
            place.move(MANIFEST, _files_named_in(place.folder))
        except OSError as error:
            raise OutputError(f"{folder}: writing failed: {_why(error)}") from None


def write_new_file(path: Path, text: str) -> None:
    """Write a text file whole or not at all, and never over another. Raises `OutputError`."""
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            try:
                file.write(text)
                file.flush()
            except BaseException:
                path.unlink()
                raise
    except FileExistsError:
        raise OutputError(f"{path}: is there already; choose another name") from None
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {_why(error)}") from None


def write_table(path: Path, rows: Iterable[Row]) -> None:
    """Write tidy rows as CSV (UTF-8, comma, one header line); numbers at six decimals at most.

    Columns are those of the first row and, after them, any that later rows add.
    """
    rows = list(rows)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    write_large_table(path, [rows], columns)


def write_large_table(path: Path, blocks: Iterable[list[Row]], columns: list[str]) -> None:
    """Write rows that come a block at a time, with columns known beforehand."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        # A column may be called after a file.
        writer.writerow({name: _cell(name) for name in columns})
        for rows in blocks:
            writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)


def write_manifest(folder: Path, manifest: dict[str, Any]) -> None:
    """Write the manifest with a fingerprint (SHA-256) of every other file of the run."""
    files = {path.name: digest_of(path) for path in sorted(folder.iterdir())}
    text = json.dumps(manifest | {"files": files}, indent=2, ensure_ascii=False)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8", newline="")


def digest_of(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _why(error: OSError) -> str:
    """The system's reason, with the file that could not be replaced if it was one."""
    target = f" ({Path(error.filename2).name})" if error.filename2 else ""
    return f"{error.strerror or error}{target}"


def _in_words(key: str, before: dict[str, Any], now: dict[str, Any]) -> str:
    """What differs between two runs; of options, those that do."""
    if key != "options" or not isinstance(before.get(key), dict):
        return _IN_WORDS.get(key, key)
    then, mine = before[key], now[key]
    names = [name for name in {**then, **mine} if then.get(name) != mine.get(name)]
    as_typed = [shown_key(f"--{name}".replace("_", "-")) for name in names]
    return joined(
        [_IN_WORDS.get(name, option) for name, option in zip(names, as_typed, strict=True)]
    )


def _cell(value: Any) -> str | int:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        # Adding 0.0 turns a negative zero into a plain one.
        return f"{round(value, DECIMALS) + 0.0:.{DECIMALS}f}".rstrip("0").rstrip(".")
    if isinstance(value, str):
        text = spelt_out(value)
        formula = _FORMULA.match(text) and not _QUANTITY.fullmatch(text)
        return f"'{text}" if formula else text
    return value


def _check_same_run(folder: Path, before: dict[str, Any] | None, manifest: dict[str, Any]) -> None:
    if before is None:
        raise OutputError(
            f"{folder}: holds files that are not from reachshare; choose another --out, or add "
            "--force to write among them, and in place of any that has the name of a result"
        )
    differing = [key for key in _SAME_RUN if before.get(key) != manifest.get(key)]
    if differing:
        words = [_in_words(key, before, manifest) for key in differing]
        raise OutputError(
            f"{folder}: holds the results of another run (other {joined(words)}); add "
            "--force to replace them, or choose another --out"
        )


def _check_unchanged(folder: Path, settled: Path) -> None:
    """Raise `OutputError` where results have been worked on since they were written."""
    named = (_manifest_in(settled) or {}).get("files")
    written = named if isinstance(named, dict) else {}
    changed = [
        name
        for name in _files_named_in(settled)
        # A link is not of our making, and what it leads to is not touched.
        if (path := settled / name).is_file()
        and not path.is_symlink()
        and digest_of(path) != written.get(name)
    ]
    if changed and written:
        raise OutputError(
            f"{folder}: {joined([spelt_out(name) for name in changed])} there is not as the run "
            "wrote it: changed since; choose another --out, or add --force to replace it"
        )


def _spare_what_is_read(folder: Path, place: Workplace, names: Iterable[str]) -> None:
    """Raise `OutputError` where a file to be removed or replaced is one that the run reads."""
    for name in names:
        there = place.folder / name
        if there.exists() and any(_is_same_file(there, path) for path in place.reads):
            raise OutputError(
                f"{folder}: {spelt_out(name)} there is read by this run, and a result would take "
                "its place; choose another --out"
            )


def _is_same_file(there: Path, read: Path) -> bool:
    return read.exists() and there.samefile(read)


def _settled(folder: Path) -> Path:
    """Where the folder really is or will be. Raises `OutputError` where it cannot be a folder."""
    try:
        for part in (folder, *folder.parents):
            if part.is_symlink() and not part.exists():
                raise OutputError(
                    f"{folder}: {part} is a link to {os.readlink(part)}, which is not there; mend "
                    "the link, or choose another --out"
                )
        settled = folder.resolve()
        if settled.exists() and not settled.is_dir():
            raise OutputError(f"{folder}: is a file; choose another --out")
        if _is_edge_of_a_disk(settled):
            raise OutputError(
                f"{folder}: is where a disk begins, and results are made beside their folder; "
                f"choose one in it, such as --out {to_copy(folder / 'results')}"
            )
    except (OSError, RuntimeError) as error:
        # Links that go round in a circle are a RuntimeError before Python 3.13.
        why = error.strerror if isinstance(error, OSError) else "its links go round in a circle"
        raise OutputError(f"{folder}: cannot be read: {why}; choose another --out") from None
    return settled


def _is_edge_of_a_disk(folder: Path) -> bool:
    """Whether files cannot be moved into the folder from the one that it stands in."""
    if not folder.exists():
        return False
    return not folder.name or folder.stat().st_dev != folder.parent.stat().st_dev


@contextmanager
def _workplace(folder: Path) -> Iterator[Workplace]:
    """The folder's workplace; what keeps it from being made is told."""
    settled = _settled(folder)
    with ExitStack() as stack:
        try:
            place = stack.enter_context(workplace(settled))
        except OccupiedError:
            raise OutputError(
                f"{folder}: another run is to write there; wait until it is done, or choose "
                "another --out"
            ) from None
        except OSError as error:
            raise OutputError(
                f"{folder}: cannot be written to: {_why(error)}; choose another --out"
            ) from None
        yield place


def _manifest_in(folder: Path) -> dict[str, Any] | None:
    path = folder / MANIFEST
    try:
        # Whatever else is called so may have no end, or no beginning.
        if not path.is_file():
            return None
        manifest = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return manifest if isinstance(manifest, dict) and manifest.get("program") else None


def _files_named_in(folder: Path) -> list[str]:
    """Files of an earlier run; a manifest must not be able to point outside its folder."""
    named = (_manifest_in(folder) or {}).get("files")
    if not isinstance(named, list | dict):
        return []
    plain = [name for name in named if isinstance(name, str) and name == Path(name).name]
    return [name for name in plain if name not in ("", "..")]
