"""The core against the plain script of benchmarks/, on 50 random bikes that together use every key, to 1e-9.

The script was written from the physics alone, before the core was looked at: floats, math, one brentq per root, integrals by
quadrature. It reads the bench file by its own small table of units.
"""

from typing import Any

import plain
import plain_input
import plain_work
from at_once import each_of
from topout.bench_file import model, read

from . import bikes, core
from .compare import differences

WITHIN = 1e-9
PSI_PA = 6894.757293168361
COUNT = 50


@each_of(range(COUNT))
def test_plan(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    mine, got = plain.plan(plain_input.from_toml(text)), core.plan(text)
    expected = {
        "before": mine["before"],
        "after": mine["after"],
        "keep": mine["keep"],
        "clearance": mine["clearance"],
        "hazard": {which: mine[which].pop("hazard") for which in ("before", "after")},
    }
    assert differences(expected, got, WITHIN) == []


@each_of(range(COUNT))
def test_curve_before_and_after(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    sides, got = plain.sides(plain_input.from_toml(text)), core.curves(text)
    for name, side, ours in zip(("before", "after"), sides, got, strict=True):
        assert differences(plain.curve_of(side), ours, WITHIN, name) == []
        summed = [sum(parts) for parts in zip(*ours["terms"].values(), strict=True)]
        assert differences({"force_n": ours["force_n"]}, {"force_n": summed}, 1e-12, name) == []


@each_of(range(COUNT))
def test_filling_schedule(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    bike = plain_input.from_toml(text)
    to_pa, hose_m3 = bike["fork"]["air"]["pressure"], 3e-6 if number % 2 else 0.0
    stops = [0.3 * to_pa, 0.6 * to_pa]
    mine = plain.schedule(bike, to_pa, stops, PSI_PA, hose_m3)
    got = core.schedule(text, to_pa, stops, PSI_PA, hose_m3)
    assert got["settled_after"] == mine["settled_after"]
    assert len(got["rounds"]) == len(mine["rounds"])
    for number_of_round, (ours, theirs) in enumerate(zip(mine["rounds"], got["rounds"], strict=True), start=1):
        assert differences(ours, theirs, WITHIN, f"round {number_of_round}") == []


@each_of(range(0, COUNT, 7))
def test_both_doors_into_the_script_give_the_same_bike(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    by_hand, by_record = plain_input.from_toml(text), plain_input.from_bench_file(read.read_text(text))
    assert differences(plain.plan(by_hand), plain.plan(by_record), 1e-14) == []


@each_of(range(COUNT))
def test_the_work_that_is_timed_is_the_plan(number: int) -> None:
    """What the benchmark times, in clear functions and in flat loops, leaves nothing of the plan out."""
    bike = plain_input.from_toml(bikes.text(bikes.bike(number)))
    said = plain.plan(bike)
    expected: dict[str, Any] = {"keep": {name: kept["pressure_pa"] for name, kept in said["keep"].items()}}
    expected["clearance"] = said["clearance"]
    for name, side in zip(("before", "after"), plain.sides(bike), strict=True):
        curve, front = plain.curve_of(side), said[name]["sag"]["front"]
        expected[name] = {
            **{key: curve[key] for key in ("force_n", "force_fast_n", "rate_n_per_m", "positive_pa", "negative_pa")},
            **{key: front[key] for key in ("travel_m", "low_m", "high_m", "load_n")},
            "lost_m": curve["lost_travel_m"],
            "end_force_n": said[name]["end_force_n"],
            **said[name]["geometry"],
        }
    assert differences(expected, plain.work(plain.sides(bike)), 1e-11) == []
    assert differences(expected, plain_work.work(plain_work.prepared(bike)), 1e-11) == []


def every_key(table: type, prefix: str = "") -> set[str]:
    found: set[str] = set()
    for word in model.keys(table):
        found |= {f"{prefix}{word}.rate", f"{prefix}{word}.length"} if word == "negative_coil" else {prefix + word}
    for word, inner in model.subtables(table).items():
        found |= every_key(inner, f"{prefix}{word}.")
    return found


def used_keys(tables: dict[str, Any], prefix: str = "") -> set[str]:
    found: set[str] = set()
    for key, value in tables.items():
        found |= used_keys(value, f"{prefix}{key}.") if isinstance(value, dict) else {prefix + key}
    return found


DRAWN = {
    "fork.stanchion",
    "found.reading",
    "found.settles",
    "rider.posture",
}  # speak only where something is left out, and is drawn: tests/within


# A coil and a second chamber have a second way of their own: energies, test_second_chamber; by hand, planner/test_coil_fork.
OTHERWISE = {
    *(f"{table}.{key}" for table in ("fork.coil", "change.coil") for key in ("rate", "preload", "bind")),
    *(f"{table}.{key}" for table in ("fork.air", "change.air") for key in ("second_volume", "second_pressure")),
    "ride.temperature",
    "ride.altitude",
    "shelf",  # of questions of their own: planner/test_ride, tests of the options
    "guessed.fork",
    "guessed.shock",  # moves what can hurt alone: planner/test_hurts
}


def test_the_fifty_bikes_use_every_key() -> None:
    used = set().union(*(used_keys(bikes.bike(number)) for number in range(COUNT)))
    # A front wheel's own sag means nothing: the rear one's is what a given sag is for.
    behind = ("shock.", "change.shock.")  # second ways of their own: test_rear
    in_front = {key for key in every_key(model.BenchFile) if not key.startswith(behind)}
    assert in_front - used == {"front_wheel.sag", "change.front_wheel.sag", *DRAWN, *OTHERWISE}
