"""The keys that a force, a stance or a load would need and a file does not give, as a person finds them: "[fork.air] bore".

Which keys those are the bench file's own checks say; here they are data, not faults, since a plan goes on without.
"""

from __future__ import annotations

from topout.bench_file import checks
from topout.bench_file.model import BenchFile


def for_spring(bench: BenchFile) -> list[str]:
    """The keys that a force would need and the file does not give."""
    return _lacking(bench, *checks.NEEDS["curve"])


def for_stance(bench: BenchFile) -> list[str]:
    """The keys that the geometry would need and the file does not give."""
    return _lacking(bench, *checks.NEEDS["geometry"])


def for_load(bench: BenchFile) -> list[str]:
    """The keys that a load would need and the file does not give; none where the sag found stands in for them."""
    return _lacking(bench, *(("rider", "bike") if bench.found is None else ("found",)))


def _lacking(bench: BenchFile, *paths: str) -> list[str]:
    return [fault.place for fault in checks.missing(bench, *paths)]
