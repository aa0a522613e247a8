"""Use before reading, and proofs before what hurts: refused for every job that a file may become."""

from __future__ import annotations

import pytest

from topout.errors import FaultsFound
from topout.planner.variables import VOCABULARY
from topout.procedures.read import read

HEAD = 'grammar = 2\ntitle = "A"\nversion = 1\nsummary = "B."\n[[group]]\nkey = "g"\ntitle = "G"\ncomplete = "All complete."\n'
READS = """[[group.step]]
key = "reads"
do = "Measure the exposed stanchion."
WHEN
evidence = [{ key = "full", kind = "number", label = "Full", unit = "mm", low = "40 mm", high = "350 mm", role = "full-length"MORE }]
"""
USES = """[[group.step]]
key = "uses"
do = "Measure it again."
WHEN
evidence = [{ key = "again", kind = "number", label = "Again", unit = "mm", expect = "{exposed_length}", within = "3 mm" }]
"""
HOLD = "hold = true\nmay_skip = false\n"


def step(text: str, when: str = "", more: str = "") -> str:
    return text.replace("WHEN", when).replace("MORE", more)


def faults(text: str) -> str:
    with pytest.raises(FaultsFound) as found:
        read(text, "test", VOCABULARY, "test.toml")
    return str(found.value)


@pytest.mark.parametrize(
    ("reads", "uses", "job"),
    [
        ('when = { negative = "coil" }', "", "where negative is self-equalising"),
        ('when = { negative = ["self-equalising", "separate-valve", "coil", "none"] }', "", "where negative is not-known"),
        ('when = { travel = "shorter" }', 'when = { travel = ["shorter", "longer"] }', "where travel is longer"),
        ('when = { port = "further-in" }', 'when = { negative = "coil" }', "where negative is coil, port is at-full-ext"),
        ('needs = "bike"', "", "where bike is away"),
        ('needs = "bike"', 'when = { wheel = "changed" }', "where bike is away, wheel is changed"),
    ],
)  # fmt: skip
def test_a_value_that_some_job_has_not_read_is_refused_with_that_job(reads: str, uses: str, job: str) -> None:
    said = faults(HEAD + step(READS, reads) + step(USES, uses))
    assert "step 2, evidence: {exposed_length} needs the reading full-length" in said and "line 1" in said
    assert job in said and "Read it earlier, or give this step another when." in said


@pytest.mark.parametrize(
    ("reads", "uses"),
    [
        ("", ""),
        ('when = { negative = "coil" }', 'when = { negative = "coil" }'),
        ('when = { negative = ["coil", "none"] }', 'when = { negative = "coil", port = "further-in" }'),
        ('needs = "bike"', 'needs = "bike"'),
    ],
)  # fmt: skip
def test_a_value_that_every_such_job_has_read_is_taken(reads: str, uses: str) -> None:
    read(HEAD + step(READS, reads) + step(USES, uses), "test", VOCABULARY)  # taken: no fault


def test_alternatives_that_read_it_between_them_are_enough() -> None:
    one = step(READS, 'when = { travel = "same" }')
    two = (
        step(READS, 'when = { travel = ["longer", "shorter"] }')
        .replace('"reads"', '"reads-too"')
        .replace('"full"', '"f"')
    )
    read(HEAD + one + two + step(USES), "test", VOCABULARY)  # taken: no fault


def test_a_step_that_comes_too_early_is_refused() -> None:
    assert "which no step before this one asks for." in faults(HEAD + step(USES) + step(READS))


def test_a_sentence_that_says_what_the_same_step_is_about_to_read_is_refused() -> None:
    text = step(READS).replace('"Measure the exposed stanchion."', '"Measure {exposed_length}."')
    assert "step 1, do: {exposed_length} needs the reading full-length" in faults(HEAD + text)


def test_within_a_step_the_reading_stands_before_the_bound_that_uses_it() -> None:
    def both(first: str, second: str) -> str:
        return HEAD + f'[[group.step]]\nkey = "b"\ndo = "Measure both."\nevidence = [\n{first},\n{second},\n]\n'

    full = '{ key = "full", kind = "number", label = "F", unit = "mm", role = "full-length" }'
    again = '{ key = "again", kind = "number", label = "A", unit = "mm", expect = "{exposed_length}", within = "3 mm" }'
    read(both(full, again), "test", VOCABULARY)  # taken: no fault
    assert "needs the reading full-length" in faults(both(again, full))


def test_a_variant_that_reads_it_is_no_reading_for_the_job_without_it() -> None:
    variant = '[[variant]]\nkey = "v"\ntitle = "V"\ncaution = "Stand clear."\n'
    top, group = HEAD.split("[[group]]\n", 1)
    first = "[[group]]\n" + group.replace('key = "g"', 'key = "first"\nvariant = "v"') + step(READS)
    text = top + variant + first + "[[group]]\n" + group + step(USES)
    assert "where variantv" not in faults(text)
    assert "where v is off" in faults(text)


def test_a_definition_over_a_reading_is_a_use_of_it() -> None:
    own = '[[define]]\nkey = "wanted"\nfunction = "sum"\nof = ["3 mm", "{exposed_length}"]\nunit = "mm"\n'
    top, group = HEAD.split("[[group]]\n", 1)
    text = top + own + "[[group]]\n" + group + step(USES).replace("{exposed_length}", "{wanted}")
    assert "{wanted} needs the reading full-length" in faults(text)


def test_a_hold_that_takes_no_excuse_is_not_bounded_by_what_may_be_left_out() -> None:
    """Else it could never be signed once the reading was passed over as not known."""
    hold = step(USES).replace("evidence = [{", HOLD + "evidence = [{").replace("within =", "within =")
    assert "which may be left out" in faults(HEAD + step(READS) + hold)
    assert "which may be left out" in faults(HEAD + step(READS, HOLD, ", optional = true") .replace(
        'role = "full-length", optional = true }', 'role = "full-length", optional = true }, { key = "t", kind = "tick", label = "T" }'
    ) + hold)  # fmt: skip
    read(HEAD + step(READS, HOLD) + hold, "test", VOCABULARY)  # taken: no fault
    optional = hold.replace('within = "3 mm"', 'within = "3 mm", optional = true').replace(
        "}]", '}, { key = "t", kind = "tick", label = "T" }]'
    )
    read(HEAD + step(READS) + optional, "test", VOCABULARY)  # taken: no fault


SHUT = """[[group.step]]
key = "gas"
do = "Look at the damper."
hold = true
may_skip = false
evidence = [{ key = "gas", kind = "choice", label = "It", options = ["Open", "Shut", "?"], pass = ["Open", "Shut"], means = ["opened", "stays-shut", "stays-shut"], role = "damper" }]
"""
STRIP = """[[group.step]]
key = "strip"
do = "Look at its shims."
when = { damper = "opened" }
"""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (STRIP, "step 1, when: damper is settled by the choice with the role damper, which no step before this one asks for."),
        (STRIP + SHUT, "no step before this one asks for."),
        (SHUT.replace(HOLD, "") + STRIP, "Put it before, at a hold point with may_skip = false."),
        (SHUT.replace("hold = true", 'hold = true\nwhen = { negative = "coil" }') + STRIP, "asks for, where negative is self-eq"),
        (SHUT + step(READS, 'when = { damper = "opened" }') + step(USES), "where damper is stays-shut. Read it earlier"),
        (SHUT.replace('"stays-shut", "stays-shut"', '"stays-shut"') + STRIP, "means"),
    ],
    ids=["nowhere", "after it", "may be left out", "not in every job", "read where it is opened alone", "no meaning"],
)  # fmt: skip
def test_a_step_that_hangs_on_an_answer_stands_after_it_and_the_order_holds_for_either(text: str, said: str) -> None:
    assert said in faults(HEAD + text)
    both = SHUT + STRIP + step(READS, 'when = { damper = "opened" }') + step(USES, 'when = { damper = "opened" }')
    read(HEAD + both, "test", VOCABULARY)  # taken: no fault


def test_a_round_s_number_stands_only_at_a_step_with_rounds() -> None:
    assert "has a number only at a step with rounds" in faults(HEAD + step(USES).replace("exposed_length", "new_travel").replace(
        "Measure it again.", "Measure {round_pressure}."
    ))  # fmt: skip


def test_a_wait_for_a_step_that_some_job_has_not_is_refused() -> None:
    wait = step(USES, 'wait = { after = "reads", minutes = 5 }').replace("exposed_length", "new_travel")
    read(HEAD + step(READS) + wait, "test", VOCABULARY)  # taken: no fault
    assert "stands before this one is expected, where oil-on-piston is none" in faults(
        HEAD + step(READS, 'when = { oil-on-piston = "some" }') + wait
    )


PROOF = """[[group.step]]
key = "ROLE"
do = "Look at it."
hold = true
may_skip = false
WHEN
evidence = [{ key = "ROLE", kind = "choice", label = "It", options = ["Good", "Bad"], pass = ["Good"], role = "ROLE" }]
"""
MARK = """[[group.step]]
key = "ROLE"
do = "Take it off."
WHEN
evidence = [{ key = "ROLE", kind = "tick", label = "Off", role = "ROLE" }]
"""


def proof(role: str, when: str = "") -> str:
    return PROOF.replace("ROLE", role).replace("WHEN", when)


def mark(role: str, when: str = "") -> str:
    if role == "pumps":
        return MARK.replace('kind = "tick", label = "Off"', 'kind = "number", label = "P", unit = "psi"').replace(
            "ROLE", role
        ).replace("WHEN", when)  # fmt: skip
    if role == "wheel-out":  # “it” would be what the step before named
        return MARK.replace("Take it off.", "Take the wheel out.").replace("ROLE", role).replace("WHEN", when)
    return MARK.replace("ROLE", role).replace("WHEN", when)


OPEN = proof("air-out") + proof("empty-at-rest") + proof("second-out")
RING = OPEN + proof("empty-by-shaft") + mark("ring-out")


@pytest.mark.parametrize(
    ("good", "lost", "said"),
    [
        (OPEN + mark("opens"), proof("air-out"), "opens needs the proof air-out before it"),
        (OPEN + mark("opens"), proof("empty-at-rest"), "opens needs the proof empty-at-rest before it"),
        (OPEN + mark("opens"), proof("second-out"), "opens needs the proof second-out before it"),
        (RING, proof("empty-by-shaft"), "ring-out needs the proof empty-by-shaft before it"),
        (RING + proof("ring-seated") + proof("tug") + mark("pumps"), proof("ring-seated"), "pumps after ring-out needs"),
        (RING + proof("ring-seated") + proof("tug") + mark("pumps"), proof("tug"), "the proof tug between them"),
        (mark("wheel-out") + proof("brake") + proof("axle") + proof("stem"), proof("brake"), "the proof brake after it"),
        (mark("wheel-out") + proof("brake") + proof("axle") + proof("stem"), proof("axle"), "the proof axle after it"),
        (mark("wheel-out") + proof("brake") + proof("axle") + proof("stem"), proof("stem"), "the proof stem after it"),
    ],
)  # fmt: skip
def test_nothing_is_opened_pumped_or_handed_over_without_its_proof(good: str, lost: str, said: str) -> None:
    """Left out, made part of other jobs only, moved to the wrong side, or made one that may be passed over."""
    read(HEAD + good, "test", VOCABULARY)  # taken: no fault
    assert said in faults(HEAD + good.replace(lost, ""))
    elsewhere = lost.replace("may_skip = false\n", 'may_skip = false\nwhen = { travel = "longer" }\n')
    assert said in (text := faults(HEAD + good.replace(lost, elsewhere))) and "travel is shorter" in text
    moved = lost + good.replace(lost, "") if "after it" in said or "between" in said else good.replace(lost, "") + lost
    assert said in faults(HEAD + moved)
    assert "keeps hands whole" in faults(HEAD + good.replace(lost, lost.replace("may_skip = false\n", "")))


def test_a_proof_that_can_not_fail_or_may_be_left_out_is_none() -> None:
    toothless = proof("air-out").replace('pass = ["Good"]', 'pass = ["Good", "Bad"]')
    assert "a proof that can fail" in faults(HEAD + toothless)
    optional = proof("air-out").replace('role = "air-out"', 'optional = true, role = "air-out"')
    assert "a proof that can fail" in faults(
        HEAD + optional.replace("}]", '}, { key = "t", kind = "tick", label = "T" }]')
    )


def test_only_a_hold_takes_no_excuse_and_a_stop_page_can_not_be_passed_over() -> None:
    assert "only a hold point takes no" in faults(HEAD + mark("opens", "may_skip = false"))
    stop = '[group.step.stop]\ntitle = "Stop."\ntext = "Leave it."\nways = ["Send it away."]\n'
    loose = proof("air-out").replace("may_skip = false\n", "").replace(', role = "air-out"', "")
    assert "can’t be passed over; add may_skip = false" in faults(HEAD + loose + stop)


SHARED = """
[[shared]]
key = "open"
title = "Open the <unit>"
complete = "Open: complete."
parameters = { unit = "fork" }
[[shared.step]]
key = "a"
do = "Look at the <unit>."
""" + proof("air-out").replace("group.step", "shared.step")


def test_a_shared_group_is_included_with_its_parameters_conditions_and_without_some_steps() -> None:
    top = HEAD.split("[[group]]", 1)[0]
    text = (
        top
        + '[[group]]\ninclude = "open"\nwith = { unit = "shock" }\nwhen = { negative = "coil" }\nwithout = ["a"]\n'
        + SHARED
    )
    (group,) = read(text, "test", VOCABULARY).groups
    assert (group.key, group.title, [each.key for each in group.steps]) == ("open", "Open the shock", ["air-out"])
    assert group.steps[0].when == (("negative", ("coil",)),)
    assert next(read(text.replace('without = ["a"]', ""), "test", VOCABULARY).steps()).do == "Look at the shock."


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        ('include = "open"', 'include = "opn"', "Is it open?"),
        ('with = { unit = "shock" }', 'with = { unitt = "shock" }', "Is it unit?"),
        ('with = { unit = "shock" }', "with = { unit = 3 }", "names with what stands for them"),
        ('without = ["a"]', 'without = ["b"]', "keys of its steps are expected"),
        ('without = ["a"]', 'without = ["air-out"]', "keeps hands whole; no procedure leaves it out"),
        ("the <unit>.", "the <unitt>.", "<unitt> is no parameter of this group"),
        ('parameters = { unit = "fork" }', "parameters = 3", "names with what stands for them"),
        ('include = "open"', "", "with, without and when go with include"),
    ],
)  # fmt: skip
def test_an_include_that_is_wrong_says_so(written: str, instead: str, said: str) -> None:
    top = HEAD.split("[[group]]", 1)[0]
    text = top + '[[group]]\ninclude = "open"\nwith = { unit = "shock" }\nwithout = ["a"]\n' + SHARED
    text = text.replace('without = ["a"]\n', "") if "unitt>" in instead else text
    assert written in text and said in faults(text.replace(written, instead, 1))


def test_two_includes_of_one_group_are_two_steps_of_one_key() -> None:
    top = HEAD.split("[[group]]", 1)[0]
    text = top + '[[group]]\ninclude = "open"\n[[group]]\ninclude = "open"\nkey = "b"\n' + SHARED
    assert "has this key already; every step needs its own" in faults(text)
