"""Plans in the words of procedures, for every kind of negative chamber; the numbers are ours."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from topout.physics.air_spring import Chambers
from topout.planner.plan_numbers import PlanNumbers

AMBIENT = 101325.0
PSI = 6894.757293168361


def chambers(negative: str, port_m: float, pressure_gauge_pa: float, spacers: int, travel_m: float) -> Chambers:
    """A 34 mm bore with a 10 mm shaft; 8 ml spacers."""
    gas = negative in ("self-equalising", "separate-valve")
    values: dict[str, Any] = {f.name: 0.0 for f in fields(Chambers)}
    values |= {
        "ambient_pa": AMBIENT, "exponent": 1.3, "travel_m": travel_m, "bore_m": 0.034, "shaft_m": 0.010,
        "pressure_pa": pressure_gauge_pa + AMBIENT, "positive_m3": (238 - 8 * spacers - 4) * 1e-6, "negative_m3": 48e-6,
        "gas_negative": gas, "equalises": negative == "self-equalising", "negative_pa": pressure_gauge_pa + AMBIENT,
        "port_m": port_m, "port_end_m": port_m, "coil_rate_n_per_m": 4000.0 if negative == "coil" else 0.0,
        "coil_m": 0.03, "legs_m3": 1.0, "damper_m3": 1.0, "damper_pa": AMBIENT, "contact_m": travel_m, "bumper_m": 1.0, "bumper_power": 1.0,
        "top_out_m": 1.0, "top_out_power": 1.0, "bind_m": np.inf, "second_pa": AMBIENT,
    }  # fmt: skip
    return Chambers(**{name: np.array([value]) for name, value in values.items()})


def a_plan(negative: Any = "self-equalising", port_m: float = 0.003, **more: Any) -> PlanNumbers:
    """150 → 140 mm, 70 → 73 psi, one spacer → two."""
    pressure, set_to = more.pop("pressure", 70 * PSI), more.pop("set_pressure", 73 * PSI)
    plan = PlanNumbers(
        old_travel_m=0.150, new_travel_m=0.140, pressure_gauge_pa=pressure, set_pressure_gauge_pa=set_to,
        negative=negative, set_negative_pressure_gauge_pa=set_to if negative == "separate-valve" else None,
        spacers_before=1, spacers_after=2, spacer_limit=4, oil_on_piston_m3=4e-6, new_fork_length_m=0.536, fork_length_limit_m=0.555,
        travel_limit_m=0.160, pressure_limit_gauge_pa=120 * PSI, port_position_m=port_m,
        coil_length_m=0.03 if negative == "coil" else None, second="none", planned=True, overtravel_m=0.003, tyre_to_crown_m=0.012, sag_after_m=0.029,
        before=chambers(negative, port_m, pressure, 1, 0.150), after=chambers(negative, port_m, set_to, 2, 0.140),
    )  # fmt: skip
    return replace(plan, **more)
