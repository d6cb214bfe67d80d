"""Drawn points: what is picked, where everything is in the frames, films, stills, the command."""

from __future__ import annotations

import csv
import doctest
import io
import math
import os
import shutil
import signal
import subprocess
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from matplotlib.text import Text
from PIL import Image, ImageColor

import sim
from sim import palette
from sim.analyses.approach import only
from sim.analyses.one_shot import one_shot
from sim.analyses.points import (
    Point,
    baseline_and_farthest,
    check_pair,
    differing,
    end_of,
    moment_rows,
    oddities,
    points,
)
from sim.answers import answer_all
from sim.cli import main
from sim.court import BASELINE
from sim.errors import Refused
from sim.figures import animation, style
from sim.figures.animation import MOST_BYTES, QUALITIES, Film, Stretch, gif, mp4, timeline
from sim.figures.point_film import SLOWER, film_of, stretches_of
from sim.figures.point_frames import Frames
from sim.figures.point_stills import moments_of, stills_figure
from sim.figures.point_words import ending, how_picked, phase_of, title_of
from sim.rallies import IN_PLAY, OUT, play
from sim.rallies import NET as INTO_NET
from sim.run_in import PLAYERS
from sim.texts.draw import how_one_was_picked
from sim.third_shot import DRIVE
from sim.wording import CAUTIONS, LIMITS

SHOTS = 512
WHOLE_CLUB = sim.load("club-sixties", {"run": {"shots": SHOTS}})
CLUB = only(WHOLE_CLUB, ("halves", "follow", "tethered"), ())
PAIR = "halves", "follow"
# A film of half a second.
SHORT = [Stretch(0.0, 1.0, 0.1), Stretch(0.4, 1.0, 0.3)]
ODD_NAMES = "WWWWWWWWWW WWWWWWWWWW WWWWWWWWWW WWWWWWW", "<b>one</b> that 日本 follows $x_1$ a bit"
INTO_THE_NET = {
    "shots": {"drive": 1, "drop": 1, "lob": 0},
    "drive": {"net_clearance": "0 ft"},
    "drop": {"net_clearance": "0 ft"},
    "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
}


@pytest.fixture(scope="module")
def point() -> Point:
    (found,) = points(CLUB, "cross", PAIR, None, 1)
    return found


@pytest.fixture(scope="module")
def film(point: Point) -> Film:
    """Faster than anybody watches it, which takes fewer frames to draw."""
    return film_of(point, "us", "gif", 2.0, lambda done, of: None)


def shot_with(fate: int) -> Point:
    rally = play(CLUB, "cross", 0, SHOTS)
    number = int(np.flatnonzero(rally.fate == fate)[0]) + 1
    (found,) = points(CLUB, "cross", PAIR, number, 1)
    return found


def invoke(*words: str) -> Result:
    return CliRunner().invoke(main, ["draw", *words])


class TestPicking:
    def test_shares_are_those_of_the_engine(self) -> None:
        rally = play(CLUB, "cross", 0, SHOTS)
        policies = {policy.name: policy for policy in CLUB.policies}
        first, second = answer_all(CLUB, rally, [policies[name] for name in PAIR])
        found = differing(CLUB, "cross", PAIR)
        for side, mine, other in zip(found.sides, (first, second), (second, first), strict=True):
            expected = rally.in_play[mine.in_control & ~other.in_control] + 1
            assert sorted(side.numbers) == expected.tolist()
            assert side.share == pytest.approx(expected.size / rally.in_play.size)
            assert side.low < side.share < side.high

    def test_the_first_is_a_drive_of_the_side_that_has_more(self) -> None:
        rally = play(CLUB, "cross", 0, SHOTS)
        found = differing(CLUB, "cross", PAIR)
        more, fewer = sorted(found.sides, key=lambda side: -len(side.numbers))
        assert len(more.numbers) > len(fewer.numbers) > 0
        odd = [n for n in more.numbers if n - 1 in oddities(rally)]
        ordinary = [n for n in more.numbers if n not in odd]
        drives = [n for n in ordinary if rally.third_shot.shot[n - 1] == DRIVE]
        others = [n for n in ordinary if n not in drives]
        assert list(more.numbers) == sorted(drives) + sorted(others) + sorted(odd)
        assert found.examples(1) == [min(drives)]

    def test_an_ordinary_drive_is_in_the_middle_of_the_drives_in_play(self) -> None:
        rally = play(CLUB, "cross", 0, SHOTS)
        found, launch = oddities(rally), rally.third_shot.launch
        drives = rally.in_play[rally.third_shot.shot[rally.in_play] == DRIVE]
        speed = np.linalg.norm([launch.x, launch.y, launch.z], axis=0)
        outside = set()
        for values in (speed, rally.net_clearance):
            ranked = drives[np.argsort(values[drives])]
            # All below a percentile, which lies between two of them.
            ends = math.ceil(0.05 * (len(ranked) - 1))
            outside |= {*ranked[:ends].tolist(), *ranked[-ends:].tolist()}
        assert {shot for shot in found if shot in drives} == outside
        popped = {shot for shot, word in found.items() if word == "popped-up"}
        highest = drives[np.argsort(rally.net_clearance[drives])][-ends:]
        assert popped == {*highest.tolist()}

    def test_an_unusual_shot_is_shown_if_asked_for_and_called_so(self) -> None:
        odd = oddities(play(CLUB, "cross", 0, SHOTS))
        high = min(shot for shot, word in odd.items() if word == "popped-up")
        (found,) = points(CLUB, "cross", PAIR, high + 1, 1)
        assert title_of(found).startswith("Popped-up drive aimed ")
        other = min(shot for shot, word in odd.items() if word == "unusual")
        (found,) = points(CLUB, "cross", PAIR, other + 1, 1)
        assert title_of(found).startswith("Unusual ")

    def test_where_no_drive_differs_any_shot_is_picked_and_said_to_be(self) -> None:
        no_drives = {"opponents": {"shots": {"drive": 0, "drop": 1, "lob": 1}}}
        scenario = sim.load("club-sixties", {"run": {"shots": SHOTS}, **no_drives})
        found, *others = points(scenario, "cross", PAIR, None, 3)
        assert found.shot.shot != "drive"
        assert "Picked: the first ordinary ball that only" in how_picked(found)
        assert all("one of the first ordinary balls" in how_picked(other) for other in others[1:])

    def test_several_come_in_turn_from_both_sides(self) -> None:
        found = differing(CLUB, "cross", PAIR)
        more, fewer = sorted((side.numbers for side in found.sides), key=len, reverse=True)
        assert found.examples(3) == [more[0], fewer[0], more[1]]
        assert sorted(found.examples(10_000)) == sorted(more + fewer)

    def test_picked_shots_differ_and_the_picture_says_how_common_that_is(
        self, point: Point
    ) -> None:
        in_control = [response.outcome == "in control" for response in point.responses]
        assert sorted(in_control) == [False, True]
        words = how_picked(point)
        assert point.picked is not None
        (has,) = (
            name
            for name, response in zip(point.policies, point.responses, strict=True)
            if response.outcome == "in control"
        )
        assert f"Picked: the first ordinary drive that only {has} has in control." in words
        for side in point.picked.sides:
            assert f"{side.policy} alone" in words
            assert f"{100 * side.share:.1f} [" in words or f"{100 * side.share:.0f} [" in words

    def test_where_nothing_differs_it_says_so(self) -> None:
        twins = [{"name": name, "rule": "halves"} for name in ("one", "two")]
        scenario = sim.load(
            "club-sixties", {"policies": twins, "run": {"shots": 64, "baseline": "one"}}
        )
        (found,) = points(scenario, "line", ("one", "two"), None, 3)
        rally = play(scenario, "line", 0, 64)
        assert found.shot.number == rally.in_play[0] + 1
        assert f"none of {rally.in_play.size} balls" in how_picked(found)

    def test_without_a_ball_in_play_the_first_shot_is_drawn(self) -> None:
        scenario = sim.load("club-sixties", {"opponents": INTO_THE_NET, "run": {"shots": 32}})
        assert not play(scenario, "line", 0, 32).in_play.size
        (found,) = points(scenario, "line", PAIR, None, 2)
        assert found.shot.number == 1
        assert "No ball" in how_picked(found)
        assert "rdinary" not in how_one_was_picked(found)
        assert ending(found.shot, found.responses[0]) == "into the net"

    def test_farthest_from_the_baseline(self) -> None:
        rally = play(CLUB, "cross", 0, SHOTS)
        answers = answer_all(WHOLE_CLUB, rally, WHOLE_CLUB.policies)
        counts = {
            policy.name: int(answer.in_control.sum())
            for policy, answer in zip(WHOLE_CLUB.policies, answers, strict=True)
        }
        baseline, farthest = baseline_and_farthest(WHOLE_CLUB, "cross")
        assert baseline == "halves"
        gaps = {name: abs(count - counts["halves"]) for name, count in counts.items()}
        assert gaps[farthest] == max(gaps.values()) > 0

    @pytest.mark.parametrize(
        ("asked", "said"), [(("halves", "halves"), "twice"), (("halves", "folow"), '"follow"?')]
    )
    def test_pairs_that_cannot_be(self, asked: tuple[str, str], said: str) -> None:
        with pytest.raises(Refused, match="--between") as caught:
            check_pair(CLUB, asked)
        assert said in str(caught.value)

    def test_one_policy_is_no_pair(self) -> None:
        alone = CLUB.model_copy(update={"policies": CLUB.policies[:1]})
        with pytest.raises(Refused, match="two are drawn"):
            check_pair(alone, ())


class TestTimes:
    def test_a_point_ends_at_the_hit_or_as_the_ball_passes_the_pair(self) -> None:
        rally = play(CLUB, "cross", 0, SHOTS)
        answer = answer_all(CLUB, rally, [CLUB.policies[2]])[0]
        name = CLUB.policies[2].name
        through = rally.in_play[~answer.reached] + 1
        assert through.size
        for number in through[:4].tolist():
            shot = one_shot(CLUB, "cross", number)
            response = shot.answers[name]
            _, y, _ = shot.shot_path.at(np.array([end_of(shot, response)]))
            depth = np.mean([response.found[player][1] for player in PLAYERS])
            if response.leak == "short":
                assert end_of(shot, response) == shot.end[0]
            else:
                # A point of the path every 0.01 s, and a ball of at most 80 ft/s.
                assert depth - 0.8 <= y[0] <= depth
        for number in (rally.in_play[answer.reached] + 1)[:4].tolist():
            response = one_shot(CLUB, "cross", number).answers[name]
            assert response.hit is not None
            assert end_of(one_shot(CLUB, "cross", number), response) == response.hit[0]

    def test_phases_come_in_their_order(self, point: Point) -> None:
        shot, response = point.shot, point.responses[0]
        end = end_of(shot, response)
        phases = [phase_of(shot, response, time) for time in np.linspace(0.0, end, 400)]
        changes = [phases[0]] + [new for old, new in pairwise(phases) if new != old]
        assert changes == ["return", "run-in", "split step", "third shot", "in control"]
        settled = response.settled_at["left"]
        assert settled is not None
        assert phase_of(shot, response, settled + 1e-6) == "split step"

    def test_who_runs_on_has_no_split_step(self) -> None:
        scenario = sim.load("stop-or-run", {"run": {"shots": 32}})
        runs_on = next(policy for policy in scenario.policies if not policy.split_step)
        shot = one_shot(scenario, "cross", 1)
        times = np.linspace(0.0, shot.contact_time, 200, endpoint=False)
        phases = {phase_of(shot, shot.answers[runs_on.name], time) for time in times}
        assert phases == {"return", "run-in"}

    def test_three_moments_in_order(self, point: Point) -> None:
        times = [time for _, time in moments_of(point)]
        assert len(times) == 3
        assert times == sorted(times)
        assert times[0] == point.shot.contact_time
        assert times[2] == max(end_of(point.shot, response) for response in point.responses)

    def test_films_are_as_slow_as_they_say(self, point: Point) -> None:
        speed, step = 0.5, 50
        shown = timeline(stretches_of(point, speed), step)
        struck = point.shot.contact_time
        for before, frame in pairwise(shown):
            assert frame.speed == (speed if frame.time <= struck else speed * SLOWER)
            passed = frame.time - before.time
            # Frames are spread evenly over a stretch, which costs up to half a frame in all.
            assert passed == pytest.approx(frame.speed * step / 1000.0, rel=0.35)
        held = {frame.time for frame in shown if frame.milliseconds > step}
        ends = {end_of(point.shot, response) for response in point.responses}
        assert held == {0.0, struck, *ends}
        assert all(frame.milliseconds >= 1000 for frame in shown if frame.time in ends)

    def test_moments_as_a_table(self, point: Point) -> None:
        rows = [*moment_rows(point, [0.0, 1.0, 99.0])]
        assert len(rows) == 4
        for row in rows:
            response = point.shot.answers[row["policy"]]
            x, y = response.feet("right", np.array([row["time_s"]]))
            assert (row["right_x_ft"], row["right_y_ft"]) == (x[0], y[0])
            ball = point.shot.return_path.at(np.array([row["time_s"]]))
            assert row["ball_z_ft"] == ball[2][0]


def frames_of(film: Film) -> list[tuple[np.ndarray, int]]:
    """Pictures as a viewer shows them, and how many ms each stands."""
    with Image.open(io.BytesIO(film.data)) as picture:
        found = []
        for number in range(getattr(picture, "n_frames", 1)):
            picture.seek(number)
            found.append((np.asarray(picture.convert("RGB")), int(picture.info["duration"])))
    return found


def disc(frame: np.ndarray, colour: str, near: tuple[float, float]) -> tuple[float, float]:
    """Column and row of the middle of the spot of a colour that is near a place.

    Lines are thinner than marks: only pixels with three of the colour to every side count.
    """
    wanted = np.array(ImageColor.getrgb(colour))
    first = max(round(near[0]) - 30, 0), max(round(near[1]) - 30, 0)
    frame = frame[first[1] : first[1] + 60, first[0] : first[0] + 60]
    same = (np.abs(frame.astype(int) - wanted) < 40).all(axis=2)
    thick = same.copy()
    for shift in range(-3, 4):
        for axis in (0, 1):
            thick &= np.roll(same, shift, axis)
    rows, columns = np.nonzero(thick)
    assert rows.size, (colour, near)
    return float(columns.mean()) + first[0], float(rows.mean()) + first[1]


class TestGif:
    def test_it_is_small_loops_and_takes_as_long_as_it_says(self, film: Film) -> None:
        assert len(film.data) < MOST_BYTES == 2_000_000
        with Image.open(io.BytesIO(film.data)) as picture:
            assert picture.info["loop"] == 0
            assert picture.size[0] == film.width == QUALITIES[0][0]
            assert getattr(picture, "n_frames", 1) == len(film.shown)
        durations = [duration for _, duration in frames_of(film)]
        assert durations == [frame.milliseconds for frame in film.shown]
        assert sum(durations) == pytest.approx(1000 * film.seconds)
        assert 10 <= 1000 / film.step <= 20

    def test_players_and_ball_are_where_the_data_say(self, point: Point, film: Film) -> None:
        frames = Frames(point, "us", film.width)
        pictures = frames_of(film)
        # Not the first, in which the ball hides the one who strikes it.
        for number in (len(pictures) // 5, len(pictures) // 3, len(pictures) // 2):
            time = film.shown[number].time
            picture, _ = pictures[number]
            for panel, response in enumerate(point.responses):
                for name in PLAYERS:
                    x, y = response.feet(name, np.array([time]))
                    expected = frames.place(panel, float(x[0]), float(y[0]))
                    found = disc(picture, palette.PLAYERS[name], expected)
                    # A foot is 14 pixels.
                    assert found == pytest.approx(expected, abs=1.5)
        struck = [frame.time for frame in film.shown].index(point.shot.contact_time)
        between = struck + 6
        x, y, _ = point.shot.shot_path.at(np.array([film.shown[between].time]))
        for panel in (0, 1):
            expected = frames.place(panel, float(x[0]), float(y[0]))
            found = disc(pictures[between][0], palette.INK, expected)
            assert found == pytest.approx(expected, abs=1.5)

    def test_ends_are_told_apart_without_colour(self, point: Point, film: Film) -> None:
        """Dark in the middle of the ring in control, light at full stretch, crossed if through."""
        last, _ = frames_of(film)[-1]
        frames = Frames(point, "us", film.width)
        seen = {}
        for panel, response in enumerate(point.responses):
            x, y, _ = point.shot.shot_path.at(np.array([end_of(point.shot, response)]))
            column, row = (round(v) for v in frames.place(panel, float(x[0]), float(y[0])))
            grey = last.mean(axis=2)
            ring = 11.0 * film.width / style.WIDTH
            beside = [grey[row, round(column + side * ring)] for side in (-1, 1)]
            seen[response.outcome] = grey[row, column], float(np.mean(beside))
        assert seen["in control"][0] < 60
        assert seen["in control"][1] < 120
        other = next(outcome for outcome in seen if outcome != "in control")
        if other == "at full stretch":
            assert seen[other][0] > 200 > seen[other][1]
        else:
            assert seen[other][1] > 120

    def test_too_large_a_film_gets_fewer_frames_and_then_smaller_ones(self) -> None:
        def drawing(width: int) -> animation.Draw:
            # The same noise every time: what was too large has to be too large again.
            noise, size = np.random.default_rng(0), (width // 8, width // 8, 3)
            return lambda time, speed: noise.integers(0, 256, size, dtype=np.uint8)

        stretches = [Stretch(0.0, 1.0, 0.1), Stretch(1.0, 1.0, 0.2)]
        told: list[tuple[int, int]] = []
        best = gif(drawing, stretches, lambda done, of: told.append((done, of)))
        assert (best.width, best.step) == QUALITIES[0]
        count = len(best.shown)
        assert told == [(number, count) for number in range(1, count + 1)]
        least = gif(drawing, stretches, lambda done, of: None, most=1)
        assert (least.width, least.step) == QUALITIES[-1]
        less = gif(drawing, stretches, lambda done, of: None, most=len(best.data))
        assert less.width == best.width
        assert less.step > best.step
        assert len(less.data) < len(best.data)

    def test_same_bytes_every_time(self, point: Point, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(animation, "QUALITIES", ((320, 150),))
        once, again = (
            gif(lambda width: Frames(point, "us", width).at, SHORT, lambda done, of: None).data
            for _ in range(2)
        )
        assert once == again
        one, two = stills_figure(point), stills_figure(point)
        assert style.to_png(one) == style.to_png(two)
        assert style.to_svg(one) == style.to_svg(two)


def black(time: float, speed: float) -> np.ndarray:
    """A frame, too small to be handed over at once."""
    return np.zeros((20, 20, 3), np.uint8)


def ffmpeg_does(script: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put another program in the place of ffmpeg."""
    (folder / "ffmpeg").write_text(f"#!/bin/sh\n{script}\n")
    (folder / "ffmpeg").chmod(0o755)
    monkeypatch.setenv("PATH", str(folder), prepend=os.pathsep)


class TestMp4:
    @pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed here")
    def test_frames_come_back(self, point: Point, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(animation, "FILM_WIDTH", 320)
        drawing = Frames(point, "us", 320)
        made = mp4(lambda width: drawing.at, SHORT, lambda done, of: None)
        command = ["ffmpeg", "-loglevel", "error", "-i", "-", "-f", "rawvideo"]
        raw = subprocess.run(
            [*command, "-pix_fmt", "rgb24", "-"], input=made.data, capture_output=True, check=True
        ).stdout
        width, height = drawing.size
        assert width % 2 == height % 2 == 0
        frames = np.frombuffer(raw, np.uint8).reshape(-1, height, width, 3)
        assert frames.shape[0] * made.step == sum(frame.milliseconds for frame in made.shown)
        last = drawing.at(made.shown[-1].time, made.shown[-1].speed)
        # Lossy, and with half the colour: on average within a few of 255 steps.
        assert np.abs(frames[-1].astype(int) - last).mean() < 4.0
        again = mp4(lambda width: drawing.at, SHORT, lambda done, of: None)
        assert made.data == again.data

    def test_a_coder_that_gives_up_is_told(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        ffmpeg_does("echo no such coder >&2; exit 1", tmp_path, monkeypatch)
        with pytest.raises(Refused, match="no such coder; use gif"):
            mp4(lambda width: black, SHORT, lambda done, of: None)

    def test_an_interruption_ends_the_coder(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Even one that is so slow that frames wait to be handed over."""
        ffmpeg_does("exec sleep 60", tmp_path, monkeypatch)
        started: list[subprocess.Popen[bytes]] = []

        def watched(*words: Any, **how: Any) -> subprocess.Popen[bytes]:
            started.append(Popen(*words, **how))
            return started[-1]

        def told(done: int, of: int) -> None:
            if done == 2:
                raise KeyboardInterrupt

        Popen = subprocess.Popen
        monkeypatch.setattr(subprocess, "Popen", watched)
        with pytest.raises(KeyboardInterrupt):
            mp4(lambda width: black, SHORT, told)
        assert [process.returncode for process in started] == [-signal.SIGKILL]

    def test_without_ffmpeg_no_film_is_asked_for_either(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("PATH", str(tmp_path / "nothing"))
        words = ["--format", "mp4", "--no-figures", "--shots", "16", "--number", "1"]
        assert invoke(*words, "--out", str(tmp_path / "out")).exit_code == 0

    def test_without_ffmpeg_it_is_refused_before_any_work(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("PATH", str(tmp_path / "nothing"))
        result = invoke("no-such-scenario", "--format", "mp4", "--out", str(tmp_path / "out"))
        assert result.exit_code == 2
        assert "ffmpeg" in result.output
        assert "--format gif" in result.output
        assert "no-such-scenario" not in result.output
        assert not (tmp_path / "out").exists()


def odd_point(fate: int) -> Point:
    rules = zip(ODD_NAMES, ("halves", "follow"), strict=True)
    changes: dict[str, Any] = {
        "name": "<script>alert(1)</script> $x_1$ " + "W" * 8,
        "policies": [{"name": name, "rule": rule} for name, rule in rules],
        "run": {"shots": 128, "baseline": ODD_NAMES[0]},
    }
    scenario = sim.load("seventies-lobs", changes)
    rally = play(scenario, "line", 0, 128)
    chosen = np.flatnonzero(rally.fate == fate)
    if fate == IN_PLAY:
        chosen = chosen[rally.third_shot.shot[chosen] == 2]
    (found,) = points(scenario, "line", ODD_NAMES, int(chosen[0]) + 1, 1)
    return found


class TestPictures:
    @pytest.mark.parametrize("fate", [INTO_NET, OUT, IN_PLAY])
    def test_words_stay_inside_and_off_each_other(self, fate: int) -> None:
        point = odd_point(fate)
        with style.own_settings():
            figure = stills_figure(point, "metric")
            figure.draw_without_rendering()
            shown = [text for text in figure.findobj(Text) if text.get_text().strip()]
            assert min(text.get_fontsize() for text in shown) >= style.SMALL
            boxes = [(text.get_text(), text.get_window_extent()) for text in shown]
        said = " ".join(text.get_text() for text in shown)
        assert ("never back-pedal" in said) == (point.shot.shot == "lob")
        width, height = figure.bbox.width, figure.bbox.height
        for words, box in boxes:
            assert min(box.x0, box.y0) >= 0, words
            assert box.x1 <= width, words
            assert box.y1 <= height, words
        for (one, first), (other, second) in combinations(boxes, 2):
            # Boxes hold the room for accents and tails of letters, which may overlap a little.
            across = min(first.x1, second.x1) - max(first.x0, second.x0)
            along = min(first.y1, second.y1) - max(first.y0, second.y0)
            assert across <= 2.0 or along <= 0.3 * min(first.height, second.height), (one, other)

    def test_the_view_from_the_side_and_the_thin_line_are_explained(self, point: Point) -> None:
        with style.own_settings():
            stills, frames = stills_figure(point), Frames(point, "us", 640)
            stills.draw_without_rendering()
        frames.at(99.0, 1.0)
        for figure in (stills, frames._still):
            sides = [axes for axes in figure.axes if axes.get_ylim()[0] == -1.0]
            texts = [text for text in figure.findobj(Text) if text.get_text().strip()]
            assert len(sides) == 2
            assert [text.get_text() for text in texts].count("from the side") == 2
            for words, y in (("net", 0.0), ("non-volley line", -7.0)):
                named = [text for text in texts if text.get_text() == words]
                for axes, text in zip(sides, named, strict=True):
                    box = text.get_window_extent()
                    across, ground = axes.transData.transform((y, 0.0))
                    assert 0.5 * (box.x0 + box.x1) == pytest.approx(across, abs=1.0)
                    assert box.y1 <= ground
        for figure in (stills, frames._moving):
            said = " ".join(text.get_text() for text in figure.findobj(Text))
            assert "Thin grey line: the return of serve" in said

    def test_both_players_stay_in_the_picture(self) -> None:
        """Who stays back and turns for a lob ends behind the baseline."""
        lobbed = sim.load("seventies-lobs", {"run": {"shots": SHOTS}})
        scenario = only(lobbed, ("stay back", "halfway"), ())
        (found,) = points(scenario, "line", ("stay back", "halfway"), 172, 1)
        frames = Frames(found, "us", 320)
        deepest = 0.0
        for panel, response in enumerate(found.responses):
            bottom = frames.place(panel, 0.0, frames.layout.view.nearest)[1]
            for name in PLAYERS:
                x, y = response.feet(name, np.array([end_of(found.shot, response)]))
                deepest = min(deepest, float(y[0]))
                _, row = frames.place(panel, float(x[0]), float(y[0]))
                assert row < bottom - 4.0
        assert deepest < -BASELINE - 2.0

    def test_a_shot_into_the_net_ends_there(self) -> None:
        point = shot_with(INTO_NET)
        frames = Frames(point, "us", 640)
        response = point.responses[0]
        assert ending(point.shot, response) == "into the net"
        x, y, _ = point.shot.shot_path.at(np.array([end_of(point.shot, response)]))
        assert y[0] == pytest.approx(0.0, abs=0.01)
        column, row = (round(v) for v in frames.place(0, float(x[0]), 0.0))
        frame = frames.at(99.0, 1.0)
        assert frame[row, column].max() < 140

    def test_a_foot_is_as_long_across_as_along_and_in_both_views(self, point: Point) -> None:
        figure = stills_figure(point)
        figure.draw_without_rendering()
        assert len(figure.axes) == 8
        for axes in figure.axes:
            middle, right, up = axes.transData.transform([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
            assert right[0] - middle[0] == pytest.approx(up[1] - middle[1])


class TestCommand:
    @pytest.fixture(autouse=True)
    def _few_and_small_frames(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(animation, "QUALITIES", ((320, 400),))

    def test_it_writes_what_it_says(self, tmp_path: Path) -> None:
        out = tmp_path / "out"
        words = ["--between", *PAIR, "--shots", str(SHOTS), "--speed", "1"]
        result = invoke(*words, "--out", str(out))
        assert result.exit_code == 0, result.output
        numbers = differing(CLUB, "cross", PAIR).examples(1)
        stems = [f"point-cross-{number}" for number in numbers]
        expected = {f"{stem}.{ending}" for stem in stems for ending in ("gif", "png", "svg")}
        written = {path.name for path in out.iterdir()}
        assert written == expected | {"answer.txt", "points.csv", "moments.csv", "manifest.json"}
        with (out / "points.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert [(int(row["shot_number"]), row["policy"]) for row in rows] == [
            (number, name) for number in numbers for name in PAIR
        ]
        first = one_shot(CLUB, "cross", numbers[0]).answers["halves"]
        assert float(rows[0]["hit_time_s"]) == pytest.approx(first.row["hit_time_s"], abs=1e-6)
        for sentence in (*LIMITS, *CAUTIONS, "how, not how often"):
            assert sentence in result.stdout
        assert f"{stems[0]}.gif: " in result.stdout
        assert (out / "answer.txt").read_text(encoding="utf-8") == result.stdout
        # Where there is no terminal, half of the frames are told and all of them.
        told = [line for line in result.stderr.splitlines() if "frames" in line]
        shown = int(result.stdout.split(f"{stems[0]}.gif: ")[1].split(" frames")[0])
        assert told == [
            f"Club pair in their sixties: {done} of {shown} frames of {stems[0]}.gif"
            for done in (math.ceil(shown / 2), shown)
        ]

    def test_several_points_say_how_each_was_picked(self, tmp_path: Path) -> None:
        words = ["--points", "2", "--shots", str(SHOTS), "--between", *PAIR, "--no-figures"]
        lines = invoke(*words, "--out", str(tmp_path / "out")).stdout.splitlines()
        found = differing(CLUB, "cross", PAIR)
        more, fewer = sorted(found.sides, key=lambda side: -len(side.numbers))
        for side in (more, fewer):
            number, policy = side.numbers[0], side.policy
            assert (
                f"Shot {number}. Picked: the first ordinary drive that only "
                f"{policy} has in control." in lines
            )
            start = next(k for k, line in enumerate(lines) if line.startswith(f"Shot {number}, "))
            ends = {line for line in lines[start + 1 : start + 3] if ": in control" in line}
            assert {line.split(": ")[0] for line in ends} == {f"- {policy}"}
        assert sum("Of 100 balls in play" in line for line in lines) == 1

    def test_defaults_are_the_baseline_and_the_farthest(self, tmp_path: Path) -> None:
        result = invoke("--shots", "64", "--no-figures", "--out", str(tmp_path / "out"))
        assert result.exit_code == 0, result.output
        scenario = sim.load("club-sixties", {"run": {"shots": 64}})
        baseline, farthest = baseline_and_farthest(scenario, "cross")
        assert f"{baseline} is the baseline, {farthest} the policy farthest" in result.stdout
        assert not list((tmp_path / "out").glob("*.gif"))

    def test_metric_and_a_number(self, tmp_path: Path) -> None:
        words = ["--number", "3", "--direction", "line", "--units", "metric", "--speed", "1"]
        result = invoke(*words, "--shots", "16", "--out", str(tmp_path / "out"))
        assert result.exit_code == 0, result.output
        assert "asked for by its number" in result.stdout
        svg = (tmp_path / "out" / "point-line-3.svg").read_text(encoding="utf-8")
        assert " m from" in svg
        assert " ft" not in svg

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (["--number", "17"], "shots 1 to 16"),
            (["--number", "0"], "count from 1: --number 1 to 16"),
            (["--policy", "follow"], "--between halves follow"),
            (["--number", "1", "--points", "2"], "exclude each other"),
            (["--between", "halves", "halves"], "twice"),
            (["--between", "halves", "nobody"], '"nobody" is not a policy'),
            (["--speed", "7"], "--speed"),
            (["--speed", "nan"], "'--speed': nan is not a number from 0.2 to 1.0"),
            (["--set", "return_of_serve.directions=['line']", "--direction", "cross"], '"line"'),
        ],
    )
    def test_refusals(self, words: list[str], said: str, tmp_path: Path) -> None:
        result = invoke("--shots", "16", "--out", str(tmp_path / "out"), *words)
        assert result.exit_code == 2, result.output
        assert said in result.output
        assert not (tmp_path / "out").exists()

    def test_an_interruption_leaves_nothing(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def interrupted(*_: object) -> np.ndarray:
            raise KeyboardInterrupt

        monkeypatch.setattr(Frames, "at", interrupted)
        result = invoke("--shots", "16", "--out", str(tmp_path / "out"))
        assert result.exit_code == 130
        assert list(tmp_path.iterdir()) == []


def test_page_runs() -> None:
    page = Path(sim.__file__).parent / "docs" / "draw.md"
    result = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert result.attempted > 3
    assert result.failed == 0


def test_page_quotes_what_the_command_prints(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    page = (Path(sim.__file__).parent / "docs" / "draw.md").read_text(encoding="utf-8")
    block = page.split("```text\n")[1].split("```")[0]
    lines = [line for line in block.splitlines() if line not in ("", "...")]
    assert len(lines) >= 8
    printed = invoke("--no-figures", "--quiet").stdout.splitlines()
    assert [line for line in lines if line not in printed] == []
