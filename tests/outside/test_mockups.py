"""The mockups' bike through the tool gives the figures that stand on the mockups.

Source: our own mockups, drawn from tests/reference/hollin.toml by hand before the tool existed; no outside source. The plan
page, the card, the filling page, the page that blocks and the set-up sheet are read here number by number. The drawings left
out that the lower legs' room grows with the shaft: a chassis with the same chambers, whose lower legs stay as they are, gives
what is printed on them, the shaft what the mockups' README says since.
"""

from __future__ import annotations

import dataclasses
import math
import re
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.physics import air_spring, hazards
from topout.physics.hazards import rounded_up
from topout.planner import change, fill, inputs, load, state
from topout.planner.plan import plan
from topout.planner.results import as_json

from .forks import ATM_PA, PSI_PA
from .tables import REFERENCE

TEXT = (REFERENCE / "hollin.toml").read_text(encoding="utf-8")


AS_DRAWN = '[change]\nby = "chassis"\nair = {}'  # the same chambers, and lower legs that do not grow


def bench(way: str = "shaft", **replaced: str) -> BenchFile:
    """The file, with the value of a key of the change replaced (``pressure="65 psi"``)."""
    text = TEXT if way == "shaft" else TEXT.replace("[change]", AS_DRAWN)
    for key, value in replaced.items():
        head, _, tail = text.partition("[change]")
        text = head + "[change]" + re.sub(rf'^{key} = "[^"]*"', f'{key} = "{value}"', tail, count=1, flags=re.M)
    return read.read_text(text)


@pytest.fixture(scope="module", params=["shaft", "chassis"])
def way(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def result(way: str) -> dict[str, Any]:
    return plan(bench(way)).as_json()


@pytest.fixture(scope="module")
def curves(way: str) -> tuple[dict[str, Any], dict[str, Any]]:
    file = bench(way)
    on = load.load_on(file)
    both = (file, change.changed(file))
    before, after = (as_json(state.curve(f, of=state.parts(f, on))) for f in both)
    return before, after


def front(result: dict[str, Any], which: str) -> dict[str, Any]:
    found: dict[str, Any] = result[which]["sag"]["front"]
    return found


AFTER = {"shaft": (32.5, 30.6, 34.4, 21.6), "chassis": (32.3, 30.4, 34.2, 21.6)}


def test_sag_and_its_interval(result: dict[str, Any], way: str) -> None:
    for which, printed in (("before", (31.0, 29.2, 32.8, 22.1)), ("after", AFTER[way])):
        sag = front(result, which)
        got = (sag["travel_m"] * 1e3, sag["low_m"] * 1e3, sag["high_m"] * 1e3, sag["share"] * 100)
        assert got == pytest.approx(printed, abs=0.051)
        assert sag["load_n"] == pytest.approx(292, abs=0.5)
    assert front(result, "before")["implied_share"] == pytest.approx(0.39, abs=0.005)


KEEPS = {  # psi, and what each gives: sag mm and bottom-out force N
    "shaft": {"sag": (73.4, 31.0, 2061), "sag-share": (68.4, 33.2, 1987), "end-force": (66.1, 34.3, 1954), "curve": (76.1, 29.9, 2101)},
    "chassis": {"sag": (73.1, 31.0, 2080), "sag-share": (68.0, 33.2, 2000), "end-force": (64.6, 34.9, 1950), "curve": (75.3, 30.1, 2110)},
}  # fmt: skip


def test_keeps(result: dict[str, Any], way: str) -> None:
    got = {name: kept["pressure_pa"] / PSI_PA for name, kept in result["keep"].items()}
    assert got == pytest.approx({name: printed[0] for name, printed in KEEPS[way].items()}, abs=0.05)


@pytest.mark.parametrize("keep_name", ["sag", "sag-share", "end-force", "curve"])
def test_what_each_keep_gives(result: dict[str, Any], way: str, keep_name: str) -> None:
    printed_psi, sag_mm, end_n = KEEPS[way][keep_name]
    kept_psi = result["keep"][keep_name]["pressure_pa"] / PSI_PA
    assert round(kept_psi) == round(printed_psi)
    at_it = plan(bench(way, pressure=f"{kept_psi!r} psi")).as_json()
    assert front(at_it, "after")["travel_m"] * 1e3 == pytest.approx(sag_mm, abs=0.06)
    assert at_it["after"]["end_force_n"] == pytest.approx(end_n, abs=6)


def test_end_of_travel_and_energy(
    result: dict[str, Any], curves: tuple[dict[str, Any], dict[str, Any]], way: str
) -> None:
    after = (2011, 2542, 97) if way == "shaft" else (2034, 2580, 98)
    for which, curve, printed in (("before", curves[0], (1954, 2444, 89)), ("after", curves[1], after)):
        assert round(result[which]["end_force_n"]) == printed[0]
        assert round(curve["force_fast_from_sag_n"][-1]) == printed[1]
        assert round(curve["energy_j"]) == printed[2]


def test_the_lower_legs_sit_as_much_lower_as_the_fork_is_longer(result: dict[str, Any], way: str) -> None:
    """By Boyle's law alone: the end force of the two ways differs by the lower legs' air, 10 mm of room more or none."""
    if way == "chassis":
        return
    fork = bench().fork
    assert fork is not None and fork.lower_legs is not None and fork.travel_m == pytest.approx(0.140)
    room, area = fork.lower_legs.air_volume_m3, fork.lower_legs.area_m2
    assert room is not None and area is not None

    def end_n(at_full_extension_m3: float) -> float:
        return ATM_PA * (at_full_extension_m3 / (at_full_extension_m3 - area * 0.150) - 1.0) * area

    drawn = plan(bench("chassis")).as_json()["after"]["end_force_n"]
    apart = end_n(room + area * 0.010) - end_n(room)
    assert result["after"]["end_force_n"] - drawn == pytest.approx(apart, rel=1e-9) and apart == pytest.approx(
        -22.4, abs=0.05
    )


def test_difference_of_the_curves_below_the_old_bumper() -> None:
    """0 N at full extension, least at 132 mm, where the old bumper begins: -83 N with the lower legs left as they were."""
    file = bench("chassis")
    fine = [
        as_json(state.curve(f, points)) for f, points in ((file, 141), (change.changed(file), 151))
    ]  # every millimetre
    apart = [after - before for before, after in zip(fine[0]["force_n"], fine[1]["force_n"], strict=False)]
    assert abs(apart[0]) < 5
    assert apart[132] == pytest.approx(-83, abs=0.6)
    assert min(apart[:133]) == apart[132]


def test_compression_ratio(curves: tuple[dict[str, Any], dict[str, Any]]) -> None:
    for curve, printed in zip(curves, (2.50, 2.62), strict=True):
        assert curve["positive_pa"][-1] / curve["positive_pa"][0] == pytest.approx(printed, abs=0.006)


PRINTED = {  # degrees and millimetres: before and after unloaded, before and after at sag
    "head_angle_deg": (66.2, 65.6, 67.6, 67.0),
    "seat_angle_deg": (76.4, 75.8, 77.8, 77.2),
    "trail_m": (115, 121, 105, 111),
    "wheel_flop_m": (42, 46, 37, 40),
    "bb_height_m": (336, 341, 326, 330),
    "reach_m": (452, 445, 467, 461),
    "stack_m": (622, 627, 611, 616),
    "wheelbase_m": (1193, 1197, 1180, 1184),
    "front_centre_m": (761, 764, 750, 753),
}


@pytest.mark.parametrize("name", PRINTED)
def test_stance(result: dict[str, Any], name: str) -> None:
    at = [result[which]["geometry"][how][name] for how in ("unloaded", "sagged") for which in ("before", "after")]
    degrees = name.endswith("_deg")
    assert [value if degrees else value * 1e3 for value in at] == pytest.approx(
        PRINTED[name], abs=0.051 if degrees else 0.51
    )


def test_stance_to_the_tenth_on_the_card() -> None:
    result = plan(bench("chassis")).as_json()
    sagged = [result[which]["geometry"]["sagged"] for which in ("before", "after")]
    assert [s["bb_height_m"] * 1e3 for s in sagged] == pytest.approx((325.6, 330.0), abs=0.05)
    assert [s["trail_m"] * 1e3 for s in sagged] == pytest.approx((104.7, 110.6), abs=0.05)


def test_details_a_and_b() -> None:
    """The rear contact held: bottom bracket 4.4 mm higher, top of the head tube 9.1 mm higher and 5.8 back."""
    result = plan(bench("chassis")).as_json()
    before, after = (result[which]["geometry"]["sagged"] for which in ("before", "after"))
    bracket = (after["bb_height_m"] - before["bb_height_m"]) * 1e3
    top = bracket + (after["stack_m"] - before["stack_m"]) * 1e3
    assert bracket == pytest.approx(4.4, abs=0.05)
    assert top == pytest.approx(9.1, abs=0.05)
    # From the rear contact: the bottom bracket lies wheelbase less its own distance to the front contact ahead of it.
    chart = bench().frame
    reach_back = [
        math.sqrt(chart.chainstay_m**2 - (chart.rear_radius_m - s["bb_height_m"]) ** 2) + s["reach_m"]
        for s in (before, after)
    ]
    assert (reach_back[1] - reach_back[0]) * 1e3 == pytest.approx(-5.8, abs=0.06)


def test_room_and_warnings(result: dict[str, Any]) -> None:
    """Bottomed 8.4 mm after (12.4 before), 5.4 under the load of the standard; the two warnings that stand on the page."""
    assert result["clearance"]["tyre_to_crown_m"] * 1e3 == pytest.approx(8.4, abs=0.05)
    unchanged = plan(read.read_text(TEXT.partition("[change]")[0])).as_json()
    assert unchanged["clearance"]["tyre_to_crown_m"] * 1e3 == pytest.approx(12.4, abs=0.05)
    raised = {(w["code"], w["state"]) for w in result["warnings"]}
    assert ("tyre-crown", "after") in raised
    assert {("charged-negative", "before"), ("charged-negative", "after")} <= raised
    assert {code for code, _ in raised} == {"tyre-crown", "charged-negative"}
    (crown,) = [w["text"] for w in result["warnings"] if w["code"] == "tyre-crown"]
    assert "5.4" in crown


def test_filling_schedule_with_a_hose_of_3_ml() -> None:
    to_psi, stops = 70, (20, 40, 60)
    file = change.changed(bench())
    got = fill.schedule(file, to_psi * PSI_PA, [s * PSI_PA for s in stops], PSI_PA, 3e-6).as_json()
    assert [round(r["pumped_to_pa"] / PSI_PA) for r in got["rounds"]] == [20, 40, 60, 70, 70]
    readings = [r["reading_pa"] / PSI_PA for r in got["rounds"]]
    assert readings == pytest.approx((16, 35, 54, 66, 69), abs=0.51)
    assert got["settled_after"] == 5


def test_the_page_that_blocks() -> None:
    """450 N and 32 J at full length from the last settled 72 psi; 120 N with the fork 102 mm in."""
    settled = air_spring.settle(inputs.bikes_of([bench()]).chambers)
    force, energy = hazards.trapped_negative(settled, np.zeros(1))
    assert (rounded_up(force.item()), rounded_up(energy.item())) == (450, 32)
    further_in, _ = hazards.trapped_negative(settled, np.array([0.102]))
    assert rounded_up(further_in.item()) == 120


@pytest.mark.parametrize(("rider_kg", "psi"), [(61, 54), (66, 59), (71, 65), (76, 70), (81, 75), (86, 81), (91, 86)])
def test_pressure_by_rider_on_the_sheet(rider_kg: float, psi: float) -> None:
    """Same share of sag as at 70 psi, one spacer; the load follows the rider's mass at the share that the sag found implies."""
    set_up = plan(bench()).as_json()
    share = front(set_up, "after")["share"]
    implied = front(set_up, "before")["implied_share"]
    heavy_kg, unsprung_kg = 14.2, 2.9
    now_kg = (76 + heavy_kg) * implied - unsprung_kg
    then_kg = (rider_kg + heavy_kg) * implied - unsprung_kg
    axial_n = front(set_up, "after")["load_n"] * then_kg / now_kg
    after = change.changed(bench())

    def short(gauge_psi: float) -> float:
        fit = inputs.bikes_of([after]).chambers
        fit = dataclasses.replace(fit, pressure_pa=np.array([gauge_psi * PSI_PA + ATM_PA]))
        return air_spring.force(air_spring.settle(fit), share * fit.travel_m).item() - axial_n

    assert brentq(short, 20, 150) == pytest.approx(psi, abs=0.51)
