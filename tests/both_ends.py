"""The same numbers from the oldest and the newest Python and packages that are allowed.

In each environment ``python -m tests.both_ends play FOLDER`` runs a few commands and keeps their
tables in full. ``python -m tests.both_ends compare ONE OTHER`` then goes through the two folders
number by number, says what differs most, and fails where anything differs by more than rounding.
"""

from __future__ import annotations

import csv
import io
import math
import platform
import sys
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import Final, NamedTuple
from unittest import mock

from sim.cli import main

QUICK: Final = ("--no-figures", "--workers", "1", "--quiet")
EVERY_SHOT: Final = ("--every-shot", "--no-figures", "--shots", "512", "--quiet")
WIND: Final = ("air.wind_to_the_right=9 mph", "air.wind_from_behind=-7 mph")
# Both samplers, wind, every kind of third shot and of policy; and whatever else solves or fits:
# linear programs, searches of places, indices of variance, posteriors.
PLAYED: Final[dict[str, tuple[str, ...]]] = {
    **{
        name: ("compare", name, *EVERY_SHOT)
        for name in ("club-sixties", "seventies-lobs", "tall-and-short", "stop-or-run")
    },
    "pseudo-random": ("compare", "fast-hitters", *EVERY_SHOT, "--sampling", "pseudo-random"),
    "wind": ("compare", "club-sixties", *EVERY_SHOT, "--set", WIND[0], "--set", WIND[1]),
    "positions": ("positions", "--shots", "256", *QUICK),
    "counter": ("counter", "--shots", "512", *QUICK),
    "sensitivity": (
        *("sensitivity", "--between", "follow", "halves"),
        *("--settings", "64", "--shots", "64", *QUICK),
    ),
    "fit": ("fit", "shots", "tests/charts/tuesday.csv", "--no-figures", "--quiet"),
}
# As many as a double has where it is about one; what is below them is rounding.
DECIMALS_KEPT: Final = 15
RELATIVE: Final = 1e-9
# Differences of nearly equal numbers, such as times to spare, are known no better than the numbers
# they are made of (ft, s, points; up to a hundred), and a search that ends on another half of 1e-11
# s is rounding, too.
ABSOLUTE: Final = 1e-10
MOST_FAULTS_SHOWN: Final = 20


class Gap(NamedTuple):
    """How far two cells are apart, in units of what is allowed and as numbers, and where."""

    of_allowed: float = 0.0
    size: float = 0.0
    where: str = "nowhere"


@dataclass
class Comparison:
    """What going through two folders of tables has found.

    A fault is a file, row or label that one has and the other has not, a count that differs, and
    a number further apart than `RELATIVE` and `ABSOLUTE` together.
    """

    tables: int = 0
    numbers: int = 0
    widest: Gap = field(default_factory=Gap)
    faults: list[str] = field(default_factory=list)

    def see(self, one: str, other: str, where: str) -> None:
        """Compare two cells."""
        if not _is_fraction(one, other):
            self.faults += [] if one == other else [f"{where}: {one!r} and {other!r}"]
            return
        size = abs(float(one) - float(other))
        allowed = ABSOLUTE + RELATIVE * max(abs(float(one)), abs(float(other)))
        gap = Gap(size / allowed, size, f"{where}: {one} and {other}")
        self.numbers += 1
        self.widest = max(self.widest, gap)
        self.faults += [gap.where] if gap.of_allowed > 1.0 else []


def play(folder: Path) -> None:
    """Run all of `PLAYED` in this environment, with tables of as many decimals as there are."""
    unread = redirect_stdout(io.StringIO())
    with unread, mock.patch("sim.outputs.DECIMALS", DECIMALS_KEPT):
        for name, words in PLAYED.items():
            main([*words, "--out", str(folder / name)], "reachshare", standalone_mode=False)


def compare(one: Path, other: Path) -> Comparison:
    """Go through the tables that `play` has left in two folders."""
    found = Comparison()
    names = [{path.relative_to(side) for path in side.rglob("*.csv")} for side in (one, other)]
    found.faults += [f"{name}: only one has this table" for name in names[0] ^ names[1]]
    for name in sorted(names[0] & names[1]):
        found.tables += 1
        rows, others = _rows(one / name), _rows(other / name)
        if [len(row) for row in rows] != [len(row) for row in others]:
            found.faults.append(f"{name}: not the same number of rows and columns")
            continue
        for line, (row, other_row) in enumerate(zip(rows, others, strict=True), 1):
            for column, cells in zip(rows[0], zip(row, other_row, strict=True), strict=True):
                found.see(*cells, f"{name}, line {line}, {column}")
    return found


def _rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def _is_fraction(*cells: str) -> bool:
    """Whether these are numbers, not both whole: not labels, and not counts."""
    try:
        return all(map(math.isfinite, map(float, cells))) and "." in "".join(cells)
    except ValueError:
        return False


def environment() -> str:
    """The Python and the packages that do the arithmetic here."""
    packages = [f"{name} {version(name)}" for name in ("numpy", "scipy", "pandas")]
    return ", ".join([f"Python {platform.python_version()}", *packages])


def report(found: Comparison) -> str:
    """What was found, in words."""
    gap = found.widest
    lines = [
        f"{found.numbers} numbers in {found.tables} tables; the furthest apart differ by "
        f"{gap.size:.1e} ({100.0 * gap.of_allowed:.2g} % of what is allowed): {gap.where}",
        *found.faults[:MOST_FAULTS_SHOWN],
    ]
    return "\n".join([*lines, f"{len(found.faults)} faults"])


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["play", folder]:
            print(environment())
            play(Path(folder))
        case ["compare", one, other]:
            found = compare(Path(one), Path(other))
            print(report(found))
            sys.exit(1 if found.faults or not found.numbers else 0)
        case _:
            sys.exit(__doc__)
