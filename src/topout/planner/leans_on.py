"""What a single answer takes for granted: of all that a file does not say only what would move that answer by something worth a word.

Each is told with what this answer would be otherwise, worked out as the answer is (`defaults`); a plan has all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring
from topout.planner import defaults, fill, inexact, inputs
from topout.planner.defaults import LEAST, Rows
from topout.planner.drawn import Drawn
from topout.planner.fits import Fits, end_force_n, of_exact
from topout.planner.results import Default, Geometry
from topout.uncertainty.draws import Floats

# By these somebody can be hurt: told also where the place of the port would move nothing of an answer.
NEGATIVE: Final = ("fork.air.negative", "fork.air.port_position")
NEGATIVE_BEHIND: Final = ("shock.air.negative", "shock.air.port_position")
# Nobody can say what is usual of the others.
OF_SPRING: Final = (*NEGATIVE, "fork.air.spacers", "fork.air.oil_on_piston", "fork.air.grease_in_negative")
OF_CAN: Final = (*NEGATIVE_BEHIND, "shock.air.spacers")
OF_SHOCK: Final = (*OF_CAN, "shock.bumper")  # where its end counts


def of_answer(
    bench: BenchFile,
    made: Drawn | None,
    figures: Callable[[Fits], Mapping[str, Floats]],
    also: Sequence[str] = OF_SPRING,
) -> tuple[Default, ...]:
    """The defaults that an answer leans on, those by which somebody can be hurt first.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None; figures [SI] (n,) the answer's of n bikes, by name; also [-] (any) keys of
    which nobody can say what is usual and the answer hangs on them → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
    """
    return of_benches(bench, made, lambda benches: figures(of_exact(benches)), also)


def of_benches(
    bench: BenchFile, made: Drawn | None, rows: Rows, also: Sequence[str] = OF_SPRING
) -> tuple[Default, ...]:
    """The same where the answer hangs on more of a file than its bike.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None; rows [SI] (n,) the answer's figures of n files, by name; also [-]
    (any) keys → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
    """
    standing = None
    if made is not None:
        from topout.planner import bounds  # an exact answer starts without what is told of draws

        standing = bounds.stands_for(bench, made)
    found = {each.key: each for each in defaults.taken(bench, standing, rows)}
    moves = {key for key, each in found.items() if _moves(each)}
    told = [
        each for key, each in found.items() if key in moves or (key in also and (each.danger or each.change is None))
    ]
    if made is not None:
        told = [defaults.without_end(each) for each in told]
    return tuple(sorted(told, key=lambda each: not each.danger))


def of_curve(bench: BenchFile, made: Drawn | None) -> tuple[Default, ...]:
    """What a fork's curve leans on.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
    """
    return of_answer(inexact.as_it_is(bench), made, lambda of: {"end_force_n": end_force_n(of.before)})


def of_curve_behind(bench: BenchFile) -> tuple[Default, ...]:
    """What a rear shock's curve leans on; nothing of it is worked out once more.

    bench [SI] (one) as read → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
    """
    return of_answer(inexact.as_it_is(bench), None, lambda _: {}, OF_SHOCK)


def of_filling(
    bench: BenchFile, made: Drawn | None, to_gauge_pa: float, stops_gauge_pa: Sequence[float]
) -> tuple[Default, ...]:
    """What the readings while filling lean on: what the first stroke leaves, and how short it rests then.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None; to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge] (any)
    rising, below it → [SI] (any). Raises nothing. Source: bench-file.md's defaults; physics.md 3.
    """

    def first_stroke(benches: Sequence[BenchFile]) -> Mapping[str, Floats]:
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            settled = air_spring.settle(air_spring.computable(inputs.bikes_of(benches).chambers))
            first = next(fill.filled(settled, to_gauge_pa, stops_gauge_pa, None, 0.0))
        return {"after_stroke_pa": first.after_gauge_pa, "lost_travel_m": first.lost_m}

    return of_benches(inexact.as_it_is(bench), made, first_stroke)


def of_build(of: Sequence[Default]) -> tuple[Default, ...]:
    """Of what a plan leans on that which a comparison of it is told: dangers, what moves it, what nobody can say.

    of [SI] (any) of one plan, dangers first → [SI] (any) fewer. Raises nothing. Source: bench-file.md's defaults.
    """
    return tuple(each for each in of if each.danger or each.change is None or _moves(each))


def of_sag(bench: BenchFile, made: Drawn | None) -> tuple[Default, ...]:
    """What both sags lean on. Where the sag was found that is what it is, whatever the spring.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None → [SI] (any). Raises nothing. Source: bench-file.md's defaults.
    """
    found = bench.found is not None and bench.found.sag_m is not None
    behind = bench.shock is not None and bench.shock.sag_m is not None
    also = (*(() if found else OF_SPRING), *(() if behind else OF_CAN), "shock.friction")
    return of_answer(inexact.as_it_is(bench), made, lambda of: defaults.of_rest(of, of.before), also)


def of_stance(bench: BenchFile, made: Drawn | None, stands: Geometry) -> Geometry:
    """A stance with what that at sag leans on; at full extension it leans on nothing.

    bench [SI] (one) as read; made [SI] (n,) its draws, or None; stands [SI] (one) its stance → [SI] (one). Raises nothing. Source: bench-file.md's defaults.
    """
    if stands.sagged is None:
        return stands

    def angle(of: Fits) -> Mapping[str, Floats]:
        return {"head_angle_rad": defaults.of_rest(of, of.before)["head_angle_rad"]}

    return replace(stands, defaults=of_answer(inexact.as_it_is(bench), made, angle, NEGATIVE))


def _moves(of: Default) -> bool:
    return any(abs(gap) >= LEAST.get(name, 0.0) for name, gap in (of.change or {}).items())
