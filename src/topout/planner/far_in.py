"""A gauge read with the fork or the shock held in, pump and hose on, the port shut: how likely each bike makes it, and what speaks against what."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile, End, Reading
from topout.errors import Fault
from topout.physics import air_spring
from topout.physics.air_spring import Chambers
from topout.planner import doubted, inputs, rear, typical
from topout.planner.design import Design
from topout.planner.doubted import Doubted
from topout.uncertainty.doubt import Doubt
from topout.uncertainty.draws import Floats, likelihood
from topout.units import show

UNBELIEVABLE = 1e-5  # nearly five standard uncertainties off for the best of all draws


@dataclass(frozen=True, slots=True)
class Gauge:
    """The one gauge of a job, as each draw has it: true = (1 + gain)·shown + zero; arrays of shape (n,)."""

    gain: Floats
    zero_pa: Floats

    def take(self, index: Any) -> Gauge:
        """The same for a part of the draws (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Gauge(self.gain[index], self.zero_pa[index])

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
class Held:
    """Forks or shocks held in, the pump on: each one's spring; arrays of (n,).

    `true_pa` is in main chamber and hose there, `rises` how fast that rises with the travel, `by_start` with what it was
    begun from.
    """

    spring: air_spring.EquilibratedSpring
    true_pa: Floats
    rises: Floats
    by_start: Floats


def held(
    design: Design, held_m: Floats, hose_m3: Floats | float, from_gauge_pa: Floats | None = None, end: End = "front"
) -> Held:
    """The true gauge pressure [Pa] in main chamber and hose with the fork or the shock held in, settled at full extension before.

    The pump stays on, so that its hose belongs to the main chamber; the port is shut at that travel.

    design [SI] (n,) any, at the rear with a shock; held_m [m] (…, n) 0 to the travel or stroke; hose_m3 [m³] (…) 0 and more; from_gauge_pa [Pa gauge] (n,) at
    full extension, or None for that of the sag found; end [-] (one) front or rear → [SI] (…, n) [Pa gauge], [Pa/m], [1], NaN where not known. Raises
    nothing. Source: physics.md 5.
    """
    if end == "rear":
        from_gauge_pa, chambers = _can(design, from_gauge_pa)
    else:
        if from_gauge_pa is None:
            from_gauge_pa = np.where(design.calibrates, design.found.pressure_gauge_pa, design.air.pressure_gauge_pa)
        pressed = replace(design, air=replace(design.air, pressure_gauge_pa=from_gauge_pa))
        chambers = inputs.front_chambers(pressed)
    settled = air_spring.settle(air_spring.computable(replace(chambers, positive_m3=chambers.positive_m3 + hose_m3)))
    main, _ = air_spring.pressures(settled, held_m)
    rises = main * settled.positive_m2 / (settled.fit.positive_m3 - settled.positive_m2 * held_m)
    return Held(settled, main - chambers.ambient_pa, rises, main / (from_gauge_pa + chambers.ambient_pa))


def _can(design: Design, from_gauge_pa: Floats | None) -> tuple[Floats, Chambers]:
    """What a shock is begun from, its own pressure where nothing else is said, and its can at that."""
    shock = design.shock
    assert shock is not None, "a reading of a shock belongs to one"
    begun = shock.air.pressure_gauge_pa if from_gauge_pa is None else from_gauge_pa
    chambers = rear.cans(replace(design, shock=replace(shock, air=replace(shock.air, pressure_gauge_pa=begun))))
    assert chambers is not None
    return begun, chambers


def likelihoods(bench: BenchFile, design: Design, gauge: Gauge, values: Doubted) -> list[Floats]:
    """How likely each draw makes each reading, 1 at best. What the tape may be off is integrated over, not drawn.

    bench [SI] (one) as read; design [SI] (n,) that fits it; gauge [SI] (n,) the job's; values [SI] (n,) as drawn → [1]
    (n,) each. Raises nothing. Source: physics.md 5 and 12.
    """
    own = doubted.written(bench)
    found = []
    for number, reading in enumerate(bench.found.readings if bench.found else ()):
        place = f"found.reading.{number}"
        held_m = np.full(len(design), reading.travel_m)
        from_pa = None
        if reading.start_gauge_pa is not None:
            own_start = own.get(f"{place}.start")
            begun_pa = np.full(len(design), reading.start_gauge_pa)
            from_pa = begun_pa if own_start is not None else gauge.true_pa(begun_pa)
        end: End = "rear" if reading.end == "rear" else "front"
        stands = held(design, held_m, values.of(f"{place}.hose", reading.hose_m3), from_pa, end)
        true_pa, rises = stands.true_pa, stands.rises
        tape = own.get(f"{place}.travel", typical.TAPE_DOUBT)
        off = own.get(f"{place}.pressure")
        shown_pa = true_pa if off is not None else gauge.shown_pa(true_pa)
        read = off if off is not None else Doubt("u", typical.GAUGE_READ_PA, "")
        with np.errstate(invalid="ignore"):
            more = rises * tape.standard_si
            if from_pa is not None:  # its mark, too, moves what is read
                begun = own.get(f"{place}.start", Doubt("u", typical.GAUGE_READ_PA, ""))
                more = np.hypot(more, stands.by_start * begun.standard_si)
            likely = likelihood(reading.pressure_gauge_pa - shown_pa, read, more)
        found.append(np.where(np.isfinite(likely), likely, 0.0))
    return found


@dataclass(frozen=True, slots=True)
class Best:
    """How likely the best of all draws makes the sag found, each reading beside it, each two of them, and everything; [1]."""

    sag: float
    alone: tuple[float, ...]
    pairs: tuple[float, ...]
    whole: float
    behind: float = 1.0  # the sag found at a shock

    @classmethod
    def of(cls, sag_found: Floats, each: Sequence[Floats], behind: Floats | None = None) -> Best:
        """From how likely each draw makes the sag found, and each reading.

        sag_found [1] (n,) 0 to 1; each [1] (n,) each, 0 to 1; behind [1] (n,) 0 to 1 of the sag at a shock, or None → [1] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        alone = [sag_found * likely for likely in each]
        pairs = (
            tuple(float(np.max(sag_found * one * other)) for one, other in itertools.combinations(each, 2))
            if len(each) > 2
            else ()
        )
        whole = float(np.max(sag_found * np.prod(each, axis=0))) if each else float(np.max(sag_found))
        rear = 1.0 if behind is None else float(np.max(behind))
        return cls(float(np.max(sag_found)), tuple(float(np.max(likely)) for likely in alone), pairs, whole, rear)

    def and_of(self, other: Best) -> Best:
        """The best of both.

        other [1] (one) of other draws of the same file → [1] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        alone, pairs = (
            tuple(map(max, mine, theirs)) for mine, theirs in ((self.alone, other.alone), (self.pairs, other.pairs))
        )
        behind = max(self.behind, other.behind)
        return Best(max(self.sag, other.sag), alone, pairs, max(self.whole, other.whole), behind)


def contradictions(bench: BenchFile, best: Best) -> Iterator[Fault]:
    """What was found or read that no fork of that outside shows: the sag, a reading beside it, or two readings together.

    bench [SI] (one) as read; best [1] (one) of its draws → [-] (any) faults. Raises nothing. Source: none needed,
    bookkeeping.
    """
    readings: tuple[Reading, ...] = bench.found.readings if bench.found else ()
    if best.behind < UNBELIEVABLE:
        text = "no shock with this can and this stroke shows that under this rider. Measure both again, and read the gauge with nothing attached."
        yield Fault("[shock] sag", text, key="shock.sag")
        return
    if best.sag < UNBELIEVABLE:
        text = "no fork with these stanchions and this travel shows that under this rider. Measure both again, and read the gauge with nothing attached."
        yield Fault("[found] sag", text, key="found.sag")
        return
    alone = [n for n, likely in enumerate(best.alone) if likely < UNBELIEVABLE]
    for n in alone:
        text = f"no {_such([readings[n]])} shows that{_with(bench, readings[n])}. Read it again."
        yield Fault("[[found.reading]] pressure", text, _said(readings[n]), key="found.reading")
    if alone:
        return
    pairs = list(itertools.combinations(range(len(readings)), 2))
    together = best.pairs if len(readings) > 2 else (best.whole,)
    if min(together) < UNBELIEVABLE:
        one, other = pairs[together.index(min(together))]
        noun = _such([readings[one], readings[other]]).partition(" ")[0]
        text = f"contradicts {_said(readings[other])}: no {noun} shows both. Read them again."
        yield Fault("[[found.reading]] pressure", text, _said(readings[one]), key="found.reading")
        return
    text = f"no {_such(readings)} shows all {len(readings)} readings together. Read them again."
    yield Fault("[[found.reading]] pressure", text, key="found.reading")


def _such(readings: Sequence[Reading]) -> str:
    """What of that outside could have shown these readings."""
    ends = {each.end for each in readings}
    if len(ends) > 1:
        return "bike with this fork and this shock"
    return "shock with this can and this stroke" if "rear" in ends else "fork with these stanchions and this travel"


def _with(bench: BenchFile, reading: Reading) -> str:
    if reading.end == "rear":
        return " together with the sag found" if bench.shock is not None and bench.shock.sag_m is not None else ""
    return " together with the sag found" if bench.found and bench.found.sag_m is not None else ""


def _said(reading: Reading) -> str:
    return f"{show(reading.pressure_gauge_pa, 'pressure', 'psi', trim=True)} at {show(reading.travel_m, 'length', 'mm', trim=True)}"
