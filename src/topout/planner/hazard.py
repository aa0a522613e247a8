"""What can hurt of one state, each number from its own inputs, and how it is known; as the JSON of a plan has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

HazardKnown = Literal["exact", "high-side", "guess", "from-guess"]
_PARTS: Final = ("spring_energy_j", "damper_energy_j")


@dataclass(frozen=True, slots=True)
class Hazard:
    """At full extension, every chamber at the highest pressure it may hold there; None where an input is not known.

    `energy_j` is all that is shut in: what air or coil holds, and what the damper's gas does, which no valve lets out.
    """

    cap_force_n: float | None
    ring_force_n: float | None
    energy_j: float | None
    spring_energy_j: float | None
    damper_energy_j: float | None

    @classmethod
    def of(cls, found: Mapping[str, float | None]) -> Hazard | None:
        """One of its fields by name; None where nothing of the spring is known, whatever the damper holds.

        found [SI] (5) by name → [SI] (one) or None. Raises nothing. Source: none needed, bookkeeping.
        """
        known = any(value is not None for name, value in found.items() if name != "damper_energy_j")
        return cls(**found) if known else None


def divided(state: Mapping[str, Any]) -> bool:
    """Whether the energy of air or coil stands apart from the damper's: in a plan that was kept before, it does not.

    state [SI] (one) of a plan's `hazard` → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return _PARTS[0] in state


def undivided(state: Any) -> Any:
    """The same as it was told before: its energy in one, with its limits.

    state [SI] (one) of a plan's `hazard`, or None → [SI] (one) or None. Raises nothing. Source: bench-file.md.
    """
    return {key: of for key, of in state.items() if not key.startswith(_PARTS)} if isinstance(state, dict) else state
