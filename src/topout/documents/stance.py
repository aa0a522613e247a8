"""The bike before and after, to scale, the rear contact held.

One drawing for page and paper. Wheel circles, axles, crown and bottom bracket stand where the geometry says, within
half a pixel (tests/documents/test_stance.py reads the SVG and measures). Before is dashed centre lines, after solid.
"""

from __future__ import annotations

import math

from topout.documents.bike import Paper, Standing, outline, tubes
from topout.documents.detail import frames
from topout.documents.pose import move
from topout.documents.svg import Drawing, Point
from topout.planner.facts import STANCE, Fact
from topout.units import BENCH, System


def paper(before: Standing | None, after: Standing, width: float) -> tuple[Paper, float]:
    """The scale that lets both states fill the width, and the whole height of the picture in pixels."""
    states = [s.pose for s in (before, after) if s is not None]
    back = max(p.fitted.rear_radius_m for p in states)
    front = max(p.front_axle[0] + p.fitted.front_radius_m for p in states)
    top = max(max(p.head_top[1], p.seat.saddle[1] if p.seat else 0.0) for p in states) + 0.05
    wide = width >= 560
    edge = 26.0 if wide else 8.0
    scale = (width - 2 * edge) / (back + front)
    head = 84.0 if wide else 10.0
    ground = max(head + max(p.head_top[1] for p in states) * scale + 20, top * scale + 8)
    return Paper(scale, edge + back * scale, ground), ground + (102 if wide else 58)


def stance(
    before: Standing | None,
    after: Standing,
    width: float,
    name: str = "stance",
    classes: str = "",
    *,
    windows: bool = True,
    at_sag: bool = True,
    system: System = BENCH,
) -> Drawing:
    """The whole bike, labelled; `before` is None where there is one state only. `windows` marks A and B of detail.py."""
    on, height = paper(before, after, width)
    wide = width >= 560
    where = "at sag" if at_sag else "at full extension"
    title = f"The bike {where}, {'before and after, ' if before else ''}to scale"
    drawing = Drawing(name, width, height, title, says(before, after, system), 20 if wide else 18, classes)
    left, right = (26.0, width - 26.0) if wide else (8.0, width - 8.0)
    drawing.line("ground", (left, on.ground), (right, on.ground), "ground")
    tubes(drawing, after, on)
    if before is not None:
        outline(drawing, before.pose, on)
    for state, cls, which in ((after, "sa axis", "after"), *(((before, "sb axis", "before"),) if before else ())):
        pose = state.pose
        drawing.line(
            cls,
            on.at(move(pose.head_top, pose.along, -0.30 if wide else -0.06)),
            on.at(pose.axis_ground),
            f"{which}-axis",
        )
        drawing.line(cls, on.at(pose.crown), on.at(pose.foot), f"{which}-fork")
    if wide:
        _dimensions(drawing, before, after, on, system)
    else:
        _short_dimensions(drawing, before, after, on, system)
    if before is not None and windows:
        frames(drawing, before, after, on)
    return drawing


def says(before: Standing | None, after: Standing, system: System = BENCH) -> str:
    """The picture in words, with its numbers."""

    facts = _facts(before, after, system)
    said = []
    for key, name in (
        ("head_angle_rad", "Head angle"),
        ("bb_height_m", "bottom bracket"),
        ("trail_m", "trail"),
        ("wheelbase_m", "wheelbase"),
    ):
        fact = facts[key]
        unit = "degrees" if fact.unit == "deg" else fact.unit
        first = f"{fact.number('before')} to " if before is not None else ""
        said.append(f"{name} {first}{fact.number('after')} {unit}")
    return ", ".join(said) + "."


Piece = tuple[str, str]


def _change(name: str, fact: Fact, *, step: bool = True) -> list[Piece]:
    """A name with its value before and after, and the difference of the figures shown."""
    pieces: list[Piece] = [("", f"{name} " if name else "")]
    after = fact.says("after")
    if fact.before_si is None:
        return [*pieces, ("ta", after)]
    if step:
        after += f", {fact.number('change')}"
    return [*pieces, ("tb", fact.number("before")), ("", " → "), ("ta", after)]


def _facts(before: Standing | None, after: Standing, system: System) -> dict[str, Fact]:
    """What is said of both states, by the name of a stance's field: the figures of the plan's table."""
    return {
        key: Fact(
            key,
            words,
            dimension,
            unit,
            places,
            getattr(before.stance, key) if before else None,
            getattr(after.stance, key),
        ).in_system(system)
        for key, words, dimension, unit, places in STANCE
        if hasattr(after.stance, key)
    }


def _slash(drawing: Drawing, at: Point) -> None:
    """The end of a dimension line."""
    drawing.line("dim", (at[0] - 4, at[1] + 4), (at[0] + 4, at[1] - 4))


def _dimensions(drawing: Drawing, before: Standing | None, after: Standing, on: Paper, system: System) -> None:
    """Trail, wheelbase, bottom bracket below the ground line; the head angle at the top of the steering axis."""
    pose, ground, facts = after.pose, on.ground, _facts(before, after, system)
    contact, meets = on.at((pose.front_axle[0], 0.0))[0], on.at(pose.axis_ground)[0]
    for x in (contact, meets):
        drawing.line("dim", (x, ground + 3), (x, ground + 30))
        _slash(drawing, (x, ground + 24))
    drawing.line("dim", (contact, ground + 24), (meets, ground + 24))
    drawing.text((min(contact, meets) - 10, ground + 31), _change("trail", facts["trail_m"]), anchor="end")

    rear = on.at(pose.rear_axle)[0]
    low = ground + 82
    for x, top in ((rear, ground + 3), (contact, ground + 30)):
        drawing.line("dim", (x, top), (x, top + 6))
        drawing.line("dim", (x, low - 10), (x, low + 6))
        _slash(drawing, (x, low))
    middle = (rear + contact) / 2
    drawing.line("dim", (rear, low), (rear + 22, low))
    drawing.line("dim", (contact - 22, low), (contact, low))
    drawing.text((middle, low + 7), _change("wheelbase", facts["wheelbase_m"]), anchor="middle")

    bracket = on.at(pose.bottom_bracket)
    drawing.line("dim", (bracket[0], bracket[1] + 8), (bracket[0], ground))
    _slash(drawing, (bracket[0], ground))
    drawing.text((bracket[0] + 6, ground + 31), "bottom bracket", anchor="end")
    drawing.text((bracket[0] + 6, ground + 55), _change("", facts["bb_height_m"]), anchor="end")

    angle = after.stance.head_angle_rad
    corner = on.at(move(pose.head_top, pose.along, -0.10))
    radius = 60.0
    drawing.line("dim", (corner[0], corner[1]), (corner[0] - radius - 30, corner[1]))
    end = (corner[0] - radius * math.cos(angle), corner[1] - radius * math.sin(angle))
    drawing.path(
        "dim", f"M{corner[0] - radius:.1f} {corner[1]:.1f}A{radius:.0f} {radius:.0f} 0 0 1 {end[0]:.1f} {end[1]:.1f}"
    )
    drawing.text((corner[0] + 16, corner[1] - 24), "head angle")
    drawing.text((corner[0] + 16, corner[1]), _change("", facts["head_angle_rad"]))


def _short_dimensions(drawing: Drawing, before: Standing | None, after: Standing, on: Paper, system: System) -> None:
    """What a phone has room for: trail and head angle; the table below holds the rest."""
    facts, ground = _facts(before, after, system), on.ground
    contact, meets = on.at((after.pose.front_axle[0], 0.0))[0], on.at(after.pose.axis_ground)[0]
    for x in (contact, meets):
        drawing.line("dim", (x, ground + 3), (x, ground + 14))
    drawing.line("dim", (contact, ground + 10), (meets, ground + 10))
    right = drawing.width - 8
    drawing.text(
        (min(contact, meets) - 8, ground + 24),
        _change("trail", facts["trail_m"], step=False),
        anchor="end",
    )
    drawing.text(
        (min(right, contact), ground + 48), _change("head angle", facts["head_angle_rad"], step=False), anchor="end"
    )
