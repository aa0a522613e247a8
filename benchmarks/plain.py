"""The plain script: one bike, floats, ``math`` and one ``brentq`` per root.

Written from the physics alone, without a look at the core, so that it is both the second way to every number (tests/
second_way holds the core to it within 1e-9) and the yardstick that the benchmark times the core against. It takes the
dict described in ``plain_input.py``; the air spring is in ``plain_spring.py``, the geometry in ``plain_stance.py``.

    plan(bike)      what ``topout plan --json`` gives, same keys
    curve(bike)     what ``topout curve --json`` gives
    schedule(bike)  what ``topout inflate --json`` gives
    work(sides)     what the benchmark times as (a'): only the given work, from the same functions

``plain_work.py`` holds the same formulas once more in flat loops, for a harder yardstick.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import plain_spring as spring
import plain_stance as stance

Bike = dict[str, Any]
State = dict[str, Any]

GRAVITY_M_PER_S2 = 9.80665
HIGHEST_GAUGE_PA = 60e5  # no pressure above it is looked for
MOST_ROUNDS = 30  # of one filling
POINTS = 201


def changed(bike: Bike) -> Bike:
    """The bike after its ``[change]``: what that does not name stays."""
    after = copy.deepcopy(bike)
    change = after.pop("change", {})
    fork = after.get("fork", {})
    for wheel in ("front_wheel", "rear_wheel"):
        if wheel in change:
            old, new = after.get(wheel, {}), change[wheel]
            if "radius" in new:
                old = {k: v for k, v in old.items() if k not in ("bead_seat", "tyre_height")}
            elif "bead_seat" in new or "tyre_height" in new:
                old = {k: v for k, v in old.items() if k != "radius"}
            after[wheel] = {**old, **new}
    longer_m = change.get("travel", fork.get("travel", 0.0)) - fork.get("travel", 0.0)
    if fork:
        chart = bike.get("frame", {})
        old_offset_m = fork.get("offset", chart.get("fork_offset", 0.0))
        length_m = stance.along_axis_m(fork, "length", old_offset_m)
        if length_m is None and chart:
            length_m = stance.along_axis_m(chart, "fork_length", chart["fork_offset"])
        new_offset_m = change.get("offset", old_offset_m)
        grown_m = longer_m
        if length_m is not None:
            new_length_m = stance.along_axis_m(change, "fork_length", new_offset_m)
            grown_m = longer_m if new_length_m is None else new_length_m - length_m
            fork["length"] = length_m + grown_m
        if "tyre_room" in fork:
            fork["tyre_room"] += grown_m
        fork["offset"] = new_offset_m
        if "travel" in fork:
            fork["travel"] += longer_m
    air = fork.get("air", {})
    by = change.get("by", "shaft")
    if by == "chassis":
        air.update(change.get("air", {}))
    if by == "piston-spacer" and longer_m:
        bore_m2 = math.pi / 4.0 * air["bore"] ** 2
        annulus_m2 = math.pi / 4.0 * (air["bore"] ** 2 - air["shaft"] ** 2)
        solid_m3 = math.copysign(change.get("spacer_solid_volume", 0.0), -longer_m)
        air["positive_volume"] += bore_m2 * longer_m
        if "negative_volume" in air:
            air["negative_volume"] += -annulus_m2 * longer_m - solid_m3
        air["port_position"] = air.get("port_position", 0.0) + longer_m
    legs = fork.get("lower_legs")
    if legs and by != "chassis":
        legs["air_volume"] += legs["area"] * longer_m  # they sit as much lower on the stanchions
    for key in ("spacers", "pressure"):
        if key in change:
            air[key] = change[key]
    return after


class Side:
    """One state of the bike with its load: what is fitted, how it is filled, how it stands."""

    def __init__(self, bike: Bike, drawn: Bike | None, load: Bike | None) -> None:
        self.bike, self.drawn, self.load = bike, drawn, load
        self.state = spring.state(bike)
        self.travel_m = self.state["travel_m"]
        self.parts = stance.fitted(bike, drawn) if drawn else None
        self.locked = spring.locked(self.state)
        if not self.locked:
            self.amounts = spring.sealed(self.state, self.state["fill_abs_pa"])

    def slow_n(self, x: float) -> float:
        return spring.slow_n(self.state, self.amounts, x)

    def filled_n(self, x: float, fill_abs_pa: float) -> float:
        return spring.slow_n(self.state, spring.sealed(self.state, fill_abs_pa), x)

    def load_n(self, x: float) -> float:
        """Along the steering axis, with the head angle at that travel."""
        assert self.load is not None
        if "axial_n" in self.load:
            return float(self.load["axial_n"])
        return float(self.load["wheel_n"] * math.sin(stance.head_angle_rad(self.drawn, self.parts, x)))

    def friction_n(self, x: float) -> float:
        s = self.state
        main, _, _ = spring.pressures(s, self.amounts, x)
        friction = s["friction_n"] + s["friction_n_per_pa"] * (main - s["ambient_abs_pa"])
        if s["friction_side"]:
            head = stance.head_angle_rad(self.drawn, self.parts, x)
            friction += s["friction_side"] * self.load["wheel_n"] * math.cos(head)
        return float(friction)

    def lost_m(self) -> float:
        return spring.lost_travel_m(self.state, self.amounts)

    def sag(self) -> Bike:
        top = self.travel_m
        travel = spring.root(lambda x: self.slow_n(x) - self.load_n(x), top)
        low = spring.root(lambda x: self.slow_n(x) - self.load_n(x) + self.friction_n(x), top)
        high = spring.root(lambda x: self.slow_n(x) - self.load_n(x) - self.friction_n(x), top)
        return {
            "travel_m": travel,
            "share": travel / top,
            "low_m": low,
            "high_m": high,
            "load_n": self.load_n(travel),
            "shown_m": travel - self.lost_m(),
        }

    def geometry(self, front_m: float, rear_m: float) -> Bike:
        return stance.turned(self.drawn, self.parts, front_m, rear_m)


def sides(bike: Bike) -> tuple[Side, Side]:
    """Before and after, with the load that the file gives: found on the bike, else from an assumed share, else none."""
    drawn = stance.chart(bike) if "frame" in bike else None
    rider, mass, found = bike.get("rider"), bike.get("bike", {}), bike.get("found", {})
    load: Bike | None = None
    if "sag" in found and "pressure" in found:
        as_found = copy.deepcopy(bike)
        as_found["fork"]["air"]["pressure"] = found["pressure"]
        if found.get("read_at"):  # the same gas at full extension
            s = spring.state(as_found)
            less = 1.0 - s["piston_m2"] * found["read_at"] / s["main_m3"]
            as_found["fork"]["air"]["pressure"] = s["fill_abs_pa"] * less - s["ambient_abs_pa"]
        at = Side(as_found, drawn, None)
        true_m = found["sag"] + at.lost_m()
        load = {"axial_n": at.slow_n(true_m), "wheel_n": 0.0}
        if drawn:  # the load on the wheel that this comes to, for the side load: one number before and after too
            load["wheel_n"] = load["axial_n"] / math.sin(stance.head_angle_rad(drawn, at.parts, true_m))
        if rider and drawn and "unsprung_front" in mass:
            heavy_kg = rider["mass"] + mass["mass"]
            load["implied_share"] = (load["wheel_n"] / GRAVITY_M_PER_S2 + mass["unsprung_front"]) / heavy_kg
    elif rider and "front_share" in rider and drawn and "unsprung_front" in mass:
        on_wheel_kg = (rider["mass"] + mass["mass"]) * rider["front_share"] - mass["unsprung_front"]
        load = {"wheel_n": on_wheel_kg * GRAVITY_M_PER_S2}
    return Side(bike, drawn, load), Side(changed(bike), drawn, load)


def keep(before: Side, after: Side, sag_m: float | None, share: float | None) -> Bike:
    """Gauge pressure for ``after`` that keeps each property. The force is linear in the pressure filled in."""
    ambient = after.state["ambient_abs_pa"]
    one, two = ambient, ambient + 10e5

    def for_force(x: float, force_n: float) -> float | None:
        low, high = after.filled_n(x, one), after.filled_n(x, two)
        return allowed(one + (force_n - low) / (high - low) * (two - one))

    def allowed(abs_pa: float) -> float | None:
        gauge_pa = abs_pa - ambient
        return gauge_pa if 0.0 <= gauge_pa <= HIGHEST_GAUGE_PA else None

    keeps: Bike = {"sag": None, "sag-share": None}
    if sag_m is not None and 0.0 < sag_m < before.travel_m:
        if sag_m < after.travel_m:
            keeps["sag"] = for_force(sag_m, after.load_n(sag_m))
        assert share is not None
        keeps["sag-share"] = for_force(share * after.travel_m, after.load_n(share * after.travel_m))
    keeps["end-force"] = for_force(after.travel_m, before.slow_n(before.travel_m))

    shorter = min(before, after, key=lambda side: side.travel_m)
    end_m = shorter.travel_m - shorter.state["bumper_m"]
    edges = sorted({*spring.breaks_m(before.state, end_m), *spring.breaks_m(after.state, end_m)})
    amounts = [spring.sealed(after.state, pressure) for pressure in (one, two)]

    # Force at one and at two at every node give the misfit as an exact parabola of the pressure, and that its lowest point.
    across = square = 0.0
    for left, right in zip(edges, edges[1:], strict=False):
        half, middle = (right - left) / 2.0, (right + left) / 2.0
        for node, weight in spring.NODES:
            x = middle + half * node
            at_one = spring.slow_n(after.state, amounts[0], x)
            slope = spring.slow_n(after.state, amounts[1], x) - at_one
            across += half * weight * slope * (before.slow_n(x) - at_one)
            square += half * weight * slope * slope
    keeps["curve"] = allowed(one + across / square * (two - one))
    return {name: {"pressure_pa": pressure} for name, pressure in keeps.items()}


def clearance(after: Side) -> Bike:
    fork, bike, parts = after.bike["fork"], after.bike, after.parts
    chart = bike.get("frame", {})
    front_r = parts["front_radius_m"] if parts else stance.wheel_radius_m(bike.get("front_wheel", {}), None)
    rear_r = parts["rear_radius_m"] if parts else stance.wheel_radius_m(bike.get("rear_wheel", {}), None)

    def room_m(table: Bike, key: str, taken_m: float | None) -> float | None:
        return None if key not in table or taken_m is None else float(table[key] - taken_m)

    bottomed_m = None if front_r is None else after.travel_m + front_r
    return {
        "tyre_to_crown_m": room_m(fork, "tyre_room", bottomed_m),
        "tyre_to_brace_m": room_m(fork, "brace_room", front_r),
        "rear_tyre_to_frame_m": room_m(chart, "rear_tyre_room", rear_r),
    }


def hazard(side: Side) -> Bike:
    """Force on cap and ring, energy of every chamber that may be charged, at full extension and the state's pressure."""
    s = side.state
    ambient = s["ambient_abs_pa"]
    main, negative, _ = spring.pressures(s, side.amounts, 0.0)

    def stored_j(abs_pa: float, volume_m3: float) -> float:
        ratio = abs_pa / ambient
        return ambient * volume_m3 * (ratio * math.log(ratio) - ratio + 1.0)

    energy = stored_j(main, s["main_m3"])
    if s["has_negative_gas"]:
        energy += stored_j(negative, s["negative_m3"])
    if s["rod_m2"]:
        energy += stored_j(s["damper_abs_pa"], s["damper_m3"])
    return {
        "cap_force_n": (main - ambient) * s["piston_m2"],
        "ring_force_n": max((main - ambient) * s["piston_m2"], (negative - ambient) * s["annulus_m2"]),
        "energy_j": energy,
    }


def plan(bike: Bike) -> Bike:
    """Before, after, what each keep sets, room and hazards. The state after is ``None`` where it would lock."""
    before, after = sides(bike)
    results: Bike = {}
    sagged: dict[str, Bike | None] = {}
    for name, side in (("before", before), ("after", after)):
        if side.locked:
            results[name] = None
            continue
        whole = side.load and (side.drawn or not side.state["friction_side"])
        sag = side.sag() if whole else None
        sagged[name] = sag
        geometry = None
        if side.drawn:
            geometry = {"unloaded": side.geometry(0.0, 0.0), "sagged": None}
            if sag:
                geometry["sagged"] = side.geometry(sag["travel_m"], side.parts["rear_sag_m"])
        results[name] = {
            "geometry": geometry,
            "sag": None if sag is None else {"front": {**sag, "implied_share": side.load.get("implied_share")}},
            "end_force_n": side.slow_n(side.travel_m),
            "hazard": hazard(side),
        }
    if not (before.locked or after.locked):
        sag = sagged["before"]
        results["keep"] = keep(before, after, sag and sag["travel_m"], sag and sag["share"])
        results["clearance"] = clearance(after)
    return results


def curve_of(side: Side, points: int = POINTS) -> Bike:
    s, amounts, top = side.state, side.amounts, side.travel_m
    travel = [top * i / (points - 1) for i in range(points)]
    both = [spring.pressures(s, amounts, x) for x in travel]
    sag_m = side.sag()["travel_m"] if side.load else None
    return {
        "travel_m": travel,
        "force_n": [spring.slow_n(s, amounts, x) for x in travel],
        "force_fast_n": [spring.fast_n(s, amounts, x, 0.0) for x in travel],
        "force_fast_from_sag_n": None if sag_m is None else [spring.fast_n(s, amounts, x, sag_m) for x in travel],
        "rate_n_per_m": [spring.rate_n_per_m(s, amounts, x) for x in travel],
        "positive_pa": [main for main, _, _ in both],
        "negative_pa": [negative for _, negative, _ in both],
        "lost_travel_m": side.lost_m(),
        "energy_j": spring.energy_j(s, side.slow_n),
        "energy_fast_j": spring.energy_j(s, lambda x: spring.fast_n(s, amounts, x, 0.0)),
    }


def curve(bike: Bike) -> Bike:
    return curve_of(sides(bike)[0])


def schedule(
    bike: Bike, to_gauge_pa: float, stops_gauge_pa: list[float], gauge_step_pa: float, hose_m3: float = 0.0
) -> Bike:
    """The readings to expect: both chambers from ambient, one stroke past the port after each filling.

    A negative chamber behind its own valve is pumped to its own reading when the main one has its final pressure.
    """
    s = spring.state(bike)
    own_abs_pa, s["negative_fill_abs_pa"] = s["negative_fill_abs_pa"], s["ambient_abs_pa"]
    ambient, main_0, negative_0 = s["ambient_abs_pa"], s["main_m3"], s["negative_m3"]
    shared = s["kind"] == "self-equalising"
    open_at_rest = shared and s["opens_m"] == 0.0
    main_e = main_0 - s["piston_m2"] * s["opens_m"]
    negative_e = negative_0 + s["annulus_m2"] * s["opens_m"]
    negative = ambient * negative_0
    rounds: list[Bike] = []
    settled = None
    fills = [*stops_gauge_pa, *[to_gauge_pa] * MOST_ROUNDS]
    for number, gauge_pa in enumerate(fills, start=1):
        main = (gauge_pa + ambient) * main_0
        if shared and not open_at_rest:
            pooled_abs_pa = (main + negative) / (main_e + negative_e)
            main, negative = pooled_abs_pa * main_e, pooled_abs_pa * negative_e
        after_abs_pa = main / main_0
        after_gauge_pa = after_abs_pa - ambient
        row = {"pumped_to_pa": gauge_pa, "after_stroke_pa": after_gauge_pa}
        if hose_m3:
            row["reading_pa"] = after_gauge_pa / (1.0 + hose_m3 / (main_0 + (negative_0 if open_at_rest else 0.0)))
        if s["kind"] == "separate-valve" and number > len(stops_gauge_pa):
            s["negative_fill_abs_pa"] = own_abs_pa
            row["negative_to_pa"] = own_abs_pa - ambient
        row["lost_travel_m"] = spring.lost_travel_m(s, spring.sealed(s, after_abs_pa))
        rounds.append(row)
        if number > len(stops_gauge_pa) and gauge_pa - after_gauge_pa < gauge_step_pa:
            settled = number
            break
    return {"rounds": rounds, "settled_after": settled}


def work(both: tuple[Side, Side]) -> Bike:
    """The given work for one plan: 201 points of five curves, sag with its interval, stances, keeps, room for the tyre."""
    before, after = both
    results: Bike = {}
    for name, side in (("before", before), ("after", after)):
        s, amounts, top = side.state, side.amounts, side.travel_m
        travel = [top * i / (POINTS - 1) for i in range(POINTS)]
        pressures = [spring.pressures(s, amounts, x) for x in travel]
        sag = side.sag()
        results[name] = {
            "force_n": [spring.slow_n(s, amounts, x) for x in travel],
            "force_fast_n": [spring.fast_n(s, amounts, x, 0.0) for x in travel],
            "rate_n_per_m": [spring.rate_n_per_m(s, amounts, x) for x in travel],
            "positive_pa": [main for main, _, _ in pressures],
            "negative_pa": [negative for _, negative, _ in pressures],
            **{key: sag[key] for key in ("travel_m", "low_m", "high_m", "load_n")},
            "lost_m": sag["travel_m"] - sag["shown_m"],
            "end_force_n": side.slow_n(top),
            "unloaded": side.geometry(0.0, 0.0),
            "sagged": side.geometry(sag["travel_m"], side.parts["rear_sag_m"]),
        }
    kept = keep(before, after, results["before"]["travel_m"], results["before"]["travel_m"] / before.travel_m)
    results["keep"] = {name: kept[name]["pressure_pa"] for name in kept}
    results["clearance"] = clearance(after)
    return results
