"""What a scenario can be made from: a file to fill in, and a schema for editors."""

from __future__ import annotations

from typing import Any, Final

from sim.scenario import Scenario
from sim.scenario_files import ScenarioFile, build, bundled

_TEMPLATE: Final = """\
# A scenario to fill in. Every line that starts with # is a remark; take the # away to use it.
# Quantities carry their unit: "5 ft 7 in", "1.70 m", "38 mph", "61 km/h", "0.30 s".
# All settings, with their defaults: reachshare scenario show --full
extends = "PARENT"
name = "My pair"
question = "What should this pair be taught?"

[pair.left]                  # left and right as the pair faces the net
height = "LEFT_HEIGHT"
# handed = "left"
# age_group = "seventies"    # thirties, forties ... seventies: sets reaction and top speed
# top_speed = "12 ft/s"      # or measure it: see the README
# full_stretch = "70 in"     # from the middle of the standing mark to the tip of the paddle

[pair.right]
height = "RIGHT_HEIGHT"

[return_of_serve]
# side = "odd"               # even: the right-hand player returns; odd: the left-hand one

[run_in]
# partner_starts = "line"    # the returner's partner waits at the line; baseline: both are back

[opponents]
level = "LEVEL"                # 3.0, 3.5, 4.0, 4.5, 5.0 or professional
# shots = { drive = 60, drop = 35, lob = 5 }       # what they play, if you have counted it
# lanes = { line = 35, middle = 40, cross = 25 }   # where they aim it

# [opponents.drive]
# speed = { kind = "normal", mean = "38 mph", sd = "4 mph" }

# [air]
# wind_from_behind = "6 mph"

# Policies of your own replace the usual ones.
# [[policies]]
# name = "halves"
# rule = "halves"
#
# [[policies]]
# name = "follow, six feet apart"
# rule = "follow"
# spacing = "6 ft"
# shift = 0.4
"""


def template(parent: ScenarioFile) -> str:
    """A scenario to fill in that says what the bundled one says it builds on."""
    loaded = build(parent)
    text = _TEMPLATE.replace("PARENT", parent.short_name)
    for name, player in (("LEFT", loaded.pair.left), ("RIGHT", loaded.pair.right)):
        inches = round(12.0 * player.height)
        text = text.replace(f"{name}_HEIGHT", f"{inches // 12} ft {inches % 12} in")
    return text.replace("LEVEL", loaded.opponents.level)


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of scenario files."""
    schema = Scenario.model_json_schema(mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "reachshare scenario"
    schema["properties"]["extends"] = {"enum": bundled(), "description": "scenario to build on"}
    # A scenario without a name takes its file's.
    schema["required"] = [name for name in schema.get("required", []) if name != "name"]
    return schema
