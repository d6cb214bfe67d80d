"""Files made again, held against those that a manifest tells of."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final

import numpy as np
from PIL import Image, ImageSequence

from sim.outputs import MANIFEST, digest_of
from sim.rebuilding import Manifest

_PICTURES: Final = (".png", ".gif")
_LINES: Final = (".csv", ".html", ".md", ".svg", ".toml", ".txt")
# Told apart: the fingerprints, and what the run was made with.
_TOLD_ELSEWHERE: Final = ("files", "made_with", "version")


@dataclass(frozen=True)
class Gap:
    """How many numbers of a table differ, and by how much at most, with column and line."""

    cells: int
    largest: float
    column: str
    line: int


@dataclass(frozen=True)
class Cells:
    """Tables of the same shape: whole numbers that differ, other numbers, and how many words."""

    counts: Gap | None
    numbers: Gap | None
    words: int


@dataclass(frozen=True)
class Pixels:
    """Pictures of the same size: the share of pixels that differ, and by how much of 255."""

    share: float
    most: int


@dataclass(frozen=True)
class Lines:
    """Texts: how many lines differ, and the first one (from 1)."""

    differing: int
    first: int


@dataclass(frozen=True)
class Shapes:
    """Pictures of other sizes, or tables of other rows and columns."""

    before: str
    now: str


# None where only bytes can be told apart.
Difference = Cells | Pixels | Lines | Shapes | None


@dataclass(frozen=True)
class Rebuilt:
    """What came of making a run again.

    ``differing`` holds each other file with its difference, or ``unknown`` ones by name where the
    original is not at hand. ``missing`` files did not come out, ``new`` ones the manifest does not
    know. ``changed`` files stand beside the manifest and are not those it tells of; ``entries`` are
    parts of the manifest that came out otherwise; ``versions`` were others then than now.
    """

    same: list[str]
    differing: dict[str, Difference]
    unknown: list[str]
    missing: list[str]
    new: list[str]
    changed: list[str]
    entries: list[str]
    versions: dict[str, tuple[str, str]]

    @property
    def all_the_same(self) -> bool:
        """Whether nothing at all differs, the kind of machine and versions aside."""
        return not (
            self.differing
            or self.unknown
            or self.missing
            or self.new
            or self.changed
            or self.entries
        )


def held_against(manifest: Manifest, folder: Path, rebuilt: Path) -> Rebuilt:
    """The ``rebuilt`` files against the manifest, and against what stands in its ``folder``."""
    fresh = json.loads((rebuilt / MANIFEST).read_text(encoding="utf-8"))
    made, told = fresh["files"], manifest.files
    beside = {name: digest_of(folder / name) for name in told if (folder / name).is_file()}
    other = [name for name in told if name in made and made[name] != told[name]]
    at_hand = [name for name in other if beside.get(name) == told[name]]
    return Rebuilt(
        same=[name for name in told if made.get(name) == told[name]],
        differing={name: difference(folder / name, rebuilt / name) for name in at_hand},
        unknown=[name for name in other if name not in at_hand],
        missing=[name for name in told if name not in made],
        new=[name for name in made if name not in told],
        changed=[name for name, digest in beside.items() if digest != told[name]],
        entries=_entries(manifest.model_dump(exclude_unset=True), fresh),
        versions=_versions(manifest, fresh),
    )


def difference(before: Path, now: Path) -> Difference:
    """In what two files of the same kind differ."""
    try:
        if before.suffix in _PICTURES:
            return _of_pictures(before, now)
        if before.suffix == ".csv" and (found := _of_tables(before, now)):
            return found
        return _of_lines(before, now) if before.suffix in _LINES else None
    except (OSError, ValueError, SyntaxError, csv.Error, Image.DecompressionBombError):
        # The file of another is not what its name says.
        return None


def _of_tables(before: Path, now: Path) -> Cells | Shapes | None:
    (head, *old), (titles, *new) = (_rows(path) or [[]] for path in (before, now))
    if head != titles or [*map(len, old)] != [*map(len, new)]:
        sizes = (f"{len(rows)} rows of {len(top)}" for top, rows in ((head, old), (titles, new)))
        return Shapes(*sizes) if (head, len(old)) != (titles, len(new)) else None
    gaps: dict[str, list[tuple[float, str, int]]] = {"counts": [], "numbers": [], "words": []}
    for line, pair in enumerate(zip(old, new, strict=True), 2):
        for column, (one, other) in enumerate(zip(*pair, strict=True)):
            if one != other:
                kind, gap = _gap(one, other)
                gaps[kind].append((gap, head[column] if column < len(head) else "", line))
    if not any(gaps.values()):
        return None
    return Cells(_largest(gaps["counts"]), _largest(gaps["numbers"]), len(gaps["words"]))


def _largest(gaps: list[tuple[float, str, int]]) -> Gap | None:
    return Gap(len(gaps), *max(gaps, key=lambda gap: gap[0])) if gaps else None


def _gap(one: str, other: str) -> tuple[str, float]:
    """What two cells are that differ, and by how much."""
    try:
        gap = abs(float(one) - float(other))
    except ValueError:
        return "words", 0.0
    return "counts" if one.isdigit() and other.isdigit() else "numbers", gap


def _of_pictures(before: Path, now: Path) -> Pixels | Shapes:
    with Image.open(before) as old, Image.open(now) as new:
        shapes = [_shape(picture) for picture in (old, new)]
        # Looked at before they are unpacked: no larger than what we have made ourselves.
        if shapes[0] != shapes[1]:
            return Shapes(*shapes)
        differing, pixels, most = 0, 0, 0
        for one, other in zip(_frames(old), _frames(new), strict=True):
            gaps = np.abs(one - other).max(axis=2)
            differing += int(np.count_nonzero(gaps))
            pixels += gaps.size
            most = max(most, int(gaps.max()))
    return Pixels(differing / pixels, most)


def _shape(picture: Image.Image) -> str:
    frames = getattr(picture, "n_frames", 1)
    film = f" in {frames} frames" if frames > 1 else ""
    return f"{picture.width} x {picture.height} pixels{film}"


def _frames(picture: Image.Image) -> Iterator[np.ndarray]:
    for frame in ImageSequence.Iterator(picture):
        yield np.asarray(frame.convert("RGBA"), dtype=np.int16)


def _of_lines(before: Path, now: Path) -> Lines:
    old, new = (path.read_text(encoding="utf-8").splitlines() for path in (before, now))
    differing = [line for line, (one, other) in enumerate(zip_longest(old, new), 1) if one != other]
    return Lines(len(differing), differing[0] if differing else 0)


def _rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def _entries(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """Parts of the manifest that differ, those aside that are told elsewhere."""
    names = dict.fromkeys([*before, *now])
    return [
        name for name in names if name not in _TOLD_ELSEWHERE and before.get(name) != now.get(name)
    ]


def _versions(manifest: Manifest, fresh: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Versions then and now, where they differ."""
    then = {"reachshare": manifest.version} | manifest.made_with
    now = {"reachshare": fresh["version"]} | fresh["made_with"]
    return {
        name: (then.get(name, "none"), now.get(name, "none"))
        for name in {**then, **now}
        if then.get(name) != now.get(name)
    }
