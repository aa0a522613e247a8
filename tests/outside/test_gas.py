"""Gas laws and the single-chamber gas spring against tables made by others.

Sources stand in each row: polytropic relations as in any thermodynamics text (01_gas_polytropic_ideal.csv, the work
repeated by quadrature), ideal and real isentropic compression (01_gas_isentropic_real_vs_ideal.csv), the closed form of a
gas spring (01_gas_spring_single_chamber.csv), two chambers joined (01_gas_two_chamber_equalisation.csv), a published
accumulator example (01_gas_accumulator.csv), bore and ring areas (15_bore_volume.csv).
"""

import math

import numpy as np
import pytest

from topout.physics import air_spring, gas

from .forks import chambers
from .tables import Row, check, rows


@pytest.mark.parametrize("row", rows("01_gas_polytropic_ideal.csv"), ids=lambda r: r["id"])
def test_polytropic_pressure_and_work(row: Row) -> None:
    start_pa, start_m3 = float(row["p1_bar_abs"]) * 1e5, float(row["V1_ml"]) * 1e-6
    ratio, exponent = float(row["V1_ml"]) / float(row["V2_ml"]), float(row["n_polytropic"])
    end_pa = float(gas.polytropic_abs_pa(start_pa, ratio, exponent))
    check(row, "p2_bar_abs", end_pa / 1e5)
    check(row, "T2_K", float(row["T1_K"]) * end_pa / start_pa / ratio)  # p V = n R T
    check(row, "work_on_gas_J", float(gas.work_of_compression_j(start_pa, start_m3, ratio, exponent)))


@pytest.mark.parametrize("row", rows("01_gas_isentropic_real_vs_ideal.csv"), ids=lambda r: r["id"])
def test_isentropic_and_isothermal_compression(row: Row) -> None:
    start_pa, ratio = float(row["p1_bar_abs"]) * 1e5, float(row["volume_ratio"])
    isentropic_pa = float(gas.polytropic_abs_pa(start_pa, ratio, float(row["gamma"])))
    check(row, "isentropic_p2_bar_abs", isentropic_pa / 1e5)
    check(row, "isothermal_p2_bar_abs", float(gas.polytropic_abs_pa(start_pa, ratio, 1.0)) / 1e5)
    # The real gas stays a reference: 1 to 3 % above the ideal, as the table's notes say.
    assert 1.005 < float(row["reference_real_isentropic_p2_bar_abs"]) / (isentropic_pa / 1e5) < 1.03


@pytest.mark.parametrize("row", rows("01_gas_spring_single_chamber.csv"), ids=lambda r: r["id"])
def test_single_chamber_gas_spring(row: Row) -> None:
    bore_m, ambient_pa = float(row["piston_diameter_mm"]) * 1e-3, float(row["ambient_bar_abs"]) * 1e5
    exponent = float(row["n_polytropic"])
    fit = chambers(
        bore_m=bore_m,
        ambient_pa=ambient_pa,
        exponent=exponent,
        travel_m=0.9 * float(row["gas_column_length_at_full_extension_mm"]) * 1e-3,
        positive_m3=math.pi / 4 * bore_m**2 * float(row["gas_column_length_at_full_extension_mm"]) * 1e-3,
        pressure_pa=float(row["p0_bar_gauge"]) * 1e5 + ambient_pa,
        gas_negative=False,
    )
    settled, x = air_spring.settle(fit), np.array(float(row["travel_mm"]) * 1e-3)
    step = 1e-5
    ends = [float(air_spring.force_fast(settled, x + d, np.array(0.0))) for d in (-step, 0.0, step)]
    check(row, "force_N", ends[1])
    assert (ends[2] - ends[0]) / (2 * step) / 1e3 == pytest.approx(float(row["expected_stiffness_N_per_mm"]), rel=1e-6)
    if exponent == 1.0:
        force, rate, _, _ = air_spring.force_and_rate(settled, x)
        check(row, "force_N", float(force))
        check(row, "stiffness_N_per_mm", float(rate) / 1e3)


@pytest.mark.parametrize(
    "row", [r for r in rows("01_gas_two_chamber_equalisation.csv") if r["isothermal"] == "yes"], ids=lambda r: r["id"]
)
def test_two_chambers_joined_by_a_port(row: Row) -> None:
    """A fork whose port lies at x_e: pumped main chamber, charged negative, one stroke."""
    from topout.physics import filling

    main_m3, negative_m3 = float(row["V1_ml"]) * 1e-6, float(row["V2_ml"]) * 1e-6
    bore_m, port_m = 0.03, 0.004
    area = math.pi / 4 * bore_m**2
    ring = math.pi / 4 * (bore_m**2 - 0.01**2)
    fit = chambers(
        bore_m=bore_m,
        shaft_m=0.01,
        positive_m3=main_m3 + area * port_m,  # so that both have the row's volumes where the port opens
        negative_m3=negative_m3 - ring * port_m,
        port_m=port_m,
        port_end_m=port_m,
        equalises=True,
    )
    settled = air_spring.settle(fit)
    main_amount, negative_amount = (
        float(row["p1_bar_abs"]) * 1e5 * main_m3,
        float(row["p2_bar_abs"]) * 1e5 * negative_m3,
    )
    reading_pa, left = filling.stroke(
        settled, np.array([main_amount / (main_m3 + area * port_m)]), np.array([negative_amount])
    )
    check(row, "p_final_bar_abs", float(reading_pa[0]) * (main_m3 + area * port_m) / main_m3 / 1e5)
    assert float(left[0]) / negative_m3 / 1e5 == pytest.approx(float(row["expected_p_final_bar_abs"]), rel=1e-6)
    real = float(row["reference_real_air_p_final_bar_abs"])
    assert abs(real / float(row["expected_p_final_bar_abs"]) - 1) < 0.002


def test_published_accumulator_example() -> None:
    """10 gallons, 1000, 1200 and 3000 psi: 5.0 gallons usable, by Boyle's law between the two pressures."""
    (row,) = rows("01_gas_accumulator.csv")
    litres = float(row["initial_volume_l"])

    def gas_l(pressure: str) -> float:
        ratio = float(row["precharge_bar_abs"]) / float(row[pressure])  # start volume over end volume is p2/p1 at n = 1
        assert gas.polytropic_abs_pa(float(row["precharge_bar_abs"]), 1.0 / ratio, 1.0) == pytest.approx(
            float(row[pressure])
        )
        return litres * ratio

    check(row, "fluid_volume_l", gas_l("lower_bar_abs") - gas_l("upper_bar_abs"))


def test_volume_taken_by_a_bore_and_by_the_ring_round_a_rod() -> None:
    """15_bore_volume.csv: a straight bore, and the level round a rod; frustums do not occur in the model."""
    by_id = {row["id"]: row for row in rows("15_bore_volume.csv")}
    straight = by_id["BORE-01"]
    settled = air_spring.settle(chambers(bore_m=float(straight["section_1_d1_mm"]) * 1e-3))
    check(straight, "volume_ml", float(settled.positive_m2) * float(straight["section_1_length_mm"]) * 1e-3 * 1e6)
    ringed = by_id["BORE-06"]
    fit = chambers(bore_m=float(ringed["section_1_d1_mm"]) * 1e-3, shaft_m=float(ringed["rod_diameter_mm"]) * 1e-3)
    level_m = float(ringed["volume_ml"]) * 1e-6 / float(air_spring.settle(fit).negative_m2)
    check(ringed, "level_mm", level_m * 1e3)


@pytest.mark.parametrize(
    ("gauge_psi", "from_k", "to_k", "expected_psi", "within"),
    [
        (100.0, 300.0, 270.0, 88.5, 0.1),  # trade.md section 10, row 4: derived
        (80.0, 293.15, 268.15, 71.9, 0.1),  # row 5: derived
        (80.0, 293.15, 308.15, 84.8, 0.1),  # section 3.6: derived
    ],
)
def test_gauge_after_a_change_of_temperature(
    gauge_psi: float, from_k: float, to_k: float, expected_psi: float, within: float
) -> None:
    psi = 6894.757293168361
    got = float(gas.warmed_gauge_pa(gauge_psi * psi, from_k, to_k, 101325.0)) / psi
    assert got == pytest.approx(expected_psi, abs=within)
