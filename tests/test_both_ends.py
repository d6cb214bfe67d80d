"""What a processor rounds otherwise must not show: in the numbers, and to who looks for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sim.aim import aim_at_speed
from sim.rallies import ball_of
from sim.scenario_files import load
from tests.both_ends import compare
from tests.oldest_pins import oldest_pins, oldest_python, read_pyproject

TABLE = "policy,shots,share\nhalves,512,0.25\n"


def tables(folder: Path, text: str) -> Path:
    folder.mkdir()
    (folder / "summary.csv").write_text(text, encoding="utf-8")
    return folder


def test_slowest_drives_do_not_depend_on_the_last_digit() -> None:
    """Drives too slow to clear the net leave as the slowest that do, where a root is zero."""
    shots = 200
    at = np.linspace(-9.0, 9.0, shots)
    slow, spin = np.linspace(10.0, 28.0, shots), np.zeros(shots)
    clearance, ball = np.full(shots, 3.0), ball_of(load())
    launches = []
    for y in (np.full(shots, 22.0), np.nextafter(np.full(shots, 22.0), 30.0)):
        launch, _ = aim_at_speed(at, y, np.full(shots, 1.0), -at, slow, clearance, spin, ball)
        launches.append(np.stack((launch.x, launch.y, launch.z)))
    assert np.sqrt((launches[0] ** 2).sum(axis=0)).min() > 28.0, "all are too slow"
    # The last digit of y is 4e-15; a root of zero made 1e-8 of it.
    assert np.abs(launches[0] - launches[1]).max() < 1e-10


@pytest.mark.parametrize(
    ("other", "fault"),
    [
        (TABLE.replace("0.25", "0.250000001"), "share: 0.25 and 0.250000001"),
        (TABLE.replace("512", "513"), "shots: '512' and '513'"),
        (TABLE.replace("halves", "follow"), "policy: 'halves' and 'follow'"),
        (TABLE.replace("0.25", ""), "share: '0.25' and ''"),
        (TABLE + "follow,512,0.5\n", "not the same number of rows"),
    ],
)
def test_differences_between_environments_are_found(tmp_path: Path, other: str, fault: str) -> None:
    found = compare(tables(tmp_path / "one", TABLE), tables(tmp_path / "other", other))
    assert len(found.faults) == 1
    assert fault in found.faults[0]


def test_rounding_is_no_difference_but_is_told(tmp_path: Path) -> None:
    nearly = TABLE.replace("0.25", "0.250000000000001")
    found = compare(tables(tmp_path / "one", TABLE), tables(tmp_path / "other", nearly))
    assert (found.tables, found.numbers, found.faults) == (1, 1, [])
    assert found.widest.size == pytest.approx(1e-15, rel=0.2)
    assert "share" in found.widest.where


def test_missing_tables_are_found(tmp_path: Path) -> None:
    (tmp_path / "nothing").mkdir()
    found = compare(tables(tmp_path / "one", TABLE), tmp_path / "nothing")
    assert found.faults == ["summary.csv: only one has this table"]


def test_oldest_pins_are_the_lower_bounds() -> None:
    project = {
        "dependencies": ["numpy>=1.26"],
        "optional-dependencies": {"all": ["reachshare[few]", "b.c>=2"], "few": ["a-b>=0.1.7"]},
    }
    expected = ["a-b==0.1.7", "b.c==2", "numpy==1.26"]
    assert oldest_pins({"project": project}, "all") == expected
    with pytest.raises(ValueError, match="numpy: must be written name>=version"):
        oldest_pins({"project": project | {"dependencies": ["numpy"]}}, "few")


def test_every_requirement_has_a_lower_bound() -> None:
    pyproject = read_pyproject()
    assert len(oldest_pins(pyproject, "test")) > len(pyproject["project"]["dependencies"])
    assert oldest_python(pyproject) == "3.11"
