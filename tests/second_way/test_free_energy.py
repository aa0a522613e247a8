"""Force as the derivative of the gas's energy, in absolute pressures; energy as its difference and by quadrature.

Source: thermodynamics: at one temperature the force is the slope of the free energy, -sum(pV ln V), plus what the outside
pressure gives; in a polytropic stroke the slope of sum(pV/(n-1)). No gauge pressure and no force balance enters.
"""

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

import plain_input
from at_once import each_of

from . import bikes, core
from .methods import Spring

NUMBERS = range(0, 60, 2)


def springs(number: int) -> tuple[Spring, dict[str, Any]]:
    text = bikes.text(bikes.bike(number))
    bike = plain_input.from_toml(text)
    return Spring(bike, core.ambient_abs_pa(text)), core.curves(text)[0]


@each_of(NUMBERS)
def test_slow_and_fast_force_are_the_slope_of_the_energy(number: int) -> None:
    spring, curve = springs(number)
    travel = np.array(curve["travel_m"])[1:-1]  # inside the travel: at the very ends a bumper has one side only
    slow, fast = np.array(curve["force_n"])[1:-1], np.array(curve["force_fast_n"])[1:-1]
    scale = max(abs(curve["force_n"][-1]), 100.0)
    assert np.array([spring.slow_n(x) for x in travel]) == pytest.approx(slow, abs=1e-10 * scale)
    assert np.array([spring.fast_n(x, 0.0) for x in travel]) == pytest.approx(fast, abs=1e-10 * scale)


@each_of(NUMBERS)
def test_a_hit_from_sag_is_the_slope_of_the_energy(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    spring, curve = springs(number)
    sag_m = core.plan(text)["before"]["sag"]["front"]["travel_m"]
    travel, got = np.array(curve["travel_m"])[1:-1], np.array(curve["force_fast_from_sag_n"])[1:-1]
    expected = np.array([spring.fast_n(x, sag_m) for x in travel])
    assert expected == pytest.approx(got, abs=1e-9 * max(abs(got[-1]), 100.0))


@each_of(NUMBERS)
def test_rate_is_the_slope_of_the_force(number: int) -> None:
    """Central difference of the energy's slope, off the kinks."""
    spring, curve = springs(number)
    step = 1e-6
    for x, rate in zip(curve["travel_m"][1:-1:5], curve["rate_n_per_m"][1:-1:5], strict=True):
        if all(abs(x - kink) > 2 * step for kink in spring.kinks()):
            slope = (spring.slow_n(x + step) - spring.slow_n(x - step)) / (2 * step)
            assert rate == pytest.approx(slope, rel=1e-5, abs=5.0)


@each_of(NUMBERS)
def test_energy_to_the_end_of_travel_by_quadrature(number: int) -> None:
    spring, curve = springs(number)
    for key, force in (("energy_j", spring.slow_n), ("energy_fast_j", lambda x: spring.fast_n(x, 0.0))):
        pieces = [0.0, *spring.kinks(), spring.travel_m]
        inner = [(a + (b - a) * 1e-15, b) for a, b in zip(pieces, pieces[1:], strict=False)]
        total = sum(quad(force, a, b, epsabs=1e-11, epsrel=1e-11, limit=200)[0] for a, b in inner)
        assert curve[key] == pytest.approx(total, rel=1e-9, abs=1e-9)


@each_of(NUMBERS)
def test_fast_energy_is_what_the_gas_has_taken_up(number: int) -> None:
    spring, curve = springs(number)
    taken = spring.fast_energy(complex(spring.travel_m), 0.0) - spring.fast_energy(0j, 0.0)
    assert curve["energy_fast_j"] == pytest.approx(taken.real, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("kind", ["self-equalising", "separate-valve", "none", "coil"])
def test_every_chamber_at_ambient_gives_no_force(kind: str) -> None:
    """The outside pressure on lower legs and shaft is in: with ambient everywhere nothing pushes at full extension."""
    tables = bikes.bike(1)
    fork = tables["fork"]
    for part in ("bumper", "top_out"):
        fork.pop(part, None)
    air = fork["air"] | {"negative": kind, "pressure": "0 psi", "negative_volume": "50 ml", "port_position": "0 mm"}
    air["grease_in_negative"] = "0 ml"
    if kind == "separate-valve":
        air["negative_pressure"] = "0 psi"
    if kind == "coil":
        air["negative_coil"] = {"rate": "4 N/mm", "length": "0 mm"}
    for key in ("port_length", "port_position") if kind != "self-equalising" else ():
        air.pop(key, None)
    if kind in ("none", "coil"):
        del air["negative_volume"], air["grease_in_negative"]
    fork["air"] = air
    fork["damper"] = {"rod": "10 mm", "gas_pressure": "0 psi", "gas_volume": "40 ml"}
    fork["lower_legs"] = {"air_volume": "700 ml", "area": "1500 mm^2"}
    curve = core.curves(bikes.text(tables))[0]
    assert curve["force_n"][0] == pytest.approx(0.0, abs=1e-9)
    assert curve["force_n"][100] > 0.0
