"""Mutation check: ``python -m tests.mutation.run [MODULE ...] [--sample N]``.

Small faults are put into modules of `sim`, one at a time, and the tests that bear on the module
(``kill_sets.toml``) are run on each. A fault that no test notices is a survivor: it wants a test,
or an entry in ``survivors.md`` that says why nothing could notice it. Survivors without an entry
are printed as rows for that page, and the exit code is 1.

No file is changed: each mutant is a process of its own that imports the mutated source in place of
the module. Libraries, and what is below the modules checked, are imported once, before the
processes part.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from multiprocessing import get_context
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import CodeType
from typing import Final

import hypothesis
import numpy as np  # noqa: F401
import pydantic  # noqa: F401
import pytest
import scipy.integrate
import scipy.optimize
import scipy.stats
from hypothesis.extra import numpy  # noqa: F401

import sim.scenario  # noqa: F401
from tests.mutation.mutants import mutants_of

FOLDER: Final = Path(__file__).parent
ROOT: Final = FOLDER.parent.parent
# Libraries are imported before pytest could look into them, which is meant.
QUIET: Final = "ignore::pytest.PytestAssertRewriteWarning"
KILLED, SURVIVED, TOO_SLOW = "killed", "survived", "too slow"


class _Mutated(MetaPathFinder, SourceFileLoader):
    """Finds one module, and gives another source for it."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        super().__init__(name, str(path))
        self._source = source

    def find_spec(self, fullname: str, *_: object) -> ModuleSpec | None:
        if fullname != self.name:
            return None
        return spec_from_file_location(fullname, self.path, loader=self)

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._source, self.path, "exec")


class _NoShrinking:
    """A failure is enough: no time is spent on the smallest example of it."""

    def pytest_collection(self) -> None:
        phases = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
        hypothesis.settings.register_profile("mutation", hypothesis.settings(), phases=phases)
        hypothesis.settings.load_profile("mutation")


def _test(module: str, source: str, tests: list[str]) -> None:
    """In a process of its own: run the tests on the mutated module, exit with pytest's code."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    sys.meta_path.insert(0, _Mutated(f"sim.{module}", ROOT / "sim" / f"{module}.py", source))
    options = ["-x", "-q", "-p", "no:cacheprovider", "-W", QUIET, f"--rootdir={ROOT}"]
    code = pytest.main([*options, *tests], plugins=[_NoShrinking()])
    # Had pytest found the module itself, the tests would have seen no fault.
    os._exit(code or not isinstance(sys.modules[f"sim.{module}"].__loader__, _Mutated))


def outcomes(
    module: str, sources: Iterable[str], tests: list[str], workers: int, patience: float
) -> Iterator[tuple[int, str]]:
    """Number and outcome of each mutated source, as they come in."""
    left = enumerate(sources)
    running: dict[int, tuple[int, BaseProcess, float]] = {}
    while True:
        while len(running) < workers and (entry := next(left, None)):
            process = get_context("fork").Process(target=_test, args=(module, entry[1], tests))
            process.start()
            running[process.sentinel] = entry[0], process, time.monotonic() + patience
        if not running:
            return
        wait([*running], timeout=1.0)
        for sentinel, (number, process, deadline) in [*running.items()]:
            if process.is_alive() and time.monotonic() < deadline:
                continue
            late = process.is_alive()
            process.kill()
            process.join()
            del running[sentinel]
            noticed = KILLED if process.exitcode else SURVIVED
            yield number, TOO_SLOW if late else noticed


def check(module: str, sample: int | None, workers: int, explained: str) -> int:
    """Test the mutants of one module; how many survivors are not explained.

    These are printed at once, and the share noticed at the end.
    """
    path = ROOT / "sim" / f"{module}.py"
    tests = kill_sets()[module]
    began = time.monotonic()
    if dict(outcomes(module, [path.read_text()], tests, 1, 600.0)) != {0: SURVIVED}:
        sys.exit(f"{module}: {', '.join(tests)} fail, or miss the module, without any fault")
    patience = 30.0 + 10.0 * (time.monotonic() - began)
    mutants = mutants_of(path)
    size = len(mutants) if sample is None else min(sample, len(mutants))
    chosen = random.Random(0).sample(mutants, size)
    sources = [mutant.source for mutant in chosen]
    counts, unexplained = Counter[str](), 0
    for number, outcome in outcomes(module, sources, tests, workers, patience):
        counts[outcome] += 1
        if outcome == SURVIVED and str(chosen[number]) not in explained:
            unexplained += 1
            print(chosen[number], flush=True)
    print(_summary(module, len(mutants), counts), flush=True)
    return unexplained


def kill_sets() -> dict[str, list[str]]:
    """The tests for each module."""
    return tomllib.loads((FOLDER / "kill_sets.toml").read_text(encoding="utf-8"))


def _summary(module: str, mutants: int, counts: Counter[str]) -> str:
    """A row of the table in DEVELOPERS.md, with Wilson's interval where a sample was drawn."""
    tried, noticed = counts.total(), counts[KILLED] + counts[TOO_SLOW]
    share = f"{100.0 * noticed / tried:.1f} %"
    if tried < mutants:
        ends = scipy.stats.binomtest(noticed, tried).proportion_ci(method="wilson")
        share += f" ({100.0 * ends.low:.1f} to {100.0 * ends.high:.1f})"
    numbers = (tried, counts[KILLED], counts[TOO_SLOW], counts[SURVIVED])
    return f"| `{module}` | {mutants} | " + " | ".join(map(str, numbers)) + f" | {share} |"


def main() -> int:
    """Check the modules asked for; 1 if a survivor is not explained."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", default=[*kill_sets()], metavar="MODULE")
    parser.add_argument("--sample", type=int, help="only so many mutants of each, drawn by lot")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    os.chdir(ROOT)
    explained = (FOLDER / "survivors.md").read_text(encoding="utf-8")
    missing = [check(name, wish.sample, wish.workers, explained) for name in wish.modules]
    return 1 if any(missing) else 0


if __name__ == "__main__":
    sys.exit(main())
