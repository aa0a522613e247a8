"""The rear shocks of n bikes as columns, like a design's other tables; a part of a design where one of its files has a [shock]."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from topout.bench_file import model
from topout.physics.gas import Bools
from topout.planner import columns
from topout.planner.columns import first_known


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Shocks:
    """n rear shocks, one state each: the tables of `[shock]` as columns of shape (n,), SI, NaN where nothing is known."""

    unit: columns.Shock
    air: columns.Air
    negative_coil: columns.NegativeCoil
    coil: columns.Coil
    on_coil: Bools  # it stands on a coil, not on air
    damper: columns.Damper
    bumper: columns.Bumper
    leverage: columns.Leverage

    @classmethod
    def of(cls, shocks: Sequence[model.Shock | None]) -> Shocks | None:
        """Read the shocks of bench files, None where a bike has none; None where no bike has one.

        shocks [SI] (n) as read, or None → [SI] (n,) or None. Raises nothing. Source: none needed, bookkeeping.
        """
        if not any(shocks):
            return None
        airs = [_air(shock) if shock else None for shock in shocks]
        coils = [shock.coil if shock else None for shock in shocks]
        unit, air = columns.Shock.of(shocks), columns.Air.of(airs)
        return cls(
            unit=replace(unit, friction_n=first_known(unit.friction_n, 0.0)),
            air=replace(air, port_position_m=first_known(air.port_position_m, 0.0)),
            negative_coil=columns.NegativeCoil.of([air.negative_coil if air else None for air in airs]),
            coil=columns.Coil.of(coils),
            on_coil=np.array([coil is not None for coil in coils]),
            damper=columns.Damper.of([shock.damper if shock else None for shock in shocks]),
            bumper=columns.Bumper.of([shock.bumper if shock else None for shock in shocks]),
            leverage=columns.Leverage.of(shocks),
        )

    def take(self, index: Any) -> Shocks:
        """The same for a part of the shocks, or repeated (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        parts = {name: getattr(self, name) for name in Shocks.__slots__}
        return Shocks(**{n: v[index] if isinstance(v, np.ndarray) else v.take(index) for n, v in parts.items()})


def repeated(shocks: Shocks | None, count: int) -> Shocks | None:
    """One bike's shock so many times; None where it has none.

    shocks [SI] (1,) any, or None; count [1] (one) 1 and more → [SI] (count,) not to be written into, or None. Raises nothing.
    Source: none needed, bookkeeping.
    """
    return None if shocks is None else shocks.take(np.zeros(count, dtype=int))


def changed(shocks: Shocks, asked: columns.ShockAsked) -> Shocks:
    """The shocks after their changes; what a change does not name stays. A stroke reducer moves the solid stop alone, and the
    bumper with it.

    shocks, asked [SI] (n,) any → [SI] (n,). Raises nothing. Source: bench-file.md.
    """
    air, coil = shocks.air, shocks.coil
    return replace(
        shocks,
        unit=replace(shocks.unit, stroke_m=first_known(asked.stroke_m, shocks.unit.stroke_m)),
        air=replace(
            air,
            spacers=first_known(asked.spacers, air.spacers),
            spacer_volume_m3=first_known(asked.spacer_volume_m3, air.spacer_volume_m3),
            pressure_gauge_pa=first_known(asked.pressure_gauge_pa, air.pressure_gauge_pa),
        ),
        coil=changed_coil(coil, asked),
    )


def changed_coil(old: columns.Coil, new: columns.Coil | columns.ShockAsked) -> columns.Coil:
    """A coil after what is asked of it: preload winds up the one that is there, whose coils touch as much sooner; a rate is
    another one, whose bind is not known unless it is written.

    old, new [SI] (n,) any → [SI] (n,). Raises nothing. Source: bench-file.md.
    """
    another = ~np.isnan(new.rate_n_per_m)
    preload_m = first_known(new.preload_m, old.preload_m)
    bind_m = first_known(new.bind_m, np.where(another, np.nan, old.bind_m - (preload_m - old.preload_m)))
    return columns.Coil(first_known(new.rate_n_per_m, old.rate_n_per_m), preload_m, bind_m)


def _air(shock: model.Shock) -> model.Air | None:
    """Its air spring; where it stands on a coil a space without an area."""
    return shock.air or (columns.NO_AIR if shock.coil is not None else None)
