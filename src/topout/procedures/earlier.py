"""Texts in the grammar of before, which jobs under way are pinned to: translated into today's, once, before they are read.

Only pinned texts come through here. Before, a piece of evidence was known to the rest of the tool by its key; this is
the one place that still knows those keys. Nothing that such a text says is changed.
"""

from __future__ import annotations

import copy
from typing import Any, Final

# key of a piece of evidence -> its roles
_ROLES: Final[dict[str, list[str]]] = {
    "exposed-length": ["full-length"],
    "found-axle-to-crown": ["axle-to-crown"],
    "found-pressure": ["found-pressure"],
    "new-shaft-length": ["new-shaft"],
    "ring-depth": ["ring-depth"],
    "rebound-clicks": ["rebound-clicks"],
    "rebound-range": ["rebound-range"],
    "compression-clicks": ["compression-clicks"],
    "found-temperature": ["temperature"],
    "left-temperature": ["temperature"],
    "leak-start-pressure": ["hold-start-pressure"],
    "leak-start-temperature": ["temperature", "hold-start-temperature"],
    "leak-end-temperature": ["temperature", "hold-temperature"],
    "rest-length": ["rest-length"],
    "rest-drawn-in": ["drawn-in"],
    "found-posture": ["posture"],
    "left-posture": ["posture"],
    "left-pump": ["pump"],
    "left-negative-pump": ["pump"],
    "brake": ["brake"],
    "axle": ["axle"],
    "stem": ["stem"],
}
_MEANS: Final = {
    "Standing": "standing", "Seated": "seated", "Not measured": "not-measured",
    "On while it was set": "stayed-on", "Pushed on to read": "pushed-on",
}  # fmt: skip


def translate(table: dict[str, Any]) -> dict[str, Any]:
    """A parsed file of the grammar of before as one of today's. What it can't make sense of it leaves to the reader."""
    table = copy.deepcopy(table)
    table["grammar"] = 2
    for group in _tables(table, "group"):
        for step in _tables(group, "step"):
            _step(step)
    return table


def _step(step: dict[str, Any]) -> None:
    if step.get("hold") is True:  # no step of that grammar took "not done, because…"; its hold points still take none
        step["may_skip"] = False
    after = step.pop("after", None)
    if isinstance(after, dict):
        step["wait"] = {("after" if key == "step" else key): value for key, value in after.items()}
    elif after is not None:
        step["wait"] = after
    for each in _tables(step, "evidence"):
        given = _ROLES.get(each.get("key", ""))
        if given is None:
            continue
        each["role"] = given
        options = each.get("options")
        if isinstance(options, list) and given[0] in ("posture", "pump"):
            each["means"] = [_MEANS.get(option, "") for option in options]


def _tables(table: dict[str, Any], key: str) -> list[dict[str, Any]]:
    value = table.get(key)
    return [each for each in value if isinstance(each, dict)] if isinstance(value, list) else []
