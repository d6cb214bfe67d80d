"""Coverage-guided search: ``python -m tests.fuzz TARGET FOLDER [libFuzzer options]``.

FOLDER collects inputs that reach new lines, and what was found; it may be used again. Needs the
extra ``fuzz`` (atheris). Without a limit it goes on until it is stopped:
``-max_total_time=600`` (seconds) or ``-runs=100000`` sets one.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import atheris

with atheris.instrument_imports(include=["sim", "tomllib"]):
    from tests.fuzz.seeds import seeds, words
    from tests.fuzz.targets import TARGETS

# A reader that takes longer hangs, and one that takes more memory (MB) would take a laptop's.
SECONDS: Final = 10
MEMORY: Final = 2048


def _prepared(target: str, folder: Path) -> list[str]:
    """Seeds and words written to the folder, as libFuzzer reads them."""
    corpus = folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds(target)):
        (corpus / f"seed-{number}").write_bytes(data)
    dictionary = folder / "words.txt"
    quoted = (word.replace("\\", r"\\").replace('"', r"\"") for word in words(target))
    lines = [f'"{word}"\n' for word in quoted if word.isprintable() and word.isascii()]
    dictionary.write_text("".join(lines), encoding="utf-8")
    return [str(corpus), f"-dict={dictionary}", f"-artifact_prefix={folder}/"]


def main() -> None:
    """Search until told to stop; an input that shows a defect is kept and ends the search."""
    target, folder, *options = sys.argv[1:]
    bounds = [f"-timeout={SECONDS}", f"-rss_limit_mb={MEMORY}"]
    arguments = [sys.argv[0], *_prepared(target, Path(folder)), *bounds, *options]

    def one_input(data: bytes) -> None:
        # What it returns is for tests; libFuzzer wants nothing.
        TARGETS[target](data)

    atheris.Setup(arguments, one_input)
    atheris.Fuzz()


main()
