"""Every key of the model times everything that is wrong with a value, generated from the model.

Each bad value gives exactly one finding, which names its place, the value, its line, and a way out: a value at fault is
reported alone, nothing is concluded from it.
"""

from __future__ import annotations

import math
import re

import pytest

from at_once import all_pass
from bench_file import every
from topout import units
from topout.bench_file import model, read, say
from topout.errors import Fault, FaultsFound

OTHER_UNIT = {"mass": '"3 mm"'}
FOR_ALL = {
    "a bare number": "8",
    "text": '"about right"',
    "empty text": '""',
    "NaN": "nan",
    "infinity": "-inf",
    "true": "true",
    "a list": '["62 psi"]',
    "a table": '{ a = "62 psi" }',
    "a date": "2024-02-29",
    "NaN with a unit": '"nan mm"',
    "a long number": f'"{"9" * 300} mm"',
    "letters that move a cursor": '"\\u001b[2J 62 psi"',
}
FINE = {  # kind of key -> what is no fault there
    "number": {"a bare number"},  # out of range or not, checked by its own cases
    "count": {"a bare number"},
    "text": {"text", "NaN with a unit"},
    "coil": set(),
    "readings": set(),
    "pairs": set(),
    "quantity": set(),
    "choice": set(),
}


def bad_values(key: model.Key) -> dict[str, str]:
    """What is tried on one key: name of the case -> the value as TOML."""
    cases = {name: value for name, value in FOR_ALL.items() if name not in FINE[key.kind]}
    if key.kind == "quantity":
        assert key.low_si is not None and key.high_si is not None
        low, high = (units.from_si(v, key.unit, key.dimension) for v in (key.low_si, key.high_si))
        span = high - low
        cases |= {
            "another dimension's unit": OTHER_UNIT.get(key.dimension, '"3 kg"'),
            "no such unit": '"3 furlong"',
            # PSI and MM are taken; MPa and mPa are a billion apart
            "a unit in capitals": f'"3 {key.unit.swapcase()}"'
            if key.unit.swapcase() not in units.ALIASES
            else '"3 mPA"',
            "huge": f'"1e30 {key.unit}"',
            "endless": f'"1e999 {key.unit}"',
            "just above": f'"{high + span / 1000!r} {key.unit}"',
            "just below": f'"{low - span / 1000!r} {key.unit}"',
            "negative": f'"{-high - span} {key.unit}"',
            "decimal comma": f'"4,1 {key.unit}"',
            "a negative uncertainty": f'"{(low + high) / 2!r} ± -0.1 {key.unit}"',
            "an endless uncertainty": f'"{(low + high) / 2!r} {key.unit} u inf {key.unit}"',
            "an uncertainty in another unit": f'"{(low + high) / 2!r} {key.unit} within 0.1 furlong"',
            "an uncertainty of nothing": f'"± 0.1 {key.unit}"',
            "two uncertainties": f'"{(low + high) / 2!r} +/- 0.1 u 0.1 {key.unit}"',
            "an uncertainty past the range": f'"{(low + high) / 2!r} ± {2 * span!r} {key.unit}"',
        }
    elif key.kind in ("number", "count"):
        assert key.high_si is not None and key.low_si is not None
        cases |= {
            "huge": "1e30",
            "a huge whole number": "9" * 100,
            "negative": f"{-key.high_si - 1}",
            "just above": f"{key.high_si + 1:g}",
            "in quotes": f'"{key.high_si:g}"',
            "decimal comma": '"0,42"',
            "a negative uncertainty": f'"{(key.low_si + key.high_si) / 2} ± -0.03"',
            "an uncertainty past the range": f'"{(key.low_si + key.high_si) / 2} within 1e6"',
            "with a unit": '"0.42 mm"',
        }
        if key.kind == "count":
            cases |= {"plus and minus": '"1 ± 1"', "a half": "2.5", "whole, but with a point": "2.0"}
    elif key.kind == "text":
        cases |= {"too long": f'"{"x" * 201}"', "two lines": '"standing\\nup"', "a bare number": "3"}
        cases.pop("a long number")
        cases |= {"a long number": f'"{"9" * 300}"'}
    return cases


READ = [path for path, _ in every.every_key() if ".".join(path) not in every.REFUSED]
CASES = {
    path: [(f"{'.'.join(path)}-{name}", (path, value)) for name, value in bad_values(key).items()]
    for path, key in every.every_key()
    if ".".join(path) not in every.REFUSED
}


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(FaultsFound) as caught:
        read.read_text(text)
    return caught.value.faults


OF_THE_KEY = ("just above", "just below", "another dimension's unit")  # these hang on its own range; others on its kind
TURNS = 6


def in_turn(path: every.Path, daily: bool) -> list[str]:
    """Which cases of a key are tried daily: what hangs on the key itself, and every sixth of the others, another sixth at the
    next key; the rest is for the soak."""
    turn = list(CASES).index(path)
    names = [name.removeprefix(f"{'.'.join(path)}-") for name, _ in CASES[path][1:]]
    return [name for n, name in enumerate(names) if daily == (name in OF_THE_KEY or n % TURNS == turn % TURNS)]


@pytest.mark.parametrize("daily", [True, pytest.param(False, marks=pytest.mark.soak)], ids=["daily", "others"])
@pytest.mark.parametrize("path", CASES, ids=".".join)
def test_a_bad_value_is_one_finding(path: every.Path, daily: bool) -> None:
    """The first in the file with every key, where most could be concluded from it; the others beside their own table. A change
    is of something: it stands in the whole file."""
    whole = every.around(path)
    own = {table: keys for table, keys in whole.items() if path[0] in ("change", table.split(".")[0])}
    first, *rest = CASES[path]
    rest = [case for case in rest if case[0].removeprefix(f"{'.'.join(path)}-") in in_turn(path, daily)]
    all_pass(
        one_finding,
        [(name, (of, path, value)) for of, cases in ((whole, [first]), (own, rest)) for name, (_, value) in cases],
    )


def one_finding(file: every.File, path: every.Path, value: str) -> None:
    text = every.text(every.put(file, ".".join(path), value))
    faults = faults_of(text)
    assert len(faults) == 1, [str(f) for f in faults]
    (fault,) = faults
    line = every.line_of(text, path)
    inside_coil = path[-1] == "negative_coil" and fault.key != ".".join(path)  # an unknown key inside the braces
    if inside_coil:
        assert fault.key == ".".join((*path, "a")) and fault.line == line
        return
    assert fault.key == ".".join(path) and fault.location == say.place(path) and fault.line == line
    assert fault.value and len(fault.value) <= say.MAX_SHOWN + 2
    assert str(fault).startswith(f"line {line}, {say.place(path)} = {fault.value}: ")
    assert str(fault).isprintable()
    assert re.fullmatch(r".*[.?0-9]", fault.message) and len(fault.message) > 12
    assert not re.search(r"\b(invalid|please|oops|illegal|required)\b", fault.message, re.I)


def test_the_cases_are_many_and_each_is_tried_daily_at_some_key() -> None:
    names = {name.removeprefix(f"{'.'.join(path)}-") for path in CASES for name, _ in CASES[path][1:]}
    assert names == {name for path in CASES for name in in_turn(path, daily=True)}
    for path, cases in CASES.items():
        assert len(in_turn(path, daily=True)) + len(in_turn(path, daily=False)) == len(cases) - 1
    keys = every.every_key()
    assert len(keys) > 100 and sum(map(len, CASES.values())) > 20 * (len(keys) - len(every.REFUSED)) * 0.8


# A bead seat and a tyre height stand together: test_checks.
ALONE = [path for path in READ if path[-1] not in ("bead_seat", "tyre_height")]


def test_a_missing_key_is_no_fault_of_reading() -> None:
    """A table that a command does not need may be short: the commands ask for what they need."""
    all_pass(may_be_missing, [(".".join(path), (path,)) for path in ALONE])


def may_be_missing(path: every.Path) -> None:
    name = ".".join(path)
    read.read_text(every.text(every.put(every.around(path), name, None)))


@pytest.mark.parametrize("name", sorted(every.REFUSED))
def test_sag_of_a_front_wheel_is_sent_to_found(name: str) -> None:
    (fault,) = faults_of(every.text(every.put(every.base(), name, '"38 mm"')))
    assert fault.key == name and "[found] sag" in fault.message


def test_the_sample_of_every_key_is_read() -> None:
    all_pass(sample_is_read, [(".".join(path), (path,)) for path in READ])


def sample_is_read(path: every.Path) -> None:
    name, key = ".".join(path), dict(every.every_key())[path]
    bench = read.read_text(every.text(every.put(every.around(path), name, every.sample_of(path))))
    from topout.bench_file.checks import key_at, value_at

    value = value_at(bench, path)
    assert value is not None and key_at(path) == key
    if key.kind == "quantity":
        typed = units.parse(every.sample_of(path).strip('"'), key.dimension)
        assert value == typed.value_si and math.isfinite(value)


@pytest.mark.parametrize(
    "text", ["٣٤ psi", "٣٤", "6٢ psi", "۶۲ psi", "६२ psi", "６２ psi", "1.٥ bar", "٣,٤ psi", "1e٢ psi", "²² psi"]
)
def test_digits_of_other_scripts_are_refused_in_the_usual_words(text: str) -> None:
    with pytest.raises(units.UnitFault, match="a number with a unit is expected|is not a unit of pressure here"):
        units.parse(text, "pressure", "psi")
    with pytest.raises(units.UnitFault, match="a number is expected"):
        units.parse_number(text)


@pytest.mark.parametrize("end", ["", " psi"])
def test_a_number_is_read_up_to_forty_signs(end: str) -> None:
    def read_of(text: str) -> float:
        return units.parse(text, "pressure").value_si / units.PSI_PA if end else units.parse_number(text)

    digits = "1" + "0" * (39 - len(end))
    assert read_of(digits + end) == pytest.approx(float(digits))
    with pytest.raises(units.UnitFault, match="longer than any"):
        read_of(digits + "0" + end)
