"""Every kind of fault of a procedure file, with its line, all at once; what must not be read is refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from topout.errors import FaultsFound
from topout.planner.variables import VOCABULARY
from topout.procedures.library import shipped_keys
from topout.procedures.model import Procedure
from topout.procedures.read import read as read_against
from topout.procedures.read import shipped


def read(text: str, key: str, source: str = "") -> Procedure:
    """A text against the planner's names."""
    return read_against(text, key, VOCABULARY, source)


GOOD = """grammar = 2
title = "A"
version = 1
summary = "B."
[[variant]]
key = "with-air"
title = "With air"
caution = "Stand clear."
[[define]]
key = "dry"
function = "least"
of = ["3 bar", "{set_pressure}"]
unit = "bar"
[[group]]
key = "g"
title = "G"
complete = "All complete."
[[group.step]]
key = "one"
do = "Measure the bare stanchion."
evidence = [
  { key = "exposed-length", kind = "number", label = "Bare stanchion", unit = "mm", low = "40 mm", high = "350 mm" },
  { key = "ring", kind = "choice", label = "The ring", options = ["In", "Out"], pass = ["In"] },
]
[[group.step]]
key = "two"
do = "Turn the ring."
detail = "Gently."
hold = true
when = { negative = "coil" }
wait = { after = "one", minutes = 5 }
evidence = [
  { key = "turns", kind = "tick", label = "It turns" },
]
"""

# (what is written, what stands there instead, line of the finding, words of the finding)
KINDS = [
    ("version = 1", "version = true", 3, "whole number from 1"),
    ('summary = "B."', "summary = 3", 4, "a sentence in quotes"),
    ('summary = "B."', 'sumary = "B."', 4, "Is it summary?"),
    ('key = "with-air"', 'key = "With Air"', 6, "small letters"),
    ('key = "with-air"', 'key = "with-air"\ntitle = "X"\ncaution = "Y."\n[[variant]]\nkey = "with-air"', 10, "has this key already"),
    ('key = "dry"', 'key = "set_pressure"', 10, "a new name is expected"),
    ('function = "least"', 'function = "lest"', 11, "Is it least?"),
    ('of = ["3 bar", "{set_pressure}"]', "of = []", 12, "a list of quantities or names"),
    ('of = ["3 bar", "{set_pressure}"]', 'of = ["3 bar", "{new_travel}"]', 12, "a name of pressure is expected"),
    ('unit = "bar"', 'unit = "mm"', 13, "a unit of pressure"),
    ('key = "g"', 'key = ""', 15, "small letters"),
    ('complete = "All complete."', 'complete = "All done."', 17, "a line that ends the group"),
    ('complete = "All complete."', 'complete = "All complete."\nvariant = "with-airs"', 18, "Is it with-air?"),
    ('key = "two"', 'key = "one"', 26, "has this key already"),
    ('do = "Measure the bare stanchion."', 'do = "The bare stanchion."', 20, "a verb for the hand"),
    ('do = "Measure the bare stanchion."', 'do = "Measure the stanchion[, {set_presure} in it]."', 20, "Is it set_pressure?"),
    ('detail = "Gently."', 'detail = "Gently[, {trapped_force} behind it]."', 28, "it is said where nobody knows how much, too"),
    ('do = "Measure the bare stanchion."', 'do = "Measure the stanchion and the ring."', 20, "two actions"),
    ('do = "Measure the bare stanchion."', 'do = "Measure it, turn the ring."', 20, "two actions"),
    ('do = "Measure the bare stanchion."', 'do = "Measure the stanchion. Turn it."', 20, "two actions"),
    ('do = "Measure the bare stanchion."', 'do = "Measure the bare stanchion"', 20, "a full stop"),
    ('do = "Measure the bare stanchion."', f'do = "Measure {"it " * 20}now."', 20, "at most 20"),
    ('do = "Measure the bare stanchion."', f'do = "Measure {"everything " * 6}now."', 20, "two lines hold 60"),
    ('do = "Measure the bare stanchion."', 'do = "Measure {new_travl}."', 20, "Is it new_travel?"),
    ('do = "Measure the bare stanchion."', 'do = "Measure {."', 20, "a lone bracket"),
    ('detail = "Gently."', 'detail = "Please, gently."', 28, "not a word of the bench"),
    ('detail = "Gently."', f'detail = "{"Word " * 21}."', 28, "a sentence of 2"),
    ('detail = "Gently."', 'detail = "It was {ring_depth}."', 28, "needs the reading ring-depth"),
    ("hold = true", 'hold = true\nopens = "new-tagg"', 30, "Is it new-tag?"),
    ("hold = true", 'hold = true\ndeals_with = ["tyre-crow"]', 30, "Is it tyre-crown?"),
    ("hold = true", "hold = true\ndeals_with = []", 30, "a list of warnings"),
    ("hold = true", 'hold = true\ndeals_with = "tyre-crown"', 30, "a list of warnings"),
    ("hold = true", 'hold = "yes"', 29, "true or false"),
    ("hold = true", "hold = true\nstop = 4", 30, "a table is expected"),
    ('negative = "coil"', 'negative = "coils"', 30, "negative is one or more of"),
    ('negative = "coil"', 'negativ = "coil"', 30, "Is it negative?"),
    ('after = "one"', 'after = "three"', 31, "stands before this one"),
    ("minutes = 5", 'minutes = "5"', 31, "a step and minutes"),
    ('kind = "tick", label = "It turns"', 'kind = "tik", label = "It turns"', 33, "Is it tick?"),
    ('kind = "tick", label = "It turns"', 'kind = "tick", label = "It turns", unit = "mm"', 33, "no such key"),
    ('label = "It turns"', 'label = "It turns", optional = true', 29, "may not be left out"),
    ('options = ["In", "Out"]', 'options = ["In"]', 23, "two to five different answers"),
    ('pass = ["In"]', 'pass = ["Inn"]', 23, "the answers that pass"),
    ('unit = "mm", low = "40 mm"', 'unit = "pis", low = "40 mm"', 22, "Is it psi?"),
    ('low = "40 mm"', "low = 40", 22, "length with a unit in quotes"),
    ('low = "40 mm"', 'low = "40"', 22, "needs a unit"),
    ('low = "40 mm"', 'low = "4,5 mm"', 22, "decimal point"),
    ('low = "40 mm"', 'low = "nan mm"', 22, "a number with a unit"),
    ('low = "40 mm"', 'low = "400 mm"', 22, "at or under the high end"),
    ('low = "40 mm"', 'low = "{set_pressure}"', 22, "a name of length is expected"),
    ('low = "40 mm"', 'expect = "50 mm", within = "0 %"', 22, "a distance such as"),
    ('low = "40 mm"', 'expect = "50 mm", within = "51 %"', 22, "a distance such as"),
    ('low = "40 mm"', 'expect = "50 mm", within = "-1 mm"', 22, "a distance such as"),
    ('low = "40 mm"', 'low = "40 mm", within = "2 mm"', 22, "expected beside within"),
    ('low = "40 mm"', 'expect = "50 mm", within = "2 marks"', 22, "a distance such as"),
    ('low = "40 mm"', 'expect = "50 mm", within = "2 mm", below = "1 mm"', 22, "either within, or below"),
    ('key = "ring", kind', 'key = "exposed-length", kind', 22, "each needs its own"),
]  # fmt: skip


def faults(text: str) -> FaultsFound:
    with pytest.raises(FaultsFound) as found:
        read(text, "test", "test.toml")
    return found.value


def test_the_good_file_is_read() -> None:
    procedure = read(GOOD, "test")
    one, two = procedure.steps()
    assert one.evidence[0].low is not None and one.evidence[0].low.value_si == pytest.approx(0.04, abs=1e-15)
    assert two.hold and not two.blocks and two.when == (("negative", ("coil",)),)
    assert [step.key for step in procedure.applying({"negative": "none"})] == ["one"]


@pytest.mark.parametrize(("written", "instead", "line", "words"), KINDS, ids=[str(n) for n in range(len(KINDS))])
def test_each_kind_of_fault_has_its_line_and_its_words(written: str, instead: str, line: int, words: str) -> None:
    assert GOOD.count(written) >= 1
    text = GOOD.replace(written, instead, 1)
    found = faults(text)
    assert any(words in fault.message and fault.line == line for fault in found.faults), str(found)
    assert all(fault.location and fault.message for fault in found.faults)


@pytest.mark.parametrize(
    ("unit", "expect", "within", "kind", "value"),
    [
        ("count", "3", "1", "quantity", 1.0), ("mm", '"50 mm"', '"2 mm"', "quantity", 0.002), ("mm", '"50 mm"', '"1 %"', "share", 0.01),
        ("mm", '"50 mm"', '"50 %"', "share", 0.5), ("psi", '"50 psi"', '"2 marks"', "gauge", 2.0),
        ("psi", '"50 psi"', '"1 mark of drop"', "drop", 1.0), ("degC", '"20 degC"', '"2 K"', "quantity", 2.0),
    ],
)  # fmt: skip
def test_each_kind_of_tolerance_is_read(unit: str, expect: str, within: str, kind: str, value: float) -> None:
    written = 'unit = "mm", low = "40 mm", high = "350 mm"'
    text = GOOD.replace(written, f'unit = "{unit}", expect = {expect}, within = {within}').replace(
        "exposed-length", "asked"
    )
    asked = read(text, "test", "test.toml").groups[0].steps[0].evidence[0]
    for end in (asked.below, asked.above):
        assert end is not None and end.kind == kind and end.value == pytest.approx(value)


@pytest.mark.parametrize(
    ("unit", "expect", "within"),
    [("degC", '"20 degC"', '"2 mm"'), ("degC", '"20 degC"', '"2"'), ("psi", '"50 psi"', '"2 K"'), ("count", "3", "-1"), ("count", "3", '"1"')],
)  # fmt: skip
def test_a_tolerance_of_another_dimension_is_refused(unit: str, expect: str, within: str) -> None:
    written = 'unit = "mm", low = "40 mm", high = "350 mm"'
    text = GOOD.replace(written, f'unit = "{unit}", expect = {expect}, within = {within}').replace(
        "exposed-length", "asked"
    )
    assert [(fault.line, "within" in str(fault)) for fault in faults(text).faults] == [(22, True)]


@pytest.mark.parametrize(("bound", "taken"), [("0", True), ("3", True), ("-1", False), ("2.5", False), ("true", False), ('"3"', False)])  # fmt: skip
def test_the_end_of_a_count_is_a_whole_number_from_0(bound: str, taken: bool) -> None:
    text = GOOD.replace('unit = "mm", low = "40 mm", high = "350 mm"', f'unit = "count", low = {bound}, high = 9')
    text = text.replace("exposed-length", "asked")
    if taken:
        low = read(text, "test", "test.toml").groups[0].steps[0].evidence[0].low
        assert low is not None and low.value_si == float(bound)
    else:
        assert any("a whole number from 0, or a {name}, is expected" in fault.message for fault in faults(text).faults)


@pytest.mark.parametrize(("count", "taken"), [(1, False), (2, True), (5, True), (6, False)])
def test_a_choice_has_two_to_five_answers(count: int, taken: bool) -> None:
    options = ", ".join(f'"{word}"' for word in ("In", "Out", "Half", "Bent", "Gone", "Other")[:count])
    text = GOOD.replace('options = ["In", "Out"]', f"options = [{options}]")
    if taken:
        assert len(read(text, "test", "test.toml").groups[0].steps[0].evidence[1].options) == count
    else:
        assert "two to five different answers" in str(faults(text))


def test_faults_of_different_tables_come_together_in_the_order_of_the_file() -> None:
    text = GOOD
    for written, instead in (
        ("version = 1", "version = 0"),
        ('options = ["In", "Out"]', "options = 3"),
        ("minutes = 5", "minutes = 0"),
    ):
        text = text.replace(written, instead)
    assert [fault.line for fault in faults(text).faults] == [3, 23, 31]
    assert str(faults(text)).count("test.toml: line") == 3


def test_faults_of_words_come_together() -> None:
    text = GOOD.replace("All complete.", "All done.").replace("Turn the ring.", "Ring.").replace("Gently.", "Oops.")
    assert [fault.line for fault in faults(text).faults] == [17, 27, 28]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD + "x" * 262_144, "at most 262144 are read"),
        (GOOD + "\0", "NUL"),
        (GOOD + "a = " + "[" * 5000 + "\n", "brackets stand more than 8 deep"),
        (GOOD + ".".join("a" * 5000) + " = 1\n", "a key has more than 8 parts"),
        (GOOD + "a = \n", "TOML is expected"),
        ("", "it is empty"), (" \n", "it is empty"),
    ],
)  # fmt: skip
def test_what_can_not_be_read_is_refused_by_name(text: str, words: str) -> None:
    assert words in str(faults(text))


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 5000, "a = " + "[\n" * 5000, "a" + ".a" * 5000 + " = 1", 'a = "x"\nb = ' + "9" * 5000]
)
def test_what_would_cost_more_than_its_length_is_not_handed_to_the_parser(text: str) -> None:
    (fault,) = faults(text).faults
    assert "more than" in fault.message
    assert fault.line == (9 if "[\n" in text else text.count("\n") + 1)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60), st.integers(0, len(GOOD.splitlines()) - 1))
def test_any_line_put_in_gives_findings_or_a_procedure_never_another_error(line: str, where: int) -> None:
    findings_or_a_procedure(line, where)


@pytest.mark.soak
@settings(max_examples=2000, deadline=None)
@given(st.text(max_size=60), st.integers(0, len(GOOD.splitlines()) - 1))
def test_any_line_of_many_put_in_gives_findings_or_a_procedure_never_another_error(line: str, where: int) -> None:
    findings_or_a_procedure(line, where)


def findings_or_a_procedure(line: str, where: int) -> None:
    lines = GOOD.splitlines()
    try:
        read("\n".join([*lines[:where], line, *lines[where:]]), "test")
    except FaultsFound as found:
        assert found.faults


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(GOOD.splitlines()[1:]),
    st.sampled_from(["3", "-1", "true", "[]", "{}", "1979-05-27", '"x"', "nan", "[{}]", "[[1]]"]),
)
def test_any_value_of_the_wrong_kind_gives_findings_never_another_error(line: str, value: str) -> None:
    key = line.split("=")[0]
    if "=" not in line or line.startswith((" ", "]")):
        return
    try:
        read(GOOD.replace(line, f"{key}= {value}", 1), "test")
    except FaultsFound as found:
        assert found.faults


def test_shipped_procedures_are_known_by_name() -> None:
    assert shipped_keys() == (
        "air-spring-reseal", "clearance", "coil-clearance", "coil-fork-annual", "coil-lower-legs", "coil-shock-spring",
        "coil-spring-change", "fork-annual", "leak-test", "lower-leg-service", "pressure-and-spacers", "rear-shock-air-can",
        "return-to-rider", "return-to-rider-coil", "travel-change-by-air-shaft",
    )  # fmt: skip
    with pytest.raises(KeyError):
        shipped("../read", VOCABULARY)
