"""What is read on a unit: each kind with its dimension, the unit people write, and what a bench sees on most days."""

from __future__ import annotations

from dataclasses import dataclass


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


# Limits are the bench file's; the likely spans are common practice, no source.
_ALL = (
    Kind("pressure", "Pressure", "pressure", "psi", 0, 870, (15, 300), pressure=True,
         hint="At full extension, as the gauge shows it."),
    Kind("negative-pressure", "Negative pressure", "pressure", "psi", 0, 870, (15, 300), pressure=True,
         hint="Only where the negative chamber has its own valve."),
    Kind("temperature", "Temperature", "temperature", "degC", -40, 60, (2, 42), hint="Of the air in the workshop."),
    Kind("spacers", "Volume spacers", low=0, high=20, hint="Counted, not as told."),
    Kind("rebound", "Rebound", low=0, high=60, clicks=True, hint="Clicks from closed."),
    Kind("compression", "Compression", low=0, high=60, clicks=True, hint="Clicks from closed."),
    Kind("sag", "Sag", "length", "mm", 0, 300, (8, 90), posture=True, hint="As the ring shows it; the mean of three."),
    Kind("exposed-length", "Exposed length", "length", "mm", 10, 400, (60, 300),
         hint="Of the stanchion, at full extension."),
    Kind("travel", "Travel as measured", "length", "mm", 20, 300, (60, 240), hint="Full stroke, core out."),
    Kind("own-pump", "Rider’s own pump", "pressure", "psi", 0, 870, (15, 300),
         hint="What it shows when ours shows the pressure above."),
    Kind("wheel-mass", "Front wheel", "mass", "kg", 0.3, 15, (0.8, 5), hint="With its tyre, on the scale."),
    Kind("hours", "Ride hours since the last service", low=0, high=5000),
)  # fmt: skip
KINDS = {kind.key: kind for kind in _ALL}
FOUND = tuple(KINDS)
LEFT = (
    "pressure",
    "own-pump",
    "negative-pressure",
    "temperature",
    "spacers",
    "rebound",
    "compression",
    "sag",
    "exposed-length",
    "travel",
)
POSTURES = {"standing": "standing", "seated": "seated"}


def label(key: str) -> str:
    """The kind's name; a step's own kinds are shown by their key."""
    return KINDS[key].label if key in KINDS else key.replace("-", " ").capitalize()
