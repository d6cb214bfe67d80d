"""Running and reacting against published values.

Model: ``v = V (1 - exp(-t / tau))``, Furusawa, Hill and Parkinson 1927; Samozino et al. 2016;
``tau`` is about 1 s across levels (Clark and Ryan 2022; quoted).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, curve_fit

from sim.court import Array
from sim.players import AGE_GROUPS, Player
from sim.run_in import straight_run
from sim.scenario import RunIn
from sim.units import METRES_PER_FOOT, parse_quantity


def runner(top_speed: float, time_constant: float) -> Player:
    """A player with legs in m/s and s, beyond the limits of scenarios if need be."""
    legs = {"top_speed": top_speed / METRES_PER_FOOT, "time_constant": time_constant}
    return Player().model_copy(update=legs)


def metres_run(top_speed: float, time_constant: float, time: Array) -> Array:
    return straight_run(runner(top_speed, time_constant), time) * METRES_PER_FOOT


# Computed from the model: V 6 m/s, tau 1 s and V 4 m/s, tau 0.8 s.
@pytest.mark.parametrize(
    ("top_speed", "time_constant", "metres", "seconds"),
    [
        (6.0, 1.0, 4.57, 1.549),
        (6.0, 1.0, 5.0, 1.639),
        (4.0, 0.8, 4.57, 1.865),
        (4.0, 0.8, 5.0, 1.983),
    ],
)
def test_time_for_a_short_sprint(
    top_speed: float, time_constant: float, metres: float, seconds: float
) -> None:
    def missing(time: float) -> float:
        return float(metres_run(top_speed, time_constant, np.array([time]))[0]) - metres

    assert round(brentq(missing, 0.1, 10.0), 3) == seconds


def test_distance_is_the_integral_of_the_speed() -> None:
    for time in (0.05, 0.4, 1.0, 3.0):
        expected = quad(lambda t: 5.0 * (1.0 - np.exp(-t / 0.9)), 0.0, time)[0]
        assert metres_run(5.0, 0.9, np.array([time]))[0] == pytest.approx(expected, rel=1e-9)
    assert metres_run(5.0, 0.9, np.array([-1.0, 0.0])).tolist() == [0.0, 0.0]


def test_the_model_fits_an_elite_sprint() -> None:
    # 100 m final, Berlin 2009, winner: 2.89, 4.64, 6.31, 7.92, 9.58 s at 20, 40, 60, 80, 100 m
    # with a reaction of 0.146 s included (memory). The model knows no slowing down at the end, so
    # that it cannot fit better than a few hundredths of a second; a tenth would be a wrong law of
    # motion.
    splits = np.array([2.89, 4.64, 6.31, 7.92, 9.58])
    metres = np.array([20.0, 40.0, 60.0, 80.0, 100.0])

    def model(time: Array, top_speed: float, time_constant: float) -> Array:
        return metres_run(top_speed, time_constant, time - 0.146)

    (top_speed, time_constant), _ = curve_fit(model, splits, metres, p0=(11.0, 1.0))
    assert 0.8 < time_constant < 1.5  # about 1 s
    assert 11.5 < top_speed < 13.0
    late = [
        brentq(lambda t, m=m: model(np.array([t]), top_speed, time_constant)[0] - m, 0.2, 15.0)
        - split
        for m, split in zip(metres, splits, strict=True)
    ]
    assert np.abs(late).max() < 0.03


def test_gain_of_the_split_step() -> None:
    # Uzu, Shinya and Oda 2009, J. Sports Sci. 27:1233 (read): 868 ms without, 764 ms with.
    assert RunIn().late_without_split_step == pytest.approx(0.868 - 0.764)


def test_reaction_slows_with_age_between_the_published_rates() -> None:
    # Woods 2015, Front. Hum. Neurosci. 9:131 and 9:193 (read): simple reactions lengthen by 0.55
    # ms a year, two-choice reactions by 2.80 ms. From the thirties to the sixties the package's
    # step, an assumption, lies between them; the simple reaction of 0.213 s is shorter than all
    # its values.
    reaction = {
        group: parse_quantity(values["reaction"], "time") for group, values in AGE_GROUPS.items()
    }
    assert 0.00055 <= (reaction["sixties"] - reaction["thirties"]) / 30.0 <= 0.0028
    assert min(reaction.values()) > 0.213


def test_no_default_player_outruns_a_masters_sprinter() -> None:
    # Masters sprinters lose 5 to 7 % per decade (Korhonen 2003, MSSE 35:1419, read). An elite top
    # speed of 12.2 m/s (fit above) less 5 % for three decades is what no club player outruns.
    fastest = max(parse_quantity(v["top_speed"], "speed") for v in AGE_GROUPS.values())
    assert fastest * METRES_PER_FOOT < 12.2 * 0.95**3
