"""What each keep costs: the sag and the end force that its pressure would give, all four in one array call."""

from __future__ import annotations

from dataclasses import fields, replace

from topout.bench_file.model import BenchFile, Change
from topout.physics import air_spring, geometry, sag
from topout.planner import change, load, stack
from topout.planner.results import Keeps
from topout.records import dataclass


@dataclass(frozen=True, slots=True)
class Held:
    """One keep at its pressure: gauge pressure [Pa], front sag [m] (None without a load), slow end force [N]."""

    pressure_gauge_pa: float
    sag_m: float | None
    end_force_n: float


def held(bench: BenchFile, keeps: Keeps) -> dict[str, Held | None]:
    """For each of the four keeps of a plan of `bench` what its pressure gives after the change; None where there is none."""
    wanted = {f.name: getattr(keeps, f.name).pressure_pa for f in fields(keeps)}
    known = {name: pa for name, pa in wanted.items() if pa is not None}
    result: dict[str, Held | None] = dict.fromkeys(wanted)
    if not known:
        return result
    on = load.load_on(bench)
    asked = bench.change or Change()
    after = [
        change.changed(replace(bench, change=replace(asked, pressure_gauge_pa=pa, air=_without_pressure(asked))))
        for pa in known.values()
    ]
    bikes = stack.bikes(after)
    settled = air_spring.settle(bikes.chambers)
    end_n = air_spring.force_and_rate(settled, bikes.chambers.travel_m)[0]
    sag_m = None
    if on is not None:
        sag_m = sag.at_rest_m(settled, geometry.stand(bikes.chart, bikes.fitted), on.load, bikes.friction)[0]
    for i, (name, pa) in enumerate(known.items()):
        result[name] = Held(pa, None if sag_m is None else float(sag_m[i]), float(end_n[i]))
    return result


def _without_pressure(asked: Change) -> dict[str, object] | None:
    """The change's own air spring without its pressure: the keep's stands in its place."""
    if asked.air is None:
        return None
    return {name: value for name, value in asked.air.items() if name != "pressure_gauge_pa"}
