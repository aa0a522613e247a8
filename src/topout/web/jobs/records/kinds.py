"""What is read on a unit: each kind with its dimension, the unit people write, and what a bench sees on most days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from topout.web.jobs.records.models import Job


_AIR, _COIL = ("fork", "shock"), ("coil-fork", "coil-shock")
_FORKS, _SHOCKS = ("fork", "coil-fork"), ("shock", "coil-shock")
_ALL_UNITS = (*_FORKS, *_SHOCKS)


@dataclass(frozen=True)
class Kind:
    """One kind of reading. Limits and likely span in `unit`; a kind without a dimension is a count."""

    key: str
    label: str
    dimension: str = ""
    unit: str = ""
    low: float = 0
    high: float = 0
    likely: tuple[float, float] | None = None
    pressure: bool = False  # read with a gauge and its hose
    clicks: bool = False
    posture: bool = False
    hint: str = ""
    hint_left: str = ""  # as left, where something else is wanted: what was open is closed then
    units: tuple[str, ...] = _ALL_UNITS  # kinds of unit that it is read on
    left: bool = True  # read as left too, not as found alone
    on_bike: bool = False  # read with the unit on its bike only
    apart: bool = False  # has a page of its own, and no box among the others
    of_unit: bool = True  # by itself it tells how the unit is; not so the day, the bike, its use, another pump


# What a step sets at the end that the job is not about -> what it is there.
BESIDE = {f"{end}-{what}": what for end in ("rear", "front") for what in ("pressure", "preload", "rebound")}


def _beside(end: str, noun: str, units: tuple[str, ...]) -> tuple[Kind, ...]:
    """What a job of these units reads at the other end of its bike, at a step alone."""
    return (
        Kind(
            f"{end}-pressure",
            f"{noun} pressure",
            "pressure",
            "psi",
            0,
            870,
            (15, 300),
            pressure=True,
            units=units,
            apart=True,
            of_unit=False,
        ),
        Kind(
            f"{end}-preload", f"{noun} preload", "length", "mm", 0, 60, (0, 25), units=units, apart=True, of_unit=False
        ),
        Kind(f"{end}-rebound", f"{noun} rebound", low=0, high=60, clicks=True, units=units, apart=True, of_unit=False),
    )


# Limits are the bench file's; the likely spans are common practice, no source.
_ALL = (
    Kind("pressure", "Pressure", "pressure", "psi", 0, 870, (15, 300), pressure=True, units=_AIR,
         hint="At full length, as the gauge shows it."),
    Kind("negative-pressure", "Negative pressure", "pressure", "psi", 0, 870, (15, 300), pressure=True, units=_AIR,
         hint="Only where the negative chamber has its own valve."),
    Kind("gas-pressure", "Damper gas pressure", "pressure", "psi", 0, 870, (40, 400), pressure=True, units=_SHOCKS,
         hint="As whoever charged it says. Don’t gauge it: a pump takes about half of it."),
    Kind("temperature", "Temperature", "temperature", "degC", -40, 60, (2, 42), hint="Of the air in the workshop.", of_unit=False),
    Kind("spacers", "Volume spacers", low=0, high=20, units=_AIR, hint="From the card or the rider; counted when cap or can is off.",
         hint_left="As counted when cap or can was off. Don’t open it for this."),
    Kind("negative-spacers", "Spacers on the negative side", low=0, high=20, units=("shock",),
         hint="From the card or the rider; counted when the can is off.", hint_left="As counted when the can was off. Don’t open it for this."),
    Kind("coil-rate", "Spring rate", "rate", "N/mm", 0.5, 500, (3, 160), units=_COIL, hint="As marked on the spring."),
    Kind("preload", "Preload", "length", "mm", 0, 60, (0, 25), units=_COIL,
         hint="How far the spring is wound up at full extension."),
    Kind("rebound", "Rebound", low=0, high=60, clicks=True, hint="Clicks from closed."),
    Kind("compression", "Compression", low=0, high=60, clicks=True, hint="Clicks from closed."),
    # From half a millimetre on, as in the bench file: a fork that does not sag tells no load.
    Kind("sag", "Sag", "length", "mm", 0.5, 300, (8, 90), posture=True, units=_FORKS, on_bike=True,
         hint="As the O-ring shows it; the mean of three."),
    Kind("stroke-sag", "Sag, of the stroke", "length", "mm", 0.5, 120, (5, 35), posture=True, units=_SHOCKS, on_bike=True,
         hint="By the O-ring on its body; on a coil eye to eye, free less loaded. The mean of three."),
    Kind("exposed-length", "Exposed stanchion", "length", "mm", 10, 400, (60, 300), units=_FORKS,
         hint="At full extension."),
    Kind("travel", "Travel as measured", "length", "mm", 20, 300, (60, 240), units=_FORKS,
         hint="Full stroke, once the valve core is out.", hint_left="Full stroke, as measured while the valve core was out."),
    Kind("length", "Length, eye to eye", "length", "mm", 50, 400, (120, 300), units=_SHOCKS, hint="At its free length."),
    Kind("stroke", "Stroke as measured", "length", "mm", 20, 120, (30, 90), units=_SHOCKS,
         hint="Full stroke, once air or spring is out.", hint_left="Full stroke, as measured while air or spring was out."),
    Kind("own-pump", "Rider’s own pump", "pressure", "psi", 0, 870, (15, 300), units=_AIR, of_unit=False,
         hint="What it shows when ours shows the pressure above."),
    Kind("wheel-mass", "Front wheel", "mass", "kg", 0.3, 15, (0.8, 5), units=_FORKS, left=False, on_bike=True, of_unit=False,
         hint="With its tyre, on the scale."),
    Kind("far-in", "Gauge, held in", "pressure", "psi", 0, 870, units=_AIR, left=False, apart=True,
         hint="Pump on, held by a strap or a press; a shock by a press alone."),
    Kind("can-bore", "Can opened: its bore", "length", "mm", 10, 80, (25, 60), units=("shock",), left=False, hint="By a caliper, inside."),
    Kind("can-body", "Can opened: damper body in it", "length", "mm", 3, 60, (20, 45), units=("shock",), left=False,
         hint="By a caliper, where the can slides."),
    Kind("can-volume", "Can opened: its air chamber", "volume", "ml", 5, 1000, (40, 400), units=("shock",), left=False,
         hint="By a syringe, at full extension, spacers out."),
    *_beside("rear", "Shock", _FORKS),
    *_beside("front", "Fork", _SHOCKS),
    Kind("hours", "Ride hours since the last service", low=0, high=5000, left=False, of_unit=False),
)  # fmt: skip
# What is read of an opened can, and where the bench file has it.
OF_CAN = {"can-bore": "bore", "can-body": "shaft", "can-volume": "positive_volume"}
KINDS = {kind.key: kind for kind in _ALL}
FAR_IN = "far-in"
POSTURES = {"standing": "standing", "seated": "seated"}


def kinds_of(job: Job, stage: str) -> tuple[Kind, ...]:
    """What is read on a job's unit at a stage, in the order of the form; a job without a unit counts as a fork's."""
    of = job.unit.kind if job.unit is not None else "fork"
    return tuple(
        kind
        for kind in _ALL
        if of in kind.units
        and not kind.apart
        and (kind.left or stage == "as-found")
        and (job.bike_id is not None or not kind.on_bike)
    )


def tells_of_unit(key: str) -> bool:
    """Whether a reading of this kind by itself says how the unit is; a step's own kinds do."""
    return key not in KINDS or KINDS[key].of_unit


def label(key: str, noun: str = "fork") -> str:
    """The kind's name on a job of a fork or a shock; a step's own kinds are shown by their key."""
    if key == "sag" and noun == "shock":
        return "Sag of the fork"
    return KINDS[key].label if key in KINDS else key.replace("-", " ").capitalize()
