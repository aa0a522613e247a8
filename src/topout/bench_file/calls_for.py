"""Keys that other keys of a bench file call for, each with why: a spacer's volume with spacers, a share without a sag found."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from topout.bench_file import model


def _has_radius(wheel: model.Wheel | None) -> bool:
    sized = wheel is not None and wheel.bead_seat_m is not None and wheel.tyre_height_m is not None
    return sized or (wheel is not None and wheel.radius_m is not None)


def on_coil(bench: model.BenchFile) -> bool:
    """Whether the fork stands on a coil in place of air."""
    return bench.fork is not None and bench.fork.coil is not None and bench.fork.air is None


def on_coil_behind(bench: model.BenchFile) -> bool:
    """The same of the rear shock."""
    return bench.shock is not None and bench.shock.coil is not None


def pumped(bench: model.BenchFile) -> bool:
    """Whether any air is let out at this bike, as it is or after its change: not where all that springs is a coil."""
    units = [unit for unit in (bench.fork, bench.shock) if unit is not None]
    return any(unit.coil is None for unit in units) or bool(bench.change and bench.change.air)


def keys(bench: model.BenchFile, table: Any) -> Iterator[tuple[str, str]]:
    """Keys that other keys call for: (word, why)."""
    if isinstance(table, model.Air):
        if table.negative in ("self-equalising", "separate-valve") and table.negative_volume_m3 is None:
            yield "negative_volume", f'with negative = "{table.negative}"'
        if table.negative == "separate-valve" and table.negative_pressure_gauge_pa is None:
            yield "negative_pressure", 'with negative = "separate-valve"'
        if table.negative == "coil":
            if table.negative_coil is None:
                yield "negative_coil", 'with negative = "coil"'
            else:
                for word, (attribute, _) in model.keys(model.NegativeCoil).items():
                    if getattr(table.negative_coil, attribute) is None:
                        yield f"negative_coil.{word}", ""
        if table.spacers and table.spacer_volume_m3 is None:
            yield "spacer_volume", "with spacers"
        if (table.second_volume_m3 is None) != (table.second_pressure_gauge_pa is None):
            first, other = ("volume", "pressure") if table.second_volume_m3 is not None else ("pressure", "volume")
            yield f"second_{other}", f"with second_{first}"
    elif isinstance(table, model.Found):
        if table.pressure_gauge_pa is None and not on_coil(bench):
            yield "pressure", ""
    elif isinstance(table, model.Frame):
        if table.fork_length_m is None and table.fork_length_straight_m is None:
            yield "fork_length", "to place the axle"
        for end in ("front", "rear"):
            wheel = getattr(bench, f"{end}_wheel")
            if getattr(table, f"{end}_radius_m") is None and not _has_radius(wheel):
                yield f"{end}_radius", f"where no {end} wheel is fitted"
    elif isinstance(table, model.Rider):
        if table.front_share is None and not found_in_front(bench):
            yield "front_share", "to know the load"
    elif isinstance(table, model.Bike):
        if table.unsprung_front_kg is None and bench.rider is not None:
            yield "unsprung_front", "with [rider]"
    elif isinstance(table, model.Change):
        if table.by == "piston-spacer" and table.spacer_solid_volume_m3 is None:
            yield "spacer_solid_volume", 'with by = "piston-spacer"'


def found_in_front(bench: model.BenchFile) -> bool:
    """Whether [found] says anything of the front: readings of the shock alone calibrate no load on the fork."""
    found = bench.found
    if found is None:
        return False
    behind = tuple(each for each in found.readings if each.end == "rear")
    return not behind or found != model.Found(readings=behind)
