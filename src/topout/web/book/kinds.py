"""The kinds of unit, each with its name, its spring and its bench-file tables; and what is known beside those tables."""

from __future__ import annotations

from dataclasses import dataclass

_FORK_PARTS = ("fork.lower_legs", "fork.damper", "fork.bumper", "fork.top_out")


@dataclass(frozen=True)
class UnitKind:
    """One kind of unit: its key, what it is called on a page, the rider's word for it, its spring and its tables."""

    key: str
    words: str
    noun: str  # "fork" or "shock"
    spring: str  # "air" or "coil"
    tables: tuple[str, ...]

    @property
    def for_forks(self) -> str:
        """What is said by a page that answers for forks alone; "" where it answers for this kind."""
        return "" if self.noun == "fork" else f"This is worked out for forks. What a {self.words} does, its plan says."


KINDS = {
    kind.key: kind
    for kind in (
        UnitKind("fork", "fork", "fork", "air", ("fork", "fork.air", *_FORK_PARTS)),
        UnitKind("coil-fork", "coil fork", "fork", "coil", ("fork", "fork.coil", *_FORK_PARTS)),
        UnitKind("shock", "rear shock", "shock", "air", ("shock", "shock.air", "shock.damper", "shock.bumper")),
        UnitKind("coil-shock", "coil shock", "shock", "coil", ("shock", "shock.coil", "shock.damper", "shock.bumper")),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Extra:
    """What a workshop knows of a unit and the bench file has no key for: words, or a whole number up to `most`."""

    key: str
    label: str
    hint: str
    most: int = 0  # 0: words


_CLICKS = (
    Extra("rebound-clicks", "Rebound clicks in all", "From closed to open.", 60),
    Extra("compression-clicks", "Compression clicks in all", "From closed to open.", 60),
)
_SHOCK = (
    Extra("hardware", "Mounting hardware", "Width and bolt at each end: “front 30 × 8, rear 22 × 8”."),
    Extra("valve", "Where the valve points", "“drive side, towards the head tube”"),
)
EXTRAS: dict[str, tuple[Extra, ...]] = {
    "fork": _CLICKS,
    "coil-fork": _CLICKS,
    "shock": (*_CLICKS, Extra("negative-spacers", "Volume spacers on the negative side", "Counted.", 20), *_SHOCK),
    "coil-shock": (*_CLICKS, *_SHOCK),
}


def kinds_of(table_names: set[str]) -> list[UnitKind]:
    """Which units the tables of one bench file describe, a fork first; a coil where its table is there."""
    found = []
    for noun in ("fork", "shock"):
        if any(name.partition(".")[0] == noun for name in table_names):
            spring = "coil" if f"{noun}.coil" in table_names else "air"
            found.append(next(kind for kind in KINDS.values() if (kind.noun, kind.spring) == (noun, spring)))
    return found
