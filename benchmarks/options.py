"""The search of `topout options` beside a plain script for the same work, and how it grows to a million candidates.

    .venv/bin/python benchmarks/options.py [--quick] [--end front|rear|both]

One process, one thread. A candidate is a way to build at one pressure: what is worked out for it is its sag with the travel lost,
its stance at sag, its spring's curve beside the one before, its limits; each way's four keeps are shared by its settings. Behind
it is the shock's setting with the wheel's sag and curve, at both ends each of the shock's settings and on it each of the fork's. The
plain script does the same with floats, `math`, one `brentq` per root and 201 points of each curve. Before anything is timed the
two agree. Ends non-zero where a target is missed.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import statistics
import sys
import time
import tracemalloc
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

TIMES_THE_SCRIPT = 100.0  # at least
GROWTH = 1.15  # of the time per candidate, from a hundred thousand to a million, at most
MORE_MEMORY_MB = 4.0  # of the peak, from a hundred thousand to a million, at most
PSI_PA = 6894.757293168361


def shelf(shafts: int, tyres: int) -> list[Any]:
    """Parts that all do something else, and cost the less the further they are from what is fitted."""
    from topout.bench_file.parts import AirShaft, Part, Tyre

    made: list[Part] = []
    for n in range(shafts):
        gives = 0.15 + (0.6e-3 + n * 0.05e-3) * (-1) ** n
        made.append(AirShaft(kind="air shaft", gives_m=gives, cost=100.0 + n))
    for n in range(tyres):
        made.append(Tyre(kind="tyre", gives_m=0.045 + 0.5e-3 * n, bore_m=0.584, cost=40.0 + n))
    return made


def _over(side: Any, x: float) -> float:
    """Force less load."""
    return float(side.slow_n(x) - side.load_n(x))


def one_way(bike: dict[str, Any], end: str) -> tuple[int, list[tuple[float, float, float, float]]]:
    """The plain script: how many settings of one way there are, and of each that works its pressures, stance and curve."""
    import plain_rear

    if end == "front":
        found = _in_front(bike)
        return len(found), [(fork_pa, math.nan, stance, curve) for fork_pa, stance, curve in found]
    before_m, behind = plain_rear.settings(bike)
    count, told = len(behind), []
    for shock_pa, after_m, curve in behind:
        stood = plain_rear.with_rear(bike, before_m, after_m)
        if end == "rear":
            told.append((math.nan, shock_pa, _as_set(stood), curve))
            continue
        ahead = _in_front(stood)
        count += len(ahead)
        told += [(fork_pa, shock_pa, stance, math.hypot(of, curve)) for fork_pa, stance, of in ahead]
    return count, told


def _stance(one: dict[str, float], two: dict[str, float]) -> float:
    return math.sqrt(
        (two["head_angle_deg"] - one["head_angle_deg"]) ** 2
        + ((two["bb_height_m"] - one["bb_height_m"]) / 8e-3) ** 2
        + ((two["trail_m"] - one["trail_m"]) / 8e-3) ** 2
    )


def _rear_m(side: Any) -> float:
    """Where the rear wheel rests."""
    return float(side.parts["rear_sag_m"])


def _as_set(bike: dict[str, Any]) -> float:
    """How far the bike's stance at sag lies from the one before with the fork as it is set."""
    import plain

    was, side = plain.sides(bike)
    side.lost_m()
    at = [plain.spring.root(partial(_over, each), each.travel_m) for each in (was, side)]
    return _stance(*(each.geometry(x, _rear_m(each)) for each, x in zip((was, side), at, strict=True)))


def _in_front(bike: dict[str, Any]) -> list[tuple[float, float, float]]:
    """Every setting of the fork; pressure, stance and curve of each."""
    import plain

    was, after = plain.sides(bike)
    rest = was.sag()
    kept = plain.keep(was, after, rest["travel_m"], rest["share"])
    pressures = [each["pressure_pa"] for each in kept.values() if each["pressure_pa"] is not None] + [
        bike["fork"]["air"]["pressure"]
    ]
    found = []
    stood = was.geometry(rest["travel_m"], _rear_m(was))
    bumper = bike["fork"].get("bumper", {}).get("length", 0.0)
    end = min(was.travel_m, after.travel_m) - bumper
    for pressure in sorted({round(p / PSI_PA) * PSI_PA for p in pressures}):
        fitted = {
            **after.bike,
            "fork": {**after.bike["fork"], "air": {**after.bike["fork"]["air"], "pressure": pressure}},
        }
        side = plain.Side(fitted, after.drawn, after.load)
        if side.locked:
            continue
        sag = plain.spring.root(partial(_over, side), side.travel_m)
        side.lost_m()
        stance = _stance(stood, side.geometry(sag, _rear_m(side)))
        points = [end * (i + 0.5) / 201 for i in range(201)]
        one, two = [was.slow_n(x) for x in points], [side.slow_n(x) for x in points]
        gap = math.sqrt(sum((b - a) ** 2 for a, b in zip(one, two, strict=True)) / sum(a * a for a in one))
        found.append((pressure, stance, gap))
    return found


@dataclass(frozen=True)
class Search:
    """One search: the bike, its ends, and for each size how many parts of each kind lie on the shelf."""

    end: str
    bench: Any
    small: tuple[int, ...]
    sizes: Mapping[str, tuple[int, ...]]

    def shelf(self, many: tuple[int, ...]) -> list[Any]:
        shafts, tyres, reducers, spacers = (*many, 0, 0)[:4]
        return [*shelf(shafts, tyres), *behind(reducers, spacers)]

    def found(self, many: tuple[int, ...]) -> Any:
        from topout.planner.options import search as searching
        from topout.planner.options.ends import Ends

        return searching.search(self.bench, self.shelf(many), ends=Ends(self.end != "rear", self.end != "front"))


def behind(reducers: int, spacers: int) -> list[Any]:
    """Stroke reducers and spacers for the shock that all do something else, and cost the less the more they take."""
    from topout.bench_file.parts import Part, StrokeReducer, VolumeSpacer

    made: list[Part] = []
    for n in range(reducers):
        made.append(
            StrokeReducer(
                kind="stroke reducer", gives_m=0.5e-3 + 0.02e-3 * n, cost=400.0 - 0.1 * n, end="rear", on_hand=9
            )
        )
    for n in range(spacers):
        made.append(
            VolumeSpacer(kind="volume spacer", gives_m3=5e-6 + 0.02e-6 * n, cost=9.0 + 0.01 * n, end="rear", on_hand=9)
        )
    return made


def searches(quick: bool) -> list[Search]:
    """In front the example's hardtail; behind and at both ends the one with a shock on air."""
    import topout
    from topout.bench_file.model import Change, Wheel

    front = replace(topout.read(topout.examples()["parts-on-the-shelf"]), shelf=())
    shock = topout.read(topout.examples()["air-shock-and-its-shelf"])
    assert shock.fork is not None and shock.fork.air is not None
    # a taller tyre is asked for, so that the bike as it is is no answer; tyres on the shelf want a bead seat
    wheel = Wheel(bead_seat_m=0.622, tyre_height_m=0.060)
    asked = Change(front_wheel=Wheel(tyre_height_m=0.066))
    fork = replace(shock.fork, air=replace(shock.fork.air, spacer_limit=4))
    both = replace(shock, fork=fork, shelf=(), change=asked, front_wheel=wheel, rear_wheel=wheel)
    most = () if quick else ("1,000,000",)
    return [
        Search("front", front, (4, 4), {"10,000": (16, 16), "100,000": (64, 64)} | dict.fromkeys(most, (210, 205))),
        Search(
            "rear",
            both,
            (0, 0, 2, 2),
            {"10,000": (0, 0, 10, 10), "100,000": (0, 0, 32, 32)} | dict.fromkeys(most, (0, 0, 105, 105)),
        ),
        Search(
            "both",
            both,
            (2, 0, 1),
            {"10,000": (0, 0, 2), "100,000": (4, 0, 4, 1)} | dict.fromkeys(most, (16, 0, 12, 2)),
        ),
    ]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="small sizes and few rounds, no judgement in it")
    parser.add_argument("--end", default="", help="front, rear or both; all three where left out")
    asked = parser.parse_args()
    quick = asked.quick
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        if os.environ.get(name) != "1":
            environment = {
                **os.environ,
                **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
            }
            os.execve(sys.executable, [sys.executable, *sys.argv], environment)
    from numpy._core._multiarray_umath import __cpu_features__ as features

    print(
        f"AVX-512 {'on' if features.get('X86_V4') or features.get('AVX512_SKX') else 'off'}, load {os.getloadavg()[0]:.1f}"
    )
    met = [measured(each, quick) for each in searches(quick) if asked.end in ("", each.end)]
    print(f"resident at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
    return 0 if quick or all(met) else 1


def bike_of(of: Search, found: Any, number: int) -> dict[str, Any]:
    """One way as the plain script takes it."""
    import plain_input
    from topout.bench_file import write

    return plain_input.from_toml(write.write(replace(of.bench, change=found.ways.change(number, None))))


def agree(of: Search) -> bool:
    """Whether search and plain script say the same of a small front."""
    found = of.found(of.small)
    worst = 0.0
    for k in range(len(found.front)):
        _, said = one_way(bike_of(of, found, int(found.front.way[k])), of.end)
        set_pa = float(found.front.set_gauge_pa[k]), float(found.front.rear_set_gauge_pa[k])
        row = min(
            said, key=lambda each: sum(abs(a - b) for a, b in zip(each, set_pa, strict=False) if math.isfinite(a))
        )
        off = abs(row[2] - float(found.front.stance[k])), abs(row[3] - float(found.front.curve[k]))
        worst = max(worst, off[0])
        if off[0] > 1e-6 or off[1] > 2e-4:
            print(f"{of.end}, option {k + 1}: search and plain script differ, nothing is timed: {row}, {off}")
            return False
    print(
        f"{of.end}: search and plain script agree on the {len(found.front)} options of a small front (stance to {worst:.0e})"
    )
    return bool(len(found.front))


def measured(of: Search, quick: bool) -> bool:
    """One search timed against the script, and how it grows."""
    if not agree(of):
        return False
    found = of.found(of.small)
    bikes = [bike_of(of, found, n) for n in range(0, len(found.ways), max(1, len(found.ways) // (4 if quick else 12)))]
    rounds = 1 if quick else 3
    script = []
    for _ in range(rounds):
        start, count = time.thread_time(), 0
        for bike in bikes:
            count += one_way(bike, of.end)[0]
        script.append((time.thread_time() - start) / count)
    script_us = statistics.median(script) * 1e6
    print(f"{of.end}: plain script {script_us:,.0f} us a candidate")
    per, peaks = {}, {}
    for name, many in of.sizes.items():
        times = []
        for _ in range(1 if name == "1,000,000" else rounds):
            start = time.thread_time()
            found = of.found(many)
            times.append((time.thread_time() - start) / found.tried)
        per[name] = statistics.median(times) * 1e6
        tracemalloc.start()
        of.found(many)
        peaks[name] = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(
            f"{found.tried:>10,} candidates: {per[name]:6.1f} us each, {script_us / per[name]:5.0f} x the script, "
            f"peak {peaks[name]:.1f} MB, front {len(found.front)}, load {os.getloadavg()[0]:.1f}",
            flush=True,
        )
    first, last = list(per)[-2], list(per)[-1]  # the first size is a single chunk
    checks = [
        (
            f"{script_us / per[last]:.0f} x the script, at least {TIMES_THE_SCRIPT:.0f}",
            script_us / per[last] >= TIMES_THE_SCRIPT,
        ),
        (
            f"time per candidate {per[last] / per[first]:.2f} x that of {first}, at most {GROWTH}",
            per[last] / per[first] <= GROWTH,
        ),
        (
            f"peak {peaks[last] - peaks[first]:.1f} MB more, at most {MORE_MEMORY_MB:.0f}",
            peaks[last] - peaks[first] <= MORE_MEMORY_MB,
        ),
    ]
    for text, met in checks:
        print(f"  {text}: {'met' if met else 'MISSED'}")
    return all(met for _, met in checks)


if __name__ == "__main__":
    sys.exit(main())
