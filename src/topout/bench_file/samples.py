"""How each key of the bench file is written: one value of a plausible bike, for sentences, forms and documents.

The keys of `[change.air]` are written as those of `[fork.air]`. Tests: every key of the model has one and it is read.
"""

from __future__ import annotations

from typing import Final

_WHEEL: Final = {"bead_seat": '"622 mm"', "tyre_height": '"58 mm"', "radius": '"369 mm"', "sag": '"45 mm"'}
_BUMPER: Final = {"length": '"8 mm"', "rate": '"60 N/mm"', "power": "2"}

SAMPLES: Final[dict[str, dict[str, str]]] = {
    "conditions": {
        "temperature": '"20 degC"', "altitude": '"450 m"', "ambient_pressure": '"96000 Pa"', "fast_exponent": "1.3",
    },
    "ride": {"temperature": '"5 degC"', "altitude": '"1500 m"'},
    "rider": {"mass": '"82 kg"', "front_share": "0.42", "posture": '"standing"'},
    "bike": {"mass": '"15 kg"', "unsprung_front": '"3.0 kg"', "unsprung_rear": '"3.5 kg"'},
    "frame": {
        "head_angle": '"65.5 deg"', "seat_angle": '"77 deg"', "reach": '"470 mm"', "stack": '"625 mm"',
        "chainstay": '"435 mm"', "bb_drop": '"25 mm"', "bb_drop_from": '"rear axle"', "fork_length": '"546 mm"',
        "fork_length_straight": '"548 mm"', "fork_offset": '"44 mm"', "front_radius": '"369 mm"',
        "rear_radius": '"369 mm"', "fork_length_limit": '"556 mm"', "head_tube": '"121 mm"',
        "lower_headset": '"12 mm"', "wheelbase": '"1225 mm"', "front_centre": '"795 mm"', "bb_height": '"344 mm"',
        "rear_tyre_room": '"380 mm"',
    },
    "front_wheel": _WHEEL,
    "rear_wheel": _WHEEL,
    "fork": {
        "length": '"546 mm"', "length_straight": '"548 mm"', "offset": '"44 mm"', "travel": '"150 mm"',
        "travel_limit": '"170 mm"', "stanchion": '"36 mm"', "overtravel": '"3 mm"', "tyre_room": '"533 mm"', "brace_room": '"375 mm"',
        "friction": '"12 N"', "friction_per_bar": '"2 N"', "friction_side": "0.2",
    },
    "fork.air": {
        "bore": '"34.6 mm"', "shaft": '"10 mm"', "positive_volume": '"245 ml"', "negative_volume": '"45 ml"',
        "negative": '"self-equalising"', "port_position": '"3 mm"', "port_length": '"2 mm"', "spacers": "1",
        "spacer_volume": '"8.5 ml"', "spacer_limit": "4", "oil_on_piston": '"4 ml"', "grease_in_negative": '"2 ml"',
        "pressure": '"62 psi"', "pressure_limit": '"120 psi"', "negative_pressure": '"62 psi"',
        "negative_coil": '{ rate = "4 N/mm", length = "30 mm" }', "second_volume": '"40 ml"',
        "second_pressure": '"110 psi"',
    },
    "fork.coil": {"rate": '"7.5 N/mm"', "preload": '"6 mm"', "bind": '"165 mm"'},
    "fork.air.negative_coil": {"rate": '"4 N/mm"', "length": '"30 mm"'},
    "fork.lower_legs": {"air_volume": '"400 ml"', "area": '"1880 mm^2"'},
    "fork.damper": {"rod": '"10 mm"', "gas_pressure": '"2 bar"', "gas_volume": '"60 ml"'},
    "fork.bumper": _BUMPER,
    "fork.top_out": _BUMPER,
    "shock": {
        "length": '"210 mm"', "stroke": '"55 mm"', "body": '"58 mm"', "friction": '"20 N"', "sag": '"16 mm"',
        "leverage": '[["0 mm", 2.85], ["70 mm", 2.56], ["141 mm", 2.33]]',
        "leverage_stroke": '[["0 mm", "0 mm"], ["70 mm", "26 mm"], ["141 mm", "55 mm"]]',
    },
    "shock.air": {
        "bore": '"50 mm"', "shaft": '"40 mm"', "positive_volume": '"180 ml"', "negative_volume": '"45 ml"',
        "negative": '"self-equalising"', "port_position": '"3 mm"', "port_length": '"2 mm"', "spacers": "1",
        "spacer_volume": '"6 ml"', "spacer_limit": "5", "oil_on_piston": '"1 ml"', "grease_in_negative": '"1 ml"',
        "pressure": '"135 psi"', "pressure_limit": '"350 psi"', "negative_pressure": '"135 psi"',
        "negative_coil": '{ rate = "4 N/mm", length = "15 mm" }', "second_volume": '"15 ml"', "second_pressure": '"250 psi"',
    },
    "shock.air.negative_coil": {"rate": '"4 N/mm"', "length": '"15 mm"'},
    "shock.coil": {"rate": '"70 N/mm"', "preload": '"2 mm"', "bind": '"65 mm"'},
    "shock.damper": {"rod": '"10 mm"', "gas_pressure": '"12 bar"', "gas_volume": '"20 ml"'},
    "shock.bumper": {"length": '"7 mm"', "rate": '"150 N/mm"', "power": "2"},
    "found": {
        "sag": '"38 mm"', "pressure": '"60 psi"', "read_at": '"6 mm"', "posture": '"standing"', "settles": '"3 + 3"',
        "reading": '[{ travel = "70 mm", pressure = "94 psi", hose = "3 ml", start = "60 psi" }]',
    },
    "guessed": {"fork": '"bore, positive_volume"', "shock": '"bore"'},
    "change": {
        "travel": '"140 mm"', "by": '"shaft"', "spacer_solid_volume": '"5 ml"', "spacers": "1", "pressure": '"62 psi"',
        "offset": '"44 mm"', "fork_length": '"536 mm"',
    },
    "change.shock": {
        "stroke": '"52.5 mm"', "spacers": "2", "spacer_volume": '"6 ml"', "pressure": '"140 psi"', "rate": '"75 N/mm"', "preload": '"2 mm"', "bind": '"65 mm"',
    },
    "change.front_wheel": _WHEEL,
    "change.rear_wheel": _WHEEL,
}  # fmt: skip


def sample(path: tuple[str, ...]) -> str:
    """How the key at a path is written: `("fork", "air", "bore")` -> `bore = "34.6 mm"`."""
    *table, word = path
    home = ".".join(table).replace("change.air", "fork.air", 1).replace("change.coil", "fork.coil", 1)
    return f"{word} = {SAMPLES[home][word]}"
