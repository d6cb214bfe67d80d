"""Opponents who adapt: payoffs, best replies, values, how sure they are, and the command."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.patches import Rectangle
from PIL import Image

import sim
from sim.analyses.counter import OUTCOMES, Contest, Worth, contest
from sim.analyses.counter_game import Game
from sim.analyses.counter_options import Option, Third, grid_of_places, options_of
from sim.analyses.jackknife import Estimate
from sim.cli import main
from sim.court import HALF_WIDTH
from sim.errors import Refused
from sim.figures.counter import counter_figures
from sim.figures.style import to_png
from sim.games import equilibrium
from sim.opponents import LANES
from sim.opponents import SHOTS as KINDS
from sim.processes import Processes
from sim.scenario import Scenario
from sim.statistics import mean_of_replicates
from sim.texts.counter import answer, terminal_text
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS

SHOTS = 128
FIGURES = ["learning", "learning-line", "learning-middle", "learning-cross", "payoffs"]


def scenario_of(**changes: object) -> Scenario:
    return sim.load("club-sixties", {"run": {"shots": SHOTS}, **changes})


@pytest.fixture(scope="module")
def found() -> Contest:
    return contest(scenario_of())


@pytest.fixture(scope="module")
def plain() -> Contest:
    """Without the grid."""
    return contest(scenario_of(), grid=False)


def kept(worth: Worth, in_control: int, at_full_stretch: int, missed: int) -> float:
    return (
        worth.in_control * in_control
        + worth.at_full_stretch * at_full_stretch
        + (worth.missed * missed)
    )


@pytest.mark.parametrize("option", [Option("drive", "cross", "hard"), Option("lob", "middle")])
def test_a_payoff_is_what_a_comparison_with_that_shot_alone_counts(
    found: Contest, option: Option
) -> None:
    comparison = sim.compare(option.played(found.scenario))
    place = found.options.index(option)
    for row in comparison.summary_rows:
        if row["return_direction"] == "all" or (row["shot"], row["lane"]) != ("all", "all"):
            continue
        policy = [p.name for p in found.scenario.policies].index(row["policy"])
        counted = kept(
            found.worth, row["in_control"], row["at_full_stretch"], row["net"] + row["out"]
        )
        payoff, low, high = found.games[row["return_direction"]].payoff(policy, place)
        assert payoff == pytest.approx(100.0 * counted / row["shots"])
        assert low <= payoff <= high


@pytest.mark.parametrize("option", [Option("drive", "cross", "hard"), Option("lob", "middle")])
def test_the_other_shots_and_lanes_are_never_struck(option: Option) -> None:
    struck = sim.compare(option.played(scenario_of())).tally.fates.sum(axis=(0, 1, 4))
    assert struck[KINDS.index(option.shot), LANES.index(option.lane)] == struck.sum() == 3 * SHOTS


def test_the_usual_mix_is_the_scenario_itself(found: Contest) -> None:
    """The options weighed as the scenario weighs them, against the scenario played as it is.

    Different shots, so that both have errors of sampling: 18 numbers are held to four standard
    errors of the one that was played directly (one block of 2048 shots).
    """
    comparison = sim.compare(scenario_of(run={"shots": 2048}))
    for row in comparison.summary_rows:
        if row["return_direction"] == "all" or (row["shot"], row["lane"]) != ("all", "all"):
            continue
        policy = [p.name for p in found.scenario.policies].index(row["policy"])
        counted = kept(
            found.worth, row["in_control"], row["at_full_stretch"], row["net"] + row["out"]
        )
        standing = found.games[row["return_direction"]].standing
        weighed = float(standing.against_usual.whole[policy])
        share = counted / row["shots"]
        error = 100.0 * np.sqrt(share * (1.0 - share) / row["shots"])
        assert weighed == pytest.approx(100.0 * share, abs=4.0 * error)


def test_usual_shares_add_up_and_follow_the_return() -> None:
    lanes = {"cross": {"line": 1.0, "middle": 0.0, "cross": 0.0}}
    scenario = scenario_of(opponents={"level": "3.5", "lanes_by_return": lanes})
    options = options_of(scenario)
    for direction in ("line", "middle", "cross"):
        shares = [option.usual_share(scenario, direction) for option in options]
        assert sum(shares) == pytest.approx(1.0)
        cross = sum(s for s, o in zip(shares, options, strict=True) if o.lane == "cross")
        assert cross == pytest.approx(0.0 if direction == "cross" else 0.25)


def test_thirds_together_are_the_whole_distribution() -> None:
    speed = scenario_of().opponents.drive.speed
    u = (np.arange(300) + 0.5) / 300
    thirds = [Third.model_construct(whole=speed, number=n).quantile(u[:100] * 3) for n in (2, 1, 0)]
    assert np.concatenate(thirds) == pytest.approx(speed.quantile(u), rel=1e-12)
    assert thirds[0].max() < thirds[1].min() < thirds[1].max() < thirds[2].min()


def test_drives_of_one_speed_have_one_pace() -> None:
    options = options_of(scenario_of(opponents={"drive": {"speed": "38 mph"}}))
    assert [option.name for option in options[:3]] == [
        f"drive {words}" for words in DIRECTIONS.values()
    ]
    assert len(options) == 9


def test_the_grid_keeps_both_players_on_the_court() -> None:
    places = grid_of_places()
    assert len({place.name for place in places}) == len(places) == 48
    for place in places:
        assert place.centres is not None
        assert abs(place.centres.line) + 0.5 * place.gap <= HALF_WIDTH


def test_against_a_single_option_the_value_is_the_best_policy(found: Contest) -> None:
    for game in found.games.values():
        for option in (0, 8):
            alone = replace(game, sums=game.sums[..., option : option + 1], usual=np.ones(1))
            column = game.payoffs[:, option]
            assert alone.whole.value.whole[0] == pytest.approx(column.max())
            assert alone.own.value.whole[0] == pytest.approx(column[: game.named].max())


def test_orders_that_must_hold(found: Contest) -> None:
    for standing in found.standings.values():
        usual, reply = standing.against_usual.whole, standing.against_best_reply.whole
        assert (reply <= usual + 1e-9).all()
        assert standing.value.whole[0] >= standing.own_value.whole[0] - 1e-6
        assert (standing.own_value.whole[0] >= reply - 1e-6).all()
    for game in found.games.values():
        low, high = game.whole.bracket.low, game.whole.bracket.high
        assert low <= game.whole.bracket.at_least <= game.whole.bracket.at_most <= high
        assert game.whole.mixes.value == pytest.approx(float(game.whole.value.whole[0]))


def test_all_returns_are_the_mean_of_the_single_ones(found: Contest) -> None:
    single = [found.standings[name].taken.whole for name in found.games]
    assert found.standings["all"].taken.whole == pytest.approx(np.mean(single, axis=0))


def test_without_the_grid_the_pair_has_its_policies_only(found: Contest, plain: Contest) -> None:
    assert not plain.has_grid
    for direction, game in plain.games.items():
        assert game.payoffs == pytest.approx(found.games[direction].payoffs[: game.named])
        assert game.whole.value.whole == pytest.approx(found.games[direction].own.value.whole)
    assert {row["pair_chooses_from"] for row in plain.equilibrium_rows()} == {"policies"}


def test_the_worth_counts(plain: Contest) -> None:
    nothing = replace(plain, worth=Worth(1.0, 0.0, 0.0))
    for direction, game in nothing.games.items():
        number = list(nothing.games).index(direction)
        counts = nothing.counts[number].sum(axis=0)
        share = counts[..., OUTCOMES.index("in_control")] / counts.sum(axis=-1)
        assert game.payoffs == pytest.approx(100.0 * share)


@pytest.mark.parametrize(
    ("worth", "told"),
    [
        (Worth(1.2, 0.5, 1.0), "between 0 and 1"),
        (Worth(1.0, float("nan"), 1.0), "between 0 and 1"),
        (Worth(0.5, 0.8, 1.0), "full stretch"),
        (Worth(0.0, 0.0, 1.0), "more than 0"),
    ],
)
def test_a_worth_without_sense_is_refused(worth: Worth, told: str) -> None:
    with pytest.raises(Refused, match=told):
        contest(scenario_of(), worth)


def test_shots_without_lanes_are_refused() -> None:
    azimuth = {"kind": "uniform", "low": "-10 deg", "high": "10 deg"}
    with pytest.raises(Refused, match=r"opponents\.drop\.azimuth"):
        contest(scenario_of(opponents={"drop": {"azimuth": azimuth}}))


def test_the_jackknife_of_a_mean_is_the_scatter_of_its_replicates() -> None:
    """With replicates of one size both are Student's interval."""
    values = np.random.default_rng(2).normal(50.0, 3.0, 16)
    left_out = np.array([np.delete(values, k).mean() for k in range(16)])
    estimate = Estimate(np.array(values.mean()), left_out)
    assert estimate.interval() == pytest.approx(mean_of_replicates(values, np.ones(16)))


def test_best_replies_that_cannot_be_told_apart_are_named_together() -> None:
    """Two options the same but for noise, one clearly worse for the opponents."""
    chance = np.random.default_rng(5)
    sums = np.array([70.0, 70.0, 90.0]) + chance.normal(0.0, 1.0, (16, 1, 3))
    game = Game(sums, np.full(16, 100), np.full(3, 1 / 3), 1)
    assert sorted(game.best_replies(0)) == [0, 1]
    far = Game(sums + np.array([0.0, 20.0, 0.0]), np.full(16, 100), np.full(3, 1 / 3), 1)
    assert far.best_replies(0) == [0]


def test_a_payoff_of_all_or_nothing_still_has_an_interval() -> None:
    sums = np.tile([0.0, 16.0], (16, 1, 1))
    game = Game(sums, np.full(16, 16), np.array([0.5, 0.5]), 1)
    none, every = game.payoff(0, 0), game.payoff(0, 1)
    assert none[:2] == (0.0, 0.0)
    assert every[0] == every[2] == 100.0
    assert 0.5 < none[2] < 5.0
    assert 95.0 < every[1] < 99.5


def test_replicates_that_are_all_alike_still_have_an_interval() -> None:
    """None lost of 256: at most 3 of 256 are (the rule of three), whatever is made of them.

    Source of the rule: J. A. Hanley and A. Lippman-Hand, If nothing goes wrong, is everything all
    right? JAMA 249 (1983) 1743 (memory).
    """
    game = Game(np.full((16, 2, 2), 16.0), np.full(16, 16), np.array([1.0, 0.0]), 2)
    kept, low, high = game.standing.against_best_reply.at(0).interval(most=100.0)
    assert (kept, high) == (100.0, 100.0)
    assert 100.0 - low == pytest.approx(300.0 / 256, rel=0.03)
    assert game.standing.taken.at(0).interval()[2] == pytest.approx(100.0 - low)
    assert game.standing.exploitability.at(0).interval()[2] == pytest.approx(100.0 - low)
    assert game.whole.bracket.low < low
    assert game.whole.bracket.high == 100.0


def test_shots_that_opponents_never_play_are_said_to_be_new(found: Contest) -> None:
    new = "They have lobs, too, which are not in their usual mix."
    assert new not in terminal_text(found)
    shots = {"drive": 1, "drop": 1, "lob": 0}
    assert new in terminal_text(contest(scenario_of(opponents={"shots": shots}), grid=False))


def test_where_all_is_tied_no_policy_is_singled_out() -> None:
    """No third shot stays in play: nothing is taken from any policy."""
    errors = {"speed": "60 %", "elevation": "25 deg", "azimuth": "0 deg"}
    opponents = {"shots": {"drive": 1, "drop": 0, "lob": 0}, "errors": errors}
    for policies, sentences in (
        (
            None,
            [
                "Opponents who learn the pair's habit take next to nothing from any policy: under "
                "1 of 100 third shots.",
                "No policy can be told to be harder to take advantage of than another: each keeps "
                "over 99.",
            ],
        ),
        ([{"name": "halves", "rule": "halves"}], []),
    ):
        changes = {"opponents": opponents} | ({"policies": policies} if policies else {})
        tied = contest(scenario_of(**changes), grid=False)
        assert tied.standings["all"].taken.whole.max() < 0.5
        told = answer(tied)
        assert told[: len(sentences)] == sentences
        assert "0 fewer" not in " ".join(told)
    assert "leave the pair over 99 of 100 third shots, hardly any fewer than" in told[0]


def test_the_text_answers_first_and_always_cautions(found: Contest) -> None:
    text = terminal_text(found)
    assert text.splitlines()[3] == answer(found)[0]
    taken = found.standings["all"].taken.whole
    names = [policy.name for policy in found.scenario.policies]
    assert f"take most from {names[int(taken.argmax())]}:" in answer(found)[0]
    best = found.standings["all"].against_best_reply.whole.argmax()
    assert answer(found)[1].startswith(f"Hardest to take advantage of: {names[int(best)]},")
    assert all(sentence in text for sentence in (*CAUTIONS, *LIMITS))
    metric = terminal_text(found, "metric")
    assert " ft" not in metric
    assert " m apart" in metric


def test_the_answer_follows_the_numbers(plain: Contest) -> None:
    """Policies in another order and nothing told apart: the sentences change with the counts."""
    turned = replace(
        plain,
        counts=plain.counts[:, :, ::-1],
        scenario=plain.scenario.model_copy(update={"policies": plain.scenario.policies[::-1]}),
        policies=plain.policies[::-1],
    )
    assert [line.partition(" Not told")[0] for line in answer(turned)[:2]] == [
        line.partition(" Not told")[0] for line in answer(plain)[:2]
    ]
    alike = replace(plain, counts=np.repeat(plain.counts[:, :, :1], 6, axis=2))
    assert "Not told from it: centre, follow, bisect, tethered and stay back." in answer(alike)[0]
    assert answer(alike)[1].startswith("No policy can be told to be harder to take advantage of")
    assert answer(plain)[1].startswith("Hardest to take advantage of: ")
    assert answer(alike)[2].startswith("Mixing policies gains nothing to speak of")
    assert answer(alike)[3].endswith("The order is the same.")
    assert "now this one, now that" in answer(plain)[2]


def test_a_policy_for_each_return_is_told_before_the_mix(plain: Contest) -> None:
    """Not credited to mixing: what the same pair keeps with a settled policy for each return."""
    games, names = plain.games, [policy.name for policy in plain.scenario.policies]
    replies = {direction: game.payoffs.min(axis=1) for direction, game in games.items()}
    best = [f"{names[int(kept.argmax())]} {DIRECTIONS[name]}" for name, kept in replies.items()]
    alone = plain.standings["all"].best_alone.whole[0]
    assert alone == pytest.approx(np.mean([kept.max() for kept in replies.values()]))
    sentence = answer(plain)[2]
    assert sentence.startswith(f"Better than one for all returns: one for each ({best[0]}, ")
    assert f" {alone:.0f}" in sentence or f" {alone:.1f}" in sentence
    assert sentence.index(best[2]) < sentence.index("Better still")


def test_a_ball_at_full_stretch_is_tried_at_both_ends(plain: Contest) -> None:
    """The sentence says what the study with that worth says itself."""
    for stretched in (0.0, 1.0):
        other = replace(plain, worth=Worth(1.0, stretched, 1.0))
        kept = other.standings["all"].against_best_reply.whole
        best = plain.scenario.policies[int(kept.argmax())].name
        assert f"were it {stretched:g}, {best} would keep most" in answer(plain)[4]
        assert f"were it {stretched:g}" not in answer(other)[4]


def test_one_policy_and_one_direction() -> None:
    policies = [{"name": "ours", "rule": "halves"}]
    scenario = scenario_of(policies=policies, run={"shots": 64, "baseline": "ours"})
    single = scenario.model_copy(
        update={
            "return_of_serve": scenario.return_of_serve.model_copy(update={"directions": ["cross"]})
        }
    )
    alone = contest(single, grid=False)
    assert list(alone.standings) == ["cross"]
    assert len(answer(alone)) == 1
    assert answer(alone)[0].startswith("Opponents who learn the pair's habit, ours, leave the pair")
    assert "with other places" in answer(contest(single))[1]
    assert alone.games["cross"].standing.exploitability.whole == pytest.approx([0.0], abs=1e-6)
    assert [stem for stem, _ in counter_figures(alone)] == ["learning", "payoffs"]


def test_so_few_shots_that_a_replicate_is_empty() -> None:
    few = contest(scenario_of(run={"shots": 17}), grid=False)
    assert few.counts.shape[1] == 9
    assert "from leaving out each of 9 replicates" in terminal_text(few)


def test_the_workers_do_not_matter(plain: Contest) -> None:
    with Processes(2) as workers:
        shared = contest(plain.scenario, grid=False, workers=workers)
    assert np.array_equal(shared.counts, plain.counts)


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def run(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["counter", *words, "--quiet"])
    return result.exit_code, result.stdout, result.stderr


def test_the_command_from_end_to_end(tmp_path: Path, plain: Contest) -> None:
    """The same bytes for one worker and two, and the tables that the study gives."""
    outs = [tmp_path / name for name in ("one", "two")]
    words = ["--shots", str(SHOTS), "--seed", "1", "--no-grid"]
    for number, out in enumerate(outs, 1):
        code, text, _ = run(*words, "--workers", str(number), "--out", str(out))
        assert code == 0
        assert text.startswith("Club pair in their sixties\n")
    names = {path.name for path in outs[0].iterdir()}
    assert names == {
        "answer.txt",
        "policies.csv",
        "equilibrium.csv",
        "payoffs.csv",
        *(f"{stem}.{ending}" for stem in FIGURES for ending in ("png", "svg")),
        "manifest.json",
    }
    assert all((outs[0] / name).read_bytes() == (outs[1] / name).read_bytes() for name in names)
    assert len(rows_of(outs[0] / "payoffs.csv")) == 3 * 6 * 15
    for row, mine in zip(rows_of(outs[0] / "policies.csv"), plain.policy_rows(), strict=True):
        assert row["policy"] == mine["policy"]
        assert float(row["taken"]) == pytest.approx(mine["taken"], abs=1e-6)
    assert rows_of(outs[0] / "equilibrium.csv")


def test_rows_with_the_grid(found: Contest) -> None:
    payoffs, mixes = list(found.payoff_rows()), list(found.equilibrium_rows())
    assert len(payoffs) == 3 * (6 + 48) * 15
    assert sum(row["best_reply"] for row in payoffs) == 3 * (6 + 48)
    for row in payoffs:
        assert sum(row[name] for name in OUTCOMES) == row["struck"] == SHOTS
        assert row["payoff_low"] <= row["payoff"] <= row["payoff_high"]
    for side in ("pair", "opponents"):
        for choices in ("policies", "policies and grid"):
            for direction in found.games:
                wanted = direction, choices, side
                shares = [row["share"] for row in mixes if tuple(row.values())[:3] == wanted]
                assert sum(shares) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--worth", "1", "2", "1"], "--worth"),
        (["--worth", "0.5", "0.9", "1"], "at full stretch"),
        (["--worth", "1", "0.5", "much"], "'much' is not a valid float"),
        (["no-such-scenario"], "no-such-scenario"),
        (["--set", "opponents.lob.azimuth=3 deg"], "club-sixties.toml: opponents.lob.azimuth"),
    ],
)
def test_wrong_input_is_refused_and_nothing_written(
    words: list[str], told: str, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    code, text, errors = run(*words, "--out", str(out))
    assert code == 2
    assert told in errors
    assert text == ""
    assert not out.exists()


def test_figures_stay_within_their_edges(plain: Contest) -> None:
    """Names as long as they may be: the outermost pixels stay white."""
    named = [
        policy.model_copy(update={"name": f"{policy.name} {'as long as names may be at all'}"[:40]})
        for policy in plain.scenario.policies
    ]
    scenario = plain.scenario.model_copy(update={"policies": named})
    long = replace(plain, scenario=scenario, policies=named)
    for _, figure in counter_figures(long):
        pixels = np.asarray(Image.open(BytesIO(to_png(figure))).convert("L"))
        for edge in (pixels[:, 0], pixels[:, -1], pixels[0], pixels[-1]):
            assert edge.min() == 255


def test_the_best_replies_are_framed_and_outlined_with_those_alike(plain: Contest) -> None:
    tables = dict(counter_figures(plain))["payoffs"].axes[1:]
    assert list(dict(counter_figures(plain))) == FIGURES
    for axes, game in zip(tables, plain.games.values(), strict=True):
        cells = [patch for patch in axes.findobj(Rectangle) if patch is not axes.patch]
        framed = [cell.get_gid() == "best" for cell in cells]
        policies = len(plain.scenario.policies)
        assert len(cells) == policies * len(plain.options)
        # Cells are drawn option by option.
        by_policy = np.array(framed).reshape(len(plain.options), policies).T
        for policy in range(policies):
            (best,) = np.flatnonzero(by_policy[policy])
            assert best == game.best_replies(policy)[0]
        numbers = [float(text.get_text()) for text in axes.texts]
        lost = 100.0 - game.payoffs[:policies].T
        assert numbers == pytest.approx(list(lost.ravel()), abs=0.51)


def test_no_line_of_the_scale_runs_through_a_number(plain: Contest) -> None:
    for stem, figure in counter_figures(plain):
        if stem != "payoffs":
            bold = [text for text in figure.axes[0].texts if text.get_weight() == "bold"]
            assert len(bold) == len(plain.scenario.policies)
            assert all(text.get_bbox_patch() is not None for text in bold)


def test_what_learning_takes_stands_beside_with_its_interval(plain: Contest) -> None:
    words = [text.get_text() for text in dict(counter_figures(plain))["learning"].texts]
    taken = plain.standings["all"].taken
    for policy in range(len(plain.scenario.policies)):
        value, low, high = taken.at(policy).interval()
        (told,) = [
            numbers
            for numbers in map(read_numbers, filter(lambda text: "fewer [" in text, words))
            if numbers == pytest.approx([value, low, high], abs=0.51)
        ][:1]
        assert told[1] <= told[0] <= told[2]


def read_numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(tmp_path: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "counter.md").read_text(encoding="utf-8")
    block = page.partition("```text\n")[2].partition("```")[0].splitlines()[1:]
    code, text, _ = run("--no-figures", "--out", str(tmp_path / "out"))
    assert code == 0
    assert len(block) > 15
    assert [line for line in block if line != "..." and line not in text.splitlines()] == []


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["penalty kicks", "a policy with twins", "as large as ours"])
def test_intervals_and_brackets_hold_in_games_of_known_value(kind: str) -> None:
    """Payoffs known, replicates simulated: how often intervals and brackets hold the truth."""
    chance = np.random.default_rng(7)
    truth = {
        "penalty kicks": np.array([[58.30, 94.97], [92.91, 69.92]]),
        # Two best replies to each row that are equally good: the hardest case for a minimum.
        "a policy with twins": np.array([[80.0, 80.0, 95.0, 99.0], [99.0, 82.0, 82.0, 90.0]]),
        "as large as ours": chance.uniform(65.0, 100.0, (54, 15)),
    }[kind]
    games, named = 400, min(truth.shape[0], 6)
    value, replies = equilibrium(truth).value, truth[:named].min(axis=1)
    held = {"value": 0, "bracket": 0}
    replies_held = np.zeros(named)
    for _ in range(games):
        # Options share random numbers: part of the noise is common to all of a replicate.
        noise = chance.normal(0.0, 1.5, (16, 1, 1)) + chance.normal(0.0, 2.0, (16, *truth.shape))
        sums, struck = (truth + noise) * 2.56, np.full(16, 256)
        game = Game(sums, struck, np.full(truth.shape[1], 1.0 / truth.shape[1]), named)
        _, low, high = game.whole.value.at(0).interval()
        held["value"] += low <= value <= high
        bracket = game.whole.bracket
        held["bracket"] += bracket.low <= value <= bracket.high
        best = game.standing.against_best_reply
        replies_held += np.abs(best.whole - replies) <= best.half_width()
    # 380 of 400 are expected, with a standard error of 4.4; the bracket is wide on purpose.
    assert held["value"] >= 365
    assert held["bracket"] >= 371
    assert replies_held.min() >= 360
