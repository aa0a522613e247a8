"""Random bikes pushed to the ends of what a bench file may say, or with tables missing: core and plain script still agree."""

import random
from typing import Any

import pytest

import plain
import plain_input
from at_once import each_of
from topout.errors import FaultsFound

from . import bikes, core
from .compare import differences

HIGHEST_PA = plain.HIGHEST_GAUGE_PA


def pushed(number: int, seed: int) -> dict[str, Any]:
    """Bike ``number`` with a few values at their limits, or a table taken out."""
    rng = random.Random(f"extreme-{seed}-{number}")
    tables = bikes.bike(number, seed)
    fork, air = tables["fork"], tables["fork"]["air"]

    def now_and_then() -> bool:
        return rng.random() < 0.15

    if now_and_then():
        tables["conditions"]["fast_exponent"] = rng.choice((1, 1.4))
    if now_and_then() and air.get("negative", "self-equalising") == "self-equalising":
        air["port_position"] = rng.choice(("0 mm", "50 mm", "100 mm", "250 mm"))
        air["port_length"] = rng.choice(("0 mm", "5 mm", "60 mm", "100 mm"))
    if now_and_then():
        air["pressure"] = rng.choice(("0 psi", "1 psi", "5 psi", "500 psi", "60 bar"))
    if now_and_then():
        tables["rider"]["mass"] = rng.choice(("10 kg", "250 kg"))
    if now_and_then() and "bumper" in fork:
        fork["bumper"] |= {"power": rng.choice((1, 20)), "length": rng.choice(("0.1 mm", "40 mm"))}
    if now_and_then():
        fork["top_out"] = {"length": rng.choice(("0.1 mm", "30 mm")), "rate": "50 N/mm", "power": rng.choice((1, 7.5))}
    if now_and_then():
        fork["friction"] = "400 N"
    if now_and_then():
        air["shaft"] = rng.choice(("3 mm", "25 mm"))
    if now_and_then():
        tables["change"]["travel"] = rng.choice(("20 mm", "60 mm", "300 mm"))
    if now_and_then():
        tables["rear_wheel"]["sag"] = "150 mm"
    if now_and_then():
        fork.pop("lower_legs", None)
    if now_and_then():
        del tables["rider"]
    if now_and_then():
        del tables["frame"], tables["front_wheel"], tables["rear_wheel"]
    if now_and_then():
        del tables["change"]
    return tables


def keep_differences(mine: dict[str, Any], got: dict[str, Any]) -> list[str]:
    """As ever, but a pressure within a pascal of 0 or 60 bar may be given or left out: rounding decides."""
    found = []
    for name, kept in mine.items():
        pair = kept["pressure_pa"], got[name]["pressure_pa"]
        at_an_end = [p is not None and min(abs(p), abs(p - HIGHEST_PA)) < 1.0 for p in pair]
        if not (any(at_an_end) and all(end or p is None for end, p in zip(at_an_end, pair, strict=True))):
            found += differences(kept, got[name], 1e-9, name)
    return found


def _of(numbers: range) -> list[tuple[int, int]]:
    return [(number, seed) for seed in (3, 4) for number in numbers]


@each_of(_of(range(30)), in_soak=_of(range(30, 100)))
def test_plan(number: int, seed: int) -> None:
    text = bikes.text(pushed(number, seed))
    try:
        got = core.plan(text)
    except FaultsFound:
        return  # the sag found lies beyond the travel, or the file as it is locks: said so, nothing computed
    mine = plain.plan(plain_input.from_toml(text))
    for which in ("before", "after"):
        if mine[which] is None:  # it locks: nothing is computed from it
            assert got[which]["end_force_n"] is None
            assert all(kept["pressure_pa"] is None for kept in got["keep"].values())
            continue
        expected, found = mine[which], dict(got[which])
        hazard = expected.pop("hazard")
        if found["sag"] is not None and found["sag"]["front"] is None:
            found["sag"] = None
        assert differences(expected, found, 1e-9, which) == []
        assert differences(hazard, got["hazard"][which], 1e-9, f"hazard {which}") == []
    if "keep" in mine:
        assert keep_differences(mine["keep"], got["keep"]) == []
        assert differences(mine["clearance"], got["clearance"], 1e-9) == []


def test_no_load_no_keep_of_sag() -> None:
    """Without a rider nothing can say what sag to keep, also where the unloaded fork rests short."""
    tables = bikes.bike(270, 3)
    del tables["rider"]
    got = core.plan(bikes.text(tables))
    assert core.curves(bikes.text(tables))[0]["lost_travel_m"] > 0.0
    assert got["keep"]["sag"]["pressure_pa"] is None and got["keep"]["sag-share"]["pressure_pa"] is None
    assert got["keep"]["end-force"]["pressure_pa"] is not None


@pytest.mark.parametrize("pressure", ["0 psi", "0.1 psi", "1 psi", "3 psi"])
def test_a_fork_without_pressure_sits_at_the_bottom(pressure: str) -> None:
    tables = bikes.bike(54, 4)
    tables["fork"].pop("lower_legs", None)
    tables["fork"]["air"] |= {"pressure": pressure, "port_position": "0 mm", "port_length": "100 mm"}
    front = core.plan(bikes.text(tables))["before"]["sag"]["front"]
    assert front["share"] == 1.0 and front["high_m"] == front["travel_m"]
