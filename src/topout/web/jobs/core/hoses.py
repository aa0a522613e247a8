"""What an empty pump hose does to a reading: one place for every reading of a card, as found and as left.

Pushed on, a hose of volume V_h at ambient takes air from the chamber V that the valve sees: the gauge shows g', and
before it was pushed on there was g'·(1 + V_h/V). Unscrewing costs the unit nothing, so g' is what stays in afterwards.
As found, the pressure before the hose counts (it is what was ridden); as left, the pressure that stays in.
"""

from __future__ import annotations

from typing import Any

from topout.physics import air_spring, filling
from topout.physics.air_spring import Chambers
from topout.units import parse
from topout.web.jobs.records.models import Instrument


def volume_m3(instrument: Instrument | None) -> float | None:
    """The volume of a gauge's hose [m³]; None where it is not said. Raises UnitFault where it can't be read."""
    if instrument is None or not instrument.hose_volume:
        return None
    return parse(instrument.hose_volume, "volume").value_si


def chamber_m3(kind: str, chambers: Chambers) -> float:
    """The chamber that the valve of this kind of reading sees at full extension [m³]; `chambers` of one bike, (1,)."""
    if kind == "negative-pressure":
        return float(chambers.take(0).negative_m3)
    return float(filling.seen_by_valve_m3(air_spring.settle(chambers)).item())


def correction(kind: str, reading_gauge_pa: float, instrument: Instrument, chambers: Chambers | None) -> dict[str, Any]:
    """What a reading keeps of the hose that was pushed on empty: its volume, the chamber, the pressure before.

    Where the hose or the chamber is not known, the note says so and nothing is corrected.
    """
    hose_m3 = volume_m3(instrument)
    if hose_m3 is None:
        return {"note": "hose not known, not corrected"}
    if chambers is None:
        return {"hose_volume_m3": hose_m3, "note": "chamber not in the Book, not corrected for the hose"}
    room_m3 = chamber_m3(kind, chambers)
    before = float(reading_gauge_pa * filling.hose_factor(hose_m3, room_m3))
    return {"hose_volume_m3": hose_m3, "valve_volume_m3": room_m3, "corrected_si": before}
