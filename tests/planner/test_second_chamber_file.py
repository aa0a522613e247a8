"""A second positive chamber through whole files: its pressure as set, the filling order, what is said and what is missing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.test_coil_fork import AIR, AMBIENT, S, text
from topout import api
from topout.bench_file import read, write
from topout.cli import tables
from topout.planner import change, sentence, state, summary
from topout.planner.plan import plan
from topout.planner.results import as_json
from topout.units import BENCH, PSI_PA

SECOND = f'{AIR}second_volume = "40 ml"\nsecond_pressure = "130 psi"'
AREA, RING = np.pi / 4 * 0.032**2, np.pi / 4 * (0.032**2 - 0.010**2)


def by_hand_n(x: Any, gauge_psi: float = 80.0, behind_psi: float = 130.0) -> Any:
    """Boyle's law by hand, the port at full extension: main alone up to the second one's pressure, then both."""
    main, second = gauge_psi * PSI_PA + AMBIENT, behind_psi * PSI_PA + AMBIENT
    room = 204e-6 - AREA * x
    alone = main * 204e-6 / room
    both = (main * 204e-6 + second * 40e-6) / (room + 40e-6)
    pressure = np.where(alone < second, alone, both)
    negative = main * 60e-6 / (60e-6 + RING * x)
    legs = AMBIENT * 1600e-6 * (420e-6 / (420e-6 - 1600e-6 * x) - 1.0)
    crush = np.maximum(x - (S - 0.008), 0.0)
    return (pressure - AMBIENT) * AREA - (negative - AMBIENT) * RING + legs + 70e3 * 0.008 * (crush / 0.008) ** 2


def test_the_force_of_a_file() -> None:
    got = as_json(state.curve(read.read_text(text("", SECOND))))
    x = np.array(got["travel_m"])
    assert got["force_n"] == pytest.approx(by_hand_n(x), rel=1e-10, abs=1e-8)
    assert min(got["terms"]["second_n"]) < 0.0 == max(got["terms"]["second_n"])
    total = np.sum([np.array(term) for term in got["terms"].values()], axis=0)
    assert total == pytest.approx(got["force_n"], rel=1e-12)
    assert max(got["positive_pa"]) < 204e-6 / (204e-6 - AREA * S) * (80 * PSI_PA + AMBIENT)  # softer than without


@pytest.mark.parametrize("name", ["sag", "sag-share", "end-force"])
def test_a_keep_holds_with_the_second_pressure_as_set(name: str) -> None:
    asked = '[found]\nsag = "30 mm"\npressure = "80 psi"\n[change]\ntravel = "140 mm"\nfork_length = "541 mm"\n'
    told = plan(read.read_text(text(asked, SECOND))).as_json()
    pressure = told["keep"][name]["pressure_pa"]
    at_it = plan(read.read_text(text(f'{asked}pressure = "{pressure!r} Pa"\n', SECOND))).as_json()["difference"]
    apart = {"sag": lambda: at_it["sag"]["front"]["travel_m"], "sag-share": lambda: at_it["sag"]["front"]["share"],
             "end-force": lambda: at_it["end_force_n"] / 1e3}[name]()  # fmt: skip
    assert apart == pytest.approx(0.0, abs=1e-9)
    after = change.changed(read.read_text(text(asked, SECOND))).fork
    assert after is not None and after.air is not None
    assert after.air.second_pressure_gauge_pa == pytest.approx(130 * PSI_PA)


def test_another_second_pressure_is_a_change() -> None:
    asked = '[change]\nby = "chassis"\n[change.air]\nsecond_pressure = "160 psi"'
    file = read.read_text(text(asked, SECOND))
    assert plan(file).after.end_force_n == pytest.approx(float(by_hand_n(np.array(S), behind_psi=160.0)), rel=1e-10)
    assert read.read_text(write.write(file)) == file
    said = sentence.said(sentence.to_set(summary.of_plan(file, plan(file)), second=False))
    assert said == "Set 80\u00a0psi main and 160\u00a0psi in the second chamber with no volume spacer."


def test_it_is_filled_first() -> None:
    file = read.read_text(text("", SECOND))
    got = api.inflate(file, hose_m3=3e-6)
    rounds = got.as_json()["rounds"]
    assert rounds[0]["second_to_pa"] == pytest.approx(130 * PSI_PA) and all("second_to_pa" not in r for r in rounds[1:])
    shown = tables.inflate(file, got, PSI_PA, 3e-6, BENCH)
    assert shown.index("Fill the second chamber first, to 130") < shown.index("Pump at full extension")
    # A main chamber at more than the second was set to: the hose's air goes into the room of both.
    low = read.read_text(text("", SECOND.replace("130 psi", "50 psi")))
    last = api.inflate(low, hose_m3=3e-6).as_json()["rounds"][-1]
    reading = 80 * PSI_PA / (1 + 3e-6 / (204e-6 + 60e-6 + 40e-6))
    assert last["reading_pa"] == pytest.approx(reading, rel=1e-12)


def test_a_port_further_in_shares_what_both_chambers_hold() -> None:
    """The second one gives way at the port: molecules counted, by halving."""
    file = read.read_text(text("", SECOND.replace("130 psi", "60 psi") + '\nport_position = "5 mm"'))
    got = api.inflate(file).as_json()["rounds"][0]
    second, x = 60 * PSI_PA + AMBIENT, 0.005
    main = 80 * PSI_PA + AMBIENT

    def holds(p: float, room: float) -> float:
        return p * room + max(p - second, 0.0) * 40e-6

    def pressure(molecules: float, room: float) -> float:
        low, high = 1e4, 1e7
        for _ in range(200):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if holds(middle, room) < molecules else (low, middle)
        return low

    negative = 60e-6 + RING * x
    shared = pressure(holds(main, 204e-6) + AMBIENT * 60e-6, 204e-6 - AREA * x + negative)
    left = pressure(holds(main, 204e-6) + AMBIENT * 60e-6 - shared * negative, 204e-6)
    assert got["after_stroke_pa"] == pytest.approx(left - AMBIENT, rel=1e-9)


def test_one_without_the_other_is_missing() -> None:
    for have, lacks in (
        ('second_volume = "40 ml"', "second_pressure"),
        ('second_pressure = "130 psi"', "second_volume"),
    ):
        told = plan(read.read_text(text("", f"{AIR}{have}"))).as_json()
        assert told["before"]["end_force_n"] is None
        assert f"[fork.air] {lacks} is not given" in told["warnings"][0]["text"]
