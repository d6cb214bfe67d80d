"""Sweeps: what is varied, what is played, what is said of it, and the command."""

from __future__ import annotations

import csv
import re
import shlex
from dataclasses import replace
from math import radians
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

import sim
from sim.analyses.sweep import Counts, Fresh, Plan, Sweep, plan, sweep
from sim.analyses.sweep_axes import read_axes
from sim.analyses.sweep_best import against_best
from sim.analyses.sweep_ranking import in_front, overtakings
from sim.analyses.sweep_tables import best_rows, difference_rows, share_rows
from sim.cli import main
from sim.errors import Refused
from sim.figures import style
from sim.figures.cells import Shades, luminance
from sim.figures.sweep import differences_figure, sweep_figure
from sim.figures.sweep_map import map_figure
from sim.numeric_settings import numeric_settings
from sim.scenario import Scenario
from sim.scenario_files import build, bundled, read
from sim.setting_words import OTHER_WORDS
from sim.statistics import adjusted, difference_of_shares
from sim.texts.sweep import _answer, terminal_text

FILE = read("club-sixties")
FEW = {"run": {"shots": 128}}
FEET = 1.0 / 0.3048


def planned(*vary: str, names: tuple[str, ...] = (), changes: Any = None, **more: Any) -> Plan:
    changes = FEW | (changes or {})
    return plan(FILE, changes, build(FILE, changes), vary, names, **more)


def axis_of(text: str) -> Any:
    return read_axes([text], build(FILE))[0]


def said_of(sweep: Sweep, measure: str = "in_control", direction: str = "all") -> list[dict]:
    return [
        row
        for row in share_rows(sweep)
        if (row["measure"], row["return_direction"]) == (measure, direction)
    ]


class TestReading:
    @pytest.mark.parametrize(
        ("text", "values", "unit", "column"),
        [
            ("spacing=4 ft:6 ft:1 ft", (4.0, 5.0, 6.0), "ft", "spacing_ft"),
            ("spacing=4:6:1 ft", (4.0, 5.0, 6.0), "ft", "spacing_ft"),
            ("spacing=4 ft:6:1", (4.0, 5.0, 6.0), "ft", "spacing_ft"),
            ("spacing = 1 m : 2 m : 50 cm", (FEET, 1.5 * FEET, 2 * FEET), "m", "spacing_m"),
            ("spacing=5 ft 6 in:6 ft:3 in", (5.5, 5.75, 6.0), "ft", "spacing_ft"),
            ("depth=8:9:0.7 ft", (8.0, 8.7), "ft", "depth_ft"),
            ("shift=0:0.3:0.1", (0.0, 0.1, 0.2, 0.3), "", "shift"),
            ("shift=-1:0:0.5", (-1.0, -0.5, 0.0), "", "shift"),
            ("policies.stay back.depth=20:22:1 ft", (20.0, 21.0, 22.0), "ft", None),
            (
                "air.wind_from_behind=-15:15:15 mph",
                (-22.0, 0.0, 22.0),
                "mph",
                "air.wind_from_behind_mph",
            ),
            ("air.temperature=50 F:68 F:9 F", (10.0, 15.0, 20.0), "F", "air.temperature_F"),
            (
                "opponents.errors.azimuth.sd=1:3:1 deg",
                tuple(map(radians, (1, 2, 3))),
                "deg",
                None,
            ),
            ("pair.both.top_speed=8:9:1 ft/s", (8.0, 9.0), "ft/s", "pair.both.top_speed_ft_per_s"),
            (
                "opponents.errors.speed.sd=4:5:1 %",
                (0.04, 0.05),
                "%",
                "opponents.errors.speed.sd_percent",
            ),
        ],
    )
    def test_values_units_and_headings(
        self, text: str, values: tuple[float, ...], unit: str, column: str | None
    ) -> None:
        axis = axis_of(text)
        assert axis.values == pytest.approx(values, rel=1e-9, abs=1e-12)
        assert axis.unit == unit
        assert column in (None, axis.column)

    def test_values_are_those_a_scenario_would_hold(self) -> None:
        axis = axis_of("shift=0:1:0.1")
        assert axis.values == (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
        assert axis_of("air.wind_from_behind=-15:15:3 mph").values[5] == 0.0
        fast = axis_of("opponents.drive.speed.mean=30:40:0.1 mph").values[1]
        changes = {"opponents": {"drive": {"speed": {"kind": "normal", "mean": "30.1 mph"}}}}
        changes["opponents"]["drive"]["speed"]["sd"] = "4 mph"  # type: ignore[assignment]
        assert build(FILE, changes).opponents.drive.speed.mean == fast  # type: ignore[union-attr]

    def test_shown_in_the_unit_it_was_given_in(self) -> None:
        axis = axis_of("spacing=1:2:0.25 m")
        assert axis.shown(axis.values[1]) == "1.25 m"
        assert axis.shown(*axis.values[1:3]) == "1.25 to 1.5 m"
        axis = axis_of("shift=-0.5:1:0.5")
        assert [axis.shown(value) for value in axis.values] == ["−0.5", "0", "0.5", "1"]

    @pytest.mark.parametrize(
        ("vary", "says"),
        [
            ("spacing", r"must be KEY=FROM:TO:STEP; for example"),
            ("spacing=4 ft:12 ft", r"must be KEY=FROM:TO:STEP; for example"),
            ("spacing=4:12:1", r"spacing=4:12:1: the unit is missing; for example"),
            ("spacing=4:12:1 furlong", r'"furlong" is not a unit of length \(ft, in'),
            ("spacing=4:12:1 s", r'"s" is not a unit of length'),
            ("shift=0 ft:1 ft:1 ft", r'shift = "1 ft": write a plain number'),
            ("shift=0:1:nan", r"must be finite"),
            ("shift=0:1:0", r"STEP must be above 0"),
            ("shift=0:1:-0.1", r"STEP must be above 0"),
            ("shift=1:0:0.1", r"FROM must be below TO"),
            ("shift=0:1:2", r"STEP goes beyond TO at once"),
            ("shift=0:1:0.005", r"201 values; at most 101"),
            ("shift=0:3:0.5", r"shift = 2.5 is not allowed: must be less than or equal to 2"),
            ("spacing=4:25:1 ft", r"spacing = 21 ft is not allowed: must lie between 1 ft and 20"),
            (
                "pair.both.top_speed=30:40:5 ft/s",
                r"pair.both.top_speed = 40 ft/s is not allowed: .*pair.left.top_speed .*36 ft/s",
            ),
            ("spcing=4:12:1 ft", r"did you mean spacing\?"),
            ("pair.left.top_spee=4:12:1 ft/s", r"did you mean pair.left.top_speed"),
            ("opponents.level=3:4:1", r"is not a number of this scenario"),
            ("run.seed=1:4:1", r"see --shots and --seed"),
            ("policies.halves.shift=0:1:0.1", r"changes nothing .*only the rule follow"),
            ("centres.line=0:1:1 ft", r"changes nothing .*only the rule fixed"),
        ],
    )
    def test_what_is_refused_and_why(self, vary: str, says: str) -> None:
        with pytest.raises(Refused, match=f"(?s)--vary.*{says}"):
            planned(vary)

    @pytest.mark.parametrize(
        ("vary", "says"),
        [
            (("spacing=4:8:1 ft", "policies.follow.spacing=4:8:1 ft"), "varies the same number"),
            (("pair.left.top_speed=9:10:1 m/s", "pair.both.top_speed=9:10:1 m/s"), "same number"),
            (("spacing=4:12:0.2 ft", "shift=0:1:0.1"), "451 settings; at most 400"),
            (("shift=0:1:1", "depth=8:9:1 ft", "spacing=4:5:1 ft"), "one key or two, not 3"),
        ],
    )
    def test_two_keys_that_do_not_go_together(self, vary: tuple[str, ...], says: str) -> None:
        with pytest.raises(Refused, match=says):
            planned(*vary)


class TestPolicies:
    def test_those_that_the_key_changes(self) -> None:
        def names(*vary: str, **more: Any) -> list[str]:
            return [policy.name for policy in planned(*vary, **more).policies]

        all_names = [policy.name for policy in build(FILE).policies]
        assert names("spacing=4:5:1 ft") == all_names
        assert names("pair.left.height=5:6:1 ft") == all_names
        assert names("shift=0:1:1") == ["follow"]
        assert names("policies.bisect.depth=8:9:1 ft") == ["bisect"]
        assert names("spacing=4:5:1 ft", names=("bisect", "halves")) == ["bisect", "halves"]
        assert names("spacing=4:5:1 ft", "depth=8:9:1 ft") == ["halves"]
        assert names("spacing=4:5:1 ft", "shift=0:1:1") == ["follow"]
        with pytest.raises(Refused, match=r'policies chosen; it does for "follow"'):
            names("shift=0:1:1", names=("halves",))
        with pytest.raises(Refused, match=r'--policy: "folow" is not a policy of .*mean "follow"'):
            names("shift=0:1:1", names=("folow",))

    def test_depth_says_nothing_where_both_players_have_their_own(self) -> None:
        own = {"returner_depth": "10 ft", "partner_depth": "8 ft"}
        policies = [{"name": rule, "rule": rule, **own} for rule in ("halves", "bisect")]
        policies.append({"name": "one", "rule": "halves", "partner_depth": "8 ft"})
        changes = {"policies": policies}
        found = planned("depth=8:9:1 ft", changes=changes).policies
        assert [policy.name for policy in found] == ["bisect", "one"]
        with pytest.raises(Refused, match="both players' depths are given"):
            planned("depth=8:9:1 ft", changes={"policies": policies[:1]})

    def test_what_it_is_now(self) -> None:
        changes = {"pair": {"left": {"top_speed": "9 ft/s"}}}
        found = planned("pair.both.top_speed=8:9:1 ft/s", "depth=8:22:1 ft", changes=changes)
        speed, depth = found.axes
        assert speed.now(found.scenario, found.policies[0]) == (9.0, 13.0)
        assert depth.now(found.scenario, found.scenario.policies[-1]) == (22.0,)
        returner = axis_of("returner_depth=8:9:1 ft")
        assert returner.now(found.scenario, found.scenario.policies[-1]) == (22.0,)


def compared(scenario: Scenario) -> tuple[list[dict], list[dict]]:
    found = sim.compare(scenario)
    rows = [row for row in found.summary_rows if (row["shot"], row["lane"]) == ("all", "all")]
    return rows, [row for row in found.difference_rows if row["shot"] == "all"]


class TestPlayed:
    def test_a_policys_values_are_those_of_a_comparison(self) -> None:
        found = sweep(planned("spacing=5:9:2 ft", names=("follow", "bisect")))
        for spacing in (5, 7, 9):
            policies = [
                {"name": name, "rule": name, "spacing": f"{spacing} ft"}
                for name in ("follow", "bisect")
            ]
            rows, _ = compared(sim.load("club-sixties", FEW | {"policies": policies}))
            for row in rows:
                for measure in ("in_control", "reached"):
                    (mine,) = [
                        each
                        for each in said_of(found, measure, row["return_direction"])
                        if (each["spacing_ft"], each["policy"]) == (spacing, row["policy"])
                    ]
                    assert (mine["balls"], mine["in_play"]) == (row[measure], row["in_play"])
                    for name in ("share", "low", "high"):
                        assert mine[name] == row[f"{measure}_{name}"]

    def test_a_scenarios_values_are_those_of_a_comparison(self) -> None:
        found = sweep(planned("pair.left.top_speed=9:15:6 ft/s"))
        for speed in (9, 15):
            changes = FEW | {"pair": {"left": {"top_speed": f"{speed} ft/s"}}}
            rows, differences = compared(sim.load("club-sixties", changes))
            theirs = [row["in_control_share"] for row in rows if row["return_direction"] == "cross"]
            mine = [
                row["share"]
                for row in said_of(found, "in_control", "cross")
                if row["pair.left.top_speed_ft_per_s"] == speed
            ]
            assert mine == theirs
            mine_against = {
                (row["policy"], row["return_direction"], row["measure"]): row
                for row in difference_rows(found)
                if row["pair.left.top_speed_ft_per_s"] == speed
            }
            assert len(mine_against) == len(differences)
            for row in differences:
                own = mine_against[row["policy"], row["return_direction"], row["measure"]]
                for name in ("points", "points_low", "points_high"):
                    assert own[name] == row[name]

    def test_one_policys_key_is_the_short_form_for_it(self) -> None:
        short = sweep(planned("shift=0:1:0.5", names=("follow",)))
        long = sweep(planned("policies.follow.shift=0:1:0.5"))
        assert [row["balls"] for row in share_rows(short)] == [
            row["balls"] for row in share_rows(long)
        ]

    def test_a_map_is_made_of_its_slices(self) -> None:
        whole = sweep(planned("spacing=6:10:2 ft", "shift=0:1:0.5", names=("follow",)))
        mixed = sweep(planned("pair.both.top_speed=9:15:3 ft/s", "spacing=6:10:2 ft"))
        for place, shift in enumerate((0.0, 0.5, 1.0)):
            policies = [{"name": "follow", "rule": "follow", "shift": shift}]
            line = sweep(planned("spacing=6:10:2 ft", changes={"policies": policies}))
            assert_alike(whole.counts[0][place::3], line.counts[0])
        for place, speed in enumerate((9, 12, 15)):
            pair = {name: {"top_speed": f"{speed} ft/s"} for name in ("left", "right")}
            line = sweep(planned("spacing=6:10:2 ft", changes={"pair": pair}, names=("halves",)))
            assert_alike(mixed.counts[0][3 * place : 3 * place + 3], line.counts[0])

    def test_two_parts_of_one_distribution(self) -> None:
        speed = "opponents.drive.speed"
        found = planned(f"{speed}.mean=30:40:10 mph", f"{speed}.sd=2:4:2 mph")
        for mean, sd in found.settings:
            drawn = found.scenarios[mean, sd].opponents.drive.speed
            assert (drawn.mean, drawn.sd) == (mean, sd)  # type: ignore[union-attr]

    def test_places_that_were_found_are_kept(self) -> None:
        """Those of a scenario whose rule best was looked for, which the file knows nothing of."""
        spots = {
            "left": {"from_centre": "-4 ft", "depth": "9 ft"},
            "right": {"from_centre": "4 ft", "depth": "9 ft"},
        }
        places = {"places": dict.fromkeys(("line", "middle", "cross"), spots)}
        halves, best = ({"name": name, "rule": name} for name in ("halves", "best"))
        changes = FEW | {"policies": [halves, best]}
        ready = build(FILE, FEW | {"policies": [halves, {**best, **places}]})
        found = plan(FILE, changes, ready, ["pair.both.top_speed=9:15:6 ft/s"])
        for scenario in found.scenarios.values():
            assert scenario.policies[1].places == ready.policies[1].places is not None
        one, other = sweep(found).counts[1]
        assert not np.array_equal(one.hits, other.hits)
        assert "kept at every value" in terminal_text(sweep(found))
        only = plan(FILE, changes, ready, ["spacing=6:8:2 ft"])
        assert [policy.name for policy in only.policies] == ["halves"]

    def test_fixed_centres_can_be_varied(self) -> None:
        centres = {"line": "0 ft", "middle": "0 ft", "cross": "0 ft"}
        policies = [{"name": "fixed", "rule": "fixed", "centres": centres}]
        found = sweep(planned("centres.line=0:3:3 ft", changes={"policies": policies}))
        first, second = found.counts[0]
        assert not np.array_equal(first.hits[:, 1], second.hits[:, 1])
        assert np.array_equal(first.hits[:, 2:], second.hits[:, 2:])

    def test_the_best_is_judged_on_other_shots_at_that_setting(self) -> None:
        found = sweep(planned("spacing=5:9:2 ft", names=("follow",)))
        fresh = found.fresh[0]
        assert fresh is not None
        assert fresh.setting == found.best(0).best
        chosen = found.counts[0][fresh.setting]
        assert not np.array_equal(fresh.then.balls, chosen.balls)
        assert not np.array_equal(fresh.now.balls, chosen.balls)
        assert np.array_equal(fresh.then.balls, fresh.now.balls)
        (row,) = best_rows(found)
        assert row["points"] == pytest.approx(100 * (row["best_share"] - row["now_share"]))
        assert row["spacing_ft_now"] == "7"

    def test_a_gain_and_a_loss_are_told_with_one_figure(self) -> None:
        found = sweep(planned("spacing=5:9:2 ft", names=("follow",)))
        row = best_rows(found)[0] | {"points": -2.4, "points_low": -2.7, "points_high": -2.1}
        told = {verdict: row | {"verdict": verdict} for verdict in ("fewer", "cannot tell yet")}
        told["more"] = told["fewer"] | {"points": 2.4, "points_low": 2.1, "points_high": 2.7}
        told["more"]["verdict"] = "more"
        for verdict in ("more", "fewer"):
            assert _answer(found, [told[verdict]])[-1].endswith(
                f", 2.4 of 100 {verdict} in control than at the 7 ft it has now [2.1, 2.7], "
                "on fresh shots."
            )
        assert _answer(found, [told["cannot tell yet"]])[-1].endswith(
            "it has now, on fresh shots: cannot tell yet (−2.4 [−2.7, −2.1] points)."
        )

    def test_at_its_best_as_it_stands(self) -> None:
        """A tie of all values goes to the first, which is the policy's own here."""
        policies = [{"name": "wide", "rule": "halves", "spacing": "5 ft"}]
        found = sweep(planned("spacing=5:7:1 ft", changes={"policies": policies}))
        same = replace(found, counts=((found.counts[0][0],) * 3,))
        same = replace(same, fresh=(replace(not_none(found.fresh[0]), setting=0),))
        assert "5 ft, as it is now, is the best" in terminal_text(same)


class TestWords:
    def test_what_numbers_are_called(self) -> None:
        keys = ("shift", "policies.follow.shift", "pair.left.height", "ball.friction")
        spans = ("0:1:1", "0:1:1", "5:6:1 ft", "0:1:1")
        words = [axis_of(f"{key}={span}").words for key, span in zip(keys, spans, strict=True)]
        assert words == ["shift", "shift", "height of the left player", "ball.friction"]

    def test_alike_whatever_the_value(self) -> None:
        text = terminal_text(sweep(planned("spacing=6:10:2 ft", names=("halves", "centre"))))
        assert "halves and centre come out alike at every value" in text
        text = terminal_text(sweep(planned("spacing=6:10:2 ft", names=("halves", "follow"))))
        assert "come out alike" not in text

    def test_whose_the_shares_at_the_best_are(self) -> None:
        """Alike on the shots of the search, two policies may differ on the fresh ones beside it."""
        found = sweep(planned("spacing=6:10:2 ft", names=("halves", "centre")))
        first, alike = terminal_text(found).splitlines()[3:5]
        assert "each at its best, on fresh shots: " in first
        assert alike.endswith("ball for ball, on the shots by which the best were chosen.")

    def test_where_all_values_are_as_good_none_is_at_the_end(self) -> None:
        asked = planned("spacing=4:12:4 ft", names=("halves",))

        def text(shares: list[float]) -> str:
            found = imagined(asked, [shares])
            return terminal_text(replace(found, fresh=(Fresh(0, *[found.counts[0][0]] * 2),)))

        assert "perhaps beyond" not in text([1.0, 1.0, 1.0])
        assert "perhaps beyond: halves" in text([0.9, 0.6, 0.5])

    def test_at_its_best_there_is_nothing_to_judge(self) -> None:
        policies = [{"name": "wide", "rule": "centre", "spacing": "9 ft"}]
        found = sweep(planned("spacing=3:9:3 ft", changes={"policies": policies}))
        assert found.best(0).best == 2
        text = terminal_text(found)
        assert "wide: 9 ft, as it is now, is the best that was tried." in text
        assert "0.00 [0.00, 0.00]" not in text

    def test_usual_advice_in_the_units_asked_for(self) -> None:
        found = planned("spacing=4:12:4 ft", names=("halves",))
        wide = imagined(found, [[0.5, 0.6, 0.9]])
        wide = replace(wide, fresh=(Fresh(2, wide.counts[0][2], wide.counts[0][1]),))
        assert "is 6.0 ft apart and at most 8.0 ft: this model wants halves" in terminal_text(wide)
        text = terminal_text(wide, "metric")
        assert "is 1.83 m apart and at most 2.44 m" in text
        assert "halves 90 (12 ft)" in text

    def test_nobody_chooses_what_the_scenario_says(self) -> None:
        found = planned("pair.both.top_speed=9:15:3 ft/s", names=("halves",))
        lone = imagined(found, [[0.5, 0.7, 0.9]])
        lone = replace(lone, fresh=(Fresh(2, lone.counts[0][2], lone.counts[0][0]),))
        text = terminal_text(lone)
        most = re.search(
            r"at the most (\S+) \[.*\] at (.*); at the least (\S+) \[.*\] at (.*)\.", text
        )
        assert most is not None
        assert (most[2], most[4]) == ("15 ft/s", "9 ft/s")
        assert float(most[1]) == pytest.approx(90.0, abs=1.0)
        assert float(most[3]) == pytest.approx(50.0, abs=2.0)
        assert "The best value" not in text
        two = planned("pair.both.top_speed=9:15:3 ft/s", "air.altitude=0:4000:2000 ft")
        assert "Where halves has most in control, at each altitude" in terminal_text(sweep(two))

    @pytest.mark.parametrize("name", bundled())
    def test_every_setting_with_a_name_is_one(self, name: str) -> None:
        """A key that the schema no longer has would leave its words behind."""
        keys = {setting.key for setting in numeric_settings(build(read(name)))}
        assert OTHER_WORDS.keys() <= keys


def not_none(value: Any) -> Any:
    assert value is not None
    return value


def assert_alike(ones: Any, others: Any) -> None:
    for one, other in zip(ones, others, strict=True):
        assert np.array_equal(one.hits, other.hits)
        assert np.array_equal(one.balls, other.balls)


class TestBest:
    def test_of_two_it_is_their_paired_interval(self) -> None:
        chance = np.random.default_rng(1)
        balls = chance.integers(300, 400, (2, 16))
        hits = chance.binomial(balls, [[0.7], [0.75]])
        found = against_best(hits, balls)
        difference, low, high = difference_of_shares((hits[0], balls[0]), (hits[1], balls[1]))
        assert found.difference[0] == pytest.approx(difference)
        assert found.low[0] == pytest.approx(low)
        assert found.told[0] == (high < 0.0)
        assert found.difference[1] == pytest.approx(-difference)

    @pytest.mark.parametrize("bend", [0.004, 0.0])
    def test_the_truly_best_is_among_those_not_told_from_it(self, bend: float) -> None:
        """Shares of a flat hill, with ups and downs that all settings have in common.

        Ninety-five in a hundred is what is promised, of the best and of all bounds together; it is
        hardest where all settings are alike. That the test can fail is seen from the sample's own
        best, which would not pass it.
        """
        chance = np.random.default_rng(7)
        true = 0.8 - bend * np.arange(-4, 5) ** 2
        gaps = true[:, None] - true
        np.fill_diagonal(gaps, np.inf)
        to_best = gaps.min(axis=1)
        held, bounds, guessed, ends_told = 0, 0, 0, 0
        for _ in range(1000):
            common = chance.normal(0.0, 0.04, 16)
            hits = chance.binomial(512, np.clip(true[:, None] + common, 0.0, 1.0))
            found = against_best(hits, np.full(hits.shape, 512))
            held += 4 in found.tied
            bounds += bool(np.all((found.low <= to_best) & (to_best <= found.high)))
            guessed += found.best == 4
            ends_told += bool(found.told[0] and found.told[-1])
        # Two binomial standard errors below 950 of 1000.
        least = 950 - 14
        assert held >= least
        assert bounds >= least
        assert guessed < least
        assert (ends_told >= least) == (bend > 0.0)

    @pytest.mark.parametrize(
        "chance_of_each", [(0.5, 0.6, 0.7), (1.0, 1.0, 0.98), (0.5, 0.99, 0.0)]
    )
    def test_of_many_they_are_all_paired_intervals(self, chance_of_each: tuple[float, ...]) -> None:
        """Where hardly any ball is missed, or hit, they are not narrower than of so few balls."""
        balls = np.full((3, 16), 20)
        chance = np.random.default_rng(5)
        hits = chance.binomial(balls, np.array(chance_of_each)[:, None])
        found = against_best(hits, balls)
        level = adjusted(2)
        best = hits.sum(axis=1).argmax()
        for k in range(3):
            pairs = [
                difference_of_shares((hits[k], balls[k]), (hits[j], balls[j]), level)
                for j in range(3)
                if j != k
            ]
            assert found.difference[k] == pytest.approx(min(pair[0] for pair in pairs))
            assert found.told[k] == any(high < 0.0 for _, _, high in pairs)
        assert not found.told[best]

    def test_ties_are_not_told_apart(self) -> None:
        hits = np.array([[5, 6], [5, 6], [1, 1]])
        found = against_best(hits, np.full((3, 2), 10))
        assert found.best == 0
        assert found.tied[:2] == [0, 1]

    def test_settings_with_nothing_in_play_stay_out_of_it(self) -> None:
        none, some = np.zeros(16, int), np.full(16, 9)
        found = against_best(np.array([none, some, some - 1]), np.array([none, some, some]))
        assert found.best == 1
        assert np.isnan(found.difference[0])
        assert 0 not in found.tied
        assert against_best(np.array([none, none]), np.array([none, none])).best is None
        alone = against_best(np.array([none, some]), np.array([none, some]))
        assert alone.tied == [1]


def imagined(plan: Plan, shares: list[list[float]], balls: int = 1000) -> Sweep:
    """A sweep with counts of our own: a share for each policy and setting, for all measures."""
    chance = np.random.default_rng(2)
    directions = len(plan.directions)

    def counts(share: float) -> Counts:
        size = np.full((directions, 16), balls)
        hits = chance.binomial(balls, share, (2, directions, 16)) if balls else 0 * size[None]
        hits = np.broadcast_to(hits, (2, directions, 16))
        pairs = np.stack((hits, 0 * hits, 0 * hits, size - hits), axis=-1)
        return Counts(hits, size, pairs)

    return Sweep(
        plan,
        tuple(tuple(map(counts, row)) for row in shares),
        tuple(None for _ in shares),
    )


class TestRanking:
    def test_who_is_in_front_and_who_overtakes(self) -> None:
        names = ("halves", "follow")
        found = planned("pair.both.top_speed=9:13:1 ft/s", names=names)
        lines = imagined(found, [[0.9, 0.9, 0.9, 0.9, 0.9], [0.7, 0.8, 0.9, 0.95, 0.99]])
        (one,) = overtakings(lines)
        assert (one.before, one.after) == names
        assert one.last <= 11.0 <= one.first
        front = in_front(lines)
        assert [best.tied for best in front[:2]] == [[0], [0]]
        assert [best.tied for best in front[3:]] == [[1], [1]]
        text = terminal_text(replace(lines, fresh=sweep(found).fresh))
        assert "follow overtakes halves: behind up to" in text
        assert "at 11 ft/s halves or follow; " in text
        assert "Where two are named, they cannot be told apart." in text

    def test_nobody_overtakes_who_is_always_ahead_or_never_told(self) -> None:
        found = planned("pair.both.top_speed=9:11:1 ft/s", names=("halves", "follow"))
        assert overtakings(imagined(found, [[0.9, 0.9, 0.9], [0.8, 0.7, 0.8]])) == []
        assert overtakings(imagined(found, [[0.9, 0.9, 0.9], [0.9, 0.9, 0.9]], balls=50)) == []


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def rows_in(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ALWAYS = {"manifest.json", "answer.txt"}


class TestCommand:
    QUICK = ("--shots", "64", "--quiet", "--no-figures")

    def test_one_key_of_policies(self, tmp_path: Path) -> None:
        out = tmp_path / "out"
        result = run("sweep", "--vary", "spacing=6:10:2 ft", "--shots", "64", "--out", out)
        assert result.exit_code == 0, result.output
        names = {path.name for path in out.iterdir()}
        assert names == ALWAYS | {"sweep.csv", "best.csv", "sweep.png", "sweep.svg"}
        rows = rows_in(out / "sweep.csv")
        assert len(rows) == 3 * 6 * 4 * 2
        assert list(rows[0]) == [
            "spacing_ft",
            "policy",
            "return_direction",
            "measure",
            "in_play",
            "balls",
            "share",
            "low",
            "high",
            "points_to_best",
            "points_to_best_low",
            "points_to_best_high",
            "told_from_best",
        ]
        assert {row["told_from_best"] for row in rows} <= {"yes", "no"}
        for word in ("each at its best", "fresh shots", "cross-court", "never back-pedal"):
            assert word in result.stdout
        assert "not medical or safety advice" in result.stdout

    def test_one_key_of_the_scenario(self, tmp_path: Path) -> None:
        out, vary = tmp_path / "out", "pair.both.top_speed=9:15:3 ft/s"
        result = run("sweep", "--vary", vary, *self.QUICK, "--out", out)
        assert result.exit_code == 0, result.output
        tables = {"sweep.csv", "best.csv", "differences.csv", "overtakings.csv"}
        assert {path.name for path in out.iterdir()} == ALWAYS | tables
        assert "with top speed of both players from 9 to 15 ft/s (pair.both.top_speed)?" in (
            result.stdout
        )
        assert "points against halves" in result.stdout
        assert "in front" in result.stdout

    def test_two_keys(self, tmp_path: Path) -> None:
        vary = ("--vary", "spacing=6:10:2 ft", "--vary", "air.wind_from_behind=-5:5:5 mph")
        result = run("sweep", *vary, *self.QUICK, "--out", tmp_path / "out")
        assert result.exit_code == 0, result.output
        assert len(rows_in(tmp_path / "out" / "sweep.csv")) == 9 * 4 * 2
        assert "Best spacing at each wind from behind, for halves" in result.stdout

    def test_same_bytes_whatever_the_workers(self, tmp_path: Path) -> None:
        for name, workers in (("one", 1), ("two", 2)):
            for kind, vary in (("a", "spacing=4:12:0.5 ft"), ("b", "air.altitude=0:4000:2000 ft")):
                words = ("--vary", vary, "--workers", workers, "--out", tmp_path / kind / name)
                result = run("sweep", *self.QUICK, *map(str, words))
                assert result.exit_code == 0, result.output
        for kind in "ab":
            for path in (tmp_path / kind / "one").iterdir():
                assert path.read_bytes() == (tmp_path / kind / "two" / path.name).read_bytes()

    @pytest.mark.parametrize(
        ("words", "says"),
        [
            ((), "Missing option '--vary'"),
            (("--vary", "spacing=4:12:1"), "the unit is missing"),
            (("--vary", "spacing=15:25:5 ft"), "must lie between 1 ft and 20 ft"),
            (("--vary", "shift=0:1:1", "--policy", "nobody"), 'it has "halves"'),
        ],
    )
    def test_refused_before_anything_is_written(
        self, words: tuple[str, ...], says: str, tmp_path: Path
    ) -> None:
        result = run("sweep", *words, "--out", tmp_path / "out")
        assert result.exit_code == 2
        assert says in result.stderr
        assert not (tmp_path / "out").exists()


ODD = "WWWWWWWWWW WWWWWWWWWW WWWWWWWWWW WWWWWWW"


def assert_legible(figure: Figure) -> None:
    """Every word is inside of the figure and large enough."""
    with style.own_settings():
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        for text in figure.findobj(Text):
            if text.get_text().strip():
                box = text.get_window_extent()
                assert text.get_size() >= style.SMALL
                assert box.x0 >= 0.0, text.get_text()
                assert box.y0 >= 0.0, text.get_text()
                assert box.x1 <= figure.bbox.x1, text.get_text()
                assert box.y1 <= figure.bbox.y1, text.get_text()


class TestFigures:
    def test_every_word_is_in_view(self) -> None:
        policies = [{"name": name, "rule": "follow"} for name in (ODD, "b")]
        odd = {"policies": policies, "name": ODD}
        curve = sweep(planned("spacing=4:12:4 ft", changes=odd))
        assert_legible(sweep_figure(curve))
        wind = sweep(planned("air.wind_from_behind=-15:15:15 mph", changes=odd))
        assert_legible(sweep_figure(wind))
        assert_legible(differences_figure(wind))
        both = sweep(planned("spacing=4:12:4 ft", "shift=-1:1:0.25", changes=odd))
        assert_legible(map_figure(both))

    def test_the_map_has_a_cell_for_every_setting_and_the_best_in_a_frame(self) -> None:
        found = sweep(planned("spacing=4:12:1 ft", "shift=0:1:0.25", names=("follow",)))
        figure = map_figure(found)
        cells = figure.axes[-1].findobj(Rectangle)[:-1]
        assert len(cells) == len(found.plan.settings)
        (framed,) = [k for k, cell in enumerate(cells) if cell.get_gid() == "best"]
        assert framed == found.best(0).best

    def test_the_more_the_darker_and_words_stand_out(self) -> None:
        """Three to one is what guidelines ask of large words (WCAG 2.1, 1.4.3; memory)."""
        shades = Shades.of(np.array([60.0, np.nan, 90.0]))
        lights = [luminance(shades.fill(share)) for share in np.linspace(60.0, 90.0, 31)]
        assert all(np.diff(lights) < 0.0)
        assert max(lights) < 0.9
        for share in np.linspace(60.0, 90.0, 31):
            ground, words = luminance(shades.fill(share)), luminance(to_rgb(shades.words(share)))
            assert (max(ground, words) + 0.05) / (min(ground, words) + 0.05) > 3.0

    def test_cells_say_no_more_than_is_known(self) -> None:
        found = planned("spacing=4:12:4 ft", "shift=0:1:0.5")
        for balls, digits in ((20, r"\d+"), (20_000, r"\d+\.\d")):
            figure = map_figure(imagined(found, [[0.5, 0.6, 0.7] * 3], balls=balls))
            cells = [text.get_text() for text in figure.axes[-1].findobj(Text)]
            cells = [text for text in cells if re.fullmatch(r"[4-8]\d(\.\d+)?", text)]
            assert len(cells) == 9
            assert all(re.fullmatch(digits, text) for text in cells)

    def test_the_scales_of_a_map_name_its_values(self) -> None:
        found = sweep(planned("opponents.drive.speed.mean=30:50:4 mph", "spacing=4:12:1 ft"))
        words = [text.get_text() for text in map_figure(found).findobj(Text)]
        assert {"30", "34", "38", "42", "46", "50", "4", "6", "8", "10", "12"} <= set(words)
        assert "35" not in words
        assert any("mean speed of their drives" in text for text in words)

    def test_nothing_in_play_is_drawn_and_told(self) -> None:
        found = planned("pair.both.top_speed=9:11:1 ft/s", names=("halves", "follow"))
        empty = imagined(found, [[0.5] * 3] * 2, balls=0)
        sweep_figure(empty)
        differences_figure(empty)
        assert "No third shot stayed in play" in terminal_text(empty)
        two = planned("spacing=4:12:4 ft", "shift=0:1:0.5")
        map_figure(imagined(two, [[0.5] * 9], balls=0))


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(tmp_path: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "sweep.md").read_text(encoding="utf-8")
    shown = re.findall(r"```text\n(.*?)```", page, flags=re.DOTALL)
    varied = ("spacing=4 ft:12 ft:0.5 ft", "pair.both.top_speed=8:18:1 ft/s")
    assert len(shown) == len(varied)
    for number, (block, vary) in enumerate(zip(shown, varied, strict=True)):
        out = tmp_path / str(number)
        printed = run("sweep", "--vary", vary, "--no-figures", "--quiet", "--out", out).stdout
        lines = [line for line in block.splitlines() if line not in ("", "...")]
        assert [line for line in lines if line not in printed.splitlines()] == []


def test_the_commands_on_the_page_are_accepted(tmp_path: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "sweep.md").read_text(encoding="utf-8")
    commands = re.findall(r"^reachshare (sweep .*)$", page, flags=re.MULTILINE)
    assert len(commands) == 4
    for number, command in enumerate(commands):
        few = ("--shots", "16", "--no-figures", "--out", tmp_path / str(number))
        assert run(*shlex.split(command), *few).exit_code == 0, command
