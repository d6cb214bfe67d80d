"""The output folder: written whole or not at all, and never over another run's results."""

from __future__ import annotations

import csv
import json
import math
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sim.errors import Refused
from sim.plain_text import spelt_out
from sim.tables import Row
from sim.wording import joined

MANIFEST: Final = "manifest.json"
# Of numbers in tables.
DECIMALS: Final = 6
# What spreadsheets take for a formula, spaces and quotation marks before it or not; the wide signs
# are those of East Asian keyboards. A signed number with its unit is none.
_FORMULA: Final = re.compile(r"[\s'\"]*[=+\-@＝＋－＠]")
_QUANTITY: Final = re.compile(r"[+-]?\d+(\.\d*)?(e[+-]?\d+)?( ?[A-Za-z/%]+)?", re.ASCII)
_SAME_RUN: Final = ("program", "version", "scenario_digest", "options")
_IN_WORDS: Final = {
    "scenario_digest": "settings of the scenario",
    "options": "options",
    "command": "command",
    "figures": "--no-figures",
}


class OutputError(Refused):
    """Why results cannot be written where they were asked for, and what to do."""


def check_folder(folder: Path, manifest: dict[str, Any], *, force: bool) -> None:
    """Make sure, before the work, that a run may be written to ``folder``; writes nothing.

    The folder may be missing, empty, or hold the very same run. Anything else needs ``force``.

    Raises `OutputError`.
    """
    try:
        if folder.exists() and not folder.is_dir():
            raise OutputError(f"{folder}: is a file; choose another --out")
        if folder.is_dir() and any(folder.iterdir()) and not force:
            before = _manifest_in(folder)
            if before is None:
                raise OutputError(
                    f"{folder}: holds files that are not from reachshare; choose another --out, "
                    "or add --force to write among them"
                )
            differing = [key for key in _SAME_RUN if before.get(key) != manifest.get(key)]
            if differing:
                words = [_in_words(key, before, manifest) for key in differing]
                raise OutputError(
                    f"{folder}: holds the results of another run (other {joined(words)}); add "
                    "--force to replace them, or choose another --out"
                )
    except OSError as error:
        raise OutputError(f"{folder}: cannot be read: {error.strerror}") from None
    standing = folder
    while not standing.exists() and standing != standing.parent:
        standing = standing.parent
    if not standing.is_dir() or not os.access(standing, os.W_OK):
        raise OutputError(f"{folder}: cannot be written to; choose another --out")


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A scratch folder whose files all move to ``folder`` at the end, or vanish on any failure.

    The manifest moves last, so that a folder with a manifest is complete. Files of an earlier run
    that its manifest names and this run does not write are removed.
    """
    shown, folder = folder, folder.resolve()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    except OSError as error:
        raise OutputError(f"{shown}: cannot be written to: {error.strerror}") from None
    try:
        yield scratch
        _move(scratch, folder)
    except OSError as error:
        raise OutputError(f"{shown}: writing failed: {error.strerror or error}") from None
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


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
    """Write the manifest, naming all files of the run."""
    names = sorted(path.name for path in folder.iterdir())
    text = json.dumps(manifest | {"files": [*names, MANIFEST]}, indent=2, ensure_ascii=False)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8", newline="")


def _in_words(key: str, before: dict[str, Any], now: dict[str, Any]) -> str:
    """What differs between two runs; of options, those that do."""
    if key != "options" or not isinstance(before.get(key), dict):
        return _IN_WORDS.get(key, key)
    then, mine = before[key], now[key]
    names = [name for name in {**then, **mine} if then.get(name) != mine.get(name)]
    return joined([_IN_WORDS.get(name, f"--{name.replace('_', '-')}") for name in names])


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


def _manifest_in(folder: Path) -> dict[str, Any] | None:
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return manifest if isinstance(manifest, dict) and manifest.get("program") else None


def _move(scratch: Path, folder: Path) -> None:
    """Put a finished run in its place; on any failure what stood there before is put back."""
    stood_before = folder.exists()
    folder.mkdir(exist_ok=True)
    named = (_manifest_in(folder) or {}).get("files", [])
    written = sorted(path.name for path in scratch.iterdir())
    backup = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    moved: list[str] = []
    try:
        for name in {*written, *(name for name in named if _is_plain(name))}:
            if (folder / name).is_file():
                os.replace(folder / name, backup / name)
        # The manifest comes last: a folder with a manifest is complete.
        for name in sorted(written, key=lambda name: name == MANIFEST):
            os.replace(scratch / name, folder / name)
            moved.append(name)
    except OSError:
        for name in moved:
            (folder / name).unlink(missing_ok=True)
        for path in backup.iterdir():
            os.replace(path, folder / path.name)
        # Empty by now; were a file of it not put back, it would stay and be found there.
        backup.rmdir()
        if not stood_before:
            folder.rmdir()
        raise
    shutil.rmtree(backup, ignore_errors=True)


def _is_plain(name: Any) -> bool:
    """A plain file name: a manifest must not be able to point outside its folder."""
    return isinstance(name, str) and name not in ("", ".", "..") and name == Path(name).name
