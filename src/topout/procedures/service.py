"""Fields of a family's service data, as a maker's sheet gives them: the closed list that the Book and the steps share.

A step names one as its target. The Book keeps each with its source and date; where it has none, the step asks for what
the sheet says and offers to keep it. Numbers have a dimension; the others are words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Field:
    """What it says, its dimension ("" for words) and unit. `off` is how far a reading may be from it, as a share."""

    says: str
    dimension: str = ""
    unit: str = ""
    off: float = 0.0


def _torque(says: str) -> Field:
    # A click wrench shows ±4 % in the upper 80 % of its range (trade practice, common claim of their makers).
    return Field(says, "torque", "N·m", 0.04)


def _oil(says: str) -> Field:
    return Field(says, "volume", "ml", 0.05)  # a syringe: 2 to 5 %


FIELDS: Final[dict[str, Field]] = {
    "torque.foot-bolt": _torque("torque of the foot bolts"),
    "torque.top-cap": _torque("torque of the top cap"),
    "torque.damper-cap": _torque("torque of the damper’s cap"),
    "torque.seal-head": _torque("torque of a threaded seal head"),
    "torque.axle": _torque("torque of the axle"),
    "torque.axle-pinch": _torque("torque of the axle’s pinch bolts"),
    "torque.caliper": _torque("torque of the caliper bolts"),
    "torque.rotor": _torque("torque of the rotor bolts"),
    "torque.stem": _torque("torque of the stem bolts"),
    "torque.crown-pinch": _torque("torque of a dual crown’s pinch bolts"),
    "torque.rebound-knob": _torque("torque of the rebound knob’s screw"),
    "torque.compression-knob": _torque("torque of the compression knob’s screw"),
    "torque.valve-core": _torque("torque of a valve core"),
    "torque.air-can": _torque("torque of the air can"),
    "torque.shock-bolt": _torque("torque of the shock’s mounting bolts"),
    "oil.lower-left": _oil("bath oil in the left leg"),
    "oil.lower-right": _oil("bath oil in the right leg"),
    "oil.air-chamber": _oil("oil in the air chamber"),
    "oil.damper": _oil("oil in the damper"),
    "oil.lower-name": Field("name of the bath oil"),
    "oil.lower-viscosity": Field("viscosity of the bath oil, mm²/s at 40 °C"),
    "oil.damper-name": Field("name of the damper’s oil"),
    "oil.damper-viscosity": Field("viscosity of the damper’s oil, mm²/s at 40 °C"),
    "grease.seals": Field("grease for the air seals, and where"),
    "grease.wipers": Field("grease for the wiper lips"),
    "size.wiper": Field("size of the wiper seals"),
    "size.foam-ring": Field("size of the foam rings"),
    "size.piston-seal": Field("size of the air piston’s seal"),
    "size.o-rings": Field("o-rings, and where each goes"),
    "tools": Field("special tools"),
    "parts.fit": Field("parts that fit"),
    "length.air-shaft": Field("length of the air shaft for each travel", "length", "mm", 0.0),
    "length.floating-piston": Field("depth of the floating piston", "length", "mm", 0.0),
    "pressure.limit": Field("highest pressure", "pressure", "psi"),
    "pressure.gas-charge": Field("charge of the gas side", "pressure", "psi", 0.05),
    "play.bushings": Field("largest play of the bushings", "length", "mm"),
    "interval.lowers": Field("ride hours between lower-leg services"),
    "interval.whole": Field("ride hours between whole services"),
}  # fmt: skip
