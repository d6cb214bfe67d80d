"""Where the search begins: valid files of every kind, and the words that readers know."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from sim.chart_forms import DASHES, THIRD_SHOTS
from sim.manifest import manifest_of
from sim.numeric_settings import numeric_settings
from sim.scenario_files import build, bundled, read
from sim.scenario_template import json_schema, template
from sim.units import UNITS

_SAMPLE: Final = "shot,speed\n1,36.5\n2,41\n3,\n4,38\n"
_KINDS: Final = """\
[opponents.drive]
speed = { kind = "list", values = ["36 mph", "60 km/h"], weights = [1, 2.5] }
azimuth = { kind = "triangular", low = "-20 deg", mode = "0 deg", high = "20 deg" }
[opponents.drop]
net_clearance = { kind = "uniform", low = "0.2 ft", high = "4 ft" }
[opponents.lob]
top = { kind = "sample", file = "sample.csv", column = "speed", unit = "ft" }
[opponents.lanes_by_return.cross]
line = 1
middle = 0
cross = 3
"""
_BEST: Final = """\
[return_of_serve]
directions = ["line"]
[[policies]]
name = "best"
rule = "best"
[policies.places.line]
left = { from_centre = "-5 ft", depth = "8 ft" }
right = { from_centre = "5 ft", depth = "2.4 m" }
"""


def _scenarios() -> list[str]:
    files = [read(name) for name in bundled()]
    return [*(file.text for file in files), template(files[0]), _KINDS, _BEST]


def _changes() -> list[str]:
    keys = ("pair.left.height='5 ft 2 in'", "run.shots=512", "policies=[]", "opponents.level=4.0")
    return [*keys, "\0".join(keys), "opponents.drive.speed={kind='constant',value='30 mph'}"]


def _filled_in(form_template: str) -> str:
    """A chart's template with its three examples as rows."""
    lines = form_template.splitlines()
    return "\n".join([*lines[:-3], *(line.removeprefix("# ") for line in lines[-3:])]) + "\n"


def _charts(form_template: str) -> list[str]:
    filled = _filled_in(form_template)
    return [form_template, filled, filled.replace(",", ";"), "sep=\t\n" + filled.replace(",", "\t")]


def _draws() -> list[str]:
    def rows(header: str, row: str) -> str:
        return "\n".join([header, *[row] * 20]) + "\n"

    return [
        rows("pair.left.top_speed,pair.left.time_constant", "12.31 ft/s,0.97 s"),
        rows("opponents.shots.drive,opponents.drive.speed.mean", "48.2,38 mph"),
        rows("pair.both.reaction.sd", '"40 ms"'),
    ]


def _quantities() -> list[str]:
    numbers = [f"5 {unit}" for units in UNITS.values() for unit in units]
    return [*numbers, "5 ft 7 in", "5' 7\"", "-1.5e3 feet", "+.5in"]


def _manifests() -> list[str]:
    file = read(None)
    manifest = manifest_of(build(file), file, file.tables, {"units": "us"})
    return [
        json.dumps(manifest | {"files": {"manifest.json": ""}}),
        '{"program": "reachshare", "options": {"units": 1}, "files": ["a.csv", "../b"]}',
    ]


def _runs_to_rebuild() -> list[str]:
    """Manifests as commands write them, with options of every kind."""
    file = read(None)
    options = [
        {"command": "compare", "units": "us", "no_figures": True, "between": ["halves", "follow"]},
        {"command": "sweep", "vary": ["spacing=4:12:1 ft"], "policy": [], "no_figures": False},
        {"command": "positions", "grid": "3 ft", "in_time": 20.0, "worth": [1.0, 0.5]},
    ]
    files = {"files": {"summary.csv": "0" * 64}}
    scenario = build(file)
    return [json.dumps(manifest_of(scenario, file, file.tables, o) | files) for o in options]


def seeds(target: str) -> list[bytes]:
    """Valid inputs of a target."""
    texts = {
        "scenario": _scenarios,
        "changes": _changes,
        "third_shots": lambda: _charts(THIRD_SHOTS.template),
        "dashes": lambda: _charts(DASHES.template),
        "draws": _draws,
        "sample": lambda: [_SAMPLE, _SAMPLE.replace("1,36.5", '"1","36.5"')],
        "quantity": _quantities,
        "manifest": _manifests,
        "rebuild": _runs_to_rebuild,
        "run_store": lambda: ['{"program": "reachshare", "version": "1", "seed": 1}'],
    }[target]
    return [text.encode() for text in texts()]


def words(target: str) -> list[str]:
    """What readers look for: keys and words of the schema, units, columns, keys of numbers."""
    units = [unit for dimension in UNITS.values() for unit in dimension]
    if target in ("third_shots", "dashes"):
        columns = (THIRD_SHOTS if target == "third_shots" else DASHES).columns
        also = [word for column in columns for known in column.words.values() for word in known]
        return [*(c.name for c in columns), *(w for c in columns for w in c.words), *also, *units]
    if target == "draws":
        numbers = numeric_settings(build(read(None)))
        return [*(setting.key for setting in numbers), *units]
    if target in ("scenario", "changes"):
        return [*dict.fromkeys([*_said(json_schema()), *units, "[[policies]]", "extends = "])]
    return units


def _said(schema: Any) -> Iterator[str]:
    """Names and allowed words of a JSON schema, wherever they stand."""
    if isinstance(schema, dict):
        yield from schema.get("properties", {})
        yield from (word for word in schema.get("enum", []) if isinstance(word, str))
        yield from [schema["const"]] if isinstance(schema.get("const"), str) else []
    parts = schema.values() if isinstance(schema, dict) else schema
    for part in parts if isinstance(schema, dict | list) else ():
        yield from _said(part)
