"""The set-up sheet of the mockups' bike, as the tests use it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from topout.bench_file.model import BenchFile
from topout.bench_file.read import read
from topout.documents import sheet_of_plan, sheet_tables
from topout.documents.setup_sheet import Noted, SetUpSheet, Struck
from topout.planner.plan import plan
from topout.planner.summary import of_plan
from topout.units import to_si

NB = "\N{NO-BREAK SPACE}"
WHEN = dt.datetime(2026, 11, 25, 16, 52, tzinfo=dt.UTC)
HOLLIN = Path(__file__).parent.parent / "reference" / "hollin.toml"
SET_PA = to_si(70, "psi", "pressure")


@cache
def bench() -> BenchFile:
    return read(HOLLIN)


@cache
def full() -> SetUpSheet:
    """The sheet of the mockup, computed."""
    file = bench()
    told = of_plan(file, plan(file))
    sheet = SetUpSheet(
        rider="Runa Telvik",
        bike="Hollin hardtail, size L",
        unit=f"Quillon 35 fork, now 150{NB}mm",
        tag="K7M-4QX",
        workshop="Hask Lane workshop",
        day="Wednesday 25 November 2026",
        job="Job 214",
        plan_said="plan of 10:05",
        version="Topout 0.1.0",
        large=tuple(
            large
            for large in (
                sheet_of_plan.large_pressure(SET_PA, 292.15),
                sheet_of_plan.large_sag(0.032, "standing", told, 0.150),
                sheet_of_plan.large_rebound(7, 14, "4 of 10"),
                sheet_of_plan.large_spacers(1, 8.5e-6, 2),
            )
            if large is not None
        ),
        own_pump=sheet_tables.own_pump(
            SET_PA, to_si(72, "psi", "pressure"), to_si(69, "psi", "pressure"),
            hose_m3=3e-6, valve_m3=sheet_tables.valve_volume_m3(file),
        ),
        found=(
            Noted("Pressure", f"72{NB}psi", (Struck(f"78{NB}psi", "read with the pump still warm"),)),
            Noted("Sag, standing", f"31{NB}mm"),
            Noted("Volume spacers", "2"),
            Noted("Exposed length", f"148{NB}mm"),
            Noted("Rebound, from closed", "7 of 14"),
        ),
        left=(
            Noted("Pressure", f"70{NB}psi"),
            Noted("Sag, standing", f"32{NB}mm"),
            Noted("Volume spacers", "1"),
            Noted("Exposed length", f"158{NB}mm"),
            Noted("Rebound, from closed", "7 of 14"),
        ),
        done=(
            f"New air shaft, 150{NB}mm.",
            "Seals and bore clean and sound.",
            f"Lower legs: 10{NB}ml each, 46{NB}mm²/s at 40{NB}°C, new washers, 7{NB}N·m.",
            f"Full stroke measured: 150{NB}mm.",
            f"Held 70{NB}psi for 30 minutes.",
        ),
        watch=(
            f"Tyre to crown at full travel: 8{NB}mm measured, about 5{NB}mm left under the load of the standard.",
            f"6{NB}mm is common practice: no taller tyre than this one.",
        ),
        before_ride=(
            "Axle, stem and brake were checked at 16:40.",
            "Check them again after the first ride.",
            "Let the air out only with the wheel off the ground and the fork at full extension; the maker’s instructions "
            "come before this sheet.",
        ),
        next_service="Next service: lower legs after 50 hours of riding.",
        released="Released by Maud Askel, 25 November 2026, 16:52",
    )  # fmt: skip
    return sheet_of_plan.with_plan(sheet, file)


def sheet(**changes: Any) -> SetUpSheet:
    """The same with parts changed."""
    return replace(full(), **changes)
