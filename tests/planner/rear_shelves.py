"""Bikes with a rear shock, on air and on a coil, and shelves for them, for the search and its second way."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

import topout
from planner.shelves import SPACERS, common
from topout.bench_file.model import BenchFile, ShockChange
from topout.bench_file.parts import CoilSpring, Part, StrokeReducer, VolumeSpacer

AIR: BenchFile = topout.read(topout.examples()["air-shock-and-its-shelf"])
COIL: BenchFile = topout.read(topout.examples()["coil-shock-and-its-shelf"])


def drawn(bench: BenchFile = AIR) -> BenchFile:
    """The same bike, of its shock only the outside known, with the sag found; the fork as it is."""
    assert bench.shock is not None and bench.shock.air is not None
    air = replace(
        bench.shock.air, bore_m=None, shaft_m=None, positive_volume_m3=None, negative_volume_m3=None, port_position_m=None,
        spacer_volume_m3=None,
    )  # fmt: skip
    shock = replace(bench.shock, body_m=0.054, air=air, friction_n=None, damper=None, bumper=None, sag_m=0.0135)
    return replace(bench, shock=shock, shelf=())


def asking(bench: BenchFile, **shock: float | int | None) -> BenchFile:
    """The bike with this asked of its shock, and nothing else."""
    assert bench.change is None or bench.change.travel_m is None
    from topout.bench_file.model import Change

    return replace(bench, change=Change(shock=ShockChange(**shock)) if shock else None)  # type: ignore[arg-type]


_COMMON = common() | {"end": st.sampled_from([None, "front", "rear"])}
CAN_SPACERS = st.builds(
    VolumeSpacer, kind=st.just("volume spacer"), gives_m3=st.integers(3, 20).map(lambda n: n * 1e-6),
    bore_m=st.sampled_from([None, 0.046, 0.0346]), **_COMMON,
)  # fmt: skip
REDUCERS = st.builds(
    StrokeReducer, kind=st.just("stroke reducer"), gives_m=st.sampled_from([0.0025, 0.005, 0.04]), **_COMMON
)
COILS = st.builds(
    CoilSpring, kind=st.just("coil"), gives_n_per_m=st.integers(40, 140).map(lambda n: n * 1e3),
    bind_m=st.none() | st.integers(50, 75).map(lambda n: n / 1e3), **_COMMON,
)  # fmt: skip


def shelves(most: int) -> st.SearchStrategy[list[Part]]:
    """Shelves of up to so many parts for a shock, and for a fork among them."""
    kind = st.one_of(CAN_SPACERS, REDUCERS, COILS, SPACERS)
    return st.integers(0, most).flatmap(lambda n: st.lists(kind, min_size=n, max_size=n))
