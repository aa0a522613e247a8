"""What must hold for every bike: of twenty daily, which have every way of building among them, and of others in the soak."""

import dataclasses
import random
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from at_once import each_of
from topout import units
from topout.bench_file import read
from topout.planner import plan as planner
from topout.planner import state
from topout.planner.results import as_json

from . import bikes, core
from .methods import Spring

OF_BIKES = each_of(range(20), in_soak=range(20, 320))
SPRING_PARTS = (
    "positive_n",
    "negative_n",
    "second_n",
    "lower_legs_n",
    "damper_gas_n",
    "bumper_n",
    "top_out_n",
    "coil_n",
)


def curve(tables: dict[str, Any]) -> dict[str, Any]:
    return core.curve_of(read.read_text(bikes.text(tables)))


@OF_BIKES
def test_force_rises_with_travel(number: int) -> None:
    found = curve(bikes.bike(number))
    for key in ("force_n", "force_fast_n", "force_fast_from_sag_n"):
        if found[key] is not None:
            assert np.all(np.diff(found[key]) > 0), key
    assert min(found["rate_n_per_m"]) > 0
    assert set(found["terms"]) <= set(SPRING_PARTS)


@OF_BIKES
def test_force_rises_with_pressure_from_the_port_inward(number: int) -> None:
    tables, more_psi = bikes.bike(number), random.Random(number).uniform(0.1, 20.0)
    before = curve(tables)
    air = tables["fork"]["air"]
    opens_m = float(air.get("port_position", "0 mm").split()[0]) * 1e-3
    air["pressure"] = f"{float(air['pressure'].split()[0]) + more_psi:.15g} psi"
    after = curve(tables)
    inward = np.array(before["travel_m"]) >= opens_m + 1e-12
    assert np.all(np.array(after["force_n"])[inward] > np.array(before["force_n"])[inward])
    assert np.all(np.array(after["positive_pa"]) > np.array(before["positive_pa"]))


def test_short_of_the_port_more_pressure_may_pull_harder() -> None:
    """The other half of the sentence: there the property need not hold, and here it does not."""
    tables = bikes.bike(0)
    tables["fork"]["air"] |= {"negative": "self-equalising", "port_position": "20 mm", "port_length": "0 mm"}
    tables["fork"]["air"] |= {
        "shaft": "8 mm",
        "negative_volume": "25 ml",
        "grease_in_negative": "0 ml",
        "pressure": "60 psi",
    }
    softer = curve(tables)["force_n"][0]
    tables["fork"]["air"]["pressure"] = "90 psi"
    assert curve(tables)["force_n"][0] < softer


@OF_BIKES
def test_a_plan_of_no_change_is_no_change(number: int) -> None:
    tables = bikes.bike(number)
    del tables["change"]
    for named in ({}, {"change": {"travel": tables["fork"]["travel"]}}):
        plan = planner.plan(read.read_text(bikes.text(tables | named)))
        result = plan.as_json()
        assert result["before"] == result["after"]
        assert all(value in (0, None) for value in leaves(result["difference"]))
        pressure_pa = read.read_text(bikes.text(tables)).fork.air.pressure_gauge_pa
        front = result["before"]["sag"]["front"]
        for name, kept in result["keep"].items():
            if kept["pressure_pa"] is None:
                assert name.startswith("sag") and front["share"] in (0.0, 1.0)
            else:
                assert abs(kept["pressure_pa"] - pressure_pa) <= 1e-9 * max(pressure_pa, 1e5), name


def leaves(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return [leaf for inner in value.values() for leaf in leaves(inner)]
    return [value]


@OF_BIKES
def test_what_a_keep_sets_keeps_it(number: int) -> None:
    """The plan taken again at each pressure has the sag, share and end force of before, and no better curve beside it."""
    tables = bikes.bike(number)
    first = core.plan(bikes.text(tables))
    front = first["before"]["sag"]["front"]
    if not 0.0 < front["share"] < 1.0:
        return
    for name, kept in first["keep"].items():
        if kept["pressure_pa"] is None:
            continue
        change = {key: value for key, value in tables["change"].items() if key != "pressure"}
        change["air"] = {key: value for key, value in change.get("air", {}).items() if key != "pressure"}
        again = core.plan(bikes.text(tables | {"change": change | {"pressure": f"{kept['pressure_pa']!r} Pa"}}))
        after = again["after"]
        if name == "sag":
            assert abs(after["sag"]["front"]["travel_m"] - front["travel_m"]) < 1e-9
        elif name == "sag-share":
            assert abs(after["sag"]["front"]["share"] - front["share"]) < 1e-8
        elif name == "end-force":
            assert abs(after["end_force_n"] / first["before"]["end_force_n"] - 1) < 1e-10


@OF_BIKES
def test_no_pressure_comes_closer_to_the_curve(number: int) -> None:
    """The curve keep by a second way: the misfit by quadrature on the energy's slope, at and beside its pressure."""
    from scipy.integrate import quad

    import plain
    import plain_input

    text = bikes.text(bikes.bike(number))
    kept = core.plan(text)["keep"]["curve"]["pressure_pa"]
    if kept is None:
        return
    bike = plain_input.from_toml(text)
    after, ambient = plain.changed(bike), core.ambient_abs_pa(text)
    old = Spring(bike, ambient)
    bumper_m = bike["fork"].get("bumper", {}).get("length", 0.0)
    end_m = min(old.travel_m, after["fork"]["travel"]) - bumper_m

    def misfit(gauge_pa: float) -> float:
        after["fork"]["air"]["pressure"] = gauge_pa
        new = Spring(after, ambient)
        edges = sorted({0.0, end_m, *(x for x in old.kinks() + new.kinks() if x < end_m)})
        pieces = [(a + (b - a) * 1e-12, b) for a, b in zip(edges, edges[1:], strict=False)]
        return sum(quad(lambda x: (new.slow_n(x) - old.slow_n(x)) ** 2, a, b, epsrel=1e-10)[0] for a, b in pieces)

    step = 0.02 * (kept + ambient)
    below, at, above = misfit(kept - step), misfit(kept), misfit(kept + step)
    vertex = kept + step * (below - above) / (2 * (below - 2 * at + above))
    assert abs(vertex - kept) < 1e-5 * (kept + ambient)


@OF_BIKES
def test_fewer_points_are_the_same_curve(number: int) -> None:
    points = random.Random(number).randint(2, 60)
    bench = read.read_text(bikes.text(bikes.bike(number)))
    fine, coarse = core.curve_of(bench, points=(points - 1) * 4 + 1), core.curve_of(bench, points=points)
    scale = abs(fine["force_fast_n"][-1])
    for key in ("force_n", "force_fast_n"):
        assert np.max(np.abs(np.array(fine[key])[::4] - np.array(coarse[key]))) <= 1e-12 * scale
    assert coarse["energy_j"] == fine["energy_j"] and coarse["lost_travel_m"] == fine["lost_travel_m"]


ENTRIES = [(dimension, unit) for dimension, table in units.TABLE.items() for unit in table]


@given(st.sampled_from(ENTRIES), st.floats(-1e6, 1e6, allow_nan=False))
def test_units_round_trip(entry: tuple[str, str], value: float) -> None:
    dimension, unit = entry
    back = units.from_si(units.to_si(value, unit, dimension), unit, dimension)
    assert abs(back - value) <= 1e-12 * max(abs(value), 1e3 if dimension == "temperature" else 1e-3)
    typed = units.parse(f"{value!r} {unit}", dimension)
    assert typed.value_si == units.to_si(value, unit, dimension) and typed.unit == unit


@OF_BIKES
def test_terms_sum_to_the_force_and_are_each_computed_alone(number: int) -> None:
    bench = read.read_text(bikes.text(bikes.bike(number)))
    whole = as_json(state.curve(bench))
    total = np.sum([np.array(part) for part in whole["terms"].values()], axis=0)
    assert np.max(np.abs(total - whole["force_n"])) <= 1e-11 * max(abs(whole["force_n"][-1]), 1.0)
    if bench.fork.bumper is not None:
        bare = dataclasses.replace(bench, fork=dataclasses.replace(bench.fork, bumper=None))
        without = as_json(state.curve(bare))["terms"]
        for name in without.keys() - {"bumper_n"}:
            assert whole["terms"][name] == without[name]
