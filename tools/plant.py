"""Plants faults, one at a time, in a copy of the program, and says which of them the tests notice.

usage: .venv/bin/python tools/plant.py [--seed N] [--only WORD] [--again] [--table]

A sample over every floor, the same for the same seed; a third of it and more where somebody's hands hang on it. Which test
runs which line is measured first, so each fault is looked for by the tests that reach it, quickest first, to the first
that fails. What was found is kept in .run/plant and goes on where it broke off.

--only   faults whose floor or room has this word in it, planted anew
--again  measure anew which test runs which line
--table  plant nothing: write what was found as docs/planted-faults.md
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from plant_faults import FLOORS, SEEN, Fault, sample, seen

ROOT = Path(__file__).resolve().parent.parent
PYTHON = ROOT / ".venv" / "bin" / "python"
KEPT = ROOT / ".run" / "plant"
TREE = KEPT / "tree"
REASONS = ROOT / "tools" / "plant_reasons.toml"
DOC = ROOT / "docs" / "planted-faults.md"
LEFT_OUT = "not soak and not alone and not browser and not postgres"
BUDGET_S = 60.0  # of tests by their measured seconds, for one fault
LIMIT_S = 600.0  # then a fault is taken for one that never ends
# The test that walks a job once for all that begin somewhere on its way.
WARM = "tests/web/test_steps_engine.py::test_a_job_is_worked_from_the_first_step_to_the_last"
# Rooms that the cached database and demo of the tests were made by: with a fault there they are made anew.
FRESH = ("records/triggers.py", "records/apps.py", "/demo/", "models.py", "access/hashing.py")
# What runs once a process, when its room is loaded or first asked, is among the lines of no test: the test or room that holds it, by name.
ONCE: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(
        (f"web/{app}/models" for app in ("access", "book", "jobs/records", "shelf")),
        ("test_the_migrations_make_every_table_as_the_models_say",),
    ),
    "web/jobs/records/kinds": ("test_kind_limits.py::",),
    "bench_file/model": ("test_generated_parts_are_as_they_would_be_made", "test_what_each_table_needs"),
    "planner/typical_can": ("test_a_can_is_drawn_from_the_ranges_that_bikes_are_made_of_to_look_whether_95_is_95",),
    "web/server": ("test_threads_do_not_each_keep_the_memory_of_their_largest_page",),
    "bench_file/belongs": ("test_a_key_of_a_spring_in_another_table_is_sent_to_the_spring",),
    "planner/known_to": ("test_the_draws_themselves_are_neither_printed_nor_compared",),
    "web/jobs/plan/box_keys": ("test_plan_boxes.py::",),
    "web/jobs/core/by_mass": ("test_of_a_table_without_rows_nothing_is_said_but_what_it_lacks",),
    "cli/several": ("test_the_force_of_each_quarter_is_the_force_there",),
}  # fmt: skip
# A room's own tests come before those that only pass through it.
OWN = {
    "web/jobs/steps/": ("steps_engine", "danger", "leak_hold", "steps_instruments", "sheet_at_steps", "by_post", "other_jobs", "changed_before"), "core/danger": ("danger",), "core/unit_dangers": ("danger", "other_jobs", "same_again"), "core/leak_hold": ("leak_hold",),
    "core/refusals": ("use_plan", "changed_before", "other_jobs", "shock_plan"), "web/jobs/records/": ("records", "readings", "open_job", "kind_limits", "leak_hold"),
    "web/guide/": ("guide",), "web/jobs/release/": ("danger", "leaving", "hand_over", "fitting", "going_out", "other_jobs", "left_failing", "shock_plan"), "planner/judge": ("steps_engine",), "planner/leak": ("test_leak",),
}  # fmt: skip
Lines = dict[str, tuple[float, dict[str, list[int]]]]  # test -> its seconds, and the lines of each file that it runs


def run_pytest(
    arguments: list[str], *, temp: Path, more: dict[str, str] | None = None, limit_s: float | None = LIMIT_S
) -> tuple[int, str]:
    """Pytest in the copy, calmly: its exit status and what it says; status -1 where it never ended."""
    own = {name: value for name, value in os.environ.items() if not name.startswith("TOPOUT_")}
    # The name of a worker makes the tests' fixtures share a migrated database beside the temporary folder.
    own |= {"PYTHONPATH": f"{TREE / 'src'}:{TREE / 'tools'}", "PYTEST_XDIST_WORKER": "plant"}
    command = [str(PYTHON), "-m", "pytest", "-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist"]
    temp.mkdir(parents=True, exist_ok=True)  # pytest makes the folder in it, and none above
    with (KEPT / "said.txt").open("w+") as said:
        run = subprocess.Popen(
            ["nice", "-n", "10", *command, f"--basetemp={temp / 'run'}", *arguments],
            cwd=TREE, env=own | (more or {}), stdout=said, stderr=subprocess.STDOUT, start_new_session=True,
        )  # fmt: skip
        try:
            code = run.wait(limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(run.pid, 9)
            run.wait()
            code = -1
        said.seek(0)
        return code, said.read()


def copy_tree() -> None:
    """A copy of what the tests read, as it stands now."""
    shutil.rmtree(TREE, ignore_errors=True)
    TREE.mkdir(parents=True)
    for name in (
        "src", "tests", "tools", "docs", "examples", "benchmarks", "pyproject.toml", "README.md", "CHANGELOG.md",
        "CONTRIBUTING.md", "LICENSE", "Makefile", "manage.py", "requirements.lock", "requirements-dev.lock", ".ci",
    ):  # fmt: skip
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, TREE / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(ROOT / name, TREE / name)
    (TREE / ".venv").symlink_to(ROOT / ".venv")


def measure(again: bool) -> Lines:
    """Which test runs which line; files of tests that were measured whole already stay as they are, unless `again`."""
    kept = KEPT / "lines.jsonl"
    if again:
        kept.unlink(missing_ok=True)
    rows = [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []
    done = {test.partition("::")[0] for test, _, _ in rows}
    if rows and not (KEPT / "lines.whole").exists():  # it broke off within the last file
        done.discard(rows[-1][0].partition("::")[0])
    names = {str(path.relative_to(TREE)) for path in (TREE / "tests").rglob("test_*.py")}
    todo = sorted(name for name in names - done if not name.endswith("_browser.py"))
    if todo:
        (KEPT / "lines.whole").unlink(missing_ok=True)
        more = {"PLANT_SOURCE": str(TREE / "src" / "topout"), "PLANT_LINES": str(kept)}
        code, said = run_pytest(
            ["-p", "plant_lines", "-m", LEFT_OUT, *todo], temp=KEPT / "whole", more=more, limit_s=None
        )
        if code not in (0, 5):  # 5: all of them are left out
            raise SystemExit(f"topout: without any fault tests fail already:\n{said[-3000:]}")
        (KEPT / "lines.whole").touch()
        rows = [json.loads(line) for line in kept.read_text().splitlines()]
    return {test: (seconds, files) for test, seconds, files in rows}


def tests_for(fault: Fault, lines: Lines, budget_s: float = BUDGET_S) -> list[str]:
    """The tests that run the fault's lines, else its function, else its room; quickest first, as far as the budget goes."""
    if fault.tests:
        return list(fault.tests)
    name = fault.path.removeprefix("src/topout/")
    own = next((words for room, words in OWN.items() if room in name), ())
    for span in (fault.lines, fault.function_lines, range(1, 10_000)):
        reach = sorted(
            (not any(word in test.partition("::")[0] for word in own), seconds, test)
            for test, (seconds, files) in lines.items()
            if not set(files.get(name, ())).isdisjoint(span)
        )
        if reach:
            break
    once = tuple(test for room, tests in ONCE.items() if room in name for test in tests)
    chosen = [test for test in lines if any(word in test for word in once)]
    spent = 0.0
    for _, seconds, test in reach:
        spent += seconds
        if chosen and spent > budget_s:
            break
        chosen.append(test)
    return chosen


def inside(faults: list[Fault], lines: Lines) -> Iterator[tuple[str, dict[str, Any]]]:
    """Plant these in a fork each of one process that holds all tests: those that are noticed there, with the test.

    What survives, and what no function holds, is left to `plant`.
    """
    tasks, files = [], set()
    for fault in faults:
        tests = tests_for(fault, lines, BUDGET_S / 4)
        if not tests or fault.tests or any(part in fault.path for part in FRESH):
            continue
        files |= {test.partition("::")[0] for test in tests}
        there = TREE / fault.path
        tasks.append({
            "id": fault.id, "file": str(there), "source": fault.planted(there.read_bytes()).decode(), "tests": tests,
                "module": fault.path.removeprefix("src/").removesuffix(".py").removesuffix("/__init__").replace("/", "."),
        })  # fmt: skip
    if not tasks:
        return
    ask, answers = KEPT / "tasks.json", KEPT / "answers.jsonl"
    ask.write_text(json.dumps(tasks))
    answers.unlink(missing_ok=True)
    more = {"PLANT_TASKS": str(ask), "PLANT_ANSWERS": str(answers), "PLANT_WARM": WARM}
    code, said = run_pytest(
        ["-p", "plant_inside", "--tb=native", "-m", LEFT_OUT, *sorted(files)],
        temp=KEPT / "whole",
        more=more,
        limit_s=None,
    )
    if code not in (0, 5) or not answers.exists():
        raise SystemExit(f"topout: the tests can't be collected:\n{said[-3000:]}")
    by_id = {fault.id: fault for fault in faults}
    for told in map(json.loads, answers.read_text().splitlines()):
        if told["by"]:
            yield told["id"], by_id[told["id"]].row() | {"verdict": "noticed", "by": told["by"], "why": told["why"]}


def plant(fault: Fault, lines: Lines) -> dict[str, Any]:
    """Plant one fault in its file, run its tests, take it out again: its verdict, and the test that noticed it."""
    tests = tests_for(fault, lines)
    told: dict[str, Any] = fault.row() | {"tests": len(tests), "verdict": "no test", "by": ""}
    if not tests:
        return told
    there = TREE / fault.path
    whole = there.read_bytes()
    temp = KEPT / ("fresh" if any(part in fault.path for part in FRESH) else "whole")
    shutil.rmtree(KEPT / "fresh", ignore_errors=True)
    (KEPT / "tests.txt").write_text("\n".join(tests))
    start = time.perf_counter()
    try:
        there.write_bytes(fault.planted(whole))
        # Compiled code is told apart by second and length alone.
        shutil.rmtree(there.parent / "__pycache__", ignore_errors=True)
        code, said = run_pytest(["-x", "--tb=line", "-rfE", f"@{KEPT / 'tests.txt'}"], temp=temp)
    finally:
        there.write_bytes(whole)
        shutil.rmtree(there.parent / "__pycache__", ignore_errors=True)
    failed = [line for line in said.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    if "not found:" in said:
        raise SystemExit(f"topout: {said[-2000:]}")
    told["seconds"] = round(time.perf_counter() - start, 1)
    told["verdict"] = "survived" if code == 0 else "noticed"
    if code != 0:
        told["by"] = "never ends" if code == -1 else failed[0].split(" ", 1)[1] if failed else said[-200:]
    return told


def table(seed: int, found: list[dict[str, Any]]) -> str:
    """The sample as a page of the docs: by floor, what survived, and each with the test that noticed it."""
    reasons = {row["id"]: row["why"] for row in tomllib.loads(REASONS.read_text()).get("cannot", [])}
    counts: dict[str, Counter[str]] = {floor.name: Counter() for floor in FLOORS}
    rows, survivors = [], []
    for row in found:
        verdict = (
            "noticed" if row["verdict"] == "noticed" else "cannot be noticed" if row["id"] in reasons else "survived"
        )
        counts[row["floor"]][verdict] += 1
        by = reasons[row["id"]] if verdict == "cannot be noticed" else _short(row["by"])
        where = f"`{row['path'].removeprefix('src/topout/')}` {row['function']}".strip()
        what = f"{row['kind']}: {_code(row['before'])} → {_code(row['after']) if row['after'] else 'nothing'}"
        rows.append(f"| {row['floor']} | {where} | {what} | {verdict} | {by} |")
        if verdict == "survived":
            survivors.append(f"- {where}, {what}.")
    drawn: Counter[str] = sum((counts[floor.name] for floor in FLOORS if floor.name != SEEN), Counter())
    can, known = drawn["noticed"] + drawn["survived"], counts[SEEN]
    lines = [
        f"| {name} | {sum(each.values())} | {each['noticed']} | {each['survived']} | {each['cannot be noticed']} |"
        for name, each in counts.items()
    ]
    return "\n".join([
        "# Planted faults", "",
        "Do the tests notice a fault? `make plant` plants a sample of them over every floor, one at a time, in a copy of the program, and runs the tests",
        "that reach its line. A fault is a comparison turned, `<` for `<=`, `and` for `or`, a `not` dropped, a number nudged, a sign turned, two arguments",
        "swapped, a statement left out, or nothing returned. Numbers of a millionth and less are left alone: they guard against rounding. Tests that drive a",
        "browser are not run, so what only they would notice counts as survived. With it go the faults that tests once let pass (`tools/plant_seen.toml`).",
        "This page is written by `tools/plant.py --table`, the reasons are in `tools/plant_reasons.toml`.", "",
        f"Seed {seed}, {datetime.now(UTC):%Y-%m-%d}. Of {sum(drawn.values())} faults of the sample {can} can be noticed, and {drawn['noticed']} are "
        f"({100 * drawn['noticed'] / max(can, 1):.0f} %). Of {sum(known.values())} once seen to survive {known['noticed']} are noticed.", "",
        "| floor | faults | noticed | survived | cannot be noticed |", "| --- | --- | --- | --- | --- |", *lines, "",
        "## What survived", "", *(survivors or ["Nothing."]), "",
        "## Each of them", "",
        "| floor | where | fault | verdict | by which test, or why not |", "| --- | --- | --- | --- | --- |", *rows, "",
    ])  # fmt: skip


def _short(by: str) -> str:
    test = by.split(" - ")[0].partition("[")[0]
    return f"`{test.removeprefix('tests/')}`" if test else ""


def _code(text: str) -> str:
    return "`" + " ".join(text.split()).replace("|", "\\|")[:90] + "`"


def main() -> None:
    """Sample, measure, plant, and say what survived."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--seed", type=int, default=8)
    options.add_argument("--only", default="")
    options.add_argument("--again", action="store_true")
    options.add_argument("--table", action="store_true")
    asked = options.parse_args()
    KEPT.mkdir(parents=True, exist_ok=True)
    root = TREE if asked.table else ROOT  # the table is of what was planted, whatever the program has become since
    faults = sample(root, asked.seed) + seen(root)
    results = KEPT / f"results-{asked.seed}.json"
    kept: dict[str, dict[str, Any]] = json.loads(results.read_text()) if results.exists() else {}
    if not asked.table:
        copy_tree()
        lines = measure(asked.again)
        open_ = [
            each for each in faults if (asked.only in f"{each.floor} {each}" if asked.only else each.id not in kept)
        ]
        noticed = dict(inside(open_, lines))
        for fault in open_:
            told = kept[fault.id] = noticed.get(fault.id) or plant(fault, lines)
            results.write_text(json.dumps(kept, indent=1))
            print(f"{told['verdict']:8} {fault} {_short(told['by'])}", flush=True)
    found = [kept[fault.id] for fault in faults if fault.id in kept]
    if asked.table:
        DOC.write_text(table(asked.seed, found))
    print(Counter(row["verdict"] for row in found))


if __name__ == "__main__":
    main()
