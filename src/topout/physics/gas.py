"""Gas laws of a closed chamber, the atmosphere, and what temperature does to a gauge reading.

Ideal gas throughout; the error of that is stated in docs/models.md and computed by a test against a reference library.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

if TYPE_CHECKING:  # importing numpy's typing costs a command a fifth of numpy itself
    import numpy.typing as npt

    Floats: TypeAlias = npt.NDArray[np.float64]
    Bools: TypeAlias = npt.NDArray[np.bool_]
    Ints: TypeAlias = npt.NDArray[np.intp]
else:
    Floats = Bools = Ints = np.ndarray
Number: TypeAlias = Any  # a float or Floats: a formula takes either and gives the same back

ATMOSPHERE_PA: Final = 101325.0  # standard atmosphere, exact
G0_M_PER_S2: Final = 9.80665  # exact
# US Standard Atmosphere 1976, layer 0 to 11 km
_SEA_LEVEL_K: Final = 288.15
_LAPSE_K_PER_M: Final = -0.0065
_EARTH_RADIUS_M: Final = 6_356_766.0
_GAS_CONSTANT_J_PER_KMOL_K: Final = 8314.32
_AIR_KG_PER_KMOL: Final = 28.9644
KELVIN: Final = 273.15


def ambient_abs_pa(altitude_m: Number) -> Number:
    """Ambient pressure [Pa abs] at a geometric altitude [m], shape kept.

    H = r₀Z/(r₀+Z), p = p₀·(T/T₀)^(−g₀M/RL) with T = T₀ + L·H.
    Range −400 to 6,000 m (bench files); the relation itself holds to 11,000 m geopotential.
    Source: US Standard Atmosphere 1976, equations 18, 23 and 33a. Checked in tests/outside against tables at geometric
    altitude to 1e-6.

    altitude_m [m] (…) −400 to 6,000 → [Pa abs] (…). Raises nothing. Source: US Standard Atmosphere 1976, equations 18,
    23 and 33a.
    """
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    temperature_k = _SEA_LEVEL_K + _LAPSE_K_PER_M * geopotential_m
    exponent = -G0_M_PER_S2 * _AIR_KG_PER_KMOL / (_GAS_CONSTANT_J_PER_KMOL_K * _LAPSE_K_PER_M)
    return ATMOSPHERE_PA * (temperature_k / _SEA_LEVEL_K) ** exponent


def polytropic_abs_pa(start_abs_pa: Number, volume_ratio: Number, exponent: Number) -> Number:
    """Pressure [Pa abs] after a polytropic change p·Vⁿ = const; `volume_ratio` is start volume over end volume.

    n = 1 is isothermal, 1.4 adiabatic for air. Any thermodynamics textbook; checked in tests/outside.

    start_abs_pa [Pa abs] (…) above 0; volume_ratio [1] (…) above 0; exponent [1] (…) 1 to 1.4 → [Pa abs] (…). Raises
    nothing. Source: physics.md 1; any thermodynamics textbook.
    """
    return start_abs_pa * np.exp(exponent * np.log(volume_ratio))


def warmed_gauge_pa(gauge_pa: Number, from_k: Number, to_k: Number, ambient_pa: Number) -> Number:
    """Gauge reading [Pa] after the gas goes from one temperature to another [K] at constant volume.

    p₂ = p₁·T₂/T₁ in absolute pressures. Any thermodynamics textbook.

    gauge_pa [Pa gauge] (…) any; from_k, to_k [K] (…) above 0; ambient_pa [Pa abs] (…) above 0 → [Pa gauge] (…). Raises
    nothing. Source: physics.md 1; any thermodynamics textbook.
    """
    return (gauge_pa + ambient_pa) * to_k / from_k - ambient_pa


def work_of_compression_j(start_abs_pa: Number, start_m3: Number, volume_ratio: Number, exponent: Number) -> Number:
    """Work [J] done on the gas of a closed chamber, ∫ p dV for p·Vⁿ = const, the outside pressure not counted.

    p₁V₁·(rⁿ⁻¹ − 1)/(n − 1) with r = V₁/V₂, and p₁V₁·ln r at n = 1; negative where the gas expands.
    Holds to rounding for every exponent: expm1 keeps the digits near n = 1.

    start_abs_pa [Pa abs] (…) above 0; start_m3 [m³] (…) above 0; volume_ratio [1] (…) above 0; exponent [1] (…) 1 to
    1.4 → [J] (…). Raises nothing. Source: derived from physics.md 1, by integration.
    """
    log_ratio = np.log(volume_ratio)
    above = np.asarray(exponent - 1.0)
    safe = np.where(above == 0.0, 1.0, above)
    return start_abs_pa * start_m3 * np.where(above == 0.0, log_ratio, np.expm1(safe * log_ratio) / safe)


def stored_energy_j(pressure_abs_pa: Number, volume_m3: Number, ambient_pa: Number) -> Number:
    """The most that one chamber can give off [J], expanding isothermally to ambient.

    p_a·V·(r·ln r − r + 1), r = p/p_a; zero at ambient. An upper bound: an adiabatic burst gives about half.
    Source: closed form, trade handbook values in tests/outside (100 psi in 204 ml: 191 J).

    pressure_abs_pa [Pa abs] (…) above 0; volume_m3 [m³] (…) 0 and more; ambient_pa [Pa abs] (…) above 0 → [J] (…).
    Raises nothing. Source: physics.md 9.
    """
    ratio = pressure_abs_pa / ambient_pa
    return ambient_pa * volume_m3 * (ratio * np.log(ratio) - ratio + 1.0)
