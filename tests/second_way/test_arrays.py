"""One call for many plans: equal to the plain script, to one call a plan, and to itself in any block size."""

import dataclasses
from typing import Any

import numpy as np
import pytest

import columns
import plain_work
from topout.physics.sag import Load
from topout.planner.evaluate import Evaluation, evaluate
from topout.planner.inputs import Bikes

from .compare import differences

WITHIN = 1e-13  # relative to the largest value of a row


@pytest.fixture(scope="module")
def fifty() -> tuple[Bikes, Load]:
    return columns.for_the_core(50)


@pytest.fixture(scope="module")
def whole(fifty: tuple[Bikes, Load]) -> Evaluation:
    return evaluate(*fifty)


def arrays(result: Evaluation, with_curves: bool = True) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for f in dataclasses.fields(result):
        value = getattr(result, f.name)
        named |= (
            {f"{f.name}.{name}": each for name, each in value.items()} if isinstance(value, dict) else {f.name: value}
        )
    del named["curves"]
    if with_curves and result.curves is not None:
        named |= {f.name: getattr(result.curves, f.name) for f in dataclasses.fields(result.curves)}
    return named


def assert_same(one: dict[str, Any], other: dict[str, Any], within: float = WITHIN) -> None:
    assert one.keys() == other.keys()
    for name, values in one.items():
        scale = np.nanmax(np.abs(values), axis=-1, keepdims=True)
        assert np.array_equal(np.isnan(values), np.isnan(other[name])), name
        assert np.nanmax(np.abs(values - other[name]) / np.maximum(scale, 1e-3)) <= within, name


@pytest.mark.parametrize("number", range(50))
def test_the_array_call_gives_what_the_plain_script_gives(whole: Evaluation, number: int) -> None:
    expected = plain_work.work(columns.for_the_script(number + 1)[number])
    assert differences(expected, columns.one_of(whole, number), 1e-9) == []


def test_the_array_call_equals_a_loop_over_single_plans(fifty: tuple[Bikes, Load], whole: Evaluation) -> None:
    pairs, load = fifty
    singles = [evaluate(pairs.take((slice(None), slice(i, i + 1))), load.take(slice(i, i + 1))) for i in range(50)]
    whole_arrays = arrays(whole)
    for name, values in whole_arrays.items():
        axis = -2 if values.shape[-1] == 201 else -1
        joined = np.concatenate([arrays(single)[name] for single in singles], axis=axis)
        assert_same({name: values}, {name: joined})


@pytest.mark.parametrize(("scalar_block", "curve_block"), [(1, 1), (7, 3), (50, 7), (13, 2048), (2048, 256)])
def test_block_sizes_change_nothing(
    fifty: tuple[Bikes, Load], whole: Evaluation, scalar_block: int, curve_block: int
) -> None:
    blocked = evaluate(*fifty, scalar_block=scalar_block, curve_block=curve_block)
    assert_same(arrays(whole), arrays(blocked))


def test_curves_passing_through_a_buffer_change_no_scalar(fifty: tuple[Bikes, Load], whole: Evaluation) -> None:
    passing = evaluate(*fifty, store_curves=False)
    assert passing.curves is None
    assert_same(arrays(whole, with_curves=False), arrays(passing))


def test_writing_into_an_earlier_result_leaves_nothing_of_it(fifty: tuple[Bikes, Load], whole: Evaluation) -> None:
    pairs, load = fifty
    earlier = evaluate(pairs.take((slice(None), slice(None, None, -1))), load.take(slice(None, None, -1)))
    again = evaluate(*fifty, out=earlier)
    assert again is earlier
    assert_same(arrays(whole), arrays(again))


def test_a_bike_that_locks_is_not_a_number_and_touches_no_neighbour(
    fifty: tuple[Bikes, Load], whole: Evaluation
) -> None:
    pairs, load = fifty
    volume = pairs.chambers.positive_m3.copy()
    volume[1, 7] = 1e-6  # a full chamber after the change of bike 7
    stuck = dataclasses.replace(pairs, chambers=dataclasses.replace(pairs.chambers, positive_m3=volume))
    got = evaluate(stuck, load)
    assert (
        np.isnan(got.sag_m[1, 7])
        and np.isnan(got.end_force_n[1, 7])
        and all(np.isnan(kept[7]) for kept in got.keep_gauge_pa.values())
    )
    others = np.arange(50) != 7
    for name, values in arrays(whole).items():
        axis = -2 if values.shape[-1] == 201 else -1
        a, b = (np.compress(others, v, axis=axis) for v in (values, arrays(got)[name]))
        assert_same({name: a}, {name: b})
