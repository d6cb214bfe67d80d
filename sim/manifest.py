"""The manifest: what a run was made of, enough to make it again."""

from __future__ import annotations

from typing import Any

from sim import __version__
from sim.quantities import TAGS
from sim.scenario import Scenario
from sim.settings import settings


def manifest_of(
    scenario: Scenario, tables: dict[str, Any], options: dict[str, Any]
) -> dict[str, Any]:
    """Version, seed, digest, options, the scenario's tables and every default with its tag.

    There is no date in it, so that the same run writes the same bytes.
    """
    return {
        "program": "reachshare",
        "version": __version__,
        "scenario": scenario.name,
        "scenario_digest": scenario.digest(),
        "seed": scenario.run.seed,
        "baseline": scenario.baseline.name,
        "options": options,
        "tags": TAGS,
        "scenario_tables": tables,
        "defaults": {
            entry.key: {"value": entry.value, "tag": entry.tag, "source": entry.source}
            for entry in settings(scenario)
            if not entry.given and entry.tag
        },
    }
