"""The report page: its numbers are the tables', its words are true, and names cannot break it."""

from __future__ import annotations

import csv
import doctest
import json
import math
import re
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import sim
from sim.analyses.report import Report, report
from sim.analyses.sensitivity import Difference
from sim.cli import main
from sim.numeric_settings import changer
from sim.pages.report import report_page
from sim.pages.report_charts import scale_of
from sim.pages.report_court import drawing, outline_path
from sim.pages.report_views import UNCHANGED
from sim.run_in import PLAYERS
from sim.scenario_files import build, read
from sim.texts.report import frequencies, frequency_words, terminal_text, together
from sim.texts.report_answer import (
    answer,
    compared_with,
    lead,
    overall,
    ranking,
    told_ahead,
    told_from_other,
)
from sim.texts.report_change import NO_INPUTS, changes, effects, inputs, turning, turns, what_hangs
from sim.texts.sensitivity import what_matters
from sim.wording import CAUTIONS, LIMITS, percent, points

DOCS = Path(sim.__file__).parent / "docs" / "report.md"
SHOTS = 96
ENDS = ("share", "low", "high")
ODD = "</script><script>alert(1)</script>"
PLACES = {
    "line": {
        "left": {"from_centre": "-5 ft", "depth": "13 ft"},
        "right": {"from_centre": "5 ft", "depth": "16 ft"},
    }
}
POLICIES: list[dict[str, Any]] = [
    {"name": "halves", "rule": "halves"},
    {"name": ODD, "rule": "follow", "spacing": "6.5 ft", "shift": 0.25},
    {"name": "told", "rule": "best", "places": PLACES | {"cross": PLACES["line"]}},
]
INTO_THE_NET = {
    "shots": {"drive": 1, "drop": 1, "lob": 0},
    "drive": {"net_clearance": "0 ft"},
    "drop": {"net_clearance": "0 ft"},
    "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
}
# Elements without an end.
VOID = ("meta", "input", "br")


@dataclass
class Element:
    """An element of a page, with all the text inside it."""

    tag: str
    attributes: dict[str, str]
    text: str = ""
    inside: list[str] = field(default_factory=list)


class Page(HTMLParser):
    """The elements of a page in their order; scripts are text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.html, self.elements, self._open = html, list[Element](), list[Element]()
        self.feed(html)
        self.close()
        assert not self._open, "an element is not closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        element.inside = [
            f"{one.tag}.{one.attributes.get('class', '')}#{one.attributes.get('data-policy', '')}"
            for one in self._open
        ]
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop().tag == tag

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, tag: str = "", **wanted: str) -> list[Element]:
        """Elements of a tag whose attributes have these values (``data_shown`` is data-shown)."""
        pairs = {name.replace("_", "-"): value for name, value in wanted.items()}
        return [
            element
            for element in self.elements
            if tag in ("", element.tag) and pairs.items() <= element.attributes.items()
        ]

    def one(self, tag: str = "", **wanted: str) -> Element:
        (found,) = self.all(tag, **wanted)
        return found

    @property
    def numbers(self) -> dict[str, Any]:
        """What the script looks up."""
        return dict(json.loads(self.one("script", id="numbers").text))


def made(settings: int = 0, **changes: Any) -> Report:
    two = {"directions": ["line", "cross"]}
    changes = {"policies": POLICIES, "run": {"shots": SHOTS}, "return_of_serve": two} | changes
    file = read("club-sixties")
    return report(build(file, changes), changer(file, changes), settings=settings)


@pytest.fixture(scope="module")
def found() -> Report:
    return made()


@pytest.fixture(scope="module")
def doubted() -> Report:
    few = {"policies": [POLICIES[0], {"name": "centre", "rule": "centre"}], "run": {"shots": 32}}
    return made(32, return_of_serve={"directions": ["line"]}, **few)


@pytest.fixture(scope="module")
def page(found: Report) -> Page:
    return Page(report_page(found, "us"))


TWO = """\
name = "two"
[return_of_serve]
directions = ["line", "cross"]
[[policies]]
name = "six"
rule = "follow"
spacing = "6 ft"
[[policies]]
name = "seven"
rule = "centre"
spacing = "7 ft"
"""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report")
    (folder / "two.toml").write_text(TWO, encoding="utf-8")
    words = [str(folder / "two.toml"), "--shots", "32", "--no-inputs"]
    result = run(*words, "--out", str(folder / "out"))
    assert result.exit_code == 0, result.output
    return folder / "out"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["report", "--quiet", *words])


# --- the numbers are those of the tables ---------------------------------------------------------


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def shown(row: dict[str, str], measure: str) -> str:
    return percent(*(float(row[f"{measure}_{end}"]) for end in ("share", "low", "high")))


def test_every_setting_shows_the_numbers_of_the_tables_beside_the_page(written: Path) -> None:
    page = Page((written / "report.html").read_text(encoding="utf-8"))
    numbers, looked_at = page.numbers, 0
    for row in rows_of(written / "settings.csv"):
        variant = numbers["variants"][int(row["variant"])]
        place = variant["shown"][row["return_direction"]]
        assert place == {name: shown(row, name) for name in ("in_control", "reached")}
        if row["return_direction"] == "all":
            assert sum(variant["icons"]) == 100
            counts = {name: int(row[name]) for name in ("in_play", "reached", "in_control")}
            ends = {name: float(row[name]) for name in ("in_control_low", "in_control_high")}
            assert variant["frequencies"] == frequency_words(counts | ends)
            looked_at += 1
    assert looked_at == len(numbers["variants"]) > 50


def test_every_setting_shows_the_change_of_the_table_beside_the_page(written: Path) -> None:
    page = Page((written / "report.html").read_text(encoding="utf-8"))
    policies = {policy["name"]: policy for policy in page.numbers["policies"].values()}
    rows = rows_of(written / "changes.csv")
    assert {row["policy"] for row in rows} == set(policies)
    for row in rows:
        policy = policies[row["policy"]]
        settings = [one for line in policy["settings"] for one in line]
        (setting,) = [one for one in settings if one["variant"] == int(row["variant"])]
        own = policy["settings"][policy["own"][0]][policy["own"][1]]
        change = setting["change"][row["return_direction"]]
        if setting is own:
            assert change == UNCHANGED
        else:
            ends = {name: float(row[f"in_control_{name}"]) for name in ("points_low", "points")}
            high = float(row["in_control_points_high"])
            shown = points({**ends, "points_high": high})
            if ends["points_low"] <= 0.0 <= high:
                assert change == f"too close to tell ({shown})"
            else:
                assert change.split()[0] == shown.split()[0].strip("+−")
                assert change.endswith(("fewer of 100", "more of 100")[shown[0] == "+"])


def test_the_page_begins_with_the_leader_as_it_stands(found: Report, page: Page) -> None:
    own = {row["return_direction"]: row for row in leaders_rows(found)}
    for direction in ("line", "cross", "all"):
        for measure in ("in_control", "reached"):
            cell = page.one(data_shown=measure, data_direction=direction)
            ends = (own[direction][f"{measure}_{end}"] for end in ("share", "low", "high"))
            assert cell.text == percent(*ends)
        assert page.one(data_shown="change", data_direction=direction).text == UNCHANGED
    radios = page.all("input", type="radio", name="policy")
    slugs = [policy.slug for policy in found.scenario.policies]
    assert [radio.attributes["value"] for radio in radios] == slugs
    (checked,) = [radio for radio in radios if "checked" in radio.attributes]
    leader = next(policy for policy in found.scenario.policies if policy.name == found.leader)
    assert checked.attributes["value"] == leader.slug


def test_names_from_right_to_left_leave_the_numbers_beside_them_where_they_are() -> None:
    name = "\u05d0\u05d1 1"
    policies = [{"name": name, "rule": "halves"}, {"name": "centre", "rule": "centre"}]
    few = {"policies": policies, "run": {"shots": 64}}
    found = made(return_of_serve={"directions": ["line"]}, **few)
    page = Page(report_page(found, "us"))
    # Unicode's isolates (UAX 9), inside the quotation marks, for readers and for the script.
    apart = f"“\u2068{name}\u2069”"
    assert apart in page.one("main").text
    assert apart in json.dumps(page.numbers, ensure_ascii=False)
    assert f"“{name}" not in page.html
    assert "“\u2068centre" not in page.html


def leaders_rows(found: Report) -> list[dict[str, Any]]:
    switch = next(one for one in found.switches if one.policy.name == found.leader)
    return [row for row in found.rows if row["variant"] == switch.own_variant]


def test_without_scripts_every_policy_has_its_courts_and_numbers(found: Report, page: Page) -> None:
    summary = {
        (row["policy"], row["return_direction"]): row
        for row in found.comparison.summary_rows
        if row["shot"] == row["lane"] == "all"
    }
    for policy in found.scenario.policies:
        panel = page.one("section", data_policy=policy.slug)
        for direction in ("line", "cross", "all"):
            for measure in ("in_control", "reached"):
                row = summary[policy.name, direction]
                ends = (row[f"{measure}_{end}"] for end in ("share", "low", "high"))
                assert percent(*ends) in panel.text
        classes = f"section.{panel.attributes['class']}#{policy.slug}"
        courts = [one for one in page.all("svg", role="img") if classes in one.inside]
        assert len(courts) == 2
        assert "leading" in panel.attributes["class"] or policy.name != found.leader


def test_the_policies_table_holds_the_comparison(found: Report, page: Page) -> None:
    text = page.one("section", id="policies-compared").text
    whole = [
        row
        for row in found.comparison.difference_rows
        if row["return_direction"] == row["shot"] == "all"
    ]
    flat = " ".join(text.split())
    assert len(whole) == 4
    assert all(points(row) in flat for row in whole)


def test_same_report_same_bytes(found: Report, page: Page) -> None:
    assert report_page(found, "us") == page.html


# --- the words -------------------------------------------------------------------------------


def test_the_answer_names_leader_share_and_lead(found: Report, page: Page) -> None:
    row = overall(found)[found.leader]
    text = page.one(id="answer").text
    assert text == answer(found)
    share = percent(*(row[f"in_control_{end}"] for end in ("share", "low", "high")))
    ahead = lead(found)["verdict"] == "more"
    if ahead:
        start = f"Most in control: “{found.leader}”, {share} of 100 balls in play"
    else:
        start = f"“{found.leader}” or “{found.rival}”: as many in control, "
        assert f"{frequencies(row).in_control}" in text
    assert text.startswith(start)


def test_the_lead_is_the_difference_to_the_rival_whoever_is_the_baseline(found: Report) -> None:
    assert found.leader == found.scenario.baseline.name
    row, turned = difference_to_baseline(found, ODD), lead(replace(found, rival=ODD))
    assert turned["points"] == -row["points"] > 0.0
    assert turned["points_low"] == -row["points_high"]
    assert turned["points_high"] == -row["points_low"]
    other = made(run={"shots": SHOTS, "baseline": ODD})
    assert (other.leader, other.rival) == (found.leader, ODD)
    straight, row = lead(other), difference_to_baseline(other, other.leader)
    for name in ("points", "points_low", "points_high", "verdict"):
        assert straight[name] == row[name] != 0.0


def difference_to_baseline(found: Report, policy: str) -> dict[str, Any]:
    (row,) = [
        row
        for row in found.comparison.difference_rows
        if (row["policy"], row["return_direction"], row["shot"], row["measure"])
        == (policy, "all", "all", "in_control")
    ]
    return row


def behind(policy: str, points: float, half_width: float = 0.2, verdict: str = "fewer") -> Any:
    """How far a policy is behind the leader."""
    ends = {"points_low": points - half_width, "points_high": points + half_width}
    return {"policy": policy, "points": points, **ends, "verdict": verdict}


def test_more_is_said_only_where_the_verdict_says_so(found: Report) -> None:
    for verdict, words in (
        ("fewer", "] more than "),
        ("cannot tell yet", "as far as this run can tell (the first +0.4 [+0.2, +0.6])."),
        ("no difference larger than 0.5 points", "than 0.5 points (the first +0.4 [+0.2, +0.6])."),
    ):
        rows = [behind("told", -0.4, verdict=verdict), behind(ODD, -4.0)]
        said = answer(replace(found, behind=rows, leader="halves", rival="told"))
        assert words in said
        assert said.startswith("Most in control: ") == (verdict == "fewer")
        assert ("] more than " in said) == (verdict == "fewer")


def test_the_answer_names_the_nearest_beside_the_baseline(found: Report) -> None:
    rows = [behind("told", -4.2), behind(ODD, -1.3)]
    nearest = f"1.3 [1.1, 1.5] more than “{ODD}”"
    for rival, ends in (
        ("told", f"play; {nearest}, 4.2 [4.0, 4.4] more than “told”."),
        (ODD, f"play; {nearest}."),
    ):
        assert answer(replace(found, behind=rows, rival=rival)).endswith(ends)


def test_others_that_cannot_be_told_from_the_leader_are_in_the_answer(found: Report) -> None:
    def said(*names: str) -> str:
        rows = [behind(name, -0.1, verdict="cannot tell yet") for name in names]
        return answer(replace(found, behind=[behind("told", -1.0), *rows], rival="told"))

    assert "too close" not in said()
    assert said("one", "two").endswith("to call: “one” and “two”.")
    assert said(*"abcde").endswith("to call: 5 others.")


def test_the_ranking_names_every_policy_in_its_place(found: Report) -> None:
    rows = [behind(ODD, -0.6, 0.3), behind("told", -2.53, 0.3)]
    number = frequencies(overall(found)["halves"]).in_control
    start = f"Of 100 balls in play, in control: “halves” {number}"
    assert ranking(replace(found, behind=rows)) == f"{start}; “{ODD}” 1 fewer, “told” 3 fewer."
    rows[1] = behind("told", -1.4, 0.3)
    assert ranking(replace(found, behind=rows)) == f"{start}; “{ODD}” and “told” 1 fewer."
    # In whole balls nothing would be left of what is sure.
    rows[0] = behind(ODD, -0.33, 0.3)
    shown = percent(*(overall(found)["halves"][f"in_control_{end}"] for end in ENDS)).split(" ")[0]
    assert ranking(replace(found, behind=rows)) == (
        f"Of 100 balls in play, in control: “halves” {shown}; “{ODD}” 0.3 fewer, “told” 1.4 fewer."
    )


def test_the_ranking_puts_together_what_is_not_told_from_the_leader(found: Report) -> None:
    shares = dict(zip(("halves", ODD, "told"), (0.923, 0.918, 0.911), strict=True))
    rows = [
        row
        | {
            f"in_control_{end}": shares[row["policy"]] + by
            for end, by in zip(ENDS, (0.0, -0.003, 0.003), strict=True)
        }
        for row in found.comparison.summary_rows
    ]
    comparison = replace(found.comparison)
    comparison.__dict__["summary_rows"] = rows
    alike = [behind(ODD, -0.5, verdict="cannot tell yet"), behind("told", -1.2)]
    shown = replace(found, comparison=comparison, behind=alike)
    start = "Of 100 balls in play, in control: “halves” "
    assert ranking(shown) == (
        f"{start}92.3, “{ODD}” 91.8, too close to tell apart; “told” 1.2 fewer."
    )
    alike[1] = behind("told", -1.2, verdict="no difference larger than 0.5 points")
    assert ranking(shown) == (
        f"Of 100 balls in play, in control: “halves” and “{ODD}” 92, “told” 91, too close to tell "
        "apart."
    )
    many = [behind(name, -0.1, verdict="cannot tell yet") for name in "abcdefg"]
    assert ranking(replace(shown, behind=many)) == f"{start}92; too close to it to tell: 7 others."


def test_of_very_many_policies_the_ranking_names_the_nearest(found: Report) -> None:
    rows = [behind(f"p{k}", -1.0 - k, 0.3) for k in range(12)]
    eight = ranking(replace(found, behind=rows[:8]))
    assert all(f"“p{k}” {k + 1} fewer" in eight for k in range(8))
    said = ranking(replace(found, behind=rows[::-1]))
    assert said.endswith("“p4” 5 fewer, 7 others 6 to 12 fewer.")
    assert "p5" not in said


def test_long_answers_are_smaller_on_paper(found: Report) -> None:
    """With long names in its ranking a page took a third sheet, for one line."""
    for letters, small in ((5, False), (60, True)):
        rows = [behind(str(k) * letters, -1.0 - k) for k in range(4)]
        shown = replace(found, behind=[*rows, behind("told", -9.0)], rival="told")
        main = Page(report_page(shown, "us")).one("main")
        assert ("long-names" in main.attributes.get("class", "")) == small


def test_page_and_terminal_begin_with_the_same_words(found: Report, page: Page) -> None:
    text = terminal_text(found, "us")
    for sentence in (answer(found), ranking(found)):
        assert f"{sentence}\n" in text
        assert [one for one in page.all("p") if one.text == sentence]


@given(st.integers(1, 3000), st.data())
def test_a_hundred_balls_are_a_hundred(in_play: int, data: st.DataObject) -> None:
    reached = data.draw(st.integers(0, in_play))
    control = data.draw(st.integers(0, reached))
    row = {"in_play": in_play, "reached": reached, "in_control": control}
    counts = frequencies(row)
    assert sum(counts) == 100
    for whole, count in zip(counts, (control, reached - control, in_play - reached), strict=True):
        assert abs(whole - 100 * count / in_play) < 1
    rare = [
        count
        for whole, count in zip(
            counts, (control, reached - control, in_play - reached), strict=True
        )
        if count and not whole
    ]
    assert frequency_words(row).count("under 1 ") == len(rare)


def test_icons_are_as_many_of_each_kind_as_the_words_say(found: Report, page: Page) -> None:
    other = compared_with(found, found.leader)
    assert other is not None
    for which, name in (("chosen", found.leader), ("against", other)):
        row = overall(found)[name]
        if not told_from_other(found, found.leader):
            row = together([overall(found)[found.leader], overall(found)[other]])
        counts = frequencies(row)
        figure = page.one("figure", id=f"icons-{which}")
        assert frequency_words(row) in figure.text
        start = page.html.index(f'id="icons-{which}"')
        part = page.html[start : page.html.index("</figure>", start)]
        kinds = re.findall(r'href="#ball-([a-z-]+)"', part)
        assert [kinds.count(k) for k in ("in-control", "at-full-stretch", "through")] == [*counts]


def test_who_is_compared_with_whom(found: Report) -> None:
    for policy in found.scenario.policies[1:]:
        assert compared_with(found, policy.name) == "halves"
    assert compared_with(replace(found, leader="told", rival="halves"), "halves") == "told"
    assert compared_with(replace(found, leader="halves", rival=ODD), "halves") == ODD


def test_what_would_change_the_answer_is_told_by_the_intervals(doubted: Report) -> None:
    doubt = doubted.doubt
    assert doubt is not None
    found = changes(doubt, "us", ahead=told_ahead(doubted))
    names = doubt.policy.name, doubt.scenario.baseline.name
    for change in found:
        for end, value in zip(doubt.ends[change.number], (change.low, change.high), strict=True):
            _, _, said = change.words.partition(value)
            said = re.split(r", |; ", said, maxsplit=1)[1]
            if end.low <= 0.0 <= end.high:
                assert said.startswith("too close to tell (")
            else:
                assert said.startswith(f"“{names[end.points < 0.0]}” gets ")
    speed = next(change for change in found if change.label == "the speed of their drives")
    assert (speed.here, speed.high) == ("36 mph", "46.8 mph")


def test_doubt_stands_on_the_page_and_no_inputs_leaves_it_out(doubted: Report, page: Page) -> None:
    with_doubt = Page(report_page(doubted, "us"))
    assert "likely cases" in with_doubt.one(id="sure").text
    assert with_doubt.one(id="change").text.count("Too close") + with_doubt.one(
        id="change"
    ).text.count("If ") >= len(doubted.doubt.inputs if doubted.doubt else ())
    # Which of the three is of speed, height and direction does not follow from their units.
    errors = [f"{name}: two in three within " for name in ("speed", "height", "direction")]
    for label in ("the speed of their drives", "36 mph", "[A]", "[P]", *errors):
        assert label in with_doubt.one(id="assumptions").text
    assert NO_INPUTS in page.one(id="sure").text
    assert NO_INPUTS in page.one(id="change").text


def test_nothing_to_type_is_asked_of_those_who_read_the_page(doubted: Report) -> None:
    # So few settings cannot tell what makes how much of the doubt; the study says: play more.
    assert doubted.doubt is not None
    assert "--settings" in " ".join(what_matters(doubted.doubt))
    assert "--" not in Page(report_page(doubted, "us")).one(id="sure").text


def test_an_input_that_changes_nothing_says_what_the_answer_says(doubted: Report) -> None:
    doubt = doubted.doubt
    assert doubt is not None
    row = lead(doubted)
    # But for the order in which the blocks' numbers are added up.
    assert doubt.usual == pytest.approx([row[f"points{end}"] for end in ("", "_low", "_high")])
    same = [
        each.label
        for each, (low, high) in zip(doubt.inputs, doubt.ends, strict=True)
        if low == high == doubt.usual
    ]
    assert "the pair's full stretch" in same


AHEAD, BEHIND = Difference(2.0, 1.0, 3.0), Difference(-2.0, -3.0, -1.0)
OPEN = Difference(0.1, -1.0, 1.2)


@pytest.mark.parametrize(
    ("ends", "usual", "told", "turned"),
    [
        ((AHEAD, BEHIND), AHEAD, True, True),
        ((AHEAD, OPEN), AHEAD, True, False),
        ((AHEAD, OPEN), OPEN, False, True),
        ((AHEAD, AHEAD), OPEN, False, False),
        ((AHEAD, OPEN), BEHIND, False, True),
    ],
)
def test_what_turns_the_answer_round_is_told_by_the_intervals(
    doubted: Report,
    ends: tuple[Difference, Difference],
    usual: Difference,
    told: bool,
    turned: bool,
) -> None:
    assert doubted.doubt is not None
    every = replace(doubted.doubt, ends=(ends,) * len(doubted.doubt.ends), usual=usual)
    assert turns(every, 0, ahead=told) == turned
    said = turning(every, "us", ahead=told)
    assert said[0].startswith("Nothing tried") == (not turned)
    assert every.inputs[0].label in " ".join(said)


@pytest.mark.parametrize("ahead", [True, False])
def test_no_input_is_said_both_to_matter_and_not_to(doubted: Report, ahead: bool) -> None:
    """Each input has one place: in the sentences, the order of the bars, and what to measure."""
    doubt = doubted.doubt
    assert doubt is not None
    larger = Difference(5.0, 4.0, 6.0)
    kinds = [(AHEAD, BEHIND), (AHEAD, larger), (AHEAD, AHEAD), (OPEN, BEHIND)]
    if not ahead:
        kinds[1] = (larger, larger)
    ends = tuple(kinds[k % 4] for k in range(len(doubt.ends)))
    usual = AHEAD if ahead else OPEN
    verdict = "fewer" if ahead else "cannot tell yet"
    shown = replace(
        doubted,
        doubt=replace(doubt, ends=ends, usual=usual),
        behind=[behind(str(doubted.rival), -2.0, verdict=verdict)],
    )
    assert shown.doubt is not None
    assert told_ahead(shown) == ahead
    found = effects(shown.doubt, ahead=ahead)
    assert sorted(found.order) == [*range(len(ends))]
    assert {k % 4 for k in found.turn} == {0, 3}
    assert {k % 4 for k in found.size} == ({1} if ahead else set())
    labels = [each.label for each in shown.doubt.inputs]
    sentences = what_hangs(shown.doubt, ahead=ahead)
    starts = ("What puts " if ahead else "What tells ", "Make the difference larger", "Make too")
    for numbers, start in zip(found, starts, strict=True):
        own = [sentence for sentence in sentences if sentence.startswith(start)]
        assert len(own) == bool(numbers)
        assert all(labels[k] in own[0] for k in numbers)
    assert [sum(label in each for each in sentences) for label in labels] == [1] * len(labels)
    measured = " ".join(inputs(shown))
    assert [labels[k] in measured for k in found.turn] == [True] * len(found.turn)
    assert not any(labels[k] in measured for k in (*found.size, *found.little))
    bars = Page(report_page(shown, "us")).one(id="change").text
    places = [bars.rindex(f"{labels[k]}: ") for k in found.order]
    assert places == sorted(places)


def test_what_to_measure_first_is_what_changes_the_size_where_nothing_turns(
    doubted: Report,
) -> None:
    doubt = doubted.doubt
    assert doubt is not None
    rest = ((AHEAD, AHEAD),) * (len(doubt.ends) - 1)
    for first, words in (
        ((AHEAD, Difference(5.0, 4.0, 6.0)), "changes the size of the difference most"),
        ((AHEAD, AHEAD), "no input changes the difference by more than the chance of the shots"),
    ):
        changed = replace(doubt, ends=(first, *rest), usual=AHEAD)
        shown = replace(doubted, doubt=changed, behind=[behind(str(doubted.rival), -2.0)])
        said = " ".join(inputs(shown))
        assert words in said
        assert (doubt.inputs[0].label in said) == ("most" in words)


def test_dots_show_no_difference_where_none_can_be_told(found: Report, page: Page) -> None:
    numbers, looked_at = page.numbers, {True: 0, False: 0}
    for policy in found.scenario.policies:
        data = numbers["policies"][policy.slug]
        own = data["settings"][data["own"][0]][data["own"][1]]
        told = told_from_other(found, policy.name)
        assert (own["alike"] is None) == told
        rows = overall(found)
        other = compared_with(found, policy.name)
        assert other is not None
        if not told:
            both = together([rows[policy.name], rows[other]])
            assert own["alike"]["icons"] == [*frequencies(both)]
        for setting in (one for line in data["settings"] for one in line):
            if setting is not own:
                close = setting["change"]["all"].startswith("too close to tell")
                assert (setting["alike"] is not None) == close
                assert setting["name"].startswith("Another setting: ")
                assert setting["said"].startswith(setting["name"])
                looked_at[close] += 1
    assert min(looked_at.values()) > 0


def test_weights_are_told_of_a_hundred(doubted: Report) -> None:
    assert doubted.doubt is not None
    weights = doubted.scenario.opponents.shots
    drives = next(
        each
        for each in changes(doubted.doubt, "us", ahead=True)
        if each.label == "how often they drive"
    )
    others = weights.drop + weights.lob
    assert drives.here == f"{100 * weights.drive / (weights.drive + others):.0f} of 100"
    low = 0.9 * weights.drive
    assert drives.low == f"{100 * low / (low + others):.0f} of 100"


def test_limits_cautions_and_every_setting_are_on_the_page(found: Report, page: Page) -> None:
    cautions = page.one(id="cautions").text
    assert all(sentence in cautions for sentence in (*LIMITS, *CAUTIONS))
    settings = page.all("details")[-1].text
    for key in ("pair.left.height", "opponents.drive.speed", "run.seed", "policies[2].shift"):
        assert key in settings


# --- the courts ---------------------------------------------------------------------------------


def points_of(path: str) -> list[tuple[int, int]]:
    """Corners of a path of one move and relative lines."""
    first, _, rest = path.removeprefix("M").removesuffix("h0").partition("l")
    numbers = [int(number) for number in re.findall(r"-?\d+", rest)]
    x, y = map(int, first.split())
    corners = [(x, y)]
    for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
        x, y = x + dx, y + dy
        corners.append((x, y))
    return corners


def test_courts_are_drawn_to_the_tenth_of_a_foot(found: Report, page: Page) -> None:
    numbers, through = page.numbers, 0
    for variant, courts in zip(numbers["variants"], found.views, strict=True):
        assert set(variant["courts"]) == {"line", "cross"}
        for direction, view in courts.items():
            court = variant["courts"][direction]
            for name in PLAYERS:
                player = view.players[name]
                for mark in ("start", "found", "target"):
                    x, y = getattr(player, mark)
                    assert court[name][mark] == [round(10 * x), round(-10 * y)]
                start, place, target = points_of(court[name]["way"])
                assert [*place] == court[name]["found"]
                assert ([*start], [*target]) == (court[name]["start"], court[name]["target"])
            drawn = [len(points_of(path)) for path in court["through"] if path]
            assert sum(drawn) == len(view.through)
            through += sum(drawn)
    assert through > 0


def test_outlines_keep_their_area(found: Report, page: Page) -> None:
    numbers = page.numbers
    for variant, courts in zip(numbers["variants"], found.views, strict=True):
        for direction, view in courts.items():
            for name in PLAYERS:
                player = view.players[name]
                areas = player.at_full_stretch, player.in_control
                for rings, place in zip(
                    areas, variant["courts"][direction][name]["areas"], strict=True
                ):
                    path = numbers["outlines"][place]
                    drawn = [np.array(points_of(one)) / 10 for one in path.split("z") if one]
                    around = sum(np.hypot(*np.diff(r, axis=0).T).sum() for r in rings)
                    # Corners are off by a twentieth of a foot each way at most.
                    off = 0.05 * math.sqrt(2.0) * (around + 1.0)
                    assert abs(abs(sum(map(area, drawn))) - abs(sum(map(area, rings)))) <= off


def area(ring: np.ndarray) -> float:
    x, y = ring.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def test_outlines_without_an_area_are_left_out() -> None:
    point = np.full((4, 2), 3.0)
    square = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0], [0.0, 0.0]])
    assert outline_path([point]) == ""
    assert outline_path([point, square]) == "M0 0l20 0 0-20-20 0z"


def test_balls_beyond_the_edge_stand_on_it(found: Report) -> None:
    view = next(view for courts in found.views for view in courts.values())
    balls = np.array([[0.0, -10.0], [-14.0, -12.0], [30.0, -9.0], [13.0, -8.0]])
    drawn = drawing(replace(view, through=balls))
    assert (drawn.through, drawn.beyond_left) == ("M0 100h0", "M-118 120h0")
    assert drawn.beyond_right == "M118 90l0-10"


def test_a_court_says_in_words_what_it_shows(found: Report, page: Page) -> None:
    for variant, courts in zip(page.numbers["variants"], found.views, strict=True):
        for direction, view in courts.items():
            words = variant["courts"][direction]["words"]
            assert f"{view.missed:,} of {view.in_play:,} balls" in words
            for name in PLAYERS:
                x, y = view.players[name].found
                side = "left" if x < 0.0 else "right"
                place = f"the {name} player {abs(x):.1f} ft {side} of the centre line, {-y:.1f} ft"
                assert place in words


def test_scales_hold_all_values_on_round_ticks() -> None:
    assert scale_of([91.0, 91.0], limits=(0.0, 100.0)).ticks[0] <= 91.0
    assert scale_of([100.0, 100.0], limits=(0.0, 100.0)).ticks[-1] == 100.0
    assert scale_of([math.nan]).ticks == (0.0, 0.5, 1.0)
    ticks = scale_of([-41.0, 78.0]).ticks
    assert ticks[0] <= -41.0
    assert ticks[-1] >= 78.0
    assert len(ticks) <= 5


# --- the page as a page --------------------------------------------------------------------------


def test_a_name_cannot_break_the_page(page: Page) -> None:
    assert ODD not in page.html
    assert len(page.all("script")) == 3
    assert "<" not in page.one("script", id="numbers").text
    assert ODD in [policy["name"] for policy in page.numbers["policies"].values()]
    assert ODD in page.one("fieldset").text


def test_the_page_needs_no_network(page: Page) -> None:
    for element in page.elements:
        assert "src" not in element.attributes
        assert element.tag not in ("link", "iframe", "img", "object")
        assert element.attributes.get("href", "#").startswith("#")
    assert "://" not in page.html
    assert not re.findall(r"url\((?!#)", page.html)


def test_every_picture_says_what_it_shows(page: Page) -> None:
    pictures = [
        one for one in page.all("svg") if "definitions" not in one.attributes.get("class", "")
    ]
    assert len(pictures) > 20
    for picture in pictures:
        assert picture.attributes["role"] == "img"
        assert picture.text.strip()
    names = [one.attributes["id"] for one in page.elements if "id" in one.attributes]
    assert len(names) == len(set(names))
    for element in page.elements:
        for attribute in ("aria-labelledby", "aria-describedby", "for"):
            assert set(element.attributes.get(attribute, "").split()) <= set(names)
        drawn = element.attributes.get("href", "#none")
        assert drawn == "#none" or drawn.removeprefix("#") in names


def test_what_cannot_be_moved_says_why(page: Page) -> None:
    policies = {policy["name"]: policy for policy in page.numbers["policies"].values()}
    assert policies[ODD]["noShift"] == policies[ODD]["noSpacing"] == ""
    assert policies["halves"]["noShift"] == "“halves” does not shift with the return"
    assert policies["halves"]["noSpacing"] == ""
    assert policies["told"]["noSpacing"] == "“told” gives each player a place of their own"
    for policy in policies.values():
        rows, columns = max(len(policy["spacings"]), 1), max(len(policy["shifts"]), 1)
        assert [len(line) for line in policy["settings"]] == [columns] * rows


def test_the_script_is_short_and_finds_what_it_looks_for(page: Page) -> None:
    script = files("sim").joinpath("pages", "report.js").read_text(encoding="utf-8")
    assert len(script.splitlines()) < 150
    for name in re.findall(r'"#([a-z-]+)"', script):
        assert name == "none" or f'id="{name}"' in page.html
    for name in re.findall(r"\[(data-[a-z]+)", script):
        assert f"{name}=" in page.html
    for key in re.findall(r"policy\.(\w+)", script):
        assert all(key in policy for policy in page.numbers["policies"].values())


def test_metres_on_request(found: Report, page: Page) -> None:
    metric = Page(report_page(found, "metric"))
    halves, feet = (one.numbers["policies"]["halves"]["spacings"] for one in (metric, page))
    assert (feet[0], halves[0]) == ("4.0 ft", "1.22 m")
    assert "ft" not in re.findall(r"[a-z]+", metric.one("section", id="court").text)


@pytest.mark.parametrize(
    "changed",
    [
        {"policies": POLICIES[:1]},
        {"opponents": INTO_THE_NET, "policies": POLICIES[:2]},
        {"return_of_serve": {"directions": ["line"]}, "policies": POLICIES[1:]},
    ],
    ids=["one policy", "nothing in play", "one direction"],
)
def test_what_there_is_is_shown(changed: dict[str, Any]) -> None:
    found = made(32 if len(changed["policies"]) == 1 else 0, run={"shots": 32}, **changed)
    page = Page(report_page(found, "us"))
    assert page.one(id="answer").text == answer(found)
    given = found.scenario.return_of_serve.directions
    assert len(page.all(data_shown="in_control")) == len(given) + 1
    if "opponents" in changed:
        assert "No third shot stayed in play" in page.one(id="answer").text
        assert not [one for one in page.all("svg") if "data-court" in one.attributes]
    else:
        courts = [one.attributes.get("data-court") for one in page.all("svg")]
        assert [one for one in courts if one] == given
    if len(changed["policies"]) == 1:
        assert "nothing to compare it with" in page.one(id="change").text


# --- the command ---------------------------------------------------------------------------------


def test_the_command_writes_the_page_and_its_tables(written: Path) -> None:
    names = {path.name for path in written.iterdir()}
    tables = {"settings.csv", "changes.csv", "differences.csv", "middle.csv"}
    assert names == {"report.html", "answer.txt", "manifest.json", *tables}
    manifest = json.loads((written / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["options"]["no_inputs"] is True
    text = (written / "answer.txt").read_text(encoding="utf-8")
    page = Page((written / "report.html").read_text(encoding="utf-8"))
    assert page.one(id="answer").text in text
    assert all(sentence in text for sentence in (*LIMITS, *CAUTIONS))
    assert len(page.html.encode()) < 1_000_000


@pytest.mark.parametrize("settings", ["48", "16", "many"])
def test_settings_are_a_power_of_two(settings: str, tmp_path: Path) -> None:
    result = run("--settings", settings, "--out", str(tmp_path / "o"))
    assert result.exit_code == 2
    assert "--settings" in result.output
    assert not (tmp_path / "o").exists()


def test_the_python_on_the_documentation_page_runs() -> None:
    result = doctest.testfile(str(DOCS), module_relative=False, encoding="utf-8")
    assert result.attempted > 3
    assert result.failed == 0


@pytest.mark.slow
def test_the_documentation_quotes_what_the_command_says(tmp_path: Path) -> None:
    result = run("--out", str(tmp_path / "o"))
    assert result.exit_code == 0, result.output
    text = (tmp_path / "o" / "answer.txt").read_text(encoding="utf-8")
    quoted = re.findall(r"^> (.+)$", DOCS.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert len(quoted) == 3
    assert all(sentence in text for sentence in quoted)


@pytest.mark.slow
def test_inputs_have_a_table_of_their_own(tmp_path: Path) -> None:
    (tmp_path / "two.toml").write_text(TWO, encoding="utf-8")
    words = [str(tmp_path / "two.toml"), "--shots", "32", "--settings", "32"]
    result = run(*words, "--out", str(tmp_path / "o"))
    assert result.exit_code == 0, result.output
    page = Page((tmp_path / "o" / "report.html").read_text(encoding="utf-8"))
    rows = rows_of(tmp_path / "o" / "inputs.csv")
    assert len(rows) == 8
    for row in rows:
        assert row["name"] in page.one(id="change").text
        if row["input"] in ("opponents.shots.drive", "opponents.lanes.cross"):
            # The table keeps the weights, the page tells them of a hundred.
            assert " of 100" in page.one(id="change").text
        else:
            low = row["from"].split()[0].replace("/", " and ")
            assert low in page.one(id="change").text
