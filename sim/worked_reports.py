"""The worked reports of the repository: ``python -m sim.worked_reports`` makes all of them anew.

For every bundled scenario a comparison, a page to show and a page to hand out; every other study,
a film and a single shot of the default one. Names after the command choose some of them.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from sim.cli import main
from sim.scenario_files import bundled

REPORTS: Final = Path(__file__).parent.parent / "reports"
# A comparison of every scenario is a command of its own, and has folders of its own.
COMPARISONS: Final = ["compare", "--all"]
STUDIES: Final[dict[str, list[str]]] = {
    "club-sixties-sweep": ["sweep", "club-sixties", "--vary", "spacing=4:12:0.5 ft"],
    "club-sixties-positions": ["positions", "club-sixties"],
    "club-sixties-counter": ["counter", "club-sixties"],
    "club-sixties-sensitivity": ["sensitivity", "club-sixties", "--between", "follow", "halves"],
    "club-sixties-approach": ["approach", "club-sixties"],
    # The shot of the film, which says how it was picked.
    "club-sixties-draw": ["draw", "club-sixties"],
    "club-sixties-shot": [
        *("shot", "club-sixties", "--direction", "cross", "--number", "16"),
        *("--policy", "halves", "--policy", "tethered"),
    ],
    **{f"{name}-{page}": [page, name] for name in bundled() for page in ("report", "handout")},
}


def run(words: list[str], out: Path) -> None:
    """Run a command of ``reachshare`` into a folder, over what is there."""
    main([*words, "--out", str(out), "--force"], prog_name="reachshare", standalone_mode=False)


if __name__ == "__main__":
    chosen = sys.argv[1:]
    if unknown := {*chosen} - {"compare", *STUDIES}:
        sys.exit(
            f"no such report: {', '.join(sorted(unknown))}; known: compare, {', '.join(STUDIES)}"
        )
    if not chosen or "compare" in chosen:
        run(COMPARISONS, REPORTS)
    for name, words in STUDIES.items():
        if not chosen or name in chosen:
            run(words, REPORTS / name)
