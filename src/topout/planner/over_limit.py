"""The maker's pressure limit and the pressures that would keep one thing as it was: which of them lie above it.

Said by every door alike: the tables for people, the JSON for programs, the sentence. A pressure that is not known exactly
counts by its high side.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

from topout.bench_file.model import Air, BenchFile
from topout.planner import limits
from topout.planner.keeps import Keep, Keeps, RearKeep, RearKeeps

if TYPE_CHECKING:
    from topout.planner.results import Plan
    from topout.uncertainty.intervals import Interval

Place: TypeAlias = tuple[str, ...]
FRONT: Final[Place] = ("keep",)
BEHIND: Final[Place] = ("rear", "keep")
_Of = TypeVar("_Of", Keeps, RearKeeps)


def marked(
    changed: BenchFile, keeps: Keeps, rear: RearKeeps | None, said: Mapping[Place, Interval] | None
) -> tuple[Keeps, RearKeeps | None]:
    """The keeps with `over_limit` of each.

    changed [SI] (one) the bike after the change; keeps, rear [SI] (one) of its plan, or None; said [SI] (any) what is known of numbers
    by their place, or None → [SI] (2) the same, marked. Raises nothing. Source: the makers' limits in the file.
    """

    def of(keep: Keep | RearKeep, place: Place, limit_pa: float | None) -> bool | None:
        drawn = (said or {}).get((*place, "pressure_pa"))
        pressure_pa = keep.pressure_pa if drawn is None else drawn.high95
        return None if pressure_pa is None or limit_pa is None else limits.over(pressure_pa, limit_pa)

    def all_of(found: _Of, place: Place, air: Air | None) -> _Of:
        limit_pa = None if air is None else air.pressure_limit_gauge_pa
        each = {name: getattr(found, name) for name in _names(found)}
        return replace(found, **{n: replace(k, over_limit=of(k, (*place, _key(n)), limit_pa)) for n, k in each.items()})

    front = all_of(keeps, FRONT, changed.fork.air if changed.fork is not None else None)
    behind = None if rear is None else all_of(rear, BEHIND, changed.shock.air if changed.shock is not None else None)
    return front, behind


def places(plan: Plan) -> frozenset[Place]:
    """Where in the JSON of a plan the keeps stand that lie above the limit.

    plan [SI] (one) any → [-] (any) places. Raises nothing. Source: none needed, bookkeeping.
    """
    ends = ((FRONT, plan.keep), (BEHIND, plan.rear.keep if plan.rear is not None else None))
    return frozenset(
        (*at, _key(name)) for at, of in ends if of is not None for name in _names(of) if getattr(of, name).over_limit
    )


def unmarked(keep: Mapping[str, Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """The keeps as they were told before they were marked.

    keep [SI] (one) as the JSON of a plan has them → [SI] (one) the same. Raises nothing. Source: none needed, bookkeeping.
    """
    return {name: {key: value for key, value in each.items() if key != "over_limit"} for name, each in keep.items()}


def of_same_sag(results: Mapping[str, Any], place: Place, air: Air | None) -> float | None:
    """The maker's limit, where the pressure that keeps the sag lies above it.

    results [SI] (one) as the JSON of a plan, or of a build that keeps nothing; place [-] (one) FRONT or BEHIND; air [SI] (one) of the unit after the change, or None → [Pa gauge]
    (one) or None. Raises nothing. Source: the makers' limits in the file.
    """
    limit_pa = None if air is None else air.pressure_limit_gauge_pa
    same: Mapping[str, Any] = results
    for word in (*place, "sag"):
        same = same.get(word) or {}
    # A plan that was kept before keeps were marked says the pressure alone.
    over = limits.over(same.get("pressure_pa_high95", same.get("pressure_pa")), limit_pa)
    return limit_pa if over else None


def _names(of: Keeps | RearKeeps) -> list[str]:
    return [each.name for each in fields(of)]


def _key(name: str) -> str:
    """A field's name as the JSON has it."""
    return name.replace("_", "-")
