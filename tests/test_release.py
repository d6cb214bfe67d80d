"""A release says which it is in every place alike, and brings along the licences of others."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import matplotlib
from click.testing import CliRunner

import sim
from sim.cli import main
from sim.manifest import manifest_of
from sim.scenario_files import build, read
from sim.sobol import _DIRECTIONS
from tests.changes import NOT_RELEASED, headings, latest_version
from tests.oldest_pins import read_pyproject

ROOT = Path(__file__).parent.parent
LICENCES = ROOT / "sim" / "licences"


def test_version_is_the_newest_of_the_change_log() -> None:
    assert sim.__version__ == latest_version()
    assert re.fullmatch(r"\d+\.\d+\.\d+", sim.__version__)


def test_command_and_manifest_tell_the_version() -> None:
    said = CliRunner().invoke(main, ["--version"]).stdout
    assert said == f"reachshare, version {sim.__version__}\n"
    file = read(None)
    assert manifest_of(build(file), file, file.tables, {})["version"] == sim.__version__


def test_version_stands_in_one_place_only() -> None:
    pyproject = read_pyproject()
    assert pyproject["project"]["dynamic"] == ["version"]
    assert pyproject["tool"]["hatch"]["version"] == {"path": "sim/__init__.py"}
    stated = re.compile(rf'version.*["\' ]{re.escape(sim.__version__)}\b', flags=re.IGNORECASE)
    files = [ROOT / "pyproject.toml", ROOT / "README.md", *(ROOT / "sim").rglob("*.py")]
    found = [file for file in files if stated.search(file.read_text(encoding="utf-8"))]
    assert found == [ROOT / "sim" / "__init__.py"]


def test_change_log_goes_from_new_to_old() -> None:
    found = headings()
    assert found.count(NOT_RELEASED) == (found[0] == NOT_RELEASED)
    numbers = [tuple(map(int, name.split("."))) for name in found if name != NOT_RELEASED]
    assert numbers == sorted(set(numbers), reverse=True)


def test_licences_listed_are_there_and_shipped() -> None:
    listed = re.findall(r"\]\(([\w-]+\.txt)\)", (LICENCES / "README.md").read_text("utf-8"))
    assert sorted(listed) == sorted(path.name for path in LICENCES.glob("*.txt"))
    project: dict[str, Any] = read_pyproject()["project"]
    assert project["license-files"] == ["LICENSE", "sim/licences/*.txt"]
    assert project["license"] == "MIT AND BSD-3-Clause"


def test_font_licence_is_that_of_the_font() -> None:
    theirs = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "LICENSE_DEJAVU"
    ours = (LICENCES / "dejavu-fonts.txt").read_text("utf-8")
    # Some versions have spaces at the ends of lines, and others have not.
    assert ours.split() == theirs.read_text("utf-8").split()


def test_pictures_and_pages_carry_no_other_font() -> None:
    """Fonts in the PDFs of the repository: those listed. Pages and SVGs have none inside."""
    names = {
        found.decode()
        for pdf in (ROOT / "reports").rglob("*.pdf")
        for found in re.findall(rb"/FontName /[A-Z]{6}\+([\w-]+)", pdf.read_bytes())
    }
    assert names == {"DejaVuSans", "DejaVuSans-Bold"}
    for page in (ROOT / "reports").rglob("*.html"):
        text = page.read_text("utf-8")
        assert "@font-face" not in text
        assert "font/" not in text


def test_number_of_direction_numbers_is_as_listed() -> None:
    assert f"| {len(_DIRECTIONS)} of them in" in (LICENCES / "README.md").read_text("utf-8")
