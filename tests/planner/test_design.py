"""Columns: what a bench file feeds, what a change does to them, and one path for one bike and for many."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.fork import bench
from second_way import bikes as random_bikes
from topout.bench_file import model
from topout.bench_file.read import read_text
from topout.planner import change, columns, inputs, load
from topout.planner import design as designs
from topout.planner.design import Changes, Design
from topout.planner.evaluate import evaluate
from topout.planner.plan import plan

COUNT = 60


@pytest.fixture(scope="module")
def files() -> list[model.BenchFile]:
    return [read_text(random_bikes.text(random_bikes.bike(number))) for number in range(COUNT)]


def arrays(of: Any, name: str = "") -> dict[str, Any]:
    """Every array in nested columns, by its path."""
    if isinstance(of, np.ndarray):
        return {name: of}
    return {path: a for key in of.__slots__ for path, a in arrays(getattr(of, key), f"{name}.{key}").items()}


def same(one: Any, other: Any, within: float = 0.0) -> None:
    a, b = arrays(one), arrays(other)
    assert a.keys() == b.keys()
    for name in a:
        np.testing.assert_allclose(a[name], b[name], rtol=within, atol=0.0, equal_nan=True, err_msg=name)


def test_every_column_is_a_key_of_the_file() -> None:
    """By name: a column that no key feeds, or a word that no list knows, could never be read."""
    pairs = {
        columns.Conditions: model.Conditions, columns.Rider: model.Rider, columns.Bike: model.Bike,
        columns.Frame: model.Frame, columns.Wheel: model.Wheel, columns.Fork: model.Fork, columns.Air: model.Air,
        columns.NegativeCoil: model.NegativeCoil, columns.LowerLegs: model.LowerLegs, columns.Damper: model.Damper,
        columns.Bumper: model.Bumper, columns.Found: model.Found, columns.Asked: model.Change,
    }  # fmt: skip
    for table, of_file in pairs.items():
        keys = {attribute: key for attribute, key in model.keys(of_file).values()}
        assert set(table.__slots__) <= set(keys), table  # type: ignore[attr-defined]
        worded = {name for name in table.__slots__ if keys[name].kind == "choice"}  # type: ignore[attr-defined]
        assert worded <= set(columns.WORDS)


def test_a_changed_file_reads_as_the_changed_columns(files: list[model.BenchFile]) -> None:
    """What a change does is said once: written back to a file and read again, the columns are the same."""
    after = designs.changed(Design.of(files), Changes.of(files))
    read_again = Design.of([change.changed(file) for file in files])
    same(inputs.bikes(after), inputs.bikes(read_again))


def test_what_a_change_does_not_name_is_the_same_object() -> None:
    file = bench(change="spacers = 2", found='sag = "36 mm"\npressure = "70 psi"')
    after = change.changed(file)
    assert file.fork is not None and after.fork is not None and file.fork.air is not None
    assert (
        after == replace(file, change=None, fork=replace(after.fork, air=replace(file.fork.air, spacers=2)))
        and after.fork.travel_m is file.fork.travel_m
    )
    assert after.frame is file.frame and after.found is file.found


def test_makers_limits_of_another_air_spring_come_along() -> None:
    words = 'by = "chassis"\n[change.air]\npressure_limit = "90 psi"\nspacer_limit = 2\nnegative = "none"'
    after = change.changed(bench(change=words))
    assert after.fork is not None and after.fork.air is not None
    assert after.fork.air.pressure_limit_gauge_pa == pytest.approx(90 * 6894.757293168361)
    assert (after.fork.air.spacer_limit, after.fork.air.negative) == (2, "none")


def test_one_design_repeated_is_many_files(files: list[model.BenchFile]) -> None:
    """Pressures drawn into columns give what a file each gives, read, changed, loaded and evaluated alone."""
    for file in files[:12]:
        assert file.fork is not None and file.fork.air is not None
        asked = replace(file.change, pressure_gauge_pa=None, air=None) if file.change else None
        file = replace(file, change=asked)
        gauges = np.array([4e5, 5e5, 6.5e5])
        before, changes = (
            Design.of([file]).take(np.zeros(3, dtype=int)),
            Changes.of([file]).take(np.zeros(3, dtype=int)),
        )
        drawn = replace(before, air=replace(before.air, pressure_gauge_pa=gauges))
        pairs = inputs.pairs(drawn, designs.changed(drawn, changes))
        got = evaluate(pairs, load.loads(drawn).load, points=None)
        for number, gauge in enumerate(gauges):
            air = replace(file.fork.air, pressure_gauge_pa=float(gauge))  # type: ignore[union-attr]
            alone = plan(replace(file, fork=replace(file.fork, air=air)))
            assert alone.after.end_force_n == pytest.approx(got.end_force_n[1, number], rel=1e-13)
            front = alone.after.sag.front if alone.after.sag else None
            assert front is not None and front.travel_m == pytest.approx(got.sag_m[1, number], rel=1e-12, abs=1e-13)


def test_the_loads_of_many_are_those_of_each(files: list[model.BenchFile]) -> None:
    together = load.loads(Design.of(files))
    for number, file in enumerate(files):
        on = load.load_on(file)
        assert on is not None and on.calibrated is bool(together.calibrated[number])
        for name in ("axial_n", "vertical_n", "side_n"):
            one, many = getattr(on.load, name)[0], getattr(together.load, name)[number]
            assert one == pytest.approx(many, rel=1e-13, nan_ok=True)
    assert together.calibrated.sum() == 15


def test_a_sag_past_the_travel_spoils_its_own_row_alone(files: list[model.BenchFile]) -> None:
    design = Design.of(files)
    sag = design.found.sag_m.copy()
    sag[4] = 0.4
    spoiled = load.loads(replace(design, found=replace(design.found, sag_m=sag)))
    whole = load.loads(design)
    assert spoiled.beyond.nonzero()[0].tolist() == [4] and np.isnan(spoiled.load.axial_n[4])
    others = np.arange(COUNT) != 4
    assert np.array_equal(spoiled.load.axial_n[others], whole.load.axial_n[others])


@pytest.mark.parametrize(
    ("table", "key"),
    [("bumper", "rate_n_per_m"), ("air", "bore_m"), ("air", "positive_volume_m3"), ("damper", "rod_m"),
     ("top_out", "length_m"), ("lower_legs", "area_m2"), ("fork", "travel_m"), ("frame", "reach_m")],
)  # fmt: skip
def test_what_is_not_known_of_one_is_not_known_and_touches_no_neighbour(
    files: list[model.BenchFile], table: str, key: str
) -> None:
    design, changes = Design.of(files), Changes.of(files)
    column = getattr(getattr(design, table), key).copy()
    column[7] = np.nan
    holed = replace(design, **{table: replace(getattr(design, table), **{key: column})})
    on = load.loads(design).load
    results = [
        evaluate(inputs.pairs(one, designs.changed(one, changes)), on) for one in (design, holed)
    ]  # fmt: skip
    whole, got = results
    others = np.arange(COUNT) != 7
    for name in ("sag_m", "lost_m", "end_force_n", "unloaded", "sagged", "hazard", "keep_gauge_pa"):
        a, b = (getattr(result, name) for result in (whole, got))
        for key in a if isinstance(a, dict) else [""]:
            one, other = ((each[key] if key else each)[..., others] for each in (a, b))
            np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-15, equal_nan=True, err_msg=f"{name} {key}")
    assert whole.curves is not None and got.curves is not None
    for name in ("force_n", "force_fast_n", "rate_n_per_m", "positive_pa", "negative_pa"):
        a, b = (getattr(result.curves, name)[:, others] for result in (whole, got) if result.curves)
        np.testing.assert_allclose(a, b, rtol=1e-12, atol=1e-9, equal_nan=True, err_msg=name)
    if table == "frame":
        assert (
            all(np.isnan(values[:, 7]).all() for values in got.unloaded.values())
            and np.isfinite(got.end_force_n[:, 7]).all()
        )
    else:
        assert np.isnan(got.end_force_n[0, 7]) and np.isnan(got.sag_m[0, 7]) and np.isnan(got.lost_m[0, 7])


def test_bikes_without_a_frame_share_a_call_with_others() -> None:
    """A load found needs no frame: the fork's numbers are there, its stance is not."""
    framed, bare = (
        bench(found='sag = "33 mm"\npressure = "70 psi"'),
        bench(frame="-", rider="-", bike="-", found='sag = "33 mm"\npressure = "70 psi"'),
    )
    before = Design.of([framed, bare])
    got = evaluate(inputs.pairs(before, before), load.loads(before).load, points=None)
    assert got.sag_m[0] == pytest.approx([0.033, 0.033], abs=1e-12)
    for values in got.unloaded.values():
        assert np.isnan(values[:, 1]).all() and np.isfinite(values[:, 0]).all()


def test_more_designs_are_the_same_calls_on_longer_arrays(files: list[model.BenchFile]) -> None:
    """Changing, laying out, loading and evaluating take no step a design: as many Python calls for 1,200 as for 120."""

    def calls(count: int) -> int:
        index = np.arange(count) % COUNT
        before, changes = Design.of(files).take(index), Changes.of(files).take(index)
        found = 0

        def count_one(frame: Any, event: str, argument: Any) -> None:
            nonlocal found
            found += event == "call"

        sys.setprofile(count_one)
        try:
            pairs = inputs.pairs(before, designs.changed(before, changes))
            evaluate(pairs, load.loads(before).load, points=None)
        finally:
            sys.setprofile(None)
        return found

    assert calls(120) > 100
    assert calls(1200) <= 1.2 * calls(120)  # the slowest root of more bikes may take another step
