"""The keys that a force, a stance or a load would need and a file does not give."""

from __future__ import annotations

from dataclasses import fields

from topout.bench_file.model import Air, BenchFile


def for_spring(bench: BenchFile) -> list[str]:
    """The keys that a force would need and the file does not give."""
    fork = bench.fork
    if fork is None:
        return ["[fork]"]
    if fork.air is None:
        return ["[fork.air]"] + (["[fork] travel"] if fork.travel_m is None else [])
    air, lacking = fork.air, []
    if fork.travel_m is None:
        lacking.append("[fork] travel")
    needs = ["bore_m", "shaft_m", "positive_volume_m3", "pressure_gauge_pa"]
    if air.negative in ("self-equalising", "separate-valve"):
        needs.append("negative_volume_m3")
    if air.negative == "separate-valve":
        needs.append("negative_pressure_gauge_pa")
    if air.negative == "coil":
        needs.append("negative_coil")
    if air.spacers:
        needs.append("spacer_volume_m3")
    words = {f.name: f.metadata["key"].word for f in fields(Air)}
    lacking += [f"[fork.air] {words[name]}" for name in needs if getattr(air, name) is None]
    for word, table in (
        ("lower_legs", fork.lower_legs),
        ("damper", fork.damper),
        ("bumper", fork.bumper),
        ("top_out", fork.top_out),
        ("air.negative_coil", air.negative_coil if air.negative == "coil" else None),
    ):
        if table is not None:
            lacking += [
                f"[fork.{word}] {f.metadata['key'].word}" for f in fields(table) if getattr(table, f.name) is None
            ]
    return lacking


def for_stance(bench: BenchFile) -> list[str]:
    """The keys that the geometry would need and the file does not give."""
    frame = bench.frame
    if frame is None:
        return ["[frame]"]
    lacking = [
        f"[frame] {f.metadata['key'].word}"
        for f in fields(frame)
        if f.metadata["key"].needed and getattr(frame, f.name) is None
    ]
    if frame.fork_length_m is None and frame.fork_length_straight_m is None:
        lacking.append("[frame] fork_length")
    return lacking


def for_load(bench: BenchFile) -> list[str]:
    """The keys that a load would need and the file does not give; none where the sag found stands in for them."""
    if bench.found is not None:
        return [
            f"[found] {word}"
            for word, value in (("sag", bench.found.sag_m), ("pressure", bench.found.pressure_gauge_pa))
            if value is None
        ]
    lacking = []
    rider, bike = bench.rider, bench.bike
    if rider is None:
        return ["[rider]"]
    if rider.mass_kg is None:
        lacking.append("[rider] mass")
    if rider.front_share is None:
        lacking.append("[rider] front_share")
    if bike is None:
        return [*lacking, "[bike]"]
    if bike.mass_kg is None:
        lacking.append("[bike] mass")
    if bike.unsprung_front_kg is None:
        lacking.append("[bike] unsprung_front")
    return lacking
