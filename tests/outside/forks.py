"""A fork as the models take it, from the few numbers that a published example gives."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from topout.physics.air_spring import Chambers

PSI_PA = 6894.757293168361
ATM_PA = 101325.0

_PLAIN: dict[str, Any] = {
    "ambient_pa": ATM_PA,
    "exponent": 1.3,
    "travel_m": 0.16,
    "bore_m": 0.032,
    "shaft_m": 0.010,
    "pressure_pa": 80 * PSI_PA + ATM_PA,
    "positive_m3": 204e-6,
    "negative_m3": 60e-6,
    "gas_negative": True,
    "equalises": False,
    "negative_pa": ATM_PA,
    "port_m": 0.0,
    "port_end_m": 0.0,
    "coil_rate_n_per_m": 0.0,
    "coil_m": 1.0,
    "legs_m3": 1.0,
    "legs_m2": 0.0,
    "rod_m2": 0.0,
    "damper_m3": 1.0,
    "damper_pa": ATM_PA,
    "contact_m": 1.0,
    "bumper_m": 1.0,
    "bumper_n_per_m": 0.0,
    "bumper_power": 1.0,
    "top_out_m": 1.0,
    "top_out_n_per_m": 0.0,
    "top_out_power": 1.0,
    "spring_n_per_m": 0.0,
    "preload_m": 0.0,
    "bind_m": np.inf,
    "second_m3": 0.0,
    "second_pa": 101325.0,
}


def chambers(**given: Any) -> Chambers:
    """The reference fork of the trade notes (32 mm bore, 10 mm shaft, 204 and 60 ml, 160 mm, 80 psi), with changes."""
    assert {f.name for f in dataclasses.fields(Chambers)} == set(_PLAIN), "the model has fields that this does not set"
    return Chambers(**{name: np.array(value) for name, value in {**_PLAIN, **given}.items()})
