"""The model pages against the program: defaults, levels, failure rates, examples, cautions.

The pages repeat the program's defaults in prose. A default that changes in the code but not on the
page, or on the page but not in the code, fails here, and so does an example whose output changed.
"""

from __future__ import annotations

import doctest
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from pydantic import BaseModel

import sim
from sim import ball, court, track
from sim.bounce import INERTIA_FACTOR
from sim.opponents import LEVELS
from sim.players import AGE_GROUPS
from sim.quantities import TAGS, Shape, Strict
from sim.rallies import BLOCK, FATES, IN_PLAY, play
from sim.scenario import RETURN_DIRECTIONS, Scenario
from sim.statistics import wilson

DOCS = Path(sim.__file__).parent / "docs"
MODEL = (DOCS / "model.md").read_text(encoding="utf-8")
SOURCES = (DOCS / "sources.md").read_text(encoding="utf-8")
PAGES = ("model.md", "sources.md", "accuracy.md")

# What a default that is not written as text is called on the page.
IN_WORDS = {True: "yes", False: "no", None: "left out"}


def tagged_defaults() -> dict[str, tuple[str, Any, str]]:
    """Tag, default as written and source of every tagged field, by key.

    The two players have the same fields; they stand once, as ``pair.left``.
    """
    found: dict[str, tuple[str, Any, str]] = {}

    def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            yield annotation
        for part in get_args(annotation):
            yield from models_in(part)

    def walk(model: type[BaseModel], prefix: str) -> None:
        for name, entry in model.model_fields.items():
            key = f"{prefix}{name}"
            if key == "pair.right":
                continue
            extra = entry.json_schema_extra
            if isinstance(extra, dict) and "tag" in extra:
                default = entry.get_default(call_default_factory=True)
                found[key] = str(extra["tag"]), default, str(extra["source"])
            for inner in models_in(entry.annotation):
                if issubclass(inner, Strict) and not issubclass(inner, Shape):
                    walk(inner, f"{key}.")

    walk(Scenario, "")
    # Lane weights by return direction take those of ``lanes``; the page names the key in prose.
    return {key: value for key, value in found.items() if ".lanes_by_return." not in key}


def written_values(default: Any) -> list[str]:
    """All that has to stand on the page for a default."""
    if isinstance(default, dict):
        return [text for value in default.values() for text in written_values(value)]
    if isinstance(default, list):
        return [text for value in default for text in written_values(value)]
    if default is None or isinstance(default, bool):
        return [IN_WORDS[default]]
    return [default if isinstance(default, str) else f"{default:g}"]


def stands_in(value: str, text: str) -> bool:
    """Whether a value stands in a text by itself, not as the end or start of another one."""
    return re.search(rf"(?<![\w.-]){re.escape(value)}(?!\w|\.\d)", text) is not None


def entries_of(page: str) -> dict[str, str]:
    """The page's entries ``- `key`: text``, by key."""
    entries = re.findall(r"^- `([a-z_.]+)`: (.*)$", page, flags=re.MULTILINE)
    keys = [key for key, _ in entries]
    assert len(keys) == len(set(keys)), "a key stands twice"
    return dict(entries)


def complaints(page: str) -> list[str]:
    """What is wrong with the page's entries, against the program's defaults."""
    defaults, entries, wrong = tagged_defaults(), entries_of(page), []
    for key, (tag, default, _) in defaults.items():
        text = entries.get(key)
        if text is None:
            wrong.append(f"{key}: not on the page")
            continue
        if f"[{tag}]" not in text:
            wrong.append(f"{key}: the tag is [{tag}]")
        missing = [value for value in written_values(default) if not stands_in(value, text)]
        wrong += [f"{key}: {value} is not there" for value in missing]
    wrong += [f"{key}: the program has no such default" for key in entries.keys() - defaults.keys()]
    return wrong


def test_every_tagged_default_stands_on_the_page_with_its_tag() -> None:
    assert complaints(MODEL) == []


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("`run_in.late_without_split_step`: 0.104 s", "`run_in.late_without_split_step`: 0.105 s"),
        ("`policies.shift`: 0.4 ", "`policies.shift`: 0.45 "),
        ("from 0.3 ft to 4 ft inside", "from 0.3 ft to 14 ft inside"),
        ("`air.altitude`: 0 ft [A]", "`air.altitude`: 0 ft [S]"),
        ("- `run_in.split_step_lead`:", "- `run_in.split_lead`:"),
    ],
)
def test_a_page_that_has_drifted_is_noticed(before: str, after: str) -> None:
    assert MODEL.count(before) == 1
    assert complaints(MODEL.replace(before, after)) != []


def test_there_are_as_many_defaults_as_a_reader_would_expect() -> None:
    # Guards the walk over the schema: were it to find nothing, the page would look complete.
    defaults = tagged_defaults()
    assert len(defaults) > 70
    assert {tag for tag, _, _ in defaults.values()} == set(TAGS)
    assert {"pair.left.bend", "ball.friction", "policies.depth", "run.shots"} <= defaults.keys()


@pytest.mark.parametrize("level", LEVELS)
def test_every_level_stands_on_the_page(level: str) -> None:
    (line,) = re.findall(rf"^- level {re.escape(level)}: (.*)$", MODEL, flags=re.MULTILINE)
    shares, speed, errors = line.split(";")
    usual = LEVELS[level]
    assert shares.split(" / ") == [f"{share:g}" for share in usual["shots"].values()]
    assert speed.strip() == f"{usual['speed']['mean']}, sd {usual['speed']['sd']}"
    spreads = [usual["errors"][name]["sd"] for name in ("speed", "elevation", "azimuth")]
    assert errors.strip() == f"errors {', '.join(spreads)}"


@pytest.mark.parametrize("group", AGE_GROUPS)
def test_every_age_group_stands_on_the_page(group: str) -> None:
    usual = AGE_GROUPS[group]
    line = f"- age group {group}: reaction {usual['reaction']}, top speed {usual['top_speed']}\n"
    assert line in MODEL


def test_the_constants_of_the_code_are_those_of_the_page() -> None:
    written = {
        "`x = -10 ft` and `x = 10 ft`": court.HALF_WIDTH == 10.0,
        "the baselines are 22 ft from the net": court.BASELINE == 22.0,
        "the non-volley line is 7 ft from the net": court.NON_VOLLEY_ZONE == 7.0,
        "up to the posts, |x| = 11 ft": court.POST == 11.0,
        "34 in high at the centre": court.NET_HEIGHT_AT_CENTRE * 12.0 == 34.0,
        "36 in at the sidelines": court.NET_HEIGHT_AT_SIDELINE * 12.0 == 36.0,
        "in front of `y = -30 ft`": track.LAST_DEPTH == 30.0,
        "moment of inertia `2/3 m r^2`": INERTIA_FACTOR == 2.0 / 3.0,
        "Gravity is 9.80665 m/s2": math.isclose(ball.GRAVITY * 0.3048, 9.80665, rel_tol=1e-15),
    }
    assert [text for text in written if text not in MODEL] == []
    assert [text for text, true in written.items() if not true] == []


def test_every_author_named_with_a_default_is_among_the_sources() -> None:
    followed_by = r"(?=,? (?:\d{4}|and [A-Z]|et al)|, [A-Z])"
    named = {
        author
        for _, _, source in tagged_defaults().values()
        for author in re.findall(rf"\b[A-Z][a-z]{{2,}}\b{followed_by}", source)
    }
    assert {"Lindsey", "Steyn", "Uzu", "Clark", "Drillis"} <= named
    assert [author for author in sorted(named) if author not in SOURCES] == []


def failure_rates() -> dict[str, tuple[float, float, float]]:
    pattern = r"^- level (\S+) fails: ([\d.]+) % \(([\d.]+) to ([\d.]+)\)$"
    return {
        level: (float(share), float(low), float(high))
        for level, share, low, high in re.findall(pattern, MODEL, flags=re.MULTILINE)
    }


def measured_failures(level: str, blocks: int) -> tuple[float, float, float]:
    """Share of third shots into the net or out, with its Wilson interval, in percent."""
    scenario = sim.load("club-sixties", {"opponents": {"level": level}})
    counts = np.zeros(len(FATES), int)
    for direction in RETURN_DIRECTIONS:
        for block in range(blocks):
            counts += np.bincount(play(scenario, direction, block).fate, minlength=len(FATES))
    shots, failed = int(counts.sum()), int(counts.sum() - counts[IN_PLAY])
    assert shots == blocks * len(RETURN_DIRECTIONS) * BLOCK
    low, high = wilson(failed, shots)
    return 100.0 * failed / shots, 100.0 * low, 100.0 * high


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
def test_the_failure_rates_on_the_page_are_those_of_the_program(level: str) -> None:
    # The page gives one decimal: half of it is rounding, the rest leaves room for a few of the
    # 98,304 shots that other arithmetic may decide otherwise.
    assert measured_failures(level, blocks=4) == pytest.approx(failure_rates()[level], abs=0.06)


@pytest.mark.parametrize(("page", "least"), [("model.md", 10), ("accuracy.md", 30)])
def test_the_examples_of_the_page_run(page: str, least: int) -> None:
    result = doctest.testfile(str(DOCS / page), module_relative=False, encoding="utf-8")
    assert result.failed == 0
    assert result.attempted >= least


@pytest.mark.parametrize("page", PAGES)
def test_the_links_of_the_page_lead_somewhere(page: str) -> None:
    links = re.findall(r"\]\(([^)]+)\)", (DOCS / page).read_text(encoding="utf-8"))
    assert links
    assert [link for link in links if not (DOCS / link).is_file()] == []


@pytest.mark.parametrize("page", PAGES)
def test_no_code_block_is_wider_than_a_small_screen_can_scroll(page: str) -> None:
    # Code does not wrap: 66 columns for equations, 88 for examples that run.
    text = (DOCS / page).read_text(encoding="utf-8")
    blocks = re.findall(r"^```(\w*)\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
    for kind, block in blocks:
        widest = max(map(len, block.splitlines()))
        assert widest <= (88 if kind == "python" else 66), block


def test_the_cautions_stand_at_the_end() -> None:
    last = MODEL[MODEL.index("\n## 16 ") :]
    for words in (
        "not medical or safety advice",
        "Local rules and the rules of your venue come first",
        "Warm up",
        "court shoes",
        "For a lob turn and run",
        "Never back-pedal",
        "eye protection",
        "Stop when it hurts",
        "a physician or a licensed professional",
        "Reached does not mean won",
    ):
        assert words in last
