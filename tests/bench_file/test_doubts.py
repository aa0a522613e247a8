"""Values with an uncertainty of their own: how they are read, in which units, and that they are written back as read."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from at_once import each_of
from bench_file import every
from topout.bench_file import read, write
from topout.bench_file.samples import sample
from topout.uncertainty.doubt import NORMAL_95, Doubt

ML = 1e-6


def of(value: str, table: str = "fork.air", key: str = "positive_volume") -> Doubt:
    (off,) = read.read_text(f'[{table}]\n{key} = "{value}"\n').doubts
    assert off.key == f"{table}.{key}"
    return off


@pytest.mark.parametrize(
    ("value", "standard"),
    [
        ("265 ± 5 ml", 5 / NORMAL_95 * ML),
        ("265 +/- 5 ml", 5 / NORMAL_95 * ML),
        ("265 ml ± 5 ml", 5 / NORMAL_95 * ML),
        ("265 ml ± 5", 5 / NORMAL_95 * ML),
        ("265 ml ± 2 %", 5.3 / NORMAL_95 * ML),
        ("0.265 l ± 5 cc", 5 / NORMAL_95 * ML),
        ("265 ml u 2.5 ml", 2.5 * ML),
        ("265 u 2.5 ml", 2.5 * ML),
        ("265 ml within 5 ml", 5 / math.sqrt(3) * ML),
        ("265±5ml", 5 / NORMAL_95 * ML),
        ("265 ± 0 ml", 0.0),
    ],
)
def test_three_ways_to_write_it(value: str, standard: float) -> None:
    """Two of ± 5 are u 2.55: JCGM 100:2008 4.3.4; within ± a is a/√3: 4.3.7."""
    assert of(value).standard_si == pytest.approx(standard, rel=1e-12, abs=1e-18)
    assert read.read_text(f'[fork.air]\npositive_volume = "{value}"').fork.air.positive_volume_m3 == pytest.approx(  # type: ignore[union-attr]
        265 * ML
    )


def test_an_uncertainty_of_a_temperature_is_a_difference() -> None:
    assert of("20 ± 2 degC", "conditions", "temperature").amount_si == 2.0
    assert of("68 ± 9 degF", "conditions", "temperature").amount_si == pytest.approx(5.0)
    assert of("20 degC ± 9 degF", "conditions", "temperature").amount_si == pytest.approx(5.0)


def test_a_plain_number_too() -> None:
    assert of("0.42 ± 0.02", "rider", "front_share") == Doubt("±", 0.02, "0.02", "rider.front_share")
    assert of("0.42 ± 5 %", "rider", "front_share").amount_si == pytest.approx(0.021)


KEYS = [
    (path, key)
    for path, key in every.every_key()
    if key.kind in ("quantity", "number") and ".".join(path) not in every.REFUSED
]


@each_of(KEYS)
def test_every_key_may_carry_one_and_is_written_back(path: every.Path, key: object) -> None:
    base, way = every.around(path), ("±", "u", "within")[len(path[-1]) % 3]
    number, _, unit = sample(path).partition(" = ")[2].strip('"').partition(" ")
    text = every.text(every.put(base, ".".join(path), f'"{number} {unit} {way} 0.01 {unit}"'))
    bench = read.read_text(text)
    (off,) = bench.doubts
    assert (off.key, off.way) == (".".join(path), way)
    assert read.read_text(write.write(bench)) == bench


def test_each_reading_has_its_own() -> None:
    text = """
[found]
sag = "38 ± 1 mm"
pressure = "60 psi"
[[found.reading]]
travel = "70 mm"
pressure = "118 psi"
[[found.reading]]
travel = "80 ± 1 mm"
pressure = "138 psi u 0.5 psi"
"""
    bench = read.read_text(text)
    assert [off.key for off in bench.doubts] == ["found.reading.1.pressure", "found.reading.1.travel", "found.sag"]
    assert read.read_text(write.write(bench)) == bench


def test_a_default_with_one_is_written_too() -> None:
    for text in ('[conditions]\ntemperature = "20 ± 2 degC"\n', '[fork]\nfriction_per_bar = "0 ± 1 N"\n'):
        bench = read.read_text(text)
        assert read.read_text(write.write(bench)) == bench
        assert "±" in write.write(bench)


def test_the_books_reader_takes_them_as_well() -> None:
    whole = read.read_tables({"shock": {"stroke": "65 ± 1 mm"}, "fork": {"air": {"bore": "34.6 ± 0.2 mm"}}})
    assert [off.key for off in whole.doubts] == ["fork.air.bore", "shock.stroke"]


@given(
    st.floats(0.2, 2900),
    st.floats(0, 2900),
    st.sampled_from(["±", "u", "within"]),
    st.sampled_from(["ml", "l", "cm^3"]),
)
def test_what_is_written_is_what_was_read(value: float, amount: float, way: str, unit: str) -> None:
    scale = 1e-3 if unit == "l" else 1.0
    bench = read.read_text(f'[fork.air]\npositive_volume = "{value * scale:.6g} {unit} {way} {amount:.6g} ml"\n')
    again = read.read_text(write.write(bench))
    assert again == bench
