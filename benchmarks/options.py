"""The search of `topout options` beside a plain script for the same work, and how it grows to a million candidates.

    .venv/bin/python benchmarks/options.py [--quick]

One process, one thread. A candidate is a way to build at one pressure: what is worked out for it is its sag with the travel lost,
its stance at sag, its spring's curve beside the one before, its limits; each way's four keeps are shared by its settings. The
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
from dataclasses import replace
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


def one_way(bike: dict[str, Any]) -> list[tuple[float, float, float, float]]:
    """The plain script: every setting of one way; pressure, sag, stance and curve of each."""
    import plain

    was, after = plain.sides(bike)
    rest = was.sag()
    kept = plain.keep(was, after, rest["travel_m"], rest["share"])
    pressures = [each["pressure_pa"] for each in kept.values() if each["pressure_pa"] is not None] + [
        bike["fork"]["air"]["pressure"]
    ]
    found = []
    stood = was.geometry(rest["travel_m"], 0.0)
    bumper = bike["fork"]["bumper"]["length"]
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
        stands = side.geometry(sag, 0.0)
        stance = math.sqrt(
            (stands["head_angle_deg"] - stood["head_angle_deg"]) ** 2
            + ((stands["bb_height_m"] - stood["bb_height_m"]) / 8e-3) ** 2
            + ((stands["trail_m"] - stood["trail_m"]) / 8e-3) ** 2
        )
        points = [end * (i + 0.5) / 201 for i in range(201)]
        one, two = [was.slow_n(x) for x in points], [side.slow_n(x) for x in points]
        gap = math.sqrt(sum((b - a) ** 2 for a, b in zip(one, two, strict=True)) / sum(a * a for a in one))
        found.append((pressure, sag, stance, gap))
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="small sizes and few rounds, no judgement in it")
    quick = parser.parse_args().quick
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        if os.environ.get(name) != "1":
            environment = {
                **os.environ,
                **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
            }
            os.execve(sys.executable, [sys.executable, *sys.argv], environment)
    from numpy._core._multiarray_umath import __cpu_features__ as features

    import plain_input
    import topout
    from topout.bench_file import write
    from topout.planner.options import search as searching

    bench = topout.read(topout.examples()["parts-on-the-shelf"])
    bench = replace(bench, shelf=())
    print(
        f"AVX-512 {'on' if features.get('X86_V4') or features.get('AVX512_SKX') else 'off'}, load {os.getloadavg()[0]:.1f}"
    )

    parts = shelf(4, 4)
    found = searching.search(bench, parts)
    worst = 0.0
    for k in range(len(found.front)):
        change = found.ways.change(int(found.front.way[k]), None)
        bike = plain_input.from_toml(write.write(replace(bench, change=change)))
        said = {round(p / PSI_PA): row for row in one_way(bike) for p in row[:1]}
        row = said[round(float(found.front.set_gauge_pa[k]) / PSI_PA)]
        worst = max(worst, abs(row[2] - float(found.front.stance[k])))
        if abs(row[2] - float(found.front.stance[k])) > 1e-6 or abs(row[3] - float(found.front.curve[k])) > 2e-4:
            print(f"option {k + 1}: search and plain script differ, nothing is timed: {row}")
            return 1
    print(f"search and plain script agree on the {len(found.front)} options of a small front (stance to {worst:.0e})")

    bikes = [
        plain_input.from_toml(write.write(replace(bench, change=found.ways.change(n, None))))
        for n in range(0, len(found.ways), max(1, len(found.ways) // (6 if quick else 24)))
    ]
    rounds = 2 if quick else 5
    script = []
    for _ in range(rounds):
        start, count = time.thread_time(), 0
        for bike in bikes:
            count += len(one_way(bike))
        script.append((time.thread_time() - start) / count)
    script_us = statistics.median(script) * 1e6
    print(f"plain script: {script_us:,.0f} us a candidate")

    sizes = {"10,000": (16, 16), "100,000": (64, 64)} | ({} if quick else {"1,000,000": (210, 205)})
    per, peaks = {}, {}
    for name, (shafts, tyres) in sizes.items():
        lying = shelf(shafts, tyres)
        times = []
        for _ in range(1 if name == "1,000,000" else rounds):
            start = time.thread_time()
            found = searching.search(bench, lying)
            times.append((time.thread_time() - start) / found.tried)
        per[name] = statistics.median(times) * 1e6
        tracemalloc.start()
        searching.search(bench, lying)
        peaks[name] = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(
            f"{found.tried:>10,} candidates: {per[name]:6.1f} us each, {script_us / per[name]:5.0f} x the script, "
            f"peak {peaks[name]:.1f} MB, front {len(found.front)}",
            flush=True,
        )
    print(f"resident at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
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
    return 0 if quick or all(met for _, met in checks) else 1


if __name__ == "__main__":
    sys.exit(main())
