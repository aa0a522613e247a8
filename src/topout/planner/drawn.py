"""A fork of which only the outside is known, as many forks that fit: drawn, each weighted by what was found and read.

Where `[fork] stanchion` stands, what a workshop can't know may be left out; it is drawn (`typical`), the readings get the
uncertainty of gauge, tape and ring, and each draw counts by how likely it makes the front share that its load implies, and
the readings of a gauge with the fork held in. One gauge reads everything: its gain and zero are common, so what is set
is said as that gauge will show it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from topout.bench_file.model import Air, BenchFile, Fork
from topout.errors import Fault, FaultsFound
from topout.physics import air_spring
from topout.planner import columns, inputs, load, typical
from topout.planner.design import Design
from topout.uncertainty import draws
from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import effective

SEED: Final = 20_26
MOVING: Final = 2_000  # draws while a control moves
AT_REST: Final = 20_000
MOST: Final = 1_000_000
LEAST_EFFECTIVE: Final = 500.0
NEGLIGIBLE: Final = 1e-3  # of the likeliest draw's weight
UNBELIEVABLE: Final = 1e-5  # nearly five standard uncertainties off for the best of all draws


@dataclass(frozen=True, slots=True)
class Gauge:
    """The one gauge of a job, as each draw has it: true = (1 + gain)·shown + zero; arrays of shape (n,)."""

    gain: Floats
    zero_pa: Floats

    def true_pa(self, shown_pa: Floats) -> Floats:
        """What is in the chamber where the gauge shows so much [Pa gauge].

        shown_pa [Pa] (n,) any → [Pa gauge] (n,). Raises nothing. Source: physics.md 5 and 12.
        """
        return (1.0 + self.gain) * shown_pa + self.zero_pa

    def shown_pa(self, true_pa: Floats) -> Floats:
        """What this gauge shows of a true gauge pressure [Pa].

        true_pa [Pa] (n,) any → [Pa gauge] (n,). Raises nothing. Source: physics.md 5 and 12.
        """
        return (true_pa - self.zero_pa) / (1.0 + self.gain)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """n bikes that fit what is known: as columns, their loads, weights [1], the gauge, and what was drawn by name."""

    design: Design
    loads: load.Loads
    weights: Floats
    gauge: Gauge
    inputs: Mapping[str, Floats]
    assumed: tuple[str, ...]  # the keys that were drawn from usual ranges
    seed: int
    count: int  # drawn in all; of them those that count are here

    @property
    def effective(self) -> float:
        """How many draws of equal weight these are worth.

        nothing → [1] (one). Raises nothing. Source: Kish 1965.
        """
        return effective(self.weights)


def is_drawn(bench: BenchFile) -> bool:
    """Whether a file leaves something to be drawn: its stanchions are given, and its air spring is not a whole one.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: bench-file.md.
    """
    fork = bench.fork
    return fork is not None and fork.stanchion_m is not None and bool(_left_out(fork))


def draw(bench: BenchFile, count: int = AT_REST, seed: int = SEED) -> Drawn:
    """Bikes that fit, more than asked for until they are worth 500 of equal weight or a million are drawn.

    bench [SI] (one) as read, its stanchions and travel given; count [1] (one) 1 and more; seed [1] (one) 0 and more →
    [SI] (n,). Raises FaultsFound where no fork that looks like this could have shown what was found. Source: physics.md
    12.
    """
    result = _drawn(bench, count, seed)
    while result.effective < LEAST_EFFECTIVE and count < MOST:
        count = min(max(2 * count, int(1.5 * count * LEAST_EFFECTIVE / max(result.effective, 1.0))), MOST)
        result = _drawn(bench, count, seed)
    return result


def _drawn(bench: BenchFile, count: int, seed: int) -> Drawn:
    fork = bench.fork
    assert fork is not None and fork.stanchion_m is not None and fork.travel_m is not None
    air = fork.air or Air()
    chance = {name: draws.stream(seed, name) for name in ("gain", "zero", "mark", "tape", "ring", "share", "settle")}
    gauge = Gauge(
        draws.normal(chance["gain"], 0.0, typical.GAUGE_GAIN, count),
        draws.normal(chance["zero"], 0.0, typical.GAUGE_ZERO_PA, count),
    )
    outside = typical.Outside(fork.stanchion_m, fork.travel_m)
    given = {name: np.full(count, value) for name, value in _given(fork).items()}
    made = typical.chambers(
        outside, given, air.oil_on_piston_m3, air.grease_in_negative_m3, float(air.spacers), seed, count
    )
    assumed = [name for name in _left_out(fork)]
    design = Design.of([bench]).take(np.zeros(count, dtype=int))
    mark_pa = draws.uniform(chance["mark"], -0.5 * typical.GAUGE_MARK_PA, 0.5 * typical.GAUGE_MARK_PA, count)
    share, assumed_share = _front_share(bench)
    front_share = np.clip(draws.normal(chance["share"], share, typical.FRONT_SHARE[1], count), 0.05, 0.95)
    assumed += assumed_share
    ring_m = np.hypot(typical.RING_M, typical.POSTURE_M)
    found_sag_m = np.maximum(design.found.sag_m + draws.normal(chance["ring"], 0.0, ring_m, count), 0.0)
    settled = draws.uniform(chance["settle"], -1.0, 1.0, count)
    travel_m = design.fork.travel_m + draws.normal(chance["tape"], 0.0, typical.TAPE_M, count)
    design = replace(
        design,
        rider=replace(design.rider, front_share=front_share),
        fork=replace(design.fork, travel_m=travel_m, friction_n=made["fork.friction"]),
        air=replace(
            design.air,
            bore_m=made["fork.air.bore"],
            shaft_m=made["fork.air.shaft"],
            positive_volume_m3=made["fork.air.positive_volume"],
            negative_volume_m3=made["fork.air.negative_volume"],
            port_position_m=made["fork.air.port_position"],
            spacer_volume_m3=made["fork.air.spacer_volume"],
            pressure_gauge_pa=gauge.true_pa(design.air.pressure_gauge_pa + mark_pa),
        ),
        lower_legs=columns.LowerLegs(made["fork.lower_legs.air_volume"], made["fork.lower_legs.area"]),
        bumper=columns.Bumper(made["fork.bumper.length"], made["fork.bumper.rate"], made["fork.bumper.power"]),
        found=replace(
            design.found, sag_m=found_sag_m, pressure_gauge_pa=gauge.true_pa(design.found.pressure_gauge_pa + mark_pa)
        ),
    )
    loads = load.loads(design, settled)
    by_share = _by_share(design, loads, share)
    weights = by_share * _by_readings(bench, design, gauge, seed)
    named = {
        **{name: values for name, values in made.items() if np.ptp(values) > 0.0},
        "front_share": loads.implied_share if bench.found else front_share,
        "gauge": gauge.zero_pa + gauge.gain * float(np.nanmean(design.air.pressure_gauge_pa)) + mark_pa,
        "found.sag": found_sag_m, "found.settle": settled * made["fork.friction"], "fork.travel": travel_m,
    }  # fmt: skip
    if weights.max() < UNBELIEVABLE:
        raise FaultsFound([_no_fork_fits(by_share.max() < UNBELIEVABLE)])
    counts = weights > NEGLIGIBLE * weights.max()  # the rest says nothing and is not worked out
    return Drawn(
        design.take(counts),
        loads.take(counts),
        weights[counts],
        Gauge(gauge.gain[counts], gauge.zero_pa[counts]),
        {name: values[counts] for name, values in named.items()},
        tuple(assumed),
        seed,
        count,
    )


def _no_fork_fits(by_sag: bool) -> Fault:
    """What was found or read can't be shown by any fork of that outside: which of the two to look at again."""
    if by_sag:
        message = "no fork with these stanchions and this travel shows that under this rider. Measure both again."
        return Fault("[found] sag", message, key="found.sag")
    message = "no fork with these stanchions and this travel shows that together with the sag found. Read it again."
    return Fault("[[found.reading]] pressure", message, key="found.reading")


def _front_share(bench: BenchFile) -> tuple[float, list[str]]:
    """The share of the weight on the front wheel that is believed beforehand; named as assumed where the file has none."""
    rider = bench.rider
    if rider is not None and rider.front_share is not None:
        return rider.front_share, []
    return typical.FRONT_SHARE[0], ["rider.front_share"]


def _by_share(design: Design, loads: load.Loads, share: float) -> Floats:
    """How likely each draw makes the front share that its load implies; 1 where nothing is implied."""
    implied = loads.implied_share
    weights = np.exp(-0.5 * ((implied - share) / typical.FRONT_SHARE[1]) ** 2)
    weights = np.where(np.isfinite(implied), weights, 1.0)
    locked = air_spring.locked(inputs.bikes(design).chambers)
    usable: Floats = np.where(locked | loads.beyond | ~np.isfinite(weights), 0.0, weights)
    return usable


def _by_readings(bench: BenchFile, design: Design, gauge: Gauge, seed: int) -> Floats:
    """How likely each draw makes what the gauge showed with the fork held in, pump and hose on, the port shut."""
    weights = np.ones(len(design))
    for number, reading in enumerate(bench.found.readings if bench.found else ()):
        chance = draws.stream(seed, f"reading {number}")
        held_m = reading.travel_m + draws.normal(chance, 0.0, typical.TAPE_M, len(design))
        shown = gauge.shown_pa(held_gauge_pa(design, held_m, reading.hose_m3))
        weights = weights * np.exp(-0.5 * ((reading.pressure_gauge_pa - shown) / typical.GAUGE_READ_PA) ** 2)
    return np.where(np.isfinite(weights), weights, 0.0)


def held_gauge_pa(design: Design, held_m: Floats, hose_m3: float) -> Floats:
    """The true gauge pressure [Pa] in main chamber and hose with the fork held in, from what was read at full extension.

    The pump stays on, so that its hose belongs to the main chamber; the port is shut at that travel.

    design [SI] (n,) any; held_m [m] (n,) 0 to the travel; hose_m3 [m³] (one) 0 and more → [Pa gauge] (n,) NaN where not
    known. Raises nothing. Source: physics.md 5.
    """
    at_found = np.where(design.calibrates, design.found.pressure_gauge_pa, design.air.pressure_gauge_pa)
    pressed = replace(design, air=replace(design.air, pressure_gauge_pa=at_found))
    chambers = inputs.bikes(pressed).chambers
    settled = air_spring.settle(air_spring.computable(replace(chambers, positive_m3=chambers.positive_m3 + hose_m3)))
    main, _ = air_spring.pressures(settled, held_m)
    return main - chambers.ambient_pa


_PLACES: Final = {
    "fork.air.bore": "bore_m", "fork.air.shaft": "shaft_m", "fork.air.positive_volume": "positive_volume_m3",
    "fork.air.negative_volume": "negative_volume_m3", "fork.air.port_position": "port_position_m",
    "fork.air.spacer_volume": "spacer_volume_m3",
}  # fmt: skip


def _given(fork: Fork) -> dict[str, float]:
    """What a file says of what may be left out, in SI, by the words of `typical`."""
    air = fork.air or Air()
    found = {word: getattr(air, attribute) for word, attribute in _PLACES.items()}
    found["fork.friction"] = fork.friction_n
    if fork.lower_legs is not None:
        found["fork.lower_legs.air_volume"] = fork.lower_legs.air_volume_m3
        found["fork.lower_legs.area"] = fork.lower_legs.area_m2
    if fork.bumper is not None:
        found |= {
            "fork.bumper.length": fork.bumper.length_m, "fork.bumper.rate": fork.bumper.rate_n_per_m,
            "fork.bumper.power": fork.bumper.power,
        }  # fmt: skip
    return {word: value for word, value in found.items() if value is not None}


def _left_out(fork: Fork) -> list[str]:
    """The keys that are drawn, by the words of the bench file; a spacer's volume only where spacers are fitted."""
    given = _given(fork)
    air = fork.air or Air()
    gas = air.negative in ("self-equalising", "separate-valve")
    asked = [word for word in typical.MAY_BE_LEFT_OUT if not any(each.startswith(word) for each in given)]
    needless = {
        "fork.air.spacer_volume": not air.spacers,
        "fork.air.negative_volume": not gas,
        "fork.air.port_position": air.negative != "self-equalising",
    }
    return [word for word in asked if not needless.get(word, False)]
