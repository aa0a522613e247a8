"""The bikes that are timed: the random ones of tests/second_way, as columns for the core and as dicts for the script."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
for folder in (ROOT / "src", ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

import plain  # noqa: E402
import plain_input  # noqa: E402
import plain_work  # noqa: E402
from second_way import bikes as random_bikes  # noqa: E402
from topout.bench_file import read  # noqa: E402
from topout.physics.sag import Load  # noqa: E402
from topout.planner import design as designs  # noqa: E402
from topout.planner import inputs, load  # noqa: E402
from topout.planner.evaluate import Evaluation  # noqa: E402

BIKES = 50
KEEPS = ("sag", "sag-share", "end-force", "curve")
ROOMS = ("tyre_to_crown_m", "tyre_to_brace_m", "rear_tyre_to_frame_m")


def given(number: int) -> dict[str, Any]:
    """A random bike cut to the given work of the speed study: any negative chamber, lower legs and bumper on every fork.

    Not in it: damper gas, top-out bumper, a port with a length, friction by pressure, rear travel, a calibrated load.
    """
    tables = random_bikes.bike(number)
    fork, change = tables["fork"], tables["change"]
    for table, keys in (
        (fork, ("damper", "top_out", "friction_per_bar")),
        (fork["air"], ("port_length",)),
        (change.get("air", {}), ("port_length",)),
        (tables["rear_wheel"], ("sag",)),
        (change.get("rear_wheel", {}), ("sag",)),
        (tables, ("found",)),
    ):
        for key in keys:
            table.pop(key, None)
    longest_mm = max(float(table["travel"].split()[0]) for table in (fork, change))
    fork.setdefault("lower_legs", {"air_volume": f"{1.6 * longest_mm * 2.2:.12g} ml", "area": "1600 mm^2"})
    fork.setdefault("bumper", {"length": "8 mm", "rate": "70 N/mm"})["power"] = 2
    return tables


def texts(count: int, every_key: bool) -> list[str]:
    return [random_bikes.text(random_bikes.bike(number) if every_key else given(number)) for number in range(count)]


def for_the_script(count: int = BIKES, every_key: bool = True) -> list[tuple[plain.Side, plain.Side]]:
    return [plain_work.prepared(plain_input.from_toml(text)) for text in texts(count, every_key)]


def for_the_front(n: int, every_key: bool = True) -> tuple[designs.Design, designs.Changes]:
    """``n`` designs and what is asked of each: what a draw or a candidate begins with."""
    benches = [read.read_text(text) for text in texts(BIKES, every_key)]
    index = np.arange(n) % BIKES
    return designs.Design.of(benches).take(index), designs.Changes.of(benches).take(index)


def laid_out(before: designs.Design, changes: designs.Changes) -> tuple[inputs.Bikes, Load]:
    """The columns in front of the evaluation: the change made, both states side by side, the loads found."""
    return inputs.pairs(before, designs.changed(before, changes)), load.loads(before).load


def for_the_core(n: int, count: int = BIKES, every_key: bool = True) -> tuple[inputs.Bikes, Load]:
    """``n`` plans: the bikes over and over, the filling pressure of each a little different (within 1 %)."""
    benches = [read.read_text(text) for text in texts(count, every_key)]
    pairs, on_fork = laid_out(designs.Design.of(benches), designs.Changes.of(benches))
    assert np.isfinite(on_fork.axial_n + on_fork.vertical_n).all()
    if n != count:
        index = np.arange(n) % count
        pairs, on_fork = pairs.take((slice(None), index)), on_fork.take(index)
        pairs.chambers.pressure_pa[...] *= np.random.default_rng(1976).uniform(0.99, 1.01, n)
    return pairs, on_fork


def one_of(result: Evaluation, number: int) -> dict[str, Any]:
    """Plan ``number`` of a result in the shape that ``plain_work.work`` gives."""
    assert result.curves is not None

    def number_or_none(value: float) -> float | None:
        return None if math.isnan(value) else float(value)

    def stance(values: Any) -> dict[str, float]:
        named = {name: float(value[at]) for name, value in values.items()}
        return {
            k[:-4] + "_deg" if k.endswith("_rad") else k: math.degrees(v) if k.endswith("_rad") else v
            for k, v in named.items()
        }

    found: dict[str, Any] = {}
    for state, name in enumerate(("before", "after")):
        at = (state, number)
        found[name] = {
            **{key: getattr(result.curves, key)[at] for key in ("force_n", "force_fast_n", "rate_n_per_m")},
            **{key: getattr(result.curves, key)[at] for key in ("positive_pa", "negative_pa")},
            "travel_m": float(result.sag_m[at]),
            **{key: float(getattr(result, key)[at]) for key in ("low_m", "high_m", "lost_m", "load_n", "end_force_n")},
            "unloaded": stance(result.unloaded),
            "sagged": stance(result.sagged),
        }
    found["keep"] = {name: number_or_none(result.keep_gauge_pa[name.replace("-", "_")][number]) for name in KEEPS}
    found["clearance"] = {name: number_or_none(result.room[name][1, number]) for name in ROOMS}
    for name, kept in found["keep"].items():
        if kept is not None and not 0.0 <= kept <= plain.HIGHEST_GAUGE_PA:
            found["keep"][name] = None  # the planner gives no pressure outside 0 to 60 bar; the columns leave it in
    return found
