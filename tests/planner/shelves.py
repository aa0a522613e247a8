"""A bike that asks for a larger front wheel, and shelves for it, for the search and its second way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

import topout
from topout.bench_file.model import BenchFile
from topout.bench_file.parts import AirShaft, Part, Tyre, VolumeSpacer

BENCH: BenchFile = topout.read(topout.examples()["parts-on-the-shelf"])
FORK = BENCH.fork
assert FORK is not None and FORK.air is not None
AIR = FORK.air


def drawn(bench: BenchFile = BENCH) -> BenchFile:
    """The same bike, of its fork only the outside known, with the sag found."""
    found = topout.read(topout.examples()["load-from-the-sag-found"]).found
    assert found is not None and bench.fork is not None and bench.fork.air is not None
    air = replace(
        bench.fork.air, bore_m=None, shaft_m=None, positive_volume_m3=None, negative_volume_m3=None,
        port_position_m=None, spacer_volume_m3=None,
    )  # fmt: skip
    fork = replace(bench.fork, stanchion_m=0.038, air=air, friction_n=None, lower_legs=None, bumper=None)
    return replace(bench, fork=fork, found=replace(found, sag_m=0.032, pressure_gauge_pa=air.pressure_gauge_pa))


_COSTS = st.none() | st.integers(0, 300).map(float)


def common() -> dict[str, st.SearchStrategy[Any]]:
    """What every part has."""
    return {
        "on_hand": st.integers(0, 4), "cost": _COSTS, "waiting_days": st.none() | st.integers(0, 20),
        "family": st.sampled_from([None, "Corrie 36", "Fell 34"]),
    }  # fmt: skip


_COMMON = common()
SHAFTS = st.builds(
    AirShaft, kind=st.just("air shaft"), gives_m=st.integers(8, 20).map(lambda n: n / 100),
    bore_m=st.sampled_from([None, 0.0346, 0.032]), **_COMMON,
)  # fmt: skip
SPACERS = st.builds(
    VolumeSpacer, kind=st.just("volume spacer"), gives_m3=st.integers(3, 20).map(lambda n: n * 1e-6),
    bore_m=st.sampled_from([None, 0.0346]), **_COMMON,
)  # fmt: skip
TYRES = st.builds(
    Tyre, kind=st.just("tyre"), gives_m=st.integers(45, 70).map(lambda n: n / 1000),
    bore_m=st.sampled_from([None, 0.584, 0.622]), **_COMMON,
)  # fmt: skip


def shelves(most: int) -> st.SearchStrategy[list[Part]]:
    """Shelves of up to so many parts."""
    kind = st.one_of(SHAFTS, SPACERS, TYRES)
    return st.integers(0, most).flatmap(lambda n: st.lists(kind, min_size=n, max_size=n))
