"""Any bytes in: a valid result or a refusal in words, never another exception.

A quick search by hypothesis in every run, a long one by coverage (atheris) among the slow tests,
and every input that was ever found to break a reader.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz.seeds import seeds, words
from tests.fuzz.targets import BETWEEN, TARGETS

# --- found once, never again --------------------------------------------------------------------

FOUND: Final[list[tuple[str, bytes]]] = [
    # Whole numbers that Python neither reads nor writes as text, or not as a decimal.
    ("scenario", b"run.seed = " + b"9" * 5000),
    ("scenario", b"run.seed = 0x" + b"f" * 5000),
    ("scenario", b"opponents.level = 0x" + b"f" * 300),
    ("scenario", b"extends = 0x" + b"f" * 5000),
    ("changes", b"run.seed=" + b"9" * 5000),
    ("changes", b"opponents.shots.drive=0x" + b"f" * 5000),
    # Tables that are read without recursion, and deeper than Python can call itself.
    ("scenario", b"[" + b"a." * 5000 + b"b]\nc = 1"),
    ("changes", BETWEEN.join([b"a" + b".a" * 5000 + b"=1"] * 2)),
    # Letters that a terminal would obey, in names that messages repeat.
    ("scenario", b"opponents.inset = {kind='sample', file=\"\\u001b\", column='a', unit='ft'}"),
    ("draws", b"pair.left.\x1b[2J\n"),
    ("draws", b"run.\x1b[2J\n"),
    ("manifest", b'{"program": "reachshare", "options": {"\\u001b": 0}}'),
    ("third_shots", b"shot,result,speed_m\x7fs\ndrive,in,9\n"),
    # Files of JSON that are not what the program wrote.
    ("manifest", b"[" * 100_000),
    ("manifest", b'{"program": "reachshare", "files": 5}'),
    ("run_store", b"[" * 100_000),
    # Options of a manifest that nobody could have typed.
    *(
        ("rebuild", seeds("rebuild")[0].replace(b'"no_figures": true', option))
        for option in (
            b'"no_figures": 0',
            b'"no_figures": 1e308',
            b'"with_uncertainty": [0]',
            b'"with_uncertainty": ["/etc/passwd"]',
        )
    ),
]


def _short(value: str | bytes) -> str:
    return value if isinstance(value, str) else repr(value[:30])


@pytest.mark.parametrize(("target", "data"), FOUND, ids=_short)
def test_what_was_found_is_refused_in_words(target: str, data: bytes) -> None:
    assert isinstance(TARGETS[target](data), str)


# --- valid files, changed here and there ----------------------------------------------------------

# Words, quoted texts, gaps and marks: what a reader takes apart.
TOKEN: Final = re.compile(rb'"[^"\n]*"|[\w.]+|\s+|.', re.DOTALL)
MARKS: Final = [bytes([byte]) for byte in b"\0\x07\x1b\x85\xff\"'#=,;\t\n"]
NUMBERS: Final = [*b"nan -inf -0 1e999 1_0 1979-05-27".split(), b"0x" + b"f" * 4000, b"9" * 5000]
DEEP: Final = [
    b"[" * 800,
    b"{a=" * 100,
    b"a." * 3000,
    b"[[a]]\n",
    b'"""',
    b'"\\u0007"',
    b"x" * 2000,
]
LETTERS: Final = [letter.encode() for letter in "\ufeff\u202e\u2028٣½🏓"]
ODD: Final = [*MARKS, *NUMBERS, *DEEP, *LETTERS]


@st.composite
def changed_files(draw: st.DrawFn, target: str) -> bytes:
    """A valid input of the target in which a few tokens are replaced, added or taken out."""
    tokens = TOKEN.findall(draw(st.sampled_from(seeds(target))))
    known = [word.encode() for word in words(target)]
    new = st.one_of(st.sampled_from(ODD), st.sampled_from(known), st.binary(max_size=8))
    for _ in range(draw(st.integers(0, 4))):
        start = draw(st.integers(0, len(tokens)))
        gone = draw(st.sampled_from([0, 1, 1, 1, 5]))
        tokens[start : start + gone] = [draw(st.one_of(new, st.sampled_from([*tokens, b""])))]
    return b"".join(tokens)


@pytest.mark.parametrize("target", TARGETS)
@settings(max_examples=25)
@given(data=st.data())
def test_changed_files_are_read_or_refused_in_words(target: str, data: st.DataObject) -> None:
    TARGETS[target](data.draw(changed_files(target)))


@pytest.mark.parametrize("target", TARGETS)
def test_seeds_are_of_both_kinds(target: str) -> None:
    # A search from files that are all refused, or a target that accepts anything, finds nothing.
    made = [TARGETS[target](data) for data in (*seeds(target), b"\xff\x00[", b"}" * 10)]
    refused = [each for each in made if isinstance(each, str)]
    assert refused or target == "quantity"
    assert len(refused) < len(made) or target in ("manifest", "run_store")


def test_quantities_are_read_and_refused() -> None:
    found = TARGETS["quantity"](b"5 ft")
    assert found["length"] == 5.0
    assert isinstance(found["time"], str)


# --- where new lines are reached ------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("target", TARGETS)
def test_a_search_by_coverage_finds_nothing(target: str, tmp_path: Path) -> None:
    if importlib.util.find_spec("atheris") is None:
        pytest.skip("atheris is not installed; it comes with the extra fuzz where it has wheels")
    limits = ["-seed=1", "-runs=20000", "-max_total_time=30", "-print_final_stats=1"]
    command = [sys.executable, "-m", "tests.fuzz", target, str(tmp_path), *limits]
    root = Path(__file__).parents[2]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-4000:]
    executed = re.search(r"number_of_executed_units: (\d+)", done.stderr)
    assert executed is not None
    assert int(executed[1]) > len(seeds(target))
