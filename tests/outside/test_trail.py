"""Trail, mechanical trail and wheel flop against the benchmark bicycle.

Source: J.P. Meijaard, J.M. Papadopoulos, A. Ruina, A.L. Schwab (2007), Linearized dynamics equations for the balance and
steer of a bicycle: a benchmark and review, Proc. R. Soc. A 463, 1955-1982, Table 1 and section 5. Its Table 1 gives trail,
wheel radius and head angle but no offset. The offset is found here from the paper's own coefficients M12 and K0_12, which
know the trail only through c = 0.08 m, and then the core gives the trail back. The other rows of
05_trail_and_wheel_flop.csv compare the textbook formula with itself and with BicycleParameters.
"""

import math

import numpy as np
import pytest

from topout.physics import geometry

from .tables import Row, check, rows


def stance(radius_m: float, head_rad: float, offset_m: float) -> dict[str, float]:
    """The core's stance of a bike whose chart has these three, drawn with equal wheels so that nothing turns."""
    chart_numbers = {
        "head_angle_rad": head_rad, "seat_angle_rad": math.radians(75.0), "reach_m": 0.4, "stack_m": 0.6,
        "chainstay_m": 0.43, "drop_m": 0.02, "fork_length_m": 0.4, "fork_offset_m": offset_m,
        "front_radius_m": radius_m, "rear_radius_m": radius_m,
    }  # fmt: skip
    one = {name: np.array(value) for name, value in chart_numbers.items()}
    fitted = geometry.Fitted(
        one["fork_length_m"], one["fork_offset_m"], one["front_radius_m"], one["rear_radius_m"], np.array(0.0)
    )
    found = geometry.stance(geometry.axle_frame(geometry.Chart(**one), fitted), np.array(0.0))
    return {name: float(value) for name, value in found.items()}


@pytest.mark.parametrize("row", rows("05_trail_and_wheel_flop.csv"), ids=lambda r: r["id"])
def test_trail_mechanical_trail_and_flop(row: Row) -> None:
    radius_m, offset_m = float(row["wheel_radius_mm"]) / 1e3, float(row["fork_offset_mm"]) / 1e3
    head_rad = math.radians(float(row["head_angle_deg"]))
    got = stance(radius_m, head_rad, offset_m)
    check(row, "trail_mm", got["trail_m"] * 1e3)
    check(row, "mechanical_trail_mm", got["mechanical_trail_m"] * 1e3)
    check(row, "wheel_flop_mm", got["wheel_flop_m"] * 1e3)
    from bicycleparameters.geometry import trail as their_trail  # here: it brings matplotlib

    theirs, theirs_mechanical = their_trail(radius_m, math.pi / 2 - head_rad, offset_m)
    assert got["trail_m"] == pytest.approx(theirs, abs=1e-12)
    assert got["mechanical_trail_m"] == pytest.approx(theirs_mechanical, abs=1e-12)


def offset_from_the_papers_coefficients() -> float:
    """Offset of the front axle [m] from M12 and K0_12 and every parameter but c: two linear equations, see the table's note."""
    p = {row["symbol"]: float(row["value"]) for row in rows("05_bicycle_benchmark_parameters.csv")}
    m = {row["element"]: float(row["expected_value"]) for row in rows("05_bicycle_canonical_matrices.csv")}
    lam, w = p["lam"], p["w"]
    mass_a = p["mH"] + p["mF"]
    x_a = (p["mH"] * p["xH"] + p["mF"] * w) / mass_a
    z_a = (p["mH"] * p["zH"] - p["mF"] * p["rF"]) / mass_a
    i_axx = p["IHxx"] + p["IFxx"] + p["mH"] * (p["zH"] - z_a) ** 2 + p["mF"] * (p["rF"] + z_a) ** 2
    i_axz = p["IHxz"] - p["mH"] * (p["xH"] - x_a) * (p["zH"] - z_a) + p["mF"] * (w - x_a) * (p["rF"] + z_a)
    mass_t = p["mR"] + p["mB"] + p["mH"] + p["mF"]
    x_t = (p["mB"] * p["xB"] + p["mH"] * p["xH"] + p["mF"] * w) / mass_t
    i_txz = p["IBxz"] + p["IHxz"] - p["mB"] * p["xB"] * p["zB"] - p["mH"] * p["xH"] * p["zH"] + p["mF"] * w * p["rF"]
    # M12 = -m_A u z_A + I_Axx sin + I_Axz cos + mu I_Txz and -K0_12 = m_A u + mu m_T x_T, unknown u and mu.
    left = np.array([[-mass_a * z_a, i_txz], [mass_a, mass_t * x_t]])
    right = np.array([m["M12"] - i_axx * math.sin(lam) - i_axz * math.cos(lam), -m["K0_12"]])
    u, mu = np.linalg.solve(left, right)
    assert mu * w / math.cos(lam) == pytest.approx(p["c"], abs=1e-9)  # the trail, a second time
    return float(u - (x_a - w) * math.cos(lam) + (z_a + p["rF"]) * math.sin(lam))


def test_the_benchmark_bicycle_has_the_trail_of_its_table() -> None:
    p = {row["symbol"]: float(row["value"]) for row in rows("05_bicycle_benchmark_parameters.csv")}
    offset_m = offset_from_the_papers_coefficients()
    row = next(r for r in rows("05_trail_and_wheel_flop.csv") if r["id"] == "TRAIL-01")
    assert offset_m * 1e3 == pytest.approx(float(row["fork_offset_mm"]), abs=1e-6)
    assert stance(p["rF"], math.pi / 2 - p["lam"], offset_m)["trail_m"] == pytest.approx(p["c"], abs=1e-9)
