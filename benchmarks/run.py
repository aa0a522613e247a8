"""The numbers of the core's speed, each beside what it is held against and measured in the same process and thread.

    .venv/bin/python benchmarks/run.py            # everything, two to five minutes
    .venv/bin/python benchmarks/run.py --quick    # a look, no judgement in it

Ends non-zero where a target is missed. See README.md here for what is measured and how to read it.
"""

from __future__ import annotations

import argparse
import compileall
import os
import platform
import random
import resource
import statistics
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
WITHOUT_AVX512 = "X86_V4 AVX512_ICL AVX512_SPR"  # as numpy from 2.4 on names them

Targets = dict[str, float]
WITH: Targets = {"times the script": 160.0, "scalars": 400.0}
WITHOUT: Targets = {"times the script": 90.0, "scalars": 400.0}
MILLION_OVER_TEN_THOUSAND = 1.1
MEMORY_MB = 32.0
FRONT_OVER_EVALUATION = 0.25
PLAN_OVER_NUMPY = 2.0
DRAWN_OVER_NUMPY = 4.0  # the same with 20,000 draws
HELP_OVER_BARE = 3.5


def timed(work: Callable[[], object], clock: Callable[[], float]) -> float:
    start = clock()
    work()
    return clock() - start


def interleaved(
    contestants: dict[str, tuple[Callable[[], object], int]],
    rounds: int,
    clock: Callable[[], float] = time.thread_time,
) -> dict[str, float]:
    """Median seconds per plan of each; every round takes all in a new random order, the first one is not counted.

    The clock is the thread's own processor time, so that whatever else the machine does is left out.
    """
    taken: dict[str, list[float]] = {name: [] for name in contestants}
    order = list(contestants)
    shuffle = random.Random(1976)
    for round_number in range(rounds + 1):
        shuffle.shuffle(order)
        for name in order:
            work, plans = contestants[name]
            seconds = timed(work, clock) / plans
            if round_number:
                taken[name].append(seconds)
    return {name: statistics.median(values) for name, values in taken.items()}


def verdict(met: bool) -> str:
    return "met" if met else "MISSED"


def agree() -> None:
    """The core and the plain script on the fifty bikes, before either is timed."""
    import columns
    import plain
    import plain_work
    from second_way.compare import differences
    from topout.planner.evaluate import evaluate

    for every_key in (True, False):
        result = evaluate(*columns.for_the_core(columns.BIKES, every_key=every_key))
        for number, sides in enumerate(columns.for_the_script(every_key=every_key)):
            got = columns.one_of(result, number)
            apart = differences(plain.work(sides), got, 1e-9) + differences(plain_work.work(sides), got, 1e-9)
            if apart:
                sys.exit(f"bike {number}: core and plain script differ, nothing is timed:\n" + "\n".join(apart))
    print(
        f"core and plain script agree to 1e-9 on {columns.BIKES} random bikes with every key, and on the {columns.BIKES} timed"
    )


def measure(quick: bool) -> bool:
    """One process, one thread: all sizes beside (a') and (w). True where every target is met."""
    import numpy as np
    from numpy._core._multiarray_umath import __cpu_features__ as features

    import columns
    import plain
    import plain_work
    from bound import CURVES, SCALARS, Writing
    from topout.planner.evaluate import evaluate

    fast = bool(features.get("X86_V4") or features.get("AVX512_SKX"))
    print(f"\n== numpy {np.__version__}, AVX-512 {'on' if fast else 'off'}, load {os.getloadavg()[0]:.1f} ==")
    agree()
    scripts, scripts_every = columns.for_the_script(every_key=False), columns.for_the_script()
    large, huge, rounds = (2_000, 20_000, 3) if quick else (10_000, 1_000_000, 21)

    def script(work: Callable[[Any], object], bikes: list[Any]) -> None:
        for sides in bikes:
            work(sides)

    fifty = columns.for_the_core(columns.BIKES, every_key=False)
    singles = [
        (fifty[0].take((slice(None), slice(i, i + 1))), fifty[1].take(slice(i, i + 1))) for i in range(columns.BIKES)
    ]
    hundred, many = columns.for_the_core(100, every_key=False), columns.for_the_core(large, every_key=False)
    many_every = columns.for_the_core(large)
    kept = evaluate(*many)  # results are written over it, so that no new memory is touched
    alone = evaluate(*many, points=None, store_curves=False)
    begun = columns.for_the_front(large, every_key=False)
    whole, scalars = Writing(large, CURVES), Writing(large, SCALARS)

    def one_by_one() -> None:
        for single in singles:
            evaluate(*single)

    def hundreds() -> None:
        for _ in range(5):
            evaluate(*hundred)

    medians = interleaved(
        {
            "(a')": (lambda: script(plain.work, scripts), len(scripts)),
            "(a'')": (lambda: script(plain_work.work, scripts), len(scripts)),
            "(a') every key": (lambda: script(plain.work, scripts_every), len(scripts_every)),
            "(w)": (whole.run, large),
            "(w) scalars": (scalars.run, large),
            "1": (one_by_one, len(singles)),
            "100": (hundreds, 500),
            f"{large:,}": (lambda: evaluate(*many, out=kept), large),
            f"{large:,} every key": (lambda: evaluate(*many_every, out=kept), large),
            f"{large:,} scalars only": (
                lambda: evaluate(*many, out=alone, points=None, store_curves=False),
                large,
            ),
            f"{large:,} from designs": (
                lambda: evaluate(*columns.laid_out(*begun), out=alone, points=None, store_curves=False),
                large,
            ),
        },
        rounds,
    )
    del whole, scalars
    passing = evaluate(*many, store_curves=False)
    at_large = many
    million = columns.for_the_core(huge, every_key=False)
    result = evaluate(*million, store_curves=False)
    big = interleaved(
        {
            "large": (lambda: evaluate(*at_large, out=passing, store_curves=False), large),
            "huge": (lambda: evaluate(*million, out=result, store_curves=False), huge),
        },
        2 if quick else 3,
    )
    yardsticks = ("(a')", "(a'')", "(a') every key", "(w)", "(w) scalars")
    script_us, flat_us, every_us, whole_us, scalars_us = (medians.pop(name) * 1e6 for name in yardsticks)
    print(
        f"(a') plain script {script_us:,.0f} us a plan, with every key {every_us:,.0f}; (a'') in flat loops {flat_us:,.0f}"
    )
    print(f"(w) writing the results {whole_us:.2f} us a plan with its curves, {scalars_us:.3f} without")
    heads = ("plans in a call", "us a plan", "(a')/it", "(a'')/it", "it/(w)")
    print(f"{heads[0]:>20} {heads[1]:>10} {heads[2]:>9} {heads[3]:>9} {heads[4]:>7}")
    rows = {name: seconds * 1e6 for name, seconds in medians.items()}
    rows[f"{huge:,} (buffer)"] = big["huge"] * 1e6
    for name, micro in rows.items():
        every = "every key" in name
        against, flat = (every_us, "") if every else (script_us, f"{flat_us / micro:.1f}")
        least_us = scalars_us if name.endswith(("scalars only", "designs", "(buffer)")) else whole_us
        print(f"{name:>20} {micro:10.2f} {against / micro:9.1f} {flat:>9} {micro / least_us:7.1f}")
    targets = WITH if fast else WITHOUT
    micro, least = rows[f"{large:,}"], targets["times the script"]
    alone_us = rows[f"{large:,} from designs"]
    growth = big["huge"] / big["large"]
    checks = [
        (f"at {large:,}: {script_us / micro:.0f} x (a'), at least {least:.0f}",
         script_us / micro >= least),
        (f"at {large:,}, scalars from designs, the columns in front included: {script_us / alone_us:.0f} x (a'), at least {targets['scalars']:.0f}",
         script_us / alone_us >= targets["scalars"]),
        (f"at {huge:,}: {growth:.2f} x the time a plan of {large:,}, at most {MILLION_OVER_TEN_THOUSAND}",
         growth <= MILLION_OVER_TEN_THOUSAND),
    ]  # fmt: skip
    for text, met in checks:
        print(f"  {text}: {verdict(met)}")
    return all(met for _, met in checks)


def front(quick: bool) -> bool:
    """What comes before the evaluation, beside it in one process: changing designs and laying them out, their loads."""

    import columns
    from topout.bench_file import read
    from topout.planner import design as designs
    from topout.planner import inputs, load
    from topout.planner.evaluate import evaluate

    n, rounds = (2_000, 3) if quick else (10_000, 21)
    files = [read.read_text(text) for text in columns.texts(columns.BIKES, every_key=True)]
    many, asked = columns.for_the_front(n)
    pairs, on_fork = columns.laid_out(many, asked)
    result = evaluate(pairs, on_fork, store_curves=False)
    medians = interleaved(
        {
            "change and lay out": (lambda: inputs.pairs(many, designs.changed(many, asked)), n),
            "load": (lambda: load.loads(many), n),
            "evaluation": (lambda: evaluate(pairs, on_fork, store_curves=False, out=result), n),
            "files into columns": (lambda: (designs.Design.of(files), designs.Changes.of(files)), len(files)),
        },
        rounds,
    )
    print(f"\n== before the evaluation, {n:,} designs with every key, us each ==")
    for name, seconds in medians.items():
        print(f"  {name:<20} {seconds * 1e6:7.2f}   {seconds / medians['evaluation']:.3f} x evaluation")
    share = (medians["change and lay out"] + medians["load"]) / medians["evaluation"]
    met = share <= FRONT_OVER_EVALUATION
    print(f"  change, layout and load: {share:.2f} x evaluation, at most {FRONT_OVER_EVALUATION}: {verdict(met)}")
    return met


def memory(quick: bool) -> bool:
    """Peak beyond inputs and results while a million plans are evaluated."""
    import columns
    from topout.planner.evaluate import evaluate

    n = 20_000 if quick else 1_000_000
    many = columns.for_the_core(n, every_key=False)
    result = evaluate(*many, store_curves=False)
    resident = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    evaluate(*many, out=result, store_curves=False)
    peak = (tracemalloc.get_traced_memory()[1] - before) / 1e6
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - resident) / 1024
    met = peak <= MEMORY_MB
    print(f"\n== memory at {n:,} plans ==")
    print(f"  beyond inputs and results: peak {peak:.1f} MB allocated, at most {MEMORY_MB:.0f}: {verdict(met)}")
    print(f"  (resident size grew by {grown:.1f} MiB during the call)")
    return met


def processes(quick: bool) -> bool:
    """Whole processes, interleaved: bare Python, numpy's import, the plan and the help of the command."""
    command = Path(sys.executable).with_name("topout")
    if not command.exists():
        print(f"\n{command} is not there: run `make install`, then this again")
        return False
    compileall.compile_dir(
        ROOT / "src" / "topout", quiet=2
    )  # as `make install` does; an edit since would be compiled anew
    bench = ROOT / "tests" / "reference" / "hollin.toml"
    lines = {
        "python -c pass": [sys.executable, "-c", "pass"],
        "python -c 'import numpy'": [sys.executable, "-c", "import numpy"],
        "topout plan --json": [str(command), "plan", str(bench), "--json"],
        "topout --help": [str(command), "--help"],
        "… 20,000 draws": [str(command), "plan", str(HERE / "drawn.toml"), "--json"],
    }

    # By the clock, and the processor time, user and system, which others' work stretches less.
    wall: dict[str, list[float]] = {name: [] for name in lines}
    own: dict[str, list[float]] = {name: [] for name in lines}
    order, shuffle = list(lines), random.Random(1976)
    for round_number in range((5 if quick else 25) + 1):
        shuffle.shuffle(order)
        for name in order:
            before, start = _processor_time(), time.perf_counter()
            subprocess.run(lines[name], check=True, stdout=subprocess.DEVNULL)
            seconds = time.perf_counter() - start
            if round_number:
                wall[name].append(seconds)
                own[name].append(_processor_time() - before)
    medians, processor = ({name: statistics.median(each) for name, each in of.items()} for of in (wall, own))
    print(f"\n== whole processes, median ms, load {os.getloadavg()[0]:.1f} ==")
    print(f"  {'':<26} {'by the clock':>13} {'of processor':>13} {'x import numpy':>15}")
    for name in lines:
        times = processor[name] / processor["python -c 'import numpy'"]
        print(f"  {name:<26} {medians[name] * 1e3:13.1f} {processor[name] * 1e3:13.1f} {times:15.2f}")
    bare, numpy_import, plan, help_text, drawn = medians.values()
    checks = [
        (
            f"plan --json: {plan / numpy_import:.2f} x import numpy, at most {PLAN_OVER_NUMPY}",
            plan / numpy_import <= PLAN_OVER_NUMPY,
        ),
        (
            f"plan --json with 20,000 draws: {drawn / numpy_import:.2f} x import numpy, at most {DRAWN_OVER_NUMPY}",
            drawn / numpy_import <= DRAWN_OVER_NUMPY,
        ),
        (f"--help: {help_text / bare:.2f} x bare Python, at most {HELP_OVER_BARE}", help_text / bare <= HELP_OVER_BARE),
    ]
    for text, met in checks:
        print(f"  {text}: {verdict(met)}")
    return all(met for _, met in checks)


def _processor_time() -> float:
    """Of all children that have ended, user and system."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def cpu_name() -> str:
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:
            return next(line.split(":", 1)[1].strip() for line in file if line.startswith("model name"))
    except (OSError, StopIteration):
        return platform.processor() or "unknown"


def child(part: str, quick: bool, **extra: str) -> bool:
    """One part in a process of its own, one thread, numpy's own choice of kernels unless ``extra`` says."""
    environment = {k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")}
    threads = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    line = [sys.executable, str(Path(__file__).resolve()), "--part", part, *(["--quick"] if quick else [])]
    return subprocess.run(line, env={**environment, **threads, **extra}, check=False).returncode == 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="small sizes and few rounds")
    parser.add_argument(
        "--part", choices=("measure", "front", "memory", "processes"), help="one part alone, in this process"
    )
    asked = parser.parse_args()
    parts = {"measure": measure, "front": front, "memory": memory, "processes": processes}
    if asked.part:
        return 0 if parts[asked.part](asked.quick) else 1
    from numpy._core._multiarray_umath import __cpu_features__ as features

    print(
        f"{cpu_name()}, {os.cpu_count()} cores, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}",
        flush=True,
    )
    met = [child("measure", asked.quick)]
    if features.get("X86_V4"):
        met.append(child("measure", asked.quick, NPY_DISABLE_CPU_FEATURES=WITHOUT_AVX512))
    else:
        print("\nthis machine has no AVX-512: the figures with it can't be measured here", flush=True)
    met.append(child("front", asked.quick))
    met.append(child("memory", asked.quick))
    met.append(child("processes", asked.quick))
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
