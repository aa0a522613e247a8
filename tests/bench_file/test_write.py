"""Writing: read back equal to the last bit, in people's units, defaults left out."""

from __future__ import annotations

import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_file import every
from topout import units
from topout.bench_file import model, read, write
from topout.errors import FaultsFound


@st.composite
def typed(draw: st.DrawFn, key: model.Key) -> str:
    """A value of a key as a person or a program may have typed it: any unit, any number of digits."""
    assert key.low_si is not None and key.high_si is not None
    if key.kind == "count":
        return str(draw(st.integers(int(key.low_si), int(key.high_si))))
    if key.kind == "number":
        return repr(draw(st.floats(key.low_si, key.high_si)))
    unit = draw(st.sampled_from(sorted(units.TABLE[key.dimension])))
    low, high = (units.from_si(v, unit, key.dimension) for v in (key.low_si, key.high_si))
    value = draw(st.floats(low, high))
    places = draw(st.sampled_from([1, 2, 3, 4, 6, 17]))
    return f'"{value:.{places}g} {unit}"'


@st.composite
def files(draw: st.DrawFn) -> str:
    """A text with any keys, each in any unit of its dimension."""
    file: every.File = {}
    for path, key in draw(st.lists(st.sampled_from(every.every_key()), max_size=40, unique_by=lambda e: e[0])):
        if ".".join(path) in every.REFUSED or "negative_coil" in path[:-1]:
            continue
        if key.kind == "choice":
            value = f'"{draw(st.sampled_from(key.choices))}"'
        elif key.kind in ("text", "coil", "readings", "pairs"):
            value = every.sample_of(path)
        else:
            value = draw(typed(key))
        file = every.put(file, ".".join(path), value)
    return every.text(file)


@settings(max_examples=100, deadline=None)
@given(files())
def test_what_was_read_is_written_and_read_equal(text: str) -> None:
    comes_back(text)


@pytest.mark.soak
@settings(max_examples=2000, deadline=None)
@given(files())
def test_what_was_read_of_many_files_is_written_and_read_equal(text: str) -> None:
    comes_back(text)


def comes_back(text: str) -> None:
    try:
        bench = read.read_text(text)
    except FaultsFound:
        return
    written = write.write(bench)
    assert read.read_text(written) == bench
    assert write.write(read.read_text(written)) == written


def test_a_file_with_every_key_comes_back() -> None:
    for path in [("fork", "travel"), *(tuple(name.split(".")) for name in every.INSTEAD)]:
        bench = read.read_text(every.text(every.put(every.around(path), ".".join(path), every.sample_of(path))))
        assert read.read_text(write.write(bench)) == bench


QUANTITIES = [(path, key) for path, key in every.every_key() if key.kind == "quantity"]


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_computed_values_are_within_one_unit_in_the_last_place(data: st.DataObject) -> None:
    _, key = data.draw(st.sampled_from(QUANTITIES))
    assert key.low_si is not None and key.high_si is not None
    value = data.draw(st.floats(key.low_si, key.high_si))
    back = units.parse(write.quantity(value, key), key.dimension).value_si
    if any(units.TABLE[key.dimension][u] == (1, 0) for u in units.TABLE[key.dimension]):
        assert back == value
    assert abs(back - value) <= math.ulp(value) + 1e-300 * (value != 0)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ('[fork]\ntravel = "150 mm"\n', 'travel = "150 mm"'),
        ('[fork]\ntravel = "6 in"\n', 'travel = "6 in"'),
        ('[fork.air]\npressure = "4.3 bar"\n', 'pressure = "4.3 bar"'),
        ('[fork.air]\npressure = "62 psi"\n', 'pressure = "62 psi"'),
        ('[rider]\nmass = "181 lb"\n', 'mass = "181 lb"'),
        ('[conditions]\ntemperature = "68 degF"\n', None),
        ('[fork.air]\npositive_volume = "0.245 l"\n', 'positive_volume = "245 ml"'),
        ('[found]\nposture = "standing, \\"light\\" \\\\ on the pedals"\n', None),
    ],
)
def test_the_units_that_people_use(text: str, written: str | None) -> None:
    bench = read.read_text(text)
    if written is not None:
        assert written in write.write(bench).splitlines()
    assert read.read_text(write.write(bench)) == bench


def test_defaults_are_left_out_and_empty_tables_stay() -> None:
    text = '[fork]\nfriction_per_bar = "0 N"\n\n[fork.air]\nspacers = 0\nnegative = "self-equalising"\n\n[rider]\n'
    bench = read.read_text(text)
    assert tomllib.loads(write.write(bench)) == {"rider": {}, "fork": {"air": {}}}
    assert tomllib.loads(write.write(model.BenchFile())) == {}
    change = read.read_text('[change.air]\nspacers = 0\nnegative = "self-equalising"\n')
    assert read.read_text(write.write(change)) == change, "a change names a default too"


def test_a_value_between_two_decimals_is_written_as_its_nearest() -> None:
    bench = model.BenchFile(bike=model.Bike(mass_kg=math.nextafter(15, 16)))
    assert read.read_text(write.write(bench)) == bench
