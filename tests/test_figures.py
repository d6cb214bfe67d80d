"""Figures of a comparison: to scale, with the right values, and the same bytes every time."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from PIL import Image

import sim
from sim.analyses.court_views import places_through
from sim.answers import LEAKS, SHORT
from sim.comparison import Comparison
from sim.figures import (
    all_figures,
    court_figure,
    lateral_figure,
    rows,
    save,
    shares_figure,
    style,
    uncertainty_figure,
)
from sim.figures.court_through import MOST_THROUGH, WAYS
from sim.texts.comparison import markdown_report
from tests import figure_makers
from tests.legibility import words


def compared(**changes: Any) -> Comparison:
    changes["run"] = {"shots": 1024} | changes.get("run", {})
    if "policies" in changes:
        changes["run"]["baseline"] = changes["policies"][0]["name"]
    return sim.compare(sim.load("club-sixties", changes))


@pytest.fixture(scope="module")
def usual() -> Comparison:
    return compared()


def marks(axes: Axes, marker: str) -> list[Line2D]:
    return [line for line in axes.findobj(Line2D) if line.get_marker() == marker]


class TestCourt:
    def test_a_foot_is_as_long_across_as_along(self, usual: Comparison) -> None:
        figure = court_figure(usual, 0)
        FigureCanvasAgg(figure).draw()
        assert len(figure.axes) == len(usual.scenario.return_of_serve.directions)
        for axes in figure.axes:
            one = axes.transData.transform([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
            assert one[1][0] - one[0][0] == pytest.approx(one[2][1] - one[0][1], rel=1e-6)

    def test_lines_are_where_the_rules_put_them(self, usual: Comparison) -> None:
        # USA Pickleball rulebook 2025, section 2.A-2.C (read on a republishing site): 20 x 44 ft,
        # non-volley lines 7 ft from the net, centre lines from there to the baselines.
        for axes in court_figure(usual, 1).axes:
            (lines,) = [line for line in axes.findobj(Line2D) if line.get_gid() == "lines"]
            drawn = segments(lines)
            assert segment((-10, -22), (10, -22)) in drawn
            assert segment((-10, 22), (10, 22)) in drawn
            assert segment((-10, -22), (-10, 22)) in drawn
            assert segment((10, -22), (10, 22)) in drawn
            assert segment((-10, -7), (10, -7)) in drawn
            assert segment((-10, 7), (10, 7)) in drawn
            assert segment((0, 7), (0, 22)) in drawn
            assert segment((0, -22), (0, -7)) in drawn
            assert len(drawn) == 8
            (net,) = [line for line in axes.findobj(Line2D) if line.get_gid() == "net"]
            # Posts stand 36 in from the sidelines to the middle of the net's height: model page.
            assert segments(net) == {segment((-11, 0), (11, 0))}

    def test_the_whole_court_of_the_pair_and_the_contact_are_in_view(
        self, usual: Comparison
    ) -> None:
        figure = court_figure(usual, 0)
        for axes, example in zip(figure.axes, usual.examples.values(), strict=True):
            contact = example.rally.contact.take(example.rally.in_play)
            (diamond,) = marks(axes, "D")
            x, y = float(diamond.get_xdata()[0]), float(diamond.get_ydata()[0])
            assert (x, y) == pytest.approx((contact.x.mean(), contact.y.mean()))
            left, right = axes.get_xlim()
            near, far = axes.get_ylim()
            assert left < min(-10.0, x)
            assert max(10.0, x) < right
            assert near < -22.0
            assert y < far

    def test_both_stand_where_the_shot_finds_them(self, usual: Comparison) -> None:
        for index in (0, 2):
            figure = court_figure(usual, index)
            for axes, example in zip(figure.axes, usual.examples.values(), strict=True):
                for name, marker in (("left", "o"), ("right", "s")):
                    place = example.answers[index].places[name]
                    found = [(float(m.get_xdata()[0]), float(m.get_ydata()[0]))
                             for m in marks(axes, marker)]  # fmt: skip
                    assert (place.x.mean(), place.y.mean()) == pytest.approx(found[-1])

    def test_regions_lie_on_the_pairs_side_around_the_feet(self, usual: Comparison) -> None:
        for axes in court_figure(usual, 0).axes:
            regions = axes.findobj(PathPatch)
            # Left and right, at full stretch and in control.
            assert len(regions) == 4
            for region in regions:
                x, y = region.get_path().vertices.T
                assert np.all(y <= 0.0)
                assert np.all(y >= -30.0)
                assert np.ptp(x) > 1.0

    def test_balls_that_got_through_are_at_the_depth_of_the_two(self, usual: Comparison) -> None:
        seen = 0
        for example in usual.examples.values():
            for answer in example.answers:
                x, y = places_through(example.rally, answer, 10_000).T
                missed = np.flatnonzero(answer.leak >= 0)
                assert x.size == y.size == missed.size
                depth = 0.5 * (answer.places["left"].y + answer.places["right"].y)[missed]
                short = answer.leak[missed] == SHORT
                np.testing.assert_array_equal(y[~short], depth[~short])
                # A ball is short because its second bounce is nearer to the net than the two.
                assert np.all(y[short] > depth[short])
                assert np.all(y[short] < 0.0)
                seen += missed.size
        assert seen > 20

    def test_no_more_crosses_than_asked_for(self, usual: Comparison) -> None:
        example = usual.examples["cross"]
        answer = max(example.answers, key=lambda one: int((one.leak >= 0).sum()))
        all_x, _ = places_through(example.rally, answer, 150).T
        few_x, _ = places_through(example.rally, answer, 5).T
        assert few_x.size == 5 < all_x.size
        assert set(few_x) <= set(all_x)

    def test_each_ball_that_got_through_has_the_mark_of_its_way(self, usual: Comparison) -> None:
        drawn = dict.fromkeys(LEAKS, 0)
        for index, policy in enumerate(usual.scenario.policies):
            figure = court_figure(usual, index)
            for axes, example in zip(figure.axes, usual.examples.values(), strict=True):
                answer = example.answers[index]
                missed = np.flatnonzero(answer.leak >= 0)
                assert missed.size <= MOST_THROUGH
                places = places_through(example.rally, answer, missed.size)
                landed = example.rally.rebound
                for number, way in enumerate(LEAKS):
                    mine = answer.leak[missed] == number
                    wanted = places[mine]
                    if number == SHORT:
                        # In front of them, and inside the court as all balls in play.
                        wanted = np.column_stack((landed.origin_x, landed.origin_y))[missed[mine]]
                        assert np.all(np.abs(wanted[:, 0]) < 10.5)
                        assert np.all(wanted[:, 1] > answer.places["left"].y[missed[mine]])
                    wanted = wanted[np.abs(wanted[:, 0]) < 11.8]
                    found = through_marks(axes, WAYS[way][0]["marker"])
                    assert found == {tuple(map(float, place)) for place in wanted}
                    drawn[way] += len(found)
                    if found:
                        assert WAYS[way][1] in words(figure), policy.name
        assert min(drawn["short"], drawn["line"], drawn["cross"]) > 3

    def test_what_got_through_has_its_own_interval(self, usual: Comparison) -> None:
        named = 0
        for index, policy in enumerate(usual.scenario.policies):
            text = words(court_figure(usual, index))
            for direction in usual.scenario.return_of_serve.directions:
                for row in rows.leaks(usual, policy.name, direction)[:2]:
                    share, low, high = rows.estimate(row, "leak")
                    told = f"{row['leak']} {style.percent(share, low, high)}"
                    for line in (told, f"through: {told}"):
                        if line in text:
                            named += 1
                            assert style.interval(low, high) in text[text.index(line) + 1 :]
            assert not any("±" in line for line in text)
        assert named > 6

    def test_single_balls_and_arrow_heads_are_in_the_key(self, usual: Comparison) -> None:
        heads = []
        for index in range(len(usual.scenario.policies)):
            figure = court_figure(usual, index)
            assert "single balls" in words(figure)
            arrows = {
                place
                for axes in figure.axes
                for mark in "<>"
                for place in through_marks(axes, mark)
            }
            heads.append(bool(arrows))
            assert ("past them, farther out" in words(figure)) == bool(arrows)
        assert set(heads) == {False, True}

    def test_all_that_is_covered_behind_the_baseline_is_in_view(self, usual: Comparison) -> None:
        last = len(usual.scenario.policies) - 1
        lowest = 0.0
        for axes in court_figure(usual, last).axes:
            for region in axes.findobj(PathPatch):
                y = region.get_path().vertices[:, 1]
                lowest = min(lowest, float(y.min()))
                assert axes.get_ylim()[0] < y.min()
        assert lowest < -25.2

    def test_who_stands_deeper_is_said(self) -> None:
        policies = [{"name": "one back", "rule": "halves", "partner_depth": "18 ft"}]
        comparison = compared(policies=policies)
        row = rows.run_in(comparison, "one back", "cross")
        text = words(court_figure(comparison, 0))
        assert f"found left {row['left_depth_ft']:.0f} ft," in text
        assert f"right {row['right_depth_ft']:.0f} ft from net" in text

    def test_the_caption_gives_the_shares(self, usual: Comparison) -> None:
        (row,) = [
            row
            for row in usual.summary_rows
            if (row["policy"], row["return_direction"], row["shot"], row["lane"])
            == ("follow", "cross", "all", "all")
        ]
        text = words(court_figure(usual, 2))
        assert f"in control {100 * row['in_control_share']:.0f} %" in text
        assert (
            f"({100 * row['in_control_low']:.0f} to {100 * row['in_control_high']:.0f} %)" in text
        )

    def test_metric_figures_give_metres(self, usual: Comparison) -> None:
        metric = " ".join(words(court_figure(usual, 0, "metric")))
        assert " m from net" in metric
        assert " ft" not in metric
        assert " ft from net" in " ".join(words(court_figure(usual, 0, "us")))

    def test_a_typical_drive_that_lands_out_is_said_so(self) -> None:
        wild = {"speed": "80 mph", "inside_baseline": "none"}
        comparison = compared(opponents={"drive": wild})
        assert any("lands out" in text for text in words(court_figure(comparison, 0)))


def through_marks(axes: Axes, marker: str) -> set[tuple[float, float]]:
    """Places of the marks with which balls that got through are drawn."""
    lines = [line for line in marks(axes, marker) if line.get_color() == style.THROUGH]
    return {
        (float(x), float(y))
        for line in lines
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }


def segment(a: tuple[float, float], b: tuple[float, float]) -> frozenset[tuple[float, float]]:
    return frozenset([(float(a[0]), float(a[1])), (float(b[0]), float(b[1]))])


def segments(line: Line2D) -> set[frozenset[tuple[float, float]]]:
    points = list(zip(map(float, line.get_xdata()), map(float, line.get_ydata()), strict=True))
    return {segment(a, b) for a, b in pairwise(points) if not np.isnan([*a, *b]).any()}


class TestShares:
    def test_marks_and_intervals_are_the_tables_values(self, usual: Comparison) -> None:
        figure = shares_figure(usual)
        names = [policy.name for policy in usual.scenario.policies]
        directions = ["all", *usual.scenario.return_of_serve.directions]
        table = {
            (row["policy"], row["return_direction"]): row
            for row in usual.summary_rows
            if row["shot"] == row["lane"] == "all"
        }
        assert len(figure.axes) == len(directions)
        for axes, direction in zip(figure.axes, directions, strict=True):
            dots = {
                (int(dot.get_ydata()[0]), dot.get_markerfacecolor() != "white"): dot
                for dot in marks(axes, "o")
            }
            ends = [list(map(float, line.get_xdata())) for line in marks(axes, "|")]
            for place, name in enumerate(names):
                for measure, filled in (("reached", True), ("in_control", False)):
                    row = table[name, direction]
                    share = float(dots[place, filled].get_xdata()[0])
                    assert share == pytest.approx(100 * row[f"{measure}_share"])
                    interval = [100 * row[f"{measure}_low"], 100 * row[f"{measure}_high"]]
                    assert any(interval == pytest.approx(end) for end in ends)

    def test_every_interval_is_in_view_and_stands_out_from_its_mark(
        self, usual: Comparison
    ) -> None:
        for axes in shares_figure(usual).axes:
            low, high = axes.get_xlim()
            for line in marks(axes, "|"):
                assert low < min(line.get_xdata())
                assert max(line.get_xdata()) < high
                assert line.get_markersize() > 1.5 * marks(axes, "o")[0].get_markersize()

    def test_the_baseline_policy_and_a_cut_scale_are_said_in_words(self, usual: Comparison) -> None:
        figure = shares_figure(usual)
        assert "baseline policy" in words(figure)
        assert figure.axes[0].get_xlim()[0] > 0.0
        assert "does not start at 0" in " ".join(words(figure))

    def test_a_scale_from_zero_is_not_called_cut(self) -> None:
        comparison = compared(run={"shots": 1}, return_of_serve={"directions": ["middle"]})
        figure = shares_figure(comparison)
        assert len(figure.axes) == 1
        assert figure.axes[0].get_xlim()[0] <= 0.0
        assert "does not start at 0" not in " ".join(words(figure))


class TestLateral:
    def test_lines_are_the_tables_values(self, usual: Comparison) -> None:
        figure = lateral_figure(usual)
        assert len(figure.axes) == len(usual.scenario.policies)
        drawn = {
            (round(float(x), 6), round(float(y), 6))
            for line in figure.axes[2].findobj(Line2D)
            for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
        }
        checked = 0
        for row in usual.lateral_rows:
            if row["policy"] != "follow" or row["return_direction"] == "all":
                continue
            if row["in_play"] >= 30:
                x = round(0.5 * (row["x_from_ft"] + row["x_to_ft"]), 6)
                assert (x, round(100 * row["in_control_share"], 6)) in drawn
                checked += 1
        assert checked > 20

    def test_where_few_balls_pass_nothing_is_drawn(self, usual: Comparison) -> None:
        figure = lateral_figure(usual)
        assert "Not drawn where fewer than 30 balls pass" in " ".join(words(figure))
        few = 0
        for axes, policy in zip(figure.axes, usual.scenario.policies, strict=True):
            for direction, colour in style.DIRECTIONS.items():
                drawn = {
                    round(float(x), 6)
                    for line in axes.findobj(Line2D)
                    if line.get_color() == colour
                    for x in line.get_xdata()
                }
                for row in usual.lateral_rows:
                    if (row["policy"], row["return_direction"]) == (policy.name, direction):
                        middle = round(0.5 * (row["x_from_ft"] + row["x_to_ft"]), 6)
                        if row["in_play"] < 30:
                            few += 1
                            assert middle not in drawn
        assert few > 10

    def test_the_name_of_the_deepest_line_stands_at_its_dip(self, usual: Comparison) -> None:
        for axes, policy in zip(lateral_figure(usual).axes, usual.scenario.policies, strict=True):
            known = [
                row
                for row in usual.lateral_rows
                if row["policy"] == policy.name
                and row["return_direction"] in style.DIRECTIONS
                and row["in_play"] >= 30
            ]
            lowest = min(known, key=lambda row: row["in_control_low"])
            dip = 0.5 * (lowest["x_from_ft"] + lowest["x_to_ft"])
            (name,) = [t for t in axes.texts if t.get_text() == lowest["return_direction"]]
            assert abs(name.get_position()[0] - dip) < 4.0

    def test_sidelines_and_centre_are_to_scale(self, usual: Comparison) -> None:
        for axes in lateral_figure(usual).axes:
            upright = {
                float(line.get_xdata()[0])
                for line in axes.findobj(Line2D)
                if len(line.get_xdata()) == 2 and line.get_xdata()[0] == line.get_xdata()[1]
            }
            # 20 ft from sideline to sideline: rulebook 2025, section 2.A.
            assert upright == {-10.0, 0.0, 10.0}

    def test_every_direction_is_named_in_every_panel(self, usual: Comparison) -> None:
        for axes in lateral_figure(usual).axes:
            names = {text.get_text() for text in axes.texts}
            assert {"line", "middle", "cross"} <= names

    def test_metric_figures_give_metres(self, usual: Comparison) -> None:
        text = " ".join(words(lateral_figure(usual, "metric")))
        assert "2.4 m from the net" in text
        assert "6.1 m" in text
        assert " ft" not in text

    def test_too_few_balls_are_said_so(self) -> None:
        comparison = compared(run={"shots": 1}, return_of_serve={"directions": ["middle"]})
        assert "too few balls" in words(lateral_figure(comparison))

    def test_many_policies_are_counted_and_the_first_drawn(self, usual: Comparison) -> None:
        many = [{"name": f"policy {number}", "rule": "halves"} for number in range(30)]
        figure = lateral_figure(compared(run={"shots": 64}, policies=many))
        assert len(figure.axes) == 24
        assert "first 24 of 30 policies" in " ".join(words(figure))


class TestUncertainty:
    def test_boxes_are_sampling_and_lines_all_doubt(self) -> None:
        found = figure_makers.doubted(odd=False)
        figure = uncertainty_figure(found)
        rows = [row for row in found.rows if row["quantity"] == "difference"]
        for axes, measure in zip(figure.axes, ("in_control", "reached"), strict=True):
            mine = [row for row in rows if row["measure"] == measure]
            boxes = [patch for patch in axes.findobj(Rectangle) if patch is not axes.patch]
            ends = [list(map(float, line.get_xdata())) for line in marks(axes, "|")]
            assert len(boxes) == len(ends) == len(mine) == len(found.scenario.policies) - 1
            for row, box, end in zip(mine, boxes, ends, strict=True):
                assert box.get_width() == pytest.approx(2.0 * row["sampling_half_width"])
                assert box.get_x() + 0.5 * box.get_width() == pytest.approx(row["mean"])
                assert end == pytest.approx([row["low"], row["high"]])
                told = row["verdict"] in ("more", "fewer")
                assert (box.get_facecolor() != (1.0, 1.0, 1.0, 1.0)) == told

    def test_it_is_made_where_there_is_doubt_and_something_to_compare(
        self, usual: Comparison
    ) -> None:
        found = figure_makers.doubted(odd=False)
        alone = found.scenario.model_copy(update={"policies": found.scenario.policies[:1]})
        assert "uncertainty" not in dict(all_figures(usual))
        assert "uncertainty" in dict(all_figures(usual, "us", found))
        assert "uncertainty" not in dict(all_figures(usual, "us", replace(found, scenario=alone)))
        page = markdown_report(usual, ["uncertainty"], "us", found)
        section = page.split("## With what you do not know")[1].split("\n## ")[0]
        assert "(uncertainty.png)" in section
        assert "(uncertainty.png)" not in markdown_report(usual, ["shares"], "us", found)


class TestFiles:
    def test_stems_and_files(self, usual: Comparison, tmp_path: Path) -> None:
        stems = []
        for stem, figure in all_figures(usual):
            stems.append(stem)
            if stem == "shares":
                paths = save(figure, tmp_path / stem)
                assert [path.name for path in paths] == ["shares.png", "shares.svg"]
                with Image.open(paths[0]) as picture:
                    assert picture.width >= 1200
                    assert picture.convert("RGB").getpixel((0, 0)) == (255, 255, 255)
        slugs = [policy.slug for policy in usual.scenario.policies]
        assert stems == ["shares", *(f"court-{slug}" for slug in slugs), "lateral"]

    def test_a_name_with_a_dot_keeps_it(self, usual: Comparison, tmp_path: Path) -> None:
        paths = save(shares_figure(usual), tmp_path / "level-3.5")
        assert [path.name for path in paths] == ["level-3.5.png", "level-3.5.svg"]

    def test_same_input_same_bytes_whatever_the_callers_settings(self, usual: Comparison) -> None:
        again = compared()
        theirs = {
            "svg.fonttype": "path",
            "svg.hashsalt": "other",
            "font.family": ["serif"],
            "font.size": 30.0,
            "lines.linewidth": 9.0,
            "lines.marker": "o",
            "axes.facecolor": "red",
            "axes.grid": True,
            "figure.facecolor": "green",
            "savefig.facecolor": "green",
            "savefig.bbox": "tight",
            "patch.edgecolor": "red",
            "patch.force_edgecolor": True,
            "text.parse_math": True,
        }
        for make in (shares_figure, lambda one: court_figure(one, 2), lateral_figure):
            png, svg = style.to_png(make(usual)), style.to_svg(make(usual))
            with matplotlib.rc_context(theirs):
                figure = make(again)
                assert style.to_png(figure) == png
                assert style.to_svg(figure) == svg

    def test_the_callers_settings_stay_as_they_were(self, usual: Comparison) -> None:
        before = dict(matplotlib.rcParams)
        figure = court_figure(usual, 0)
        style.to_png(figure)
        style.to_svg(figure)
        assert dict(matplotlib.rcParams) == before

    def test_nothing_imports_pyplot(self) -> None:
        check = "import sys, sim.figures; sys.exit('matplotlib.pyplot' in sys.modules)"
        assert subprocess.run([sys.executable, "-c", check], check=False).returncode == 0

    def test_svg_is_well_formed_with_text_as_text_and_no_date(self) -> None:
        for stem, figure in all_figures(figure_makers.compared(odd=True)):
            svg = style.to_svg(figure)
            assert b"<dc:date>" not in svg
            root = ElementTree.fromstring(svg)
            text = {"".join(node.itertext()).strip() for node in root.iter() if "}text" in node.tag}
            if stem == "court-cost-5-x-2-frac-a-b":
                assert "cost $5_x^2$ \\frac{a}{b} (baseline policy)" in text
            if stem == "court-one-up-one-back":
                assert 'one <up> & "one" back' in text


class TestNumbersAndWords:
    @pytest.mark.parametrize(
        ("hits", "trials", "text"),
        [
            (0, 6536, "0.0 %"),
            (2, 6536, "under 0.1 %"),
            (6534, 6536, "over 99.9 %"),
            (6536, 6536, "100.0 %"),
            (1, 230, "under 1 %"),
            (1, 400, "0.3 %"),
            (917, 1000, "92 %"),
            (9125, 10000, "91.3 %"),
            (5992, 6536, "91.7 %"),
            (120, 6536, "1.8 %"),
        ],
    )
    def test_numbers_are_no_finer_than_their_interval(
        self, hits: int, trials: int, text: str
    ) -> None:
        from sim.statistics import wilson

        assert style.percent(hits / trials, *wilson(hits, trials)) == text

    def test_long_text_is_broken_and_cut(self) -> None:
        for text in ("W" * 200, "word " * 60, "", "short"):
            lines = style.wrapped(text, 100.0, style.TEXT)
            assert 1 <= len(lines) <= 3
            assert all(style.width_of(line, style.TEXT) <= 100.0 for line in lines)
        assert style.wrapped("W" * 200, 100.0, style.TEXT)[-1].endswith("…")
        assert style.wrapped("a few words", 1000.0, style.TEXT) == ["a few words"]
