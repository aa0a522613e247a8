"""What speaks against itself in a rear shock, its linkage and what is asked of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from topout.bench_file import say
from topout.bench_file.look import Look
from topout.errors import Fault

STROKE_WITHIN: Final = 0.01  # of the stroke: how well a leverage table agrees with it (physics.md 7)
RATIOS: Final = (0.5, 6.0)  # what a leverage ratio can be; common practice, no source: 2.0 to 3.2 are built
_EITHER: Final = (
    ("shock.air", "shock.coil"), ("shock.leverage", "shock.leverage_stroke"), ("rear_wheel.sag", "shock.sag"),
)  # fmt: skip
_OF_AIR: Final = ("pressure", "spacers")
_OF_COIL: Final = ("rate", "preload", "bind")


def contradictions(look: Look) -> Iterator[Fault]:
    """Every finding about the rear end; nothing is concluded from what is missing or already at fault."""
    yield from _either(look)
    yield from _no_sag(look)
    yield from _sizes(look)
    yield from _belongs(look)
    yield from _coil(look)
    yield from _linkage(look)
    yield from _held_in(look)


def _either(look: Look) -> Iterator[Fault]:
    for first, second in _EITHER:
        if look(first) is not None and look(second) is not None:
            other = say.table_place(first.split(".")) if first == "shock.air" else say.place(first.split("."))
            message = f"{other} stands too; give one of them."
            if second == "shock.coil":
                yield Fault(location="[shock.coil]", message=message, key=second)
            else:
                yield look.fault(second, message)


def _no_sag(look: Look) -> Iterator[Fault]:
    if look("shock") is not None and look("rear_wheel.sag") == 0.0:
        yield look.fault("rear_wheel.sag", "that is a hardtail's; beside [shock] it would be no load: leave it out.")


def _sizes(look: Look) -> Iterator[Fault]:
    body, bore, outside = look("shock.air.shaft"), look("shock.air.bore"), look("shock.body")
    if body is not None and bore is not None and body >= bore:
        yield look.fault("shock.air.shaft", f"the can slides on it: below the bore, {look.shown('shock.air.bore')}.")
    if outside is not None and bore is not None and outside <= bore:
        yield look.fault("shock.body", f"the can's outside: above its bore, {look.shown('shock.air.bore')}.")
    length, stroke = look("shock.length"), look("shock.stroke")
    if length is not None and stroke is not None and stroke >= length:
        yield look.fault(
            "shock.stroke", f"a stroke is shorter than the shock, {look.shown('shock.length')} eye to eye."
        )
    asked = look("change.shock.stroke")
    if asked is not None and look("shock") is None and "shock" not in look.bad:
        yield look.fault("change.shock.stroke", "belongs to [shock]; the file has none.")
    elif asked is not None and stroke is not None and asked > stroke:
        shown = look.shown("shock.stroke")
        yield look.fault("change.shock.stroke", f"a reducer leaves less than the stroke, [shock] stroke = {shown}.")
    for path in ("shock.sag", "shock.bumper.length"):
        length = look(path)
        if length is not None and stroke is not None and length > stroke:
            yield look.fault(path, f"that is more than the stroke, [shock] stroke = {look.shown('shock.stroke')}.")


def _belongs(look: Look) -> Iterator[Fault]:
    negative = look("shock.air.negative")
    for word, way in (("negative_pressure", "separate-valve"), ("negative_coil", "coil")):
        if negative is not None and negative != way and look(f"shock.air.{word}") is not None:
            yield look.fault(f"shock.air.{word}", f'belongs to negative = "{way}"; here negative is "{negative}".')
    spacers, most = look("shock.air.spacers"), look("shock.air.spacer_limit")
    if spacers is not None and most is not None and spacers > most:
        yield look.fault("shock.air.spacers", f"at most {most} may be fitted.")
    for words, table, other in ((_OF_AIR, "shock.air", "shock.coil"), (_OF_COIL, "shock.coil", "shock.air")):
        if {"shock", table, other} & set(look.bad):
            continue
        for word in words:
            if look(f"change.shock.{word}") is not None and look(table) is None:
                yield look.fault(
                    f"change.shock.{word}", f"belongs to {say.table_place(table.split('.'))}; the file has none."
                )


def _coil(look: Look) -> Iterator[Fault]:
    bind, preload = look("shock.coil.bind"), look("shock.coil.preload")
    if bind is not None and preload is not None and preload >= bind:
        yield look.fault("shock.coil.preload", f"the coils would touch: below {look.shown('shock.coil.bind')}.")


def _linkage(look: Look) -> Iterator[Fault]:
    """A leverage table whose stroke is not the shock's, or whose ratio leaves what a linkage can be between its points."""
    stroke_m = look("shock.stroke")
    for word in ("leverage", "leverage_stroke"):
        table = look(f"shock.{word}")
        if table is None:
            continue
        ratios, end_m = _at_points(table, of_stroke=word == "leverage_stroke")
        if not all(RATIOS[0] <= ratio <= RATIOS[1] for ratio in ratios):
            worst = max(ratios) if max(ratios) > RATIOS[1] else min(ratios)
            travel = say.plain_number(round(table[ratios.index(worst)][0] * 1e3, 1))
            said = f"{worst:.1f}" if worst < 100 else "endless"
            yield look.fault(
                f"shock.{word}",
                f"the leverage ratio at {travel} mm of wheel travel is {said}; {RATIOS[0]:g} to {RATIOS[1]:g} is expected.",
            )
        elif stroke_m is not None and abs(end_m - stroke_m) > STROKE_WITHIN * stroke_m:
            wheel = say.plain_number(round(table[-1][0] * 1e3, 1))
            yield look.fault(
                f"shock.{word}",
                f"its {wheel} mm of wheel travel take {end_m * 1e3:.1f} mm of stroke; [shock] stroke is "
                f"{look.shown('shock.stroke')}. They agree within {STROKE_WITHIN:.0%}, or one of them is wrong.",
            )


def _at_points(table: tuple[tuple[float, float], ...], *, of_stroke: bool) -> tuple[list[float], float]:
    """The leverage ratio at a table's points, and the stroke [m] at its last."""
    import numpy as np  # wanted only where there is a table

    from topout.physics import leverage

    travel, value = np.array(table).T[:, None, :]
    linkage = leverage.linkage(travel, value, np.array([of_stroke]))
    with np.errstate(divide="ignore"):
        ratios = 1.0 / linkage.slope[0] if of_stroke else linkage.value[0]
    return [float(ratio) for ratio in ratios], float(linkage.stroke_m[0, -1])


def _held_in(look: Look) -> Iterator[Fault]:
    """A reading wants a unit on air, held in by less than its travel: in front the fork, behind the shock."""
    for end, unit, word in (("front", "fork", "travel"), ("rear", "shock", "stroke")):
        held = [each for each in look("found.reading") or () if each.end == end]
        if held and look(f"{unit}.coil") is not None:
            yield Fault(
                "[[found.reading]] end", "a coil has no pressure to read; leave the reading out.", key="found.reading"
            )
        elif held and end == "rear" and look(unit) is None and unit not in look.bad:  # in front is what is said of none
            yield Fault("[[found.reading]] end", f"belongs to [{unit}]; the file has none.", key="found.reading")
        most_m, shown = look(f"{unit}.{word}"), look.shown(f"{unit}.{word}")
        for each in held if most_m is not None else ():
            if each.travel_m >= most_m:
                message = f"held in by less than the {word} is expected, [{unit}] {word} = {shown}."
                yield Fault("[[found.reading]] travel", message, say.millimetres(each.travel_m), key="found.reading")
