"""Bikes that fit what is known, as many as are asked for: drawn, each weighted by what was found and read.

Where `[fork] stanchion` stands, what a workshop can't know may be left out; it is drawn (`typical`). Values with an uncertainty
are drawn by it (`doubted`), the readings by that of gauge, tape and ring, and each draw counts by how likely it makes the front
share that its load implies, and the readings of a gauge with the fork held in (`far_in`). One gauge reads everything: its gain
and zero are common, so what is set is said as that gauge will show it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import Air, BenchFile
from topout.errors import FaultsFound
from topout.physics import air_spring
from topout.physics.sag import Load
from topout.planner import columns, doubted, drawn_can, far_in, inexact, inputs, left_out, load, typical
from topout.planner import design as designs
from topout.planner.design import Changes, Design
from topout.planner.doubted import Doubted
from topout.planner.far_in import UNBELIEVABLE, Gauge
from topout.planner.inexact import AT_REST, MOVING, SEED
from topout.planner.shocks import Shocks
from topout.uncertainty import draws
from topout.uncertainty.doubt import Doubt
from topout.uncertainty.draws import Floats, Places, likelihood
from topout.uncertainty.intervals import effective

MOST: Final = 1_000_000
LEAST_EFFECTIVE: Final = 500.0
TO_REFUSE: Final = 200_000  # draws without one that fits, before it is said that no bike shows what was found
CHUNK: Final = (
    20_000  # drawn at a time, where the first are not worth enough: what counts of them is kept, the rest forgotten
)
_APART: Final = 1_000_003  # between the seeds of two chunks
NEGLIGIBLE: Final = 1e-3  # of the likeliest draw's weight


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """n bikes that fit what is known, and what is asked of each: as columns, their loads, weights [1], the gauge, and what was
    drawn by name."""

    bench: BenchFile
    design: Design
    changes: Changes
    loads: load.Loads
    weights: Floats
    gauge: Gauge
    inputs: Mapping[str, Floats]
    assumed: tuple[str, ...]  # the keys that were drawn from usual ranges
    redrawn: tuple[tuple[str, float], ...]  # keys of which more than a few draws were not allowed, and their share
    seed: int
    count: int  # drawn in all; of them those that count are here
    chunk: Places  # which of the chunks each was drawn in, and at which place there
    place: Places
    sizes: tuple[int, ...]  # of the chunks
    of_moves: Drawn | None = (
        None  # while a control moves, the draws that all its moves share, whatever is asked of them
    )

    @property
    def effective(self) -> float:
        """How many draws of equal weight these are worth.

        nothing → [1] (one). Raises nothing. Source: Kish 1965.
        """
        return effective(self.weights)


def draw(bench: BenchFile, count: int = AT_REST, seed: int = SEED) -> Drawn:
    """Bikes that fit, more than asked for until they are worth 500 of equal weight or a million are drawn.

    bench [SI] (one) as read; count [1] (one) 1 and more; seed [1] (one) 0 and more → [SI] (n,). Raises FaultsFound where
    no fork that looks like this could have shown what was found. Source: physics.md 12.
    """
    if count > MOVING or any(off.key.startswith("change.") for off in bench.doubts):
        return _draw(bench, count, seed)
    # A control moves: the bikes that fit are those of the move before, only what is asked of them is another.
    made = _last_drawn(replace(bench, change=None), count, seed)
    if bench.change is None:
        return made
    asked = Changes.of([bench]).repeated(len(made.design))
    return replace(
        made, bench=bench, changes=doubted.put_in_changes(asked, _asked_by_gauge(bench, made)), of_moves=made
    )


@lru_cache(maxsize=4)
def _last_drawn(bench: BenchFile, count: int, seed: int) -> Drawn:
    return _draw(bench, count, seed)


def _asked_by_gauge(bench: BenchFile, made: Drawn) -> dict[str, Floats]:
    """The true pressures that are asked for, as `_by_gauge` has them for every draw, of those that count."""
    found = {}
    for place in (each for each in doubted.BY_GAUGE if each.startswith("change.")):
        shown_pa = doubted.value_at(bench, place)
        if shown_pa is None:
            continue
        mark_pa = np.empty(len(made.design))
        for number, size in enumerate(made.sizes):
            here = made.chunk == number
            mark_pa[here] = _mark_pa(made.seed + _APART * number, shown_pa, size)[made.place[here]]
        found[place] = made.gauge.true_pa(shown_pa + mark_pa)
    return found


def _draw(bench: BenchFile, count: int, seed: int) -> Drawn:
    parts: list[Drawn] = []
    best: far_in.Best | None = None
    tried, by_share, wanted = 0, None, CHUNK
    sizes: list[int] = []
    while True:
        size = count if not parts else min(max(count, wanted), MOST - tried)
        part, by_share, found = _drawn(bench, size, seed + _APART * len(parts), by_share)
        tried += size
        parts.append(replace(part, chunk=np.full(len(part.design), len(parts), dtype=np.intp)))
        sizes.append(size)
        best = found if best is None else best.and_of(found)
        if best.whole < UNBELIEVABLE:
            if tried >= TO_REFUSE:
                raise FaultsFound(list(far_in.contradictions(bench, best)))
            continue
        weights = np.concatenate([each.weights for each in parts])
        worth = effective(weights)
        if tried >= MOST or worth >= LEAST_EFFECTIVE:
            break
        # No more than it takes, a fifth over: while a control moves, 2,000 draws want 2,000 or 4,000 more, not 20,000.
        wanted = min(CHUNK, int(1.2 * tried * (LEAST_EFFECTIVE / max(worth, 1.0) - 1.0)) + 1)
    return replace(_counting(_joined(parts), NEGLIGIBLE * best.whole), seed=seed, count=tried, sizes=tuple(sizes))


# What is made of arrays of draws, and joined by its parts.
_PARTS: Final = (columns.Columns, Design, Shocks, Changes, load.Loads, Load, Gauge)


def _joined(parts: Sequence[Any]) -> Any:
    """Draws one after the other: arrays end to end, what is the same in all of them from the first."""
    first = parts[0]
    if len(parts) == 1:
        return first
    if isinstance(first, np.ndarray):
        return np.concatenate(parts)
    if isinstance(first, dict):
        shared = [name for name in first if all(name in part for part in parts)]
        return {name: np.concatenate([part[name] for part in parts]) for name in shared}
    if isinstance(first, (Drawn, *_PARTS)):
        names = type(first).__slots__
        return type(first)(**{name: _joined([getattr(part, name) for part in parts]) for name in names})
    return first


def _counting(made: Drawn, least: float) -> Drawn:
    """Those whose weight counts; the rest says nothing and is not worked out."""
    counts = np.nonzero(made.weights > least)[0]
    if counts.size == len(made.weights):
        return made
    return replace(
        made,
        design=made.design.take(counts),
        changes=made.changes.take(counts),
        loads=made.loads.take(counts),
        weights=made.weights[counts],
        gauge=made.gauge.take(counts),
        inputs={name: values[counts] for name, values in made.inputs.items()},
        chunk=made.chunk[counts],
        place=made.place[counts],
    )


def _drawn(bench: BenchFile, count: int, seed: int, by_share: bool | None) -> tuple[Drawn, bool, far_in.Best]:
    """So many draws, those that count; whether the front share weighs them, which the first of several draws decides; and how
    likely the best of them makes what was found and read."""
    values = doubted.drawn(bench, seed, count)
    gauge = _gauge(bench, seed, count)
    read = _by_gauge(bench, gauge, seed, count)
    one, asked = Design.of([bench]), Changes.of([bench])
    design = doubted.put_in(one.repeated(count), bench, {**read, **values.values})
    changes = doubted.put_in_changes(asked.repeated(count), {**read, **values.values})
    named: dict[str, Floats] = {"gauge": _reads(bench, read, count)}
    assumed: list[str] = []
    if inexact.fills(bench):
        design, made = _filled(bench, design, values, seed, count)
        named |= made
        assumed += left_out.FORK.left_open(bench)
    if inexact.fills_behind(bench):
        design, made = drawn_can.filled(bench, design, values, seed, count)
        named |= made
        assumed += left_out.SHOCK.left_open(bench)
    share = _Share.of(bench, bool(assumed))
    if share is not None and share.assumed:
        assumed.append("rider.front_share")
        chance = draws.stream(seed, "rider.front_share")
        front_share = draws.normal(chance, share.value, share.off.standard_si, count)
        design = replace(design, rider=replace(design.rider, front_share=front_share))
        named["rider.front_share"] = front_share
    settled = doubted.stood(bench, draws.stream(seed, "settle"), count)
    behind = draws.uniform(draws.stream(seed, "settle behind"), -1.0, 1.0, count)
    loads = load.loads(design, settled, behind)
    named |= values.values
    if calls_for.found_in_front(bench):
        named |= {"rider.front_share": loads.implied_share, "found.settle": settled * design.fork.friction_n}
    if bench.shock is not None and bench.shock.sag_m is not None and design.shock is not None:
        named["shock.settle"] = behind * design.shock.unit.friction_n
    possible = _possible(design, loads)
    likely = np.ones(count) if share is None else _by_share(loads, share)
    if by_share is None:
        # Where the whole spring is known the sag found is the load, whatever share follows: one that no draw makes likely is
        # warned of, as in an exact file, and weighs nothing.
        by_share = bool(assumed) or bool(np.max(likely) >= UNBELIEVABLE)
    at_shock = drawn_can.likely(bench, design, loads)
    sag_found = possible * (likely if by_share else 1.0) * at_shock
    each = far_in.likelihoods(bench, design, gauge, values)
    best = far_in.Best.of(sag_found, each, at_shock)
    weights = sag_found * np.prod(each, axis=0) if each else sag_found
    redrawn = values.redrawn + _can_not_be(possible, assumed)
    inputs_of = {name: drawn_values for name, drawn_values in named.items() if np.ptp(drawn_values) > 0.0}
    everything = Drawn(
        bench, design, changes, loads, weights, gauge, inputs_of, tuple(assumed), redrawn, seed, count,
        np.zeros(count, dtype=np.intp), np.arange(count), (count,),
    )  # fmt: skip
    return _counting(everything, NEGLIGIBLE * best.whole), by_share, best


def _gauge(bench: BenchFile, seed: int, count: int) -> Gauge:
    """The job's one gauge. Where every pressure that was read carries its own uncertainty, that is all there is to it."""
    own = doubted.written(bench)
    read = [
        place
        for place in ("fork.air.pressure", "found.pressure", "shock.air.pressure")
        if doubted.value_at(bench, place) is not None
    ]
    read += [f"found.reading.{n}.pressure" for n in range(len(bench.found.readings) if bench.found else 0)]
    if read and all(place in own for place in read):
        return Gauge(np.zeros(count), np.zeros(count))
    return Gauge(
        draws.normal(draws.stream(seed, "gain"), 0.0, typical.GAUGE_GAIN, count),
        draws.normal(draws.stream(seed, "zero"), 0.0, typical.GAUGE_ZERO_PA, count),
    )


def _by_gauge(bench: BenchFile, gauge: Gauge, seed: int, count: int) -> dict[str, Floats]:
    """The true pressures of what the gauge showed, each read to half a mark. Equal figures are one reading."""
    found = {}
    for place in doubted.BY_GAUGE:
        shown_pa = doubted.value_at(bench, place)
        if shown_pa is not None:
            found[place] = gauge.true_pa(shown_pa + _mark_pa(seed, shown_pa, count))
    return found


def _mark_pa(seed: int, shown_pa: float, count: int) -> Floats:
    """What a figure was rounded by, half a mark at most [Pa]."""
    half_pa = 0.5 * typical.GAUGE_MARK_PA
    return draws.uniform(draws.stream(seed, f"mark {shown_pa:.3f}"), -half_pa, half_pa, count)


def _reads(bench: BenchFile, read: Mapping[str, Floats], count: int) -> Floats:
    """What the gauge is off, its mark in it, at the pressure that the sag was found at, else at the one that is fitted [Pa]."""
    for place in ("found.pressure", "fork.air.pressure", "shock.air.pressure"):
        if place in read and place not in doubted.written(bench):
            off: Floats = read[place] - doubted.value_at(bench, place)
            return off
    return np.zeros(count)


def _filled(
    bench: BenchFile, design: Design, values: Doubted, seed: int, count: int
) -> tuple[Design, dict[str, Floats]]:
    """The bikes with what their file leaves out, and what was drawn for that by its key."""
    fork = bench.fork
    assert fork is not None and fork.stanchion_m is not None and fork.travel_m is not None
    air = fork.air or Air()
    outside = typical.Outside(values.of("fork.stanchion", fork.stanchion_m), values.of("fork.travel", fork.travel_m))
    given = {word: np.zeros(count) + values.of(word, value) for word, value in left_out.FORK.given(fork).items()}
    oil_m3 = values.of("fork.air.oil_on_piston", air.oil_on_piston_m3)
    grease_m3 = values.of("fork.air.grease_in_negative", air.grease_in_negative_m3)
    made = typical.chambers(outside, given, oil_m3, grease_m3, float(air.spacers), seed, count)
    legs, bumper = "fork.lower_legs", "fork.bumper"
    full = replace(
        design,
        fork=replace(design.fork, friction_n=made["fork.friction"]),
        air=replace(design.air, **{attribute: made[word] for word, attribute in left_out.FORK.places.items()}),
        lower_legs=columns.LowerLegs(made[f"{legs}.air_volume"], made[f"{legs}.area"]),
        bumper=columns.Bumper(*(made[f"{bumper}.{word}"] for word in ("length", "rate", "power"))),
    )
    return full, made


@dataclass(frozen=True, slots=True)
class _Share:
    """The share of the weight on the front wheel that is believed beforehand; `assumed` where the file has none."""

    value: float
    off: Doubt
    assumed: bool

    @classmethod
    def of(cls, bench: BenchFile, drawn_from_outside: bool) -> _Share | None:
        rider = bench.rider
        if rider is not None and rider.front_share is not None:
            off = doubted.written(bench).get("rider.front_share", doubted.share(bench))
            return cls(rider.front_share, off, False)
        return cls(typical.FRONT_SHARE[0], doubted.share(bench), True) if drawn_from_outside else None


def _by_share(loads: load.Loads, share: _Share) -> Floats:
    """How likely each draw makes the front share that its load implies; 1 where nothing is implied."""
    implied = loads.implied_share
    likely: Floats = np.where(np.isfinite(implied), likelihood(implied - share.value, share.off), 1.0)
    return likely


def _possible(design: Design, loads: load.Loads) -> Floats:
    """1 for a bike that can be and could have shown the sag found, 0 for one that locks or whose parts don't go together."""
    locked = air_spring.locked(inputs.front_chambers(design))
    thick = (design.air.shaft_m >= design.air.bore_m) & ~designs.on_coil(design)
    return np.where(locked | thick | loads.beyond, 0.0, 1.0)


def _can_not_be(possible: Floats, assumed: list[str]) -> tuple[tuple[str, float], ...]:
    """That of the bikes that a file describes more than a few can't be; of those drawn from usual ranges that says nothing."""
    share = float(1.0 - possible.mean())
    return () if assumed or share <= doubted.MOST_REDRAWN else (("together", share),)
