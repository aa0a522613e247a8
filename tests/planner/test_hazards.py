"""What can hurt, each number from its own inputs: what is missing for one is no reason to withhold another."""

from __future__ import annotations

import math

import pytest

from planner.fork import bench
from topout.planner.hazard import Hazard
from topout.planner.plan import plan
from topout.units import PSI_PA

BORE, SHAFT, POSITIVE, NEGATIVE = 'bore = "34 mm"', 'shaft = "10 mm"', 'positive_volume = "240 ml"', 'negative_volume = "50 ml"'  # fmt: skip
PRESSURE, PORT = 'pressure = "70 psi"', 'port_position = "4 mm"'
OWN = 'negative = "separate-valve"\nnegative_pressure = "120 psi"'
ATM = 101325.0
PISTON = math.pi / 4 * 0.034**2
RING = math.pi / 4 * (0.034**2 - 0.010**2)
KEYS = ["cap_force_n", "ring_force_n", "energy_j", "spring_energy_j", "damper_energy_j"]
CAP_N = 70 * PSI_PA * PISTON


def energy_j(gauge_pa: float, volume_m3: float) -> float:
    """Isothermal expansion to ambient, as the integral of (p − p_a) dV: p₁V₁ ln(p₁/p_a) − p_a(V₂ − V₁)."""
    p1 = gauge_pa + ATM
    return p1 * volume_m3 * math.log(p1 / ATM) - ATM * volume_m3 * (p1 / ATM - 1.0)


MAIN_J, OWN_J = energy_j(70 * PSI_PA, 240e-6), energy_j(120 * PSI_PA, 50e-6)
SHUT_PA = (70 * PSI_PA + ATM) * 240e-6 / (240e-6 - PISTON * 0.004) * (50e-6 + RING * 0.004) / 50e-6 - ATM


def hazard(cap_n: float | None, ring_n: float | None, all_j: float | None) -> Hazard:
    """Of a file without a damper: all that is shut in is the air's."""
    return Hazard(cap_n, ring_n, all_j, all_j, 0.0)


CASES = {
    "bore and pressure alone": ([BORE, PRESSURE], hazard(CAP_N, CAP_N, None), ["shaft", "positive_volume"]),
    "no pressure": ([BORE, SHAFT, POSITIVE, NEGATIVE], None, ["pressure"]),
    "no bore": ([SHAFT, POSITIVE, NEGATIVE, PRESSURE], hazard(None, None, MAIN_J + energy_j(70 * PSI_PA, 50e-6)), ["bore"]),
    "no positive volume": ([BORE, SHAFT, NEGATIVE, PRESSURE], hazard(CAP_N, CAP_N, None), ["positive_volume"]),
    "no negative volume": ([BORE, SHAFT, POSITIVE, PRESSURE], hazard(CAP_N, CAP_N, None), ["negative_volume"]),
    "no negative chamber": ([BORE, POSITIVE, PRESSURE, 'negative = "none"'], hazard(CAP_N, CAP_N, MAIN_J), ["shaft"]),
    "port in, no volumes": ([BORE, SHAFT, PRESSURE, PORT], hazard(CAP_N, None, None), ["positive_volume"]),
    "port in, whole": (
        [BORE, SHAFT, POSITIVE, NEGATIVE, PRESSURE, PORT],
        hazard(CAP_N, max(CAP_N, SHUT_PA * RING), MAIN_J + energy_j(SHUT_PA, 50e-6)),
        [],
    ),
    "own valve, no volumes": ([BORE, SHAFT, PRESSURE, OWN], hazard(CAP_N, 120 * PSI_PA * RING, None), ["negative_volume"]),
    "own valve, no shaft": ([BORE, POSITIVE, NEGATIVE, PRESSURE, OWN], hazard(CAP_N, None, MAIN_J + OWN_J), ["shaft"]),
    "spacers of no known volume": (
        [BORE, SHAFT, POSITIVE, NEGATIVE, PRESSURE, "spacers = 2"], hazard(CAP_N, CAP_N, None), ["spacer_volume"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("air", "expected", "named"), CASES.values(), ids=CASES)
def test_each_from_its_own_inputs(air: list[str], expected: Hazard | None, named: list[str]) -> None:
    answer = plan(bench(fork__air="\n".join(air)))
    for got in (answer.hazard_before, answer.hazard_after):
        assert (got is None) == (expected is None)
        if got is None or expected is None:
            continue
        for name in KEYS:
            one, other = getattr(got, name), getattr(expected, name)
            assert one == (None if other is None else pytest.approx(other, rel=1e-12)), name
    said = [w.text for w in answer.warnings if w.code == "missing-input"]
    assert all(any(f"[fork.air] {key} is not given" in text for text in said) for key in named)
    assert bool(said) == bool(named)
    shape = answer.as_json()["hazard"]
    assert set(shape) == {"before", "after", "known"} and shape["known"] == "exact"
    assert expected is None or list(shape["before"]) == KEYS


def test_an_unknown_travel_hides_no_danger() -> None:
    """The port counts as reached, the negative chamber as charged."""
    answer = plan(bench(fork="-", fork__air="\n".join([BORE, SHAFT, POSITIVE, NEGATIVE, PRESSURE, PORT])))
    assert answer.hazard_before is not None and answer.hazard_before.ring_force_n is not None
    assert answer.hazard_before.ring_force_n == pytest.approx(max(CAP_N, SHUT_PA * RING), rel=1e-12)
    assert answer.before.end_force_n is None
    assert "charged-negative" in {w.code for w in answer.warnings}


def test_a_spacers_own_volume_is_not_taken_for_nothing() -> None:
    change = 'travel = "140 mm"\nby = "piston-spacer"'
    answer = plan(bench(change=change))
    said = [(w.text, w.state) for w in answer.warnings if w.code == "missing-input"]
    assert said == [("[change] spacer_solid_volume is not given: what follows from it is left out.", "after")]
    assert answer.after.end_force_n is None and answer.before.end_force_n is not None
    assert answer.hazard_after is not None and answer.hazard_after.cap_force_n == pytest.approx(CAP_N, rel=1e-12)
    whole = plan(bench(change=change + '\nspacer_solid_volume = "2 ml"'))
    assert whole.after.end_force_n is not None
