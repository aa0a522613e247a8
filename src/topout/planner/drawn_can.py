"""Rear shocks that fit what is known: what an air can's outside leaves open, and how likely each makes the sag found at it.

Like `drawn` for a fork's air spring: with `[shock] body` what a workshop can't know may be left out (`typical_can`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile, Bumper, CanAir, Damper
from topout.physics import air_spring
from topout.planner import columns, doubted, inexact, left_out, rear, typical, typical_can
from topout.planner.design import Design
from topout.planner.doubted import Doubted
from topout.planner.far_in import UNBELIEVABLE
from topout.planner.load import Loads
from topout.planner.shocks import Shocks
from topout.uncertainty.doubt import Doubt
from topout.uncertainty.draws import Floats, likelihood
from topout.uncertainty.intervals import interval

PLACES: Final = left_out.SHOCK.places


def filled(
    bench: BenchFile, design: Design, values: Doubted, seed: int, count: int
) -> tuple[Design, dict[str, Floats]]:
    """The bikes with what their file leaves out of its shock, and what was drawn for that by its key.

    bench [SI] (one) as read, something of its shock left out; design [SI] (count,) that fits it; values [SI] (count,) as drawn; seed,
    count [1] (one) 0 and more → [SI] (count,). Raises nothing. Source: trade.md 4; common practice, no source.
    """
    shock = bench.shock
    assert shock is not None and shock.body_m is not None and shock.stroke_m is not None and design.shock is not None
    air = shock.air or CanAir()
    outside = typical_can.Outside(values.of("shock.body", shock.body_m), values.of("shock.stroke", shock.stroke_m))
    given = {word: np.zeros(count) + values.of(word, value) for word, value in left_out.SHOCK.given(shock).items()}
    taken = (
        values.of("shock.air.oil_on_piston", air.oil_on_piston_m3),
        values.of("shock.air.grease_in_negative", air.grease_in_negative_m3),
    )
    made = typical_can.cans(outside, given, taken, float(air.spacers), seed, count)
    parts = {
        name: {column: made[f"shock.{name}.{word}"] for word, column in keys.items()}
        for name, keys in left_out.SHOCK.parts.items()
    }
    full = replace(
        design.shock,
        unit=replace(design.shock.unit, friction_n=made["shock.friction"]),
        air=replace(design.shock.air, **{attribute: made[word] for word, attribute in PLACES.items()}),
        damper=columns.Damper(**parts["damper"]),
        bumper=columns.Bumper(**parts["bumper"]),
    )
    return replace(design, shock=full), made


def likely(bench: BenchFile, design: Design, loads: Loads) -> Floats:
    """How likely each draw makes the share of the weight behind that its shock's sag implies, 0 for a shock that can't be.

    Held against the share that the front implies, found in another posture as a rule, else against the one believed.

    bench [SI] (one) as read; design [SI] (n,) its draws; loads [N] (n,) theirs → [1] (n,) 0 to 1. Raises nothing. Source:
    physics.md 7 and 12.
    """
    of = rear.rear(design)
    whole = np.ones(len(design))
    if of is None or design.shock is None or loads.behind_n is None:
        return whole
    thick = (design.shock.air.shaft_m >= design.shock.air.bore_m) & ~design.shock.on_coil
    beyond = design.shock.unit.sag_m >= of.chambers.travel_m
    whole[air_spring.locked(of.chambers) | thick | beyond] = 0.0
    whole *= _as_built(bench, design.shock)
    if np.isnan(design.shock.unit.sag_m).all():
        return whole
    share = rear.implied_front_share(design, loads.behind_n)
    rider = bench.rider
    believed: Any = typical.FRONT_SHARE[0] if rider is None or rider.front_share is None else rider.front_share
    off: Doubt = doubted.written(bench).get("rider.front_share", doubted.share(bench))
    if np.isfinite(loads.implied_share).any():
        believed, off = loads.implied_share, typical.OTHER_POSTURE_DOUBT
    with np.errstate(invalid="ignore"):
        by_share = likelihood(share - believed, off)
        if not inexact.fills_behind(bench) and not np.nanmax(by_share, initial=0.0) >= UNBELIEVABLE:
            return whole  # the whole spring is known: the sag found is the load, whatever share follows
    result: Floats = whole * np.where(np.isfinite(by_share), by_share, 1.0)
    return result


def _as_built(bench: BenchFile, shocks: Shocks) -> Floats:
    """How usual the ratio is that a measured volume leaves in each draw, as a density of that volume: (r − 1)²/(A·S), and none
    outside the range; 1 where the volume is drawn from the ratio itself."""
    if "shock.air.positive_volume" in left_out.SHOCK.left_open(bench) or not inexact.fills_behind(bench):
        return np.ones(len(shocks.on_coil))
    air, stroke_m = shocks.air, shocks.unit.stroke_m
    spacers_m3 = np.where(air.spacers == 0.0, 0.0, air.spacers * air.spacer_volume_m3)
    swept_m3 = 0.25 * np.pi * air.bore_m**2 * stroke_m
    full_m3 = air.positive_volume_m3 - spacers_m3 - air.oil_on_piston_m3
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = full_m3 / (full_m3 - swept_m3)
        usual = (ratio >= typical_can.RATIO[0]) & (ratio <= typical_can.RATIO[1])
        weight = np.where(usual & (full_m3 > swept_m3), (ratio - 1.0) ** 2 / swept_m3, 0.0)
    most = float(weight.max(initial=0.0))
    return weight / most if most > 0.0 else np.ones_like(weight)  # a can that is not usual is what was measured


def middle(bench: BenchFile, shocks: Shocks | None, weights: Floats) -> BenchFile:
    """The bench file with the median of each key of its shock that was drawn; a port that nobody saw is at no place.

    bench [SI] (one) as read; shocks [SI] (n,) as drawn, or None; weights [1] (n,) 0 and more → [SI] (one) a bench file. Raises
    nothing. Source: physics.md 12.
    """
    shock, left = bench.shock, left_out.SHOCK.left_open(bench)
    if shock is None or shocks is None or not left:
        return bench

    def at(values: Floats) -> float | None:
        found = interval(values, weights)
        return None if found is None else found.median

    named: dict[str, Any] = {
        PLACES[word]: at(getattr(shocks.air, PLACES[word]))
        for word in left
        if word in PLACES and word != "shock.air.port_position"
    }
    parts: dict[str, Any] = {"air": replace(shock.air or CanAir(), **named)}
    if "shock.friction" in left:
        parts["friction_n"] = at(shocks.unit.friction_n)
    for word, table in (("damper", Damper), ("bumper", Bumper)):
        if f"shock.{word}" in left:
            of = getattr(shocks, word)
            made: dict[str, Any] = {column: at(getattr(of, column)) for column in left_out.SHOCK.parts[word].values()}
            parts[word] = table(**made)
    return replace(bench, shock=replace(shock, **parts))
