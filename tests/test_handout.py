"""The page for players: facts as the engine counts them, sentences that follow them, the sheet."""

from __future__ import annotations

import csv
import doctest
import io
import json
import math
import re
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from pypdf import PdfReader
from scipy.stats import betabinom, binom

import sim
from sim.analyses.handout import Handout, _safer, handout, in_paces, pace_of
from sim.analyses.handout_drill import BALLS, Share, drill, predicted, whole_balls
from sim.analyses.handout_lessons import LEFT_OPEN, SHORT, Lesson
from sim.analyses.middle import Share as Counted
from sim.answers import LEAKS
from sim.cli import main
from sim.court import BASELINE, HALF_WIDTH, POST
from sim.errors import Refused
from sim.figures import style
from sim.figures.handout import MARGIN, PAPER, SIZES, handout_page, pdf
from sim.figures.handout_court import court_drawing, view_of
from sim.figures.handout_drawing import (
    Area,
    Drawing,
    Line,
    Words,
    box,
    hatched,
    painted,
)
from sim.pages.handout import courts_on_screen, handout_html
from sim.run_in import PLAYERS, targets
from sim.scenario import Scenario
from sim.texts.handout import (
    CourtWords,
    court_words,
    left_open,
    page_words,
    taker,
    the_middle,
    where_to_go,
)
from sim.texts.handout_answer import terminal_text
from sim.texts.handout_places import across, deep, off_in_words
from sim.wording import CAUTIONS, LIMITS, of_hundred, places_together

SHOTS = 128
BUNDLED = (
    "club-sixties",
    "fast-hitters",
    "how-far-apart",
    "indoor-at-the-line",
    "seventies-lobs",
    "stop-or-run",
    "tall-and-short",
)


def load(name: str, shots: int = SHOTS, **changes: object) -> Scenario:
    return sim.load(name, {"run": {"shots": shots}, **changes})


@pytest.fixture(scope="module")
def club() -> Handout:
    return handout(load("club-sixties", 512), "follow")


@pytest.fixture(scope="module")
def odd() -> Handout:
    """Long names that look like HTML, one up and one back, places that balls get past."""
    policies = [
        {
            "name": "<b>WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW&",
            "rule": "fixed",
            "partner_depth": "15 ft",
            "centres": {"line": "1.7 ft", "middle": "-2.3 ft", "cross": "-3 ft"},
        },
        {"name": "another", "rule": "halves"},
    ]
    run = {"shots": 256, "baseline": "another"}
    name = "<script>window.hacked=1</script>MMMMMMMM"
    changes = {"name": name, "policies": policies, "run": run}
    return handout(sim.load("club-sixties", changes), policies[0]["name"])


def test_shares_are_those_of_the_comparison(club: Handout) -> None:
    comparison = sim.compare(load("club-sixties", 512))
    for lesson in club.lessons:
        (row,) = (
            row
            for row in comparison.summary_rows
            if (row["policy"], row["return_direction"], row["shot"], row["lane"])
            == ("follow", lesson.direction, "all", "all")
        )
        assert lesson.in_play == row["in_play"]
        for measure in ("in_control", "reached"):
            bounds = (row[f"{measure}_{part}"] for part in ("share", "low", "high"))
            assert getattr(lesson, measure) == tuple(bounds)
        lanes = {
            row["lane"]: row["in_control_share"]
            for row in comparison.summary_rows
            if (row["policy"], row["return_direction"], row["shot"])
            == ("follow", lesson.direction, "all")
            and row["lane"] != "all"
        }
        assert lanes[lesson.hardest_lane] == min(lanes.values()) == lesson.in_hardest_lane.share


def test_places_are_the_means_of_the_engine(club: Handout) -> None:
    scenario = club.scenario
    for direction, example in club.comparison.examples.items():
        lesson, rally = club.after(direction), example.rally
        contact = rally.contact.take(rally.in_play)
        goals = targets(scenario, club.policy, direction, contact)
        answer = example.answers[scenario.policies.index(club.policy)]
        assert lesson.contact == pytest.approx((contact.x.mean(), contact.y.mean()))
        assert lesson.struck_after == pytest.approx(contact.time.mean())
        for name in PLAYERS:
            standing = lesson.players[name]
            assert standing.target == pytest.approx((goals[name].x.mean(), goals[name].y.mean()))
            place = answer.places[name]
            assert standing.found == pytest.approx((place.x.mean(), place.y.mean()))
        assert lesson.middle.policy == "follow"
        assert lesson.middle.direction == direction


def _two_centres() -> Handout:
    """A pair that leaves half of the court open."""
    policy = {
        "name": "both on the right",
        "rule": "fixed",
        "spacing": "4 ft",
        "centres": {"line": "7 ft", "middle": "7 ft", "cross": "7 ft"},
    }
    changes = {"policies": [policy], "run": {"shots": 256, "baseline": policy["name"]}}
    return handout(sim.load("fast-hitters", changes))


def test_the_opening_is_the_largest_leak_but_short_and_only_one_worth_telling() -> None:
    seen = set()
    pairs = (handout(load("club-sixties", 256), "halves"), _two_centres())
    stays = handout(load("seventies-lobs", 256), "stay back")
    for result in (*pairs, stays):
        for lesson in result.lessons:
            leaks = {
                row["leak"]: row
                for row in result.comparison.leak_rows
                if (row["policy"], row["return_direction"], row["shot"])
                == (result.policy.name, lesson.direction, "all")
            }
            assert set(leaks) == set(LEAKS)
            balls = {leak: row["balls"] for leak, row in leaks.items()}
            most = max(balls.values())
            mostly = [leak for leak in balls if 2 * balls[leak] > sum(balls.values())]
            assert [lesson.mostly] == (mostly or [""])
            largest = max(
                (row for leak, row in leaks.items() if leak != SHORT), key=lambda row: row["balls"]
            )
            assert (lesson.opening is not None) == (largest["leak_share"] >= LEFT_OPEN)
            seen.add(lesson.opening is None)
            if lesson.opening:
                assert lesson.opening.leak == largest["leak"]
                assert lesson.opening.share.share == largest["leak_share"]
            assert most >= largest["balls"]
    assert seen == {True, False}
    short = stays.after("cross")
    assert (short.mostly, short.opening) == (SHORT, None)
    assert "most that do die short in front of you" in left_open(short)


def test_the_policy_with_most_in_control_is_taught() -> None:
    result = handout(load("fast-hitters", 1024))
    assert (result.policy.name, result.choice.most, result.choice.verdict) == (
        "follow",
        "follow",
        "more",
    )
    assert page_words(result, "my pair; id.toml").small.endswith("report 'my pair; id.toml'")
    words = page_words(result, "fast-hitters")
    assert "Taught: follow." in terminal_text(result, words)
    assert "halves, with which the scenario compares them, gets" in terminal_text(result, words)
    # The comparison is against the policy taught: all others have fewer.
    rows = [
        row
        for row in result.comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"]) == ("all", "all", "in_control")
    ]
    assert {row["baseline"] for row in rows} == {"follow"}
    assert all(row["points"] < 0.0 for row in rows)
    # The list has one number of decimals, the sentence that names one of them the same.
    text = terminal_text(result, words)
    told = [row for row in rows if row["verdict"] == "fewer"]
    fewer = {row["policy"]: of_hundred(row, places_together(rows)) for row in told}
    listed = dict(re.findall(r"^  (\S.*?)  .*  (\S+ fewer)$", text, re.MULTILINE))
    assert listed == fewer
    assert f"gets {fewer['halves']} of 100" in text


def test_what_cannot_be_told_from_the_baseline_gives_way_to_it() -> None:
    two = [{"name": name, "rule": "halves", "spacing": gap} for name, gap in _ALMOST_ALIKE]
    results = [
        handout(sim.load("club-sixties", {"policies": two, "run": {"baseline": name, "shots": 64}}))
        for name, _ in _ALMOST_ALIKE
    ]
    assert [result.policy.name for result in results] == ["ten", "ten and a bit"]
    assert len({result.choice.most for result in results}) == 1
    (other,) = (each for each in results if each.choice.most != each.policy.name)
    text = terminal_text(other, page_words(other, "pair.toml"))
    assert f"{other.choice.most}, which has most in control here, cannot be told from it" in text
    assert other.choice.alike == (other.choice.most,)


_ALMOST_ALIKE = (("ten", "10 ft"), ("ten and a bit", "10.2 ft"))


def test_a_policy_asked_for_is_taught_and_the_best_is_named() -> None:
    result = handout(load("fast-hitters", 256), "halves")
    assert result.policy.name == "halves"
    text = terminal_text(result, page_words(result, "fast-hitters"))
    assert "--policy asked for it. Most in control has follow" in text
    with pytest.raises(Refused, match='"folow" is not a policy'):
        handout(load("fast-hitters"), "folow")


def test_who_is_equal_to_the_baseline_gives_way_to_it() -> None:
    twins = [{"name": name, "rule": "halves"} for name in ("one", "two")]
    run = {"baseline": "two", "shots": 64}
    result = handout(sim.load("club-sixties", {"policies": twins, "run": run}))
    assert (result.policy.name, result.choice.most, result.choice.verdict) == ("two", "two", "")


@pytest.mark.parametrize("balls", [1, 20])
@pytest.mark.parametrize(("hits", "trials"), [(920, 1000), (40, 50), (3, 900)])
def test_predictive_range_against_scipy(hits: int, trials: int, balls: int) -> None:
    share = hits / trials
    # Interval that independent trials have by the normal approximation: as many trials again.
    half = 1.959964 * math.sqrt(share * (1.0 - share) / trials)
    low, high = predicted(Share(share, share - half, share + half), trials, balls)
    reference = betabinom(balls, hits + 0.5, trials - hits + 0.5)
    assert (low, high) == (reference.ppf(0.05), reference.ppf(0.95))
    # What the page says of luck: fewer than the low end less than one time in twenty.
    assert reference.cdf(low - 1) < 0.05


def test_predictive_range_widens_with_doubt_and_ends_at_all_balls() -> None:
    sure, unsure = Share(0.9, 0.899, 0.901), Share(0.9, 0.7, 1.0)
    narrow, wide = predicted(sure, 10_000, 100), predicted(unsure, 10_000, 100)
    assert wide[0] < narrow[0]
    assert narrow[1] < wide[1]
    assert narrow == (binom(100, 0.9).ppf(0.05), binom(100, 0.9).ppf(0.95))
    assert predicted(Share(1.0, 0.99, 1.0), 500, 20) == (20, 20)
    assert predicted(Share(0.0, 0.0, 0.01), 500, 20) == (0, 0)


@given(st.lists(st.integers(0, 1000), min_size=3, max_size=3).filter(any), st.integers(1, 60))
def test_whole_balls_add_up_and_are_in_proportion(weights: list[int], balls: int) -> None:
    mix = whole_balls(dict(zip(("drive", "drop", "lob"), weights, strict=True)), balls)
    assert sum(mix.values()) == balls
    for weight, number in zip(weights, mix.values(), strict=True):
        assert abs(number - balls * weight / sum(weights)) < 1.0


def test_the_drill_is_fed_like_the_balls_in_play(club: Handout) -> None:
    hardest = min(club.lessons, key=lambda lesson: lesson.in_control.share)
    assert club.drill == drill(hardest.direction, hardest.in_play_by_shot, hardest.in_control)
    assert sum(hardest.in_play_by_shot.values()) == hardest.in_play
    assert club.drill.balls == BALLS
    lines = " ".join(page_words(club, "club-sixties").drill.lines)
    low, high = club.drill.expected
    assert f"expect {low} to {high} of {BALLS}" in lines
    assert f"Fewer than {low}" in lines
    assert f"“one thousand one, one thousand two” ({hardest.struck_after:.1f} s)" in lines
    assert "drives 36 mph, a firm drive" in lines
    assert "rest a minute; 20 at most" in lines


def test_paces_are_half_a_pace_from_the_length_at_most(club: Handout) -> None:
    for name in PLAYERS:
        player = getattr(club.scenario.pair, name)
        for length in np.linspace(0.0, 20.0, 81):
            number = in_paces(float(length), player)
            assert abs(number * pace_of(player) - length) <= 0.25 * pace_of(player) + 1e-9
    # A step of two feet and a half is what a tall walker takes; nobody's is twice another's.
    assert 2.0 < pace_of(club.scenario.pair.left) < 2.6


@given(st.floats(-12.0, 12.0), st.floats(7.0, 28.0))
def test_places_are_told_from_the_nearest_line_and_lead_back(x: float, depth: float) -> None:
    aside, back = across(x), deep(-depth)
    side = 1.0 if x >= 0.0 else -1.0
    if aside.line == "centre line":
        told = side * aside.length
    else:
        told = side * (HALF_WIDTH + (-1.0 if aside.way == "inside" else 1.0) * aside.length)
    assert told == pytest.approx(x)
    line = 7.0 if back.line == "non-volley line" else 22.0
    assert line + (1.0 if back.way == "behind" else -1.0) * back.length == pytest.approx(depth)
    assert aside.length <= 0.5 * HALF_WIDTH
    assert back.length <= 7.5


def test_sentences_tell_the_places(club: Handout) -> None:
    pair = club.scenario.pair
    for lesson in club.lessons:
        said = where_to_go(club.scenario, lesson)
        for name in PLAYERS:
            x, y = lesson.players[name].target
            words = off_in_words(across(x), getattr(pair, name))
            assert words.split(" of the")[0].split(" left")[0].split(" right")[0] in said
            assert off_in_words(deep(y), getattr(pair, name)) in said
    halves = handout(load("club-sixties"), "halves").lessons[0]
    assert where_to_go(club.scenario, halves) == (
        "Run towards L and R, half a pace behind the non-volley line: "
        "each 2 paces from the centre line."
    )
    back = handout(load("club-sixties"), "stay back").lessons[0]
    assert where_to_go(club.scenario, back).startswith("Stay on the baseline: each 2 paces")


def between(club: Handout, left: int, right: int, forehands: tuple[int, int]) -> Lesson:
    """A lesson in which so many of 100 balls in the middle are the left and the right player's."""

    def share(balls: int, of: int = 100) -> Counted:
        return Counted(balls, of, balls / of, balls / of - 0.03, balls / of + 0.03)

    lesson = club.lessons[0]
    middle = replace(
        lesson.middle,
        between=share(100, 300),
        by_left=share(left),
        by_right=share(right),
        left_forehand=share(forehands[0]),
        right_forehand=share(forehands[1]),
    )
    return replace(lesson, middle=middle)


def test_the_middle_is_whose_the_numbers_say(club: Handout) -> None:
    clear = between(club, 60, 30, (98, 2))
    assert taker(clear) == "left"
    assert the_middle(clear) == (
        "The middle is the left player's, on the forehand: takes about 60 of 100 balls there, the "
        "right player 30."
    )
    assert "right player's, though on the backhand" in the_middle(between(club, 30, 60, (98, 2)))
    assert "right player's: takes" in the_middle(between(club, 30, 60, (98, 50)))
    close = between(club, 45, 40, (98, 2))
    assert taker(close) == ""
    assert (
        the_middle(close) == "The middle is either's, so call it; it is the left player's forehand."
    )
    both = the_middle(between(club, 45, 40, (98, 97)))
    assert both.endswith("so call it; it is on the forehand of both.")
    # Clear in number, but not beyond the intervals.
    few = between(club, 6, 3, (98, 2))
    assert taker(few) == ""


def test_what_is_left_open_is_told_with_its_side() -> None:
    lesson = _two_centres().after("cross")
    # They strike from the pair's left: the line is the left sideline, and the far one the right.
    assert lesson.contact[0] < -5.0
    assert lesson.opening is not None
    assert lesson.opening.leak == "line"
    number = round(100.0 * lesson.opening.share.share)
    assert left_open(lesson).startswith(
        f"Left open is your left sideline: about {number} of 100 balls get past there. "
    )
    far = replace(lesson, opening=replace(lesson.opening, leak="cross"))
    assert "over your right sideline" in left_open(far)
    central = replace(lesson, contact=(0.3, 22.0))
    assert "the sideline on their side" in left_open(central)
    none = replace(lesson, opening=None, reached=Share(0.999, 0.99, 1.0))
    assert left_open(none).startswith("Hardly a ball gets past you. About ")
    some = replace(lesson, opening=None, mostly="", reached=Share(0.96, 0.95, 0.97))
    assert left_open(some).startswith("About 4 of 100 balls get past you. ")
    few = replace(lesson, opening=None, mostly="short", reached=Share(0.98, 0.97, 0.99))
    assert left_open(few).startswith("Hardly a ball gets past you; most that do die short in front")
    easy = replace(none, in_hardest_lane=Share(0.99, 0.98, 1.0))
    assert left_open(easy).endswith("Hardly one stretches you.")
    assert left_open(easy, explained=True).endswith("(met only with a lunge, or not at all).")


def test_who_did_as_well_is_said_and_lets_no_fewer_past() -> None:
    result = handout(sim.load("stop-or-run"))
    assert result.choice.alike == ("stop halfway (halves)",)
    words = page_words(result, "stop-or-run")
    assert words.as_good.startswith("“stop halfway (halves)” did as well: as many in control")
    (reached,) = (
        row
        for row in result.comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"], row["policy"])
        == ("all", "all", "reached", *result.choice.alike)
    )
    assert reached["verdict"] != "more"
    assert words.as_good in handout_html(result, words)
    assert words.as_good in [each.text for each in handout_page(result, words).words()]
    assert words.plan.startswith("When the right player returns, your plan: stop (halves).")
    assert page_words(handout(load("club-sixties")), "x").as_good == ""


def test_of_equals_in_control_who_reaches_more_is_taught(monkeypatch: pytest.MonkeyPatch) -> None:
    comparison = sim.compare(load("club-sixties", 64))
    rows = comparison.difference_rows

    def told(row: dict[str, object], reached: str) -> dict[str, object]:
        if (row["measure"], row["policy"]) == ("in_control", "bisect"):
            return row | {"verdict": "cannot tell yet"}
        if (row["measure"], row["policy"]) == ("reached", "bisect"):
            return row | {"verdict": reached, "points": 2.0}
        return row | {"verdict": "fewer" if row["measure"] == "in_control" else "more"}

    for reached, taught in (("more", "bisect"), ("cannot tell yet", "")):
        changed = [told(row, reached) for row in rows]
        monkeypatch.setitem(vars(comparison), "difference_rows", changed)
        assert _safer(comparison) == taught


@pytest.mark.parametrize(
    ("name", "units"),
    [(name, ("us", "metric")[place % 2]) for place, name in enumerate(BUNDLED)],
)
def test_courts_speak_without_percent_and_pages_carry_the_cautions(name: str, units: str) -> None:
    result = handout(load(name, 64))
    words = page_words(result, name, units)
    said = " ".join(sentence for court in words.courts for sentence in court.sentences)
    assert "%" not in said
    assert "nan" not in said
    assert all(len(court.sentences) == 3 for court in words.courts)
    assert words.cautions.lines == (*CAUTIONS, LIMITS[0])
    assert f"reachshare report {name}" in words.small
    assert result.scenario.opponents.level in words.small
    page = handout_page(result, words, units)
    assert_in_margins_and_apart(page)
    assert words_size(page) >= 9.0
    # Metres where they were asked for, and nowhere feet.
    everything = " ".join(each.text for each in page.words())
    assert bool(re.search(r"\d ft\b|½ ft\b", everything)) == (units == "us")
    assert bool(re.search(r"\d m\b", everything)) == (units == "metric")


@pytest.mark.parametrize("name", BUNDLED)
def test_net_and_sidelines_are_seen_from_end_to_end(name: str) -> None:
    """On paper and on screens, as drawn: no words, and no ground under words, cover them."""
    result = handout(load(name, 64))
    for units in PAPER:
        words = page_words(result, name, units)
        assert hidden(handout_page(result, words, units), len(result.lessons)) == []
        assert [hidden(drawing) for drawing in courts_on_screen(result, words)] == [[], [], []]
        # Other numbers of shots make other sentences, which leave courts and words other sizes.
        for size, height in product((8.5, 10.5), (210.0, 260.0)):
            view = view_of(result.lessons, words.courts, size, 165.0, height)
            for lesson, court in zip(result.lessons, words.courts, strict=True):
                assert hidden(court_drawing(lesson, court, view)) == []


def test_what_hides_the_net_is_noticed(club: Handout) -> None:
    drawing = courts_on_screen(club, page_words(club, "club-sixties"))[0]
    (net,) = nets(drawing)
    (left, y), (right, _) = net.points
    for x in (left, 0.5 * (left + right)):
        over = Area(box(x - 5.0, y - 5.0, x + 5.0, y + 5.0), "paper")
        assert hidden(replace(drawing, shapes=(*drawing.shapes, over)))


# Pixels for each point of a drawing, and how light (of 1) a line may be drawn.
_FINE = 3
_LIGHTEST = {"net": 0.3, "sideline": 0.75}


def nets(drawing: Drawing) -> list[Line]:
    """The nets of a page: no other line is as thick and in ink."""
    lines = [each for each in drawing.shapes if isinstance(each, Line) and each.colour == "ink"]
    widest = max(line.width for line in lines)
    return [line for line in lines if line.width == widest]


def hidden(drawing: Drawing, courts: int = 1) -> list[tuple[str, float, float]]:
    """Places (points) of nets and sidelines at which they are not seen, but for players' marks."""
    with style.own_settings():
        figure = painted(drawing)
        figure.set_dpi(72.0 * _FINE)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
    light = np.asarray(canvas.buffer_rgba())[..., :3].mean(axis=2) / 255.0
    marks = [each for each in drawing.shapes if isinstance(each, Area) and _is_a_mark(each)]
    found = []
    assert len(nets(drawing)) == courts
    for (left, net), (right, _) in (line.points for line in nets(drawing)):
        foot = (right - left) / (2.0 * POST)
        along = [("net", x, net) for x in np.arange(left + 0.5, right - 0.4, 0.5)]
        for post, inwards in ((left, 1.0), (right, -1.0)):
            x = post + inwards * (POST - HALF_WIDTH) * foot
            ys = np.arange(net - BASELINE * foot, net + BASELINE * foot, 0.5)
            along += [("sideline", x, y) for y in ys]
        for line, x, y in along:
            row, column = round(_FINE * y), round(_FINE * x)
            darkest = light[row - 2 : row + 3, column - 2 : column + 3].min()
            if darkest > _LIGHTEST[line] and not any(_covers(mark, x, y) for mark in marks):
                found.append((line, float(x), float(y)))
    return found


def _is_a_mark(area: Area) -> bool:
    return area.fill in PLAYERS or area.edge in PLAYERS


def _covers(area: Area, x: float, y: float) -> bool:
    """Whether a place is within an area, or within the edge around it."""
    xs, ys = zip(*area.points, strict=True)
    return min(xs) - 2.0 <= x <= max(xs) + 2.0 and min(ys) - 2.0 <= y <= max(ys) + 2.0


def words_size(page: Drawing) -> float:
    """The size in which most words of a page are set."""
    letters: dict[float, int] = {}
    for each in page.words():
        letters[each.size] = letters.get(each.size, 0) + len(each.text)
    return max(letters, key=lambda size: letters[size])


def assert_in_margins_and_apart(page: Drawing) -> None:
    boxes = [(each.text, each.box) for each in page.words() if each.text.strip()]
    for text, (left, top, right, bottom) in boxes:
        assert left >= MARGIN - 0.01, text
        assert top >= MARGIN - 0.01, text
        assert right <= page.width - MARGIN + 0.01, text
        assert bottom <= page.height - MARGIN + 0.01, text
    for (one, first), (other, second) in combinations(boxes, 2):
        apart = (
            first[2] <= second[0] + 0.01
            or second[2] <= first[0] + 0.01
            or first[3] <= second[1] + 1.0
            or second[3] <= first[1] + 1.0
        )
        assert apart, (one, other)


@pytest.mark.slow
@pytest.mark.parametrize("name", BUNDLED)
def test_every_policy_has_a_page_that_fits(name: str) -> None:
    for policy in load(name).policies:
        result = handout(load(name), policy.name)
        for units in PAPER:
            words = page_words(result, name, units)
            page = handout_page(result, words, units)
            assert_in_margins_and_apart(page)
            assert words_size(page) >= 8.5
        view = view_of(result.lessons, words.courts, 9.0, 240.0, 280.0)
        for lesson, court in zip(result.lessons, words.courts, strict=True):
            shapes = court_drawing(lesson, court, view).shapes
            assert any(map(_through, shapes)) == (lesson.opening is not None)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_long_names_and_odd_places_keep_clear_of_each_other(odd: Handout, units: str) -> None:
    page = handout_page(odd, page_words(odd, "x" * 60, units), units)
    assert_in_margins_and_apart(page)
    assert (page.width, page.height) == PAPER[units]
    assert words_size(page) >= 8.0


@pytest.mark.parametrize(
    ("policy", "directions"), [("tethered", ["cross"]), ("stay back", ["line", "middle"])]
)
def test_one_court_or_two(policy: str, directions: list[str]) -> None:
    scenario = load("club-sixties", 64, return_of_serve={"directions": directions})
    result = handout(scenario, policy)
    page = handout_page(result, page_words(result, "club-sixties"))
    assert_in_margins_and_apart(page)
    words = [each.text for each in page.words()]
    assert words.count("they strike here") == len(directions)
    three = handout(load("club-sixties", 64), policy)
    court, of_three = (
        view_of(each.lessons, page_words(each, "x").courts, 9.0, 240.0, 380.0)
        for each in (result, three)
    )
    assert court.scale == pytest.approx(of_three.scale)


def test_one_of_the_bundled_pairs_up_and_one_back() -> None:
    result = handout(load("seventies-lobs"), "only the partner up")
    said = where_to_go(result.scenario, result.lessons[0])
    assert said.startswith("Left player half a pace behind the non-volley line")
    assert "right player stays on the baseline" in said
    words = page_words(result, "seventies-lobs")
    assert len([line for line in words.walk.lines if line.startswith("Face the net")]) == 2
    assert_in_margins_and_apart(handout_page(result, words))


def test_the_words_take_the_room_that_was_measured(odd: Handout) -> None:
    """As drawn, not as measured: a second opinion on every line of the page."""
    page = handout_page(odd, page_words(odd, "pair.toml"))
    with style.own_settings():
        figure = painted(page)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        scale = 72.0 / figure.dpi
        texts = [text for text in figure.findobj(Text) if text.get_text()]
        assert len(texts) == len(page.words())
        for text in texts:
            extent = text.get_window_extent(canvas.get_renderer())
            # Hinting may widen a line by a pixel.
            assert extent.x0 * scale >= MARGIN - 1.0
            assert extent.x1 * scale <= page.width - MARGIN + 1.0
            assert extent.y0 * scale >= MARGIN - 1.0
            assert extent.y1 * scale <= page.height - MARGIN + 1.0


def test_the_court_is_to_scale_and_shows_what_the_sentences_say(club: Handout) -> None:
    words = [court_words(club.scenario, lesson) for lesson in club.lessons]
    view = view_of(club.lessons, words, 9.0, 200.0, 300.0)
    assert view.width <= 200.0 + 1e-9
    assert view.height <= 300.0 + 1e-9
    for lesson, court in zip(club.lessons, words, strict=True):
        drawing = court_drawing(lesson, court, view)
        assert (drawing.width, drawing.height) == (view.width, view.height)
        letters = {each.text: each for each in drawing.words() if each.text in ("L", "R")}
        for name, letter in (("left", "L"), ("right", "R")):
            x, y = view.at(*lesson.players[name].target)
            assert letters[letter].x == pytest.approx(x)
            assert letters[letter].baseline == pytest.approx(y, abs=5.0)
        gap = letters["R"].x - letters["L"].x
        assert gap == pytest.approx(lesson.apart * view.scale)
        said = [each.text for each in drawing.words()]
        for name in PLAYERS:
            assert set(court.across[name]) <= set(said)
            assert set(court.deep[name]) <= set(said)
        strokes = [s for s in drawing.shapes if not isinstance(s, Words) and _through(s)]
        assert bool(strokes) == (lesson.opening is not None)


def test_open_marks_are_not_under_filled_ones(club: Handout) -> None:
    """Wherever the shot finds them; over a filled mark both are seen."""
    lesson = club.lessons[0]
    x, y = lesson.players["left"].target
    for behind in (0.7, 1.5, 8.0):
        late = replace(lesson.players["left"], found=(x, y - behind))
        court = replace(lesson, players=lesson.players | {"left": late})
        words = court_words(club.scenario, court)
        view = view_of([court], [words], 9.0, 200.0, 300.0)
        shapes = list(court_drawing(court, words, view).shapes)
        middle = view.at(*late.found)
        (mark,) = [
            each
            for each in shapes
            if isinstance(each, Area)
            and each.edge == "left"
            and math.dist(np.mean(each.points, axis=0), middle) < 0.01
        ]
        (letter,) = [each for each in shapes if isinstance(each, Words) and each.text == "L"]
        assert shapes.index(mark) > shapes.index(letter)
        assert (mark.fill == "") == (behind < 2.0)


@pytest.mark.parametrize(
    ("units", "unlike", "alike"),
    [("us", ("4 ft", "3 ft"), "5 ft"), ("metric", ("1.2 m", "0.9 m"), "1.5 m")],
)
def test_as_many_paces_never_stand_beside_other_lengths(
    club: Handout, units: str, unlike: tuple[str, str], alike: str
) -> None:
    """A foot of difference may hide in paces told in halves."""
    lesson = club.lessons[0]

    def told(left: float, right: float) -> CourtWords:
        players = {
            name: replace(lesson.players[name], target=(x, lesson.players[name].target[1]))
            for name, x in zip(PLAYERS, (left, right), strict=True)
        }
        return court_words(club.scenario, replace(lesson, players=players), units)

    words = told(-3.9, 3.1)
    assert words.across == {"left": unlike[:1], "right": unlike[1:]}
    assert "each about 1½ paces from the centre line" in words.sentences[0]
    words = told(-4.9, 4.9)
    assert words.across == dict.fromkeys(PLAYERS, ("2 paces", alike))
    assert "each 2 paces from the centre line" in words.sentences[0]


def _through(shape: object) -> bool:
    return "through" in (getattr(shape, "colour", ""), getattr(shape, "edge", ""))


def test_hatching_stays_inside() -> None:
    corners = box(2.0, 3.0, 12.0, 8.0)
    strokes = hatched(corners, 2.0, "through", 1.0)
    assert len(strokes) >= 6
    for stroke in strokes:
        assert not isinstance(stroke, Words | Area)
        for x, y in stroke.points:
            assert 2.0 - 1e-9 <= x <= 12.0 + 1e-9
            assert 3.0 - 1e-9 <= y <= 8.0 + 1e-9


def test_the_pdf_is_one_page_of_words_and_the_same_every_time(odd: Handout) -> None:
    words = page_words(odd, "pair.toml")
    made = [pdf(handout_page(odd, words), words.title) for _ in range(2)]
    assert made[0] == made[1]
    assert b"CreationDate" not in made[0]
    reader = PdfReader(io.BytesIO(made[0]))
    assert len(reader.pages) == 1
    page = reader.pages[0]
    assert tuple(map(float, page.mediabox[2:])) == PAPER["us"]
    assert reader.metadata is not None
    assert reader.metadata.title == words.title
    read = "".join(page.extract_text().split())
    boxes = (words.way_in, words.walk, words.drill, words.cautions)
    lines = [words.title, words.plan, words.small]
    lines += [line for court in words.courts for line in (court.heading, *court.sentences)]
    lines += [line for box in boxes for line in (box.heading, *box.lines)]
    for line in lines:
        assert "".join(line.split()) in read
    fonts = page["/Resources"]["/Font"]
    for font in fonts.values():
        (descendant,) = font.get_object()["/DescendantFonts"].get_object()
        assert descendant.get_object()["/Subtype"] == "/CIDFontType2"


def test_html_says_what_the_paper_says_and_escapes_names(odd: Handout) -> None:
    words = page_words(odd, "pair.toml")
    page = handout_html(odd, words)
    assert "<script>" not in page
    assert "&lt;script&gt;window.hacked=1" in page
    for court in words.courts:
        assert f'id="desc-{court.direction}"' in page
        assert court.control in page
    assert page.count('role="img"') == len(words.courts)
    assert page.count("<title") == len(words.courts) + 1
    assert page.count("<h1>") == 1
    for sentence in words.cautions.lines:
        assert sentence.replace("'", "&#39;") in page
    assert "http://" not in page
    assert "https://" not in page


def test_every_colour_of_a_drawing_is_one_of_the_page(odd: Handout) -> None:
    page = handout_html(odd, page_words(odd, "pair.toml"))
    used = set(re.findall(r"(?:fill|stroke)-[a-z-]+(?=[ \"])", page.split("<body>")[1]))
    defined = set(re.findall(r"\.((?:fill|stroke)-[a-z-]+)", page.split("<body>")[0]))
    assert used <= defined


def test_no_ball_in_play_is_refused() -> None:
    into_the_net = {
        "drive": {"net_clearance": "0 ft"},
        "drop": {"net_clearance": "0 ft"},
        "shots": {"drive": 1, "drop": 1, "lob": 0},
        "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
    }
    with pytest.raises(Refused, match=r"there is nothing to teach; give the opponents smaller"):
        handout(load("club-sixties", 32, opponents=into_the_net))


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["handout", "--shots", "64", *words])


def test_the_command_from_end_to_end(anywhere: Path) -> None:
    words = ("--policy", "tethered", "--units", "metric")
    result = run(*words)
    assert result.exit_code == 0, result.output
    folder = anywhere / "reachshare-out" / "club-sixties-handout"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    files = ["answer.txt", "handout.csv", "handout.html", "handout.pdf", "manifest.json"]
    assert sorted(before) == files
    manifest = json.loads(before["manifest.json"])
    assert manifest["options"]["policy"] == "tethered"
    assert sorted(manifest["files"]) == files[:-1]
    with (folder / "handout.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["policy"] for row in rows} == {"tethered"}
    apart = [float(row["value"]) for row in rows if (row["fact"], row["unit"]) == ("apart", "ft")]
    assert apart == [pytest.approx(7.0)] * 3
    assert run(*words, "--workers", "1").exit_code == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_without_figures_there_is_no_pdf(anywhere: Path) -> None:
    assert run("--no-figures").exit_code == 0
    folder = anywhere / "reachshare-out" / "club-sixties-handout"
    assert not (folder / "handout.pdf").exists()
    assert "<svg" in (folder / "handout.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--policy", "folow"), '"folow" is not a policy of the scenario (did you mean "follow"?)'),
        (("--policy", ""), '"" is not a policy'),
        (("--units", "miles"), "'miles' is not one of"),
        (("nowhere.toml",), "nowhere.toml"),
    ],
)
def test_wrong_input_is_refused_before_any_work(
    anywhere: Path, words: tuple[str, ...], said: str
) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.output
    assert list(anywhere.iterdir()) == []


def test_the_sizes_tried_are_large_first() -> None:
    assert list(SIZES) == sorted(SIZES, reverse=True)


def test_the_examples_of_the_page_run() -> None:
    page = Path(sim.__file__).parent / "docs" / "handout.md"
    result = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert result.attempted >= 4
    assert result.failed == 0


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(anywhere: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "handout.md").read_text(encoding="utf-8")
    shown = page.split("```text\n")[1].split("```")[0].splitlines()
    printed = CliRunner().invoke(main, ["handout", "--no-figures", "-q"]).stdout.splitlines()
    lines = [line for line in shown if line not in ("", "...")]
    assert len(lines) >= 15
    assert [line for line in lines if line not in printed] == []
