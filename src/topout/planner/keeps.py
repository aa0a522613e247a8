"""What holds one thing as it was, four times at the fork and four times behind: a pressure, or of a coil its rate or its preload."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Keep:
    """The gauge pressure that holds one property; None where none in range does.

    On a coil there is no pressure: then the rate that does, wound up as it is, and the preload that does, at the rate it has.
    """

    pressure_pa: float | None
    rate_n_per_m: float | None = None
    preload_m: float | None = None
    over_limit: bool | None = (
        None  # above the maker's, on the high side where it was drawn; None where either is not known
    )

    @property
    def known(self) -> bool:
        """Whether anything holds it.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return not (self.pressure_pa is None and self.rate_n_per_m is None and self.preload_m is None)


@dataclass(frozen=True, slots=True)
class Keeps:
    """The four properties a plan can hold on to."""

    sag: Keep
    sag_share: Keep
    end_force: Keep
    curve: Keep


@dataclass(frozen=True, slots=True)
class RearKeep:
    """What holds one property at the rear: the can's gauge pressure, on a coil its rate; None where none does."""

    pressure_pa: float | None
    rate_n_per_m: float | None
    over_limit: bool | None = None  # as of a `Keep`


@dataclass(frozen=True, slots=True)
class RearKeeps:
    """The four properties at the rear. As long as the stroke stays, the same sag is the same share too."""

    sag: RearKeep
    sag_share: RearKeep
    end_force: RearKeep
    curve: RearKeep
