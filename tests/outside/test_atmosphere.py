"""Ambient pressure against the US Standard Atmosphere 1976.

Sources: U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), Table I, geometric altitude, as the closed form gives it and
two libraries repeat it (02_atmosphere_1976.csv); the ICAO table of heights (02_atmosphere_icao_heights.csv), which counts
geopotential metres; and both libraries at altitudes of our own choosing.
"""

import numpy as np
import pytest

from topout.physics import gas

from .tables import Row, check, rows

EARTH_M = 6_356_766.0


@pytest.mark.parametrize("row", rows("02_atmosphere_1976.csv"), ids=lambda r: r["id"])
def test_geometric_altitude(row: Row) -> None:
    check(row, "p_Pa", float(gas.ambient_abs_pa(float(row["geometric_altitude_m"]))))


@pytest.mark.parametrize("row", rows("02_atmosphere_icao_heights.csv"), ids=lambda r: r["id"])
def test_geopotential_height(row: Row) -> None:
    height_m = float(row["geopotential_height_m"])
    geometric_m = EARTH_M * height_m / (EARTH_M - height_m)
    check(row, "p_hPa", float(gas.ambient_abs_pa(geometric_m)) / 100.0)


def test_altitudes_between_the_rows_of_the_table() -> None:
    from ambiance import Atmosphere  # here: both are slow to fetch, and every worker collects this room
    from fluids.atmosphere import ATMOSPHERE_1976

    altitudes_m = np.linspace(-400.0, 6000.0, 129)
    ours = np.asarray(gas.ambient_abs_pa(altitudes_m))
    theirs = np.array([ATMOSPHERE_1976(z).P for z in altitudes_m])
    assert np.max(np.abs(ours / theirs - 1.0)) < 1e-9
    # Takes its own gas constant, 287.05287 J/(kg K): 8e-7 apart by the table's note.
    assert np.max(np.abs(ours / Atmosphere(altitudes_m).pressure - 1.0)) < 1e-6


def test_geopotential_taken_for_geometric_would_show() -> None:
    """The mix-up is 2.5 m at 4,000 m: the table's tolerance is fine enough to see it."""
    row = next(r for r in rows("02_atmosphere_1976.csv") if r["geometric_altitude_m"] == "4000")
    wrong_pa = float(gas.ambient_abs_pa(EARTH_M * 4000.0 / (EARTH_M - 4000.0)))
    with pytest.raises(AssertionError):
        check(row, "p_Pa", wrong_pa)
