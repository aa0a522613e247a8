"""The demo workshop's people, bikes and units. Every name is made up and belongs to no maker, shop or person."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Final

from topout.web.book.tables import Tables

OWNER = ("maud", "Maud", "Askel")
TECHNICIAN = ("jory", "Jory", "Pask")

INSTRUMENTS = (  # code, kind, name, dimension, span, mark, class, hose
    ("P1", "gauge", "shop gauge", "pressure", "300 psi", "2 psi", 1.6, "1 ml"),
    ("P2", "gauge", "pump", "pressure", "300 psi", "1 psi", 1.0, "3 ml"),
    ("M1", "tape", "tape", "length", "1000 mm", "1 mm", None, ""),
    ("C1", "caliper", "caliper", "length", "150 mm", "0.02 mm", None, ""),
    ("T1", "thermometer", "thermometer", "temperature", "50 degC", "0.5 degC", None, ""),
    ("S1", "scale", "scale", "mass", "50 kg", "0.01 kg", None, ""),
    ("W1", "torque wrench", "torque wrench", "torque", "25 N·m", "0.5 N·m", None, ""),
)

RIDERS: dict[str, dict[str, object]] = {
    "telvik": {"name": "Runa Telvik", "phone": "0555 0101", "tables": {"rider": {"mass": "76 kg", "front_share": 0.39}}},
    "harrow": {"name": "Pell Harrow", "phone": "0555 0102", "tables": {"rider": {"mass": "84 kg"}}},
    "moorcott": {"name": "Idris Moorcott", "phone": "0555 0103", "tables": {"rider": {"mass": "91 kg"}}},
    "santerre": {"name": "Teo Santerre", "phone": "0555 0104", "address": "7 Kiln Row", "tables": {}},
    "brask": {"name": "Aino Brask", "phone": "0555 0105", "tables": {"rider": {"mass": "63 kg"}}},
    "penn": {"name": "Lowri Penn", "phone": "0555 0106", "tables": {"rider": {"mass": "70 kg"}}},
    "oden": {"name": "Marek Oden", "phone": "0555 0107", "tables": {"rider": {"mass": "79 kg"}}},
    "vauquelle": {
        "name": "Léonie Vauquellé", "phone": "0555 0108", "email": "leonie@mail.example",
        "tables": {"rider": {"mass": "68 kg", "front_share": 0.41}},
    },
    "tallis": {"name": "Wenna Tallis", "phone": "0555 0110", "tables": {"rider": {"mass": "63 kg", "front_share": 0.4}}},
    "tarnow": {"name": "Bryn Tarnow", "phone": "0555 0109", "tables": {"rider": {"mass": "88 kg", "front_share": 0.42}}},
}  # fmt: skip

_WHEEL = {"bead_seat": "622 mm", "tyre_height": "58 mm"}
HOLLIN: Tables = {  # the bike of the plan that the start command prints
    "bike": {"mass": "14.2 kg", "unsprung_front": "2.9 kg"},
    "frame": {
        "head_angle": "66.2 deg", "seat_angle": "76.4 deg", "reach": "452 mm", "stack": "622 mm", "chainstay": "434 mm",
        "bb_drop": "33 mm", "fork_length": "536 mm", "fork_offset": "44 mm", "front_radius": "369 mm",
        "rear_radius": "369 mm", "fork_length_limit": "550 mm",
    },
    "front_wheel": dict(_WHEEL), "rear_wheel": dict(_WHEEL),
}  # fmt: skip
QUILLON: Tables = {
    "fork": {
        "length": "536 mm", "offset": "44 mm", "travel": "140 mm", "overtravel": "3 mm", "tyre_room": "521.4 mm",
        "friction": "14 N",
    },
    "fork.air": {
        "bore": "34 mm", "shaft": "10 mm", "positive_volume": "233 ml", "negative_volume": "50 ml",
        "port_position": "3 mm", "spacers": 2, "spacer_volume": "8.5 ml", "spacer_limit": 4, "oil_on_piston": "4 ml",
        "pressure_limit": "120 psi",
    },
    "fork.lower_legs": {"air_volume": "390 ml", "area": "1570 mm^2"},
    "fork.bumper": {"length": "8 mm", "rate": "70 N/mm", "power": 2},
}  # fmt: skip
# The tyre stands nearer to the crown than the step wants; the owner signed why the plan was made all the same.
HOLLIN_REASON = (
    "62 mm is the tallest tyre she rides. Measured again at the stand before it goes out; else back to 58 mm."
)
HOLLIN_CHANGE: Tables = {
    "change": {"travel": "150 mm", "spacers": 1, "pressure": "70 psi"},
    "change.front_wheel": {"bead_seat": "622 mm", "tyre_height": "62 mm"},
}
TARRAGON: Tables = {  # a longer, slacker bike
    "bike": {"mass": "15.1 kg", "unsprung_front": "3.1 kg", "unsprung_rear": "3.6 kg"},
    "frame": {
        "head_angle": "64.8 deg", "seat_angle": "77 deg", "reach": "475 mm", "stack": "634 mm", "chainstay": "438 mm",
        "bb_drop": "28 mm", "fork_length": "556 mm", "fork_offset": "44 mm", "front_radius": "371 mm",
        "rear_radius": "371 mm", "fork_length_limit": "570 mm",
    },
    "front_wheel": {"radius": "371 mm"}, "rear_wheel": {"radius": "371 mm", "sag": "43 mm"},
}  # fmt: skip
LINNET: Tables = {  # a family with its port at full extension
    "fork": {"length": "556 mm", "offset": "44 mm", "travel": "160 mm", "tyre_room": "543 mm", "friction": "16 N"},
    "fork.air": {
        "bore": "35 mm", "shaft": "10 mm", "positive_volume": "252 ml", "negative_volume": "62 ml", "spacers": 1,
        "spacer_volume": "9 ml", "spacer_limit": 5, "oil_on_piston": "3 ml", "pressure_limit": "140 psi",
    },
    "fork.lower_legs": {"air_volume": "420 ml", "area": "1640 mm^2"},
}  # fmt: skip
FELLSIDE: Tables = {  # a bike of which both ends are known
    "bike": {"mass": "15.4 kg", "unsprung_front": "3.1 kg", "unsprung_rear": "3.6 kg"},
    "frame": {
        "head_angle": "64.6 deg", "seat_angle": "76.8 deg", "reach": "462 mm", "stack": "630 mm", "chainstay": "437 mm",
        "bb_drop": "27 mm", "fork_length": "556 mm", "fork_offset": "44 mm", "front_radius": "371 mm",
        "rear_radius": "371 mm", "fork_length_limit": "570 mm",
    },
    "front_wheel": {"bead_seat": "622 mm", "tyre_height": "60 mm"}, "rear_wheel": {"bead_seat": "622 mm", "tyre_height": "60 mm"},
    "shock": {
        "leverage": [
            ["0 mm", 2.88], ["28 mm", 2.76], ["56 mm", 2.65], ["84 mm", 2.55], ["112 mm", 2.47], ["136.5 mm", 2.41],
        ],
    },
}  # fmt: skip
BRACKEN: Tables = {
    "fork": {"length": "556 mm", "offset": "44 mm", "travel": "150 mm", "tyre_room": "543 mm", "friction": "16 N"},
    "fork.air": {
        "bore": "35 mm", "shaft": "10 mm", "positive_volume": "244 ml", "negative_volume": "60 ml",
        "negative": "self-equalising", "port_position": "0 mm", "spacers": 1, "spacer_volume": "9 ml", "spacer_limit": 5,
        "oil_on_piston": "3 ml", "grease_in_negative": "0 ml", "pressure": "62 psi", "pressure_limit": "140 psi",
    },
    "fork.lower_legs": {"air_volume": "420 ml", "area": "1640 mm^2"},
    "fork.bumper": {"length": "8 mm", "rate": "70 N/mm", "power": 2},
}  # fmt: skip
TEASEL: Tables = {
    "shock": {"length": "205 mm", "stroke": "52.5 mm", "friction": "22 N"},
    "shock.air": {
        "bore": "45 mm", "shaft": "30 mm", "positive_volume": "142 ml", "negative_volume": "44 ml",
        "negative": "self-equalising", "port_position": "0 mm", "spacers": 1, "spacer_volume": "6 ml", "spacer_limit": 4,
        "pressure": "124 psi", "pressure_limit": "300 psi",
    },
    "shock.damper": {"rod": "10 mm", "gas_pressure": "13 bar", "gas_volume": "18 ml"},
    "shock.bumper": {"length": "6 mm", "rate": "90 N/mm"},
}  # fmt: skip
FELLSIDE_CHANGE: Tables = {"change": {"pressure": "60 psi"}, "change.shock": {"spacers": 2, "pressure": "125 psi"}}

FAMILIES = {
    "quillon": ("Quillon 35", "fork", QUILLON, "measured here on two units"),
    "linnet": ("Linnet", "fork", LINNET, "measured here on one unit"),
    "ashlar": ("Ashlar", "fork", {"fork": {"travel": "150 mm"}}, ""),
}
# What the demo's sheets say: family -> sheet, its values. Figures of no maker's sheet; between what benches meet.
SHEETS: dict[str, tuple[str, dict[str, str]]] = {
    "quillon": ("Quillon 35 service sheet, issue 3", {
        "torque.foot-bolt": "7.5 N·m", "torque.top-cap": "24 N·m", "torque.axle": "11 N·m", "oil.lower-left": "12 ml",
        "oil.lower-right": "9 ml", "oil.lower-name": "bath oil B", "oil.lower-viscosity": "26", "oil.air-chamber": "4 ml",
        "grease.seals": "thin, on the piston’s seal; none in the port", "size.wiper": "35 mm", "interval.lowers": "60",
        "interval.whole": "180", "pressure.limit": "120 psi", "tools": "flat-ground 28 mm socket, shaft clamp 10 mm",
    }),
    "linnet": ("Linnet workshop notes, second edition", {
        "torque.foot-bolt": "680 N·cm", "torque.top-cap": "22 N·m", "oil.lower-left": "15 ml", "oil.lower-right": "15 ml",
        "oil.lower-name": "bath oil C", "oil.lower-viscosity": "32", "interval.lowers": "50",
    }),
}  # fmt: skip
SERVICES = (  # rider, bike, unit, kind, title, asked; jobs without a procedure, oldest first, handed over
    ("harrow", "Tarragon trail", "Linnet fork", "50-hour service", "It has had fifty hours. Nothing feels wrong."),
    ("oden", "Sedge hardtail", "Linnet fork", "lower legs and foam rings", "Harsh on small stones since the winter."),
    ("moorcott", "Corrie enduro", "Sorrel rear shock", "air can service", "It loses air over a week."),
    ("penn", "Wharfe trail", "Corvin rear shock", "air can service", "Due by the hours."),
    ("brask", "Skerry trail", "Ashlar fork", "full service", "Before the summer."),
)

# What lies on the Shelf for the Quillon fork and the wheels of the Hollin.
SHELF: Final[tuple[dict[str, Any], ...]] = (
    {"kind": "air shaft", "marking": "150", "measured": {"length": "262 mm", "diameter": "10 mm", "gives": "150 mm", "bore": "34 mm"},
     "cost": Decimal("118"), "place": "drawer 3", "family": "quillon"},
    {"kind": "air shaft", "marking": "130", "measured": {"length": "242 mm", "diameter": "10 mm", "gives": "130 mm", "bore": "34 mm"},
     "cost": Decimal("118"), "on_hand": 0, "waiting_days": 4, "family": "quillon"},
    {"kind": "volume spacer", "marking": "Q-8", "measured": {"volume": "8 ml"}, "cost": Decimal("9.50"), "on_hand": 4,
     "place": "drawer 1", "family": "quillon"},
    {"kind": "tyre", "marking": "54-622", "measured": {"height": "52 mm", "bore": "622 mm"}, "cost": Decimal("48"), "on_hand": 2,
     "place": "rail"},
    {"kind": "tyre", "marking": "62-622", "measured": {"height": "60 mm", "bore": "622 mm"}, "cost": Decimal("52"),
     "waiting_days": 2, "on_hand": 0},
)  # fmt: skip
