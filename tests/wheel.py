"""The wheel as users get it: what is inside, and whether it works where there is no source tree.

``python -m tests.wheel contents FROM_SDIST.whl FROM_TREE.whl`` looks into two wheels, which must
hold the same. ``python -m tests.wheel installed BIN`` runs the program that is installed in an
environment (its ``bin`` folder) from an empty folder, and ``types BIN`` checks programs against the
types that are shipped there, with the mypy of the environment that asks.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import zipfile
from email.parser import BytesParser
from pathlib import Path
from typing import Final

from tests.changes import latest_version

ROOT: Final = Path(__file__).parent.parent
# Whatever is read while the program runs, and what has to go with it.
SUFFIXES: Final = {".py", ".md", ".txt", ".j2", ".css", ".js", ".toml", ".typed", ".png"}
USER_PROGRAM: Final = """\
import sim

scenario = sim.load("club-sixties", {"run": {"shots": 64, "seed": 0}})
comparison: sim.Comparison = sim.compare(scenario, sim.Precision(points=20.0))
share: float = comparison.summary_rows[0]["in_control_share"]
names: list[str] = [policy.name for policy in comparison.scenario.policies]
sim.shares_figure(comparison).savefig("shares.png")
print(sim.__version__, names[0], share, sim.__file__)
"""
WRONG_PROGRAM: Final = "import sim\n\nsim.compare(5).sumary\n"
FEW: Final = ("--shots", "64", "--quiet")
OUT: Final = "reachshare-out"


def expected_files() -> set[str]:
    """The files of the source tree that belong into a wheel, by their place in it."""
    package = {f"sim/{path.relative_to(ROOT / 'sim')}" for path in (ROOT / "sim").rglob("*")}
    scenarios = {f"sim/scenarios/{path.name}" for path in (ROOT / "scenarios").iterdir()}
    of_ours = {name for name in package | scenarios if Path(name).suffix in SUFFIXES}
    # Has no suffix; `sim.figures.own_matplotlib` needs it.
    return of_ours | {"sim/figures/matplotlibrc"}


def check_contents(wheel: Path, other: Path) -> None:
    """Nothing is missing, nothing is too much, and both wheels hold the same."""
    contents = _files(wheel)
    assert contents == _files(other), "the wheel of the sdist is not that of the tree"
    inside = {name for name in contents if not name.startswith("reachshare-")}
    assert inside == expected_files(), inside ^ expected_files()
    about = {name for name in contents if "/licenses/" in name}
    assert {name.split("/licenses/")[1] for name in about} == {
        "LICENSE",
        *(f"sim/licences/{path.name}" for path in (ROOT / "sim" / "licences").glob("*.txt")),
    }
    (metadata,) = (contents[name] for name in contents if name.endswith(".dist-info/METADATA"))
    assert BytesParser().parsebytes(metadata)["Version"] == latest_version()


def _files(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def check_installed(programs: Path) -> None:
    """The command, its scenarios and pages, and a program that imports the package."""
    command, python = programs / "reachshare", programs / "python"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        said = _run(folder, command, "--version")
        assert said == f"reachshare, version {latest_version()}\n"
        listed = _run(folder, command, "scenario", "list")
        assert all(path.stem in listed for path in (ROOT / "scenarios").glob("*.toml"))
        _run(folder, command, "compare", "tall-and-short", *FEW)
        manifest = json.loads(
            (folder / OUT / "tall-and-short" / "manifest.json").read_text("utf-8")
        )
        assert manifest["version"] == latest_version()
        for words in (("report", "--no-inputs"), ("handout",)):
            _run(folder, command, *words, *FEW)
            made = folder / OUT / f"club-sixties-{words[0]}" / f"{words[0]}.html"
            assert "</html>" in made.read_text("utf-8")
        (folder / "program.py").write_text(USER_PROGRAM, "utf-8")
        said = _run(folder, python, "program.py")
        assert said.startswith(f"{latest_version()} halves ")
        assert "site-packages" in said, "the source tree was in the way"


def check_types(programs: Path) -> None:
    """Types are shipped: mypy passes a right program in strict mode, and refuses a wrong one."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for program, text in (("right.py", USER_PROGRAM), ("wrong.py", WRONG_PROGRAM)):
            (folder / program).write_text(text, "utf-8")
        check = (sys.executable, "-m", "mypy", "--strict", "--python-executable")
        check += (str(programs / "python"),)
        assert "Success" in _run(folder, *check, "right.py")
        refused = subprocess.run(
            [*check, "wrong.py"], cwd=folder, capture_output=True, text=True, check=False
        )
        assert 'incompatible type "int"; expected "Scenario"' in refused.stdout, refused.stdout
        assert 'has no attribute "sumary"' in refused.stdout


def _run(folder: Path, *words: str | Path) -> str:
    done = subprocess.run(
        [str(word) for word in words], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, (words, done.stdout, done.stderr)
    return done.stdout


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["contents", wheel, other]:
            check_contents(Path(wheel), Path(other))
        case ["installed", programs]:
            check_installed(Path(programs).absolute())
        case ["types", programs]:
            check_types(Path(programs).absolute())
        case _:
            sys.exit(__doc__)
