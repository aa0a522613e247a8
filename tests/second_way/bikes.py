"""Random bikes over the full range of a bench file, from a seed; together they use every key that is computed.

A bike is the bench file's tables with typed strings ("34.6 mm"), so that it goes through the reader like any other.
None of them locks and none is at fault; one in a few rests short, sits at an end of its travel or has no pressure that
keeps something, because those answers must agree too.
"""

from __future__ import annotations

import json
import math
import random
from typing import Any

Tables = dict[str, Any]

NEGATIVE = ("self-equalising", "self-equalising", "separate-valve", "coil", "none", "self-equalising")
WAYS = ("shaft", "piston-spacer", "chassis", "shaft")
DROP_FROM = (None, "rear axle", "front axle", "axle line")
POSTURE = ("standing", "seated")


def mm(value_m: float) -> str:
    return f"{value_m * 1e3:.12g} mm"


def ml(value_m3: float) -> str:
    return f"{value_m3 * 1e6:.12g} ml"


def text(tables: Tables) -> str:
    """The bike as a bench file."""
    lines: list[str] = []

    def write(name: str, table: Tables) -> None:
        inner = {k: v for k, v in table.items() if isinstance(v, dict) and k != "negative_coil"}
        if name:
            lines.append(f"[{name}]")
        for key, value in table.items():
            if key == "negative_coil":
                lines.append(f"{key} = {{ " + ", ".join(f"{k} = {json.dumps(v)}" for k, v in value.items()) + " }")
            elif key not in inner:
                lines.append(f"{key} = {json.dumps(value)}")
        for key, value in inner.items():
            write(f"{name}.{key}" if name else key, value)

    write("", tables)
    return "\n".join(lines) + "\n"


def frame_and_wheels(rng: random.Random, number: int, fork_offset_m: float, tables: Tables) -> float:
    """Fill in a chart that closes, and wheels; gives the chart's fork length."""
    head, seat = math.radians(rng.uniform(61.0, 74.0)), rng.uniform(70.0, 79.0)
    front_r = rng.choice((0.342, 0.369, 0.372)) + rng.uniform(-0.004, 0.004)
    rear_r = front_r if number % 3 else front_r - rng.uniform(0.01, 0.025)
    reach, stack, stay = rng.uniform(0.38, 0.52), rng.uniform(0.57, 0.66), rng.uniform(0.41, 0.46)
    drop, head_tube, headset = rng.uniform(-0.01, 0.04), rng.uniform(0.09, 0.15), rng.choice((0.0, 0.012))
    rear_x, axle_y = -math.sqrt(stay**2 - drop**2), drop + front_r - rear_r
    along = (stack + fork_offset_m * math.cos(head) - axle_y) / math.sin(head)
    front_x = reach + along * math.cos(head) + fork_offset_m * math.sin(head)
    length = along - head_tube - headset
    counted = DROP_FROM[number % 4]
    said = drop
    if counted == "front axle":
        said = axle_y
    elif counted == "axle line":
        said = drop + (axle_y - drop) * -rear_x / (front_x - rear_x)
    frame: Tables = {
        "head_angle": f"{math.degrees(head):.15g} deg",
        "seat_angle": f"{seat:.15g} deg",
        "reach": mm(reach),
        "stack": mm(stack),
        "chainstay": mm(stay),
        "bb_drop": mm(said),
        "fork_offset": mm(fork_offset_m),
        "front_radius": mm(front_r),
        "rear_radius": mm(rear_r),
        "fork_length_limit": mm(length + 0.01),
    }
    if counted:
        frame["bb_drop_from"] = counted
    if number % 5 == 1:
        frame["fork_length_straight"] = mm(math.hypot(length, fork_offset_m))
    else:
        frame["fork_length"] = mm(length)
    if number % 2:
        frame |= {
            "head_tube": mm(head_tube + rng.uniform(-0.001, 0.001)),
            "lower_headset": mm(headset),
            "wheelbase": mm(front_x - rear_x + rng.uniform(-0.002, 0.002)),
            "front_centre": mm(math.hypot(front_x, axle_y) + rng.uniform(-0.002, 0.002)),
            "bb_height": mm(rear_r - drop + rng.uniform(-0.001, 0.001)),
            "rear_tyre_room": mm(rear_r + rng.uniform(0.002, 0.02)),
        }
    tables["frame"] = frame
    tables["front_wheel"] = (
        {"radius": mm(front_r)} if number % 4 == 3 else {"bead_seat": "622 mm", "tyre_height": mm(front_r - 0.311)}
    )
    tables["rear_wheel"] = (
        {"bead_seat": "584 mm", "tyre_height": mm(rear_r - 0.292)} if number % 4 else {"radius": mm(rear_r)}
    )
    if number % 5 in (0, 2):
        tables["rear_wheel"]["sag"] = mm(rng.uniform(0.0, 0.06))
    return length


def air_spring(
    rng: random.Random, number: int, kind: str, most_travel_m: float, added_m: float, mass_kg: float
) -> Tables:
    """An air spring with room for the longest travel of the plan; ``added_m`` is what a piston spacer would take out."""
    psi = mass_kg * rng.uniform(0.55, 1.15)
    bore, shaft = rng.uniform(0.027, 0.040), rng.uniform(0.008, 0.013)
    area, ring = math.pi / 4 * bore**2, math.pi / 4 * (bore**2 - shaft**2)
    spacers, spacer, oil, grease = (
        rng.randint(0, 4),
        rng.uniform(5e-6, 14e-6),
        rng.uniform(0.0, 5e-6),
        rng.uniform(0.0, 4e-6),
    )
    ratio = rng.uniform(1.8, 4.0)
    net = area * (most_travel_m + abs(added_m)) * ratio / (ratio - 1.0) + (3 - min(spacers, 3)) * spacer
    air: Tables = {
        "bore": mm(bore),
        "shaft": mm(shaft),
        "positive_volume": ml(net + spacers * spacer + oil),
        "oil_on_piston": ml(oil),
        "spacers": spacers,
        "spacer_volume": ml(spacer),
        "spacer_limit": 5,
        "pressure": f"{psi:.12g} psi",
        "pressure_limit": f"{rng.uniform(100.0, 200.0):.12g} psi",
    }
    if kind != "self-equalising" or number % 2:
        air["negative"] = kind
    if kind in ("self-equalising", "separate-valve"):
        air["negative_volume"] = ml(rng.uniform(0.12, 0.6) * net + ring * abs(added_m) + grease)
        air["grease_in_negative"] = ml(grease)
    if kind == "self-equalising":
        air["port_position"] = mm(rng.choice((0.0, rng.uniform(0.5, 10.0), rng.uniform(10.0, 30.0))) * 1e-3)
        air["port_length"] = mm(rng.choice((0.0, rng.uniform(1.0, 12.0))) * 1e-3)
    if kind == "separate-valve":
        air["negative_pressure"] = f"{psi * rng.uniform(0.4, 1.2):.12g} psi"
    if kind == "coil":
        air["negative_coil"] = {"rate": f"{rng.uniform(1.0, 9.0):.12g} N/mm", "length": mm(rng.uniform(0.01, 0.05))}
    return air


def change_of(
    rng: random.Random, number: int, by: str, travel_m: float, added_m: float, fork: Tables, mass_kg: float
) -> Tables:
    """What is asked for; every key in turn."""
    change: Tables = {"travel": mm(travel_m + added_m)}
    if by != "shaft" or number % 3:
        change["by"] = by
    if by == "piston-spacer":
        change["spacer_solid_volume"] = ml(rng.uniform(0.0, 0.3) * math.pi / 4 * 0.027**2 * abs(added_m))
    air = fork["air"]
    if by == "chassis" and number % 8 in (4, 5):  # another air spring altogether
        kind = NEGATIVE[(number // 8 + 2) % len(NEGATIVE)]
        change["air"] = air_spring(rng, 1, kind, travel_m + max(added_m, 0.0), 0.0, mass_kg)
    elif by == "chassis":
        area = math.pi / 4 * (float(air["bore"].split()[0]) * 1e-3) ** 2
        volume = float(air["positive_volume"].split()[0]) * 1e-6
        change["air"] = {"positive_volume": ml(volume + area * max(added_m, 0.0) + 5e-6), "oil_on_piston": "3 ml"}
        if "negative_volume" in air:
            change["air"]["negative_volume"] = ml(rng.uniform(20e-6, 90e-6))
    said = change.get("air", {})
    if number % 2 and "spacers" not in said:
        change["spacers"] = rng.randint(0, 3)
    if number % 3 != 2 and "pressure" not in said:
        change["pressure"] = f"{mass_kg * rng.uniform(0.55, 1.15):.12g} psi"
    if number % 4 == 1:
        change["offset"] = mm(rng.uniform(0.037, 0.051))
    if number % 7 == 1:
        change["fork_length"] = (
            mm(float(fork["length"].split()[0]) * 1e-3 + added_m * 0.9) if "length" in fork else "540 mm"
        )
    if number % 3 == 1:
        change["front_wheel"] = {"bead_seat": "584 mm", "tyre_height": mm(rng.uniform(0.05, 0.07))}
    elif number % 6 == 3:
        change["front_wheel"] = {"radius": mm(rng.uniform(0.34, 0.375))}
    if number % 5 == 3:
        change["rear_wheel"] = {"radius": mm(rng.uniform(0.34, 0.375))}
    elif number % 10 == 2:
        change["rear_wheel"] = {"bead_seat": "559 mm", "tyre_height": mm(rng.uniform(0.05, 0.07)), "sag": "30 mm"}
    return change


def bike(number: int, seed: int = 1976) -> Tables:
    """Bike ``number`` of the seed."""
    rng = random.Random(f"{seed}-{number}")
    kind, by = NEGATIVE[number % len(NEGATIVE)], WAYS[(number // 2) % len(WAYS)]
    travel = rng.uniform(0.08, 0.20)
    added = rng.choice((-1, 1)) * rng.uniform(0.004, 0.03)
    most = travel + max(added, 0.0)
    tables: Tables = {"conditions": {"temperature": f"{rng.uniform(-5.0, 35.0):.12g} degC"}}
    if number % 3 == 0:
        tables["conditions"]["altitude"] = f"{rng.uniform(-200.0, 4000.0):.12g} m"
    elif number % 3 == 1:
        tables["conditions"]["ambient_pressure"] = f"{rng.uniform(80e3, 105e3):.12g} Pa"
    if number % 4:
        tables["conditions"]["fast_exponent"] = round(rng.uniform(1.0, 1.4), 6)
    mass = rng.uniform(45.0, 115.0)
    tables["rider"] = {"mass": f"{mass:.12g} kg", "front_share": round(rng.uniform(0.32, 0.52), 6)}
    tables["bike"] = {
        "mass": f"{rng.uniform(10.0, 24.0):.12g} kg",
        "unsprung_front": f"{rng.uniform(2.0, 4.0):.12g} kg",
        "unsprung_rear": f"{rng.uniform(2.0, 5.0):.12g} kg",
    }
    offset = rng.uniform(0.037, 0.051)
    length = frame_and_wheels(rng, number, offset, tables) + rng.uniform(-0.01, 0.01)
    fork: Tables = {
        "travel": mm(travel),
        "travel_limit": mm(travel + 0.02),
        "overtravel": mm(rng.uniform(0.0, 0.005)),
        "tyre_room": mm(travel + 0.372 + rng.uniform(0.0, 0.02)),
        "brace_room": mm(0.372 + rng.uniform(0.0, 0.02)),
        "friction": f"{rng.uniform(0.0, 25.0):.12g} N",
    }
    if number % 6 == 1:
        fork["length_straight"] = mm(math.hypot(length, offset))
        fork["offset"] = mm(offset)
    elif number % 6 != 4:  # else the chart's own fork
        fork["length"] = mm(length)
        fork["offset"] = mm(offset)
    if number % 2:
        fork["friction_per_bar"] = f"{rng.uniform(0.0, 3.0):.12g} N"
    if number % 3:
        fork["friction_side"] = round(rng.uniform(0.0, 0.3), 6)
    spring_added = added if by == "piston-spacer" else 0.0
    fork["air"] = air_spring(rng, number, kind, most, spring_added, mass)
    if number % 4 != 2:
        area = rng.uniform(1200e-6, 2000e-6)
        fork["lower_legs"] = {"air_volume": ml(area * most * rng.uniform(1.4, 3.0)), "area": f"{area * 1e6:.12g} mm^2"}
    if number % 3 == 1:
        rod = rng.uniform(0.008, 0.013)
        fork["damper"] = {
            "rod": mm(rod),
            "gas_pressure": f"{rng.uniform(0.0, 10.0):.12g} bar",
            "gas_volume": ml(math.pi / 4 * rod**2 * most * rng.uniform(1.5, 4.0)),
        }
    if number % 5 != 4:
        fork["bumper"] = {"length": mm(rng.uniform(0.004, 0.012)), "rate": f"{rng.uniform(20.0, 150.0):.12g} N/mm"}
        fork["bumper"]["power"] = rng.choice((1, 2, round(rng.uniform(1.0, 4.0), 3)))
    if number % 4 in (0, 3):
        fork["top_out"] = {"length": mm(rng.uniform(0.002, 0.008)), "rate": f"{rng.uniform(2.0, 30.0):.12g} N/mm"}
        fork["top_out"]["power"] = rng.choice((1, 2, round(rng.uniform(1.0, 3.0), 3)))
    tables["fork"] = fork
    if number % 4 == 0:
        tables["found"] = {
            "sag": mm(travel * rng.uniform(0.15, 0.3)),
            "pressure": f"{rng.uniform(50.0, 110.0):.12g} psi",
            "posture": POSTURE[number % 2],
        }
        if number % 8 == 4:
            tables["found"]["read_at"] = mm(0.002 + 0.001 * (number % 9))
    tables["change"] = change_of(rng, number, by, travel, added, fork, mass)
    return tables


def bikes(count: int = 50, seed: int = 1976) -> list[Tables]:
    return [bike(number, seed) for number in range(count)]
