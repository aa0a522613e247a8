"""A fork on a coil through whole files: force, sag, what holds what, where it binds, and what a change makes of it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from topout import api
from topout.bench_file import read, write
from topout.errors import FaultsFound
from topout.physics import air_spring
from topout.planner import change, design, inputs, keep, ride, sentence, state, summary, target
from topout.planner.plan import plan
from topout.planner.results import as_json
from topout.planner.wanted import Wanted

BIKE = """
[rider]
mass = "80 kg"
front_share = 0.42
[bike]
mass = "15 kg"
unsprung_front = "3 kg"
[frame]
head_angle = "65 deg"
seat_angle = "77 deg"
reach = "470 mm"
stack = "630 mm"
chainstay = "435 mm"
bb_drop = "30 mm"
fork_length = "551 mm"
fork_offset = "44 mm"
front_radius = "369 mm"
rear_radius = "369 mm"
[fork]
length = "551 mm"
offset = "44 mm"
travel = "150 mm"
friction = "12 N"
{spring}
[fork.lower_legs]
air_volume = "420 ml"
area = "1600 mm^2"
[fork.bumper]
length = "8 mm"
rate = "70 N/mm"
{more}
"""
COIL = '[fork.coil]\nrate = "7.5 N/mm"\npreload = "6 mm"\nbind = "170 mm"'
AIR = """[fork.air]
bore = "32 mm"
shaft = "10 mm"
positive_volume = "204 ml"
negative_volume = "60 ml"
pressure = "80 psi"
"""
K, P, S = 7500.0, 0.006, 0.150
AMBIENT = 101325.0


def text(more: str = "", spring: str = COIL) -> str:
    return BIKE.format(spring=spring, more=more)


def result(more: str = "", spring: str = COIL) -> dict[str, Any]:
    return plan(read.read_text(text(more, spring))).as_json()


def force_n(x: float, rate: float = K, preload: float = P, travel: float = S, room: float = 420e-6) -> float:
    """By hand: Hooke, Boyle in the lower legs, the bumper."""
    legs = AMBIENT * 1600e-6 * (room / (room - 1600e-6 * x) - 1.0)
    crush = max(x - (travel - 0.008), 0.0)
    return rate * (preload + x) + legs + 70e3 * 0.008 * (crush / 0.008) ** 2


def test_force_rate_energy_and_parts_of_it() -> None:
    got = as_json(state.curve(read.read_text(text())))
    x = np.array(got["travel_m"])
    assert got["force_n"] == pytest.approx([force_n(each) for each in x], rel=1e-12)
    assert got["terms"]["coil_n"] == pytest.approx(K * (P + x), rel=1e-12)
    assert not np.any([got["terms"][name] for name in ("positive_n", "negative_n", "second_n")])
    assert got["energy_j"] == pytest.approx(
        quad(force_n, 0.0, S - 0.008)[0] + quad(force_n, S - 0.008, S)[0], rel=1e-10
    )
    slope = [(force_n(each + 1e-6) - force_n(each - 1e-6)) / 2e-6 for each in x[1:150:7]]
    assert np.array(got["rate_n_per_m"])[1:150:7] == pytest.approx(slope, rel=1e-6)
    assert got["lost_travel_m"] == 0.0 and got["force_n"][0] == pytest.approx(K * P)
    fast = np.array(got["force_fast_n"]) - np.array(got["force_n"])
    assert fast[0] == pytest.approx(0.0, abs=1e-9) and fast[-1] > 0  # the air in the lower legs alone is quicker


def test_sag_by_a_root_finder_and_from_what_was_found() -> None:
    front = result()["before"]["sag"]["front"]
    assert brentq(lambda x: force_n(x) - front["load_n"], 0.0, S) == pytest.approx(front["travel_m"], rel=1e-9)
    found = result('[found]\nsag = "33 mm"')
    assert found["before"]["sag"]["front"]["load_n"] == pytest.approx(force_n(0.033), rel=1e-12)
    assert found["before"]["sag"]["front"]["implied_share"] is not None
    bench = read.read_text(text('[found]\nsag = "33 mm"'))
    assert "load comes from" not in sentence.not_known(summary.of_plan(bench, plan(bench)))


LONGER = '[change]\ntravel = "160 mm"\n[found]\nsag = "33 mm"\n'


@pytest.mark.parametrize("setting", ["rate", "preload"])
@pytest.mark.parametrize("name", ["sag", "sag-share", "end-force", "curve"])
def test_what_holds_one_thing_holds_it(name: str, setting: str) -> None:
    """Set as the plan says, the property is the one of before: read off a plan of its own."""
    asked = LONGER.replace('"160 mm"', '"160 mm"\nfork_length = "561 mm"')
    told = result(asked)
    keep = told["keep"][name]
    assert keep["pressure_pa"] is None and set(keep) == {"pressure_pa", "rate_n_per_m", "preload_m"}
    value = keep["rate_n_per_m" if setting == "rate" else "preload_m"]
    if (name, setting) == ("end-force", "preload"):
        assert value is None  # even without any preload the longer fork ends harder
        return
    written = f'rate = "{value!r} N/m"\npreload = "6 mm"' if setting == "rate" else f'preload = "{value!r} m"'
    at_it = result(f"{asked}[change.coil]\n{written}\n")
    if name == "sag":
        assert at_it["difference"]["sag"]["front"]["travel_m"] == pytest.approx(0.0, abs=1e-9)
    elif name == "sag-share":
        assert at_it["difference"]["sag"]["front"]["share"] == pytest.approx(0.0, abs=1e-8)
    elif name == "end-force":
        assert at_it["difference"]["end_force_n"] == pytest.approx(0.0, abs=1e-7)
    else:

        def misfit(by: float) -> float:
            new = value * (1.0 + by)
            rate, wound = (new, P) if setting == "rate" else (K, new)
            room = 420e-6 + 1600e-6 * 0.010
            return float(
                quad(lambda x: (force_n(x, rate, wound, 0.160, room) - force_n(x)) ** 2, 0.0, S - 0.008, epsabs=1e-12)[
                    0
                ]
            )

        assert misfit(0.0) < min(misfit(-1e-4), misfit(1e-4))


def test_an_air_spring_keeps_its_shape() -> None:
    assert {tuple(keep) for keep in result("[change]\nspacers = 0", AIR)["keep"].values()} == {
        ("pressure_pa", "over_limit")
    }


def test_where_nothing_in_range_holds_it_that_is_said() -> None:
    heavy = '[fork.coil]\nrate = "500 N/mm"\npreload = "60 mm"'  # it does not sag at all
    told = result("[change]\nspacers = 0", heavy)
    assert {w["code"] for w in told["warnings"]} >= {"no-coil"}
    assert "no-pressure" not in {w["code"] for w in told["warnings"]}


def test_it_binds_as_a_hard_stop() -> None:
    """At 120 of 150 mm: forces, energy and shares end there, the bumper is never touched, and it is warned of."""
    short = COIL.replace("170", "120")
    told = result("[change]\nspacers = 0", short)
    assert {w["state"] for w in told["warnings"] if w["code"] == "coil-bind"} == {"before", "after"}
    assert told["before"]["end_force_n"] == pytest.approx(force_n(0.120), rel=1e-12)
    assert told["before"]["sag"]["front"]["share"] == pytest.approx(told["before"]["sag"]["front"]["travel_m"] / 0.120)
    curve = as_json(state.curve(read.read_text(text("", short))))
    assert curve["travel_m"][-1] == 0.120 and not np.any(curve["terms"]["bumper_n"])
    assert curve["energy_j"] == pytest.approx(quad(force_n, 0.0, 0.120)[0], rel=1e-10)
    part = COIL.replace("170", "146")  # in the bumper: crushed by the 4 mm that are left
    curve = as_json(state.curve(read.read_text(text("", part))))
    assert curve["force_n"][-1] == pytest.approx(force_n(0.146), rel=1e-12)
    assert curve["energy_j"] == pytest.approx(quad(force_n, 0.0, 0.142)[0] + quad(force_n, 0.142, 0.146)[0], rel=1e-10)
    for fits in ("150", "170"):
        assert "coil-bind" not in {w["code"] for w in result("", COIL.replace("170", fits))["warnings"]}


def test_winding_it_up_brings_the_coils_together_sooner() -> None:
    file = read.read_text(text('[change.coil]\npreload = "30 mm"'))
    after = change.changed(file)
    assert after.fork is not None and after.fork.coil is not None
    assert after.fork.coil.bind_m == pytest.approx(0.170 - 0.024) and after.fork.coil.rate_n_per_m == K
    assert [w.state for w in plan(file).warnings if w.code == "coil-bind"] == ["after"]
    other = change.changed(
        read.read_text(text('[change.coil]\nrate = "8 N/mm"'))
    )  # another spring: its own is not known
    assert other.fork is not None and other.fork.coil is not None and other.fork.coil.bind_m is None
    kept = result(LONGER)["keep"]["sag-share"]["preload_m"]
    assert kept is None or kept + 0.160 <= 0.170 + P + 1e-12


def test_from_air_to_a_coil_and_back() -> None:
    onto = read.read_text(text('[change.coil]\nrate = "7.5 N/mm"\npreload = "6 mm"', AIR))
    told = plan(onto)
    assert told.after.end_force_n == pytest.approx(force_n(S), rel=1e-12)
    assert told.keep.sag.rate_n_per_m is not None and told.on_coil
    after = change.changed(onto)
    assert after.fork is not None and after.fork.air is None and after.fork.coil is not None
    back = read.read_text(text(f'[change]\nby = "chassis"\n{AIR.replace("[fork.air]", "[change.air]")}'))
    there = plan(back)
    assert there.after.end_force_n == pytest.approx(plan(read.read_text(text("", AIR))).before.end_force_n, rel=1e-12)
    assert there.keep.sag.pressure_pa is not None and not there.on_coil
    for file in (onto, back, read.read_text(text(LONGER)), read.read_text(text('[change.coil]\npreload = "30 mm"'))):
        columns = design.changed(design.Design.of([file]), design.Changes.of([file]))
        read_again = design.Design.of([change.changed(file)])
        for one, two in ((inputs.bikes(columns).chambers, inputs.bikes(read_again).chambers),):
            for name in one.__slots__:
                np.testing.assert_array_equal(getattr(one, name), getattr(two, name), err_msg=name)
        assert read.read_text(write.write(file)) == file


def test_only_a_part_of_an_air_spring_is_none() -> None:
    half = result('[change]\nby = "chassis"\n[change.air]\nbore = "32 mm"')
    assert half["after"]["end_force_n"] is None
    assert {w["code"] for w in half["warnings"]} >= {"missing-input"}


def test_what_can_hurt_is_the_preload() -> None:
    hurts = result()["hazard"]["before"]
    assert hurts["cap_force_n"] == pytest.approx(K * P) and hurts["energy_j"] == pytest.approx(0.5 * K * P**2)
    assert hurts["ring_force_n"] == 0.0


@pytest.mark.parametrize(
    ("spring", "more", "place", "words"),
    [
        (f"{AIR}{COIL}", "", "[fork.coil]", "[fork.air] stands too"),
        (COIL, '[found]\nsag = "33 mm"\npressure = "60 psi"', "[found] pressure", "has no pressure"),
        (COIL, '[change]\npressure = "60 psi"', "[change] pressure", "has no pressure"),
        (COIL, '[change]\ntravel = "140 mm"\nby = "piston-spacer"', "[change] by", "no air piston"),
        (COIL.replace("170 mm", "10 mm").replace("6 mm", "12 mm"), "", "[fork.coil] preload", "coils would touch"),
        (COIL.replace('"7.5 N/mm"', "7.5"), "", "[fork.coil] rate", "needs a unit"),
    ],
)  # fmt: skip
def test_faults(spring: str, more: str, place: str, words: str) -> None:
    with pytest.raises(FaultsFound) as found:
        read.read_text(text(more, spring))
    assert [fault.location for fault in found.value.faults] == [place] and words in str(found.value)


def test_without_a_rate_nothing_is_computed_and_nothing_is_pumped() -> None:
    told = result("", '[fork.coil]\npreload = "6 mm"')
    assert told["before"]["end_force_n"] is None
    assert "[fork.coil] rate is not given" in told["warnings"][0]["text"]
    with pytest.raises(FaultsFound, match="rate"):
        api.curve(read.read_text(text("", '[fork.coil]\npreload = "6 mm"')))
    with pytest.raises(FaultsFound, match="nothing to pump"):
        api.inflate(read.read_text(text()), 3e5)


def test_the_sentence_names_the_spring() -> None:
    for more, words in (
        (LONGER, "Leave the spring of 7.5\u00a0N/mm with 6\u00a0mm of preload."),
        ('[change.coil]\nrate = "8 N/mm"\npreload = "0 mm"', "Fit the spring of 8\u00a0N/mm with no preload."),
    ):
        bench = read.read_text(text(more))
        said = sentence.said(sentence.whole(summary.of_plan(bench, plan(bench)), second=False))
        assert said.startswith(words) and "air" not in said.lower().replace("head angle", "")


def test_a_rate_with_its_uncertainty_is_drawn() -> None:
    bench = read.read_text(text('[change]\ntravel = "160 mm"', COIL.replace("7.5 N/mm", "7.5 ± 0.4 N/mm")))
    told = plan(bench, draws=2_000).as_json()
    assert told["drawn"]["draws"] >= 2_000
    end, spread = told["before"]["end_force_n"], told["before"]["end_force_n_u"]
    assert end == pytest.approx(force_n(S), rel=2e-3)
    assert spread == pytest.approx(0.4e3 / 1.96 * (S + P), rel=0.05)  # ∂F/∂k = x + p
    assert math.isfinite(told["after"]["end_force_n_high95"])


def test_a_ride_is_a_pressure_and_refused_and_a_target_is_a_spring() -> None:
    """On a coil, and on an air fork that is to stand on one: said, not "no pressure from 0 to 60 bar"."""
    for file in (text(), text('[change.coil]\nrate = "7.5 N/mm"', AIR)):
        (found,) = target.targets(read.read_text(file), Wanted(sag_share=0.2)).targets
        assert found.ways and found.ways[0].rate_n_per_m is not None and found.ways[0].pressure_gauge_pa is None
        with pytest.raises(FaultsFound, match="a coil has no pressure to set") as refused:
            ride.ride(read.read_text(f'{file}\n[ride]\ntemperature = "0 degC"\n'))
        table = "[change.coil]" if "[fork.air]" in file else "[fork.coil]"  # the one that stands in the file
        assert [fault.location for fault in refused.value.faults] == [table]


@pytest.mark.parametrize(
    ("asked", "key"),
    [
        ("spacers = 1", "spacers"), ('pressure = "62 psi"', "pressure"), ('by = "piston-spacer"', "by"),
        ('by = "piston-spacer"\nspacer_solid_volume = "3 ml"', "spacer_solid_volume"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("onto", [True, False], ids=["onto", "on"])
def test_what_belongs_to_air_is_refused_where_a_fork_stands_on_a_coil(asked: str, key: str, onto: bool) -> None:
    """A fork that goes onto a coil took a pressure and spacers in silence, one on a coil already its spacers."""
    coil = '[change.coil]\nrate = "7.5 N/mm"'
    with pytest.raises(FaultsFound) as found:
        read.read_text(text(f"[change]\n{asked}\n{coil}", AIR if onto else COIL))
    assert f"[change] {key}" in [fault.location for fault in found.value.faults]
    assert ("on the coil of [change.coil] the fork has no" if onto else "a coil fork has no") in str(found.value)
    read.read_text(text(f'[change]\ntravel = "140 mm"\n{coil}', AIR if onto else COIL))


@pytest.mark.parametrize("word", ["preload", "bind"])
def test_a_coil_without_a_rate_asked_of_an_air_fork_is_refused(word: str) -> None:
    """It was taken, and the fork stayed on its air without a word."""
    with pytest.raises(FaultsFound) as found:
        read.read_text(text(f'[change.coil]\n{word} = "30 mm"', AIR))
    assert "needs rate beside it: the fork stands on air." in str(found.value)


@pytest.mark.parametrize("spring", [AIR, COIL], ids=["air", "coil"])
@pytest.mark.parametrize("more", ['bore = "80 mm"', 'pressure_limit = "120 psi"'])
def test_a_coil_and_something_of_the_air_asked_of_one_fork_are_refused(spring: str, more: str) -> None:
    """It was taken: the coil stood in place of the air, and the bore that was asked for said nothing."""
    asked = f'[change.coil]\nrate = "7.5 N/mm"\n[change.air]\n{more}\n'
    with pytest.raises(FaultsFound) as found:
        read.read_text(text(asked, spring))
    assert [fault.location for fault in found.value.faults] == ["[change.coil]"]
    assert "[change.air] stands too; give one of them" in str(found.value)


def test_pressure_and_spacers_for_the_air_spring_in_place_of_a_coil() -> None:
    """The pressure was refused as a coil's, though the fork stands on air then, and spacers were forgotten; in [change.air] both
    were taken."""
    air = 'bore = "32 mm"\nshaft = "10 mm"\npositive_volume = "240 ml"\nnegative_volume = "48 ml"'
    told = [
        plan(read.read_text(text(asked)))
        for asked in (
            f'[change]\npressure = "70 psi"\nspacers = 2\n[change.air]\nspacer_volume = "8 ml"\n{air}',
            f'[change.air]\n{air}\nspacer_volume = "8 ml"\npressure = "70 psi"\nspacers = 2',
        )
    ]
    assert told[0].after == told[1].after and told[0].after.end_force_n is not None
    assert told[0].clearance == told[1].clearance and told[0].warnings == told[1].warnings


def test_a_coil_that_just_touches_is_a_preload_of_nothing() -> None:
    """What it takes is no millimetre of winding: that can be set, and a hair less can't."""
    loose = read.read_text(text("", COIL.replace('"6 mm"', '"0 mm"')))
    chambers = inputs.bikes(design.Design.of([loose])).chambers
    spring = air_spring.settle(chambers)
    x = np.array([0.03])
    wanted = air_spring.force(spring, x)
    assert keep.coil_preload(spring, x, wanted) == pytest.approx(0.0, abs=1e-12)
    assert np.isnan(keep.coil_preload(spring, x, wanted - 1.0)).all()
