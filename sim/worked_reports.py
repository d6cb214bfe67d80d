"""The worked reports of the repository: ``python -m sim.worked_reports`` makes all of them anew.

A comparison of every bundled scenario, and every other study of the default one.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from sim.cli import main

STUDIES: Final[dict[str, list[str]]] = {
    "club-sixties-sweep": ["sweep", "club-sixties", "--vary", "spacing=4:12:0.5 ft"],
    "club-sixties-positions": ["positions", "club-sixties"],
    "club-sixties-counter": ["counter", "club-sixties"],
    "club-sixties-sensitivity": ["sensitivity", "club-sixties", "--between", "follow", "halves"],
    "club-sixties-approach": ["approach", "club-sixties"],
}


def run(words: list[str], out: Path) -> None:
    """Run a command of ``reachshare`` into a folder, over what is there."""
    main([*words, "--out", str(out), "--force"], prog_name="reachshare", standalone_mode=False)


if __name__ == "__main__":
    reports = Path(__file__).parent.parent / "reports"
    run(["compare", "--all"], reports)
    for name, words in STUDIES.items():
        run(words, reports / name)
