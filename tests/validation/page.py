"""What the validation page says."""

from __future__ import annotations

import re
from pathlib import Path

import sim
from sim.wording import joined
from tests.published.all_checks import CHECKS, TOPICS, Topic
from tests.published.check import Check
from tests.validation.tables import checks_table, differing_table, properties_table, table

DOCS = Path(sim.__file__).parent / "docs"
PAGE = DOCS / "validation.md"
PICTURES = DOCS / "pictures" / "validation"
SAMPLING = DOCS / "sampling.md"
COMMAND = "python -m tests.validation"

# What is said of the topics in which numbers do not agree.
_DIFFERENT_ABOUT = {
    "Ball and air": "how fast a ball slows down",
    "What opponents do": "how often third shots fail",
    "Reach": "the width two players cover",
}
_PICTURES = {
    "Ball and air": ("speed-loss", "Speed over distance of both balls, and what a video shows"),
    "Flight": ("flight", "Height over distance of three balls, ours on the exact flight"),
    "What opponents do": ("failures", "Third shots that fail by level, beside what is published"),
}
# What nobody has checked, why, and what to do about it.
_UNCHECKED = (
    (
        "Whether a pair really gets as many balls in control as the program says",
        "no count of third shots that real players reached was found; 90.8 % of all shots of "
        "professional men were intercepted, which is another count",
        "trust differences between policies before shares; count a drill from the handout",
    ),
    (
        "Whether the policy that does best here wins more on court",
        "nobody has played them against each other; reached is not won",
        "try it for an evening and count",
    ),
    (
        "Reach: bend, backhand, and the time an arm and a lunge take",
        "arm and shoulders have sources; these have none, and the full stretch is common practice",
        "measure it: `reachshare fit reach`",
    ),
    (
        "The run in of real pairs: delays, slower sideways and backwards, the stop",
        "only straight sprints and the gain of a split step are published",
        "time dashes: `reachshare fit runs`",
    ),
    (
        "Opponents' errors in speed and direction",
        "only how often shots fail is published; the errors were set so that they do. Many errors "
        "would do as well",
        "count third shots: `reachshare fit shots`",
    ),
    (
        "How often third shots fail at 3.0, 3.5 and 5.0",
        "nothing was found",
        "the same",
    ),
    (
        "Lanes, speeds of drives, heights and depths by level",
        "nothing was found but single remarks",
        "the same",
    ),
    (
        "Reactions and top speeds of club players",
        "published reactions are to lights on screens, published speeds are sprinters'",
        "time dashes: `reachshare fit runs`",
    ),
    (
        "How the ball grips on the court (friction, `ball.friction`)",
        "no value for this ball on a court was found",
        "`reachshare sensitivity` shows whether it matters",
    ),
    (
        "Spin of third shots, and that it stays the same in the air",
        "a single remark on top players' topspin",
        "the same",
    ),
)


def page() -> str:
    """The whole page, played and worked out anew but for what `_sampling` quotes."""
    lines = [*_first_lines(), *_differing(), *_unchecked(), *_how_to_read()]
    lines += ["## What the program works out", ""]
    for topic in TOPICS:
        lines += _topic(topic)
    lines += _given()
    lines += _sampling()
    lines += _second_program()
    return "\n".join(lines).rstrip("\n") + "\n"


def summary() -> str:
    """What a sceptical coach wants to know first; the README quotes it."""
    worked_out = [check for check in CHECKS if check.origin == "worked out"]
    agree = sum(not check.differs for check in CHECKS)
    about = [
        f"{len(differing)} about {_DIFFERENT_ABOUT[topic.name]}"
        for topic in TOPICS
        if (differing := [check for check in topic.checks if check.differs])
    ]
    return (
        f"Of {len(CHECKS)} numbers held against rules, published values, closed forms and general "
        f"libraries, {agree} agree and {len(CHECKS) - agree} do not: {joined(about)}. "
        f"{len(worked_out)} of the {len(CHECKS)} the program works out by itself; the others it "
        "was given or set to fit, so that agreeing proves little. **Nobody has checked on a "
        "court** how much real players reach, how real pairs run in, how large opponents' errors "
        "are, or how the ball grips the ground: there the program rests on assumptions, and on "
        "what you measure."
    )


def _first_lines() -> list[str]:
    return [
        "# Validation",
        "",
        summary(),
        "",
        "This page is about the computation and the values put in. "
        "[What is computed](model.md) says what the model is, [sources](sources.md) who is quoted.",
        "",
    ]


def _differing() -> list[str]:
    differing = [check for check in CHECKS if check.differs]
    return ["## What does not agree", "", *differing_table(differing)]


def _unchecked() -> list[str]:
    columns = ("what", "why it has no outside check", "what you can do")
    return ["## What nobody has checked", "", *table(columns, ("---",) * 3, _UNCHECKED)]


def _how_to_read() -> list[str]:
    return [
        "## How to read the tables",
        "",
        "- **Source**: who says so, and how that was seen: *read*, *quoted* elsewhere, recalled "
        "*from memory*, *computed* from a formula that is no part of the program, worked out by a "
        "general-purpose *library*, or *no source*: common practice in the trade.",
        "- **Ours**: what the program gives, played or worked out anew for this page; in brackets "
        "99 % intervals of shares that were played (98,304 shots a level, a third of them after "
        "each return).",
        "- **Difference**: ours less the published value; for a range, inside, or how far outside "
        "it the interval reaches.",
        "- **Allowed**: the difference beyond which a test fails, and what that rests on; *its "
        "rounding* is that of the published figure.",
        "",
        f"`{COMMAND}` writes the page and its pictures from the lists that the tests check "
        "(`pytest tests/published tests/validation`).",
        "",
    ]


def _topic(topic: Topic) -> list[str]:
    checks = [check for check in topic.checks if check.origin == "worked out"]
    lines = [f"### {topic.name}", ""]
    lines += checks_table(checks) if checks else []
    lines += properties_table(topic.properties) if topic.properties else []
    if topic.name in _PICTURES:
        stem, words = _PICTURES[topic.name]
        lines += [f"![{words}](pictures/{PICTURES.name}/{stem}.png)", ""]
    return lines


def _given() -> list[str]:
    """Values that came from the sources in the first place."""
    lines = ["## What it was given", ""]
    for heading, remark, origin in (
        (
            "Taken over",
            "Defaults that are the published value. That they agree says only that they arrived.",
            "taken over",
        ),
        (
            "Set to fit",
            "Assumptions chosen so that they, or what follows from them, meet what is published. "
            "That they do proves no more than that they can.",
            "set to fit",
        ),
    ):
        chosen: list[Check] = [check for check in CHECKS if check.origin == origin]
        lines += [f"### {heading}", "", remark, "", *checks_table(chosen)]
    return lines


def _sampling() -> list[str]:
    """The studies of intervals and samplers, quoted from the page whose slow tests hold them."""
    text = SAMPLING.read_text(encoding="utf-8")
    (heads,) = re.findall(r"^\| 95 % interval of .*\n\| ---.*$", text, re.MULTILINE)
    whole = re.findall(r"^\| \*\*all .*$", text, re.MULTILINE)
    (stopped,) = re.findall(r"[\d.]+ % of \d+ such runs", text)
    (gains,) = re.findall(r"^\| number \|.*\n(?:\|.*\n)+", text, re.MULTILINE)
    return [
        "## Do the intervals hold?",
        "",
        "The default scenario was played as thousands of short runs; how many of their 95 % "
        "intervals hold what all runs together give? Quoted from [sampling](sampling.md), where "
        "every number stands by itself; `pytest -m slow tests/test_interval_coverage.py` plays "
        "the runs again.",
        "",
        heads,
        *whole,
        "",
        f"Runs that go on until a precision is reached promise a little too much: {stopped} held "
        "the truth.",
        "",
        "## Samplers compared",
        "",
        "How many times as many plain random shots give the same scatter as the quasi-random ones "
        "in use, from the same page:",
        "",
        gains,
    ]


def _second_program() -> list[str]:
    return [
        "## A second program, shot by shot",
        "",
        "A slow, plain version of the model, written from its page with other methods and "
        "no code in common, gets the same random numbers and has to come to the same contact, "
        "launch, flight, places and answer for every shot: `tests/second_opinion`. It "
        "finds mistakes in the program, not in the model.",
        "",
    ]
