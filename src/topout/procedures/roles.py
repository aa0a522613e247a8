"""What a piece of evidence is for the rest of the tool: a closed list, so that no room knows a procedure by its keys.

Four sorts: readings that names of sentences are made of, answers that go with a reading of the card, answers that settle
which steps the job has, and marks of what is dangerous or proves that it is not, from which the checker holds the order (`order.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Role:
    """What it says, the dimension of its number ("" for a tick or a choice), and what its answers may mean.

    With `or_tick` a tick will do: the number is read at a later step. With `or_choice` a choice will: nothing is there to read.
    """

    says: str
    dimension: str = ""
    means: tuple[str, ...] = ()
    or_tick: bool = False
    or_choice: bool = False


POSTURES: Final = ("standing", "seated", "not-measured")
PUMP: Final = ("stayed-on", "pushed-on")

HOLD_JUDGED: Final = "hold-judged"

DAMPER: Final = ("opened", "stays-shut")

ROLES: Final[dict[str, Role]] = {
    # readings that names are made of
    "full-length": Role("the exposed stanchion at full length, as it came", "length"),
    "axle-to-crown": Role("axle to crown at full length, as it came", "length"),
    "free-length": Role("the free length of a shock, as it came", "length"),
    "found-pressure": Role("the main pressure, as it came", "pressure"),
    "second-pressure": Role("the pressure of a second chamber, as it came", "pressure"),
    "spring-rate": Role("the rate of the coil that was in", "rate"),
    "preload": Role("how far the coil was wound up at full length, as it came", "length"),
    "stroke": Role("the stroke of a shock", "length"),
    "new-preload": Role("how far the coil is wound up now", "length"),
    "new-spring-rate": Role("the rate of the coil that goes in", "rate"),
    "can-diameter": Role("the outside diameter of a shock’s can", "length"),
    "can-length": Role("the length of a shock’s can", "length"),
    "new-shaft": Role("the length of the new air shaft", "length"),
    "ring-depth": Role("the depth to the retaining ring, before it came out", "length"),
    "spacers-found": Role("the volume spacers that were counted", "count"),
    "rebound-clicks": Role("rebound from closed, as it came", "count"),
    "compression-clicks": Role("compression from closed, as it came", "count"),
    "rebound-range": Role("rebound clicks in all, beside the reading of the card", "count"),
    "compression-range": Role("compression clicks in all, beside the reading of the card", "count"),
    "temperature": Role("the workshop’s temperature", "temperature"),
    "hold-start-pressure": Role("the first pressure of the leak hold", "pressure"),
    "hold-start-temperature": Role("the temperature with it", "temperature"),
    "hold-temperature": Role("the temperature with the reading that is compared", "temperature"),
    "hold-pressure": Role("the pressure that is compared with the first", "pressure"),
    HOLD_JUDGED: Role("the pressure by which the leak hold is judged: it holds, it leaks, or it can’t be told yet", "pressure"),
    "rest-length": Role("the exposed stanchion, let go without air", "length"),
    "drawn-in": Role("how far it sucked itself in, let go without air", "length"),
    # answers that go with a reading of the card
    "posture": Role("the posture of a sag", means=POSTURES),
    "pump": Role("whether the pump stayed on while the pressure was set, or was pushed on to read", means=PUMP),
    # answers that settle which steps the job has: a condition has the same name
    "damper": Role("whether the damper is opened at this job, or stays shut", means=DAMPER),
    # what is dangerous, and what proves that it is not
    "air-out": Role("the air let out, and what the unit did meanwhile"),
    "empty-at-rest": Role("proof: pulled to full length and let go, it stays"),
    "empty-by-shaft": Role("proof: the shaft pushed in by hand, or the seal head, stays"),
    "second-out": Role(
        "proof: main and second chamber both read nothing, or there is no second one", "pressure", or_choice=True
    ),
    "looked-for": Role("a valve that nobody wrote down, looked for at the unit: of a second or a negative chamber, of air behind a coil’s cap"),
    "spring-unwound": Role("proof: a coil’s preload is off, or its cap is held while it comes"),
    "rod-loose": Role("proof: with the coil out, nothing pushes its rod"),
    "opens": Role("something that pressure, or a wound-up coil, may stand behind is opened"),
    "ring-out": Role("the retaining ring, or what else holds the seal head, is taken out"),
    "ring-seated": Role("proof: what holds the seal head is home"),
    "tug": Role("proof: the shaft tugged hard, it holds"),
    "shut": Role("what was opened is closed again, so that it holds what is pumped in; left “not done”, nothing is pumped"),
    "loads": Role("a coil is wound up against its cap, or its collar"),
    "pumps": Role("air is pumped in; the pressure is read there, or at a later step", "pressure", or_tick=True),
    "wheel-out": Role("the wheel is taken out"),
    "brake": Role("proof: the brake holds"),
    "axle": Role("proof: the axle is tight"),
    "stem": Role("proof: stem and headset are tight"),
}  # fmt: skip

LOOKED_FOR: Final = "looked-for"
SHUT: Final = "shut"

# Proofs that keep hands whole: a hold point that takes no "not done, because…".
KEEPS_HANDS: Final = (
    "air-out", "empty-at-rest", "second-out", "empty-by-shaft", "spring-unwound", "rod-loose", "ring-seated", "tug", "brake", "axle",
    "stem", LOOKED_FOR,
)  # fmt: skip
# What must have been proved before a step of the role on the left, by what carries the unit.
BEFORE: Final = {
    "air": {
        "opens": ("air-out", "empty-at-rest", "second-out"),
        "ring-out": ("air-out", "empty-at-rest", "second-out", "empty-by-shaft"),
    },
    "coil": {"opens": (LOOKED_FOR, "spring-unwound"), "ring-out": (LOOKED_FOR, "spring-unwound", "rod-loose")},
}  # fmt: skip
# Those that a later load takes away: what shows a unit empty, or a coil unwound; a look for a valve stays seen.
SHOW_EMPTY: Final = frozenset(proof for wanted in BEFORE.values() for proofs in wanted.values() for proof in proofs) - {
    LOOKED_FOR
}
# Proofs that one kind of unit alone needs, and what only some of its jobs need: condition, where it is so.
_OF_KIND: Final = {"second-out": "fork", LOOKED_FOR: "coil-fork"}
NEEDED_WHERE: Final = {"second-out": ("second", ("here", "not-known"))}
# Between the first and the second, where both belong to the job.
BETWEEN: Final = {("ring-out", "pumps"): ("ring-seated", "tug"), ("ring-out", "loads"): ("ring-seated", "tug")}
# What must follow a step of the role on the left.
FOLLOWS: Final = {"wheel-out": ("brake", "axle", "stem")}


def spring(unit: str) -> str:
    """What carries a kind of unit: "air" or "coil"."""
    return "coil" if unit.startswith("coil-") else "air"


def of_air(units: tuple[str, ...]) -> bool:
    """Whether any of these kinds of unit stands on air."""
    return any(spring(unit) == "air" for unit in units)


def before(kinds: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """Role -> the proofs it needs before it, in a procedure for these kinds of unit."""
    found: dict[str, tuple[str, ...]] = {}
    for kind in dict.fromkeys(spring(unit) for unit in kinds):
        for role, proofs in BEFORE[kind].items():
            wanted = (each for each in proofs if each not in _OF_KIND or _OF_KIND[each] in kinds)
            found[role] = tuple(dict.fromkeys((*found.get(role, ()), *wanted)))
    return found
