"""What the planner answers, as frozen dataclasses in SI, and the same as the JSON that other programs read.

Pressures are absolute unless the name says gauge. None is what does not apply or could not be computed; the warnings
then say why. The JSON names and shapes are those of docs/bench-file.md; angles turn into degrees there.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics.gas import Floats
from topout.planner.hazard import Hazard, HazardKnown
from topout.planner.keeps import Keeps, RearKeeps
from topout.planner.phrase import Phrase

if TYPE_CHECKING:
    from topout.planner.known_to import Bounds
    from topout.units import System

WhichState = Literal["before", "after", "change"]


@dataclass(frozen=True, slots=True)
class Curve:
    """Spring force along the travel; arrays of shape (points,), both ends included."""

    travel_m: Floats
    force_n: Floats
    force_fast_n: Floats
    force_fast_from_sag_n: Floats | None
    rate_n_per_m: Floats
    positive_pa: Floats | None  # None on a coil: there is no chamber
    negative_pa: Floats | None
    lost_travel_m: float
    energy_j: float
    energy_fast_j: float
    terms: dict[str, Floats]
    bounds: Bounds | None = None  # how far it is known, where something was drawn; then each number is a median
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on


@dataclass(frozen=True, slots=True)
class RearCurve(Curve):
    """The same of a rear shock, `travel_m` its stroke; with a leverage what the wheel has of it, arrays of shape (points,).

    `progression` [1] is the fall of the ratio over the whole wheel travel, as a share of the ratio at its start.
    """

    wheel_travel_m: Floats | None = None
    wheel_force_n: Floats | None = None
    wheel_rate_n_per_m: Floats | None = None
    ratio: Floats | None = None
    progression: float | None = None


@dataclass(frozen=True, slots=True)
class EndSag:
    """One end at rest under the rider. `load_n` is along the steering axis; `shown_m` is what the ring shows."""

    travel_m: float
    share: float | None = None
    low_m: float | None = None
    high_m: float | None = None
    load_n: float | None = None
    shown_m: float | None = None
    implied_share: float | None = None


@dataclass(frozen=True, slots=True)
class RearSag:
    """The rear end at rest under the rider: `travel_m`, `share`, `low_m`, `high_m` and `load_n` are the wheel's.

    `stroke_m` is the stroke that the shock has used, `stroke_shown_m` what the ring on it shows (less the stroke lost).
    Two shares, each named: of the shock's stroke and of the wheel's travel; `share` is the latter again.
    """

    travel_m: float | None
    share: float | None = None
    low_m: float | None = None
    high_m: float | None = None
    load_n: float | None = None
    shown_m: float | None = None
    implied_share: float | None = None
    stroke_m: float | None = None
    stroke_shown_m: float | None = None
    share_of_stroke: float | None = None
    share_of_wheel_travel: float | None = None


@dataclass(frozen=True, slots=True)
class Sag:
    """Both ends at rest under the rider, and the head angle they give."""

    front: EndSag | None
    rear: RearSag | None
    head_angle_rad: float | None
    bounds: Bounds | None = None  # as of a curve; those of a plan stand in the plan
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on; likewise


@dataclass(frozen=True, slots=True)
class Stance:
    """How the bike stands."""

    head_angle_rad: float
    seat_angle_rad: float | None  # None where the chart does not say it
    reach_m: float
    stack_m: float
    bb_height_m: float
    wheelbase_m: float
    front_centre_m: float
    trail_m: float
    mechanical_trail_m: float
    wheel_flop_m: float


@dataclass(frozen=True, slots=True)
class Chart:
    """What follows from the frame's chart: head tube to the crown race, lower headset in; whether it closes."""

    head_tube_m: float
    closes: bool | None


@dataclass(frozen=True, slots=True)
class Geometry:
    """Stance at full extension and at sag."""

    unloaded: Stance
    sagged: Stance | None
    chart: Chart
    bounds: Bounds | None = None  # as of a curve; those of a plan stand in the plan
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on; likewise


@dataclass(frozen=True, slots=True)
class RearEnd:
    """A rear shock at the end of its stroke: force of the spring and at the wheel [N], wheel travel [m], ratios [1]; and the rate
    of the wheel where it rests [N/m]."""

    end_force_n: float | None
    wheel_end_force_n: float | None
    wheel_travel_m: float | None
    ratio_start: float | None
    ratio_end: float | None
    progression: float | None
    wheel_rate_n_per_m: float | None = None


@dataclass(frozen=True, slots=True)
class State:
    """The bike as it is or as it would be; `rear` where there is a rear shock."""

    geometry: Geometry | None
    sag: Sag | None
    end_force_n: float | None
    rear: RearEnd | None = None


@dataclass(frozen=True, slots=True)
class RearPlan:
    """What a plan says of a rear shock beside its states: what keeps what, and what can hurt before and after."""

    keep: RearKeeps
    hazard_before: Hazard | None
    hazard_after: Hazard | None
    hazard_known: HazardKnown = "exact"

    def as_json(self) -> dict[str, Any]:
        """The object `rear` of `topout plan --json`.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        hazard = {"before": as_json(self.hazard_before), "after": as_json(self.hazard_after)}
        return {
            "keep": {k.replace("_", "-"): v for k, v in as_json(self.keep).items()},
            "hazard": hazard | {"known": self.hazard_known},
        }


@dataclass(frozen=True, slots=True)
class Clearance:
    """Room left at the end of travel, overtravel not counted."""

    tyre_to_crown_m: float | None
    tyre_to_brace_m: float | None
    rear_tyre_to_frame_m: float | None


@dataclass(frozen=True, slots=True)
class Warned:
    """One warning: its code, a plain sentence, the state it is about; the sentence once more, for other units."""

    code: str
    text: str
    state: WhichState
    phrase: Phrase | None = None  # for people; not part of the JSON, kept with a plan that is frozen

    def said(self, system: System) -> str:
        """The sentence in the reader's units.

        system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return self.text if self.phrase is None else self.phrase.said(system)


@dataclass(frozen=True, slots=True)
class Default:
    """A key that nobody wrote; `change` is by how much answers would be others with what is `usual` [SI], None where that is
    not worked out. A `danger` is one by which somebody can be hurt."""

    key: str
    change: dict[str, float] | None
    danger: bool = False
    usual: float | None = None

    def in_degrees(self) -> Default:
        """The same as it stands in JSON.

        nothing → [SI] (one) angles in degrees. Raises nothing. Source: none needed, bookkeeping.
        """
        return dataclasses.replace(self, change=as_json(self.change))

    def as_json(self) -> dict[str, Any]:
        """A row of `defaults` in the JSON of an answer.

        nothing → [SI] (one) angles in degrees. Raises nothing. Source: bench-file.md.
        """
        told: dict[str, float] | None = as_json(self.change)
        return {"key": self.key, "danger": self.danger, "usual": self.usual, "change": told}


@dataclass(frozen=True, slots=True)
class Plan:
    """How the bike is, how it would be, what to set. `difference` has the shape of a State's JSON."""

    before: State
    after: State
    difference: dict[str, Any]
    keep: Keeps
    clearance: Clearance
    hazard_before: Hazard | None
    hazard_after: Hazard | None
    warnings: tuple[Warned, ...]
    curve_before: Curve | None = None  # for pictures; not part of the JSON
    curve_after: Curve | None = None
    bounds: Bounds | None = None  # how far it is known, where something was drawn
    on_coil: bool = False  # the fork after the change stands on a coil
    rear: RearPlan | None = None  # of a bike with a rear shock
    shock_before: RearCurve | None = None  # for pictures
    shock_after: RearCurve | None = None
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    hazard_known: HazardKnown = "exact"
    stands_for: BenchFile | None = None  # then also the bench file with the medians of what was drawn

    def as_json(self) -> dict[str, Any]:
        """The object that `topout plan --json` prints.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        hazard = {"before": as_json(self.hazard_before), "after": as_json(self.hazard_after)}
        exact = {
            "before": as_json(self.before),
            "after": as_json(self.after),
            "difference": self.difference,
            "keep": {k.replace("_", "-"): self._kept(v) for k, v in as_json(self.keep).items()},
            "clearance": as_json(self.clearance),
            "hazard": hazard | {"known": self.hazard_known},
            **({} if self.rear is None else {"rear": self.rear.as_json()}),
            "warnings": [{"code": w.code, "text": w.text, "state": w.state} for w in self.warnings],
            "drawn": None,
            "defaults": [each.as_json() for each in self.defaults],
        }
        return exact if self.bounds is None else self.bounds.beside(exact)

    def to_keep(self) -> dict[str, Any]:
        """The same for a record that is read in other units later: each warning with its figures, apart from its words.

        nothing → [SI] (one) as bench-file.md has it, its warnings with `phrase`. Raises nothing. Source: bench-file.md.
        """
        whole = self.as_json()
        for said, warned in zip(whole["warnings"], self.warnings, strict=True):
            if warned.phrase is not None:
                said["phrase"] = warned.phrase.as_json()
        return whole

    def _kept(self, keep: dict[str, float | None]) -> dict[str, float | None]:
        """A keep as JSON: an air spring's pressure and whether it is over the limit; a coil's rate and preload beside its null."""
        names = ("pressure_pa", "rate_n_per_m", "preload_m") if self.on_coil else ("pressure_pa", "over_limit")
        return {name: keep[name] for name in names}


_BESIDE: Final = ("bounds", "defaults")  # stand once on top of a command's answer


def as_json(value: Any) -> Any:
    """Any result as plain dicts, lists and numbers; `…_rad` becomes `…_deg`, arrays become lists.

    value [SI] (any) a result → [SI] (any) angles in degrees. Raises nothing. Source: bench-file.md.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        named = {f.name: getattr(value, f.name) for f in dataclasses.fields(value) if f.name not in _BESIDE}
        if isinstance(value, State) and value.rear is None:
            del named["rear"]  # of bikes with a rear shock alone
        return as_json(named)
    if isinstance(value, dict):
        return {
            (k[:-4] + "_deg" if k.endswith("_rad") else k): _degrees(v) if k.endswith("_rad") else as_json(v)
            for k, v in value.items()
        }
    if isinstance(value, (list, tuple)):
        return [as_json(v) for v in value]
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, np.generic):
        return value.item()
    return value


def told(value: Any) -> dict[str, Any]:
    """A command's whole answer: with the limits of what is not known exactly, `drawn`, None in an exact file, and `defaults`.

    value [SI] (any) a curve, a sag or a geometry → [SI] (any) as bench-file.md has it. Raises nothing. Source: bench-file.md.
    """
    plain: dict[str, Any] = as_json(value)
    wide = plain | {"drawn": None} if value.bounds is None else value.bounds.beside(plain)
    return wide | {"defaults": [each.as_json() for each in value.defaults]}


def _degrees(value: float | None) -> float | None:
    return None if value is None else math.degrees(value)


def difference(before: Any, after: Any) -> Any:
    """after − before of two JSON values; None where either has none or it is no number.

    before, after [SI] (any), a part may stand in one alone: the shock of a bike beside a hardtail → [SI] (any) None where
    either has none. Raises nothing. Source: bench-file.md.
    """
    if isinstance(before, dict) and isinstance(after, dict):
        return {k: difference(before.get(k), after.get(k)) for k in before | after}
    if isinstance(before, bool) or isinstance(after, bool):
        return None
    if isinstance(before, (int, float)) and isinstance(after, (int, float)):
        return after - before
    return None
