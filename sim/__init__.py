"""What share of the opponents' third shots does each way of moving to the line reach?

The notebook interface: load a scenario, compare its policies, look at tables and figures.

>>> import sim
>>> scenario = sim.load("club-sixties", {"run": {"shots": 512}})
>>> comparison = sim.compare(scenario)
>>> comparison.summary.columns[:4].tolist()
['policy', 'return_direction', 'shot', 'lane']
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from sim.comparison import Comparison, compare
    from sim.figures import court_figure, lateral_figure, shares_figure
    from sim.precision import Precision
    from sim.processes import Processes
    from sim.scenario import Scenario
    from sim.scenario_errors import ScenarioError
    from sim.scenario_files import bundled, load

_HOME = {
    "Comparison": "sim.comparison",
    "compare": "sim.comparison",
    "Scenario": "sim.scenario",
    "ScenarioError": "sim.scenario_errors",
    "Precision": "sim.precision",
    "Processes": "sim.processes",
    "bundled": "sim.scenario_files",
    "load": "sim.scenario_files",
    "court_figure": "sim.figures",
    "lateral_figure": "sim.figures",
    "shares_figure": "sim.figures",
}
__all__ = [
    "Comparison",
    "Precision",
    "Processes",
    "Scenario",
    "ScenarioError",
    "bundled",
    "compare",
    "court_figure",
    "lateral_figure",
    "load",
    "shares_figure",
]


def __getattr__(name: str) -> Any:
    # Importing the package costs nothing; each name loads its module when first used.
    if name not in _HOME:
        raise AttributeError(f"module 'sim' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
